//! Measures the tonic on random riffs, which no data set of tunes has anything to say of.
//!
//! ```text
//! cargo run --release -p riffkin-score --example measure_riffs
//! ```
//!
//! Two thousand riffs of each kind, 6 to 12 notes in eighths and quarters, on random tonics, from a fixed seed. The
//! generator is the measure, not music: a riff whose every note is drawn alike has no tonic that anybody could
//! hear, so what matters is how sure the answer claims to be. Beside it stand the key profiles of `profiles`.

#[path = "../tests/profiles/mod.rs"]
mod profiles;

use riffkin_score::analysis::heard::{Heard, Strength};
use riffkin_score::analysis::material::Material;
use riffkin_score::analysis::model::{Observed, Weights};
use riffkin_score::analysis::tonic::beliefs;
use riffkin_score::analysis::verdict::{Verdict, of_material};
use riffkin_score::meter::Meter;
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::time::Quarters;

const RIFFS: usize = 2000;
const SEED: u64 = 1;

/// SplitMix64 (Steele, Lea, Flood 2014).
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, n: usize) -> usize {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        ((z ^ (z >> 31)) % n as u64) as usize
    }
}

/// A kind of riff.
struct Kind {
    name: &'static str,
    scale: &'static [u8],
    /// How often the tonic is drawn against each other degree.
    tonic: usize,
    starts_on_one: bool,
    /// An eighth before the first bar line, on the fifth below.
    pickup: bool,
    /// The two bars come twice, and their last note is not the tonic.
    loops: bool,
}

const PENTATONIC: &[u8] = &[0, 3, 5, 7, 10];
const DORIAN: &[u8] = &[0, 2, 3, 5, 7, 9, 10];
const MIXOLYDIAN: &[u8] = &[0, 2, 4, 5, 7, 9, 10];
const KINDS: [Kind; 7] = [
    Kind {
        name: "minor pentatonic, from 1, 1 three times as often",
        scale: PENTATONIC,
        tonic: 3,
        starts_on_one: true,
        pickup: false,
        loops: false,
    },
    Kind {
        name: "minor pentatonic, all notes alike",
        scale: PENTATONIC,
        tonic: 1,
        starts_on_one: false,
        pickup: false,
        loops: false,
    },
    Kind {
        name: "minor pentatonic, a loop that ends off 1",
        scale: PENTATONIC,
        tonic: 3,
        starts_on_one: true,
        pickup: false,
        loops: true,
    },
    Kind {
        name: "minor pentatonic, a loop with a pickup on 5",
        scale: PENTATONIC,
        tonic: 3,
        starts_on_one: true,
        pickup: true,
        loops: true,
    },
    Kind {
        name: "Dorian, from 1, 1 three times as often",
        scale: DORIAN,
        tonic: 3,
        starts_on_one: true,
        pickup: false,
        loops: false,
    },
    Kind {
        name: "Mixolydian, from 1, 1 three times as often",
        scale: MIXOLYDIAN,
        tonic: 3,
        starts_on_one: true,
        pickup: false,
        loops: false,
    },
    Kind {
        name: "Mixolydian, a loop that ends off 1",
        scale: MIXOLYDIAN,
        tonic: 3,
        starts_on_one: true,
        pickup: false,
        loops: true,
    },
];

/// Slots and lengths in eighths.
fn figure(kind: &Kind, random: &mut Seeded) -> Vec<(u8, i64)> {
    let notes = 6 + random.below(7);
    let mut line: Vec<(u8, i64)> = (0..notes)
        .map(|_| {
            let at = random.below(kind.scale.len() - 1 + kind.tonic);
            let slot = kind.scale[at.saturating_sub(kind.tonic - 1)];
            (slot, [1, 1, 2][random.below(3)])
        })
        .collect();
    if kind.starts_on_one {
        line[0].0 = 0;
    }
    if kind.loops && line[notes - 1].0 == 0 {
        line[notes - 1].0 = kind.scale[1 + random.below(kind.scale.len() - 1)];
    }
    line
}

fn heard(kind: &Kind, tonic: u8, random: &mut Seeded) -> Vec<Heard> {
    let figure = figure(kind, random);
    let bars = (figure.iter().map(|n| n.1).sum::<i64>() + 7) / 8;
    let mut notes = Vec::new();
    let mut add = |bar: i64, eighth: i64, slot: u8, eighths: i64| {
        // Within the octave above the tonic; the pickup below it.
        let octave = if bar == 0 { 24 } else { 36 };
        let midi = Midi::saturating(octave + tonic + slot);
        let half = |n: i64| Quarters::from_f64_lossy(n as f64 / 2.0);
        notes.push(Heard {
            line: notes.len(),
            bar: bar as usize,
            pitch: Pitch::simplest(midi),
            onset: half(8 * bar + eighth),
            length: half(eighths),
            strength: Strength::at(Meter::FOUR_FOUR, half(eighth)),
            accent: false,
            ghost: false,
        });
    };
    if kind.pickup {
        add(0, 7, 7, 1);
    }
    for round in 0..if kind.loops { 2 } else { 1 } {
        let mut at = 0;
        for &(slot, eighths) in &figure {
            add(1 + round * bars + at / 8, at % 8, slot, eighths);
            at += eighths;
        }
    }
    notes
}

fn main() {
    println!(
        "| riffs | ours | said | error | K-K | Temp. K-P | A-S | first note | last note | verdict undecided |"
    );
    for kind in &KINDS {
        let mut random = Seeded(SEED);
        let (mut right, mut said, mut open) = ([0usize; 6], 0.0, 0usize);
        let mut bins = [(0.0f64, 0usize); 10];
        for _ in 0..RIFFS {
            let tonic = random.below(12) as u8;
            let notes = heard(kind, tonic, &mut random);
            let sums = beliefs(&Weights::LEARNED, &Observed::of(&notes), &[]);
            let best = (0..12).fold(0, |a, b| if sums[b] > sums[a] { b } else { a });
            let mut time = [0.0; 12];
            notes.iter().for_each(|n| time[usize::from(n.pitch_class())] += n.length.to_f64());
            let ends = [notes.first(), notes.last()].map(|n| n.map_or(0, Heard::pitch_class));
            let [kk, tkp, albrecht] = profiles::ALL.map(|p| p.key_of(&time).0);
            for (count, found) in right.iter_mut().zip([best as u8, kk, tkp, albrecht, ends[0], ends[1]]) {
                *count += usize::from(found == tonic);
            }
            said += sums[best];
            let bin = &mut bins[((sums[best] * 10.0) as usize).min(9)];
            *bin = (bin.0 + sums[best], bin.1 + usize::from(best == usize::from(tonic)));
            let (verdict, _) = of_material(&Material::of(&notes, PitchName::simplest(tonic)));
            open += usize::from(matches!(verdict, Verdict::Undecided { .. }));
        }
        let percent = |n: usize| format!("{:.1}", 100.0 * n as f64 / RIFFS as f64);
        let error: f64 = bins.iter().map(|b| (b.0 - b.1 as f64).abs()).sum::<f64>() / RIFFS as f64;
        let others: Vec<String> = right[1..].iter().map(|&n| percent(n)).collect();
        println!(
            "| {} | {} | {:.1} | {error:.3} | {} | {} |",
            kind.name,
            percent(right[0]),
            100.0 * said / RIFFS as f64,
            others.join(" | "),
            percent(open)
        );
    }
}
