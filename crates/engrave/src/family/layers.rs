//! Boxes in rows, joined by lines: in which order they stand so that few lines cross, and where.
//!
//! Sugiyama, Tagawa and Toda, "Methods for visual understanding of hierarchical system structures", IEEE
//! Transactions on Systems, Man and Cybernetics 11(2), 1981: lines over several rows get a place of their own in
//! each, and every row in turn is ordered by the barycentres of its neighbours, down and up. Places across are the
//! nearest to the barycentres that keep the order and the distances (least squares, by pooling adjacent violators:
//! Barlow, Bartholomew, Bremner and Brunk, Statistical Inference under Order Restrictions, 1972; from memory).

/// Something in a row: a box, or the place where a long line passes.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Spot {
    /// Width that it needs.
    pub width: f64,
    /// Its row.
    pub row: usize,
    /// Where its middle lies, once placed.
    pub x: f64,
}

/// Spots and the lines from one row to the next.
#[derive(Clone, Debug, Default)]
pub(super) struct Layers {
    /// All spots.
    pub spots: Vec<Spot>,
    /// Spots of each row, from left to right.
    pub rows: Vec<Vec<usize>>,
    /// From a spot to one in the next row.
    pub lines: Vec<(usize, usize)>,
}

/// Sweeps down and up.
const SWEEPS: usize = 12;

impl Layers {
    /// Adds a box to a row.
    pub(super) fn add(&mut self, row: usize, width: f64) -> usize {
        self.spots.push(Spot { width, row, x: 0.0 });
        while self.rows.len() <= row {
            self.rows.push(Vec::new());
        }
        if let Some(spots) = self.rows.get_mut(row) {
            spots.push(self.spots.len() - 1);
        }
        self.spots.len() - 1
    }

    /// Joins two boxes, the second in a later row; gives the spots on the way, both ends taken in.
    pub(super) fn join(&mut self, from: usize, to: usize, passing: f64) -> Vec<usize> {
        let row = |layers: &Self, spot: usize| layers.spots.get(spot).map_or(0, |s| s.row);
        let (first, last) = (row(self, from), row(self, to));
        let mut way = vec![from];
        for between in first + 1..last {
            way.push(self.add(between, passing));
        }
        way.push(to);
        self.lines.extend(way.windows(2).map(|w| (w[0], w[1])));
        way
    }

    /// Spots joined to one, in the row above or below.
    fn neighbours(&self, spot: usize, above: bool) -> impl Iterator<Item = usize> {
        self.lines.iter().filter_map(move |&(from, to)| match above {
            true if to == spot => Some(from),
            false if from == spot => Some(to),
            _ => None,
        })
    }

    /// How many pairs of lines cross.
    pub(super) fn crossings(&self) -> usize {
        let at = self.positions();
        let mut count = 0;
        for (i, &(a, b)) in self.lines.iter().enumerate() {
            for &(c, d) in self.lines.get(i + 1..).unwrap_or_default() {
                let same = self.spots[a].row == self.spots[c].row;
                count += usize::from(same && (at[a] < at[c]) != (at[b] < at[d]) && a != c && b != d);
            }
        }
        count
    }

    /// The place of every spot in its row, from the left.
    fn positions(&self) -> Vec<usize> {
        let mut at = vec![0; self.spots.len()];
        for row in &self.rows {
            for (i, &spot) in row.iter().enumerate() {
                at[spot] = i;
            }
        }
        at
    }

    /// Orders the rows.
    pub(super) fn order(&mut self) {
        let mut best = (self.crossings(), self.rows.clone());
        for sweep in 0..SWEEPS {
            let down = sweep % 2 == 0;
            let count = self.rows.len();
            for i in 1..count {
                let row = if down { i } else { count - 1 - i };
                let at = self.positions();
                let centre = |spot: usize| {
                    let near: Vec<usize> = self.neighbours(spot, down).map(|n| at[n]).collect();
                    #[allow(clippy::cast_precision_loss, reason = "a handful of boxes")]
                    if near.is_empty() {
                        at[spot] as f64
                    } else {
                        near.iter().sum::<usize>() as f64 / near.len() as f64
                    }
                };
                let mut keyed: Vec<(f64, usize, usize)> =
                    self.rows[row].iter().map(|&s| (centre(s), at[s], s)).collect();
                keyed.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
                self.rows[row] = keyed.into_iter().map(|k| k.2).collect();
            }
            let crossings = self.crossings();
            if crossings < best.0 {
                best = (crossings, self.rows.clone());
            }
        }
        self.rows = best.1;
    }

