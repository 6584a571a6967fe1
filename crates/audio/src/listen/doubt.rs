//! Why a heard note is in doubt, and what else it may be.

use super::circle;
use super::{HeardNote, Manner, SecondLook};

/// Share of likelihood from which another pitch is worth naming.
const RIVAL: f64 = 0.1;
/// Probability below which a struck note has no clear attack.
const CLEAR: f64 = 0.5;
/// A note that follows one of the same pitch within this many seconds may be the same note.
const AGAIN_S: f64 = 0.05;
/// Probability of an attack below which a note struck again may be the note before it going on.
const STRUCK_AGAIN: f64 = 0.8;
/// Shorter notes may be a noise of the hand, in seconds.
const SHORT_S: f64 = 0.09;
/// Cents from a pitch at which it lies between two.
const BETWEEN: f64 = 30.0;
/// Milliseconds from its place at which a note was played off it.
const OFF_MS: f64 = 60.0;

/// One thing that speaks against a note.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Why {
    /// Another pitch explains the sound too.
    OtherPitch {
        /// The other one, a sounding MIDI number.
        midi: u8,
        /// Its share of likelihood, 0 to 1.
        share: f64,
    },
    /// It has the pitch of the note before it and hardly an attack: the two may be one.
    MaybeOne,
    /// It has no clear attack: the note before may have gone on, bent or rung.
    NoAttack,
    /// It was taken for joined to the note before it; an attack may have been missed.
    MaybeStruck,
    /// It is an attack without a pitch; it may be a noise, or a muted note of this pitch.
    NoPitch {
        /// The likeliest pitch.
        midi: u8,
    },
    /// It lies between two pitches.
    Between {
        /// The other one, a sounding MIDI number.
        midi: u8,
        /// How far it lies from its own, in cents.
        cents: f64,
    },
    /// It is so short that it may be a noise of the hand.
    Short {
        /// Its length in milliseconds.
        ms: f64,
    },
    /// It was played far from where it is written.
    OffPlace {
        /// How much later, in milliseconds; early is below zero.
        late_ms: f64,
    },
}

/// What speaks against a note, the gravest first; `late_ms` is how far from its written place it was played.
#[must_use]
pub fn doubts(
    note: &HeardNote,
    before: Option<&HeardNote>,
    look: &SecondLook,
    late_ms: Option<f64>,
) -> Vec<Why> {
    let mut why = Vec::new();
    let rival = look.pitches.iter().find(|(midi, share)| *midi != note.midi && *share >= RIVAL);
    match note.manner {
        Manner::Dead => {
            let midi = look.pitches.first().map_or(note.midi, |p| p.0);
            why.push(Why::NoPitch { midi });
        }
        _ => why.extend(rival.map(|&(midi, share)| Why::OtherPitch { midi, share })),
    }
    let again = before.is_some_and(|b| b.midi == note.midi && note.onset_s - b.offset_s < AGAIN_S);
    match note.manner {
        Manner::Struck if again && look.struck < STRUCK_AGAIN => why.push(Why::MaybeOne),
        Manner::Struck if look.struck < CLEAR => why.push(Why::NoAttack),
        Manner::Joined => why.push(Why::MaybeStruck),
        _ => {}
    }
    if note.manner != Manner::Dead {
        if note.cents.abs() > BETWEEN {
            let midi =
                if note.cents > 0.0 { note.midi.saturating_add(1) } else { note.midi.saturating_sub(1) };
            why.push(Why::Between { midi, cents: note.cents });
        }
        let length_s = note.offset_s - note.onset_s;
        if length_s < SHORT_S {
            why.push(Why::Short { ms: length_s * 1e3 });
        }
    }
    if let Some(late_ms) = late_ms.filter(|ms| ms.abs() > OFF_MS) {
        why.push(Why::OffPlace { late_ms });
    }
    why
}

/// Notes from which an agreement can be told from chance, which is about `1 / √n` for n pitches anywhere.
const ENOUGH_NOTES: usize = 12;

/// How far the notes agree on one tuning, whichever it is: 1 when all lie equally far from equal temperament, near 0 when
/// their pitches lie anywhere, as those of a speaking voice do. It is the length of the mean of their directions on a
/// circle of one semitone (Mardia and Jupp 2000, *Directional Statistics*, 2.3). `None` for fewer than twelve notes with a
/// pitch.
///
/// Measured: 0.72 to 1.00 on basses alone and in a mix, 0.04 to 0.13 on synthesised speech.
#[must_use]
pub fn agreement(notes: &[HeardNote]) -> Option<f64> {
    let mean = circle::mean(notes);
    (mean.notes >= ENOUGH_NOTES).then_some(mean.length)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(onset_s: f64, offset_s: f64, midi: u8, manner: Manner) -> HeardNote {
        HeardNote { onset_s, offset_s, midi, confidence: 0.4, cents: 0.0, manner, level_db: 0.0 }
    }

    fn look(pitches: &[(u8, f64)], struck: f64) -> SecondLook {
        SecondLook { pitches: pitches.to_vec(), struck }
    }

    #[test]
    fn what_the_look_found_is_named() {
        let e1 = note(1.0, 1.5, 28, Manner::Struck);
        let found = doubts(&e1, None, &look(&[(28, 0.7), (40, 0.3)], 0.9), None);
        assert_eq!(found, [Why::OtherPitch { midi: 40, share: 0.3 }]);
        let before = note(0.5, 0.99, 28, Manner::Struck);
        assert_eq!(doubts(&e1, Some(&before), &look(&[(28, 1.0)], 0.6), None), [Why::MaybeOne]);
        let other = note(0.5, 0.99, 33, Manner::Struck);
        assert_eq!(doubts(&e1, Some(&other), &look(&[(28, 1.0)], 0.3), None), [Why::NoAttack]);
        assert_eq!(doubts(&e1, Some(&other), &look(&[(28, 1.0)], 0.9), None), []);
    }

    #[test]
    fn notes_agree_on_a_tuning_or_on_none() {
        let tuned = |cents: &dyn Fn(i32) -> f64| {
            let notes: Vec<HeardNote> = (0..20)
                .map(|i| HeardNote { cents: cents(i), ..note(0.0, 1.0, 40, Manner::Struck) })
                .collect();
            agreement(&notes).unwrap()
        };
        assert!(tuned(&|_| 30.0) > 0.999);
        assert!(
            tuned(&|i| f64::from(i % 2) * 98.0 - 49.0) > 0.99,
            "49 flat and 49 sharp are near each other"
        );
        assert!(tuned(&|i| 5.0 * f64::from(i) - 50.0) < 1e-9, "spread evenly over the semitone");
        assert_eq!(agreement(&[note(0.0, 1.0, 40, Manner::Struck); 11]), None);
    }

    #[test]
    fn manner_length_tuning_and_place_are_named() {
        let dead = note(1.0, 1.05, 28, Manner::Dead);
        assert_eq!(doubts(&dead, None, &look(&[(30, 0.5)], 0.9), None), [Why::NoPitch { midi: 30 }]);
        let joined = HeardNote { cents: -40.0, ..note(1.0, 1.05, 28, Manner::Joined) };
        let found = doubts(&joined, None, &look(&[(28, 1.0)], 0.1), Some(-75.0));
        let [Why::MaybeStruck, Why::Between { midi: 27, .. }, Why::Short { ms }, Why::OffPlace { .. }] =
            found[..]
        else {
            panic!("{found:?}")
        };
        assert!((ms - 50.0).abs() < 1e-6);
    }
}
