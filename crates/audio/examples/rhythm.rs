//! How well rhythm is read, on invented lines with known truth and seeded unevenness.
//!
//! `cargo run --release -p riffkin-audio --example rhythm` prints onset F1 and note values against a known click, and
//! tempo and meter found without one. `-- --seed 7 --lines 40` for others, `-- --click` for the first alone. `-- --notes DIR --truth META.csv` reads
//! files as the `hear` example writes them and compares the tempo with the columns `name`, `bpm` and `meter` of a table.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

#[path = "../tests/lines/mod.rs"]
mod lines;
#[path = "../tests/lines/measure.rs"]
mod measure;
mod set;

use measure::{CASES, measure};
use riffkin_audio::listen::pulse::{EvidenceKind, Known, Tone, pulse};
use riffkin_audio::listen::{Asked, HeardNote, Manner, written};
use std::error::Error;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let words: Vec<String> = std::env::args().skip(1).collect();
    let value = |name: &str| words.iter().position(|w| w == name).and_then(|i| words.get(i + 1));
    if let (Some(notes), Some(truth)) = (value("--notes"), value("--truth")) {
        return tempo_of_set(Path::new(notes), Path::new(truth), words.iter().any(|w| w == "--all"));
    }
    let seed: u64 = value("--seed").map_or(Ok(1), |w| w.parse())?;
    let count: usize = value("--lines").map_or(Ok(60), |w| w.parse())?;
    println!(
        "{:<34} {:>6} {:>9} {:>7} | {:>9} {:>7} {:>7} {:>6}",
        "", "notes", "onset F1", "values", "free:", "tempo", "meter", "both+bar"
    );
    for case in CASES {
        let m = measure(case, seed, count, !words.iter().any(|w| w == "--click"));
        println!(
            "{:<34} {:>6} {:>9.3} {:>7.3} | {:>9} {:>7.3} {:>7.3} {:>6.3}",
            case.name, m.notes, m.onset_f1, m.values, "", m.tempo, m.meter, m.bar
        );
    }
    Ok(())
}

/// What spoke for the reading taken and against the true tempo, weighed, in nats.
fn against_the_truth(heard: &[HeardNote], near: impl Fn(f64) -> bool) {
    let tones: Vec<Tone> = heard
        .iter()
        .map(|n| Tone {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            midi: Some(n.midi),
            level_db: (n.manner == Manner::Struck).then_some(n.level_db),
        })
        .collect();
    let all = pulse(&tones, &Known::default());
    let (Some(first), Some(truth)) = (all.first(), all.iter().find(|p| near(p.per_minute()))) else {
        println!("      the true tempo was not offered");
        return;
    };
    let words: Vec<String> = EvidenceKind::ALL
        .iter()
        .map(|k| (k, first.evidence.of(*k) - truth.evidence.of(*k)))
        .filter(|(_, d)| d.abs() > 0.3)
        .map(|(k, d)| format!("{} {:+.1}", k.name(), d * k.weight()))
        .collect();
    println!("      {}", words.join(", "));
}

fn tempo_of_set(notes: &Path, truth: &Path, all: bool) -> Result<(), Box<dyn Error>> {
    let table = std::fs::read_to_string(truth)?;
    let mut rows = table.lines().map(|l| l.split(',').collect::<Vec<_>>());
    let head = rows.next().ok_or("the table is empty")?;
    let column = |name: &str| head.iter().position(|h| *h == name).ok_or(format!("no column {name}"));
    let (name, bpm, meter, kind) = (column("name")?, column("bpm")?, column("meter")?, column("kind")?);
    let swing = column("swing")?;
    let (mut lines, mut tempi, mut meters, mut either, mut told) = (0, 0, 0, 0, 0);
    for row in rows {
        let text = std::fs::read_to_string(notes.join(format!("{}.csv", row[name])))?;
        let heard = set::notes(&text);
        let Some(found) = written(&heard, &Asked::default()) else { continue };
        let true_bpm: f64 = row[bpm].parse()?;
        let near = |tempo: f64| (tempo / true_bpm - 1.0).abs() < 0.02;
        let reading = &found.reading;
        let ok = near(reading.tempo.per_minute());
        lines += 1;
        tempi += usize::from(ok);
        meters += usize::from(reading.meter.to_string() == row[meter]);
        let rank = reading.alternatives.iter().position(|a| near(a.tempo.per_minute()));
        either += usize::from(rank.is_some_and(|r| r < 2));
        let share = reading.alternatives.first().map_or(1.0, |a| a.share);
        told += usize::from(ok || share < 0.75);
        if !ok || all {
            let list: Vec<String> = reading
                .alternatives
                .iter()
                .map(|a| format!("{} {:.1} {:.0}%", a.meter, a.tempo.per_minute(), a.share * 100.0))
                .collect();
            println!(
                "{} {} {} {} sw {}: {} ({} notes, ±{:.0} ms)",
                if ok { "  " } else { "! " },
                row[kind],
                row[meter],
                row[bpm],
                row[swing],
                list.join(", "),
                heard.len(),
                reading.spread_ms
            );
            against_the_truth(&heard, near);
        }
    }
    println!(
        "{lines} lines: tempo {tempi}, in the first two {either}, right or said to be unsure {told}, meter {meters}"
    );
    Ok(())
}
