//! The bars and beats that played notes are heard against, and the grids a beat may be divided into.

use super::weights::{BINARY, DEEP_CHANCE, DEPTH_COST, TERNARY, USUAL, kind_chance};
use crate::meter::Meter;
use crate::rhythm::swing::played_in_bar;
use crate::tempo::Feel;
use crate::time::Quarters;

/// A bar on the clock whose zero is the given downbeat.
#[derive(Clone, Copy, Debug)]
pub(super) struct BarAt {
    pub(super) start: Quarters,
    pub(super) length: Quarters,
    pub(super) meter: Meter,
    /// Counted from the downbeat; below zero before it.
    pub(super) index: i64,
}

/// One beat of a bar: a quarter note or its like, or three units of a compound meter.
#[derive(Clone, Copy, Debug)]
pub(super) struct Beat {
    pub(super) start: Quarters,
    pub(super) length: Quarters,
    pub(super) bar: usize,
    ternary: bool,
}

/// Equal parts of a beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Grid {
    pub(super) parts: u8,
    /// How often a beat of its kind is divided so; see [`super::weights`].
    pub(super) share: f64,
    /// Chance of a note on each part, where the table has them; else they follow from the depth.
    pub(super) points: &'static [f64],
    /// Factors from the beat inwards.
    pub(super) factors: &'static [u8],
}

impl Grid {
    /// How deep the `k`th part lies: 0 for the beat, 1 for its first division and so on.
    fn depth(&self, k: u8) -> usize {
        let (mut left, mut depth) = (self.parts, 0);
        for &factor in self.factors {
            if k.is_multiple_of(left) {
                break;
            }
            left /= factor;
            depth += 1;
        }
        depth
    }

    /// What an end at the `k`th part costs, in nats.
    pub(super) fn depth_cost(&self, k: u8) -> f64 {
        DEPTH_COST[self.depth(k).min(DEPTH_COST.len() - 1)]
    }

    /// The chance that a note starts on the `k`th part of a beat divided so; the last part is the next beat.
    pub(super) fn chance(&self, k: u8) -> f64 {
        let k = if k == self.parts { 0 } else { k };
        match self.points.get(usize::from(k)) {
            Some(&chance) => chance,
            None => DEEP_CHANCE[self.depth(k).min(DEEP_CHANCE.len() - 1)],
        }
    }

    /// Grids of one kind: twos, threes, fives, sevens.
    pub(super) fn kind(&self) -> u8 {
        match self.parts {
            p if p % 3 == 0 => 3,
            p if p % 5 == 0 => 5,
            p if p % 7 == 0 => 7,
            _ => 2,
        }
    }
}

impl Beat {
    /// What it costs to divide this beat by a grid after a beat of the kind before, in nats.
    pub(super) fn grid_cost(&self, grid: &Grid, before: Option<u8>) -> f64 {
        let usual = if self.ternary { 3 } else { 2 };
        -kind_chance(usual, before, grid.kind()).ln() - grid.share.ln()
    }

    /// How often a beat of this kind is divided by a grid.
    pub(super) fn usual_share(&self, grid: &Grid) -> f64 {
        kind_chance(if self.ternary { 3 } else { 2 }, None, grid.kind()) * grid.share
    }

    /// Whether it falls into three by its meter.
    pub(super) fn is_ternary(&self) -> bool {
        self.ternary
    }

    /// The grids of this beat, the whole beat first.
    pub(super) fn grids(&self, rich: bool) -> &'static [Grid] {
        let all: &[Grid] = if self.ternary { &TERNARY } else { &BINARY };
        if rich { all } else { &all[..USUAL] }
    }

    /// False when the beat, cut short by a meter change, has no exact parts of this number.
    pub(super) fn divides(&self, parts: u8) -> bool {
        self.length.scaled(1, i64::from(parts)).is_ok_and(|part| part * i64::from(parts) == self.length)
    }

    /// The exact place of the `k`th of `parts`.
    pub(super) fn point(&self, k: u8, parts: u8) -> Quarters {
        self.start + self.length.scaled(i64::from(k), i64::from(parts)).unwrap_or(Quarters::ZERO)
    }
}

impl BarAt {
    /// Where something written at `at` inside this bar is played.
    pub(super) fn played(&self, feel: Feel, at: Quarters) -> f64 {
        self.start.to_f64() + played_in_bar(feel, (at - self.start).to_f64(), self.length.to_f64())
    }
}

/// Bars from before `from` to after `to`, in quarters from the downbeat; `None` for more than `most`.
pub(super) fn bars(
    meter: Meter,
    changes: &[(Quarters, Meter)],
    from: f64,
    to: f64,
    most: usize,
) -> Option<Vec<BarAt>> {
    let full = meter.bar_length();
    let before = ((-from).max(0.0) / full.to_f64()).ceil();
    if before > most as f64 || (to - from) / 0.125 > 1e9 {
        return None;
    }
    let mut bars: Vec<BarAt> = (1..=before as i64)
        .rev()
        .map(|k| BarAt { start: full * -k, length: full, meter, index: -k })
        .collect();
    let (mut at, mut now, mut index) = (Quarters::ZERO, meter, 0);
    let mut changes = changes.iter().copied().peekable();
    while index == 0 || at.to_f64() <= to {
        while let Some((_, next)) = changes.next_if(|c| c.0 <= at) {
            now = next;
        }
        let full = now.bar_length();
        let length = match changes.peek() {
            Some(&(change, _)) if change < at + full => change - at,
            _ => full,
        };
        bars.push(BarAt { start: at, length, meter: now, index });
        if bars.len() > most {
            return None;
        }
        at += length;
        index += 1;
    }
    Some(bars)
}

/// The beats of these bars: groups of the meter, long groups taken apart into quarters or single units.
pub(super) fn beats(bars: &[BarAt]) -> Vec<Beat> {
    let mut beats = Vec::new();
    for (i, bar) in bars.iter().enumerate() {
        let unit = bar.meter.unit_length();
        let mut at = Quarters::ZERO;
        for &size in bar.meter.group_sizes() {
            let group = unit * i64::from(size);
            // A group of 3 units up to a dotted half is one beat; 2, 4 or 8 units up to a quarter too.
            let ternary = size == 3 && group <= Quarters::QUARTER * 3 && unit < Quarters::QUARTER;
            let whole = ternary || size.is_power_of_two() && group <= Quarters::QUARTER;
            let step = if whole {
                group
            } else if unit >= Quarters::QUARTER || size.is_power_of_two() {
                Quarters::QUARTER
            } else {
                unit
            };
            let parts = group.whole_steps(step).max(1);
            for k in 0..parts {
                beats.push(Beat { start: bar.start + at + step * k, length: step, bar: i, ternary });
            }
            at += group;
        }
        // A bar cut short ends its last beat.
        let end = bar.start + bar.length;
        while beats.last().is_some_and(|b: &Beat| b.bar == i && b.start >= end) {
            beats.pop();
        }
        if let Some(last) = beats.last_mut()
            && last.start + last.length > end
        {
            last.length = end - last.start;
            last.ternary = false;
        }
    }
    beats
}
