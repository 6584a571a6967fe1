//! Moving a riff to another key, spelled by interval so that there and back is the identity.

use crate::Warning;
use crate::chord::Chord;
use crate::interval::Interval;
use crate::key::Key;
use crate::note::Place;
use crate::pitch::{Pitch, PitchName};
use crate::riff::Riff;

/// Why a riff cannot be moved.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TransposeError {
    /// Outside MIDI 0 to 127.
    #[error("{pitch} at {at} moved by {semitones} semitones leaves the range of MIDI 0 to 127")]
    OutOfRange {
        /// The note.
        pitch: Pitch,
        /// Where.
        at: crate::riff::BarBeat,
        /// How far it was to move.
        semitones: i32,
    },
    /// The moved bars no longer make a riff.
    #[error(transparent)]
    Riff(#[from] crate::riff::RiffError),
}

/// The nearest way from one tonic to another: at most a fourth or a tritone either way. A tritone goes the
/// way that is an augmented fourth by letters, so that the way back is the same way reversed.
pub fn nearest(from: PitchName, to: PitchName) -> Interval {
    let up = from.interval_to(to);
    let semitones = up.semitones().rem_euclid(12);
    let goes_down = match semitones {
        0..=5 => false,
        6 => up.steps() > 3,
        _ => true,
    };
    // Letters may cross the octave (B♯ to C), so the whole octaves are set from the semitones.
    let octaves = (semitones - up.semitones()) / 12 - i32::from(goes_down);
    up.with_octaves(octaves)
}

/// The tonic of the twelve on a pitch class with the fewest sharps or flats for this key's mode.
pub fn tonic_for(key: Key, pitch_class: u8) -> PitchName {
    Key { tonic: PitchName::simplest(pitch_class), ..key }.simplest().tonic
}

/// Moves every pitch, chord and the key by an interval.
///
/// Notes that would need more than a double sharp or flat are respelled, and said so. Places on the neck
/// move with the notes when every one can (no open string, no fret below 1 or above 24); otherwise all are
/// dropped, and said so.
///
/// # Errors
/// [`TransposeError`] when a note leaves the range.
pub fn transpose(riff: &Riff, by: Interval) -> Result<(Riff, Vec<Warning>), TransposeError> {
    let mut warnings = Vec::new();
    let line = riff.line();
    let semitones = by.semitones();
    let places_move = semitones == 0
        || line
            .iter()
            .filter_map(|n| n.note.place)
            .all(|p| p.fret > 0 && (1..=24).contains(&(i32::from(p.fret) + semitones)));
    if !places_move {
        warnings.push(Warning::whole(
            "the strings and frets written with the riff cannot move as one shape (open string, nut or last fret); they were dropped",
        ));
    }
    let name = |n: PitchName| n.plus(by);
    let (mut header, mut bars) = riff.clone().into_parts();
    if let Some(key) = header.key {
        header.key = Some(match name(key.tonic) {
            Some(tonic) => Key { tonic, ..key },
            None => {
                let pc = (i32::from(key.tonic.pitch_class()) + semitones).rem_euclid(12) as u8;
                Key { tonic: tonic_for(key, pc), ..key }
            }
        });
    }
    for (i, bar) in bars.iter_mut().enumerate() {
        let mut at = crate::time::Quarters::ZERO;
        for event in &mut bar.events {
            let here = riff.bar_beat(i, at);
            at += event.value.length();
            let Some(note) = &mut event.note else { continue };
            let out = TransposeError::OutOfRange { pitch: note.pitch, at: here, semitones };
            note.pitch = match note.pitch.plus(by) {
                Some(moved) => moved,
                None => {
                    let midi = i32::from(note.pitch.midi().number()) + semitones;
                    let Some(midi) = u8::try_from(midi).ok().and_then(crate::pitch::Midi::new) else {
                        return Err(out);
                    };
                    let plain = PitchName::simplest(midi.number() % 12);
                    warnings.push(Warning::at(here, format!("{} respelled as {plain}", note.pitch)));
                    match Pitch::from_midi(midi, plain) {
                        Some(pitch) => pitch,
                        None => return Err(out),
                    }
                }
            };
            note.place = note.place.filter(|_| places_move).and_then(|p| {
                u8::try_from(i32::from(p.fret) + semitones).ok().map(|fret| Place { fret, ..p })
            });
            if !places_move {
                note.finger = None;
            }
        }
        for (offset, chord) in &mut bar.chords {
            let moved = |n: PitchName| {
                name(n).unwrap_or_else(|| {
                    PitchName::simplest((i32::from(n.pitch_class()) + semitones).rem_euclid(12) as u8)
                })
            };
            if name(chord.root).is_none() {
                warnings.push(Warning::at(riff.bar_beat(i, *offset), format!("chord {chord} respelled")));
            }
            *chord = Chord { root: moved(chord.root), bass: chord.bass.map(moved), ..*chord };
        }
    }
    Ok((Riff::new(header, bars)?, warnings))
}
