//! Moving shapes, and what must move with them.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_eighths, riff_of};
use riffkin_fretboard::block::{Block, WhatBroke, move_block, move_shape, written_moves};
use riffkin_fretboard::fit::{Fit, FittedNote, Touch, fit, written_into};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::way::{Toward, to_key};
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
    assert!(matches!(low, WhatBroke::Nut { place: Place { string: 4, fret: 3 }, frets: -2, .. }), "{low}");
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

/// Common practice: D minor at fret 5 of the A string is G minor at fret 3 of the E string, the same shape one string
/// lower; with open strings too, a string apart.
#[test]
fn a_shape_goes_to_other_strings_where_it_cannot_stay_on_its_own() {
    let neck = four();
    let shape = fit(&eighths("D2 F2 G2 A2 C3 D3"), &neck, &closed()).unwrap();
    assert_eq!(shape.notes[0].place, Place { string: 3, fret: 5 });
    let down = move_block(&shape, -7, &neck).unwrap();
    assert_eq!((down.strings, down.frets, down.words().as_str()), (-1, -2, "one string lower, 2 frets down"));
    assert_eq!(down.notes[0].place, Place { string: 4, fret: 3 });
    for (moved, before) in down.notes.iter().zip(&shape.notes) {
        let sounding = |n: &FittedNote| i32::from(neck.sounding(n.place).unwrap().number());
        assert_eq!(sounding(moved) - sounding(before), -7);
        assert_eq!(moved.finger, before.finger);
    }
    let up = move_block(&shape, 3, &neck).unwrap();
    assert_eq!((up.strings, up.words().as_str()), (0, "3 frets up on the same strings"));
    // An open E is an open A a fourth higher.
    let open = fit(&eighths("E1 G1 E1"), &neck, &Hand::default()).unwrap();
    assert_eq!(open.notes[0].touch, Touch::Open);
    let Block { strings, frets, notes } = move_block(&open, 5, &neck).unwrap();
    assert_eq!((strings, frets, notes[0].place), (1, 0, Place { string: 3, fret: 0 }));
    // Two semitones higher it is open on no string: what broke is said of its own strings.
    let broke = move_block(&open, 2, &neck).unwrap_err();
    assert_eq!(broke.to_string(), "at bar 1, beat 1 the open string 4 cannot move with the shape");
}

/// Whatever moves as a block sounds what it should, on every neck, and nothing leaves the neck.
#[test]
fn moved_blocks_sound_the_transposed_line() {
    let mut dice = Dice(29);
    let (mut on_own, mut on_others, mut refused) = (0, 0, 0);
    for i in 0..300 {
        let neck = Neck::named(Neck::NAMES[i % Neck::NAMES.len()]).unwrap();
        let (low, high) = neck.range();
        let riff = midi_eighths(&random_line(&mut dice, low, high.min(low + 24)));
        let before = fit(&riff, &neck, &Hand::default()).unwrap();
        let semitones = dice.below(25) as i32 - 12;
        match move_block(&before, semitones, &neck) {
            Ok(block) => {
                if block.strings == 0 {
                    on_own += 1
                } else {
                    on_others += 1
                }
                for (a, b) in block.notes.iter().zip(&before.notes) {
                    let sounding = |n: &FittedNote| i32::from(neck.sounding(n.place).unwrap().number());
                    assert_eq!(sounding(a), sounding(b) + semitones);
                }
            }
            Err(broke) => {
                refused += 1;
                assert!(move_shape(&before, semitones, &neck).is_err(), "{broke}");
            }
        }
    }
    assert!(on_own > 30 && on_others > 10 && refused > 30, "{on_own} {on_others} {refused}");
}

