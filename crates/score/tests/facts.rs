//! Facts of the trade, each with where it comes from. They are what the rest of the program stands on.

#![expect(clippy::approx_constant, reason = "the table of intervals is checked as it is printed")]

mod common;

use std::collections::BTreeSet;

use common::{name, set};
use riffkin_score::analysis::mode::one_note_difference;
use riffkin_score::chord::Chord;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::interval::Interval;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{Midi, PitchName};

/// The notes of a scale on a tonic, as text.
fn notes(tonic: &str, mode: Mode) -> String {
    mode.degrees()
        .iter()
        .map(|d| d.of(name(tonic)).map_or("?".to_owned(), |n| n.to_string()))
        .collect::<Vec<_>>()
        .join(" ")
}

fn pitch_classes(tonic: &str, mode: Mode) -> BTreeSet<u8> {
    mode.set().slots().map(|s| (s + name(tonic).pitch_class()) % 12).collect()
}

/// Common practice, no source.
#[test]
fn pentatonics() {
    assert_eq!(notes("G", Mode::MinorPentatonic), "G Bb C D F");
    assert_eq!(pitch_classes("G", Mode::MajorPentatonic), pitch_classes("E", Mode::MinorPentatonic));
    for tonic in ["C", "F#", "Bb", "A"] {
        let relative = name(tonic).plus(Interval::from_steps(-2, -3)).unwrap().to_string();
        assert_eq!(
            pitch_classes(tonic, Mode::MajorPentatonic),
            pitch_classes(&relative, Mode::MinorPentatonic)
        );
        assert_eq!(pitch_classes(tonic, Mode::MajorBlues), pitch_classes(&relative, Mode::MinorBlues));
    }
    assert_eq!(notes("G", Mode::MinorBlues), "G Bb C Db D F");
    assert_eq!(set("1 b3 4 5 b7"), Mode::MinorPentatonic.set());
}

/// Common practice, no source.
#[test]
fn dorian_and_natural_minor_differ_in_the_sixth_only() {
    let difference = one_note_difference(Mode::Dorian, Mode::Minor).unwrap();
    assert_eq!(
        (difference.only_first[0].to_string(), difference.only_second[0].to_string()),
        ("6".into(), "b6".into())
    );
    assert_eq!(notes("D", Mode::Dorian), "D E F G A B C");
    assert_eq!(notes("D", Mode::Minor), "D E F G A Bb C");
}

/// Above a G: common practice, no source.
#[test]
fn degrees_above_g() {
    for (degree, note) in [
        ("b3", "Bb"),
        ("4", "C"),
        ("b5", "Db"),
        ("#4", "C#"),
        ("5", "D"),
        ("6", "E"),
        ("b7", "F"),
        ("7", "F#"),
    ] {
        let degree: Degree = degree.parse().unwrap();
        assert_eq!(degree.of(name("G")), Some(name(note)));
        assert_eq!(Degree::between(name("G"), name(note)), Some(degree));
    }
}

/// G C E minor D in G is 1 4 6 5; an F sharp under a D chord is its third and lies in G major (common practice,
/// no source).
#[test]
fn one_four_six_five() {
    let roots: Vec<String> = ["G", "C", "Em", "D"]
        .iter()
        .map(|c| Degree::between(name("G"), c.parse::<Chord>().unwrap().root).unwrap().to_string())
        .collect();
    assert_eq!(roots, ["1", "4", "6", "5"]);
    let d: Chord = "D".parse().unwrap();
    assert_eq!(Degree::between(d.root, name("F#")).unwrap().to_string(), "3");
    assert!(d.kind.degrees().contains(&Degree::between(d.root, name("F#")).unwrap()));
    assert_eq!(Degree::between(name("G"), name("F#")).unwrap().to_string(), "7");
    assert!(Mode::Major.set().contains(Degree::between(name("G"), name("F#")).unwrap().slot()));
}

