//! [`Costs::step_cost`] laid out in tables, so that the innermost loop of the search only looks up and adds. That
//! both say the same is tested.

use riffkin_score::note::Approach;

use super::cost::{Costs, RELIEF};
use super::moment::{Moment, Pluck};
use super::spots::Spot;
use crate::hand::{Effort, Plucking};

/// Strings of a neck, and one, since they count from 1.
const STRINGS: usize = 13;

type Changes = [[f64; STRINGS]; STRINGS];

/// What is the same for all notes of a line.
pub(super) struct Tables<'a> {
    costs: &'a Costs,
    /// Distance from fret to fret in mm.
    apart_mm: Vec<f64>,
    frets: usize,
    /// Changes of string when the note is not plucked by a finger, by the first, by the second.
    changes: [Changes; 3],
}

/// The costs of going from any spot of one note to any spot of the next, which is plucked and no repeat.
pub(super) struct Pair<'a> {
    tables: &'a Tables<'a>,
    changes: &'a Changes,
    /// A shift onto a held note, and onto one that is not held.
    shift: [f64; 2],
    shift_per_mm: [f64; 2],
    roll: f64,
    hop: f64,
}

impl<'a> Tables<'a> {
    pub(super) fn new(costs: &'a Costs) -> Self {
        let fret_mm = &costs.fret_mm;
        let apart_mm = fret_mm.iter().flat_map(|a| fret_mm.iter().map(move |b| (a - b).abs())).collect();
        let changes = [None, Some(Pluck::First), Some(Pluck::Second)].map(|p| changes(costs, p));
        Self { costs, apart_mm, frets: fret_mm.len(), changes }
    }

    /// The tables for a pair of notes; `None` when a mark or a repeated pitch asks for more than they hold.
    pub(super) fn pair(&self, last: &Moment, moment: &Moment) -> Option<Pair<'_>> {
        let repeat = last.midi == moment.midi && !last.dead && !moment.dead;
        if moment.note.approach != Approach::Plucked || repeat {
            return None;
        }
        let w = |effort: Effort| self.costs.weights[effort as usize];
        let relief = if moment.after_rest { RELIEF } else { 1.0 };
        let per_mm = |relief: f64, seconds: f64| relief * w(Effort::ShiftSpeed) / seconds / 100.0;
        Some(Pair {
            tables: self,
            changes: match moment.pluck {
                None => &self.changes[0],
                Some(Pluck::First) => &self.changes[1],
                Some(Pluck::Second) => &self.changes[2],
            },
            shift: [relief * w(Effort::Shift), RELIEF * w(Effort::Shift)],
            shift_per_mm: [per_mm(relief, moment.since_last_s), per_mm(RELIEF, moment.until_next_s)],
            roll: w(Effort::Roll),
            hop: relief * moment.pace * w(Effort::Hop),
        })
    }
}

fn changes(costs: &Costs, pluck: Option<Pluck>) -> Changes {
    let mut changes = [[0.0; STRINGS]; STRINGS];
    let w = |effort: Effort| costs.weights[effort as usize];
    for (from, row) in changes.iter_mut().enumerate() {
        for (to, cost) in row.iter_mut().enumerate().filter(|&(to, _)| to != from) {
            let (lower, strings) = (to > from, from.abs_diff(to));
            let raked = costs.plucking == Plucking::Raking && lower && strings == 1 && pluck.is_some();
            let wrong = if lower { Pluck::Second } else { Pluck::First };
            let crossed = costs.plucking == Plucking::Alternating && pluck == Some(wrong);
            *cost = (strings - 1) as f64 * w(Effort::StringSkip);
            *cost += if raked { 0.0 } else { w(Effort::StringChange) };
            *cost += if crossed { w(Effort::CrossedPluck) } else { 0.0 };
        }
    }
    changes
}

impl Pair<'_> {
    /// The cost of one way to go; infinite when the hand cannot go that way.
    #[inline]
    pub(super) fn step(&self, from: Spot, to: Spot) -> f64 {
        let mut cost = self.changes[usize::from(from.place.string)][usize::from(to.place.string)];
        if from.position != to.position {
            if !from.holds() {
                return f64::INFINITY;
            }
            let apart = usize::from(from.position) * self.tables.frets + usize::from(to.position);
            let free = usize::from(!to.holds());
            cost += self.shift[free] + self.shift_per_mm[free] * self.tables.apart_mm[apart];
        }
        if from.finger == to.finger && from.holds() && to.holds() && from.place != to.place {
            let strings = from.place.string.abs_diff(to.place.string);
            cost += if from.place.fret == to.place.fret {
                let ease = if to.finger == 1 { 0.5 } else { 1.0 };
                ease * f64::from(strings) * self.roll
            } else if strings == 0 {
                0.5 * self.hop
            } else {
                self.hop
            };
        }
        cost
    }
}
