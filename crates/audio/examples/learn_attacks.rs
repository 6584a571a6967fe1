//! Learns the weights of the attack witnesses from lines whose notes are known, and prints them as Rust.
//!
//! `cargo run --release -p riffkin-audio --example learn_attacks -- SET...`; a set is a folder with `solo/NAME.wav`,
//! `solo-degraded/NAME.wav`, `ref/NAME.csv` (`onset_s,offset_s,midi`) and perhaps `dead/NAME.csv` and `manner/NAME.csv`
//! (`onset_s,struck|hammer|slide`), as the generators of `tests/hearing/` write them.
//!
//! Logistic regression, by Newton's method with a small ridge (Hastie, Tibshirani & Friedman 2009, *The Elements of
//! Statistical Learning*, section 4.4.1). Every struck note is an example at the frame near its onset that looks most like
//! an attack; every other frame that looks more like one than its neighbours is a counterexample. Notes that are joined to
//! the one before count for nothing.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

use riffkin_audio::listen::solo::{attack, attack_witnesses};
use riffkin_audio::{Clip, SampleRate};
use std::error::Error;
use std::path::Path;

/// Seconds between frames.
const HOP_S: f64 = 128.0 / 22_050.0;
/// A frame this near to an onset may stand for it, in frames.
const NEAR: usize = 4;
/// A frame must look more like an attack than these on either side.
const REACH: usize = 4;
/// Ridge that keeps the weights small.
const RIDGE: f64 = 1.0;
/// Unknowns: the weights and the constant.
const N: usize = attack::WITNESSES + 1;

struct Example {
    said: [f64; N],
    struck: bool,
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut examples = Vec::new();
    for set in std::env::args().skip(1) {
        for variant in ["solo", "solo-degraded"] {
            let mut files: Vec<_> = std::fs::read_dir(Path::new(&set).join(variant))?
                .filter_map(|e| e.ok().map(|e| e.path()))
                .filter(|p| p.extension().is_some_and(|e| e == "wav"))
                .collect();
            files.sort();
            for file in files {
                add(&mut examples, Path::new(&set), &file)?;
            }
        }
    }
    let struck = examples.iter().filter(|e| e.struck).count();
    eprintln!("{} frames, {struck} of them struck", examples.len());
    let weights = fitted(&examples);
    println!("const EVEN: f32 = {:.3};", weights[N - 1]);
    let rest: Vec<String> = weights[..N - 1].iter().map(|w| format!("{w:.3}")).collect();
    println!("const WEIGHTS: [f32; WITNESSES] = [{}];", rest.join(", "));
    let loss: f64 = examples.iter().map(|e| loss(&weights, e)).sum::<f64>() / examples.len().max(1) as f64;
    eprintln!("mean log loss {loss:.4}");
    Ok(())
}

fn add(examples: &mut Vec<Example>, set: &Path, file: &Path) -> Result<(), Box<dyn Error>> {
    let said = attack_witnesses(&read(file)?);
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
            examples.push(example(&said[k], true));
        }
        let wide = middle.saturating_sub(2 * NEAR)..(middle + 2 * NEAR + 1).min(said.len());
        taken[wide].iter_mut().for_each(|t| *t = true);
    }
    for k in 0..said.len() {
        let around = k.saturating_sub(REACH)..(k + REACH + 1).min(said.len());
        if !taken[k] && odds[around].iter().all(|o| *o <= odds[k]) {
            examples.push(example(&said[k], false));
        }
    }
    Ok(())
}

fn example(said: &[f32; attack::WITNESSES], struck: bool) -> Example {
    let mut row = [1.0; N];
    row.iter_mut().zip(said).for_each(|(r, s)| *r = f64::from(*s));
    Example { said: row, struck }
}

fn table(file: &Path) -> Vec<Vec<String>> {
    std::fs::read_to_string(file)
        .unwrap_or_default()
        .lines()
        .map(|l| l.split(',').map(|s| s.trim().to_owned()).collect())
        .collect()
}

fn chance(weights: &[f64; N], said: &[f64; N]) -> f64 {
    1.0 / (1.0 + (-weights.iter().zip(said).map(|(w, s)| w * s).sum::<f64>()).exp())
}

fn loss(weights: &[f64; N], example: &Example) -> f64 {
    let p = chance(weights, &example.said).clamp(1e-9, 1.0 - 1e-9);
    if example.struck { -p.ln() } else { -(1.0 - p).ln() }
}

fn fitted(examples: &[Example]) -> [f64; N] {
    let mut weights = [0.0; N];
    for _ in 0..30 {
        let mut slope = [0.0; N];
        let mut bend = [[0.0; N]; N];
        for e in examples {
            let p = chance(&weights, &e.said);
            let rest = f64::from(u8::from(e.struck)) - p;
            for i in 0..N {
                slope[i] += rest * e.said[i];
                for j in 0..N {
                    bend[i][j] += p * (1.0 - p) * e.said[i] * e.said[j];
                }
            }
        }
        for i in 0..N {
            slope[i] -= RIDGE * weights[i];
            bend[i][i] += RIDGE;
        }
        let step = solved(bend, slope);
        weights.iter_mut().zip(step).for_each(|(w, s)| *w += s);
        if step.iter().all(|s| s.abs() < 1e-9) {
            break;
        }
    }
    weights
}

/// Gaussian elimination with pivots; the matrix is symmetric and positive.
fn solved(mut a: [[f64; N]; N], mut b: [f64; N]) -> [f64; N] {
    for i in 0..N {
        let pivot = (i..N).max_by(|x, y| a[*x][i].abs().total_cmp(&a[*y][i].abs())).unwrap_or(i);
        a.swap(i, pivot);
        b.swap(i, pivot);
        for k in i + 1..N {
            let factor = a[k][i] / a[i][i];
            for j in i..N {
                a[k][j] -= factor * a[i][j];
            }
            b[k] -= factor * b[i];
        }
    }
    for i in (0..N).rev() {
        let known: f64 = (i + 1..N).map(|j| a[i][j] * b[j]).sum();
        b[i] = (b[i] - known) / a[i][i];
    }
    b
}

fn read(file: &Path) -> Result<Clip, Box<dyn Error>> {
    let mut reader = hound::WavReader::open(file)?;
    let spec = reader.spec();
    let full = (1i64 << (spec.bits_per_sample - 1)) as f32;
    let samples: Vec<f32> =
        reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect::<Result<_, _>>()?;
    let count = usize::from(spec.channels);
    let channels = (0..count).map(|c| samples.iter().skip(c).step_by(count).copied().collect()).collect();
    Ok(Clip::new(SampleRate::new(spec.sample_rate)?, channels)?)
}
