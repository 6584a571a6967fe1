//! Learns the weights of the tonic and mode model from melodies whose key is known, and measures it.
//!
//! ```text
//! cargo run --release -p riffkin-score --example learn_tonic -- FILE.jsonl... > report.txt
//! ```
//!
//! The form of the files: `melodies`.
//!
//! Every melody is learned from twice: whole, and its first twelve notes (half weight). The loss is the mean
//! of `-ln P(true tonic and mode)`, with the melodies weighted by mode so that the rarer modes are heard, plus
//! a quarter of a thousandth of the squared weights; Adam (Kingma and Ba 2015), full batches. The report is
//! two-fold: the melodies are halved by a hash of their title, so that variants of a tune fall into one half,
//! and each half is judged by weights learned on the other. The weights printed last are learned on all.

#![expect(clippy::disallowed_methods, reason = "an example reads its command line")]
#![expect(clippy::unwrap_used, reason = "a tool for the desk")]

mod melodies;

use std::collections::BTreeMap;

use melodies::{Melody, read};
use riffkin_score::analysis::heard::Heard;
use riffkin_score::analysis::material::Material;
use riffkin_score::analysis::mode::rank;
use riffkin_score::analysis::model::{
    CUES, Cue, MODES, Observed, Weights, probabilities, profile_row, reliance,
};
use riffkin_score::analysis::verdict::{Verdict, of_material};
use riffkin_score::key::Mode;
use riffkin_score::pitch::PitchName;

const PARAMETERS: usize = CUES + 48 + 7;
const SHORT: usize = 12;

struct Instance {
    seen: Observed,
    weight: f64,
    // Candidates that count as right, as tonic * 7 + mode.
    right: Vec<usize>,
}

fn instance(melody: &Melody, short: bool) -> Instance {
    let notes = if short { &melody.notes[..melody.notes.len().min(SHORT)] } else { &melody.notes };
    let at = |mode: Mode| {
        usize::from(melody.tonic.pitch_class()) * 7 + MODES.iter().position(|&m| m == mode).unwrap()
    };
    let mut right = vec![at(melody.mode)];
    if melody.bass && melody.mode == Mode::Dorian {
        // A signature with one flat less is how minor was written then.
        right.push(at(Mode::Minor));
    }
    let weight = match melody.mode {
        Mode::Major => 1.0,
        Mode::Minor => 2.0,
        _ if melody.bass => 2.0,
        _ => 7.0,
    };
    Instance { seen: Observed::of(notes), weight: if short { weight / 2.0 } else { weight }, right }
}

fn weights(parameters: &[f64; PARAMETERS]) -> Weights {
    let mut weights = Weights { cues: [0.0; CUES], profile: [[0.0; 12]; 4], mode: [0.0; 7] };
    let (cues, rest) = parameters.split_at(CUES);
    weights.cues.copy_from_slice(cues);
    let (profile, mode) = rest.split_at(48);
    for (row, values) in weights.profile.iter_mut().zip(profile.chunks(12)) {
        row.copy_from_slice(values);
    }
    weights.mode.copy_from_slice(mode);
    weights
}

fn gradient(instances: &[Instance], parameters: &[f64; PARAMETERS]) -> (f64, [f64; PARAMETERS]) {
    let model = weights(parameters);
    let scales = MODES.map(Mode::set);
    let mut slope = [0.0; PARAMETERS];
    let (mut loss, mut total) = (0.0, 0.0);
    for instance in instances {
        let p = probabilities(&model.evidence(&instance.seen));
        let right: f64 = instance.right.iter().map(|&c| p[c / 7][c % 7]).sum::<f64>().max(1e-300);
        loss -= instance.weight * right.ln();
        total += instance.weight;
        let sure = reliance(instance.seen.notes);
        for (tonic, row) in p.iter().enumerate() {
            for (mode, &own) in row.iter().enumerate() {
                let target = if instance.right.contains(&(tonic * 7 + mode)) { own / right } else { 0.0 };
                let push = instance.weight * (own - target);
                if push.abs() < 1e-12 {
                    continue;
                }
                for (to, value) in slope.iter_mut().zip(instance.seen.cues[tonic]) {
                    *to += push * value;
                }
                for (pc, share) in instance.seen.profile.iter().enumerate() {
                    let slot = (pc + 12 - tonic) % 12;
                    slope[CUES + 12 * profile_row(scales[mode], slot as u8) + slot] += push * share * sure;
                }
                slope[CUES + 48 + mode] += push;
            }
        }
    }
    for (to, p) in slope.iter_mut().zip(parameters) {
        *to = *to / total + 2.0 * PENALTY * p;
    }
    (loss / total, slope)
}

