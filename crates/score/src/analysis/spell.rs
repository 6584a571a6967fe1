//! Spelling: which of its names a note bears.
//!
//! With a key, by degree: a degree of the mode takes the mode's own letter, and a chromatic one a letter by
//! what it does, after the rules of [`degree_in_line`]. Without a key, by [`crate::analysis::ps13`].
//! The rules in a teacher's words, with examples: `docs/spelling.md`.

use crate::analysis::heard::slot;
use crate::analysis::ps13::{self, named};
use crate::degree::Degree;
use crate::key::{Key, Mode};
use crate::pitch::{Midi, Pitch};
use crate::riff::Riff;

/// The degree of a slot in a line in this key, given the slots of the nearest different notes before and after.
///
/// Degrees of the mode keep the mode's name. The others, by function (common practice, no source):
///
/// | slot | name |
/// | --- | --- |
/// | 6 | `#4` when it rises to 5, `b5` when it falls to 4; else `#4` in modes with a major third and seventh, `b5` (the blue note) in all others. The blues scale's own is treated so too |
/// | 1 | `#1` when it rises to 2, `b2` when it falls to 1; else `#1` in modes with a major third, `b2` in all others |
/// | 3 | `b3`; `#2` only on the way from 2 to 3 in major and Lydian |
/// | 8 | `b6`; `#5` when it rises to 6, unless the mode has `b6` |
/// | others | `2 3 4 5 6 b7 7` |
pub fn degree_in_line(key: Key, slot: u8, before: Option<u8>, after: Option<u8>) -> Degree {
    let slot = slot % 12;
    let mode = key.mode;
    let set = mode.map(Mode::set).unwrap_or_default();
    let written = |number: u8, alter: i8| Degree::new(number, alter).unwrap_or(Degree::usual(slot));
    let blue = slot == 6 && mode == Some(Mode::MinorBlues);
    if set.contains(slot) && !blue {
        return key.degree_of_slot(slot);
    }
    let major_third = set.contains(4);
    match slot {
        6 => match after {
            Some(7) => written(4, 1),
            Some(5) => written(5, -1),
            _ if major_third && set.contains(11) => written(4, 1),
            _ => written(5, -1),
        },
        1 => match after {
            Some(2) => written(1, 1),
            Some(0) => written(2, -1),
            _ if major_third => written(1, 1),
            _ => written(2, -1),
        },
        3 if matches!(mode, Some(Mode::Major | Mode::Lydian)) && (before, after) == (Some(2), Some(4)) => {
            written(2, 1)
        }
        8 if after == Some(9) => written(5, 1),
        _ => Degree::usual(slot),
    }
}

/// Names for a line of MIDI numbers in time order: by degree when the key is known, else by ps13s1.
///
/// A note that by its degree would need more than a double sharp or flat takes its simplest name.
pub fn spell(midis: &[Midi], key: Option<Key>) -> Vec<Pitch> {
    let Some(key) = key else { return ps13::spell(midis) };
    let tonic = key.tonic.pitch_class();
    let slots: Vec<u8> = midis.iter().map(|m| slot(m.number() % 12, tonic)).collect();
    // The slot of the next different note, from the end forward.
    let mut after: Vec<Option<u8>> = vec![None; slots.len()];
    for i in (0..slots.len().saturating_sub(1)).rev() {
        after[i] = if slots[i + 1] == slots[i] { after[i + 1] } else { Some(slots[i + 1]) };
    }
    let mut before = None;
    let mut pitches = Vec::with_capacity(slots.len());
    for (i, (&midi, &own)) in midis.iter().zip(&slots).enumerate() {
        if i > 0 && slots[i - 1] != own {
            before = Some(slots[i - 1]);
        }
        let degree = degree_in_line(key, own, before, after[i]);
        pitches.push(named(midi, degree.of(key.tonic)));
    }
    pitches
}

/// The same riff with every note head named anew: in a key, or by ps13s1 without one. Sound, chords and header
/// stay as they are.
pub fn respell(riff: &Riff, key: Option<Key>) -> Riff {
    let line = riff.line();
    let midis: Vec<Midi> = line.iter().map(|n| n.note.pitch.midi()).collect();
    let pitches = spell(&midis, key);
    let (header, mut bars) = riff.clone().into_parts();
    let mut next = pitches.into_iter();
    let mut current: Option<Pitch> = None;
    let mut tied = false;
    for note in bars.iter_mut().flat_map(|b| &mut b.events).filter_map(|e| e.note.as_mut()) {
        if !tied {
            current = next.next();
        }
        if let Some(pitch) = current.filter(|p| p.midi() == note.pitch.midi()) {
            note.pitch = pitch;
        }
        tied = note.tied;
    }
    Riff::new(header, bars).unwrap_or_else(|_| riff.clone())
}
