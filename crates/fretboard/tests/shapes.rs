//! Shapes on the neck against tables and common practice.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::{
    ShapeError, notes_per_string, pentatonic_box, positions, three_per_string, two_strings,
};
use riffkin_score::degree::Degree;
use riffkin_score::key::Mode;
use riffkin_score::note::Place;

fn frets_by_string(pattern: &[(Place, Degree)], from: u8) -> String {
    let mut text = String::new();
    let mut string = 0;
    for (place, _) in pattern {
        if place.string != string {
            text.push_str(if string == 0 { "(" } else { ")(" });
            string = place.string;
        } else {
            text.push(' ');
        }
        text.push_str(&(place.fret - from).to_string());
    }
    text + ")"
}

/// Arithmetic of the modes on strings in fourths: three notes to a string from the lowest, frets counted from
/// that of the first note.
#[test]
fn three_notes_per_string() {
    let neck = Neck::named("four").unwrap();
    for (mode, wanted) in [
        (Mode::Major, "(0 2 4)(0 2 4)(1 2 4)(1 2 4)"),
        (Mode::Dorian, "(0 2 3)(0 2 4)(0 2 4)(0 2 4)"),
        (Mode::Phrygian, "(0 1 3)(0 2 3)(0 2 3)(0 2 4)"),
        (Mode::Lydian, "(0 2 4)(1 2 4)(1 2 4)(1 3 4)"),
        (Mode::Mixolydian, "(0 2 4)(0 2 4)(0 2 4)(1 2 4)"),
        (Mode::Minor, "(0 2 3)(0 2 3)(0 2 4)(0 2 4)"),
        (Mode::Locrian, "(0 1 3)(0 1 3)(0 2 3)(0 2 3)"),
    ] {
        for from in 1..=12 {
            let pattern = three_per_string(&neck, Place { string: 4, fret: from }, mode).unwrap();
            assert_eq!(frets_by_string(&pattern, from), wanted, "{mode} from fret {from}");
            // Degrees read off as a grid: 1 2 3, then 4 5 6, then 7 1 2 (9), then 3 4 5.
            let numbers: Vec<u8> = pattern.iter().map(|(_, d)| d.number()).collect();
            assert_eq!(numbers, [1, 2, 3, 4, 5, 6, 7, 1, 2, 3, 4, 5]);
        }
    }
}

/// Common practice: G major on two strings is frets 3 5 7 on E and 3 5 7 on A.
#[test]
fn g_major_on_two_strings() {
    let neck = Neck::named("four").unwrap();
    let pattern = two_strings(&neck, Place { string: 4, fret: 3 }, Mode::Major).unwrap();
    assert_eq!(frets_by_string(&pattern, 0), "(3 5 7)(3 5 7)");
    let names: Vec<String> =
        pattern.iter().map(|(_, d)| d.of("G".parse().unwrap()).unwrap().to_string()).collect();
    assert_eq!(names, ["G", "A", "B", "C", "D", "E"]);
    assert_eq!(pattern.last().unwrap().1.to_string(), "6");
}

/// Common practice: the box at fret 3 is G minor pentatonic.
#[test]
fn pentatonic_boxes() {
    let neck = Neck::named("four").unwrap();
    let start = Place { string: 4, fret: 3 };
    let minor = pentatonic_box(&neck, start, Mode::MinorPentatonic).unwrap();
    assert_eq!(frets_by_string(&minor, 0), "(3 6)(3 5)(3 5)(3 5)");
    let major = pentatonic_box(&neck, start, Mode::MajorPentatonic).unwrap();
    assert_eq!(frets_by_string(&major, 0), "(3 5)(2 5)(2 5)(2 4)");
}

/// Major pentatonic on G and minor pentatonic on E hold the same notes (common practice), so the same places.
#[test]
fn positions_of_relative_pentatonics_are_the_same() {
    for name in Neck::NAMES {
        let neck = Neck::named(name).unwrap();
        let at = |tonic: &str, mode: Mode| -> Vec<Place> {
            positions(&neck, tonic.parse().unwrap(), &mode.degrees(), 0..=12).iter().map(|p| p.0).collect()
        };
        let (g, e) = (at("G", Mode::MajorPentatonic), at("E", Mode::MinorPentatonic));
        assert_eq!(g, e, "{name}");
        // Five notes and, where one of them is the open string, its octave at fret 12.
        for string in 1..=neck.string_count() {
            let count = g.iter().filter(|p| p.string == string).count();
            let open = g.contains(&Place { string, fret: 0 });
            assert_eq!(count, if open { 6 } else { 5 }, "{name}, string {string}");
        }
    }
}

/// Common practice: the material above a G root within frets 1 to 6.
#[test]
fn a_window_names_the_degrees() {
    let neck = Neck::named("four").unwrap();
    let found = positions(&neck, "G".parse().unwrap(), &Mode::MinorBlues.degrees(), 1..=6);
    let words: Vec<String> = found.iter().map(|(p, d)| format!("{}:{} {d}", p.string, p.fret)).collect();
    assert_eq!(
        words,
        [
            "4:1 b7", "4:3 1", "4:6 b3", "3:1 b3", "3:3 4", "3:4 b5", "3:5 5", "2:3 b7", "2:5 1", "1:3 b3",
            "1:5 4", "1:6 b5"
        ]
    );
    assert!(positions(&neck, "G".parse().unwrap(), &[], 0..=20).is_empty());
    assert!(positions(&neck, "G".parse().unwrap(), &Mode::Major.degrees(), 21..=30).is_empty());
}

#[test]
fn patterns_that_leave_the_neck_say_where() {
    let neck = Neck::named("four").unwrap();
    let major = Mode::Major.degrees();
    assert_eq!(
        three_per_string(&neck, Place { string: 4, fret: 18 }, Mode::Major),
        Err(ShapeError::PastLastFret { degree: "3".parse().unwrap(), string: 4, last: 20 })
    );
    assert_eq!(
        pentatonic_box(&neck, Place { string: 4, fret: 0 }, Mode::MajorPentatonic),
        Err(ShapeError::BelowNut { degree: "3".parse().unwrap(), string: 3 })
    );
    assert_eq!(
        notes_per_string(&neck, Place { string: 2, fret: 3 }, &major, 3, 3),
        Err(ShapeError::Strings { wanted: 3, there: 2 })
    );
    assert_eq!(notes_per_string(&neck, Place { string: 2, fret: 3 }, &[], 3, 1), Err(ShapeError::Empty));
    let off = Place { string: 9, fret: 3 };
    assert_eq!(notes_per_string(&neck, off, &major, 3, 1), Err(ShapeError::Start(off)));
}
