//! Learns how much each kind of evidence for a pulse weighs, from invented lines and from sets of lines that were heard.
//!
//! `cargo run --release -p riffkin-audio --example learn_pulse -- --seed 1000 --lines 600` prints the table `WEIGHTS` of
//! `listen/pulse/weights.rs`: the weights under which the true readings of all lines are likeliest among those that
//! the pulse finder offers (softmax over readings, by gradient ascent with steps after Duchi, Hazan and Singer 2011, each weight drawn a little
//! towards 1/2). Readings
//! are offered under the weights in use, so learning, putting the table in place and learning again may move it a little.
//! The lines' seeds are not those that `rhythm` and the tests use.
//!
//! `--set NOTES META.csv`, as often as wanted, adds the lines of a set: a folder of notes as the `hear` example writes
//! them, and the set's table with the columns `name`, `bpm` and `meter`; the first bar line lies 0.25 s after the start.
//! Before the table, how often each half of the lines is read rightly with weights learned from the other half.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads its arguments and files"
)]

#[path = "../tests/lines/mod.rs"]
mod lines;
mod set;

use lines::{Dice, Playing, Style, Touch, line, played, with_pickup};
use riffkin_audio::listen::Manner;
use riffkin_audio::listen::pulse::{EvidenceKind, Known, Tone, readings};
use std::error::Error;
use std::path::Path;

const KINDS: usize = EvidenceKind::ALL.len();
/// When a set's first bar line falls, in seconds.
const LEAD_IN_S: f64 = 0.25;

/// Of the readings with a wrong tempo only this many are learned from, the likeliest.
const MOST: usize = 150;

/// A line with its truth.
struct Example {
    tones: Vec<Tone>,
    meter: (u8, u8),
    /// Counted beats a minute, the mean of the whole.
    per_minute: f64,
    /// A bar line.
    start_s: f64,
}

/// The readings offered for one line: their evidence, whether they are right, and whether their tempo is.
type Offered = Vec<([f64; KINDS], bool, bool)>;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| words.iter().position(|w| w == name).and_then(|i| words.get(i + 1));
    let seed: u64 = value("--seed").map_or(Ok(1000), |w| w.parse())?;
    let count: u64 = value("--lines").map_or(Ok(600), |w| w.parse())?;
    let mut examples: Vec<Example> = (0..count).map(|k| invented(seed + k)).collect();
    for at in words.iter().enumerate().filter(|w| w.1 == "--set").map(|w| w.0) {
        let (Some(notes), Some(table)) = (words.get(at + 1), words.get(at + 2)) else {
            return Err("give --set a folder of notes and a table".into());
        };
        examples.extend(of_set(Path::new(notes), Path::new(table))?);
    }
    let all: Vec<Offered> = in_parallel(&examples);
    let usable: Vec<&Offered> = all.iter().filter(|o| o.iter().any(|r| r.1)).collect();
    println!("// {} lines, the true reading offered for {}", all.len(), usable.len());
    for fold in 0..2 {
        let of = |k: usize| -> Vec<&Offered> {
            let mine = usable.iter().enumerate().filter(|(i, _)| i % 2 == k);
            mine.map(|(_, o)| *o).collect()
        };
        let (weights, _) = learned(&of(fold));
        let others = of(1 - fold);
        let (right, tempo) = counted(&others, &weights);
        println!("// held out {}: right {right}, tempo {tempo}", others.len());
    }
    let (weights, likelihood) = learned(&usable);
    let (right, tempo) = counted(&usable, &weights);
    println!("// mean log likelihood {likelihood:.3}, right {right}, tempo {tempo}");
    for (kind, weight) in EvidenceKind::ALL.iter().zip(weights) {
        println!("{weight:.2}, // {}", kind.name());
    }
    Ok(())
}

/// What is offered for every line; as many threads as there are cores share the work.
fn in_parallel(examples: &[Example]) -> Vec<Offered> {
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get);
    let part = examples.len().div_ceil(threads).max(1);
    std::thread::scope(|scope| {
        let workers: Vec<_> = examples
            .chunks(part)
            .map(|chunk| scope.spawn(|| chunk.iter().map(offered).collect::<Vec<_>>()))
            .collect();
        workers.into_iter().filter_map(|w| w.join().ok()).flatten().collect()
    })
}

/// The weights learned from these lines, and the mean log likelihood reached.
fn learned(lines: &[&Offered]) -> ([f64; KINDS], f64) {
    let mut weights = [0.5; KINDS];
    let mut reached = f64::NEG_INFINITY;
    let mut steepness = [1e-9; KINDS];
    for _ in 0..600 {
        let (likelihood, slope) = likelihood(lines, &weights);
        reached = likelihood;
        for ((w, s), all) in weights.iter_mut().zip(slope).zip(&mut steepness) {
            *all += s * s;
            *w = (*w + 0.1 * s / all.sqrt()).max(0.0);
        }
    }
    (weights, reached)
}