/// Simple intervals by semitones with their equal-tempered ratio `2^(n/12)` and the distance in cents of the
/// textbook five-limit ratio (from memory; cents `1200 log2(ratio)`).
#[test]
fn intervals() {
    let table: [(i32, i32, &str, f64, f64, f64, f64); 13] = [
        (0, 0, "P1", 1.000000, 1.0, 1.0, 0.00),
        (1, 1, "m2", 1.059463, 16.0, 15.0, -11.73),
        (1, 2, "M2", 1.122462, 9.0, 8.0, -3.91),
        (2, 3, "m3", 1.189207, 6.0, 5.0, -15.64),
        (2, 4, "M3", 1.259921, 5.0, 4.0, 13.69),
        (3, 5, "P4", 1.334840, 4.0, 3.0, 1.96),
        (3, 6, "A4", 1.414214, 45.0, 32.0, 9.78),
        (4, 7, "P5", 1.498307, 3.0, 2.0, -1.96),
        (5, 8, "m6", 1.587401, 8.0, 5.0, -13.69),
        (5, 9, "M6", 1.681793, 5.0, 3.0, 15.64),
        (6, 10, "m7", 1.781797, 9.0, 5.0, -17.60),
        (6, 11, "M7", 1.887749, 15.0, 8.0, 11.73),
        (7, 12, "P8", 2.000000, 2.0, 1.0, 0.00),
    ];
    let low = Midi::new(28).unwrap();
    for (steps, semitones, short, tempered, above, below, off) in table {
        let interval = Interval::from_steps(steps, semitones);
        assert_eq!(interval.to_string(), short);
        assert_eq!(interval.inverse().inverse(), interval);
        let high = Midi::new(28 + semitones as u8).unwrap();
        let ratio = high.hertz(440.0) / low.hertz(440.0);
        assert!((ratio - tempered).abs() < 1e-6, "{short}: {ratio}");
        let just = 1200.0 * (above / below).log2();
        assert!((f64::from(100 * semitones) - just - off).abs() < 0.006, "{short}: {just}");
    }
    assert_eq!(Interval::from_steps(4, 6).to_string(), "d5");
    // Compound intervals are idiomatic on bass: the tenth is a third and an octave.
    for (steps, semitones, short) in
        [(8, 14, "M9"), (9, 15, "m10"), (9, 16, "M10"), (10, 17, "P11"), (12, 21, "M13")]
    {
        assert_eq!(Interval::from_steps(steps, semitones).to_string(), short);
    }
}

/// The modes by semitones, steps and signature against the major on the same tonic: common practice, any
/// theory primer. Signature "+1" is one sharp more.
#[test]
fn modes() {
    type Row = (Mode, [u8; 7], &'static str, i32, Option<Mode>);
    let table: [Row; 7] = [
        (Mode::Lydian, [0, 2, 4, 6, 7, 9, 11], "2221221", 1, Some(Mode::MajorPentatonic)),
        (Mode::Major, [0, 2, 4, 5, 7, 9, 11], "2212221", 0, Some(Mode::MajorPentatonic)),
        (Mode::Mixolydian, [0, 2, 4, 5, 7, 9, 10], "2212212", -1, Some(Mode::MajorPentatonic)),
        (Mode::Dorian, [0, 2, 3, 5, 7, 9, 10], "2122212", -2, Some(Mode::MinorPentatonic)),
        (Mode::Minor, [0, 2, 3, 5, 7, 8, 10], "2122122", -3, Some(Mode::MinorPentatonic)),
        (Mode::Phrygian, [0, 1, 3, 5, 7, 8, 10], "1222122", -4, Some(Mode::MinorPentatonic)),
        (Mode::Locrian, [0, 1, 3, 5, 6, 8, 10], "1221222", -5, None),
    ];
    for (mode, semitones, steps, offset, pentatonic) in table {
        assert_eq!(mode.set(), DegreeSet::from_slots(semitones), "{mode}");
        let walked: String =
            (0..7).map(|i| ((semitones[(i + 1) % 7] + 12 - semitones[i]) % 12).to_string()).collect();
        assert_eq!(walked, steps, "{mode}");
        assert_eq!(mode.signature_offset(), offset, "{mode}");
        let numbers: Vec<u8> = mode.degrees().iter().map(|d| d.number()).collect();
        assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7], "one letter for each degree of {mode}");
        for scale in [Mode::MajorPentatonic, Mode::MinorPentatonic] {
            assert_eq!(scale.set().is_within(mode.set()), pentatonic == Some(scale), "{mode} {scale}");
        }
        // The signature is what makes the letters of the scale: sharps added in the order F C G D A E B.
        let signature = Key::new(name("E"), mode).signature();
        let altered: i32 = mode.degrees().iter().map(|d| i32::from(d.of(name("E")).unwrap().alter())).sum();
        assert_eq!(signature, altered, "E {mode}");
    }
    for (mode, semitones) in [
        (Mode::HarmonicMinor, vec![0, 2, 3, 5, 7, 8, 11]),
        (Mode::MelodicMinor, vec![0, 2, 3, 5, 7, 9, 11]),
        (Mode::PhrygianDominant, vec![0, 1, 4, 5, 7, 8, 10]),
        (Mode::MinorPentatonic, vec![0, 3, 5, 7, 10]),
        (Mode::MajorPentatonic, vec![0, 2, 4, 7, 9]),
        (Mode::MinorBlues, vec![0, 3, 5, 6, 7, 10]),
        (Mode::MajorBlues, vec![0, 2, 3, 4, 7, 9]),
    ] {
        assert_eq!(mode.set(), DegreeSet::from_slots(semitones), "{mode}");
    }
}

/// E major has four sharps, so E Dorian two and E natural minor one; and others by the same offsets (common
/// practice, any theory primer).
#[test]
fn signatures_of_modes() {
    for (key, signature) in [
        ("E major", 4),
        ("E Dorian", 2),
        ("E minor", 1),
        ("D Dorian", 0),
        ("G Mixolydian", 0),
        ("F Lydian", 0),
        ("E Phrygian", 0),
        ("B Locrian", 0),
        ("A minor", 0),
        ("Eb minor", -6),
        ("G minor", -2),
        ("C# major", 7),
        ("Cb major", -7),
        ("Ab minor", -7),
    ] {
        assert_eq!(key.parse::<Key>().unwrap().signature(), signature, "{key}");
    }
}

