//! The model behind the rankings of tonics and modes.
//!
//! Every tonic of the twelve together with every mode of the seven is a candidate. A candidate's *evidence* is
//! a sum of weighted observations; the probability of a candidate is `exp(evidence)` over the sum for all (a
//! conditional logit, McFadden 1974), a tonic's the sum over its modes. Being a sum, it can be told in words:
//! [`crate::analysis::tonic`] does.
//!
//! | observation ([`crate::analysis::observed`]) | its weight depends on |
//! | --- | --- |
//! | what stands at a telling place, such as the end ([`Cue`]) | the place, and the slot above the tonic of what stands there |
//! | what time each pitch class takes, and whether it is heard at all | the slot, whether the mode holds it, and whether the mode has a minor third |
//! | steps onto a beat | the slots of the two notes |
//! | none | the mode |
//!
//! The weights are learned from tunes and bass lines whose key is known ([`Weights::LEARNED`] says how), so
//! they say what makes a listener call a note 1 in melodies of those kinds. Repeated figures ([`FIGURE_START`]) and
//! chord symbols, of which tunes have none to learn from, are set by hand.

use crate::analysis::heard::slot;
pub use crate::analysis::observed::{CUES, Cue, Observed};
use crate::degree::DegreeSet;
use crate::key::Mode;

/// The modes of the candidates, in the order of [`Weights::mode`].
pub const MODES: [Mode; 7] = Mode::DIATONIC;

/// Weight of a repeated figure that begins on 1; it says nothing of other slots. By hand: tunes are hardly ever
/// loops of a few bars, and riffs are.
pub const FIGURE_START: f64 = 1.5;

/// The weights of the model, in units of the logarithm of odds. Slots are semitones above the tonic.
#[derive(Clone, Debug, PartialEq)]
pub struct Weights {
    /// For each of [`Cue::ALL`], one for each slot.
    pub cues: [[f64; 12]; CUES],
    /// For shares of time, one for each slot, by kind of mode: `[major third, held by the mode]`, `[major third,
    /// foreign to it]`, then the same with a minor third.
    pub profile: [[f64; 12]; 4],
    /// The same for being heard at all.
    pub heard: [[f64; 12]; 4],
    /// For steps onto a beat: `[from][to]`, in slots.
    pub moves: [[f64; 12]; 12],
    /// One for each of [`MODES`].
    pub mode: [f64; 7],
}

/// Which row of [`Weights::profile`] a slot uses in a scale.
pub fn profile_row(scale: DegreeSet, slot: u8) -> usize {
    let minor = scale.contains(3) && !scale.contains(4);
    2 * usize::from(minor) + usize::from(!scale.contains(slot))
}

/// The slots above a tonic of the pitch classes in order from C: the pitch class itself in both.
fn slots(tonic: u8) -> impl Iterator<Item = (usize, u8)> {
    (0..12u8).map(move |pc| (usize::from(pc), slot(pc, tonic)))
}

impl Weights {
    /// Evidence from one cue for a pitch class as tonic.
    pub fn of_cue(&self, seen: &Observed, tonic: u8, cue: Cue) -> f64 {
        let (values, weights) = (&seen.cues[cue as usize], &self.cues[cue as usize]);
        slots(tonic).map(|(pc, slot)| values[pc] * weights[usize::from(slot)]).sum()
    }

    /// Evidence from the steps onto beats.
    pub fn of_moves(&self, seen: &Observed, tonic: u8) -> f64 {
        let tonic = usize::from(tonic % 12);
        let mut sum = 0.0;
        for (from, row) in seen.moves.iter().enumerate() {
            for (to, value) in row.iter().enumerate().filter(|(_, value)| **value > 0.0) {
                sum += value * self.moves[(from + 12 - tonic) % 12][(to + 12 - tonic) % 12];
            }
        }
        sum
    }

    /// Evidence from what is heard, and how long, for a scale on a tonic.
    pub fn of_profile(&self, seen: &Observed, tonic: u8, scale: DegreeSet) -> f64 {
        slots(tonic)
            .map(|(pc, slot)| {
                let (row, slot) = (profile_row(scale, slot), usize::from(slot));
                seen.profile[pc] * self.profile[row][slot] + seen.heard[pc] * self.heard[row][slot]
            })
            .sum()
    }

    /// Evidence for every candidate: `[tonic][mode of MODES]`.
    pub fn evidence(&self, seen: &Observed) -> [[f64; 7]; 12] {
        let mut all = [[0.0; 7]; 12];
        let scales = MODES.map(Mode::set);
        for (tonic, row) in (0..12u8).zip(&mut all) {
            let cues: f64 = Cue::ALL.into_iter().map(|cue| self.of_cue(seen, tonic, cue)).sum();
            let places = cues + self.of_moves(seen, tonic);
            for ((value, scale), prior) in row.iter_mut().zip(scales).zip(self.mode) {
                *value = places + prior + self.of_profile(seen, tonic, scale);
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
