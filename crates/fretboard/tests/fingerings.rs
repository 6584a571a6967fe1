//! The fingerings that method-book practice gives: common practice, no source, except where one is named.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{eighths, notes, riff_of, written};
use riffkin_fretboard::fit::{Fit, FitError, Touch, fit};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Approach, Mark, Note, Place};
use riffkin_score::value::Shape;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

fn fitted(text: &str, hand: &Hand) -> Fit {
    fit(&eighths(text), &four(), hand).unwrap()
}

#[test]
fn scales_boxes_and_shapes_come_out_as_taught() {
    let usual = Hand::default();
    let one_per_fret = Hand::default().with_switch_fret(1);
    let welcome = Hand::default().with_open_strings(OpenStrings::Welcome);
    // Each place is string:fret/finger.
    for (name, hand, text, wanted) in [
        (
            "major scale from fret 3 of the E string",
            &usual,
            "G1 A1 B1 C2 D2 E2 F#2 G2",
            "4:3/2 4:5/4 3:2/1 3:3/2 3:5/4 2:2/1 2:4/3 2:5/4",
        ),
        (
            "the same, one finger per fret everywhere",
            &one_per_fret,
            "G1 A1 B1 C2 D2 E2 F#2 G2",
            "4:3/2 4:5/4 3:2/1 3:3/2 3:5/4 2:2/1 2:4/3 2:5/4",
        ),
        (
            "major scale downwards",
            &usual,
            "G2 F#2 E2 D2 C2 B1 A1 G1",
            "2:5/4 2:4/3 2:2/1 3:5/4 3:3/2 3:2/1 4:5/4 4:3/2",
        ),
        (
            "major scale from fret 3 of the A string",
            &usual,
            "C2 D2 E2 F2 G2 A2 B2 C3",
            "3:3/2 3:5/4 2:2/1 2:3/2 2:5/4 1:2/1 1:4/3 1:5/4",
        ),
        (
            "major scale from fret 5 of the E string",
            &usual,
            "A1 B1 C#2 D2 E2 F#2 G#2 A2",
            "4:5/2 4:7/4 3:4/1 3:5/2 3:7/4 2:4/1 2:6/3 2:7/4",
        ),
        (
            "natural minor from fret 5",
            &usual,
            "A1 B1 C2 D2 E2 F2 G2 A2",
            "4:5/1 4:7/3 4:8/4 3:5/1 3:7/3 3:8/4 2:5/1 2:7/3",
        ),
        (
            "Mixolydian from fret 5",
            &usual,
            "A1 B1 C#2 D2 E2 F#2 G2 A2",
            "4:5/2 4:7/4 3:4/1 3:5/2 3:7/4 2:4/1 2:5/2 2:7/4",
        ),
        (
            "minor pentatonic box at fret 5",
            &usual,
            "A1 C2 D2 E2 G2 A2 C3 D3",
            "4:5/1 4:8/4 3:5/1 3:7/3 2:5/1 2:7/3 1:5/1 1:7/3",
        ),
        (
            "minor pentatonic box at fret 3, in 1-2-4",
            &usual,
            "G1 Bb1 C2 D2 F2 G2 Bb2 C3",
            "4:3/1 4:6/4 3:3/1 3:5/4 2:3/1 2:5/4 1:3/1 1:5/4",
        ),
        (
            "minor pentatonic box at fret 3, one finger per fret",
            &one_per_fret,
            "G1 Bb1 C2 D2 F2 G2 Bb2 C3",
            "4:3/1 4:6/4 3:3/1 3:5/3 2:3/1 2:5/3 1:3/1 1:5/3",
        ),
        (
            "minor pentatonic from fret 5 of the A string",
            &usual,
            "D2 F2 G2 A2 C3 D3",
            "3:5/1 3:8/4 2:5/1 2:7/3 1:5/1 1:7/3",
        ),
        ("blues scale", &usual, "A1 C2 D2 Eb2 E2 G2 A2", "4:5/1 4:8/4 3:5/1 3:6/2 3:7/3 2:5/1 2:7/3"),
        ("root, fifth, octave in 1-2-4", &usual, "G1 D2 G2", "4:3/1 3:5/4 2:5/4"),
        ("root, fifth, octave, one finger per fret", &one_per_fret, "G1 D2 G2", "4:3/1 3:5/3 2:5/4"),
        ("root, fifth, octave above the switch point", &usual, "A1 E2 A2", "4:5/1 3:7/3 2:7/4"),
        ("root, fifth, octave from the A string", &usual, "D2 A2 D3", "3:5/1 2:7/3 1:7/4"),
        ("chromatic from fret 5", &usual, "A1 Bb1 B1 C2", "4:5/1 4:6/2 4:7/3 4:8/4"),
        ("chromatic from fret 1", &usual, "F1 Gb1 G1 Ab1", "4:1/1 4:2/2 4:3/3 4:4/4"),
        (
            "F major in first position",
            &usual,
            "F1 G1 A1 Bb1 C2 D2 E2 F2",
            "4:1/1 4:3/4 3:0/0 3:1/1 3:3/4 2:0/0 2:2/2 2:3/4",
        ),
        (
            "G major with open strings",
            &welcome,
            "G1 A1 B1 C2 D2 E2 F#2 G2",
            "4:3/2 3:0/0 3:2/1 3:3/2 2:0/0 2:2/1 2:4/4 1:0/0",
        ),
    ] {
        assert_eq!(written(&fitted(text, hand)), wanted, "{name}");
    }
}

