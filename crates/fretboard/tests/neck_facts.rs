//! Tunings, ranges, frets and the facts of the neck that bass teachers rely on.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

use std::collections::BTreeMap;

use riffkin_fretboard::neck::{Neck, NeckError};
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch};

fn at(neck: &Neck, string: u8, fret: u8) -> u8 {
    neck.sounding(Place { string, fret }).unwrap().number()
}

/// MIDI numbers of the open strings, highest first: General MIDI numbering with A4 = 69 and tunings of common
/// practice.
#[test]
fn every_string_and_fret_of_every_tuning_sounds_its_number() {
    for (name, open, frets) in [
        ("four", vec![43, 38, 33, 28], 20),
        ("five", vec![43, 38, 33, 28, 23], 20),
        ("six", vec![48, 43, 38, 33, 28, 23], 24),
        ("drop-d", vec![43, 38, 33, 26], 20),
        ("half-down", vec![42, 37, 32, 27], 20),
        ("whole-down", vec![41, 36, 31, 26], 20),
        ("bead", vec![38, 33, 28, 23], 20),
        ("high-c", vec![48, 43, 38, 33, 28], 20),
        ("tenor", vec![48, 43, 38, 33], 20),
        ("short", vec![43, 38, 33, 28], 20),
    ] {
        let neck = Neck::named(name).unwrap();
        assert_eq!((neck.frets(), usize::from(neck.string_count())), (frets, open.len()), "{name}");
        for (i, open) in open.iter().enumerate() {
            let string = i as u8 + 1;
            for fret in 0..=frets {
                assert_eq!(at(&neck, string, fret), open + fret, "{name} string {string} fret {fret}");
                let place = Place { string, fret };
                assert!(neck.places(Midi::new(open + fret).unwrap()).contains(&place));
            }
            assert_eq!(neck.sounding(Place { string, fret: frets + 1 }), None);
        }
        assert_eq!(neck.sounding(Place { string: 0, fret: 0 }), None);
        assert_eq!(neck.sounding(Place { string: open.len() as u8 + 1, fret: 0 }), None);
    }
    assert_eq!(Neck::NAMES.len(), 10);
    assert!(matches!(Neck::named("nine"), Err(NeckError::Unknown(_))));
}

/// Arithmetic: tuning in fourths. Rows: strings, frets, lowest, highest, distinct pitches, positions, and how
/// many pitches have one, two, three … positions.
#[test]
fn ranges_and_position_counts() {
    for (strings, frets, low, high, distinct, positions, by_count) in [
        ("G2 D2 A1 E1", 12, 28, 55, 28, 52, &[10, 12, 6, 0][..]),
        ("G2 D2 A1 E1", 20, 28, 63, 36, 84, &[10, 10, 10, 6]),
        ("G2 D2 A1 E1", 21, 28, 64, 37, 88, &[10, 10, 10, 7]),
        ("G2 D2 A1 E1", 22, 28, 65, 38, 92, &[10, 10, 10, 8]),
        ("G2 D2 A1 E1", 24, 28, 67, 40, 100, &[10, 10, 10, 10]),
        ("G2 D2 A1 E1 B0", 24, 23, 67, 45, 125, &[10, 10, 10, 10, 5]),
    ] {
        let open: Vec<Pitch> = strings.split(' ').map(|s| s.parse().unwrap()).collect();
        let neck = Neck::new("", open, frets, 863.6).unwrap();
        assert_eq!(neck.range(), (low, high));
        assert_eq!((neck.lowest().midi().number(), neck.highest().midi().number()), (low, high));
        let mut counts: BTreeMap<usize, usize> = BTreeMap::new();
        for midi in low..=high {
            *counts.entry(neck.places(Midi::new(midi).unwrap()).len()).or_default() += 1;
        }
        assert_eq!(counts.values().sum::<usize>(), distinct);
        assert_eq!(counts.iter().map(|(places, pitches)| places * pitches).sum::<usize>(), positions);
        let found: Vec<usize> = (1..=by_count.len()).map(|n| counts.get(&n).copied().unwrap_or(0)).collect();
        assert_eq!(found, by_count, "{strings}, {frets} frets");
    }
}

/// Arithmetic: `L (1 - 2^(-n/12))` for 34 inches, in inches and mm, frets 1 to 12.
#[test]
fn fret_table_of_the_34_inch_scale() {
    let neck = Neck::named("four").unwrap();
    for (fret, inches, mm) in [
        (1, 1.9083, 48.470),
        (2, 3.7094, 94.220),
        (3, 5.4095, 137.402),
        (4, 7.0142, 178.160),
        (5, 8.5288, 216.631),
        (6, 9.9584, 252.943),
        (7, 11.3077, 287.216),
        (8, 12.5813, 319.566),
        (9, 13.7835, 350.100),
        (10, 14.9181, 378.921),
        (11, 15.9891, 406.124),
        (12, 17.0000, 431.800),
    ] {
        assert!((neck.fret_mm(fret) - mm).abs() < 0.01, "fret {fret}: {}", neck.fret_mm(fret));
        assert!((neck.fret_mm(fret) / 25.4 - inches).abs() < 0.0001, "fret {fret}");
    }
    // Published ratio tables give 0.056126 of the scale at fret 1, half at 12, three quarters at 24.
    let six = Neck::named("six").unwrap();
    for (fret, ratio) in [(0, 0.0), (1, 0.056_126), (12, 0.5), (24, 0.75)] {
        assert!((six.fret_mm(fret) / six.scale_mm() - ratio).abs() < 5e-7, "fret {fret}");
    }
}

