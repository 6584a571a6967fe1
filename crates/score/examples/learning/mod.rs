//! Learning the weights of the tonic and mode model.
//!
//! The loss is the mean of `-ln P(true tonic and mode)`, with the melodies weighted by mode so that the rarer modes
//! are heard, plus a penalty on the squares of the parameters. A weight that depends on the kind of mode is a sum
//! of one that all kinds share and a deviation, each with its own penalty, so that what the rare modes say too
//! little of is filled in by the others. Its minimum is sought by L-BFGS (Nocedal and Wright, Numerical
//! Optimization, algorithm 7.4) from zero, so nothing in it is random.

use riffkin_score::analysis::model::{
    CUES, Cue, FIGURE_START, MODES, Observed, Weights, probabilities, profile_row,
};
use riffkin_score::key::Mode;

use crate::melodies::Melody;

/// Notes of a melody's beginning when it is taken for a short one.
pub(crate) const SHORT: usize = 12;

const FIGURE: usize = Cue::FigureStart as usize;
const ROWS: usize = 5 * 12;
const PROFILE: usize = 12 * CUES;
const HEARD: usize = PROFILE + ROWS;
const MOVES: usize = HEARD + ROWS;
const PRIOR: usize = MOVES + 144;
const PARAMETERS: usize = PRIOR + MODES.len();

/// How much a beginning counts against the whole melody.
const SHARE_OF_SHORT: f64 = 0.4;
/// Steps of the search at most.
const STEPS: usize = 100;
/// Pairs that L-BFGS remembers.
const MEMORY: usize = 10;

/// How to learn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Settings {
    /// Weight of the squares of the parameters.
    pub(crate) penalty: f64,
    /// How many times a modal tune counts; one in minor counts twice.
    pub(crate) modal: f64,
}

/// A melody to learn from.
pub(crate) struct Instance {
    seen: Observed,
    weight: f64,
    // Candidates that count as right, as tonic * 7 + mode.
    right: Vec<usize>,
}

/// What a melody is learned from: all of it, and its beginning with half the weight.
pub(crate) fn instances(melody: &Melody, settings: Settings) -> [Instance; 2] {
    let at = |mode: Mode| {
        usize::from(melody.tonic.pitch_class()) * 7 + MODES.iter().position(|&m| m == mode).unwrap_or(0)
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
        _ => settings.modal,
    };
    let short = &melody.notes[..melody.notes.len().min(SHORT)];
    let instance = |notes, weight| Instance { seen: Observed::of(notes), weight, right: right.clone() };
    [instance(&melody.notes[..], weight), instance(short, weight * SHARE_OF_SHORT)]
}

/// The weights that the parameters come to: a slot's four rows are what they share plus their own.
fn weights(at: &[f64]) -> Weights {
    let rows = |from: usize| {
        std::array::from_fn(|row| {
            std::array::from_fn(|slot| at[from + slot] + at[from + 12 * (row + 1) + slot])
        })
    };
    let mut cues: [[f64; 12]; CUES] =
        std::array::from_fn(|cue| std::array::from_fn(|slot| at[12 * cue + slot]));
    cues[FIGURE][0] = FIGURE_START;
    Weights {
        cues,
        profile: rows(PROFILE),
        heard: rows(HEARD),
        moves: std::array::from_fn(|from| std::array::from_fn(|to| at[MOVES + 12 * from + to])),
        mode: std::array::from_fn(|mode| at[PRIOR + mode]),
    }
}

/// How much each parameter's square costs, against the others.
fn costs() -> Vec<f64> {
    (0..PARAMETERS)
        .map(|i| match i {
            _ if i >= PRIOR => 0.05,
            _ if i >= MOVES => 3.0,
            // What one kind of mode has of its own is cheap: the kinds do differ.
            _ if i >= PROFILE && (i - PROFILE) % ROWS >= 12 => 0.2,
            _ => 1.0,
        })
        .collect()
}