    /// Gives every spot its place across, between 0 and `width`.
    pub(super) fn place(&mut self, width: f64, gap: f64) {
        // A full row stands closer.
        let gaps: Vec<f64> = self
            .rows
            .iter()
            .map(|row| {
                let used: f64 = row.iter().map(|&s| self.spots[s].width).sum();
                #[allow(clippy::cast_precision_loss, reason = "a handful of boxes")]
                let between = row.len().saturating_sub(1).max(1) as f64;
                gap.min((width - used) / between).max(0.0)
            })
            .collect();
        for (row, &gap) in self.rows.iter().zip(&gaps) {
            let mut x = 0.0;
            let all: f64 = row.iter().map(|&s| self.spots[s].width + gap).sum::<f64>() - gap;
            for &spot in row {
                self.spots[spot].x = (width - all) / 2.0 + x + self.spots[spot].width / 2.0;
                x += self.spots[spot].width + gap;
            }
        }
        for _ in 0..SWEEPS {
            for (row, &gap) in gaps.iter().enumerate() {
                let wanted: Vec<f64> = self.rows[row]
                    .iter()
                    .map(|&s| {
                        let near: Vec<f64> = self
                            .neighbours(s, true)
                            .chain(self.neighbours(s, false))
                            .map(|n| self.spots[n].x)
                            .collect();
                        #[allow(clippy::cast_precision_loss, reason = "a handful of boxes")]
                        if near.is_empty() {
                            self.spots[s].x
                        } else {
                            near.iter().sum::<f64>() / near.len() as f64
                        }
                    })
                    .collect();
                let widths: Vec<f64> = self.rows[row].iter().map(|&s| self.spots[s].width).collect();
                for (&spot, x) in self.rows[row].iter().zip(apart(&wanted, &widths, gap, width)) {
                    self.spots[spot].x = x;
                }
            }
        }
    }
}

/// The places nearest to the wanted ones, in order, `gap` apart at least, inside `0..=width` as far as they fit.
fn apart(wanted: &[f64], widths: &[f64], gap: f64, width: f64) -> Vec<f64> {
    // Distances taken out, order alone remains to be kept.
    let mut offsets = Vec::with_capacity(widths.len());
    let mut at = 0.0;
    for (i, w) in widths.iter().enumerate() {
        if i > 0 {
            at += (widths[i - 1] + w) / 2.0 + gap;
        }
        offsets.push(at);
    }
    let mut pools: Vec<(f64, usize)> = Vec::new();
    for (w, o) in wanted.iter().zip(&offsets) {
        pools.push((w - o, 1));
        while let [.., (a, n), (b, m)] = pools[..]
            && a > b
        {
            #[allow(clippy::cast_precision_loss, reason = "a handful of boxes")]
            let mean = (a * n as f64 + b * m as f64) / (n + m) as f64;
            pools.truncate(pools.len() - 2);
            pools.push((mean, n + m));
        }
    }
    let free = pools.iter().flat_map(|&(mean, count)| std::iter::repeat_n(mean, count));
    let half = |i: usize| widths.get(i).map_or(0.0, |w| w / 2.0);
    let last = widths.len().saturating_sub(1);
    let (low, high) = (half(0), width - half(last) - offsets.last().copied().unwrap_or(0.0));
    free.zip(&offsets).map(|(x, o)| x.min(high).max(low) + o).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Crossings of a small graph, against every order of its second row.
    #[test]
    fn few_lines_cross() {
        let mut layers = Layers::default();
        let top: Vec<usize> = (0..4).map(|_| layers.add(0, 10.0)).collect();
        let low: Vec<usize> = (0..4).map(|_| layers.add(1, 10.0)).collect();
        for (i, &from) in top.iter().enumerate() {
            layers.join(from, low[3 - i], 2.0);
        }
        assert_eq!(layers.crossings(), 6, "four lines, each across each");
        layers.order();
        assert_eq!(layers.crossings(), 0);
        layers.place(60.0, 2.0);
        for row in &layers.rows {
            for pair in row.windows(2) {
                let (a, b) = (&layers.spots[pair[0]], &layers.spots[pair[1]]);
                assert!(b.x - a.x >= 12.0 - 1e-9);
            }
            assert!(row.iter().all(|&s| layers.spots[s].x >= 5.0 - 1e-9 && layers.spots[s].x <= 55.0 + 1e-9));
        }
    }

    #[test]
    fn a_long_line_passes_every_row() {
        let mut layers = Layers::default();
        let (a, b) = (layers.add(0, 5.0), layers.add(3, 5.0));
        let way = layers.join(a, b, 1.0);
        assert_eq!(way.iter().map(|&s| layers.spots[s].row).collect::<Vec<_>>(), [0, 1, 2, 3]);
        assert_eq!(layers.lines.len(), 3);
    }

    /// The nearest places that keep order and distance, against trying all on a grid.
    #[test]
    fn places_are_the_nearest() {
        let (wanted, widths) = ([4.0, 3.0, 9.0], [2.0, 2.0, 2.0]);
        let found = apart(&wanted, &widths, 0.0, 20.0);
        let cost = |x: &[f64]| -> f64 { x.iter().zip(&wanted).map(|(a, b)| (a - b) * (a - b)).sum() };
        let mut best = f64::INFINITY;
        let grid: Vec<f64> = (0..200).map(|i| f64::from(i) * 0.1).collect();
        for &a in &grid {
            for &b in grid.iter().filter(|&&b| b - a >= 2.0 - 1e-9) {
                for &c in grid.iter().filter(|&&c| c - b >= 2.0 - 1e-9) {
                    best = best.min(cost(&[a, b, c]));
                }
            }
        }
        assert!((cost(&found) - best).abs() < 0.02, "{found:?} {best}");
    }
}