/// Lines whose best reading is right, and whose likeliest tempo is.
fn counted(lines: &[&Offered], weights: &[f64; KINDS]) -> (usize, usize) {
    let best = |o: &Offered| {
        o.iter().max_by(|a, b| score(&a.0, weights).total_cmp(&score(&b.0, weights))).map(|r| (r.1, r.2))
    };
    let found: Vec<(bool, bool)> = lines.iter().filter_map(|o| best(o)).collect();
    (found.iter().filter(|f| f.0).count(), found.iter().filter(|f| f.1).count())
}

fn score(evidence: &[f64; KINDS], weights: &[f64; KINDS]) -> f64 {
    evidence.iter().zip(weights).map(|(e, w)| e * w).sum()
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
        sum -= 0.001 * (w - 0.5) * (w - 0.5);
        *g -= 0.002 * (w - 0.5);
    }
    (sum, slope)
}

fn offered(example: &Example) -> Offered {
    let bar_s = 60.0 / example.per_minute * f64::from(counted_beats(example.meter));
    readings(&example.tones, &Known::default())
        .iter()
        .enumerate()
        .map(|(rank, p)| {
            let off = (p.clock.second_at(0.0) - example.start_s) / bar_s;
            let aligned = (off - off.round()).abs() * bar_s < 0.25 * 60.0 / example.per_minute;
            let tempo = (p.per_minute() / example.per_minute - 1.0).abs() < 0.02;
            let right = tempo && (p.meter.beats(), p.meter.unit()) == example.meter && aligned;
            (rank, (EvidenceKind::ALL.map(|kind| p.evidence.of(kind)), right, tempo))
        })
        .filter(|(rank, reading)| *rank < MOST || reading.2)
        .map(|(_, reading)| reading)
        .collect()
}

/// Beats that are counted in a bar: dotted ones in eighths.
fn counted_beats((beats, unit): (u8, u8)) -> u8 {
    if unit == 8 { beats / 3 } else { beats }
}

/// The lines of a set.
fn of_set(notes: &Path, table: &Path) -> Result<Vec<Example>, Box<dyn Error>> {
    let table = std::fs::read_to_string(table)?;
    let mut rows = table.lines().map(|l| l.split(',').collect::<Vec<_>>());
    let head = rows.next().ok_or("the table is empty")?;
    let column = |name: &str| head.iter().position(|h| *h == name).ok_or(format!("no column {name}"));
    let (name, bpm, meter) = (column("name")?, column("bpm")?, column("meter")?);
    let mut examples = Vec::new();
    for row in rows {
        let cell = |k: usize| row.get(k).copied().ok_or("a row is too short");
        let text = std::fs::read_to_string(notes.join(format!("{}.csv", cell(name)?)))?;
        let tone = |n: &riffkin_audio::listen::HeardNote| Tone {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            midi: Some(n.midi),
            level_db: (n.manner == Manner::Struck).then_some(n.level_db),
        };
        let (beats, unit) = cell(meter)?.split_once('/').ok_or("a meter is none")?;
        examples.push(Example {
            tones: set::notes(&text).iter().map(tone).collect(),
            meter: (beats.parse()?, unit.parse()?),
            per_minute: cell(bpm)?.parse()?,
            start_s: LEAD_IN_S,
        });
    }
    Ok(examples)
}

fn invented(seed: u64) -> Example {
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
        Style::Loose,
        Style::Loose,
        Style::Octaves,
    ]);
    let touch = dice.pick(&[Touch::Held, Touch::Held, Touch::Short, Touch::Mixed]);
    let mut truth = line(&mut dice, meter, style, touch);
    if dice.chance(0.15) {
        truth = with_pickup(&mut dice, truth);
    }
    let swings = meter.1 == 4 && matches!(style, Style::Eighths | Style::Pump | Style::Walk | Style::Octaves);
    let how = Playing {
        per_minute: if meter.1 == 8 { dice.between(55.0, 125.0) } else { dice.between(60.0, 165.0) },
        drift: if dice.chance(0.3) { dice.between(-0.05, 0.05) } else { 0.0 },
        jitter: dice.between(0.008, 0.05),
        swing: if swings && dice.chance(0.4) { dice.between(0.56, 0.68) } else { 0.5 },
        start_s: 1.0,
    };
    let tones = played(&mut dice, &truth, &how)
        .into_iter()
        .map(|n| Tone {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            midi: Some(n.midi),
            level_db: Some(n.level_db),
        })
        .collect();
    let per_minute = how.per_minute * (1.0 + how.drift / 2.0);
    Example { tones, meter, per_minute, start_s: how.start_s }
}
