//! Two scales side by side.
#![expect(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::set;
use riffkin_score::analysis::compare::{Comparison, compare};
use riffkin_score::analysis::mode::one_note_difference;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::PitchName;

fn compared(first: &str, second: &str) -> Comparison {
    compare(first.parse().unwrap(), second.parse().unwrap()).unwrap()
}

/// Dorian and natural minor differ in the sixth only (any theory primer).
#[test]
fn dorian_and_minor() {
    let found = compared("G dorian", "G minor");
    assert_eq!(
        found.words(),
        ["G Dorian has 6 (E) where G minor has ♭6 (E♭)", "one note tells them apart; all others are shared"]
    );
    let pairs: Vec<String> = found.moved().iter().map(|(a, b)| format!("{a} {b}")).collect();
    assert_eq!(pairs, ["6 b6"]);
    assert_eq!(
        found.of_riff(set("1 b3 4 5 b7")),
        "the riff has none of the notes in which they differ, so it does not tell them apart"
    );
    assert_eq!(found.of_riff(set("1 b3 6")), "the riff has 6 (E): G Dorian");
    assert_eq!(found.of_riff(set("1 b6 5")), "the riff has ♭6 (E♭): G minor");
    assert!(found.of_riff(set("b6 6")).ends_with("wholly in neither"));
}

/// Major pentatonic on G and minor pentatonic on E hold the same notes (any theory primer).
#[test]
fn scales_on_two_tonics_are_counted_from_the_first() {
    let found = compared("G major pentatonic", "E minor pentatonic");
    assert_eq!(found.words(), ["G major pentatonic and E minor pentatonic hold the same notes"]);
    let far = compared("G major", "E minor pentatonic");
    assert_eq!(far.words()[0], "G major adds 4 (C) and 7 (F♯) to E minor pentatonic");
    let degrees: Vec<String> = far.second_degrees().iter().map(Degree::to_string).collect();
    assert_eq!(degrees, ["1", "2", "3", "5", "6"]);
    assert!(far.of_riff(DegreeSet::EMPTY).contains("does not tell them apart"));
}

/// One fret, two names: the raised fourth and the lowered fifth.
#[test]
fn two_names_are_told() {
    let words = compared("G Lydian", "G Locrian").words();
    assert!(words.iter().any(|w| w.starts_with("C♯ is ♯4 of G Lydian, D♭ is ♭5 of G Locrian")), "{words:?}");
}

/// All pairs of scales on all tonics: what is shared and what is not make up both scales, note by note.
#[test]
fn every_pair_adds_up() {
    let pitch_classes = |tonic: PitchName, degrees: &[Degree]| -> DegreeSet {
        DegreeSet::from_slots(degrees.iter().map(|d| tonic.pitch_class() + d.slot()))
    };
    let of_mode = |key: Key| pitch_classes(key.tonic, &key.mode.unwrap().degrees());
    let g: PitchName = "G".parse().unwrap();
    for (a, b) in Mode::ALL.into_iter().flat_map(|a| Mode::ALL.map(|b| (a, b))) {
        for other in (-7..=7).filter_map(PitchName::from_line_of_fifths) {
            let (first, second) = (Key::new(g, a), Key::new(other, b));
            let found = compare(first, second).unwrap();
            let both = pitch_classes(g, &found.both);
            assert_eq!(both, of_mode(first).shared(of_mode(second)), "{first} {second}");
            assert_eq!(both.union(pitch_classes(g, &found.only_first)), of_mode(first));
            assert_eq!(both.union(pitch_classes(g, &found.only_second)), of_mode(second), "{first} {second}");
            if other == g {
                assert_eq!(found.by_one_note(), one_note_difference(a, b).is_some());
            }
        }
    }
    assert!(compare("G".parse().unwrap(), "G minor".parse().unwrap()).is_err());
}
