//! The cheapest ways through a line, exact.
//!
//! The best way is found by dynamic programming from the last note backwards (Viterbi; for fingering: Sayegh,
//! "Fingering for string instruments with the optimum path paradigm", Computer Music Journal 13(3), 1989),
//! with the hand position in the state. Ways after the best that differ in a place are found by splitting what
//! remains at the first note that differs (Lawler, "A procedure for computing the k best solutions to discrete
//! optimization problems", Management Science 18(7), 1972); since the cost of every rest of a line is known
//! from the backward pass, a split costs one forward pass over the places of the way it leaves.

use riffkin_score::note::Place;

use super::cost::Costs;
use super::moment::Moment;
use super::spots::Spot;

/// Costs nearer to each other than this are equal, and the first in order wins (higher string, lower finger),
/// so that rounding never decides how a riff is played.
const EVEN: f64 = 1.0e-10;

/// A line with every way to play each note.
pub(super) struct Search<'a> {
    costs: &'a Costs,
    moments: &'a [Moment],
    spots: &'a [Vec<Spot>],
    /// For each note and spot the cost from there to the end, the spot's own included.
    rest: Vec<Vec<f64>>,
    /// For each note and spot the spot of the next note on the cheapest way.
    next: Vec<Vec<u32>>,
}

/// What remains after some ways are taken out: those that share a way's places before a note and differ there.
struct Split {
    cost: f64,
    /// Which found way it leaves.
    way: usize,
    /// At which note.
    at: usize,
    /// Where it goes there.
    to: usize,
    /// What it must not do there.
    barred: Vec<Option<Place>>,
}

impl<'a> Search<'a> {
    /// Runs the backward pass. `spots` holds a non-empty list for every moment.
    pub(super) fn new(costs: &'a Costs, moments: &'a [Moment], spots: &'a [Vec<Spot>]) -> Self {
        let mut rest: Vec<Vec<f64>> = spots.iter().map(|s| vec![0.0; s.len()]).collect();
        let mut next: Vec<Vec<u32>> = spots.iter().map(|s| vec![0; s.len()]).collect();
        for i in (0..spots.len()).rev() {
            let following = spots.get(i + 1).map_or(&[][..], Vec::as_slice);
            let by_position = by_position(following);
            for (s, &spot) in spots[i].iter().enumerate() {
                let step = |t: usize| {
                    rest[i + 1][t] + costs.step_cost(&moments[i], spot, &moments[i + 1], following[t])
                };
                let (to, ahead) = if following.is_empty() {
                    (0, 0.0)
                } else if spot.holds() {
                    cheapest((0..following.len()).map(step))
                } else {
                    // The hand is where it is needed next: see [`Costs::step`].
                    let there = by_position.get(usize::from(spot.position)).map_or(&[][..], Vec::as_slice);
                    let (k, cost) = cheapest(there.iter().map(|&t| step(t)));
                    (there.get(k).copied().unwrap_or(0), cost)
                };
                rest[i][s] = ahead + costs.note_cost(&moments[i], spot);
                next[i][s] = to as u32;
            }
        }
        Self { costs, moments, spots, rest, next }
    }

    /// Up to `count` ways, cheapest first, no two with the same places; as indices into the spots.
    pub(super) fn ways(&self, count: usize) -> Vec<Vec<usize>> {
        let mut ways: Vec<Vec<usize>> = Vec::new();
        let mut splits: Vec<Split> = Vec::new();
        let Some(first) = self.rest.first() else { return vec![Vec::new(); count.min(1)] };
        if count == 0 {
            return ways;
        }
        let (start, _) = cheapest(first.iter().copied());
        ways.push(self.follow(Vec::new(), start));
        let (mut at, mut barred) = (0, Vec::new());
        while ways.len() < count {
            self.split(&ways, ways.len() - 1, at, &barred, &mut splits);
            if splits.is_empty() {
                break;
            }
            let best = splits.remove(cheapest(splits.iter().map(|s| s.cost)).0);
            let prefix = self.cheapest_prefix(&ways[best.way], best.at, best.to);
            ways.push(self.follow(prefix, best.to));
            (at, barred) = (best.at, best.barred);
        }
        ways
    }