const PENALTY: f64 = 0.00005;

fn learn(instances: &[Instance]) -> Weights {
    let mut at = [0.0; PARAMETERS];
    let (mut mean, mut spread) = ([0.0; PARAMETERS], [0.0; PARAMETERS]);
    for step in 1..=600i32 {
        let (_, slope) = gradient(instances, &at);
        let rate = 0.1 / (1.0 + f64::from(step) / 150.0);
        for i in 0..PARAMETERS {
            mean[i] = 0.9 * mean[i] + 0.1 * slope[i];
            spread[i] = 0.999 * spread[i] + 0.001 * slope[i] * slope[i];
            let (m, s) = (mean[i] / (1.0 - 0.9f64.powi(step)), spread[i] / (1.0 - 0.999f64.powi(step)));
            at[i] -= rate * m / (s.sqrt() + 1e-8);
            // A cue may only speak for a tonic; else its words would puzzle.
            if i < CUES {
                at[i] = at[i].max(0.0);
            }
        }
    }
    weights(&at)
}

#[derive(Default)]
struct Count {
    n: usize,
    third: usize,
    exact: usize,
    tonic: usize,
    last_note: usize,
    given: usize,
    read: usize,
}

fn is_minor(mode: Mode) -> bool {
    mode.is_minor()
}

/// The baseline: the last note is the tonic, and the third above it that sounds longer decides.
fn last_note(seen: &Observed, notes: &[Heard]) -> (u8, bool) {
    let tonic = notes.last().map_or(0, Heard::pitch_class);
    let sounding = |slot: u8| seen.profile[usize::from((tonic + slot) % 12)];
    (tonic, sounding(3) > sounding(4))
}

/// The first of the seven modes in the whole ranking on a given tonic.
fn ranked_first(weights: &Weights, notes: &[Heard], seen: &Observed, tonic: u8) -> Option<Mode> {
    let tonic = PitchName::simplest(tonic);
    let ranked = rank(weights, &Material::of(notes, tonic), seen, tonic, None, &[]);
    ranked.into_iter().map(|f| f.mode).find(|m| MODES.contains(m))
}

fn percent(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    // Wilson's interval, 95 %.
    let (n, p, z) = (whole as f64, part as f64 / whole as f64, 1.96);
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    format!("{:5.1} [{:.0}-{:.0}]", 100.0 * p, 100.0 * (middle - half), 100.0 * (middle + half))
}

