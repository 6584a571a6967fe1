//! The model behind the rankings of tonics and modes.
//!
//! Every tonic of the twelve together with every mode of the seven is a candidate. A candidate's *evidence* is
//! a sum of weighted cues; the probability of a candidate is `exp(evidence)` over the sum for all (a
//! conditional logit, McFadden 1974), a tonic's the sum over its modes. Being a sum, it can be told in words:
//! [`crate::analysis::tonic`] does.
//!
//! | cue | value for a tonic |
//! | --- | --- |
//! | [`Cue`] | 1 or 0, or a share from 0 to 1, as each says |
//! | profile | the root of the share of sounding time of each of the twelve slots above it, times [`reliance`] of the number of notes; its weight depends on the slot, on whether the mode holds it, and on whether the mode has a minor third |
//! | prior | one weight for each mode |
//!
//! The weights are learned from tunes and bass lines whose key is known ([`Weights::LEARNED`] says how), so
//! they say what makes a listener call a note 1 in melodies of those kinds. Chord symbols are not among them:
//! that cue is set by hand.

use crate::analysis::heard::{Heard, Strength, slot};
use crate::degree::DegreeSet;
use crate::key::Mode;

/// What speaks for a note being the tonic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cue {
    /// It is the first note: 1.
    First,
    /// It is the first note on a bar line: 1.
    FirstDownbeat,
    /// It is the last note: 1.
    Last,
    /// It is the last note, and held (at least half as long again as the middle one of all lengths): 1.
    LastHeld,
    /// It is the last note, and the one before it is its fifth: 1.
    LastFromFifth,
    /// It is the lowest note: 1.
    Lowest,
    /// It sounds longest in all: 1.
    Longest,
    /// Its fifth is heard: 1.
    FifthHeard,
    /// Its share of the beginnings of a repeated figure.
    FigureStart,
}

impl Cue {
    /// Every cue.
    pub const ALL: [Self; 9] = [
        Self::First,
        Self::FirstDownbeat,
        Self::Last,
        Self::LastHeld,
        Self::LastFromFifth,
        Self::Lowest,
        Self::Longest,
        Self::FifthHeard,
        Self::FigureStart,
    ];
}

/// Number of cues.
pub const CUES: usize = Cue::ALL.len();

/// The modes of the candidates, in the order of [`Weights::mode`].
pub const MODES: [Mode; 7] = Mode::DIATONIC;

/// What was observed in a riff, for all twelve tonics.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observed {
    /// The cues of each pitch class, in the order of [`Cue::ALL`].
    pub cues: [[f64; CUES]; 12],
    /// The square root of each pitch class's share of the sounding time: a note heard little still tells.
    pub profile: [f64; 12],
    /// How many notes there are.
    pub notes: usize,
}

/// How far a profile of so many notes can be relied on, 0 to 1: the fourth root of `n / 64`, 1 from 64 notes on.
/// Set by hand after comparing accuracy with three forms while other settings changed too; not held out.
pub fn reliance(notes: usize) -> f64 {
    (notes.min(64) as f64 / 64.0).powf(0.25)
}

impl Observed {
    /// Looks at the notes, in time order.
    pub fn of(notes: &[Heard]) -> Self {
        let mut seen = Self { cues: [[0.0; CUES]; 12], profile: [0.0; 12], notes: notes.len() };
        let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return seen };
        let mut set = |pitch_class: u8, cue: Cue, value: f64| {
            seen.cues[usize::from(pitch_class % 12)][cue as usize] = value;
        };
        set(first.pitch_class(), Cue::First, 1.0);
        let strongest = notes.iter().map(|n| n.strength).max();
        if let Some(note) = notes.iter().find(|n| Some(n.strength) == strongest) {
            set(note.pitch_class(), Cue::FirstDownbeat, 1.0);
        }
        set(last.pitch_class(), Cue::Last, 1.0);
        let mut lengths: Vec<_> = notes.iter().map(|n| n.length).collect();
        lengths.sort_unstable();
        if last.length * 2 >= lengths[lengths.len() / 2] * 3 {
            set(last.pitch_class(), Cue::LastHeld, 1.0);
        }
        if notes.len() >= 2 && notes[notes.len() - 2].slot_above(last.pitch_class()) == 7 {
            set(last.pitch_class(), Cue::LastFromFifth, 1.0);
        }
        if let Some(low) = notes.iter().min_by_key(|n| n.pitch.midi()) {
            set(low.pitch_class(), Cue::Lowest, 1.0);
        }
        for (pitch_class, share) in figure_starts(notes) {
            set(pitch_class, Cue::FigureStart, share);
        }
        let total: f64 = notes.iter().map(|n| n.length.to_f64()).sum();
        for pitch_class in 0..12u8 {
            let own = || notes.iter().filter(move |n| n.pitch_class() == pitch_class);
            let fifth = notes.iter().any(|n| n.slot_above(pitch_class) == 7);
            let cues = &mut seen.cues[usize::from(pitch_class)];
            cues[Cue::FifthHeard as usize] = f64::from(u8::from(fifth));
            if total > 0.0 {
                let sounding: f64 = own().map(|n| n.length.to_f64()).sum();
                seen.profile[usize::from(pitch_class)] = (sounding / total).sqrt();
            }
        }
        let most = seen.profile.iter().copied().fold(0.0, f64::max);
        for (cues, share) in seen.cues.iter_mut().zip(seen.profile) {
            cues[Cue::Longest as usize] = f64::from(u8::from(share > 0.0 && share >= most));
        }
        seen
    }
}