/// The same shape can lie in several places; where a method book puts it, the fingers come out as printed.
#[test]
fn where_the_places_are_given_the_fingers_come_out_as_taught() {
    let usual = Hand::default();
    let one_per_fret = Hand::default().with_switch_fret(1);
    for (name, hand, places, fingers) in [
        ("major pentatonic box", &usual, "4:5 4:7 3:4 3:7 2:4 2:7", "2 4 1 4 1 4"),
        ("major pentatonic box at fret 3", &one_per_fret, "4:3 4:5 3:2 3:5 2:2 2:5", "2 4 1 4 1 4"),
        ("major arpeggio", &usual, "4:5 3:4 3:7 2:7", "2 1 4 4"),
        ("minor arpeggio", &usual, "4:5 4:8 3:7 2:7", "1 4 3 4"),
        ("Dorian from fret 5", &usual, "4:5 4:7 4:8 3:5 3:7 2:4 2:5 2:7", "1 3 4 1 3 1 2 4"),
        ("major seventh arpeggio", &usual, "4:8 3:7 3:10 2:9", "2 1 4 3"),
        ("dominant seventh arpeggio", &usual, "4:8 3:7 3:10 2:8", "2 1 4 2"),
        ("minor seventh arpeggio", &usual, "4:8 4:11 3:10 2:8", "1 4 3 1"),
        ("diminished arpeggio", &usual, "4:8 4:11 3:9", "1 4 2"),
        ("octave up the neck", &usual, "4:8 2:10 4:8 2:10", "1 3 1 3"),
        ("octave in 1-2-4", &usual, "4:1 2:3 4:1 2:3", "1 4 1 4"),
        ("half and whole step in 1-2-4", &usual, "4:1 4:2 4:3", "1 2 4"),
        ("chromatic on two strings", &usual, "3:5 3:6 3:7 3:8 2:5 2:6 2:7 2:8", "1 2 3 4 1 2 3 4"),
        ("minor thirds", &usual, "3:5 3:8 2:5 2:8 1:5 1:8", "1 4 1 4 1 4"),
        ("blues scale with the flat fifth", &usual, "4:8 4:11 3:8 3:9 3:10 2:8", "1 4 1 2 3 1"),
        ("root, flat seventh, octave", &usual, "4:5 2:5 2:7", "1 1 3"),
        ("harmonic minor", &usual, "4:5 4:7 4:8 3:5 3:7 3:8 2:6 2:7", "1 3 4 1 3 4 2 3"),
    ] {
        let places: Vec<Place> = places
            .split(' ')
            .map(|p| {
                let (string, fret) = p.split_once(':').unwrap();
                Place { string: string.parse().unwrap(), fret: fret.parse().unwrap() }
            })
            .collect();
        let line: Vec<Option<Note>> = places
            .iter()
            .map(|&place| {
                let midi = four().sounding(place).unwrap().number();
                Some(Note { place: Some(place), ..common::midi_note(midi) })
            })
            .collect();
        let fit = fit(&riff_of(Shape::Eighth, &line), &four(), hand).unwrap();
        let found: Vec<String> = fit.notes.iter().map(|n| n.finger.to_string()).collect();
        assert_eq!(found.join(" "), fingers, "{name}");
        assert!(fit.warnings.is_empty(), "{name}: {:?}", fit.warnings);
    }
}

