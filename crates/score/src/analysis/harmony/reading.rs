//! The line read chord by chord.

use crate::analysis::explain::{Explanation, degree_over};
use crate::analysis::harmony::chord_scale::{ImpliedScale, implied_in, key_modes};
use crate::analysis::harmony::roles::{Over, Role, is_tone, roles};
use crate::analysis::harmony::{StandingChord, standing};
use crate::chord::Chord;
use crate::degree::{Degree, DegreeSet};
use crate::key::Mode;
use crate::pitch::PitchName;
use crate::riff::{BarBeat, LineNote, Riff};
use crate::time::Quarters;

/// One chord and what happens over it.
#[derive(Clone, Debug, PartialEq)]
pub struct ChordReading {
    /// The chord.
    pub chord: Chord,
    /// Its numeral against the tonic; `None` without a tonic, or when its spelling is too remote.
    pub numeral: Option<String>,
    /// Where it begins.
    pub from: BarBeat,
    /// Where it begins, in quarters from the first bar.
    pub onset: Quarters,
    /// How long it stands, in quarters.
    pub length: Quarters,
    /// The scales that it implies in the modes that the key may be in; one when the mode is known.
    pub scales: Vec<ImpliedScale>,
    /// A note that began under the chord before and sounds on.
    pub held: Option<NoteOver>,
    /// The notes that begin over it; dead notes, which have no pitch, are left out.
    pub notes: Vec<NoteOver>,
}

/// A note against the chord over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteOver {
    /// Which note of [`Riff::line`].
    pub line: usize,
    /// What it is against the chord's root.
    pub degree: Degree,
    /// What it does there.
    pub role: Role,
    /// What it does in words: `third`, `passing`, or the step of the scale for a note that stands for itself.
    pub member: Member,
}

/// What a note is to a chord, without counting degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Member {
    /// The chord's root, third, fifth …, by its number.
    Tone(u8),
    /// The note after the stroke, as in D/F#, where it is no tone of the chord itself.
    Bass,
    /// In the scale that the chord implies, but not in the chord.
    Scale,
    /// Outside that scale too.
    Outside,
}

impl NoteOver {
    /// `third of Gm7`, `passing`, `neighbour, outside the scale`.
    pub fn words(&self, chord: Chord) -> String {
        let outside = if self.member == Member::Outside { ", outside the scale" } else { "" };
        match (self.member, self.role) {
            (Member::Tone(number), _) => format!("{} of {}", tone_name(number), chord.print()),
            (Member::Bass, _) => format!("bass note of {}", chord.print()),
            (_, Role::Free) if outside.is_empty() => "note of the scale".to_owned(),
            (_, Role::Free) => "outside the scale".to_owned(),
            (_, role) => format!("{}{outside}", role.name()),
        }
    }
}

/// `root`, `third`, `fifth` …
pub fn tone_name(number: u8) -> &'static str {
    match number {
        1 => "root",
        2 => "second",
        3 => "third",
        4 => "fourth",
        5 => "fifth",
        6 => "sixth",
        _ => "seventh",
    }
}

/// The line under its chords.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChordsReading {
    /// Each chord in order; empty when the riff has none.
    pub chords: Vec<ChordReading>,
    /// How many sounding notes begin before the first chord, and so stand under none.
    pub before: usize,
}

