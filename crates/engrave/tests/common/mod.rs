//! A tiny notation for test riffs, so that each test reads as music. Not the program's riff notation.

#![allow(
    dead_code,
    unreachable_pub,
    clippy::panic,
    clippy::expect_used,
    reason = "each test file uses its own part of this"
)]

use riffkin_engrave::music::Fingered;
use riffkin_fretboard::neck::Neck;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Approach, Event, Mark, Note, Place};
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::value::{NoteValue, Shape, Tuplet};

/// Words separated by blanks, bars by `|`. A word is a value letter (`w h q e s t` from whole to thirty-second), dots,
/// `3` for a triplet, `:`, then `r` for a rest or a sounding pitch, then marks: `~` tied, `^` accent, `!` staccato,
/// `x` dead, `g` ghost, `H` hammer-on, `P` pull-off, `/` slide, `\` plucked slide, `v` vibrato, `m` palm mute, `l` let
/// ring, `S` slap, `O` pop, `*` harmonic, `2` bent a semitone.
pub fn bars(meter: &str, text: &str) -> Vec<Bar> {
    let meter: Meter = meter.parse().expect("a meter");
    text.split('|').map(|bar| Bar::new(meter, bar.split_whitespace().map(event).collect())).collect()
}

fn event(word: &str) -> Event {
    let (value, rest) = word.split_once(':').expect("value:note");
    let shape = match value.chars().next() {
        Some('w') => Shape::Whole,
        Some('h') => Shape::Half,
        Some('q') => Shape::Quarter,
        Some('e') => Shape::Eighth,
        Some('s') => Shape::Sixteenth,
        Some('t') => Shape::ThirtySecond,
        other => panic!("no value {other:?}"),
    };
    let dots = value.matches('.').count() as u8;
    let tuplet = value.contains('3').then_some(Tuplet::TRIPLET);
    let value = NoteValue::new(shape, dots, tuplet).expect("exact");
    if rest == "r" {
        return Event::rest(value);
    }
    let cut = rest.find(|c: char| c.is_ascii_digit()).expect("octave") + 1;
    let (pitch, marks) = rest.split_at(cut);
    let pitch: Pitch = pitch.parse().expect("a pitch");
    let mut note = Note::plain(pitch);
    for c in marks.chars() {
        let mark = match c {
            '~' => {
                note.tied = true;
                continue;
            }
            'H' | 'P' | '/' | '\\' => {
                note.approach = match c {
                    'H' => Approach::Hammer,
                    'P' => Approach::Pull,
                    '/' => Approach::Slide,
                    _ => Approach::SlidePlucked,
                };
                continue;
            }
            '2' => {
                note.bend = 2;
                continue;
            }
            '^' => Mark::Accent,
            '!' => Mark::Staccato,
            'x' => Mark::Dead,
            'g' => Mark::Ghost,
            'v' => Mark::Vibrato,
            'm' => Mark::PalmMute,
            'l' => Mark::LetRing,
            'S' => Mark::Slap,
            'O' => Mark::Pop,
            '*' => Mark::Harmonic,
            other => panic!("no mark {other}"),
        };
        note.marks = note.marks.with(mark);
    }
    Event::note(value, note)
}

/// A riff with a title and a key.
pub fn riff(title: &str, key: &str, bars: Vec<Bar>) -> Riff {
    let key: Option<Key> = (!key.is_empty()).then(|| key.parse().expect("a key"));
    Riff::new(Header { title: title.into(), key, ..Header::default() }, bars).expect("a riff")
}

/// The lowest fret for every note: no fingering, only places that sound the pitch.
pub fn places(riff: &Riff, neck: &Neck) -> Vec<Option<Fingered>> {
    riff.line()
        .iter()
        .map(|n| {
            let at = neck.places(n.note.pitch.midi()).into_iter().min_by_key(|p| (p.fret, p.string))?;
            Some(Fingered { place: Place { string: at.string, fret: at.fret }, finger: Some(at.fret.min(4)) })
        })
        .collect()
}
