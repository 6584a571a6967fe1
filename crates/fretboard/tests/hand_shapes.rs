//! What the hand does, whatever the key.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_eighths, notes, riff_of};
use riffkin_fretboard::block::move_shape;
use riffkin_fretboard::fit::{best, fit};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::hand_shape::HandShape;
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Mark, Place};
use riffkin_score::riff::Riff;
use riffkin_score::value::Shape;

fn closed() -> Hand {
    Hand::default().with_open_strings(OpenStrings::Refused)
}

fn shape(riff: &Riff, neck: &str, hand: &Hand) -> HandShape {
    HandShape::of(&fit(riff, &Neck::named(neck).unwrap(), hand).unwrap())
}

/// Common practice: above a root at fret 3 of the lowest string the minor third lies three frets up, the fourth
/// at the same fret of the next string, the flat fifth one fret above it, the flat seventh at the same fret two
/// strings up.
#[test]
fn the_blues_pattern_above_a_root() {
    let shape = shape(&eighths("G1 Bb1 C2 Db2 D2 F2"), "four", &closed());
    assert_eq!(shape.to_string(), "0:0 0:3 1:0 1:1 1:2 2:0");
    assert_eq!(shape.footprint(), [(0, 0), (0, 3), (1, 0), (1, 1), (1, 2), (2, 0)]);
    assert_eq!((shape.fret_span(), shape.string_span(), shape.is_movable()), (3, 3, true));
}

/// Common practice: with one finger per fret the major scale from the second finger is 2 4, 1 2 4, 1 3 4.
#[test]
fn one_finger_per_fret() {
    let scale = shape(&eighths("C2 D2 E2 F2 G2 A2 B2 C3"), "four", &closed());
    assert_eq!(scale.to_string(), "0:0 0:2 1:-1 1:0 1:2 2:-1 2:1 2:2");
    // Seen from another of its notes the steps differ, the places under the hand do not.
    let down = shape(&eighths("C3 B2 A2 G2 F2 E2 D2 C2"), "four", &closed());
    assert_ne!(down, scale);
    assert_eq!(down.footprint(), scale.footprint());
}

/// Common practice: the pattern of G minor at fret 3 of the lowest string is that of D minor at fret 5 of the
/// next one, and of D at fret 3 of a five-string's lowest.
#[test]
fn another_string_in_fourths_is_the_same_shape() {
    let with_places = |text: &str, at: &[(u8, u8)]| {
        let mut notes = notes(text);
        for (note, &(string, fret)) in notes.iter_mut().zip(at) {
            note.as_mut().unwrap().place = Some(Place { string, fret });
        }
        riff_of(Shape::Eighth, &notes)
    };
    let g = with_places("G1 Bb1 C2 D2 F2", &[(4, 3), (4, 6), (3, 3), (3, 5), (2, 3)]);
    let d = with_places("D2 F2 G2 A2 C3", &[(3, 5), (3, 8), (2, 5), (2, 7), (1, 5)]);
    assert_eq!(shape(&g, "four", &closed()), shape(&d, "four", &closed()));
    let low = with_places("D1 F1 G1 A1 C2", &[(5, 3), (5, 6), (4, 3), (4, 5), (3, 3)]);
    assert_eq!(shape(&low, "five", &closed()), shape(&d, "four", &closed()));
}

#[test]
fn a_moved_block_has_the_same_shape() {
    let neck = Neck::named("five").unwrap();
    let mut dice = Dice(7);
    let mut moved = 0;
    for _ in 0..60 {
        let numbers: Vec<u8> = (0..6).map(|_| 28 + dice.below(20) as u8).collect();
        for fit in best(&midi_eighths(&numbers), &neck, &closed(), 3).unwrap() {
            let own = HandShape::of(&fit);
            assert_eq!(own.len(), 6);
            for frets in -4..=8 {
                let Ok(notes) = move_shape(&fit, frets, &neck) else { continue };
                assert_eq!(HandShape::of_notes(&notes), own);
                moved += 1;
            }
            assert_eq!(own.to_string().parse(), Ok(own));
        }
    }
    assert!(moved > 500, "{moved}");
}

#[test]
fn open_strings_and_harmonics_bind_the_hand() {
    let open =
        shape(&eighths("E1 G1 A1 E1"), "four", &Hand::default().with_open_strings(OpenStrings::Welcome));
    // Counted from the G; the open strings have no fret.
    assert_eq!(open.to_string(), "0:o 0:0 1:o 0:o");
    assert!(!open.is_movable());
    assert_eq!(open.footprint(), [(0, 0)]);

    let mut line = notes("G1 G1 D2");
    line[1].as_mut().unwrap().marks = [Mark::Dead].into_iter().collect();
    let dead = shape(&riff_of(Shape::Quarter, &line), "four", &closed());
    assert!(dead.to_string().starts_with("0:0 0:x "), "{dead}");
    assert!(dead.is_movable());

    let mut line = notes("G3");
    line[0].as_mut().unwrap().marks = [Mark::Harmonic].into_iter().collect();
    let node = shape(&riff_of(Shape::Whole, &line), "four", &closed());
    assert!(node.to_string().starts_with("0:n"), "{node}");
    assert!(!node.is_movable() && node.footprint().is_empty());
}

#[test]
fn typed_shapes_count_from_their_first_fretted_note() {
    let typed: HandShape = "3:o 2:5 2:8 3:5 3:x".parse().unwrap();
    assert_eq!(typed.to_string(), "1:o 0:0 0:3 1:0 1:x");
    assert_eq!("2:o 3:o".parse::<HandShape>().unwrap().to_string(), "0:o 1:o");
    assert_eq!("".parse::<HandShape>(), Ok(HandShape::default()));
    for bad in ["0", "0:", ":0", "0:y", "99:0", "0:37", "0:n-1", "a:0", "0:0:0", "-128:0", "0:-128"] {
        assert!(bad.parse::<HandShape>().is_err(), "{bad}");
    }
    let none = HandShape::default();
    assert!(none.is_empty() && none.footprint().is_empty());
    assert_eq!((none.fret_span(), none.string_span()), (0, 0));
}