    /// The cheapest rest of a line from a spot on, behind a given beginning.
    fn follow(&self, mut way: Vec<usize>, from: usize) -> Vec<usize> {
        let mut spot = from;
        for i in way.len()..self.spots.len() {
            way.push(spot);
            spot = self.next[i][spot] as usize;
        }
        way
    }

    /// The cheapest costs of reaching the spots of a note along a way's places, from those of the note before.
    fn advance(&self, way: &[usize], i: usize, before: &[(usize, f64)]) -> Vec<(usize, f64)> {
        let place = self.spots[i][way[i]].identity();
        let same = self.spots[i].iter().enumerate().filter(|(_, s)| s.identity() == place);
        same.map(|(t, _)| {
            (t, self.reach(i, t, before).1 + self.costs.note_cost(&self.moments[i], self.spots[i][t]))
        })
        .collect()
    }

    /// From which spot a spot is reached most cheaply, and the cost so far without its own.
    fn reach(&self, i: usize, t: usize, before: &[(usize, f64)]) -> (usize, f64) {
        if i == 0 {
            return (0, 0.0);
        }
        let (b, cost) = cheapest(before.iter().map(|&(s, so_far)| {
            so_far
                + self.costs.step_cost(
                    &self.moments[i - 1],
                    self.spots[i - 1][s],
                    &self.moments[i],
                    self.spots[i][t],
                )
        }));
        (before.get(b).map_or(0, |&(s, _)| s), cost)
    }

    /// Splits what shares a way's places before note `from` (where `barred` is barred already) by the first
    /// note that differs from it.
    fn split(
        &self,
        ways: &[Vec<usize>],
        way: usize,
        from: usize,
        barred: &[Option<Place>],
        splits: &mut Vec<Split>,
    ) {
        let path = &ways[way];
        let mut before: Vec<(usize, f64)> = Vec::new();
        for i in 0..path.len() {
            if i >= from {
                let mut barred = if i == from { barred.to_vec() } else { Vec::new() };
                barred.push(self.spots[i][path[i]].identity());
                let (to, cost) = cheapest(self.spots[i].iter().enumerate().map(|(t, spot)| {
                    if barred.contains(&spot.identity()) {
                        return f64::INFINITY;
                    }
                    self.reach(i, t, &before).1 + self.rest[i][t]
                }));
                if cost.is_finite() {
                    splits.push(Split { cost, way, at: i, to, barred });
                }
            }
            before = self.advance(path, i, &before);
        }
    }

    /// The cheapest beginning along a way's places before note `at` that leads to a spot there.
    fn cheapest_prefix(&self, way: &[usize], at: usize, to: usize) -> Vec<usize> {
        let mut layers: Vec<Vec<(usize, f64)>> = Vec::with_capacity(at);
        for i in 0..at {
            let layer = self.advance(way, i, layers.last().map_or(&[][..], Vec::as_slice));
            layers.push(layer);
        }
        let mut prefix = vec![0; at];
        let mut ahead = to;
        for i in (0..at).rev() {
            ahead = self.reach(i + 1, ahead, &layers[i]).0;
            prefix[i] = ahead;
        }
        prefix
    }
}

/// Which spots belong to each hand position.
fn by_position(spots: &[Spot]) -> Vec<Vec<usize>> {
    let mut lists = vec![Vec::new(); spots.iter().map(|s| usize::from(s.position) + 1).max().unwrap_or(0)];
    for (t, spot) in spots.iter().enumerate() {
        lists[usize::from(spot.position)].push(t);
    }
    lists
}

/// The first of the smallest, with its index; `(0, infinity)` for none. Costs nearer than [`EVEN`] are equal.
fn cheapest(costs: impl Iterator<Item = f64>) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (i, cost) in costs.enumerate() {
        if cost < best.1 - EVEN {
            best = (i, cost);
        }
    }
    best
}
