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

/// The shortest of several tries, in milliseconds: what other work on the machine takes is left out.
fn shortest(tries: usize, mut work: impl FnMut()) -> f64 {
    let mut best = f64::INFINITY;
    for _ in 0..tries {
        let start = Instant::now();
        work();
        best = best.min(start.elapsed().as_secs_f64() * 1e3);
    }
    best
}

fn main() {
    println!("one core, the shortest of several tries; ms\n");
    println!("{:34} {:>6} {:>8} {:>8} {:>14}", "", "notes", "one fit", "five", "us per note");
    let hands = [
        ("closed", Hand::default().with_open_strings(OpenStrings::Refused)),
        ("open sparing", Hand::default()),
    ];
    for (name, hand) in hands {
        for neck in ["four", "six"].map(Neck::named).into_iter().flatten() {
            for notes in [125, 250, 500, 1000, 2000, 4000, 8000] {
                let riff = line(&neck, notes, false).expect("the rule stays on the neck");
                let tries = (40_000 / notes).clamp(8, 100);
                let time = |ways| {
                    shortest(tries, || {
                        let fits = best(&riff, &neck, &hand, ways).expect("the line lies on the neck");
                        assert!(!fits.is_empty());
                    })
                };
                let (one, five) = (time(1), time(5));
                let what = format!("{name}, {} strings", neck.string_count());
                let each = one * 1e3 / notes as f64;
                println!("{what:34} {notes:>6} {one:>8.2} {five:>8.2} {each:>14.2}");
            }
        }
    }
    let neck = Neck::named("six").expect("a named neck");
    let riff = line(&neck, 1000, true).expect("the rule stays on the neck");
    let dead = shortest(20, || {
        best(&riff, &neck, &Hand::default(), 1).expect("dead notes lie anywhere");
    });
    println!("{:34} {:>6} {dead:>8.2}", "dead notes, 6 strings", 1000);
}
