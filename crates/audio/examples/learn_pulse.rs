//! Learns how much each kind of evidence for a pulse weighs, from invented lines.
//!
//! `cargo run --release -p riffkin-audio --example learn_pulse -- --seed 1000 --lines 600` prints the table `WEIGHTS` of
//! `listen/pulse/weights.rs`: the weights under which the true readings of all lines are likeliest among those that
//! the pulse finder offers (softmax over readings, by gradient ascent, each weight drawn a little towards 1/2). Readings
//! are offered under the weights in use, so learning, putting the table in place and learning again may move it a little.
//! The lines' seeds are not those that `rhythm` and the tests use.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads its arguments"
)]

#[path = "../tests/lines/mod.rs"]
mod lines;

use lines::{Dice, Playing, Style, Touch, line, played, with_pickup};
use riffkin_audio::listen::pulse::{EvidenceKind, Known, Tone, readings};
use std::error::Error;

const KINDS: usize = EvidenceKind::ALL.len();

/// The readings offered for one line: their evidence, whether they are right, and whether their tempo is.
type Offered = Vec<([f64; KINDS], bool, bool)>;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| words.iter().position(|w| w == name).and_then(|i| words.get(i + 1));
    let seed: u64 = value("--seed").map_or(Ok(1000), |w| w.parse())?;
    let count: u64 = value("--lines").map_or(Ok(600), |w| w.parse())?;
    let all: Vec<Offered> = (0..count).map(|k| offered(seed + k)).collect();
    let usable: Vec<&Offered> = all.iter().filter(|o| o.iter().any(|r| r.1)).collect();
    println!("// {} lines, the true reading offered for {}", all.len(), usable.len());
    let mut weights = [0.5; KINDS];
    let mut speed = 0.02;
    let mut before = f64::NEG_INFINITY;
    for _ in 0..4000 {
        let (likelihood, slope) = likelihood(&usable, &weights);
        if likelihood < before {
            speed *= 0.5;
        }
        before = likelihood;
        for (w, s) in weights.iter_mut().zip(slope) {
            *w = (*w + speed * s).max(0.0);
        }
    }
    let right = usable.iter().filter(|o| best(o, &weights).is_some_and(|r| r.1)).count();
    let tempo = usable.iter().filter(|o| best(o, &weights).is_some_and(|r| r.2)).count();
    println!("// mean log likelihood {before:.3}, right {right}, tempo {tempo}");
    for (kind, weight) in EvidenceKind::ALL.iter().zip(weights) {
        println!("{weight:.2}, // {}", kind.name());
    }
    Ok(())
}

fn score(evidence: &[f64; KINDS], weights: &[f64; KINDS]) -> f64 {
    evidence.iter().zip(weights).map(|(e, w)| e * w).sum()
}

fn best<'a>(offered: &'a Offered, weights: &[f64; KINDS]) -> Option<&'a ([f64; KINDS], bool, bool)> {
    offered.iter().max_by(|a, b| score(&a.0, weights).total_cmp(&score(&b.0, weights)))
}

fn likelihood(lines: &[&Offered], weights: &[f64; KINDS]) -> (f64, [f64; KINDS]) {
    let (mut sum, mut slope) = (0.0, [0.0; KINDS]);
    let share = 1.0 / lines.len() as f64;
    for line in lines {
        let scores: Vec<f64> = line.iter().map(|r| score(&r.0, weights)).collect();
        let most = scores.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let all: f64 = scores.iter().map(|s| (s - most).exp()).sum();
        // Half for the tempo, half for tempo, meter and bar lines together.
        for wanted in [|r: &([f64; KINDS], bool, bool)| r.1, |r: &([f64; KINDS], bool, bool)| r.2] {
            let of = |(s, r): (&f64, &_)| if wanted(r) { (s - most).exp() } else { 0.0 };
            let right: f64 = scores.iter().zip(line.iter()).map(of).sum::<f64>().max(1e-300);
            sum += 0.5 * share * (right / all).ln();
            for (s, r) in scores.iter().zip(line.iter()) {
                let p = (s - most).exp();
                let pull = if wanted(r) { p / right } else { 0.0 } - p / all;
                for (g, e) in slope.iter_mut().zip(r.0) {
                    *g += 0.5 * share * pull * e;
                }
            }
        }
    }
    for (g, w) in slope.iter_mut().zip(weights) {
        sum -= 0.005 * (w - 0.5) * (w - 0.5);
        *g -= 0.01 * (w - 0.5);
    }
    (sum, slope)
}

fn offered(seed: u64) -> Offered {
    let mut dice = Dice(seed.wrapping_mul(77_003).wrapping_add(13));
    let meter =
        dice.pick(&[(4, 4), (4, 4), (4, 4), (4, 4), (4, 4), (4, 4), (4, 4), (3, 4), (6, 8), (6, 8), (12, 8)]);
    let style = dice.pick(&[
        Style::Figures,
        Style::Figures,
        Style::Figures,
        Style::Eighths,
        Style::Pump,
        Style::Drive,
        Style::Walk,
        Style::Triplets,
        Style::Sparse,
    ]);
    let touch = dice.pick(&[Touch::Held, Touch::Held, Touch::Short, Touch::Mixed]);
    let mut truth = line(&mut dice, meter, style, touch);
    if dice.chance(0.15) {
        truth = with_pickup(&mut dice, truth);
    }
    let swings = meter.1 == 4 && matches!(style, Style::Eighths | Style::Pump | Style::Walk);
    let how = Playing {
        per_minute: if meter.1 == 8 { dice.between(55.0, 125.0) } else { dice.between(60.0, 165.0) },
        drift: if dice.chance(0.3) { dice.between(-0.05, 0.05) } else { 0.0 },
        jitter: dice.between(0.008, 0.05),
        swing: if swings && dice.chance(0.4) { dice.between(0.56, 0.68) } else { 0.5 },
        start_s: 1.0,
    };
    let tones: Vec<Tone> = played(&mut dice, &truth, &how)
        .into_iter()
        .map(|(onset_s, offset_s, midi)| Tone { onset_s, offset_s, midi: Some(midi) })
        .collect();
    let mean = how.per_minute * (1.0 + how.drift / 2.0);
    let bar_s = 60.0 / how.per_minute * (truth.bar() / truth.beat()) as f64;
    readings(&tones, &Known::default())
        .iter()
        .map(|p| {
            let off = (p.clock.second_at(0.0) - how.start_s) / bar_s;
            let aligned = (off - off.round()).abs() * bar_s < 0.25 * 60.0 / how.per_minute;
            let tempo = (p.per_minute() / mean - 1.0).abs() < 0.02;
            let right = tempo && (p.meter.beats(), p.meter.unit()) == truth.meter && aligned;
            (EvidenceKind::ALL.map(|kind| p.evidence.of(kind)), right, tempo)
        })
        .collect()
}