/// The luthier's rule: each fret takes one part in 17.817154 of what is left of the string (Koch, Building
/// Electric Guitars, gives 17.817). The older rule of 18 leaves fret 12 twelve and a half cents flat.
#[test]
fn rule_of_17_817_and_rule_of_18() {
    assert!((1.0 / (1.0 - 2f64.powf(-1.0 / 12.0)) - 17.817_154).abs() < 5e-7);
    let neck = Neck::named("six").unwrap();
    let frets_by = |rule: f64| {
        let mut from_nut = vec![0.0];
        for n in 0..24 {
            let left = neck.scale_mm() - from_nut[n];
            from_nut.push(from_nut[n] + left / rule);
        }
        from_nut
    };
    for (n, mm) in frets_by(17.817).iter().enumerate() {
        assert!((neck.fret_mm(n as u8) - mm).abs() < 0.003, "fret {n}");
    }
    let cents = |mm: f64| 1200.0 * (neck.scale_mm() / (neck.scale_mm() - mm)).log2();
    assert!((cents(frets_by(18.0)[12]) - 1187.5).abs() < 0.1);
    assert!((cents(neck.fret_mm(12)) - 1200.0).abs() < 1e-9);
}

/// Arithmetic: from fret to fret in mm; scale in inches, from, to.
#[test]
fn spans_in_millimetres() {
    for (inches, from, to, mm) in [
        (34.0, 1, 4, 129.7),
        (34.0, 2, 5, 122.4),
        (34.0, 3, 6, 115.5),
        (34.0, 4, 7, 109.1),
        (34.0, 5, 8, 102.9),
        (34.0, 6, 9, 97.2),
        (34.0, 7, 10, 91.7),
        (34.0, 9, 12, 81.7),
        (34.0, 12, 15, 68.7),
        (34.0, 1, 5, 168.2),
        (34.0, 3, 7, 149.8),
        (34.0, 5, 9, 133.5),
        (34.0, 7, 11, 118.9),
        (34.0, 1, 3, 88.9),
        // Short scale, long scale, and a guitar.
        (30.0, 1, 4, 114.4),
        (35.0, 1, 4, 133.5),
        (25.5, 1, 4, 97.3),
    ] {
        let neck = Neck::new("", vec!["E1".parse().unwrap()], 20, inches * 25.4).unwrap();
        let found = neck.span_mm(from, to);
        // Printed to one decimal.
        assert!((found - mm).abs() <= 0.1, "{inches} inches, frets {from} to {to}: {found}");
        assert_eq!(found, neck.span_mm(to, from));
    }
}

/// Common practice: what lies where on four strings in fourths.
#[test]
fn where_things_lie_above_g() {
    let neck = Neck::named("four").unwrap();
    let names: Vec<String> = neck.strings().iter().rev().map(|p| p.name().to_string()).collect();
    assert_eq!(names, ["E", "A", "D", "G"]);
    let midi = |name: &str| name.parse::<Pitch>().unwrap().midi().number();
    // Three frets up the lowest string is G; D minor starts at fret 5 of the A string.
    assert_eq!(at(&neck, 4, 3), midi("G1"));
    assert_eq!(at(&neck, 3, 5), midi("D2"));
    // Above that G: fourth at fret 3 of the A string, flat fifth a fret above, flat seventh at fret 3 of the D
    // string and an octave lower two frets below the root; minor third at fret 6 or at fret 1 of the A string.
    assert_eq!(at(&neck, 3, 3), midi("C2"));
    assert_eq!(at(&neck, 3, 4), midi("Db2"));
    assert_eq!(at(&neck, 2, 3), midi("F2"));
    assert_eq!(at(&neck, 4, 1), midi("F1"));
    assert_eq!((at(&neck, 4, 6), at(&neck, 3, 1)), (midi("Bb1"), midi("Bb1")));
}

#[test]
fn necks_that_cannot_be() {
    let open = |names: &str| names.split_whitespace().map(|n| n.parse().unwrap()).collect::<Vec<Pitch>>();
    assert_eq!(Neck::new("", vec![], 20, 863.6), Err(NeckError::Strings(0)));
    assert_eq!(Neck::new("", open("E1"), 0, 863.6), Err(NeckError::Frets(0)));
    assert!(Neck::new("", open("E1"), 20, f64::NAN).is_err());
    assert!(matches!(Neck::new("", open("E1 A1"), 20, 863.6), Err(NeckError::Order { string: 2, .. })));
}
