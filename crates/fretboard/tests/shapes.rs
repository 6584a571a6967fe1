//! Shapes on the neck against tables and common practice.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::{
    ShapeError, chord_map, hand_positions, interval_map, notes_per_string, pentatonic_box, positions,
    root_map, root_way, scale_map, three_per_string, two_strings,
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

fn lines(map: &riffkin_fretboard::shapes::Map, neck: &Neck) -> Vec<String> {
    map.lines(neck)
}

/// Common practice: the box of G minor pentatonic at fret 3, read out.
#[test]
fn a_map_reads_aloud() {
    let neck = Neck::named("four").unwrap();
    let map = scale_map(&neck, "G minor pentatonic".parse().unwrap(), 3..=6);
    assert_eq!(map.title, "G minor pentatonic");
    assert_eq!(
        lines(&map, &neck),
        [
            "string 4 (E), fret 3: G, 1",
            "string 4 (E), fret 6: B♭, ♭3",
            "string 3 (A), fret 3: C, 4",
            "string 3 (A), fret 5: D, 5",
            "string 2 (D), fret 3: F, ♭7",
            "string 2 (D), fret 5: G, 1",
            "string 1 (G), fret 3: B♭, ♭3",
            "string 1 (G), fret 5: C, 4",
        ]
    );
    let open = scale_map(&neck, "E minor".parse().unwrap(), 0..=0);
    assert_eq!(lines(&open, &neck)[0], "string 4 (E), open: E, 1");
}

/// Every place of every map sounds the degree it is named by, is spelled by it, and none is left out: counted against
/// all places of all necks.
#[test]
fn maps_hold_every_place_and_no_other() {
    for name in Neck::NAMES.into_iter().chain(["five, capo 4", "G2 D2 A1 E1, 24 frets, 30 inch, left-handed"])
    {
        let neck = Neck::named(name).unwrap();
        for tonic in ["C", "F#", "Bb", "Db", "E"] {
            for mode in Mode::ALL {
                let key = riffkin_score::key::Key::new(tonic.parse().unwrap(), mode);
                let map = scale_map(&neck, key, 0..=neck.frets());
                let mut wanted = 0;
                for string in 1..=neck.string_count() {
                    for fret in 0..=neck.frets() {
                        let midi = neck.open(string).unwrap().midi().number() + fret;
                        wanted +=
                            usize::from(mode.set().contains((midi + 12 - key.tonic.pitch_class()) % 12));
                    }
                }
                assert_eq!(map.spots.len(), wanted, "{name} {key}");
                for spot in &map.spots {
                    assert_eq!(Some(spot.pitch.midi()), neck.sounding(spot.place));
                    assert_eq!(spot.degree.of(key.tonic), Some(spot.pitch.name()), "{name} {key}");
                    assert_eq!(spot.is_root(), spot.pitch.name() == key.tonic);
                }
            }
        }
    }
}

/// Common practice: Gm7 is 1 ♭3 5 ♭7, G B♭ D F.
#[test]
fn arpeggios() {
    let neck = Neck::named("four").unwrap();
    let map = chord_map(&neck, "Gm7".parse().unwrap(), 3..=6);
    let notes: Vec<String> = map
        .spots
        .iter()
        .map(|s| format!("{}:{} {} {}", s.place.string, s.place.fret, s.pitch.name(), s.degree))
        .collect();
    assert_eq!(notes, ["4:3 G 1", "4:6 Bb b3", "3:5 D 5", "2:3 F b7", "2:5 G 1", "1:3 Bb b3"]);
}

