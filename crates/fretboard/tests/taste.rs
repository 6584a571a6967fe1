//! A hidden teacher's weights, learned from corrected riffs.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;
#[path = "common/lines.rs"]
mod lines;

use common::Dice;
use riffkin_fretboard::fit::{fit, written_into};
use riffkin_fretboard::hand::{Effort, Hand, Weights};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::{Corrected, agreement, in_words, learn};
use riffkin_score::riff::Riff;

fn corrected_by(hand: &Hand, dice: &mut Dice, count: usize, neck: &Neck) -> Vec<Riff> {
    let made = std::iter::repeat_with(|| {
        let riff = lines::line(dice, neck);
        let notes = fit(&riff, neck, hand).unwrap().notes;
        written_into(&riff, &notes).unwrap()
    });
    made.take(count).collect()
}

fn with<'a>(riffs: &'a [Riff], neck: &'a Neck) -> Vec<Corrected<'a>> {
    riffs.iter().map(|riff| Corrected { riff, neck }).collect()
}

/// Many teachers are tried by `cargo run --release -p riffkin-fretboard --example hidden_teacher`.
#[test]
fn a_teacher_of_another_mind_is_understood() {
    let neck = Neck::named("four").unwrap();
    let hand = Hand::default().with_weights(lines::teacher(1004));
    let mut dice = Dice(9);
    let taught = corrected_by(&hand, &mut dice, 30, &neck);
    let held_back = corrected_by(&hand, &mut dice, 60, &neck);
    let learned = learn(&with(&taught, &neck), &Hand::default()).unwrap();
    assert!(learned.after.of_places() > learned.before.of_places());
    let tried =
        |taste: Weights| agreement(&with(&held_back, &neck), &Hand::default().with_weights(taste)).unwrap();
    let (before, after) = (tried(Weights::default()), tried(learned.taste));
    assert!(after.of_places() >= 0.9, "{before:?} {after:?}");
    assert!(before.of_places() < 0.85, "{before:?}");
    assert!(!in_words(&learned.taste).is_empty());
    // The same corrections, the same taste.
    assert_eq!(
        learn(&with(&taught[..3], &neck), &hand).unwrap(),
        learn(&with(&taught[..3], &neck), &hand).unwrap()
    );
}

#[test]
fn who_corrects_nothing_keeps_the_usual_taste() {
    let neck = Neck::named("four").unwrap();
    let learned = learn(&[], &Hand::default()).unwrap();
    assert_eq!(learned.taste, Weights::default());
    assert!(in_words(&learned.taste).is_empty());
    // Nor does who agrees with every fit move any weight far.
    let riffs = corrected_by(&Hand::default(), &mut Dice(2), 6, &neck);
    let learned = learn(&with(&riffs, &neck), &Hand::default()).unwrap();
    assert_eq!(learned.before.of_places(), 1.0);
    assert!(learned.after.of_places() > 0.97, "{learned:?}");
    assert!(Effort::ALL.iter().all(|&e| learned.taste.of(e) >= 0.0));
}
