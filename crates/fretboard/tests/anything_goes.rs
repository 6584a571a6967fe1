//! Riffs and necks without sense: no panic, no silence, and what is promised still holds.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, midi_note, riff_of};
use riffkin_fretboard::adapt::{adapt, adapted};
use riffkin_fretboard::block::move_shape;
use riffkin_fretboard::fit::{Touch, alike, best, fit, missing, wished, written_into};
use riffkin_fretboard::hand::{Effort, Hand, HandError, Level, OpenStrings, Plucking, Weights};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::{Corrected, learn};
use riffkin_fretboard::wishes::Wish;
use riffkin_score::note::{Approach, Mark, Note, Place};
use riffkin_score::riff::Riff;
use riffkin_score::value::Shape;

fn note(dice: &mut Dice) -> Note {
    let mut note = midi_note(dice.below(128) as u8);
    note.approach =
        [Approach::Plucked, Approach::Hammer, Approach::Pull, Approach::Slide, Approach::SlidePlucked]
            [dice.below(5) as usize];
    note.marks = Mark::ALL.into_iter().filter(|_| dice.one_in(8)).collect();
    note.bend = dice.below(9) as u8;
    if dice.one_in(3) {
        note.place = Some(Place { string: 1 + dice.below(12) as u8, fret: dice.below(37) as u8 });
    }
    if dice.one_in(3) {
        note.finger = Some(dice.below(5) as u8);
    }
    note
}

fn riff(dice: &mut Dice, neck: &Neck) -> Riff {
    let (low, high) = neck.range();
    // Half of the riffs stay on the neck.
    let stay = dice.one_in(2);
    let notes: Vec<Option<Note>> = (0..1 + dice.below(20))
        .map(|_| {
            let mut note = note(dice);
            if stay {
                note.pitch = midi_note(low + dice.below(u64::from(high - low) + 1) as u8).pitch;
            }
            (!dice.one_in(5)).then_some(note)
        })
        .collect();
    riff_of(Shape::ALL[1 + dice.below(7) as usize], &notes)
}

fn neck(dice: &mut Dice) -> Neck {
    let mut midi = 40 + dice.below(30);
    let mut strings = vec![midi_note(midi as u8).pitch];
    while strings.len() < 12 && !dice.one_in(5) && midi > 12 {
        midi -= 1 + dice.below(9);
        strings.push(midi_note(midi as u8).pitch);
    }
    Neck::new("any", strings, 1 + dice.below(36) as u8, 300.0 + dice.below(900) as f64).unwrap()
}

fn hand(dice: &mut Dice) -> Hand {
    let comfortable = 40.0 + dice.below(100) as f64;
    let open = [OpenStrings::Welcome, OpenStrings::Sparing, OpenStrings::Refused][dice.below(3) as usize];
    Hand::default()
        .with_span(comfortable, comfortable + dice.below(60) as f64)
        .unwrap()
        .with_open_strings(open)
        .with_switch_fret(dice.below(40) as u8)
}

#[test]
fn promises_hold_for_any_riff_neck_and_hand() {
    let mut dice = Dice(41);
    let (mut placed, mut off) = (0, 0);
    for i in 0..400 {
        let neck = neck(&mut dice);
        let riff = riff(&mut dice, &neck);
        let hand = hand(&mut dice);
        let found = best(&riff, &neck, &hand, 3);
        assert_eq!(found.is_ok(), missing(&riff, &neck).is_empty(), "riff {i}");
        match found {
            Err(_) => {
                off += 1;
                for offer in adapt(&riff, &neck) {
                    assert!(fit(&offer.riff, &offer.neck, &hand).is_ok(), "riff {i}: {:?}", offer.kind);
                    assert!(!offer.changes.is_empty());
                }
                assert!(!adapted(&riff, &neck).1.is_empty());
            }
            Ok(fits) => {
                placed += 1;
                let line = riff.line();
                for fit in &fits {
                    let sum: f64 = fit.efforts.iter().map(|&(e, amount)| amount * hand.weight(e)).sum();
                    assert_eq!(sum, fit.cost);
                    assert_eq!(fit.notes.len(), line.len());
                    for (note, wanted) in fit.notes.iter().zip(&line) {
                        let sounds = neck.sounding(note.place).unwrap();
                        if matches!(note.touch, Touch::Stopped | Touch::Open) {
                            assert_eq!(sounds, wanted.note.pitch.midi(), "riff {i}");
                        }
                        // A wish is kept or its note is named in a warning.
                        let at = note.at.to_string();
                        let kept = wanted.note.place.is_none_or(|p| p == note.place)
                            && (wanted.is_dead() || wanted.note.finger.is_none_or(|f| f == note.finger));
                        assert!(kept || fit.warnings.iter().any(|w| w.place == at), "riff {i} at {at}");
                    }
                    assert!(fit.reasons.iter().all(|r| !r.is_empty()));
                    for semitones in [-3, 0, 5] {
                        if let Ok(moved) = move_shape(fit, semitones, &neck) {
                            assert!(moved.iter().all(|n| neck.sounding(n.place).is_some() && n.position > 0));
                        }
                    }
                    let again = written_into(&riff, &fit.notes).unwrap();
                    assert_eq!(again.line().len(), line.len());
                }
                assert!(fits.windows(2).all(|w| w[0].cost <= w[1].cost + 1e-9));
            }
        }
    }
    assert!(placed > 50 && off > 50, "{placed} placed, {off} off the neck");
}

