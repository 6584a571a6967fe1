//! The cheapest way through a line, exact.
//!
//! It is found by dynamic programming from the last note backwards (Viterbi; for fingering: Sayegh, "Fingering
//! for string instruments with the optimum path paradigm", Computer Music Journal 13(3), 1989), with the hand
//! position in the state. What every rest of the line costs is kept: it is the exact bound by which the search
//! for other choices ([`super::others`]) passes over what cannot be one of the cheapest.

use super::cost::Costs;
use super::moment::Moment;
use super::spots::Spot;
use super::tables::Tables;

/// Costs nearer to each other than this are equal, and the first in order wins (higher string, lower finger),
/// so that rounding never decides how a riff is played.
pub(super) const EVEN: f64 = 1.0e-10;

/// A line with every way to play each note.
pub(super) struct Search<'a> {
    pub(super) costs: &'a Costs,
    pub(super) moments: &'a [Moment],
    pub(super) spots: &'a [Vec<Spot>],
    /// What each spot costs by itself.
    pub(super) alone: Vec<Vec<f64>>,
    /// For each note and spot the cost from there to the end, the spot's own included.
    pub(super) rest: Vec<Vec<f64>>,
    /// For each note and spot the spot of the next note on the cheapest way.
    next: Vec<Vec<u32>>,
}

impl<'a> Search<'a> {
    /// Runs the backward pass. `spots` holds a non-empty list for every moment; `extra`, when given, is added to
    /// what each spot costs by itself.
    pub(super) fn new(
        costs: &'a Costs,
        moments: &'a [Moment],
        spots: &'a [Vec<Spot>],
        extra: Option<&[Vec<f64>]>,
    ) -> Self {
        let mut alone: Vec<Vec<f64>> = moments
            .iter()
            .zip(spots)
            .map(|(m, spots)| spots.iter().map(|&s| costs.note_cost(m, s)).collect())
            .collect();
        for (costs, extra) in alone.iter_mut().zip(extra.unwrap_or_default()) {
            for (cost, extra) in costs.iter_mut().zip(extra) {
                *cost += extra;
            }
        }
        let mut rest = alone.clone();
        let mut next: Vec<Vec<u32>> = spots.iter().map(|s| vec![0; s.len()]).collect();
        let tables = Tables::new(costs);
        for i in (0..spots.len().saturating_sub(1)).rev() {
            let pair = tables.pair(&moments[i], &moments[i + 1]);
            let following = &spots[i + 1];
            let by_position = by_position(following);
            let (head, tail) = rest.split_at_mut(i + 1);
            let (here, ahead) = (&mut head[i], &tail[0]);
            for (s, &spot) in spots[i].iter().enumerate() {
                let step = |t: usize| {
                    ahead[t]
                        + match &pair {
                            Some(pair) => pair.step(spot, following[t]),
                            None => costs.step_cost(&moments[i], spot, &moments[i + 1], following[t]),
                        }
                };
                let (to, cost) = if spot.holds() {
                    cheapest((0..following.len()).map(step))
                } else {
                    // The hand is where it is needed next: see [`Costs::step`].
                    let there = by_position.get(usize::from(spot.position)).map_or(&[][..], Vec::as_slice);
                    let (k, cost) = cheapest(there.iter().map(|&t| step(t)));
                    (there.get(k).copied().unwrap_or(0), cost)
                };
                here[s] += cost;
                next[i][s] = to as u32;
            }
        }
        Self { costs, moments, spots, alone, rest, next }
    }

    /// The cheapest way, as indices into the spots, and its cost; empty at no cost for a line without notes.
    pub(super) fn cheapest(&self) -> (Vec<usize>, f64) {
        let Some(first) = self.rest.first() else { return (Vec::new(), 0.0) };
        let (start, cost) = cheapest(first.iter().copied());
        (self.follow(Vec::new(), start), cost)
    }

    /// The cheapest rest of a line from a spot on, behind a given beginning.
    pub(super) fn follow(&self, mut way: Vec<usize>, from: usize) -> Vec<usize> {
        let mut spot = from;
        for i in way.len()..self.spots.len() {
            way.push(spot);
            spot = self.next[i][spot] as usize;
        }
        way
    }

    /// For each spot of note `i` the least cost of getting there, its own not included.
    pub(super) fn until(&self, i: usize) -> Vec<f64> {
        let mut costs = vec![0.0; self.spots.first().map_or(0, Vec::len)];
        for at in 0..i {
            let here: Vec<f64> = costs.iter().zip(&self.alone[at]).map(|(a, b)| a + b).collect();
            costs = (0..self.spots[at + 1].len())
                .map(|t| {
                    here.iter()
                        .enumerate()
                        .map(|(s, c)| c + self.step(at, s, t))
                        .fold(f64::INFINITY, f64::min)
                })
                .collect();
        }
        costs
    }

    /// The cost of going from a spot of note `i` to a spot of the next; infinite when the hand cannot.
    pub(super) fn step(&self, i: usize, from: usize, to: usize) -> f64 {
        self.costs.step_cost(
            &self.moments[i],
            self.spots[i][from],
            &self.moments[i + 1],
            self.spots[i + 1][to],
        )
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
pub(super) fn cheapest(costs: impl Iterator<Item = f64>) -> (usize, f64) {
    let mut best = (0, f64::INFINITY);
    for (i, cost) in costs.enumerate() {
        if cost < best.1 - EVEN {
            best = (i, cost);
        }
    }
    best
}

#[cfg(test)]
mod tests {
    use riffkin_score::random::{Recipe, riff_of};

    use super::*;
    use crate::fit::Line;
    use crate::hand::{Hand, Plucking};
    use crate::neck::Neck;

    /// The tables of the innermost loop against the definition of the costs, wherever they are used.
    #[test]
    fn tables_say_what_the_costs_say() {
        let neck = Neck::named("five").unwrap();
        let mut compared = 0;
        for (seed, plucking) in
            [Plucking::Any, Plucking::Alternating, Plucking::Raking].into_iter().cycle().take(30).enumerate()
        {
            let hand = Hand::default().with_plucking(plucking);
            let riff = riff_of(seed as u64, Recipe { range: (23, 55), ..Recipe::full(4) });
            let line = Line::new(&riff, &neck, &hand, &[]).unwrap();
            let tables = Tables::new(&line.costs);
            for i in 1..line.moments.len() {
                let (last, moment) = (&line.moments[i - 1], &line.moments[i]);
                let Some(pair) = tables.pair(last, moment) else { continue };
                for &from in &line.spots[i - 1] {
                    for &to in &line.spots[i] {
                        let (a, b) = (pair.step(from, to), line.costs.step_cost(last, from, moment, to));
                        assert!(a == b || (a - b).abs() < 1e-12, "{a} is not {b}: {from:?} to {to:?}");
                        compared += 1;
                    }
                }
            }
        }
        assert!(compared > 10_000, "{compared}");
    }
}
