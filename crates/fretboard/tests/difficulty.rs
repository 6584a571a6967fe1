//! How difficult a riff is, and why.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_eighths, notes, riff_of};
use riffkin_fretboard::difficulty::{Demand, Difficulty, HARDEST, difficulty};
use riffkin_fretboard::fit::{Touch, fit};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Mark, Place};
use riffkin_score::riff::{Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::value::Shape;

fn graded(riff: &Riff) -> Difficulty {
    let (neck, hand) = (Neck::named("four").unwrap(), Hand::default());
    difficulty(riff, &fit(riff, &neck, &hand).unwrap(), &neck, &hand)
}

fn at_tempo(riff: &Riff, tempo: f64) -> Riff {
    riff.with_header(Header { tempo: Tempo::quarters(tempo).unwrap(), ..riff.header().clone() })
}

fn level(found: &Difficulty, demand: Demand) -> u8 {
    found.reasons().iter().find(|r| r.demand == demand).unwrap().level
}

fn amount(found: &Difficulty, demand: Demand) -> f64 {
    found.reasons().iter().find(|r| r.demand == demand).unwrap().amount
}

#[test]
fn roots_in_quarters_are_first_steps() {
    let found = graded(&at_tempo(&riff_of(Shape::Quarter, &notes("A1 A1 A1 A1")), 80.0));
    assert_eq!((found.level(), found.name()), (1, "first steps"));
    assert_eq!(
        found.words(),
        [
            "level 1 of 5, first steps: up to 1.3 notes a second, from bar 1, beat 1; no stretch; the hand stays in one \
             position; no string is skipped; plain plucking; nothing is syncopated; note values: quarters"
        ]
    );
}

/// Eighths at 120 are four notes a second, sixteenths eight (arithmetic); the amounts are those of the line.
#[test]
fn speed_is_counted_in_notes_a_second() {
    let line = eighths("A1 A1 A1 A1 A1 A1 A1 A1");
    for (tempo, speed, wanted) in [
        (60.0, 2.0, 1),
        (120.0, 4.0, 2),
        (121.0, 121.0 / 30.0, 3),
        (180.0, 6.0, 3),
        (240.0, 8.0, 4),
        (300.0, 10.0, 5),
    ] {
        let found = graded(&at_tempo(&line, tempo));
        assert!((amount(&found, Demand::Speed) - speed).abs() < 1e-9);
        assert_eq!(level(&found, Demand::Speed), wanted, "{tempo}");
    }
}

/// On 34 inches frets 1 to 4 span 129.7 mm and frets 5 to 8 102.9 (the rule of the 12th root of 2).
#[test]
fn stretch_is_measured_in_millimetres() {
    let (neck, hand) = (Neck::named("four").unwrap(), Hand::default());
    let on = |frets: [u8; 4]| {
        let places = frets.map(|fret| Place { string: 4, fret });
        let numbers = places.map(|place| neck.sounding(place).unwrap().number());
        let riff = at_tempo(&midi_eighths(&numbers), 60.0);
        // One finger per fret, whatever the fit would rather do.
        let mut own = fit(&riff, &neck, &hand).unwrap();
        for ((note, place), finger) in own.notes.iter_mut().zip(places).zip(1..) {
            (note.place, note.finger, note.position, note.touch) = (place, finger, frets[0], Touch::Stopped);
        }
        difficulty(&riff, &own, &neck, &hand)
    };
    for (frets, mm, wanted) in
        [([1, 2, 3, 4], 129.7, 3), ([5, 6, 7, 8], 102.9, 2), ([12, 13, 14, 15], 68.7, 1)]
    {
        let found = on(frets);
        assert!((amount(&found, Demand::Stretch) - mm).abs() < 0.1, "{:?}", found.words());
        assert_eq!(level(&found, Demand::Stretch), wanted);
    }
    assert!(on([1, 2, 3, 4]).words()[0].contains("a reach of 130 mm (frets 1 to 4) at bar 1, beat 2 1/2"));
}

#[test]
fn techniques_skips_and_syncopation_have_their_words() {
    let mut line = notes("G1 G1 - G2 - G1 G2 -");
    line[1].as_mut().unwrap().marks = [Mark::Slap].into_iter().collect();
    let found = graded(&at_tempo(&riff_of(Shape::Eighth, &line), 100.0));
    assert_eq!(level(&found, Demand::Techniques), 4);
    assert_eq!(found.level(), 4, "{:?}", found.words());
    let words = found.words().join("\n");
    assert!(words.contains("1 slapped note") && words.contains("also: "), "{words}");
    assert!(words.contains("strings are skipped 3 times"), "{words}");
    assert!(words.contains("of 5 notes are syncopated"), "{words}");
}

/// A level never stands alone, the reasons are sorted, and the same line faster is never easier.
#[test]
fn faster_is_never_easier() {
    let mut dice = Dice(5);
    for _ in 0..40 {
        let numbers: Vec<u8> = (0..8).map(|_| 28 + dice.below(24) as u8).collect();
        let riff = midi_eighths(&numbers);
        // One fit for both tempi: a fit may change with the tempo, the demands of one fit may not fall.
        let (neck, hand) = (Neck::named("four").unwrap(), Hand::default());
        let slow = at_tempo(&riff, 70.0);
        let own = fit(&slow, &neck, &hand).unwrap();
        let (slow, fast) =
            (difficulty(&slow, &own, &neck, &hand), difficulty(&at_tempo(&riff, 140.0), &own, &neck, &hand));
        assert!(slow.level() <= fast.level());
        for demand in [Demand::Speed, Demand::Shifts, Demand::StringSkips] {
            // Twice the tempo is at least as hard; a gap that was a rest in which the hand is free may shrink.
            assert!(level(&slow, demand) <= level(&fast, demand));
        }
        for found in [&slow, &fast] {
            assert!((1..=HARDEST).contains(&found.level()) && found.reasons().len() == 7);
            assert!(found.reasons().is_sorted_by(|a, b| a.level >= b.level));
            assert!(found.reasons().iter().all(|r| !r.words.is_empty()));
            assert!(found.words()[0].starts_with(&format!("level {} of 5, ", found.level())));
            let hardest = found.reasons()[0].level;
            assert!(
                found.level() == hardest
                    || (found.level() == hardest + 1 && hardest >= 3 && found.deciding().len() >= 3)
            );
        }
    }
}

#[test]
fn nothing_but_rests() {
    let found = graded(&riff_of(Shape::Quarter, &notes("-")));
    assert_eq!(found.level(), 1);
    assert!(found.words()[0].contains("nothing is played"));
}
