//! Where notes lie within their semitones, taken together.
//!
//! Cents are directions on a circle of one semitone, so that 49 sharp and 49 flat are near each other; their mean is that
//! of directions (Mardia and Jupp 2000, *Directional Statistics*, 2.2 and 2.3).

use super::{HeardNote, Manner};
use std::f64::consts::TAU;

/// Cents in a semitone, the whole circle.
const SEMITONE: f64 = 100.0;

/// The mean direction of notes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Mean {
    /// How many notes have a pitch; the others do not count.
    pub(super) notes: usize,
    /// Where they lie together, in cents from equal temperament, ±50.
    pub(super) cents: f64,
    /// How far they agree: length of the mean, 0 to 1; 0 without notes.
    pub(super) length: f64,
}

/// The mean direction of the notes that have a pitch.
pub(super) fn mean(notes: &[HeardNote]) -> Mean {
    let (mut count, mut x, mut y) = (0, 0.0, 0.0);
    for note in notes.iter().filter(|n| n.manner != Manner::Dead) {
        let angle = TAU * note.cents / SEMITONE;
        x += angle.cos();
        y += angle.sin();
        count += 1;
    }
    Mean { notes: count, cents: SEMITONE * y.atan2(x) / TAU, length: x.hypot(y) / count.max(1) as f64 }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn notes(cents: &[f64], manner: Manner) -> Vec<HeardNote> {
        let note = |cents: &f64| HeardNote {
            onset_s: 0.0,
            offset_s: 1.0,
            midi: 40,
            confidence: 0.9,
            cents: *cents,
            manner,
            level_db: 0.0,
        };
        cents.iter().map(note).collect()
    }

    #[test]
    fn sharp_and_flat_meet_behind_the_circle() {
        let edge = mean(&notes(&[49.0, -49.0], Manner::Struck));
        assert!((edge.cents.abs() - 50.0).abs() < 1e-9 && edge.length > 0.99, "{edge:?}");
        let quarter = mean(&notes(&[0.0, 25.0], Manner::Joined));
        assert!((quarter.cents - 12.5).abs() < 1e-9, "{quarter:?}");
        assert!((quarter.length - 0.5f64.sqrt()).abs() < 1e-9, "{quarter:?}");
        let against = mean(&notes(&[0.0, 50.0], Manner::Struck));
        assert!((against.notes, against.length < 1e-9) == (2, true), "{against:?}");
        assert_eq!(mean(&notes(&[10.0], Manner::Dead)), Mean { notes: 0, cents: 0.0, length: 0.0 });
    }
}