#[test]
fn six_hundred_bars() {
    let neck = Neck::named("four").unwrap();
    let mut dice = Dice(42);
    let notes: Vec<Option<Note>> =
        (0..4800).map(|_| (!dice.one_in(6)).then(|| midi_note(28 + dice.below(36) as u8))).collect();
    let riff = riff_of(Shape::Eighth, &notes);
    assert_eq!(riff.bars().len(), 600);
    let fit = fit(&riff, &neck, &Hand::default()).unwrap();
    assert_eq!(fit.notes.len(), riff.line().len());
}

#[test]
fn hands_and_weights_out_of_range() {
    assert!(matches!(Hand::default().with_span(110.0, 100.0), Err(HandError::Span { .. })));
    assert!(Hand::default().with_span(f64::NAN, 100.0).is_err());
    assert!(Hand::default().with_span(100.0, f64::INFINITY).is_err());
    for weight in [-1.0, f64::NAN, f64::INFINITY] {
        assert!(Weights::default().with(Effort::Shift, weight).is_err());
    }
    // A taste changes the fit: with shifts for nothing and stretches dear, the scale leaves its position.
    let riff = common::eighths("G1 A1 B1 C2 D2 E2 F#2 G2");
    let neck = Neck::named("four").unwrap();
    let taste = Weights::default()
        .with(Effort::Shift, 0.0)
        .and_then(|w| w.with(Effort::ShiftSpeed, 0.0))
        .and_then(|w| w.with(Effort::Stretch, 50.0))
        .unwrap();
    let amount = |hand: &Hand, effort| {
        let fit = fit(&riff, &neck, hand).unwrap();
        fit.efforts.iter().find(|e| e.0 == effort).map_or(0.0, |e| e.1)
    };
    let other = Hand::default().with_weights(taste).with_level(Level::Advanced);
    assert_eq!(amount(&Hand::default(), Effort::Shift), 0.0);
    assert!(amount(&other, Effort::Shift) > 0.0 && amount(&other, Effort::Stretch) == 0.0);
}

#[test]
fn wishes_figures_and_taste_stand_anything() {
    let mut dice = Dice(43);
    let (mut fitted, mut alike_in_all, mut learned) = (0, 0, 0);
    for i in 0..150 {
        let neck = neck(&mut dice);
        let hand = hand(&mut dice)
            .with_plucking([Plucking::Any, Plucking::Alternating, Plucking::Raking][dice.below(3) as usize]);
        let riff = riff(&mut dice, &neck);
        let wishes: Vec<Wish> =
            ["frets 2 to 9", "string 2", "no open strings", "open strings", "position 3", "finger 2"]
                .iter()
                .filter(|_| dice.one_in(4))
                .map(|w| w.parse().unwrap())
                .collect();
        match wished(&riff, &neck, &hand, &wishes, 4) {
            Ok(fits) => {
                fitted += 1;
                assert!(fits.windows(2).all(|w| w[0].cost <= w[1].cost + 1e-6), "riff {i}");
                assert!(fits.iter().all(|f| f.cost.is_finite() && f.notes.len() == riff.line().len()));
            }
            Err(e) => assert!(!e.to_string().is_empty()),
        }
        if let Ok(together) = alike(&[&riff, &riff], &neck, &hand, 2.0) {
            alike_in_all += 1;
            let places = |k: usize| together.fits[k].notes.iter().map(|n| n.place).collect::<Vec<_>>();
            assert_eq!(places(0), places(1), "riff {i}: twice the same riff");
        }
        if let Ok(found) = learn(&[Corrected { riff: &riff, neck: &neck }], &hand) {
            learned += 1;
            assert!(Effort::ALL.iter().all(|&e| (0.0..=Weights::LIMIT).contains(&found.taste.of(e))));
        }
    }
    assert!(fitted > 20 && alike_in_all > 50 && learned > 50, "{fitted} {alike_in_all} {learned}");
}
