//! Measures how long a riff takes to be explained, part by part.
//!
//! ```text
//! cargo run --release -p riffkin-score --example measure_explaining
//! ```
//!
//! Riffs of four bars are generated from seeds, half of them with a written key; every part is run over all of
//! them, and the median of several rounds is given in microseconds for a riff.

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    reason = "an example that measures needs a clock"
)]

use std::hint::black_box;
use std::time::Instant;

use riffkin_score::analysis::explain::{Explanation, explain};
use riffkin_score::analysis::harmony::{
    Most, chords_that_fit, open_steps, read_chords, scales_that_fit, standing,
};
use riffkin_score::analysis::shape::shape;
use riffkin_score::analysis::two_names::two_names;
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::{Header, Riff};

const RIFFS: u64 = 400;
const ROUNDS: usize = 9;

fn main() {
    let riffs: Vec<Riff> = (0..RIFFS)
        .map(|seed| {
            let riff = riff_of(seed, Recipe::full(4));
            let key = riff.header().key.filter(|_| seed % 2 == 0);
            riff.with_header(Header { key, ..riff.header().clone() })
        })
        .collect();
    let found: Vec<Explanation> = riffs.iter().map(|r| explain(r, None)).collect();
    let notes: usize = riffs.iter().map(|r| r.line().len()).sum();
    println!("{RIFFS} riffs of {:.1} notes on average", notes as f64 / RIFFS as f64);
    let measure = |name: &str, part: &dyn Fn(&Riff, &Explanation)| {
        let mut rounds: Vec<f64> = (0..ROUNDS)
            .map(|_| {
                let start = Instant::now();
                for (riff, found) in riffs.iter().zip(&found) {
                    part(riff, found);
                }
                start.elapsed().as_secs_f64() * 1e6 / RIFFS as f64
            })
            .collect();
        rounds.sort_by(f64::total_cmp);
        println!("{name:24} {:8.1} µs", rounds[ROUNDS / 2]);
    };
    measure("key, mode, degrees", &|riff, _| drop(black_box(explain(riff, None))));
    measure("shape", &|riff, _| drop(black_box(shape(riff))));
    measure("scales that fit", &|riff, found| drop(black_box(scales_that_fit(found, &standing(riff)))));
    measure("open steps", &|riff, found| drop(black_box(open_steps(found, &standing(riff)))));
    measure("chords that fit", &|riff, found| drop(black_box(chords_that_fit(riff, found, Most::default()))));
    measure("chord by chord", &|riff, found| drop(black_box(read_chords(riff, found))));
    measure("two names", &|_, found| drop(black_box(two_names(found))));
}
