//! Writes what an outside library checks and is timed against: every scale as we spell it from MIDI numbers, and
//! riffs with the time that explaining them takes.
//!
//! ```text
//! cargo run --release -p riffkin-score --example outside_keys -- keys.json
//! python tests/outside/keys.py keys.json
//! ```

#![expect(
    clippy::disallowed_methods,
    reason = "an example reads its command line, writes a file and the clock"
)]
#![expect(clippy::disallowed_types, reason = "it measures, so it reads the clock")]
#![expect(clippy::expect_used, reason = "a tool for the desk stops where it cannot go on")]

use std::hint::black_box;
use std::time::Instant;

use riffkin_score::analysis::explain::explain;
use riffkin_score::analysis::spell::spell;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{Midi, PitchName};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::Riff;
use serde_json::{Value, json};

/// Riffs of two, four and eight bars.
const RIFFS: u64 = 60;
/// How often each is explained; the middle time counts.
const TIMES: usize = 101;

/// A scale up an octave from MIDI numbers alone, for every practical key.
fn scales() -> Vec<Value> {
    let names = (-15..=19).filter_map(PitchName::from_line_of_fifths);
    let keys = names.flat_map(|tonic| Mode::DIATONIC.map(|mode| Key::new(tonic, mode)));
    keys.filter(|key| key.is_practical())
        .map(|key| {
            let mode = key.mode.unwrap_or(Mode::Major);
            let midis: Vec<Midi> = mode
                .set()
                .slots()
                .filter_map(|slot| Midi::new(36 + key.tonic.pitch_class() + slot))
                .collect();
            let notes: Vec<String> = spell(&midis, Some(key)).iter().map(|p| p.name().to_string()).collect();
            json!({"tonic": key.tonic.to_string(), "mode": mode.name(), "notes": notes,
                   "signature": key.signature()})
        })
        .collect()
}

fn timed(riff: &Riff) -> f64 {
    let mut times: Vec<f64> = (0..TIMES)
        .map(|_| {
            let start = Instant::now();
            black_box(explain(black_box(riff), None));
            start.elapsed().as_secs_f64() * 1e6
        })
        .collect();
    times.sort_by(f64::total_cmp);
    times[TIMES / 2]
}

fn main() {
    let path = std::env::args().nth(1).expect("the name of the file to write");
    let riffs: Vec<Value> = (0..RIFFS)
        .map(|seed| {
            let riff = riff_of(seed, Recipe::plain([2, 4, 8][seed as usize % 3]));
            let notes: Vec<Value> = riff
                .line()
                .iter()
                .filter(|n| !n.is_dead())
                .map(|n| json!([n.note.pitch.midi().number(), n.onset.to_f64(), n.length.to_f64()]))
                .collect();
            json!({"notes": notes, "microseconds": timed(&riff)})
        })
        .collect();
    let text = json!({"scales": scales(), "riffs": riffs}).to_string();
    std::fs::write(&path, text).expect("a file that can be written");
}