/// On 34 inches the hand is not asked to span frets 3 to 7; the sixth degree comes under the last finger.
#[test]
fn major_scale_on_two_strings_ends_under_the_last_finger() {
    let mut line = notes("G1 A1 B1 C2 D2 E2");
    for (note, (string, fret)) in
        line.iter_mut().flatten().zip([(4, 3), (4, 5), (4, 7), (3, 3), (3, 5), (3, 7)])
    {
        note.place = Some(Place { string, fret });
    }
    let fit = fit(&riff_of(Shape::Eighth, &line), &four(), &Hand::default()).unwrap();
    assert_eq!(fit.notes.last().unwrap().finger, 4, "{}", written(&fit));
    assert!(
        fit.notes.iter().all(|n| four().span_mm(n.position, n.place.fret) <= Hand::default().widest_mm())
    );
}

#[test]
fn repeated_notes_stay_where_they_are() {
    let fit = fitted("C2 G2 G2 C2 C2 E2 E2 C3", &Hand::default());
    for (a, b) in [(1, 2), (3, 4), (5, 6)] {
        assert_eq!((fit.notes[a].place, fit.notes[a].finger), (fit.notes[b].place, fit.notes[b].finger));
    }
}

#[test]
fn the_hand_moves_across_the_rest() {
    let fit = fitted("G1 A1 B1 C2 - - - - E3 D3 E3 D3", &Hand::default());
    let moved: Vec<bool> = fit.notes.windows(2).map(|w| w[0].position != w[1].position).collect();
    assert_eq!(moved, [false, false, false, true, false, false, false], "{}", written(&fit));
    assert!(
        fit.reasons.iter().any(|r| r == "one shift, across the rest before bar 2, beat 1"),
        "{:?}",
        fit.reasons
    );
}

#[test]
fn the_hand_moves_while_an_open_string_sounds() {
    let hand = Hand::default().with_open_strings(OpenStrings::Welcome);
    let mut line = notes("F1 F1 A1 A2 A2");
    for (note, (string, fret)) in line.iter_mut().flatten().zip([(4, 1), (4, 1), (3, 0), (2, 7), (2, 7)]) {
        note.place = Some(Place { string, fret });
    }
    let fit = fit(&riff_of(Shape::Eighth, &line), &four(), &hand).unwrap();
    assert_eq!(fit.reasons[1], "one shift, on the open string in bar 1");
}

fn marked(text: &str, at: usize, approach: Approach) -> Vec<Option<Note>> {
    let mut line = notes(text);
    line[at].as_mut().unwrap().approach = approach;
    line
}

#[test]
fn slides_keep_string_and_finger_and_slurs_their_string() {
    let hand = Hand::default();
    let fitted = |line: &[Option<Note>]| fit(&riff_of(Shape::Eighth, line), &four(), &hand).unwrap();
    let slide = fitted(&marked("C2 E2 D2", 1, Approach::Slide));
    assert_eq!(slide.notes[0].place.string, slide.notes[1].place.string);
    assert_eq!(slide.notes[0].finger, slide.notes[1].finger);
    let hammer = fitted(&marked("A1 D2 F2 A2", 2, Approach::Hammer));
    assert_eq!(hammer.notes[1].place.string, hammer.notes[2].place.string);
    assert!(hammer.notes[1].finger < hammer.notes[2].finger);
    let pull = fitted(&marked("A1 D2 C2 A1", 2, Approach::Pull));
    assert_eq!(pull.notes[1].place.string, pull.notes[2].place.string);
    assert!([slide, hammer, pull].iter().all(|f| f.warnings.is_empty()));
    // Two octaves cannot be hammered on: said, not dropped.
    let broken = fitted(&marked("E1 E3", 1, Approach::Hammer));
    assert_eq!(broken.warnings.len(), 1);
    assert!(broken.warnings[0].to_string().starts_with("bar 1, beat 1 1/2: the hammer-on"));
}

