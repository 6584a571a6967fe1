//! The notes that count: what an analysis listens to.

use crate::meter::Meter;
use crate::note::Mark;
use crate::pitch::{Pitch, PitchName};
use crate::riff::Riff;
use crate::time::Quarters;

/// How strong the place of a note is in its bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Strength {
    /// Between the beats.
    Off,
    /// On a counted beat, or where a group begins.
    Beat,
    /// On the bar line.
    Bar,
}

impl Strength {
    /// The strength of a place this far into a bar of the meter. A pickup's places are counted back from the
    /// bar line that ends it: give their distance from the bar line a full bar would have had.
    pub fn at(meter: Meter, offset: Quarters) -> Self {
        if offset == Quarters::ZERO {
            return Self::Bar;
        }
        let on_beat = offset.rest_of_steps(meter.beat_length()) == Quarters::ZERO;
        let mut start = Quarters::ZERO;
        let on_group = meter.groups().into_iter().any(|length| {
            start += length;
            start == offset
        });
        // In 7/8 as 2+2+3 the groups are what is counted, not the single eighths.
        let grouped = meter.groups().iter().any(|&length| length != meter.beat_length());
        if on_group || (on_beat && !grouped) { Self::Beat } else { Self::Off }
    }
}

/// A sounding note as the analysis sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Heard {
    /// Which note of [`Riff::line`] it is.
    pub line: usize,
    /// Index of its bar.
    pub bar: usize,
    /// Its sounding pitch.
    pub pitch: Pitch,
    /// Start, in quarters from the first bar.
    pub onset: Quarters,
    /// Length with its ties, in quarters.
    pub length: Quarters,
    /// Its place in the bar.
    pub strength: Strength,
    /// True when it is stressed (accent, slap or pop).
    pub accent: bool,
    /// True for a ghost note, which is barely heard.
    pub ghost: bool,
}

impl Heard {
    /// Its pitch class, C = 0.
    pub fn pitch_class(&self) -> u8 {
        self.pitch.name().pitch_class()
    }

    /// Semitones above a pitch class, 0 to 11.
    pub fn slot_above(&self, tonic: u8) -> u8 {
        slot(self.pitch_class(), tonic)
    }

    /// How much it counts: its length in quarters, half as much again on the bar line, a quarter more on a
    /// beat or when stressed, half for a ghost note. Set by hand.
    pub fn weight(&self) -> f64 {
        let place = match self.strength {
            Strength::Bar => 1.5,
            Strength::Beat => 1.25,
            Strength::Off => 1.0,
        };
        let stress = if self.accent { 1.25 } else { 1.0 };
        let ghost = if self.ghost { 0.5 } else { 1.0 };
        self.length.to_f64().max(0.0) * place * stress * ghost
    }
}

/// Semitones from one pitch class up to another, 0 to 11.
pub(crate) fn slot(pitch_class: u8, tonic: u8) -> u8 {
    (pitch_class % 12 + 12 - tonic % 12) % 12
}

/// The sounding notes of the written line: dead notes, which have no pitch, are left out.
pub fn heard(riff: &Riff) -> Vec<Heard> {
    riff.line()
        .into_iter()
        .enumerate()
        .filter(|(_, note)| !note.is_dead())
        .map(|(line, note)| {
            let offset = note.onset - riff.bar_start(note.bar);
            let strength = riff.bars().get(note.bar).map_or(Strength::Off, |bar| {
                let missing = bar.meter.bar_length() - bar.length();
                let lead = if note.bar == 0 && bar.short { missing } else { Quarters::ZERO };
                Strength::at(bar.meter, offset + lead)
            });
            let marks = note.note.marks;
            Heard {
                line,
                bar: note.bar,
                pitch: note.note.pitch,
                onset: note.onset,
                length: note.length,
                strength,
                accent: marks.has(Mark::Accent) || marks.has(Mark::Slap) || marks.has(Mark::Pop),
                ghost: marks.has(Mark::Ghost),
            }
        })
        .collect()
}

/// How the riff itself spells a pitch class: the name it uses most, the earliest of equals. `None` when the
/// pitch class is not heard.
pub fn spelled_in(notes: &[Heard], pitch_class: u8) -> Option<PitchName> {
    let mut names: Vec<(PitchName, usize)> = Vec::new();
    for name in notes.iter().map(|n| n.pitch.name()).filter(|n| n.pitch_class() == pitch_class % 12) {
        match names.iter_mut().find(|(known, _)| *known == name) {
            Some((_, count)) => *count += 1,
            None => names.push((name, 1)),
        }
    }
    let most = names.iter().map(|n| n.1).max()?;
    names.into_iter().find(|n| n.1 == most).map(|n| n.0)
}
