//! When two fits are one choice, and when they are two.
//!
//! A teacher who asks for another way to play a riff does not mean another finger, nor one note set aside, but
//! another position of the hand. On strings in fourths a pitch on another string lies five frets away, so the
//! strings tell where the hand is. The line is cut at bar lines into passages of at least [`PASSAGE`] notes that
//! have a choice (more than one string to lie on, and not dead); what is left at the end goes with the last one.
//!
//! **Two fits are the same choice unless, in some passage, at least half of those notes lie on other strings.**
//!
//! That two fits are the same choice does not follow from both being the same as a third, so choices are taken in
//! turn: the first is the easiest fit, and each next one the easiest of all fits that differ from every one
//! before it.

use super::Touch;
use super::spots::Spot;

/// The least number of notes with a choice that a passage has, unless the whole line has fewer.
pub(super) const PASSAGE: usize = 4;

/// Most notes of one passage that are ever counted.
const MOST: usize = 254;

/// The passages of a line.
pub(super) struct Passages {
    /// For each note its passage, when it has a choice.
    of: Vec<Option<usize>>,
    /// For each note, true when it ends its passage.
    ends: Vec<bool>,
    /// For each passage how many notes must lie elsewhere.
    need: Vec<u8>,
}

/// How far a way differs from an earlier choice: notes elsewhere in the passage so far, or [`Away::DONE`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Away(pub(super) u8);

impl Away {
    /// It is another choice, whatever follows.
    pub(super) const DONE: Self = Self(u8::MAX);
}

impl Passages {
    /// Cuts a line; `bars` says in which bar each note stands.
    pub(super) fn of(spots: &[Vec<Spot>], bars: &[usize]) -> Self {
        let mut of = vec![None; spots.len()];
        let mut sizes: Vec<usize> = Vec::new();
        let mut last_bar = None;
        for (i, spots) in spots.iter().enumerate() {
            if !has_choice(spots) {
                continue;
            }
            let bar = bars.get(i).copied();
            let full = sizes.last().is_none_or(|&n| n >= PASSAGE);
            if full && last_bar != bar {
                sizes.push(0);
            }
            last_bar = bar;
            of[i] = Some(sizes.len().saturating_sub(1));
            if let Some(size) = sizes.last_mut() {
                *size += 1;
            }
        }
        if sizes.len() > 1 && sizes.last().is_some_and(|&n| n < PASSAGE) {
            let left_over = sizes.pop().unwrap_or(0);
            if let Some(size) = sizes.last_mut() {
                *size += left_over;
            }
            for passage in of.iter_mut().flatten() {
                *passage = (*passage).min(sizes.len() - 1);
            }
        }
        let mut ends = vec![false; spots.len()];
        let mut seen = None;
        for (i, &passage) in of.iter().enumerate().rev() {
            if passage.is_some() && passage != seen {
                ends[i] = true;
                seen = passage;
            }
        }
        let need = sizes.iter().map(|n| n.div_ceil(2).min(MOST) as u8).collect();
        Self { of, ends, need }
    }

    /// True when no note has a choice, so that there is only one.
    pub(super) fn is_empty(&self) -> bool {
        self.need.is_empty()
    }

    /// How far a way differs from an earlier one after note `i`, which lies on other strings or not.
    pub(super) fn after(&self, i: usize, away: Away, elsewhere: bool) -> Away {
        let Some(passage) = self.of[i] else { return away };
        if away == Away::DONE {
            return away;
        }
        let count = away.0.saturating_add(u8::from(elsewhere)).min(MOST as u8);
        if count >= self.need[passage] {
            Away::DONE
        } else if self.ends[i] {
            Away(0)
        } else {
            Away(count)
        }
    }

    /// The first note of the first passage in which two ways are two choices, if any.
    pub(super) fn first_difference(&self, a: &[Spot], b: &[Spot]) -> Option<usize> {
        let mut away = Away(0);
        let mut start = 0;
        let mut passage = None;
        for (i, (a, b)) in a.iter().zip(b).enumerate() {
            if self.of[i].is_some() && self.of[i] != passage {
                (start, passage) = (i, self.of[i]);
            }
            away = self.after(i, away, a.place.string != b.place.string);
            if away == Away::DONE {
                return Some(start);
            }
        }
        None
    }
}

fn has_choice(spots: &[Spot]) -> bool {
    let Some(first) = spots.first() else { return false };
    first.touch != Touch::Dead && spots.iter().any(|s| s.place.string != first.place.string)
}