fn loss(instances: &[&Instance], costs: &[f64], penalty: f64, at: &[f64]) -> (f64, Vec<f64>) {
    let model = weights(at);
    let scales = MODES.map(Mode::set);
    let mut slope = vec![0.0; PARAMETERS];
    let (mut loss, mut total) = (0.0, 0.0);
    for instance in instances {
        let seen = &instance.seen;
        let p = probabilities(&model.evidence(seen));
        let right: f64 = instance.right.iter().map(|&c| p[c / 7][c % 7]).sum::<f64>().max(1e-300);
        loss -= instance.weight * right.ln();
        total += instance.weight;
        for (tonic, row) in p.iter().enumerate() {
            let mut all = 0.0;
            let mut by_row = [[0.0; 4]; 12];
            for (mode, &own) in row.iter().enumerate() {
                let target = if instance.right.contains(&(tonic * 7 + mode)) { own / right } else { 0.0 };
                let push = instance.weight * (own - target);
                all += push;
                slope[PRIOR + mode] += push;
                for (slot, rows) in by_row.iter_mut().enumerate() {
                    rows[profile_row(scales[mode], slot as u8)] += push;
                }
            }
            for pc in 0..12 {
                let slot = (pc + 12 - tonic) % 12;
                for (cue, values) in seen.cues.iter().enumerate() {
                    slope[12 * cue + slot] += all * values[pc];
                }
                for (from, value) in [(PROFILE, seen.profile[pc]), (HEARD, seen.heard[pc])] {
                    slope[from + slot] += all * value;
                    for (row, push) in by_row[slot].iter().enumerate() {
                        slope[from + 12 * (row + 1) + slot] += push * value;
                    }
                }
                for (to, value) in seen.moves[pc].iter().enumerate().filter(|(_, v)| **v > 0.0) {
                    slope[MOVES + 12 * slot + (to + 12 - tonic) % 12] += all * value;
                }
            }
        }
    }
    // Set by hand, and not learned.
    slope[12 * FIGURE..12 * (FIGURE + 1)].fill(0.0);
    let mut punished = loss / total;
    for ((to, value), cost) in slope.iter_mut().zip(at).zip(costs) {
        punished += penalty * cost * value * value;
        *to = *to / total + 2.0 * penalty * cost * value;
    }
    (punished, slope)
}

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(x, y)| x * y).sum()
}

/// A move of the search: step, change of slope, and one over their product.
type Pair = (Vec<f64>, Vec<f64>, f64);

/// The direction of L-BFGS's two-loop recursion.
fn direction(slope: &[f64], pairs: &[Pair]) -> Vec<f64> {
    let mut q = slope.to_vec();
    let mut alphas = Vec::new();
    for (s, y, rho) in pairs.iter().rev() {
        let alpha = rho * dot(s, &q);
        q.iter_mut().zip(y).for_each(|(q, y)| *q -= alpha * y);
        alphas.push(alpha);
    }
    let scale = pairs.last().map_or(1.0, |(s, y, _)| dot(s, y) / dot(y, y));
    q.iter_mut().for_each(|q| *q *= scale);
    for ((s, y, rho), alpha) in pairs.iter().zip(alphas.into_iter().rev()) {
        let beta = rho * dot(y, &q);
        q.iter_mut().zip(s).for_each(|(q, s)| *q += (alpha - beta) * s);
    }
    q.iter_mut().for_each(|q| *q = -*q);
    q
}

/// Learns the weights.
pub(crate) fn learn(instances: &[&Instance], settings: Settings) -> Weights {
    let costs = costs();
    let of = |at: &[f64]| loss(instances, &costs, settings.penalty, at);
    let mut at = vec![0.0; PARAMETERS];
    let (mut value, mut slope) = of(&at);
    let mut pairs: Vec<Pair> = Vec::new();
    for _ in 0..STEPS {
        let way = direction(&slope, &pairs);
        let downhill = dot(&way, &slope);
        let mut length = 1.0;
        // Armijo's condition, halving.
        let found = (0..30).find_map(|_| {
            let next: Vec<f64> = at.iter().zip(&way).map(|(a, w)| a + length * w).collect();
            let (lower, steeper) = of(&next);
            if lower <= value + 1e-4 * length * downhill {
                return Some((next, lower, steeper));
            }
            length /= 2.0;
            None
        });
        let Some((next, lower, steeper)) = found else { break };
        let s: Vec<f64> = next.iter().zip(&at).map(|(a, b)| a - b).collect();
        let y: Vec<f64> = steeper.iter().zip(&slope).map(|(a, b)| a - b).collect();
        let product = dot(&s, &y);
        if product > 1e-12 {
            pairs.push((s, y, 1.0 / product));
            if pairs.len() > MEMORY {
                pairs.remove(0);
            }
        }
        let gained = value - lower;
        (at, value, slope) = (next, lower, steeper);
        if gained < 1e-6 {
            break;
        }
    }
    weights(&at)
}
