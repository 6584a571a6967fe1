//! Learns the weights of a note's confidence from lines whose notes are known, and prints them as Rust.
//!
//! `cargo run --release -p riffkin-audio --example learn_confidence -- solo|mix SET...`; sets as for `learn_attacks`. Every
//! pitched note that is heard is an example; it is right when it starts within 50 ms of a true note of its pitch that no
//! other heard note has taken. Also prints how far the confidences hold on the same notes; a check on other notes is
//! `cargo xtask accuracy hear`.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

mod learning;
mod recording;

use learning::{Example, table, wavs};
use riffkin_audio::listen::evidence::FEATURES;
use riffkin_audio::listen::looked_into;
use riffkin_audio::listen::mix::Mix;
use riffkin_audio::listen::solo::Solo;
use std::error::Error;
use std::path::Path;

/// Unknowns: the weights and the constant.
const N: usize = FEATURES + 1;
/// How near a true note must start, in seconds.
const NEAR_S: f64 = 0.05;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let mix = words.next().as_deref() == Some("mix");
    let mut examples: Vec<Example<N>> = Vec::new();
    for set in words {
        for variant in if mix { vec!["mix"] } else { vec!["solo", "solo-degraded"] } {
            for file in wavs(&Path::new(&set).join(variant))? {
                let name =
                    file.file_stem().ok_or("a file has no name")?.to_string_lossy().into_owned() + ".csv";
                let mut truth: Vec<(f64, u8)> = table(&Path::new(&set).join("ref").join(&name))
                    .iter()
                    .filter_map(|row| Some((row.first()?.parse().ok()?, row.get(2)?.parse().ok()?)))
                    .collect();
                let clip = recording::read(&file)?;
                let heard = if mix { looked_into(&Mix, &clip) } else { looked_into(&Solo, &clip) };
                for (note, said) in heard {
                    let found = truth
                        .iter()
                        .position(|(t, midi)| *midi == note.midi && (t - note.onset_s).abs() <= NEAR_S);
                    if let Some(found) = found {
                        truth.remove(found);
                    }
                    examples.push(Example::new(&said, found.is_some()));
                }
            }
        }
    }
    let weights = learning::fitted(&examples);
    println!("const TRUST: Weights = {};", learning::row(&weights));
    let sure: Vec<(f64, bool)> = examples.iter().map(|e| (learning::chance(&weights, e), e.yes)).collect();
    eprintln!("{} notes, {} right; {}", sure.len(), sure.iter().filter(|s| s.1).count(), held(sure));
    Ok(())
}

/// Expected calibration error over ten bins (Naeini, Cooper & Hauskrecht 2015), and the share of all errors among the least
/// sure tenth.
fn held(mut sure: Vec<(f64, bool)>) -> String {
    sure.sort_by(|a, b| a.0.total_cmp(&b.0));
    let wrong = |of: &[(f64, bool)]| of.iter().filter(|s| !s.1).count() as f64;
    let tenth = &sure[..sure.len() / 10];
    let caught = wrong(tenth) / wrong(&sure).max(1.0);
    let mut error = 0.0;
    for bin in 0..10 {
        let inside: Vec<_> = sure.iter().filter(|s| ((s.0 * 10.0) as usize).min(9) == bin).collect();
        let mean: f64 = inside.iter().map(|s| s.0).sum();
        let right = inside.iter().filter(|s| s.1).count() as f64;
        error += (mean - right).abs() / sure.len().max(1) as f64;
    }
    format!("calibration error {error:.3}, the least sure tenth holds {:.0} % of the errors", 100.0 * caught)
}
