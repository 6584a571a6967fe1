//! Riffs for tests, written as short as can be.
#![expect(clippy::unwrap_used, reason = "a test that cannot build its riff should stop")]
#![allow(dead_code, reason = "each test file uses its own part")]

use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::pitch::{Pitch, PitchName};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};

/// A name such as `Bb`.
pub(crate) fn name(text: &str) -> PitchName {
    text.parse().unwrap()
}

/// A set of degrees such as `1 b3 5`.
pub(crate) fn set(text: &str) -> DegreeSet {
    text.split_whitespace().map(|d| d.parse::<Degree>().unwrap()).collect()
}

/// A riff in 4/4 from bars of `pitch:eighths` words; `-` is a rest, `x` before a pitch makes a dead note, and a
/// word such as `Dm7@4` sets a chord four eighths into its bar. `G1:3` is a dotted quarter.
pub(crate) fn riff(key: Option<&str>, bars: &[&str]) -> Riff {
    let bars = bars
        .iter()
        .map(|text| {
            let mut chords = Vec::new();
            let mut events = Vec::new();
            for word in text.split_whitespace() {
                if let Some((chord, at)) = word.split_once('@') {
                    chords.push((Quarters::new(at.parse().unwrap(), 2).unwrap(), chord.parse().unwrap()));
                    continue;
                }
                let (pitch, eighths) = word.split_once(':').unwrap_or((word, "1"));
                let length = Quarters::new(eighths.parse().unwrap(), 2).unwrap();
                let value = NoteValue::of_length(length).unwrap();
                events.push(match pitch.strip_prefix('x') {
                    _ if pitch == "-" => Event::rest(value),
                    Some(pitch) => {
                        let mut note = Note::plain(pitch.parse().unwrap());
                        note.marks = note.marks.with(riffkin_score::note::Mark::Dead);
                        Event::note(value, note)
                    }
                    None => Event::note(value, Note::plain(pitch.parse().unwrap())),
                });
            }
            let mut bar = Bar::new(Meter::FOUR_FOUR, events);
            bar.chords = chords;
            bar.short = bar.length() < Meter::FOUR_FOUR.bar_length();
            bar
        })
        .collect();
    let header = Header { key: key.map(|k| k.parse::<Key>().unwrap()), ..Header::default() };
    Riff::new(header, bars).unwrap()
}

/// A riff of quarter notes, four to the bar, the last bar filled up with rests.
pub(crate) fn quarters(key: Option<&str>, pitches: &[Pitch]) -> Riff {
    let quarter = NoteValue::plain(Shape::Quarter);
    let bars = pitches
        .chunks(4)
        .map(|chunk| {
            let mut events: Vec<Event> =
                chunk.iter().map(|&p| Event::note(quarter, Note::plain(p))).collect();
            events.resize(4, Event::rest(quarter));
            Bar::new(Meter::FOUR_FOUR, events)
        })
        .collect();
    let header = Header { key: key.map(|k| k.parse::<Key>().unwrap()), ..Header::default() };
    Riff::new(header, bars).unwrap()
}

/// SplitMix64 (Steele, Lea, Flood 2014): a seeded stream for test cases.
pub(crate) struct Seeded(pub(crate) u64);

impl Seeded {
    /// A number from 0 up to, not with, `n`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n as u64) as usize
    }
}
