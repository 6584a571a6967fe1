//! Where 1 is in riffs, which are no tunes: loops, vamps, endings off 1, pickups. The lines are by degree, as a
//! teacher would say them; the ground basses are public domain (lines from memory), the rest is invented for the
//! tests. That each has the 1 it says is common practice of bass players, no source.

#![expect(clippy::unwrap_used, reason = "a test that cannot build its own case should stop")]

mod common;

use common::{Seeded, name};
use riffkin_score::analysis::explain::{Explanation, explain};
use riffkin_score::analysis::verdict::Verdict;
use riffkin_score::degree::Degree;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{Pitch, PitchName};
use riffkin_score::riff::Riff;

/// A line of `degree:eighths` words on a tonic; `+` and `-` after a degree are octaves, and words with `@` are
/// chords by numeral root: `1m7@0`.
fn on(tonic: &str, bars: &[&str]) -> Riff {
    let key: PitchName = name(tonic);
    let bars: Vec<String> = bars
        .iter()
        .map(|bar| {
            let words = bar.split_whitespace().map(|word| match word.split_once('@') {
                Some((chord, at)) => {
                    let split = chord.find(['m', 'x']).unwrap_or(chord.len());
                    let root: Degree = chord[..split].parse().unwrap();
                    let kind = chord[split..].trim_start_matches('x');
                    format!("{}{kind}@{at}", root.of(key).unwrap())
                }
                None => {
                    let (degree, eighths) = word.split_once(':').unwrap_or((word, "1"));
                    if degree == "r" {
                        return format!("-:{eighths}");
                    }
                    let plain = degree.trim_end_matches(['+', '-']);
                    let octaves: i32 =
                        degree[plain.len()..].chars().map(|c| if c == '+' { 1 } else { -1 }).sum();
                    let degree: Degree = plain.parse().unwrap();
                    let midi = 28
                        + i32::from((key.pitch_class() + 8) % 12)
                        + i32::from(degree.slot())
                        + 12 * octaves;
                    let name = degree.of(key).unwrap();
                    let pitch = (0..=9)
                        .filter_map(|octave| format!("{name}{octave}").parse::<Pitch>().ok())
                        .find(|p| i32::from(p.midi().number()) == midi);
                    format!("{}:{eighths}", pitch.unwrap())
                }
            });
            words.collect::<Vec<_>>().join(" ")
        })
        .collect();
    common::riff(None, &bars.iter().map(String::as_str).collect::<Vec<_>>())
}

fn found(tonic: &str, bars: &[&str]) -> Explanation {
    explain(&on(tonic, bars), None)
}

/// The tonic ranks first, on every tonic alike.
fn holds(what: &str, bars: &[&str]) {
    for tonic in ["E", "G", "Bb", "C#"] {
        let found = found(tonic, bars);
        let first = &found.tonics[0];
        assert_eq!(first.tonic.pitch_class(), name(tonic).pitch_class(), "{what}: {:?}", found.words());
    }
}

#[test]
fn a_loop_whose_end_leads_back() {
    holds("b7 leads back", &["1:3 1 b3 4 5 b7-", "1:3 1 b3 4 5 b7-"]);
    holds("2 leads back", &["1:2 3 5 6:2 5 2", "1:2 3 5 6:2 5 2"]);
    holds("4 and #4 lead to 5, 5 leads back", &["1:2 1 b3:2 4 #4 5", "1:2 1 b3:2 4 #4 5"]);
    holds("one bar, once", &["1:2 r b3 4 r 5:2"]);
    holds("four against the bar", &["1 1 1+ 1 b7 1 5 b7-", "1 1 1+ 1 b7 1 5 4", "1 1 1+ 1 b7 1 5 b7-"]);
}

#[test]
fn a_pickup_on_five() {
    holds("5 below", &["5-", "1:2 b3 4 5:2 4 b3", "1:2 b7- 1 r:3 5-", "1:2 b3 4 5:2 4 b3", "1:8"]);
    holds("5 6 7", &["5- 6- 7-", "1:2 3:2 5:2 3:2", "4:2 2:2 1:4"]);
}

#[test]
fn roots_and_fifths() {
    holds("octaves", &["1 1+ 1 1+ 5 1+ 5 1+", "1 1 1+ 1 1+:2 5:2"]);
    holds("1 and 5", &["1:4 5-:4", "1:4 5-:4"]);
    holds("one note", &["1 1 1 1 1 1 1 1"]);
}

/// Passamezzo antico, romanesca, folia and chaconne: grounds of the sixteenth and seventeenth century by their roots.
#[test]
fn grounds() {
    holds("passamezzo antico", &["1:8", "b7-:8", "1:8", "5:8", "b3:8", "b7-:8", "1:4 5:4", "1:8"]);
    holds("romanesca", &["b3:8", "b7-:8", "1:8", "5:8", "b3:8", "b7-:8", "1:4 5:4", "1:8"]);
    holds("folia", &["1:8", "5:8", "1:8", "b7-:8", "b3:8", "b7-:8", "1:4 5-:4", "1:8"]);
    holds("chaconne", &["1:4 5:4", "6:4 3:4", "4:4 5:4", "1:8"]);
    holds("chaconne that leads back", &["1:4 5:4", "6:4 3:4", "4:4 5:4", "1:4 5:4", "6:4 3:4", "4:4 5:4"]);
}

