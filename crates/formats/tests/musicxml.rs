//! MusicXML written and read again is the same riff, plain and compressed.

#![allow(clippy::panic, reason = "a helper of tests fails by panicking")]

use riffkin_formats::musicxml::{WriteOptions, looks_like, read, write, write_mxl};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::Riff;

fn there_and_back(riff: &Riff, name: &str) {
    let text = write(riff, &WriteOptions::default());
    let (back, _) = read(text.as_bytes()).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert_same(riff, &back, name);
}

/// Compares piece by piece, so that a difference can be read.
fn assert_same(riff: &Riff, back: &Riff, name: &str) {
    assert_eq!(riff.header(), back.header(), "{name}");
    for (i, (a, b)) in riff.bars().iter().zip(back.bars()).enumerate() {
        for (k, (x, y)) in a.events.iter().zip(&b.events).enumerate() {
            assert_eq!(x, y, "{name}, bar {i}, event {k}");
        }
        assert_eq!(a, b, "{name}, bar {i}");
    }
    assert_eq!(riff, back, "{name}");
}

#[test]
fn generated_riffs_come_back_as_they_were() {
    for seed in 0..150 {
        there_and_back(&riff_of(seed, Recipe::full(1 + seed as usize % 12)), &format!("full {seed}"));
        there_and_back(&riff_of(seed, Recipe::plain(1 + seed as usize % 8)), &format!("plain {seed}"));
        there_and_back(&riff_of(seed, Recipe::wild(1 + seed as usize % 12)), &format!("wild {seed}"));
    }
}

#[test]
fn compressed_too() {
    for seed in 0..30 {
        let riff = riff_of(seed, Recipe::full(8));
        let bytes = write_mxl(&riff, &WriteOptions::default()).unwrap();
        assert!(looks_like(&bytes));
        assert_eq!(bytes, write_mxl(&riff, &WriteOptions::default()).unwrap());
        assert_same(&riff, &read(&bytes).unwrap().0, &format!("{seed}"));
    }
}
