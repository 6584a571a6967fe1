//! Measures spelling from MIDI numbers on melodies whose names are known.
//!
//! ```text
//! cargo run --release -p riffkin-score --example measure_spelling -- FILE.jsonl...
//! ```
//!
//! The form of the files: `melodies`. Three ways are measured: ps13s1, which knows no key; by
//! degree in the true key; and by degree in the key our own model ranks first.

#![expect(clippy::disallowed_methods, reason = "an example reads its command line")]

mod melodies;

use std::collections::BTreeMap;

use melodies::read;
use riffkin_score::analysis::explain::likeliest_key;
use riffkin_score::analysis::heard::Heard;
use riffkin_score::analysis::spell::spell;
use riffkin_score::degree::Degree;
use riffkin_score::key::Key;
use riffkin_score::pitch::{Midi, Pitch, PitchName};

#[derive(Default)]
struct Score {
    notes: usize,
    right: usize,
    diatonic: usize,
    diatonic_right: usize,
    lines: usize,
    clean: usize,
}

fn main() {
    let mut scores: BTreeMap<&str, Score> = BTreeMap::new();
    let mut faults: BTreeMap<(String, String), usize> = BTreeMap::new();
    for melody in std::env::args().skip(1).flat_map(|path| read(&path)) {
        let midis: Vec<Midi> = melody.notes.iter().map(|n| n.pitch.midi()).collect();
        let truth: Vec<PitchName> = melody.notes.iter().map(|n| n.pitch.name()).collect();
        // The notes as an ear has them, without names.
        let nameless: Vec<Heard> =
            melody.notes.iter().map(|n| Heard { pitch: Pitch::simplest(n.pitch.midi()), ..*n }).collect();
        let key = Key::new(melody.tonic, melody.mode);
        let by_degree = spell(&midis, Some(key));
        for (name, truth) in by_degree.iter().map(|p| p.name()).zip(&truth).filter(|(f, t)| f != *t) {
            let degree = |n| Degree::between(melody.tonic, n).map_or("?".to_owned(), |d| d.to_string());
            let kind = format!("{} {}", melody.mode, degree(name));
            *faults.entry((kind, degree(*truth))).or_default() += 1;
        }
        for (way, found) in [
            ("ps13s1", spell(&midis, None)),
            ("true key", by_degree),
            ("ranked key", spell(&midis, likeliest_key(&nameless, &[]))),
        ] {
            judge(scores.entry(way).or_default(), &found, &truth, key);
        }
    }
    println!("{:12} {:>7} {:>8} {:>10} {:>7} {:>7}", "", "notes", "right %", "diatonic %", "lines", "clean");
    for (way, s) in &scores {
        let percent = |a: usize, b: usize| 100.0 * a as f64 / b.max(1) as f64;
        println!(
            "{way:12} {:7} {:8.2} {:10.2} {:7} {:7}",
            s.notes,
            percent(s.right, s.notes),
            percent(s.diatonic_right, s.diatonic),
            s.lines,
            s.clean
        );
    }
    let mut faults: Vec<_> = faults.into_iter().collect();
    faults.sort_by_key(|f| std::cmp::Reverse(f.1));
    println!("by degree in the true key, what was written where the source has another:");
    for ((ours, theirs), count) in faults.iter().take(20) {
        println!("  {ours} for {theirs}: {count}");
    }
}

fn judge(score: &mut Score, found: &[Pitch], truth: &[PitchName], key: Key) {
    let mut clean = true;
    for (pitch, name) in found.iter().zip(truth) {
        let right = pitch.name() == *name;
        let diatonic = key.mode.is_some_and(|m| m.degrees().iter().any(|d| d.of(key.tonic) == Some(*name)));
        score.notes += 1;
        score.right += usize::from(right);
        score.diatonic += usize::from(diatonic);
        score.diatonic_right += usize::from(diatonic && right);
        clean &= right;
    }
    score.lines += 1;
    score.clean += usize::from(clean);
}
