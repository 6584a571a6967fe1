//! Learns the weights of the tonic and mode model from melodies whose key is known, and measures it.
//!
//! ```text
//! cargo run --release -p riffkin-score --example learn_tonic -- FILE.jsonl... > report.txt
//! ```
//!
//! The form of the files: `melodies`. How it is learned: `learning`. The figures: `report`. The melodies are parted
//! in ten by their titles, so that variants of a tune stay together, and each part is judged by weights learned on
//! the other nine. The penalty is chosen within those nine: half of them is learned from and the other half judged,
//! both ways, and the penalty with the least loss is taken. The weights printed last, in the form of
//! `model_weights.rs`, are learned on all.

#![expect(clippy::disallowed_methods, reason = "an example reads its command line")]

mod learning;
mod melodies;
#[path = "../tests/profiles/mod.rs"]
mod profiles;
mod report;

use learning::{Instance, Settings, instances, learn};
use melodies::{Melody, read};
use report::{Judged, log_loss, measure, short_of};
use riffkin_score::analysis::model::{Cue, MODES, Weights};

/// Parts of the outer and of the inner round.
const PARTS: usize = 10;
const INNER: usize = 2;
const PENALTIES: [f64; 3] = [1e-4, 2e-4, 4e-4];
/// How many times a modal tune counts. Set by hand: there are ten times as many others.
const MODAL: f64 = 6.0;

fn part(melody: &Melody) -> usize {
    melody.family % PARTS
}

/// Weights learned on the melodies that `keep` keeps.
fn learned(made: &[(usize, [Instance; 2])], penalty: f64, keep: impl Fn(usize) -> bool) -> Weights {
    let chosen: Vec<&Instance> = made.iter().filter(|(part, _)| keep(*part)).flat_map(|(_, i)| i).collect();
    learn(&chosen, Settings { penalty, modal: MODAL })
}

/// The penalty that does best within the parts that are not `held`.
fn choose(melodies: &[Melody], made: &[(usize, [Instance; 2])], held: Option<usize>) -> f64 {
    let inner = |part: usize| part % INNER;
    let mut best = (f64::INFINITY, PENALTIES[0]);
    for penalty in PENALTIES {
        let mut loss = 0.0;
        for judged in 0..INNER {
            let model = learned(made, penalty, |p| Some(p) != held && inner(p) != judged);
            let on = melodies.iter().filter(|m| Some(part(m)) != held && inner(part(m)) == judged);
            loss += on.map(|m| log_loss(&model, m)).sum::<f64>();
        }
        if loss < best.0 {
            best = (loss, penalty);
        }
    }
    best.1
}

fn main() {
    let melodies: Vec<Melody> = std::env::args().skip(1).flat_map(|path| read(&path)).collect();
    let settings = Settings { penalty: 0.0, modal: MODAL };
    let made: Vec<(usize, [Instance; 2])> =
        melodies.iter().map(|m| (part(m), instances(m, settings))).collect();
    let models: Vec<Weights> = (0..PARTS)
        .map(|held| {
            let penalty = choose(&melodies, &made, Some(held));
            println!("part {held}: penalty {penalty:e}");
            learned(&made, penalty, |p| p != held)
        })
        .collect();
    for short in [false, true] {
        let judged: Vec<Judged> =
            melodies.iter().map(|m| Judged::of(&models[part(m)], m, short_of(m, short))).collect();
        measure(&melodies, &judged, short);
    }
    let penalty = choose(&melodies, &made, None);
    println!("all: penalty {penalty:e}\n");
    print_source(&learned(&made, penalty, |_| true));
}

/// The weights as the source of `model_weights.rs` holds them.
fn print_source(weights: &Weights) {
    let row = |values: &[f64; 12]| {
        let values: Vec<String> = values.iter().map(|v| format!("{v:.2}")).collect();
        format!("[{}]", values.join(", "))
    };
    let rows = |name: &str, rows: &[[f64; 12]]| {
        println!("        {name}: [");
        rows.iter().for_each(|values| println!("            {},", row(values)));
        println!("        ],");
    };
    println!("    pub const LEARNED: Self = Self {{\n        cues: [");
    for (cue, values) in Cue::ALL.iter().zip(&weights.cues) {
        println!("            {}, // {cue:?}", row(values));
    }
    println!("        ],");
    rows("profile", &weights.profile);
    rows("heard", &weights.heard);
    rows("moves", &weights.moves);
    println!("        mode: [");
    for (mode, weight) in MODES.iter().zip(weights.mode) {
        println!("            {weight:.2}, // {mode}");
    }
    println!("        ],\n    }};");
}