fn ratio(part: usize, whole: usize) -> f64 {
    if whole == 0 { 0.0 } else { part as f64 / whole as f64 }
}

/// Where a figure of whole bars comes round again: the pitch classes its repetitions begin on, each with its
/// share. The figure is the shortest number of bars after which most bars equal (in rhythm and pitch class)
/// the bar that many before; empty when none comes round.
fn figure_starts(notes: &[Heard]) -> Vec<(u8, f64)> {
    let mut bars: Vec<&[Heard]> = notes.chunk_by(|a, b| a.bar == b.bar).collect();
    // A pickup belongs to no figure.
    if bars.first().is_some_and(|b| b[0].strength != Strength::Bar) {
        bars.remove(0);
    }
    let same = |a: &[Heard], b: &[Heard]| {
        a.len() == b.len()
            && a.iter().zip(b).all(|(x, y)| {
                x.pitch_class() == y.pitch_class()
                    && x.length == y.length
                    && x.onset - a[0].onset == y.onset - b[0].onset
            })
    };
    let period = (1..=bars.len() / 2).take(8).find(|&p| {
        let equal = (p..bars.len()).filter(|&i| same(bars[i], bars[i - p])).count();
        2 * equal > bars.len() - p
    });
    let Some(period) = period else { return Vec::new() };
    let mut counts = [0usize; 12];
    for bar in bars.iter().step_by(period) {
        counts[usize::from(bar[0].pitch_class())] += 1;
    }
    let all = counts.iter().sum();
    (0..12u8).map(|pc| (pc, ratio(counts[usize::from(pc)], all))).filter(|&(_, share)| share > 0.0).collect()
}

/// The weights of the model, in units of the logarithm of odds.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    /// One for each of [`Cue::ALL`].
    pub cues: [f64; CUES],
    /// One for each slot, by kind of mode: `[major third, held by the mode]`, `[major third, foreign to it]`,
    /// then the same with a minor third.
    pub profile: [[f64; 12]; 4],
    /// One for each of [`MODES`].
    pub mode: [f64; 7],
}

/// Which row of [`Weights::profile`] a slot uses in a scale.
pub fn profile_row(scale: DegreeSet, slot: u8) -> usize {
    let minor = scale.contains(3) && !scale.contains(4);
    2 * usize::from(minor) + usize::from(!scale.contains(slot))
}

impl Weights {
    /// Evidence from the cues alone for each pitch class as tonic.
    pub fn of_cues(&self, seen: &Observed, tonic: u8) -> f64 {
        seen.cues[usize::from(tonic % 12)].iter().zip(self.cues).map(|(value, weight)| value * weight).sum()
    }

    /// Evidence from the profile for a scale on a tonic.
    pub fn of_profile(&self, seen: &Observed, tonic: u8, scale: DegreeSet) -> f64 {
        let sum: f64 = (0..12u8)
            .map(|pc| {
                let slot = slot(pc, tonic);
                seen.profile[usize::from(pc)] * self.profile[profile_row(scale, slot)][usize::from(slot)]
            })
            .sum();
        sum * reliance(seen.notes)
    }

    /// Evidence for every candidate: `[tonic][mode of MODES]`.
    pub fn evidence(&self, seen: &Observed) -> [[f64; 7]; 12] {
        let mut all = [[0.0; 7]; 12];
        let scales = MODES.map(Mode::set);
        for (tonic, row) in (0..12u8).zip(&mut all) {
            let cues = self.of_cues(seen, tonic);
            for ((value, scale), prior) in row.iter_mut().zip(scales).zip(self.mode) {
                *value = cues + prior + self.of_profile(seen, tonic, scale);
            }
        }
        all
    }
}

/// Probabilities from evidence: `exp(e)` over the sum of all, safe for large values.
pub fn probabilities(evidence: &[[f64; 7]; 12]) -> [[f64; 7]; 12] {
    let most = evidence.iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
    let raised = evidence.map(|row| row.map(|e| (e - most).exp()));
    let sum: f64 = raised.iter().flatten().sum();
    raised.map(|row| row.map(|p| p / sum))
}
