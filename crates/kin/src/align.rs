//! Kin by intervals and rhythm: the cheapest way to make one riff of another by replacing, leaving out and
//! adding notes, breaking one into several and joining several into one.
//!
//! After Mongeau and Sankoff, "Comparison of Musical Sequences", Computers and the Humanities 24, 1990. Theirs
//! are the five operations, the exact dynamic programme, and a cost made of an interval's weight and of the
//! difference in length. What differs, and why (their figures from memory):
//!
//! - Costs are whole numbers: 1 is a twelfth of a quarter note played in one riff and not in the other. Theirs
//!   for a sixteenth is `k1 = 0.348`, so that one of theirs is 8.6 of ours.
//! - An interval's weight counts for as long as it sounds, so that a long wrong note costs more than a short
//!   one. Theirs are 0.1 for a fifth, 0.2 third, 0.35 sixth, 0.5 fourth, 0.8 seventh, 0.9 second; in units of
//!   `k1` from 0.3 to 2.6. Ours are these, rounded, but at least 1, because another degree is another degree,
//!   and at most 2, beyond which leaving one out and adding the other is never dearer.
//! - A riff has no key here: of the twelve transpositions the cheapest counts, so that a figure that begins on
//!   another degree is found as well. The transposition is part of the result.
//! - A note is broken into at most [`PIECES`]; repeated notes are one stretch already ([`crate::stretches`]).

use std::ops::Range;

use crate::stretches::Stretch;

/// Weight of an interval per grid step, by semitones round the octave: unison, seconds, thirds, fourth,
/// tritone, fifth, sixths, sevenths.
pub const WEIGHTS: [u8; 12] = [0, 2, 2, 1, 1, 1, 2, 1, 1, 1, 2, 2];
/// Cost of a grid step that is played in one riff only.
pub const ALONE: u32 = 1;
/// Most pieces into which one stretch is broken, or from which it is joined.
pub const PIECES: usize = 4;

/// How much of the other riff must be used.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Extent {
    /// All of it: riff against riff.
    Whole,
    /// Any part of it: a snippet looked for in a riff.
    Part,
}

/// What becomes of some stretches.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Step {
    /// These here stand for those there: one for one, one for several, or several for one.
    Matched {
        /// Indices of the stretches here.
        here: Range<usize>,
        /// Indices of the stretches there.
        there: Range<usize>,
        /// Its share of the cost; 0 where nothing differs.
        cost: u32,
    },
    /// Only here.
    Here(usize),
    /// Only there.
    There(usize),
}

/// The cheapest way from one riff to another.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Alignment {
    /// Its cost in twelfths of a quarter note.
    pub cost: u32,
    /// Semitones by which the other riff's slots lie above this one's, 0 to 11; the least of equals.
    pub shift: u8,
    /// What becomes of every stretch, in order. With [`Extent::Part`] what lies outside the part is left out.
    pub steps: Vec<Step>,
}

/// Weight of two slots per grid step, when the other riff lies `shift` semitones higher.
fn weight(here: u8, there: u8, shift: u8) -> u32 {
    let between = (there + 24 - here % 12 - shift % 12) % 12;
    u32::from(WEIGHTS[usize::from(between)])
}

/// Cost of one stretch for several: each of the several is compared for its whole length, and the one for the
/// shorter of both when it stands against a single one.
fn group(one: Stretch, several: &[Stretch], shift: u8, flip: bool) -> u32 {
    let of = |other: Stretch| {
        if flip { weight(other.slot, one.slot, shift) } else { weight(one.slot, other.slot, shift) }
    };
    let length = |s: Stretch| u32::from(s.length);
    let sum: u32 = several.iter().map(|&s| length(s)).sum();
    let apart = ALONE * length(one).abs_diff(sum);
    match several {
        [other] => of(*other) * length(one).min(length(*other)) + apart,
        _ => several.iter().map(|&s| of(s) * length(s)).sum::<u32>() + apart,
    }
}

/// Cost of a group of stretches here against a group there, one of them being single.
///
/// What the dynamic programme takes the minimum over; public so that it can be checked against a plain
/// recursion.
pub fn group_cost(here: &[Stretch], there: &[Stretch], shift: u8) -> u32 {
    match (here, there) {
        ([one], several) => group(*one, several, shift, false),
        (several, [one]) => group(*one, several, shift, true),
        _ => u32::MAX,
    }
}