/// Reads a riff chord by chord. `found` is its [`crate::analysis::explain::explain`].
pub fn read_chords(riff: &Riff, found: &Explanation) -> ChordsReading {
    let standing = standing(riff);
    let modes = key_modes(found, &standing);
    let tonic = found.tonic.map(|t| t.0);
    let key_scale = match (tonic, found.verdict().mode()) {
        (Some(tonic), Some(mode)) => mode.set().seen_from((12 - tonic.pitch_class()) % 12),
        _ => DegreeSet::EMPTY,
    };
    let all = riff.line();
    let sounding: Vec<(usize, &LineNote)> = all.iter().enumerate().filter(|(_, n)| !n.is_dead()).collect();
    let mut line = Vec::with_capacity(sounding.len());
    let mut numbers = Vec::with_capacity(sounding.len());
    let mut index = 0;
    for &(number, note) in &sounding {
        while standing.get(index + 1).is_some_and(|next| next.from <= note.onset) {
            index += 1;
        }
        let Some(chord) = standing.get(index).filter(|c| c.from <= note.onset) else { continue };
        line.push(Over { pitch: note.note.pitch, onset: note.onset, length: note.length, chord, index });
        numbers.push(number);
    }
    let together: Vec<bool> = line
        .windows(2)
        .zip(&numbers)
        .map(|(pair, &number)| {
            let bar = all.get(number).and_then(|n| riff.bars().get(n.bar));
            let beat = bar.map_or(Quarters::QUARTER, |b| b.meter.beat_length());
            pair[1].onset - (pair[0].onset + pair[0].length) < beat
        })
        .collect();
    let roles = roles(&line, &standing, &together);
    let mut chords: Vec<ChordReading> = standing
        .iter()
        .map(|c| ChordReading {
            chord: c.chord,
            numeral: tonic.and_then(|t| c.chord.numeral(t)),
            from: riff.place_of(c.from),
            onset: c.from,
            length: c.length,
            scales: tonic.map(|t| scales_over(c.chord, t, found, &modes)).unwrap_or_default(),
            held: None,
            notes: Vec::new(),
        })
        .collect();
    let mut held: Vec<(usize, NoteOver)> = Vec::new();
    for ((note, &number), role) in line.iter().zip(&numbers).zip(roles) {
        let Some(reading) = chords.get_mut(note.index) else { continue };
        let over = note_over(note, number, role, reading, key_scale);
        reading.notes.push(over);
        let end = note.onset + note.length;
        let mut later = note.index + 1;
        while let Some(chord) = standing.get(later).filter(|c: &&StandingChord| c.from < end) {
            let role = if is_tone(note.pitch, chord.chord) { Role::ChordTone } else { Role::Suspension };
            if let Some(reading) = chords.get(later) {
                held.push((later, note_over(note, number, role, reading, key_scale)));
            }
            later += 1;
        }
    }
    for (later, over) in held {
        if let Some(reading) = chords.get_mut(later) {
            reading.held = Some(over);
        }
    }
    ChordsReading { before: sounding.len() - line.len(), chords }
}

/// What the chord implies; a pentatonic or blues that the riff is in comes first over the tonic's own chord.
fn scales_over(chord: Chord, tonic: PitchName, found: &Explanation, modes: &[Mode]) -> Vec<ImpliedScale> {
    let own = found.verdict().mode().filter(|m| {
        let home = chord.root.pitch_class() == tonic.pitch_class();
        home && m.degrees().len() < 7 && chord.kind.set().is_within(m.set())
    });
    let own = own.map(|mode| ImpliedScale {
        key_modes: vec![mode],
        degrees: mode.degrees(),
        named: Some(mode),
        same_notes: None,
        altered: Vec::new(),
    });
    own.into_iter().chain(implied_in(chord, tonic, modes)).collect()
}

/// `key_scale` are the pitch classes of the key's own scale, where it is given or proved.
fn note_over(
    note: &Over<'_>,
    line: usize,
    role: Role,
    reading: &ChordReading,
    key_scale: DegreeSet,
) -> NoteOver {
    let chord = reading.chord;
    let degree = degree_over(note.pitch.name(), chord);
    let tone = chord.kind.degrees().into_iter().find(|d| d.slot() == degree.slot());
    let in_scale = reading.scales.iter().any(|s| s.set().contains(degree.slot()))
        || key_scale.contains(note.pitch.name().pitch_class());
    let member = match tone {
        Some(tone) => Member::Tone(tone.number()),
        None if is_tone(note.pitch, chord) => Member::Bass,
        None if in_scale || reading.scales.is_empty() => Member::Scale,
        None => Member::Outside,
    };
    NoteOver { line, degree, role, member }
}
