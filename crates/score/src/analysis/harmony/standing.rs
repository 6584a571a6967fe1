//! Chords as they stand over a riff.

use crate::chord::Chord;
use crate::degree::DegreeSet;
use crate::pitch::PitchName;
use crate::riff::Riff;
use crate::time::Quarters;

/// A chord of the written line and how long it stands: to the next one, or the end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct StandingChord {
    /// The chord.
    pub chord: Chord,
    /// From here, in quarters from the first bar.
    pub from: Quarters,
    /// So long, in quarters.
    pub length: Quarters,
}

impl StandingChord {
    /// Where the next chord stands, or the riff ends.
    pub fn end(&self) -> Quarters {
        self.from + self.length
    }

    /// Its tones as slots above a tonic.
    pub fn slots_above(&self, tonic: PitchName) -> DegreeSet {
        chord_slots(self.chord, tonic)
    }
}

/// The tones of a chord as slots above a tonic, its bass note included.
pub fn chord_slots(chord: Chord, tonic: PitchName) -> DegreeSet {
    let root = (chord.root.pitch_class() + 12 - tonic.pitch_class()) % 12;
    // Seen from the tonic, which lies 12 - root semitones above the chord's root.
    let tones = chord.kind.set().seen_from(12 - root);
    match chord.bass {
        Some(bass) => tones.with((bass.pitch_class() + 12 - tonic.pitch_class()) % 12),
        None => tones,
    }
}

/// Every chord over the written line, in order.
pub fn standing(riff: &Riff) -> Vec<StandingChord> {
    let mut chords: Vec<StandingChord> = riff
        .bars()
        .iter()
        .enumerate()
        .flat_map(|(i, bar)| bar.chords.iter().map(move |&(at, chord)| (riff.bar_start(i) + at, chord)))
        .map(|(from, chord)| StandingChord { chord, from, length: Quarters::ZERO })
        .collect();
    let mut end = riff.length();
    for chord in chords.iter_mut().rev() {
        chord.length = end - chord.from;
        end = chord.from;
    }
    chords
}

/// The tones of several chords together, as slots above a tonic.
pub fn all_slots(chords: &[StandingChord], tonic: PitchName) -> DegreeSet {
    chords.iter().fold(DegreeSet::EMPTY, |set, standing| set.union(standing.slots_above(tonic)))
}