/// Cost and steps for one transposition.
pub fn align_at(here: &[Stretch], there: &[Stretch], shift: u8, extent: Extent) -> Alignment {
    let width = there.len() + 1;
    let at = |i: usize, j: usize| i * width + j;
    // Cost so far, and how many stretches of each side the last step took.
    let mut best = vec![(0u32, 0u8, 0u8); (here.len() + 1) * width];
    let alone = |s: &Stretch| ALONE * u32::from(s.length);
    for j in 1..width {
        let cost = if extent == Extent::Part { 0 } else { best[at(0, j - 1)].0 + alone(&there[j - 1]) };
        best[at(0, j)] = (cost, 0, u8::from(extent == Extent::Whole));
    }
    for i in 1..=here.len() {
        best[at(i, 0)] = (best[at(i - 1, 0)].0 + alone(&here[i - 1]), 1, 0);
        for j in 1..width {
            let mut found = (u32::MAX, 0, 0);
            let mut offer = |a: usize, b: usize, cost: u32| {
                let sum = best[at(i - a, j - b)].0 + cost;
                if sum < found.0 {
                    found = (sum, a as u8, b as u8);
                }
            };
            for pieces in 1..=PIECES.min(j) {
                offer(1, pieces, group_cost(&here[i - 1..i], &there[j - pieces..j], shift));
            }
            for pieces in 2..=PIECES.min(i) {
                offer(pieces, 1, group_cost(&here[i - pieces..i], &there[j - 1..j], shift));
            }
            offer(1, 0, alone(&here[i - 1]));
            offer(0, 1, alone(&there[j - 1]));
            best[at(i, j)] = found;
        }
    }
    let mut end = there.len();
    if extent == Extent::Part {
        end = (0..width).min_by_key(|&j| best[at(here.len(), j)].0).unwrap_or(0);
    }
    let cost = best[at(here.len(), end)].0;
    let (mut i, mut j, mut steps) = (here.len(), end, Vec::new());
    while let (sum, a, b) = best[at(i, j)]
        && (a, b) != (0, 0)
    {
        let (from, to) = (i - usize::from(a), j - usize::from(b));
        steps.push(match (a, b) {
            (_, 0) => Step::Here(from),
            (0, _) => Step::There(to),
            _ => Step::Matched { here: from..i, there: to..j, cost: sum - best[at(from, to)].0 },
        });
        (i, j) = (from, to);
    }
    steps.reverse();
    Alignment { cost, shift: shift % 12, steps }
}

/// The cheapest of the twelve transpositions, the least of equals.
pub fn align(here: &[Stretch], there: &[Stretch], extent: Extent) -> Alignment {
    let first = align_at(here, there, 0, extent);
    (1..12).fold(first, |best, shift| {
        let other = align_at(here, there, shift, extent);
        if other.cost < best.cost { other } else { best }
    })
}

/// A part that two riffs have in common without any difference.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Common {
    /// Stretches here.
    pub here: Range<usize>,
    /// Stretches there.
    pub there: Range<usize>,
}

impl Alignment {
    /// The parts in common, longest chains of steps that cost nothing, in order.
    pub fn common(&self) -> Vec<Common> {
        let mut parts: Vec<Common> = Vec::new();
        let mut open = false;
        for step in &self.steps {
            match step {
                Step::Matched { here, there, cost: 0 } => {
                    match parts.last_mut().filter(|_| open) {
                        Some(part) => (part.here.end, part.there.end) = (here.end, there.end),
                        None => parts.push(Common { here: here.clone(), there: there.clone() }),
                    }
                    open = true;
                }
                _ => open = false,
            }
        }
        parts
    }

    /// Stretches here, stretches there, and matched ones that differ: what is not in common.
    pub fn differing(&self) -> (usize, usize, usize) {
        self.steps.iter().fold((0, 0, 0), |(here, there, both), step| match step {
            Step::Here(_) => (here + 1, there, both),
            Step::There(_) => (here, there + 1, both),
            Step::Matched { cost: 0, .. } => (here, there, both),
            Step::Matched { .. } => (here, there, both + 1),
        })
    }
}
