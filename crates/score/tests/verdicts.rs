//! What a riff can and cannot prove about its mode: the table, and every set of degrees there is.

mod common;

use common::{riff, set};
use riffkin_score::analysis::explain::explain;
use riffkin_score::analysis::mode::{difference, one_note_difference};
use riffkin_score::analysis::verdict::{Colour, Verdict, compatible, deciding, named, of_set, ordinal};
use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Mode;

/// The seven modes from their steps in semitones, brightest first: common practice, any theory primer.
const STEPS: [(&str, &str); 7] = [
    ("Lydian", "2221221"),
    ("major", "2212221"),
    ("Mixolydian", "2212212"),
    ("Dorian", "2122212"),
    ("minor", "2122122"),
    ("Phrygian", "1222122"),
    ("Locrian", "1221222"),
];

/// Semitones above the tonic of the seven notes, straight from the steps.
fn notes(steps: &str) -> Vec<u8> {
    let mut at = 0;
    steps
        .bytes()
        .map(|step| {
            let here = at;
            at += step - b'0';
            here
        })
        .collect()
}

#[test]
fn all_4095_sets_agree_with_a_brute_force_over_the_seven_modes() {
    let (mut decided, mut undecided, mut none) = (0, 0, 0);
    for mask in 1..4096u16 {
        let set = DegreeSet::from_bits(mask);
        let heard: Vec<u8> = (0..12).filter(|slot| mask >> slot & 1 == 1).collect();
        let holding: Vec<(&str, Vec<u8>)> = STEPS
            .iter()
            .map(|&(name, steps)| (name, notes(steps)))
            .filter(|(_, notes)| heard.iter().all(|slot| notes.contains(slot)))
            .collect();
        let names: Vec<&str> = holding.iter().map(|h| h.0).collect();
        assert_eq!(compatible(set).iter().map(|m| m.name()).collect::<Vec<_>>(), names, "{set}");
        match (of_set(set), names.as_slice()) {
            (Verdict::Decided(mode), [only]) => {
                assert_eq!(mode.name(), *only, "{set}");
                decided += 1;
            }
            (Verdict::Undecided { between, deciding }, [_, _, ..]) => {
                assert_eq!(between.iter().map(|m| m.name()).collect::<Vec<_>>(), names, "{set}");
                let differ: Vec<u8> = (1..7)
                    .filter(|&i| holding.iter().any(|h| h.1[i] != holding[0].1[i]))
                    .map(|i| i as u8 + 1)
                    .collect();
                assert_eq!(deciding.iter().map(|d| d.number).collect::<Vec<_>>(), differ, "{set}");
                for (degree, modes) in deciding.iter().flat_map(|d| &d.answers) {
                    if !set.contains(degree.slot()) {
                        let left = compatible(set.with(degree.slot()));
                        assert!(modes.iter().all(|m| left.contains(m)), "{set}: {degree}");
                        assert!(left.len() < between.len(), "{set}: {degree} decides nothing");
                    }
                }
                undecided += 1;
            }
            (verdict, []) => {
                let forced = verdict.mode().is_some_and(|m| Mode::DIATONIC.contains(&m));
                let between = match &verdict {
                    Verdict::Undecided { between, .. } => between.as_slice(),
                    _ => &[],
                };
                assert!(!forced && between.iter().all(|m| !Mode::DIATONIC.contains(m)), "{set}: {verdict:?}");
                none += 1;
            }
            (verdict, names) => panic!("{set}: {verdict:?}, but {names:?} hold it"),
        }
    }
    assert_eq!(decided + undecided + none, 4095);
    // Counted by the brute force itself once more, without the code under test in the loop.
    let holders = |mask: u16| {
        STEPS.iter().filter(|s| (0..12).all(|i| mask >> i & 1 == 0 || notes(s.1).contains(&i))).count()
    };
    assert_eq!(decided, (1..4096).filter(|&m| holders(m) == 1).count());
    assert_eq!(none, (1..4096).filter(|&m| holders(m) == 0).count());
}

/// Worked out from the modes' degrees; the deciding degrees (the sixth between Dorian and natural minor, the
/// second for Phrygian) are common practice.
#[test]
fn what_a_riff_can_and_cannot_prove() {
    let undecided = |text: &str| match of_set(set(text)) {
        Verdict::Undecided { between, deciding } => (
            between.iter().map(|m| m.name()).collect::<Vec<_>>().join(", "),
            deciding.iter().map(|d| ordinal(d.number)).collect::<Vec<_>>().join(" "),
        ),
        other => panic!("{text}: {other:?}"),
    };
    let expect = |text: &str, between: &str, deciding: &str| {
        assert_eq!(undecided(text), (between.to_owned(), deciding.to_owned()), "{text}");
    };
    expect("1 b3 4 5 b7", "Dorian, minor, Phrygian", "2nd 6th");
    expect("1 5 b7", "Mixolydian, Dorian, minor, Phrygian", "2nd 3rd 6th");
    expect("1 4 5 b7", "Mixolydian, Dorian, minor, Phrygian", "2nd 3rd 6th");
    expect("1 b3 5 b6", "minor, Phrygian", "2nd");
    expect("1 2 b3 4 5 b7", "Dorian, minor", "6th");
    expect("1 2 3 5 6", "Lydian, major, Mixolydian", "4th 7th");
    assert_eq!(of_set(set("1 b3 5 6")), Verdict::Decided(Mode::Dorian));
    assert_eq!(of_set(set("1 3 5 b7")), Verdict::Decided(Mode::Mixolydian));
    assert_eq!(of_set(set("1 b3 3 5")), Verdict::Chromatic(Colour::MixedThirds));
    for blues in ["1 b3 4 b5 5 b7", "1 b3 b5 5", "1 4 b5 5", "1 b3 4 b5 5 6 b7"] {
        assert_eq!(of_set(set(blues)).label(), "minor blues", "{blues}");
        assert!(compatible(set(blues)).is_empty());
    }
    assert_eq!(of_set(set("1 2 b3 3 5 6")), Verdict::Chromatic(Colour::MajorBlues));
    assert_eq!(of_set(set("1 2 b3 4 5 b6 7")), Verdict::Decided(Mode::HarmonicMinor));
    assert_eq!(of_set(set("1 b2 3 4 5 b6 b7")), Verdict::Decided(Mode::PhrygianDominant));
    expect("1 b3 5 7", "harmonic minor, melodic minor", "6th");
    assert_eq!(of_set(DegreeSet::EMPTY), Verdict::Nothing);
    assert_eq!(of_set(DegreeSet::ALL), Verdict::Chromatic(Colour::MixedThirds));
}

