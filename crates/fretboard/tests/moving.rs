//! Moving shapes, and what must move with them.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_eighths, riff_of};
use riffkin_fretboard::block::{WhatBroke, move_shape};
use riffkin_fretboard::fit::{Fit, FittedNote, Touch, fit, written_into};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_score::interval::Interval;
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::transpose::{nearest, transpose};
use riffkin_score::value::Shape;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

fn closed() -> Hand {
    Hand::default().with_open_strings(OpenStrings::Refused)
}

fn moved(fit: &Fit, semitones: i32, neck: &Neck) -> Vec<FittedNote> {
    move_shape(fit, semitones, neck).unwrap()
}

/// Common practice: the same pattern moved as a block transposes the riff.
#[test]
fn a_moved_shape_sounds_the_transposed_riff() {
    let neck = four();
    let riff = eighths("G1 Bb1 C2 Db2 D2 F2 G2 F2");
    let shape = fit(&riff, &neck, &closed()).unwrap();
    for (to, semitones) in [("Ab", 1), ("A", 2), ("B", 4), ("C", 5), ("Gb", -1)] {
        let by = nearest("G".parse().unwrap(), to.parse().unwrap());
        assert_eq!(by.semitones(), semitones, "{to}");
        let (transposed, _) = transpose(&riff, by).unwrap();
        let notes = moved(&shape, semitones, &neck);
        for (note, wanted) in notes.iter().zip(transposed.line()) {
            assert_eq!(neck.sounding(note.place), Some(wanted.note.pitch.midi()), "to {to}");
        }
        // Written into the riff, the places are kept by the next fit.
        let again = fit(&written_into(&transposed, &notes).unwrap(), &neck, &closed()).unwrap();
        assert!(again.warnings.is_empty());
        let places = |notes: &[FittedNote]| notes.iter().map(|n| (n.place, n.finger)).collect::<Vec<_>>();
        assert_eq!(places(&again.notes), places(&notes), "to {to}");
    }
}

#[test]
fn what_breaks_a_shape_is_named() {
    let neck = four();
    // The major scale from fret 3: its third note lies at fret 2, under the index finger.
    let scale = fit(&eighths("G1 A1 B1 C2 D2 E2 F#2 G2"), &neck, &closed()).unwrap();
    assert!(move_shape(&scale, -1, &neck).is_ok());
    let low = move_shape(&scale, -2, &neck).unwrap_err();
    assert!(
        matches!(low, WhatBroke::Nut { place: Place { string: 4, fret: 3 }, frets: -2, .. }),
        "{low}"
    );
    let high = move_shape(&scale, 16, &neck).unwrap_err();
    assert!(
        matches!(high, WhatBroke::LastFret { place: Place { string: 4, fret: 5 }, last: 20, .. }),
        "{high}"
    );
    assert_eq!(
        high.to_string(),
        "at bar 1, beat 1 1/2 the shape passes the last fret, 20: string 4, fret 5 cannot move 16 frets up"
    );
    assert!(move_shape(&scale, 15, &neck).is_ok());
    let open = fit(&eighths("E1 G1 E1"), &neck, &Hand::default()).unwrap();
    let broke = move_shape(&open, 2, &neck).unwrap_err();
    assert!(matches!(broke, WhatBroke::OpenString { place: Place { string: 4, fret: 0 }, .. }), "{broke}");
    assert_eq!(move_shape(&open, 0, &neck).unwrap(), open.notes);
    let one = Neck::new("one", vec!["E1".parse().unwrap()], 20, 863.6).unwrap();
    assert!(matches!(move_shape(&scale, 1, &one), Err(WhatBroke::NoString { .. })));
    assert!(matches!(move_shape(&scale, i32::MIN, &neck), Err(WhatBroke::Nut { .. })));
    assert!(matches!(move_shape(&scale, i32::MAX, &neck), Err(WhatBroke::LastFret { .. })));
}

fn random_line(dice: &mut Dice, low: u8, high: u8) -> Vec<u8> {
    let mut midi = low + dice.below(u64::from(high - low) + 1) as u8;
    (0..3 + dice.below(12))
        .map(|_| {
            midi = (i64::from(midi) + dice.below(15) as i64 - 7).clamp(low.into(), high.into()) as u8;
            midi
        })
        .collect()
}