#[test]
fn written_places_say_what_stops_them() {
    let at = |string, fret, name: &str| {
        let mut note = riffkin_score::note::Note::plain(name.parse().unwrap());
        note.place = Some(Place { string, fret });
        Some(note)
    };
    let riff = riff_of(Shape::Quarter, &[at(4, 3, "G1"), None, at(3, 5, "D2")]);
    assert!(written_moves(&riff, 2, &four()).is_ok() && written_moves(&riff, -2, &four()).is_ok());
    let words = |semitones: i32, neck: &Neck| written_moves(&riff, semitones, neck).unwrap_err().to_string();
    assert_eq!(
        words(-3, &four()),
        "at bar 1, beat 1 the shape meets the nut: string 4, fret 3 cannot move 3 frets down"
    );
    assert_eq!(
        words(16, &four()),
        "at bar 1, beat 3 the shape passes the last fret, 20: string 3, fret 5 cannot move 16 frets up"
    );
    let open = riff_of(Shape::Quarter, &[at(4, 0, "E1")]);
    assert!(written_moves(&open, 0, &four()).is_ok());
    assert!(matches!(written_moves(&open, 1, &four()), Err(WhatBroke::OpenString { .. })));
}

/// There and back is the identity by the nearer way, wherever the neck holds the riff.
#[test]
fn by_the_nearer_way_there_and_back_is_the_identity() {
    let mut dice = Dice(41);
    let neck = Neck::named("five").unwrap();
    let names = ["C", "G", "D", "A", "E", "B", "F#", "Db", "Ab", "Eb", "Bb", "F"];
    let mut compared = 0;
    for _ in 0..200 {
        let riff = midi_eighths(&random_line(&mut dice, 30, 60));
        let (from, to) = (names[dice.below(12) as usize], names[dice.below(12) as usize]);
        let (from, to): (PitchName, PitchName) = (from.parse().unwrap(), to.parse().unwrap());
        let there = to_key(&riff, from, to, Some(&neck), Toward::Near).unwrap();
        if there.instead.is_some() || !there.off.is_empty() || there.by.semitones().abs() > 6 {
            continue;
        }
        compared += 1;
        let back = to_key(&there.riff, to, from, Some(&neck), Toward::Near).unwrap();
        if there.by.semitones().abs() < 6 {
            let midi = |r: &riffkin_score::riff::Riff| {
                r.line().iter().map(|n| n.note.pitch.midi()).collect::<Vec<_>>()
            };
            assert_eq!(midi(&back.riff), midi(&riff));
        }
    }
    assert!(compared > 100, "{compared}");
}

/// For a class everybody's roots lie low and in one place; one riff goes the nearer way; what is asked for is done.
#[test]
fn the_way_to_a_key() {
    let neck = four();
    let d = eighths("D2 F2 G2 A2 C3 D3 A2 D2");
    let to = |toward, neck: Option<&Neck>| {
        to_key(&d, "D".parse().unwrap(), "G".parse().unwrap(), neck, toward).unwrap()
    };
    assert_eq!(to(Toward::Near, Some(&neck)).by.semitones(), 5);
    assert_eq!(to(Toward::Low, Some(&neck)).by.semitones(), -7);
    assert_eq!(to(Toward::Up, Some(&neck)).by.semitones(), 5);
    assert_eq!(to(Toward::Down, None).by.semitones(), -7);
    // A line that would lie below the neck for the most part goes an octave higher, and nothing need be said of it;
    // one note below it does not send the others there.
    let low = to_key(
        &eighths("G1 Bb1 C2 D2"),
        "G".parse().unwrap(),
        "C".parse().unwrap(),
        Some(&neck),
        Toward::Low,
    );
    let low = low.unwrap();
    assert_eq!((low.by.semitones(), low.off.len(), low.instead), (5, 0, None));
    let line = eighths("C2 Eb2 F2 G2 Bb2 C3 Bb2 G2 C2 Eb2 F2 G2 Bb2 C3 Ab1 C2");
    let one = to_key(&line, "C".parse().unwrap(), "G".parse().unwrap(), Some(&neck), Toward::Low).unwrap();
    assert_eq!((one.by.semitones(), one.off.as_slice()), (-5, &[14][..]));
}
