//! How fast kin are found on a shelf of a million riffs, how much memory that takes, and whether what is found is
//! what reading every riff would find.
//!
//! `cargo run --release -p riffkin-kin --example million [RIFFS]`

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    clippy::expect_used,
    reason = "a measurement needs a clock, and stops where it fails"
)]

mod shelf;

use std::time::Instant;

use riffkin_kin::align::Extent;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::index::Index;
use riffkin_kin::stretches::Stretches;
use shelf::Dice;

fn main() {
    let count: usize = std::env::args().nth(1).and_then(|n| n.parse().ok()).unwrap_or(1_000_000);
    let start = Instant::now();
    let bytes: Vec<Vec<u8>> = shelf::shelf(1, count).map(|(_, imprint)| imprint.to_bytes()).collect();
    let kept: usize = bytes.iter().map(Vec::len).sum();
    println!(
        "{count} riffs made up in {:.1} s; {:.1} bytes of imprint each",
        start.elapsed().as_secs_f64(),
        kept as f64 / count as f64
    );
    let start = Instant::now();
    let index = Index::build_from(
        (0u64..).zip(&bytes).map(|(n, b)| (n, Imprint::from_bytes(b).expect("written above"))),
    );
    println!(
        "index built from imprint bytes in {:.2} s; {:.1} bytes a riff",
        start.elapsed().as_secs_f64(),
        index.bytes() as f64 / count as f64
    );
    let mut dice = Dice(77);
    for (what, extent) in [("whole", Extent::Whole), ("part", Extent::Part)] {
        for stranger in [false, true] {
            let mut times = Vec::new();
            let mut aligned = Vec::new();
            let mut costs = Vec::new();
            for _ in 0..100 {
                let query = if stranger {
                    let line = shelf::family(&mut dice);
                    let query = Stretches::of(&shelf::imprint(&line, 3));
                    if extent == Extent::Part { snippet(&mut dice, &query) } else { query }
                } else if extent == Extent::Part {
                    let query = Stretches::of(
                        &Imprint::from_bytes(&bytes[dice.below(count)]).expect("written above"),
                    );
                    snippet(&mut dice, &query)
                } else {
                    Stretches::of(&Imprint::from_bytes(&bytes[dice.below(count)]).expect("written above"))
                };
                let before = cpu_ms();
                let found = index.nearest(&query, extent, 10);
                times.push(cpu_ms() - before);
                aligned.push(found.aligned);
                costs.push(found.hits.last().map_or(0, |h| h.cost));
            }
            times.sort_by(f64::total_cmp);
            aligned.sort_unstable();
            costs.sort_unstable();
            println!(
                "{what} stranger={stranger}: p50 {:.1} p95 {:.1} max {:.1} ms; aligned p50 {} p95 {} max {}; kth cost p50 {} p95 {} max {}",
                times[50],
                times[95],
                times[99],
                aligned[50],
                aligned[95],
                aligned[99],
                costs[50],
                costs[95],
                costs[99]
            );
        }
    }
}

/// Milliseconds that this thread has been computing (Linux), so that other programs do not count.
fn cpu_ms() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let ns: f64 = text.split_whitespace().next().and_then(|n| n.parse().ok()).unwrap_or(f64::NAN);
    ns / 1e6
}

/// Five to twelve stretches on end.
fn snippet(dice: &mut Dice, of: &Stretches) -> Stretches {
    let wanted = (5 + dice.below(8)).min(of.line().len());
    let from = dice.below(of.line().len() - wanted + 1);
    Stretches::from_pairs(of.line()[from..from + wanted].iter().map(|s| (s.slot, u32::from(s.length))))
}
