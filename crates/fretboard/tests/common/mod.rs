//! Riffs for the tests of this crate.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used, reason = "each test file uses its own part")]

use riffkin_fretboard::fit::Fit;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note, Place};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::value::{NoteValue, Shape};

/// A riff of one bar after another in 4/4, every note or rest of one shape, the last bar filled with rests.
pub fn riff_of(shape: Shape, notes: &[Option<Note>]) -> Riff {
    let value = NoteValue::plain(shape);
    let per_bar = Meter::FOUR_FOUR.bar_length().whole_steps(value.length()) as usize;
    let mut events: Vec<Event> = notes.iter().map(|&note| Event { value, note }).collect();
    while events.is_empty() || !events.len().is_multiple_of(per_bar) {
        events.push(Event::rest(value));
    }
    let bars = events.chunks(per_bar).map(|e| Bar::new(Meter::FOUR_FOUR, e.to_vec())).collect();
    Riff::new(Header::default(), bars).unwrap()
}

/// Eighth notes by name; `-` is a rest.
pub fn eighths(text: &str) -> Riff {
    riff_of(Shape::Eighth, &notes(text))
}

/// Notes by name; `-` is a rest.
pub fn notes(text: &str) -> Vec<Option<Note>> {
    text.split_whitespace().map(|word| (word != "-").then(|| Note::plain(word.parse().unwrap()))).collect()
}

/// A plain note by its MIDI number.
pub fn midi_note(midi: u8) -> Note {
    Note::plain(Pitch::from_midi(Midi::new(midi).unwrap(), PitchName::simplest(midi % 12)).unwrap())
}

/// Eighth notes by MIDI number.
pub fn midi_eighths(numbers: &[u8]) -> Riff {
    riff_of(Shape::Eighth, &numbers.iter().map(|&m| Some(midi_note(m))).collect::<Vec<_>>())
}

/// `string:fret/finger` for every note.
pub fn written(fit: &Fit) -> String {
    let words: Vec<String> = fit
        .notes
        .iter()
        .map(|n| {
            let Place { string, fret } = n.place;
            format!("{string}:{fret}/{}", n.finger)
        })
        .collect();
    words.join(" ")
}

/// A small generator for repeatable test data (splitmix64, Steele, Lea and Flood, "Fast splittable
/// pseudorandom number generators", OOPSLA 2014).
pub struct Dice(pub u64);

impl Dice {
    /// The next number below `sides`.
    pub fn below(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % sides
    }

    /// True once in `n` times on average.
    pub fn one_in(&mut self, n: u64) -> bool {
        self.below(n) == 0
    }
}