#[test]
fn a_beginner_with_a_small_hand_stretches_less() {
    let line = "F1 A1 C2 F2 G1 B1 D2 G2";
    let widest = |hand: &Hand| {
        let fit = fitted(line, hand);
        let spans =
            fit.notes.iter().filter(|n| n.finger > 0).map(|n| four().span_mm(n.position, n.place.fret));
        spans.fold(0.0, f64::max)
    };
    assert!(widest(&Hand::small()) <= Hand::small().widest_mm());
    assert!(widest(&Hand::small()) <= widest(&Hand::default()));
}

#[test]
fn wishes_are_kept_or_said_to_be_impossible() {
    let mut line = notes("A1 C2 E2");
    line[0].as_mut().unwrap().place = Some(Place { string: 3, fret: 0 });
    line[1].as_mut().unwrap().finger = Some(3);
    line[2].as_mut().unwrap().place = Some(Place { string: 1, fret: 3 });
    let hand = Hand::default().with_open_strings(OpenStrings::Refused);
    let fit = fit(&riff_of(Shape::Eighth, &line), &four(), &hand).unwrap();
    assert_eq!(fit.notes[0].place, Place { string: 3, fret: 0 });
    assert_eq!(fit.notes[1].finger, 3);
    assert_eq!(four().sounding(fit.notes[2].place).unwrap().number(), 40);
    assert_eq!(fit.warnings.len(), 1);
    assert_eq!(
        fit.warnings[0].to_string(),
        "bar 1, beat 2: string 1, fret 3 does not sound E2 on this neck; another place was chosen"
    );
}

#[test]
fn dead_notes_and_harmonics() {
    let mut line = notes("A1 A1 A1 G3 A1");
    line[1].as_mut().unwrap().marks = riffkin_score::note::Marks::NONE.with(Mark::Dead);
    line[3].as_mut().unwrap().marks = riffkin_score::note::Marks::NONE.with(Mark::Harmonic);
    let fit = fit(&riff_of(Shape::Eighth, &line), &four(), &Hand::default()).unwrap();
    let touch: Vec<Touch> = fit.notes.iter().map(|n| n.touch).collect();
    assert_eq!(touch[1], Touch::Dead);
    // Half the G string sounds its octave.
    assert_eq!((touch[3], fit.notes[3].place), (Touch::Harmonic, Place { string: 1, fret: 12 }));
    assert!(fit.warnings.is_empty());
}

#[test]
fn what_is_off_the_neck_is_named_with_its_place() {
    let line = eighths("E1 G1 D1 G1 C1");
    match fit(&line, &four(), &Hand::default()) {
        Err(FitError::OffNeck { pitch, at, lowest, highest, others }) => {
            assert_eq!((pitch.to_string(), at.to_string()), ("D1".into(), "bar 1, beat 2".into()));
            assert_eq!((lowest.to_string(), highest.to_string(), others), ("E1".into(), "Eb4".into(), 1));
        }
        other => unreachable!("{other:?}"),
    }
}

#[test]
fn rests_only_and_a_single_note() {
    let rests = fitted("- - - -", &Hand::default());
    assert_eq!((rests.cost, rests.notes.len()), (0.0, 0));
    let one = fitted("G1", &Hand::default());
    assert_eq!((one.notes.len(), one.notes[0].place), (1, Place { string: 4, fret: 3 }));
}

/// The same four frets at fret 1: by default the hand moves up a fret instead of spanning 130 mm; who wants one
/// finger per fret there gets it, with the caution.
#[test]
fn low_stretches_are_avoided_and_flagged() {
    let usual = fitted("F1 Gb1 G1 Ab1", &Hand::default());
    assert!(usual.cautions.is_empty());
    assert_eq!(usual.notes.last().unwrap().position, 2);
    let mut line = notes("F1 Gb1 G1 Ab1 F1");
    for (note, finger) in line.iter_mut().flatten().zip([1, 2, 3, 4, 1]) {
        note.finger = Some(finger);
    }
    let hand = Hand::default().with_switch_fret(1).with_level(riffkin_fretboard::hand::Level::Beginner);
    let fit = fit(&riff_of(Shape::Sixteenth, &line), &four(), &hand).unwrap();
    assert_eq!(fit.cautions.len(), 1);
    assert_eq!(
        fit.cautions[0].to_string(),
        "bar 1, beat 1 3/4: from fret 1 to fret 4 the hand spans 130 mm; shift instead, or move the riff up the neck"
    );
    assert!(fitted("A1 Bb1 B1 C2", &Hand::default()).cautions.is_empty());
}