/// A capo, a retuned instrument: strings and notes a semitone up, everything lies where it was.
#[test]
fn retuned_by_a_semitone_nothing_moves() {
    let mut dice = Dice(21);
    for _ in 0..200 {
        let riff = midi_eighths(&random_line(&mut dice, 28, 63));
        let semitone = Interval::from_steps(1, 1);
        let (up, _) = transpose(&riff, semitone).unwrap();
        let neck = four();
        let strings = neck.strings().iter().map(|p| p.plus(semitone).unwrap()).collect();
        let retuned = Neck::new("half up", strings, neck.frets(), neck.scale_mm()).unwrap();
        let (a, b) =
            (fit(&riff, &neck, &Hand::default()).unwrap(), fit(&up, &retuned, &Hand::default()).unwrap());
        assert_eq!(a.notes, b.notes);
        assert_eq!(a.cost, b.cost);
    }
}

/// One fret up moves the whole fit. Fret spacing shrinks up the neck, so this is exact on a neck longer by a
/// semitone, `L · 2^(1/12)`, where every span one fret up is what it was, with the switch point a fret up too.
#[test]
fn one_fret_up_moves_the_whole_fit() {
    let mut dice = Dice(22);
    let neck = four();
    let longer = Neck::new(
        "longer",
        neck.strings().to_vec(),
        neck.frets() + 1,
        neck.scale_mm() * 2f64.powf(1.0 / 12.0),
    )
    .unwrap();
    let mut compared = 0;
    for _ in 0..300 {
        let line = random_line(&mut dice, 29, 62);
        let up: Vec<u8> = line.iter().map(|m| m + 1).collect();
        let here = fit(&midi_eighths(&line), &neck, &closed()).unwrap();
        let there = fit(&midi_eighths(&up), &longer, &closed().with_switch_fret(6)).unwrap();
        // Only what has no counterpart is left out: an open string here, the first fret there.
        let open = here.notes.iter().any(|n| n.touch == Touch::Open);
        if open || there.notes.iter().any(|n| n.position == 1) {
            continue;
        }
        compared += 1;
        assert_eq!(moved(&here, 1, &longer), there.notes, "{line:?}");
    }
    assert!(compared > 200, "{compared}");
}

/// On one and the same neck the spacing changes a little, and most fits still move as a whole.
#[test]
fn on_the_same_neck_most_fits_move_as_a_whole() {
    let mut dice = Dice(23);
    let neck = four();
    let (mut same, mut all) = (0, 0);
    for _ in 0..300 {
        // Low enough for the last fret, high enough for the first, one finger per fret all over.
        let line = random_line(&mut dice, 35, 56);
        let up: Vec<u8> = line.iter().map(|m| m + 1).collect();
        let hand = closed().with_switch_fret(1);
        let here = fit(&midi_eighths(&line), &neck, &hand).unwrap();
        let there = fit(&midi_eighths(&up), &neck, &hand).unwrap();
        all += 1;
        same += usize::from(move_shape(&here, 1, &neck).is_ok_and(|m| m == there.notes));
    }
    assert!(same * 10 >= all * 7, "{same} of {all}");
}

/// A mirrored neck is a picture; the hand's way over it is the same.
#[test]
fn left_handed_fits_are_the_same() {
    let riff = eighths("G1 A1 B1 C2 D2 E2 F#2 G2");
    let hand = Hand::default();
    assert_eq!(fit(&riff, &four(), &hand), fit(&riff, &four().left_handed(true), &hand));
}

/// More time never makes a line harder.
#[test]
fn slower_is_never_harder() {
    let mut dice = Dice(24);
    for _ in 0..100 {
        let notes: Vec<_> =
            random_line(&mut dice, 28, 63).into_iter().map(|m| Some(common::midi_note(m))).collect();
        let cost = |shape| fit(&riff_of(shape, &notes), &four(), &Hand::default()).unwrap().cost;
        let costs = [Shape::Sixteenth, Shape::Eighth, Shape::Quarter, Shape::Half].map(cost);
        assert!(costs.windows(2).all(|w| w[1] <= w[0] + 1e-9), "{costs:?}");
    }
}

#[test]
fn necks_with_odd_strings_and_frets() {
    let pitch = |m: u8| Pitch::from_midi(Midi::new(m).unwrap(), PitchName::simplest(m % 12)).unwrap();
    for (open, frets) in [(vec![28], 1), (vec![100, 20], 36), ((10..22).rev().collect(), 3), (vec![127], 36)]
    {
        let neck = Neck::new("odd", open.iter().map(|&m| pitch(m)).collect(), frets, 300.0).unwrap();
        let (low, high) = neck.range();
        let line: Vec<u8> = (low..=high).collect();
        let found = fit(&midi_eighths(&line), &neck, &Hand::small());
        let gap = line.iter().any(|&m| neck.places(Midi::new(m).unwrap()).is_empty());
        assert_eq!(found.is_err(), gap);
    }
}
