//! One fret under two names.
mod common;

use common::riff;
use riffkin_score::analysis::explain::explain;
use riffkin_score::analysis::two_names::{names_in_keys, two_names};
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::PitchName;

/// The blues fifth is a raised fourth on its way up and a lowered fifth on its way down (common practice, no source).
#[test]
fn the_blue_fifth_up_and_down() {
    let line = riff(Some("G minor blues"), &["G1 C2 C#2 D2 Db2 C2 Bb1 G1"]);
    let found = two_names(&explain(&line, None));
    assert_eq!(found.len(), 1);
    let names: Vec<String> =
        found[0].names.iter().map(|n| format!("{} {}", n.name, n.degree.unwrap())).collect();
    assert_eq!(names, ["C# #4", "Db b5"]);
    assert_eq!(
        found[0].words(),
        "C♯ and D♭ are one fret: C♯ (bar 1, beat 2) is ♯4, raised on its way up to 5; D♭ (bar 1, beat 3) is ♭5, the \
         blue note of G minor blues"
    );
}

/// In E flat minor the sixth is C flat; the leading note to C is B (common practice, no source).
#[test]
fn b_and_c_flat() {
    let line = riff(Some("Eb minor"), &["Eb1 Gb1 Cb2 Bb1 B1 C2 Bb1 Eb1"]);
    let found = two_names(&explain(&line, None));
    assert_eq!(found.len(), 1);
    let words = found[0].words();
    assert!(words.starts_with("C♭ and B are one fret"), "{words}");
    assert!(words.contains("C♭ (bar 1, beat 2) is ♭6, the 6th of E♭ minor"), "{words}");
    assert!(words.contains("B (bar 1, beat 3) is ♯5, raised on its way up to 6"), "{words}");
    assert!(two_names(&explain(&riff(None, &["G1 Bb1 C2 Db2 D2 F2 G1:2"]), None)).is_empty());
    // Dead notes have no name to explain.
    assert!(two_names(&explain(&riff(Some("G minor"), &["G1 Db2 xC#2 G1:4 -"]), None)).is_empty());
}

/// Keys against each other: every pair of names that is given sounds the same and differs, and none is missed.
#[test]
fn names_in_two_keys() {
    let key = |text: &str| text.parse::<Key>().unwrap();
    let found = names_in_keys(key("G Lydian"), key("G Locrian"));
    assert_eq!(found.len(), 1);
    assert_eq!(
        found[0].words(key("G Lydian"), key("G Locrian")),
        "C♯ is ♯4 of G Lydian, D♭ is ♭5 of G Locrian: one fret, two names"
    );
    assert_eq!(names_in_keys(key("F# major"), key("Gb major")).len(), 7);
    assert!(names_in_keys(key("G minor"), key("G Dorian")).is_empty());
    for first in Mode::ALL {
        for second in Mode::ALL {
            let tonic: PitchName = "Bb".parse().unwrap();
            let pairs = names_in_keys(Key::new(tonic, first), Key::new(tonic, second));
            for pair in &pairs {
                assert_eq!(pair.first.0.pitch_class(), pair.second.0.pitch_class());
                assert_ne!(pair.first.0, pair.second.0);
            }
            // On one tonic two names can only come from two degrees of one slot.
            let clashes = first
                .degrees()
                .into_iter()
                .filter(|d| second.degrees().iter().any(|o| o.slot() == d.slot() && o != d));
            assert_eq!(pairs.len(), clashes.count(), "{first} {second}");
        }
    }
}
