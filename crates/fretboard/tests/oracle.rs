//! The fit against exhaustive search.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;
#[path = "common/oracle.rs"]
mod oracle;

use common::Dice;
use oracle::{Oracle, hand, line, necks, ways_of};
use riffkin_fretboard::fit::{Touch, best, fit};
use riffkin_fretboard::neck::Neck;

#[test]
fn equals_exhaustive_search() {
    let mut dice = Dice(7);
    let necks = necks();
    let (mut tried, mut notes) = (0, 0);
    for i in 0..400 {
        let neck = &necks[i % necks.len()];
        let hand = hand(&mut dice);
        let riff = line(&mut dice, neck, 8);
        let found = fit(&riff, neck, &hand).unwrap();
        let oracle = Oracle::new(&riff, neck, &hand);
        let cost = oracle.cost(&ways_of(&found)).unwrap();
        assert!((cost - found.cost).abs() < 1e-9, "line {i}: {cost} is not {}", found.cost);
        let least = oracle.least();
        assert!((least - found.cost).abs() < 1e-9, "line {i}: {least} is less than {}", found.cost);
        tried += 1;
        notes += found.notes.len();
    }
    assert!(tried == 400 && notes > 1600, "{tried} lines, {notes} notes");
}

/// Two thousand of these are tried by `cargo run --release -p riffkin-fretboard --example exhaustive`.
#[test]
fn choices_equal_exhaustive_search() {
    let mut dice = Dice(11);
    let necks = necks();
    let mut choices = 0;
    for i in 0..150 {
        let neck = &necks[i % necks.len()];
        let hand = hand(&mut dice);
        let riff = line(&mut dice, neck, 6);
        let found = best(&riff, neck, &hand, 4).unwrap();
        choices += found.len();
        if let Err(why) = Oracle::judge(&riff, neck, &hand, 4, &found) {
            unreachable!("line {i}: {why}");
        }
    }
    assert!(choices > 300, "{choices}");
}

#[test]
fn every_note_sounds_its_pitch_and_every_written_place_stands() {
    let mut dice = Dice(3);
    for i in 0..600 {
        let neck = Neck::named(Neck::NAMES[i % Neck::NAMES.len()]).unwrap();
        let hand = hand(&mut dice);
        let riff = line(&mut dice, &neck, 40);
        for fit in best(&riff, &neck, &hand, 2).unwrap() {
            let line = riff.line();
            assert_eq!(fit.notes.len(), line.len());
            for (note, wanted) in fit.notes.iter().zip(&line) {
                if note.touch == Touch::Dead {
                    assert!(wanted.is_dead() && neck.sounding(note.place).is_some());
                    continue;
                }
                assert_eq!(neck.sounding(note.place), Some(wanted.note.pitch.midi()), "line {i}");
                assert_eq!(note.finger == 0, note.place.fret == 0);
                if let Some(place) = wanted.note.place {
                    assert_eq!(note.place, place, "line {i}");
                }
            }
        }
    }
}
