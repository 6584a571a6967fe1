//! Moving to every key and back.

#![expect(clippy::unwrap_used, reason = "a test that cannot build its own case should stop")]

mod common;

use std::collections::BTreeSet;

use common::name;
use riffkin_score::interval::Interval;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::PitchName;
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::Riff;
use riffkin_score::transpose::{nearest, tonic_for, transpose};

/// Every name with at most a double sharp or flat.
fn names() -> Vec<PitchName> {
    (-15..=19).filter_map(PitchName::from_line_of_fifths).collect()
}

/// Arithmetic on names: the interval leads from one to the other, goes at most a tritone, and the way back is
/// the same way reversed.
#[test]
fn the_nearest_way_between_all_pairs_of_tonics() {
    assert_eq!(names().len(), 35);
    for from in names() {
        for to in names() {
            let way = nearest(from, to);
            assert_eq!(from.plus(way), Some(to), "{from} to {to}");
            assert!(way.semitones().abs() <= 6, "{from} to {to}: {way}");
            assert_eq!(nearest(to, from), way.inverse(), "{from} to {to}");
        }
    }
    for (from, to, way) in [
        ("G", "A", "M2"),
        ("A", "G", "-M2"),
        ("C", "G", "-P4"),
        ("C", "F#", "A4"),
        ("F#", "C", "-A4"),
        ("B", "F", "-A4"),
        ("Bb", "B", "A1"),
        ("B#", "C", "d2"),
    ] {
        assert_eq!(nearest(name(from), name(to)).to_string(), way, "{from} to {to}");
    }
}

fn moved(riff: &Riff, by: Interval) -> (Riff, usize) {
    let (moved, warnings) = transpose(riff, by).unwrap();
    (moved, warnings.len())
}

/// There and back over the twelve keys, in each mode, is the identity with spelling, key, chords, rhythm and
/// marks. Notes and chords that would need a triple sharp or flat on the way are respelled, which cannot be
/// undone; those cases are counted, must say so, and must sound the same.
#[test]
fn there_and_back_is_the_identity() {
    let (mut exact, mut respelled) = (0, 0);
    let mut modes = BTreeSet::new();
    for seed in 0..150 {
        let recipe =
            Recipe { keyed: true, places: false, range: (30, 55), ..Recipe::full(1 + seed as usize % 6) };
        let there = riff_of(seed, recipe);
        let Some(Key { tonic, mode: Some(mode) }) = there.header().key else {
            panic!("seed {seed} has no key")
        };
        modes.insert(mode);
        for pitch_class in 0..12 {
            let to = tonic_for(Key::new(tonic, mode), pitch_class);
            let way = nearest(tonic, to);
            let (away, warnings) = moved(&there, way);
            assert_eq!(away.header().key, Some(Key::new(to, mode)));
            for (a, b) in there.line().iter().zip(away.line()) {
                let (a, b) = (a.note.pitch.midi().number(), b.note.pitch.midi().number());
                assert_eq!(i32::from(b) - i32::from(a), way.semitones());
            }
            let (back, _) = moved(&away, way.inverse());
            if warnings == 0 {
                assert_eq!(back, there, "seed {seed}, {tonic} {mode} to {to}");
                exact += 1;
            } else {
                let midis = |r: &Riff| r.line().iter().map(|n| n.note.pitch.midi()).collect::<Vec<_>>();
                assert_eq!(midis(&back), midis(&there));
                respelled += 1;
            }
        }
    }
    println!("{exact} exact, {respelled} respelled, {} modes", modes.len());
    assert_eq!(modes.len(), Mode::ALL.len(), "every mode came up");
    assert!(exact > 20 * respelled, "{exact} exact, {respelled} respelled");
}

/// A double sharp raised by letters alone would be a triple one: it is respelled, and said so with its place.
#[test]
fn what_cannot_be_spelled_is_respelled_and_said() {
    let there = common::riff(Some("G# minor"), &["G#1:4 F##1:4"]);
    let (away, warnings) = transpose(&there, Interval::from_steps(0, 1)).unwrap();
    let spelled: Vec<String> = away.line().iter().map(|n| n.note.pitch.to_string()).collect();
    assert_eq!(spelled, ["G##1", "Ab1"]);
    assert_eq!(warnings.len(), 1);
    assert_eq!(warnings[0].to_string(), "bar 1, beat 3: F##1 respelled as Ab");
}

/// Diatonic riffs never need respelling: every one of the 12 keys in every mode, all degrees, there and back.
#[test]
fn every_scale_goes_to_every_key_and_back() {
    for mode in Mode::ALL {
        for from in 0..12 {
            let tonic = tonic_for(Key::new(name("C"), mode), from);
            let pitches: Vec<_> = mode
                .degrees()
                .iter()
                .filter_map(|d| riffkin_score::pitch::Pitch::new(d.of(tonic)?, 2))
                .collect();
            assert_eq!(pitches.len(), mode.degrees().len());
            let there = common::quarters(Some(&Key::new(tonic, mode).to_string()), &pitches);
            for to in 0..12 {
                let to = tonic_for(Key::new(tonic, mode), to);
                let (away, warnings) = moved(&there, nearest(tonic, to));
                assert_eq!(warnings, 0, "{tonic} {mode} to {to}");
                let spelled: Vec<_> = away.line().iter().map(|n| n.note.pitch.name()).collect();
                let wanted: Vec<_> = mode.degrees().iter().filter_map(|d| d.of(to)).collect();
                assert_eq!(spelled, wanted, "{tonic} {mode} to {to}");
                assert_eq!(moved(&away, nearest(to, tonic)).0, there);
            }
        }
    }
}

#[test]
fn places_on_the_neck_move_as_a_shape_or_are_dropped_and_said() {
    use riffkin_score::note::Place;
    let place = |fret: u8| {
        let made = common::riff(Some("G minor"), &["G1:2 Bb1:2 C2:4"]);
        let (header, mut bars) = made.into_parts();
        for (event, up) in bars[0].events.iter_mut().zip([0u8, 3, 5]) {
            if let Some(note) = &mut event.note {
                note.place = Some(Place { string: 4, fret: fret + up });
            }
        }
        Riff::new(header, bars).unwrap()
    };
    let frets = |r: &Riff| r.line().iter().map(|n| n.note.place.map(|p| p.fret)).collect::<Vec<_>>();
    let up = Interval::from_steps(1, 2);
    let (away, warnings) = transpose(&place(3), up).unwrap();
    assert_eq!((frets(&away), warnings.len()), (vec![Some(5), Some(8), Some(10)], 0));
    let (away, warnings) = transpose(&place(1), up.inverse()).unwrap();
    assert_eq!((frets(&away), warnings.len()), (vec![None, None, None], 1));
}

#[test]
fn out_of_range_says_where() {
    let low = common::riff(None, &["C0:2 E0:2 C0:4"]);
    let why = transpose(&low, Interval::from_steps(-14, -24)).unwrap_err().to_string();
    assert!(why.contains("C0 at bar 1, beat 1") && why.contains("-24"), "{why}");
}