fn measure(melodies: &[Melody], models: &[Weights; 2], short: bool) {
    let mut counts: BTreeMap<String, Count> = BTreeMap::new();
    let mut bins = [(0usize, 0.0f64, 0usize); 10];
    for melody in melodies {
        let notes = if short { &melody.notes[..melody.notes.len().min(SHORT)] } else { &melody.notes[..] };
        let seen = Observed::of(notes);
        let p = probabilities(&models[1 - melody.half].evidence(&seen));
        let sums = p.map(|row| row.iter().sum::<f64>());
        let best = (0..12).max_by(|&a, &b| sums[a].total_cmp(&sums[b])).unwrap();
        let pick = |t: usize| MODES[(0..7).max_by(|&a, &b| p[t][a].total_cmp(&p[t][b])).unwrap()];
        let minor: f64 = (0..7).filter(|&m| is_minor(MODES[m])).map(|m| p[best][m]).sum();
        let right = best == usize::from(melody.tonic.pitch_class());
        let third = right && (minor > sums[best] / 2.0) == is_minor(melody.mode);
        let (last, last_minor) = last_note(&seen, notes);
        for name in [melody.group.to_owned(), format!("  {} {}", melody.group, melody.mode)] {
            let count = counts.entry(name).or_default();
            count.n += 1;
            count.tonic += usize::from(right);
            count.third += usize::from(third);
            count.exact += usize::from(right && pick(best) == melody.mode);
            count.read += usize::from(
                right
                    && ranked_first(&models[1 - melody.half], notes, &seen, melody.tonic.pitch_class())
                        == Some(melody.mode),
            );
            count.given += usize::from(
                ranked_first(&models[1 - melody.half], notes, &seen, melody.tonic.pitch_class())
                    == Some(melody.mode),
            );
            count.last_note +=
                usize::from(last == melody.tonic.pitch_class() && last_minor == is_minor(melody.mode));
        }
        let bin = &mut bins[((sums[best] * 10.0) as usize).min(9)];
        *bin = (bin.0 + 1, bin.1 + sums[best], bin.2 + usize::from(right));
    }
    println!("{}", if short { "first twelve notes" } else { "whole melodies" });
    println!(
        "{:32} {:>5} {:>14} {:>14} {:>14} {:>14} {:>14} {:>14}",
        "", "n", "tonic", "tonic+third", "tonic+mode", "+mode (all 14)", "mode if given", "last note"
    );
    for (name, c) in &counts {
        println!(
            "{name:32} {:5} {} {} {} {} {} {}",
            c.n,
            percent(c.tonic, c.n),
            percent(c.third, c.n),
            percent(c.exact, c.n),
            percent(c.read, c.n),
            percent(c.given, c.n),
            percent(c.last_note, c.n)
        );
    }
    let n: usize = bins.iter().map(|b| b.0).sum();
    let error: f64 = bins.iter().map(|b| (b.1 - b.2 as f64).abs()).sum::<f64>() / n.max(1) as f64;
    proofs(melodies, short);
    println!("expected calibration error of the tonic, ten bins: {error:.3}\n");
}

fn main() {
    let melodies: Vec<Melody> = std::env::args().skip(1).flat_map(|path| read(&path)).collect();
    let half = |side: Option<usize>| -> Vec<Instance> {
        melodies
            .iter()
            .filter(|m| side.is_none_or(|s| m.half == s))
            .flat_map(|m| [instance(m, false), instance(m, true)])
            .collect()
    };
    let models = [learn(&half(Some(0))), learn(&half(Some(1)))];
    measure(&melodies, &models, false);
    measure(&melodies, &models, true);
    let all = learn(&half(None));
    print_source(&all);
}

/// What the verdicts on the true tonic come to.
fn proofs(melodies: &[Melody], short: bool) {
    let mut counts: BTreeMap<(Mode, &str), usize> = BTreeMap::new();
    for melody in melodies {
        let notes = if short { &melody.notes[..melody.notes.len().min(SHORT)] } else { &melody.notes[..] };
        let (verdict, _) = of_material(&Material::of(notes, melody.tonic));
        let kind = match &verdict {
            Verdict::Decided(mode) if *mode == melody.mode => "proved right",
            Verdict::Decided(_) => "proved wrong",
            Verdict::Undecided { between, .. } if between.contains(&melody.mode) => {
                "undecided, true one in it"
            }
            Verdict::Undecided { .. } => "undecided, true one not in it",
            _ => "no mode",
        };
        *counts.entry((melody.mode, kind)).or_default() += 1;
    }
    println!("verdicts on the true tonic:");
    for ((mode, kind), count) in counts {
        println!("  {mode}: {kind} {count}");
    }
}

/// The weights as the source of `model_weights.rs` holds them.
fn print_source(weights: &Weights) {
    println!("    pub const LEARNED: Self = Self {{\n        cues: [");
    for (cue, weight) in Cue::ALL.iter().zip(weights.cues) {
        println!("            {weight:.2}, // {cue:?}");
    }
    println!("        ],\n        profile: [");
    for row in weights.profile {
        println!("            {row:.2?},");
    }
    println!("        ],\n        mode: [");
    for (mode, weight) in MODES.iter().zip(weights.mode) {
        println!("            {weight:.2}, // {mode}");
    }
    println!("        ],\n    }};");
}
