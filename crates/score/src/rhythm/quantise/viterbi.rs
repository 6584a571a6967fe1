//! The most likely grid of every beat, and with it the exact place of every onset.
//!
//! A Viterbi search over the beats: the state is the grid a beat is divided into, and whether an early note of
//! this beat has already taken the start of the next. A note costs its squared distance to its grid point over
//! twice the variance (Gaussian timing), plus what the point and the grid cost (the plainest reading is the
//! likeliest): the Bayesian reading of A. T. Cemgil, P. Desain and B. Kappen, Rhythm Quantization for
//! Transcription, Computer Music Journal 24:2 (2000), with fixed costs in place of their fitted prior and one
//! global clock in place of theirs per group.

use super::beats::{BarAt, Beat, Grid};
use super::habits::Habits;
use crate::tempo::Feel;
use crate::time::Quarters;

/// What the search is told.
pub(super) struct Search<'a> {
    pub(super) bars: &'a [BarAt],
    pub(super) beats: &'a [Beat],
    /// Onsets in quarters from the downbeat, rising.
    pub(super) onsets: &'a [f64],
    pub(super) feel: Feel,
    /// Standard deviation of the timing, in quarters.
    pub(super) spread: f64,
    pub(super) rich: bool,
    /// What the line does in its other bars, once it has been read.
    pub(super) habits: Option<&'a Habits>,
}

/// What came out.
#[derive(Clone, Debug)]
pub(super) struct Reading {
    /// Exact place of each onset; `None` for one that fell together with another.
    pub(super) places: Vec<Option<Quarters>>,
    /// Parts each beat is divided into.
    pub(super) parts: Vec<u8>,
    /// Cost of the whole, in nats.
    pub(super) cost: f64,
}

/// Cost of an onset far from every grid point, in nats: beyond this, farther is no worse.
const FAR: f64 = 30.0;
/// Cost of taking two onsets for one: when they are close, and when they are not.
const TOGETHER: f64 = 6.0;
const LOST: f64 = 60.0;

// The best way into a state: cost, the state before, and the places of this beat's onsets.
#[derive(Clone)]
struct Way {
    cost: f64,
    before: usize,
    places: Vec<Option<u8>>,
}

