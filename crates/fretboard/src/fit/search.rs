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
            for (s, &spot) in spots[i].iter().enumerate() {
                let (to, ahead) = match spots.get(i + 1) {
                    None => (0, 0.0),
                    Some(following) => cheapest(following.iter().enumerate().map(|(t, &to)| {
                        rest[i + 1][t] + costs.step_cost(&moments[i], spot, &moments[i + 1], to)
                    })),
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
        self.split(&ways, 0, 0, &[], &mut splits);
        while ways.len() < count {
            let Some(best) = (0..splits.len()).min_by(|&a, &b| splits[a].cost.total_cmp(&splits[b].cost))
            else {
                break;
            };
            let best = splits.remove(best);
            let prefix = self.cheapest_prefix(&ways[best.way], best.at, best.to);
            ways.push(self.follow(prefix, best.to));
            let found = ways.len() - 1;
            self.split(&ways, found, best.at, &best.barred, &mut splits);
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
                let free = self.spots[i].iter().enumerate().filter(|(_, s)| !barred.contains(&s.identity()));
                let best = free
                    .map(|(t, _)| (t, self.reach(i, t, &before).1 + self.rest[i][t]))
                    .min_by(|a, b| a.1.total_cmp(&b.1));
                if let Some((to, cost)) = best.filter(|b| b.1.is_finite()) {
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

/// The first of the smallest, with its index; `(0, infinity)` for none.
fn cheapest(costs: impl Iterator<Item = f64>) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (i, cost) in costs.enumerate() {
        if cost < best.1 {
            best = (i, cost);
        }
    }
    best
}
