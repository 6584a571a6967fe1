//! Choices of the fit against exhaustive search on many random lines of up to eight notes:
//! `cargo run --release -p riffkin-fretboard --example exhaustive [lines] [seed]`.
#![allow(clippy::disallowed_methods, reason = "numbers come from the command line")]
#![allow(clippy::expect_used, reason = "an example may stop")]

#[path = "../tests/common/mod.rs"]
mod common;
#[path = "../tests/common/oracle.rs"]
mod oracle;

use oracle::Oracle;
use riffkin_fretboard::fit::best;

fn main() {
    let mut words = std::env::args().skip(1).map(|w| w.parse::<u64>().expect("a number"));
    let lines = words.next().unwrap_or(2000);
    let mut dice = common::Dice(words.next().unwrap_or(5));
    let necks = oracle::necks();
    let (mut notes, mut choices, mut wrong) = (0, 0, 0);
    for i in 0..lines {
        let neck = &necks[i as usize % necks.len()];
        let hand = oracle::hand(&mut dice);
        let riff = oracle::line(&mut dice, neck, 8);
        let found = best(&riff, neck, &hand, 3).expect("the line lies on the neck");
        notes += riff.line().len();
        choices += found.len();
        if let Err(why) = Oracle::judge(&riff, neck, &hand, 3, &found) {
            wrong += 1;
            println!("line {i}: {why}");
        }
    }
    println!("{lines} lines on {} necks, {notes} notes, {choices} choices: {wrong} wrong", necks.len());
}
