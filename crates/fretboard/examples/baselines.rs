//! The fit against two simple ways to lay a line on a neck, effort by effort:
//! `cargo run --release -p riffkin-fretboard --example baselines [lines]`.
#![allow(clippy::disallowed_methods, reason = "numbers come from the command line")]
#![allow(clippy::expect_used, reason = "an example may stop")]

#[path = "../tests/common/baselines.rs"]
mod baselines;
#[path = "../tests/common/mod.rs"]
mod common;
#[path = "../tests/common/lines.rs"]
mod lines;

use baselines::{Baseline, baseline, costs};
use riffkin_fretboard::fit::fit;
use riffkin_fretboard::hand::{Effort, Hand};
use riffkin_fretboard::neck::Neck;

fn main() {
    let count = std::env::args().nth(1).map_or(1000, |w| w.parse::<usize>().expect("a number"));
    let (neck, hand) = (Neck::named("four").expect("a named neck"), Hand::default());
    let mut dice = common::Dice(404);
    let mut sums = [[0.0; Effort::ALL.len()]; 3];
    let mut better = [0usize; 2];
    for _ in 0..count {
        let riff = lines::line(&mut dice, &neck);
        let movable = riff.line().iter().all(|n| neck.places(n.note.pitch.midi()).iter().any(|p| p.fret > 0));
        let ours = fit(&riff, &neck, &hand).expect("the line lies on the neck");
        let lowest = baseline(&riff, &neck, &hand, Baseline::LowestFret);
        let nearest = baseline(&riff, &neck, &hand, Baseline::NearestFret);
        let all = [&ours, &lowest, &nearest].map(|f| costs(f, &hand, movable));
        for (sum, costs) in sums.iter_mut().zip(&all) {
            for (s, c) in sum.iter_mut().zip(costs) {
                *s += c / count as f64;
            }
        }
        let total = |k: usize| all[k].iter().sum::<f64>();
        for (k, better) in better.iter_mut().enumerate() {
            *better += usize::from(total(0) < total(k + 1) - 1e-9);
        }
    }
    println!("mean cost of a line, {count} lines of 12 to 28 notes, four strings\n");
    println!("{:44} {:>7} {:>7} {:>8}", "", "fit", "lowest", "nearest");
    for (e, effort) in Effort::ALL.into_iter().enumerate() {
        let [a, b, c] = [sums[0][e], sums[1][e], sums[2][e]];
        let lost = if a > b + 1e-9 || a > c + 1e-9 { "  not beaten" } else { "" };
        println!("{:44} {a:>7.2} {b:>7.2} {c:>8.2}{lost}", effort.name());
    }
    let sum = |k: usize| sums[k].iter().sum::<f64>();
    println!("{:44} {:>7.2} {:>7.2} {:>8.2}", "all", sum(0), sum(1), sum(2));
    println!("\ncheaper than lowest fret on {} lines, than nearest fret on {}", better[0], better[1]);
}