#[test]
fn the_chord_of_a_vamp_names_one() {
    // The line alone avoids 1.
    holds("one chord", &["1m7@0 5:2 b7:2 4:2 b7:2", "5:2 b7:2 4:2 b3:2"]);
    holds("i7 IV7", &["1m7@0 1:2 b3 2 1:2 r b7-", "4x7@0 1 b3 4 5 6:2 5 4"]);
    holds("I7 bVII", &["1x7@0 1:2 3:2 5:2 b7:2", "b7@0 b7-:2 2:2 4:2 2:2"]);
}

/// The same notes, whoever asks: a minor pentatonic never proves a mode, in any order and rhythm.
#[test]
fn a_minor_pentatonic_is_always_undecided() {
    let mut random = Seeded(5);
    for _ in 0..300 {
        let mut bars = Vec::new();
        let mut degrees = vec!["1", "b3", "4", "5", "b7"];
        for _ in 0..random.below(12) {
            degrees.push(["1", "b3", "4", "5", "b7-"][random.below(5)]);
        }
        for i in (1..degrees.len()).rev() {
            degrees.swap(i, random.below(i + 1));
        }
        for bar in degrees.chunks(4) {
            let mut words: Vec<String> = bar.iter().map(|d| format!("{d}:2")).collect();
            words.resize(4, "r:2".to_owned());
            bars.push(words.join(" "));
        }
        let bars: Vec<&str> = bars.iter().map(String::as_str).collect();
        let read = explain(&on("G", &bars), Some(name("G")));
        match read.verdict() {
            Verdict::Undecided { between, deciding } => {
                assert_eq!(between, &[Mode::Dorian, Mode::Minor, Mode::Phrygian], "{bars:?}");
                assert_eq!(deciding.iter().map(|d| d.number).collect::<Vec<_>>(), [2, 6], "{bars:?}");
            }
            other => panic!("{bars:?}: {other:?}"),
        }
        assert_eq!(read.mode.and_then(|m| m.named), Some(Mode::MinorPentatonic));
    }
}

/// What speaks for a tonic does not hang on where it lies: moved by any interval, the same probabilities.
#[test]
fn transposing_changes_no_probability() {
    let line = ["5-", "1:2 b3 4 5:2 4 b3", "1:2 b7- 1 r:4", "1:2 b3 4 #4 5 b7:2", "5:2 b3 1 r:4"];
    let scores = |tonic: &str| {
        let tonics = found(tonic, &line).tonics;
        let mut by_slot: Vec<(u8, f64)> = tonics
            .iter()
            .map(|t| ((t.tonic.pitch_class() + 12 - name(tonic).pitch_class()) % 12, t.score))
            .collect();
        by_slot.sort_by_key(|s| s.0);
        by_slot
    };
    let first = scores("E");
    for tonic in ["F", "F#", "G", "Ab", "A", "Bb", "B", "C", "C#", "D", "Eb"] {
        for (a, b) in first.iter().zip(scores(tonic)) {
            assert!(a.0 == b.0 && (a.1 - b.1).abs() < 1e-9, "{tonic}: {a:?} {b:?}");
        }
    }
}

/// Harmonic and melodic minor, pentatonics, blues and mixed thirds by their names.
#[test]
fn other_scales_are_named() {
    for (bars, label, named) in [
        (&["1:2 2:2 b3:2 4:2", "5:2 b6:2 7:2 1:2"][..], "harmonic minor", Some(Mode::HarmonicMinor)),
        (&["1:2 2:2 b3:2 4:2", "5:2 6:2 7:2 1:2"], "melodic minor", Some(Mode::MelodicMinor)),
        (&["1:2 2:2 3:2 5:2", "6:2 5:2 3:2 1:2"], "undecided", Some(Mode::MajorPentatonic)),
        (&["1:2 b3:2 4:2 b5:2", "5:2 b7:2 5:2 1:2"], "minor blues", Some(Mode::MinorBlues)),
        (&["1:2 2 b3 3:2 5:2", "b3:2 3:2 6:2 1:2"], "major blues", Some(Mode::MajorBlues)),
        (&["b3:2 3:2 5:2 b7:2", "b3:2 3:2 4:2 1:2"], "mixed thirds", None),
    ] {
        let read = explain(&on("A", bars), Some(name("A")));
        assert_eq!(read.verdict().label(), label, "{bars:?}");
        assert_eq!(read.mode.and_then(|m| m.named), named, "{bars:?}");
    }
    let given = explain(&on("A", &["1:8"]), Some(Key::new(name("A"), Mode::Minor).tonic));
    assert!(matches!(given.verdict(), Verdict::Undecided { .. }));
}
