//! How well a taste is learned: teachers are made up whose weights differ from the usual ones up to fourfold, each
//! corrects some riffs, and what was learned is tried on riffs that were held back.
//! `cargo run --release -p riffkin-fretboard --example hidden_teacher [teachers] [riffs] [first]`.
#![allow(clippy::disallowed_methods, reason = "numbers come from the command line")]
#![allow(clippy::expect_used, reason = "an example may stop")]

#[path = "../tests/common/mod.rs"]
mod common;
#[path = "../tests/common/lines.rs"]
mod lines;

use riffkin_fretboard::fit::{fit, written_into};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::{Agreement, Corrected, agreement, learn};
use riffkin_score::riff::Riff;

/// Riffs held back for each teacher.
const HELD_BACK: usize = 200;

fn main() {
    let mut words = std::env::args().skip(1).map(|w| w.parse::<usize>().expect("a number"));
    let (teachers, riffs) = (words.next().unwrap_or(20), words.next().unwrap_or(30));
    let first = words.next().unwrap_or(3000) as u64;
    let neck = Neck::named("four").expect("a named neck");
    println!(
        "{:>7} {:>16} {:>16}   (string and fret / and finger, on {HELD_BACK} riffs held back)",
        "teacher", "usual", "learned"
    );
    let (mut before, mut after, mut good) = ([0.0; 2], [0.0; 2], 0);
    for seed in 0..teachers as u64 {
        let hand = Hand::default().with_weights(lines::teacher(first + seed));
        let mut dice = common::Dice(77 * (first + seed) + 3);
        let mut corrected = |count| -> Vec<Riff> {
            let made = std::iter::repeat_with(|| lines::line(&mut dice, &neck)).filter_map(|riff| {
                let fit = fit(&riff, &neck, &hand).ok()?;
                written_into(&riff, &fit.notes).ok()
            });
            made.take(count).collect()
        };
        let (taught, held) = (corrected(riffs), corrected(HELD_BACK));
        let learned = learn(&with(&taught, &neck), &Hand::default()).expect("they lie on the neck");
        let tried = |hand: &Hand| -> Agreement {
            agreement(&with(&held, &neck), hand).expect("they lie on the neck")
        };
        let (a, b) = (tried(&Hand::default()), tried(&Hand::default().with_weights(learned.taste)));
        let (a, b) = ([a.of_places(), a.of_fingers()], [b.of_places(), b.of_fingers()]);
        println!("{seed:>7} {:>7.3} {:>8.3} {:>7.3} {:>8.3}", a[0], a[1], b[0], b[1]);
        for i in 0..2 {
            before[i] += a[i] / teachers as f64;
            after[i] += b[i] / teachers as f64;
        }
        good += usize::from(b[0] >= 0.9);
    }
    println!("{:>7} {:>7.3} {:>8.3} {:>7.3} {:>8.3}", "mean", before[0], before[1], after[0], after[1]);
    println!("{good} of {teachers} teachers at 0.9 or more, from {riffs} riffs each");
}

fn with<'a>(riffs: &'a [Riff], neck: &'a Neck) -> Vec<Corrected<'a>> {
    riffs.iter().map(|riff| Corrected { riff, neck }).collect()
}
