//! What a note does over its chord: chord tone, passing, neighbour, approach, anticipation.

use crate::analysis::harmony::StandingChord;
use crate::chord::Chord;
use crate::pitch::Pitch;
use crate::time::Quarters;

/// What a note does over the chord that stands when it begins.
///
/// The kinds and their names are those of any harmony primer (common practice, no source); "approach" is what
/// bass players call a note that leads by step into a chord tone and is not come to by step itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Role {
    /// A tone of the chord, or its written bass note.
    ChordTone,
    /// Comes early: a tone of the next chord, repeated or held into it.
    Anticipation,
    /// Kept from the chord before, of which it was a tone, and left by step.
    Suspension,
    /// Between two chord tones, by steps in one direction.
    Passing,
    /// A step away from a note that comes back.
    Neighbour,
    /// A step away from the chord tone that follows, in itself come to by leap or out of silence.
    Approach,
    /// None of these: it stands for itself, as a colour of the scale or from outside it.
    Free,
}

impl Role {
    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::ChordTone => "chord tone",
            Self::Anticipation => "anticipation",
            Self::Suspension => "suspension",
            Self::Passing => "passing",
            Self::Neighbour => "neighbour",
            Self::Approach => "approach",
            Self::Free => "free",
        }
    }
}

/// A sounding note with the chord over it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Over<'a> {
    pub(super) pitch: Pitch,
    pub(super) onset: Quarters,
    pub(super) length: Quarters,
    pub(super) chord: &'a StandingChord,
    /// Index of the chord.
    pub(super) index: usize,
}

impl Over<'_> {
    fn midi(&self) -> i32 {
        i32::from(self.pitch.midi().number())
    }

    fn is_tone(&self) -> bool {
        is_tone(self.pitch, self.chord.chord)
    }
}

/// True for the tones of a chord, its written bass note included.
pub fn is_tone(pitch: Pitch, chord: Chord) -> bool {
    let pitch_class = pitch.name().pitch_class();
    let above = (pitch_class + 12 - chord.root.pitch_class()) % 12;
    chord.kind.set().contains(above) || chord.bass.is_some_and(|b| b.pitch_class() == pitch_class)
}

/// A step: one or two semitones, however spelled.
fn is_step(semitones: i32) -> bool {
    matches!(semitones.abs(), 1 | 2)
}

/// A step of a passing line: also the augmented second that harmonic minor has. Semitones, signed; `None` for
/// anything else.
fn step(from: Pitch, to: Pitch) -> Option<i32> {
    let way = from.interval_to(to);
    let augmented = way.semitones().abs() == 3 && way.steps().abs() == 1;
    (is_step(way.semitones()) || augmented).then(|| way.semitones())
}

/// The role of each note of a line that all stands under chords. A rest of a beat or more between two notes
/// parts them: `together` says whether a note and the next belong together.
///
/// A note struck again under the same chord counts as one with the first.
pub(super) fn roles(line: &[Over<'_>], chords: &[StandingChord], together: &[bool]) -> Vec<Role> {
    let joined = |k: usize| together.get(k).copied().unwrap_or(false);
    let mut once: Vec<Over<'_>> = Vec::with_capacity(line.len());
    let mut parted: Vec<bool> = Vec::with_capacity(line.len());
    let mut of_note: Vec<usize> = Vec::with_capacity(line.len());
    for (i, note) in line.iter().enumerate() {
        let linked = i.checked_sub(1).is_some_and(joined);
        match once.last_mut() {
            Some(last) if linked && last.index == note.index && last.midi() == note.midi() => {
                last.length = note.onset + note.length - last.onset;
            }
            _ => {
                if i > 0 {
                    parted.push(linked);
                }
                once.push(*note);
            }
        }
        of_note.push(once.len() - 1);
    }
    let roles: Vec<Role> = (0..once.len()).map(|i| role(&once, chords, &parted, i)).collect();
    of_note.into_iter().filter_map(|i| roles.get(i).copied()).collect()
}

fn role(line: &[Over<'_>], chords: &[StandingChord], together: &[bool], i: usize) -> Role {
    let note = &line[i];
    if note.is_tone() {
        return Role::ChordTone;
    }
    let joined = |k: usize| together.get(k).copied().unwrap_or(false);
    let before = i.checked_sub(1).filter(|&k| joined(k)).map(|k| &line[k]);
    let after = line.get(i + 1).filter(|_| joined(i));
    let next_chord = chords.get(note.index + 1);
    if let Some(next) = next_chord.filter(|next| is_tone(note.pitch, next.chord)) {
        let held = note.onset + note.length > next.from;
        let repeated = after.is_some_and(|n| n.index == note.index + 1 && same_class(n.pitch, note.pitch));
        if held || repeated {
            return Role::Anticipation;
        }
    }
    let leaves_by_step = after.is_some_and(|n| is_step(n.midi() - note.midi()));
    let kept = before.is_some_and(|b| b.index < note.index && b.is_tone() && b.midi() == note.midi());
    if kept && leaves_by_step {
        return Role::Suspension;
    }
    if runs_between_tones(line, together, i) {
        return Role::Passing;
    }
    let (Some(after), step_out) = (after, leaves_by_step) else { return Role::Free };
    if before.is_some_and(|b| b.midi() == after.midi()) && step_out {
        return Role::Neighbour;
    }
    if step_out && after.is_tone() { Role::Approach } else { Role::Free }
}

fn same_class(a: Pitch, b: Pitch) -> bool {
    a.name().pitch_class() == b.name().pitch_class()
}

/// True when steps in one direction lead from a chord tone through the note to a chord tone.
fn runs_between_tones(line: &[Over<'_>], together: &[bool], i: usize) -> bool {
    let way = |k: usize| -> Option<i32> {
        let by = step(line.get(k)?.pitch, line.get(k + 1)?.pitch)?;
        together.get(k).copied().unwrap_or(false).then(|| by.signum())
    };
    let Some(direction) = i.checked_sub(1).and_then(way) else { return false };
    if way(i) != Some(direction) {
        return false;
    }
    let reaches = |mut k: usize, forward: bool| {
        while !line[k].is_tone() {
            let edge = if forward { Some(k) } else { k.checked_sub(1) };
            match edge.and_then(|e| way(e).map(|w| (e, w))) {
                Some((e, w)) if w == direction => k = if forward { e + 1 } else { e },
                _ => return false,
            }
        }
        true
    };
    reaches(i - 1, false) && reaches(i + 1, true)
}
