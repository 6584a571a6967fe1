//! What the learning examples share: logistic regression, and reading sets of lines.
//!
//! Logistic regression by Newton's method with a small ridge (Hastie, Tibshirani & Friedman 2009, *The Elements of
//! Statistical Learning*, section 4.4.1).

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

use std::error::Error;
use std::path::{Path, PathBuf};

/// Ridge that keeps the weights small.
const RIDGE: f64 = 1.0;

/// What was said, a one at the end, and what is true.
pub(crate) struct Example<const N: usize> {
    pub(crate) said: [f64; N],
    pub(crate) yes: bool,
}

impl<const N: usize> Example<N> {
    pub(crate) fn new(said: &[f32], yes: bool) -> Self {
        let mut row = [1.0; N];
        row.iter_mut().zip(said).for_each(|(r, s)| *r = f64::from(*s));
        Self { said: row, yes }
    }
}

/// Probability under these weights.
pub(crate) fn chance<const N: usize>(weights: &[f64; N], example: &Example<N>) -> f64 {
    1.0 / (1.0 + (-weights.iter().zip(&example.said).map(|(w, s)| w * s).sum::<f64>()).exp())
}

/// The likeliest weights.
pub(crate) fn fitted<const N: usize>(examples: &[Example<N>]) -> [f64; N] {
    let mut weights = [0.0; N];
    for _ in 0..30 {
        let mut slope = [0.0; N];
        let mut bend = [[0.0; N]; N];
        for e in examples {
            let p = chance(&weights, e);
            let rest = f64::from(u8::from(e.yes)) - p;
            for i in 0..N {
                slope[i] += rest * e.said[i];
                for (slot, other) in bend[i].iter_mut().zip(&e.said) {
                    *slot += p * (1.0 - p) * e.said[i] * other;
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

/// Gaussian elimination with pivots.
fn solved<const N: usize>(mut a: [[f64; N]; N], mut b: [f64; N]) -> [f64; N] {
    for i in 0..N {
        let pivot = (i..N).max_by(|x, y| a[*x][i].abs().total_cmp(&a[*y][i].abs())).unwrap_or(i);
        a.swap(i, pivot);
        b.swap(i, pivot);
        for k in i + 1..N {
            let factor = a[k][i] / a[i][i];
            let above = a[i];
            for (slot, other) in a[k].iter_mut().zip(above).skip(i) {
                *slot -= factor * other;
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

/// Weights as Rust.
pub(crate) fn row(weights: &[f64]) -> String {
    let all: Vec<String> = weights.iter().map(|w| format!("{w:.3}")).collect();
    format!("[{}]", all.join(", "))
}

/// The WAV files of a folder, by name.
pub(crate) fn wavs(folder: &Path) -> Result<Vec<PathBuf>, Box<dyn Error>> {
    let mut files: Vec<_> = std::fs::read_dir(folder)?
        .filter_map(|e| e.ok().map(|e| e.path()))
        .filter(|p| p.extension().is_some_and(|e| e == "wav"))
        .collect();
    files.sort();
    Ok(files)
}

/// The cells of a CSV file; none where there is no such file.
pub(crate) fn table(file: &Path) -> Vec<Vec<String>> {
    std::fs::read_to_string(file)
        .unwrap_or_default()
        .lines()
        .map(|l| l.split(',').map(|s| s.trim().to_owned()).collect())
        .collect()
}
