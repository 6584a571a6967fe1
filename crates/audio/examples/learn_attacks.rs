//! Learns the weights of the attack witnesses from lines whose notes are known, and prints them as Rust.
//!
//! `cargo run --release -p riffkin-audio --example learn_attacks -- SET...`; a set is a folder with `solo/NAME.wav`,
//! `solo-degraded/NAME.wav`, `ref/NAME.csv` (`onset_s,offset_s,midi`) and perhaps `dead/NAME.csv` and `manner/NAME.csv`
//! (`onset_s,struck|hammer|slide`), as the generators of `tests/hearing/` write them.
//!
//! Logistic regression. Every struck note is an example at the frame near its onset that looks most like
//! an attack; every other frame that looks more like one than its neighbours is a counterexample. Notes that are joined to
//! the one before count for nothing.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

mod learning;
mod recording;

use learning::{Example, fitted, row, table, wavs};
use riffkin_audio::listen::solo::{attack, attack_witnesses};
use std::error::Error;
use std::path::Path;

/// Seconds between frames.
const HOP_S: f64 = 128.0 / 22_050.0;
/// A frame this near to an onset may stand for it, in frames.
const NEAR: usize = 4;
/// A frame must look more like an attack than these on either side.
const REACH: usize = 4;
/// Unknowns: the weights and the constant.
const N: usize = attack::WITNESSES + 1;

fn main() -> Result<(), Box<dyn Error>> {
    let mut examples = Vec::new();
    for set in std::env::args().skip(1) {
        for variant in ["solo", "solo-degraded"] {
            for file in wavs(&Path::new(&set).join(variant))? {
                add(&mut examples, Path::new(&set), &file)?;
            }
        }
    }
    let struck = examples.iter().filter(|e| e.yes).count();
    eprintln!("{} frames, {struck} of them struck", examples.len());
    let weights = fitted(&examples);
    println!("const EVEN: f32 = {:.3};", weights[N - 1]);
    println!("const WEIGHTS: [f32; WITNESSES] = {};", row(&weights[..N - 1]));
    Ok(())
}

fn add(examples: &mut Vec<Example<N>>, set: &Path, file: &Path) -> Result<(), Box<dyn Error>> {
    let said = attack_witnesses(&recording::read(file)?);
    let name = file.file_stem().ok_or("a file has no name")?.to_string_lossy().into_owned() + ".csv";
    let joined: Vec<f64> = table(&set.join("manner").join(&name))
        .into_iter()
        .filter(|row| row.get(1).is_some_and(|m| m != "struck"))
        .filter_map(|row| row.first()?.parse().ok())
        .collect();
    let mut onsets: Vec<(f64, bool)> = Vec::new();
    for folder in ["ref", "dead"] {
        let rows = table(&set.join(folder).join(&name));
        onsets.extend(
            rows.iter()
                .filter_map(|row| row.first()?.parse().ok())
                .map(|t: f64| (t, !joined.iter().any(|j| (j - t).abs() < 0.002))),
        );
    }
    let odds: Vec<f32> = said.iter().map(attack::odds).collect();
    let mut taken = vec![false; said.len()];
    for (onset, struck) in onsets {
        let middle = (onset / HOP_S).round() as usize;
        let range = middle.saturating_sub(NEAR)..(middle + NEAR + 1).min(said.len());
        let best = range.clone().max_by(|a, b| odds[*a].total_cmp(&odds[*b]));
        if let (Some(k), true) = (best, struck) {
            examples.push(Example::new(&said[k], true));
        }
        let wide = middle.saturating_sub(2 * NEAR)..(middle + 2 * NEAR + 1).min(said.len());
        taken[wide].iter_mut().for_each(|t| *t = true);
    }
    for k in 0..said.len() {
        let around = k.saturating_sub(REACH)..(k + REACH + 1).min(said.len());
        if !taken[k] && odds[around].iter().all(|o| *o <= odds[k]) {
            examples.push(Example::new(&said[k], false));
        }
    }
    Ok(())
}
