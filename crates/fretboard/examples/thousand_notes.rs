//! How long the fit of a long line takes: `cargo run --release -p riffkin-fretboard --example thousand_notes`.
#![allow(clippy::disallowed_types, reason = "a measurement needs a clock")]
#![allow(clippy::expect_used, reason = "an example may stop")]

use std::time::Instant;

use riffkin_fretboard::fit::best;
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Mark, Note};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::value::{NoteValue, Shape};

/// Eighth notes wandering over the neck by a fixed rule, every ninth a rest; all dead when asked.
fn line(neck: &Neck, notes: usize, dead: bool) -> Option<Riff> {
    let value = NoteValue::plain(Shape::Eighth);
    let (low, high) = neck.range();
    let span = usize::from(high - low) + 1;
    let mut at = 0;
    let mut events: Vec<Event> = Vec::new();
    let mut written = 0;
    while written < notes || !events.len().is_multiple_of(8) {
        at = (at + written * 7 + 5) % span;
        let midi = Midi::new(low + u8::try_from(at).ok()?)?;
        let mut note = Note::plain(Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12))?);
        if dead {
            note.marks = note.marks.with(Mark::Dead);
        }
        let rest = events.len() % 9 == 8 || written >= notes;
        written += usize::from(!rest);
        events.push(Event { value, note: (!rest).then_some(note) });
    }
    let bars = events.chunks(8).map(|e| Bar::new(Meter::FOUR_FOUR, e.to_vec())).collect();
    Riff::new(Header::default(), bars).ok()
}

fn main() {
    for (name, hand) in [
        ("open strings refused", Hand::default().with_open_strings(OpenStrings::Refused)),
        ("open strings sparing", Hand::default()),
    ] {
        for neck in ["four", "six"].map(Neck::named).into_iter().flatten() {
            for (notes, ways) in [(1000, 1), (1000, 5), (2000, 1), (4000, 1), (8000, 1)] {
                let riff = line(&neck, notes, false).expect("the rule stays on the neck");
                let start = Instant::now();
                let fits = best(&riff, &neck, &hand, ways).expect("the line lies on the neck");
                let ms = start.elapsed().as_secs_f64() * 1e3;
                println!("{name}, {}: {notes} notes, {} ways: {ms:.2} ms", neck.name(), fits.len());
            }
        }
    }
    let neck = Neck::named("six").expect("a named neck");
    let riff = line(&neck, 1000, true).expect("the rule stays on the neck");
    let start = Instant::now();
    let fits = best(&riff, &neck, &Hand::default(), 1).map_or(0, |f| f.len());
    println!("1000 dead notes on six strings, {fits} way: {:.2} ms", start.elapsed().as_secs_f64() * 1e3);
}