#[test]
fn the_sentence_names_the_degree_that_would_decide() {
    assert_eq!(
        of_set(set("1 2 b3 4 5 b7")).words(),
        "undecided between Dorian and minor: the 6th would decide (6 for Dorian, ♭6 for minor)"
    );
    assert_eq!(deciding(&[Mode::Minor, Mode::Phrygian]).len(), 1);
}

/// Every scale we know is named by its own set, and the pentatonic names the material without deciding.
#[test]
fn material_is_named_and_decides_nothing() {
    for mode in Mode::ALL {
        assert_eq!(named(mode.set()), Some(mode));
    }
    for (material, name) in [("1 b3 4 5 b7", Mode::MinorPentatonic), ("1 2 3 5 6", Mode::MajorPentatonic)] {
        assert_eq!(named(set(material)), Some(name));
        assert_eq!(of_set(set(material)).mode(), None);
    }
}

#[test]
fn one_note_tells_them_apart() {
    let tonic = Some(common::name("G"));
    let one = |a: Mode, b: Mode| one_note_difference(a, b).map(|d| d.words(a, b, tonic));
    assert_eq!(one(Mode::Dorian, Mode::Minor).unwrap(), "G Dorian has 6 (E) where G minor has ♭6 (E♭)");
    assert_eq!(one(Mode::Phrygian, Mode::Minor).unwrap(), "G Phrygian has ♭2 (A♭) where G minor has 2 (A)");
    assert_eq!(
        one(Mode::Mixolydian, Mode::Major).unwrap(),
        "G Mixolydian has ♭7 (F) where G major has 7 (F♯)"
    );
    assert_eq!(
        one(Mode::MinorBlues, Mode::MinorPentatonic).unwrap(),
        "G minor blues adds ♭5 (D♭) to G minor pentatonic"
    );
    assert_eq!(one(Mode::Dorian, Mode::Dorian), None);
    assert_eq!(one(Mode::Dorian, Mode::Phrygian), None);
    // Neighbours on the line from Lydian to Locrian differ in one note each: common practice.
    for pair in Mode::DIATONIC.windows(2) {
        let difference = one_note_difference(pair[0], pair[1]).unwrap();
        assert_eq!(difference.only_first[0].number(), difference.only_second[0].number());
        assert_eq!(difference.only_first[0].alter() - 1, difference.only_second[0].alter());
    }
    assert_eq!(difference(Mode::Lydian, Mode::Locrian).only_first.len(), 5);
}

#[test]
fn a_light_chromatic_note_is_set_aside_and_said() {
    // D is natural throughout but for one short E flat between E and D, off the beat.
    let bars = ["C2:2 E2:2 G2:2 B2:2", "A2:2 F2:2 E2 Eb2 D2:2", "C2:2 G1:2 B1:2 C2:2"];
    let found = explain(&riff(None, &bars), Some(common::name("C")));
    assert_eq!(found.verdict(), &Verdict::Decided(Mode::Major));
    let passing: Vec<String> = found.mode.unwrap().passing.iter().map(|d| d.to_string()).collect();
    assert_eq!(passing, ["b3"]);
    // Held on a bar line it is no passing note any more.
    let heavy = ["C2:2 E2:2 G2:2 B2:2", "Eb2:4 F2:2 E2:2", "C2:2 G1:2 B1:2 C2:2"];
    let found = explain(&riff(None, &heavy), Some(common::name("C")));
    assert_eq!(found.verdict(), &Verdict::Chromatic(Colour::MixedThirds));
}

#[test]
fn a_minor_with_both_sevenths_is_that_minor() {
    let bars = ["A1:2 B1:2 C2:2 D2:2", "E2:2 F2:2 G2:2 E2:2", "A1:2 G#1:2 A1:4"];
    let found = explain(&riff(None, &bars), Some(common::name("A")));
    assert_eq!(found.verdict(), &Verdict::Decided(Mode::Minor));
    let aside: Vec<String> = found.mode.unwrap().passing.iter().map(|d| d.to_string()).collect();
    assert_eq!(aside, ["7"]);
}