impl Search<'_> {
    /// Runs the search.
    pub(super) fn run(&self) -> Reading {
        let mut next = 0;
        // Notes before the first beat and after the last cannot be: the beats reach around all of them.
        let spans: Vec<(usize, usize)> = (0..self.beats.len())
            .map(|b| {
                let from = next;
                let end = self.edge(b + 1);
                while next < self.onsets.len() && (self.onsets[next] < end || b + 1 == self.beats.len()) {
                    next += 1;
                }
                (from, next)
            })
            .collect();

        // States: grid · 2 + 1 when the next beat's start is taken.
        let mut layers: Vec<Vec<Option<Way>>> = Vec::with_capacity(self.beats.len());
        let mut entry: Vec<(f64, usize, bool, Option<Grid>)> = vec![(0.0, 0, false, None)];
        for (b, &(from, to)) in spans.iter().enumerate() {
            let grids = self.beats[b].grids(self.rich);
            let mut layer: Vec<Option<Way>> = vec![None; grids.len() * 2];
            for (g, grid) in grids.iter().enumerate() {
                if from == to && g > 0 {
                    break;
                }
                if !self.beats[b].divides(grid.parts) {
                    continue;
                }
                let habit = self.habits.map_or(0.0, |habits| habits.grid_cost(&self.beats[b], grid));
                for start_taken in [false, true] {
                    // The best state before, for this grid.
                    let before = entry
                        .iter()
                        .filter(|e| e.2 == start_taken)
                        .map(|&(cost, state, _, last)| {
                            (cost + self.beats[b].grid_cost(grid, last.map(|l| l.kind())), state)
                        })
                        .min_by(|a, b| a.0.total_cmp(&b.0));
                    let Some((cost, before)) = before.map(|(cost, state)| (cost + habit, state)) else {
                        continue;
                    };
                    for (end_taken, more, places) in self.place(b, grid, from, to, start_taken) {
                        let state = g * 2 + usize::from(end_taken);
                        let total = cost + more;
                        if layer[state].as_ref().is_none_or(|w| total < w.cost) {
                            layer[state] = Some(Way { cost: total, before, places });
                        }
                    }
                }
            }
            entry = layer
                .iter()
                .enumerate()
                .filter_map(|(s, way)| way.as_ref().map(|w| (w.cost, s, s % 2 == 1, Some(grids[s / 2]))))
                .collect();
            layers.push(layer);
        }
        self.trace(&layers, &spans, &entry)
    }

    fn trace(
        &self,
        layers: &[Vec<Option<Way>>],
        spans: &[(usize, usize)],
        last: &[(f64, usize, bool, Option<Grid>)],
    ) -> Reading {
        let mut reading = Reading {
            places: vec![None; self.onsets.len()],
            parts: vec![1; self.beats.len()],
            cost: f64::INFINITY,
        };
        let Some(&(cost, mut state, _, _)) = last.iter().min_by(|a, b| a.0.total_cmp(&b.0)) else {
            reading.cost = 0.0;
            return reading;
        };
        reading.cost = cost;
        for b in (0..layers.len()).rev() {
            let Some(way) = &layers[b][state] else { break };
            let parts = self.beats[b].grids(self.rich)[state / 2].parts;
            reading.parts[b] = parts;
            for (i, place) in (spans[b].0..spans[b].1).zip(&way.places) {
                reading.places[i] = place.map(|k| self.beats[b].point(k, parts));
            }
            state = way.before;
        }
        reading
    }

    // Where a beat starts as played; the end of the last beat for an index past it.
    fn edge(&self, b: usize) -> f64 {
        match (self.beats.get(b), self.beats.last()) {
            (Some(beat), _) => self.bars[beat.bar].played(self.feel, beat.start),
            (None, Some(last)) => (last.start + last.length).to_f64(),
            (None, None) => 0.0,
        }
    }

    // Puts the onsets of a beat on distinct points of a grid, in order, at the least cost: once without and once
    // with the start of the next beat taken.
    fn place(
        &self,
        b: usize,
        grid: &Grid,
        from: usize,
        to: usize,
        start_taken: bool,
    ) -> Vec<(bool, f64, Vec<Option<u8>>)> {
        let beat = &self.beats[b];
        let bar = &self.bars[beat.bar];
        let parts = usize::from(grid.parts);
        let count = to - from;
        let chance = |k: u8| {
            let usual = grid.chance(k);
            match self.habits {
                Some(habits) if k < grid.parts => {
                    habits.chance(beat.bar, beat.point(k, grid.parts) - bar.start, usual)
                }
                _ => usual,
            }
        };
        // What each point costs when a note starts there, over what it costs when none does.
        let depth: Vec<f64> = (0..=grid.parts).map(|k| ((1.0 - chance(k)) / chance(k)).ln()).collect();
        let silent: f64 = (0..grid.parts).map(|k| -(1.0 - chance(k)).ln()).sum();
        if count == 0 {
            return vec![(false, silent, Vec::new())];
        }
        let points: Vec<f64> = (0..=grid.parts)
            .map(|k| {
                if k == grid.parts {
                    self.edge(b + 1)
                } else {
                    bar.played(self.feel, beat.point(k, grid.parts))
                }
            })
            .collect();
        // best[p]: cost with the last used point p - 1 (0 when none is used yet).
        let width = parts + 2;
        let mut best = vec![f64::INFINITY; width];
        best[usize::from(start_taken)] = silent;
        // How each cell was reached: the point before, or NONE for a note that was left out.
        const LEFT_OUT: u8 = u8::MAX;
        let mut came = vec![LEFT_OUT; width * count];
        for (j, i) in (from..to).enumerate() {
            let onset = self.onsets[i];
            let close = i > 0 && onset - self.onsets[i - 1] < (3.0 * self.spread).min(1.0 / 16.0);
            let out = if close { TOGETHER } else { LOST };
            let mut now = vec![f64::INFINITY; width];
            let (mut lowest, mut lowest_at) = (f64::INFINITY, 0);
            for p in 0..width {
                // Left out: the last used point stays.
                now[p] = best[p] + out;
                // Placed at p - 1, after anything before it.
                if p > 0 {
                    let off = (onset - points[p - 1]) / self.spread;
                    let cost = lowest + (off * off / 2.0).min(FAR) + depth[p - 1];
                    if cost < now[p] {
                        now[p] = cost;
                        came[j * width + p] = lowest_at;
                    }
                }
                if best[p] < lowest {
                    (lowest, lowest_at) = (best[p], p as u8);
                }
            }
            best = now;
        }
        let trace = |mut p: usize| {
            let mut places = vec![None; count];
            for j in (0..count).rev() {
                let before = came[j * width + p];
                if before != LEFT_OUT {
                    places[j] = Some((p - 1) as u8);
                    p = usize::from(before);
                }
            }
            places
        };
        let open = (0..width - 1).min_by(|&x, &y| best[x].total_cmp(&best[y])).unwrap_or(0);
        let mut ways = Vec::with_capacity(2);
        for (taken, p) in [(false, open), (true, width - 1)] {
            if best[p].is_finite() {
                ways.push((taken, best[p], trace(p)));
            }
        }
        ways
    }
}