/// The circle of fifths; minor signatures are three places flatter (common practice, any theory primer).
#[test]
fn circle_of_fifths() {
    let circle = "Fb Cb Gb Db Ab Eb Bb F C G D A E B F# C# G# D# A#".split(' ');
    for (place, text) in (-8..=10).zip(circle) {
        assert_eq!(name(text).line_of_fifths(), place, "{text}");
        assert_eq!(PitchName::from_line_of_fifths(place), Some(name(text)));
        assert_eq!(Key::new(name(text), Mode::Major).signature(), place);
        assert_eq!(Key::new(name(text), Mode::Minor).signature(), place - 3);
    }
    // A semitone up is seven fifths or five back, a fourth one back, a whole tone two.
    for (steps, semitones, fifths) in [(0, 1, 7), (1, 1, -5), (3, 5, -1), (1, 2, 2), (4, 7, 1), (7, 12, 0)] {
        assert_eq!(Interval::from_steps(steps, semitones).fifths(), fifths);
    }
}

/// Enharmonic keys: six signs at most, with F sharp and G flat, D sharp minor and E flat minor as ties (common
/// practice, any theory primer).
#[test]
fn the_simplest_name_of_a_key_has_six_signs_at_most() {
    for pitch_class in 0..12 {
        for mode in Mode::ALL {
            let key = Key { tonic: PitchName::simplest(pitch_class), mode: Some(mode) }.simplest();
            assert_eq!(key.tonic.pitch_class(), pitch_class);
            assert!(key.signature().abs() <= 6, "{key}");
        }
    }
    for (given, simplest) in [
        ("F# major", "F# major"),
        ("Gb major", "Gb major"),
        ("D# minor", "D# minor"),
        ("Eb minor", "Eb minor"),
        ("C# major", "Db major"),
        ("G# minor", "G# minor"),
        ("Ab minor", "G# minor"),
        ("D# major", "Eb major"),
    ] {
        assert_eq!(given.parse::<Key>().unwrap().simplest().to_string(), simplest);
    }
}

/// A scale of seven takes one letter for each degree: E flat minor has G flat, C flat and D flat, never B; the
/// raised seventh takes the seventh letter (common practice, any theory primer).
#[test]
fn scales_are_spelled_by_degree() {
    for (tonic, mode, spelled) in [
        ("Eb", Mode::Minor, "Eb F Gb Ab Bb Cb Db"),
        ("E", Mode::HarmonicMinor, "E F# G A B C D#"),
        ("G#", Mode::HarmonicMinor, "G# A# B C# D# E F##"),
        ("F#", Mode::Major, "F# G# A# B C# D# E#"),
        ("Gb", Mode::Major, "Gb Ab Bb Cb Db Eb F"),
        ("F", Mode::Minor, "F G Ab Bb C Db Eb"),
        ("B", Mode::Locrian, "B C D E F G A"),
        ("E", Mode::PhrygianDominant, "E F G# A B C D"),
    ] {
        assert_eq!(notes(tonic, mode), spelled);
    }
    for place in -8..=10 {
        let tonic = PitchName::from_line_of_fifths(place).unwrap();
        for mode in Mode::DIATONIC {
            let letters: BTreeSet<char> =
                mode.degrees().iter().filter_map(|d| d.of(tonic)).map(|n| n.step().letter()).collect();
            assert_eq!(letters.len(), 7, "{tonic} {mode}");
        }
    }
}

/// The seventh chords on the degrees of major and of natural minor, and the modes that go with them: the notes
/// of each mode are those of the key (common practice, any theory primer).
#[test]
fn chords_and_modes_of_a_key() {
    let major = [
        ("Cmaj7", Mode::Major),
        ("Dm7", Mode::Dorian),
        ("Em7", Mode::Phrygian),
        ("Fmaj7", Mode::Lydian),
        ("G7", Mode::Mixolydian),
        ("Am7", Mode::Minor),
        ("Bm7b5", Mode::Locrian),
    ];
    for (symbol, mode) in major {
        let chord: Chord = symbol.parse().unwrap();
        assert!(chord.kind.set().is_within(mode.set()), "{symbol} {mode}");
        assert_eq!(pitch_classes(&chord.root.to_string(), mode), pitch_classes("C", Mode::Major), "{symbol}");
    }
    let minor = [
        ("Am7", Mode::Minor),
        ("Bm7b5", Mode::Locrian),
        ("Cmaj7", Mode::Major),
        ("Dm7", Mode::Dorian),
        ("Em7", Mode::Phrygian),
        ("Fmaj7", Mode::Lydian),
        ("G7", Mode::Mixolydian),
    ];
    let numerals: Vec<String> =
        minor.iter().map(|(c, _)| c.parse::<Chord>().unwrap().numeral(name("A")).unwrap()).collect();
    assert_eq!(numerals, ["i7", "ii7b5", "bIIImaj7", "iv7", "v7", "bVImaj7", "bVII7"]);
    assert_eq!(minor.map(|(c, _)| c).len(), major.len());
}