/// Common practice: G C E minor D is 1 4 6 5, its roots at frets 3, 3, 2 or 7 and 5 or open, in any key the same
/// shape.
#[test]
fn roots_of_a_progression() {
    let neck = Neck::named("four").unwrap();
    let roots: Vec<_> = ["1", "4", "6", "5"].map(|d| d.parse().unwrap()).to_vec();
    let map = root_map(&neck, "G".parse().unwrap(), &roots, 1..=5);
    assert_eq!(map.title, "Roots of 1 4 6 5 in G");
    let notes: Vec<String> = map.spots.iter().map(|s| format!("{} {}", s.pitch, s.degree)).collect();
    assert_eq!(notes, ["G1 1", "C2 4", "D2 5", "E2 6", "G2 1", "C3 4"]);
    let way = root_way(&neck, "G".parse().unwrap(), &roots, 1..=7).unwrap();
    let places: Vec<(u8, u8)> = way.iter().map(|p| (p.string, p.fret)).collect();
    assert_eq!(places[..2], [(4, 3), (3, 3)]);
    // Moved to A it is the same two frets up.
    let a = root_way(&neck, "A".parse().unwrap(), &roots, 3..=9).unwrap();
    assert_eq!(a.iter().map(|p| (p.string, p.fret - 2)).collect::<Vec<_>>(), places);
    assert!(root_way(&neck, "G".parse().unwrap(), &roots, 1..=2).is_none());
    // The way is the one with the least travel of all.
    let travel = |way: &[Place]| {
        let steps = way.windows(2).map(|w| {
            neck.span_mm(w[0].fret, w[1].fret) + 10.0 * f64::from(w[0].string.abs_diff(w[1].string))
        });
        neck.fret_mm(way[0].fret) + steps.sum::<f64>()
    };
    let mut all: Vec<Vec<Place>> = vec![Vec::new()];
    for root in &roots {
        let at = positions(&neck, "G".parse().unwrap(), &[*root], 0..=20);
        all = all.iter().flat_map(|w| at.iter().map(move |p| [w.as_slice(), &[p.0]].concat())).collect();
    }
    let least = all.iter().map(|w| travel(w)).fold(f64::INFINITY, f64::min);
    let found = root_way(&neck, "G".parse().unwrap(), &roots, 0..=20).unwrap();
    assert!((travel(&found) - least).abs() < 1e-9);
}

/// Intervals, any theory primer: from the open A up the A string, and what lies below it.
#[test]
fn intervals_from_a_note() {
    let neck = Neck::named("four").unwrap();
    let map = interval_map(&neck, "A1".parse().unwrap(), 0..=12);
    let on = |string: u8, fret: u8| {
        let spot = map.spots.iter().find(|s| s.place == Place { string, fret }).unwrap();
        spot.interval.unwrap().to_string()
    };
    assert_eq!(
        (on(3, 0), on(3, 3), on(3, 7), on(3, 12)),
        ("P1".into(), "m3".into(), "P5".into(), "P8".into())
    );
    assert_eq!((on(4, 0), on(4, 5), on(1, 4)), ("-P4".into(), "P1".into(), "M9".into()));
    let words = map.lines(&neck);
    assert!(words.contains(&"string 4 (E), open: E, perfect fourth down".to_owned()));
    assert!(words.contains(&"string 3 (A), open: A, the note itself".to_owned()));
    assert_eq!(map.spots.len(), 4 * 13);
}

/// Common practice: the five boxes of the minor pentatonic, G minor from fret 3; and the major scale under one hand
/// from the fret below its root.
#[test]
fn positions_under_one_hand() {
    let neck = Neck::named("four").unwrap();
    let at = |tonic: &str, mode: Mode| hand_positions(&neck, tonic.parse().unwrap(), &mode.degrees(), 4);
    let boxes = at("G", Mode::MinorPentatonic);
    assert!([3, 5, 7, 10, 12].iter().all(|f| boxes.contains(f)), "{boxes:?}");
    assert!(at("G", Mode::Major).contains(&2));
    // A window of twelve frets holds everything.
    assert_eq!(
        hand_positions(&neck, "G".parse().unwrap(), &Mode::Major.degrees(), 12),
        (1..=9).collect::<Vec<_>>()
    );
}
