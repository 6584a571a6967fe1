//! What the held-out answers come to, beside those of published key finders.

use std::collections::BTreeMap;

use riffkin_score::analysis::heard::Heard;
use riffkin_score::analysis::material::Material;
use riffkin_score::analysis::mode::rank;
use riffkin_score::analysis::model::{MODES, Observed, Weights, probabilities};
use riffkin_score::analysis::tonic::beliefs;
use riffkin_score::analysis::verdict::{Verdict, of_material};
use riffkin_score::key::Mode;
use riffkin_score::pitch::PitchName;

use crate::learning::SHORT;
use crate::melodies::Melody;
use crate::profiles;

/// The melody, or its beginning.
pub(crate) fn short_of(melody: &Melody, short: bool) -> &[Heard] {
    if short { &melody.notes[..melody.notes.len().min(SHORT)] } else { &melody.notes }
}

/// `-ln P(true tonic and mode)`, whole and short together, every melody alike.
pub(crate) fn log_loss(model: &Weights, melody: &Melody) -> f64 {
    let one = |short| {
        let p = probabilities(&model.evidence(&Observed::of(short_of(melody, short))));
        let mode = MODES.iter().position(|&m| m == melody.mode).unwrap_or(0);
        -p[usize::from(melody.tonic.pitch_class())][mode].max(1e-300).ln()
    };
    one(false) + one(true) / 2.0
}

/// An answer: tonic, minor third, mode.
type Answer = (u8, bool, Option<Mode>);

/// The answers for a melody: ours first, then those of [`METHODS`].
pub(crate) struct Judged {
    answers: [Answer; 5],
    /// The mode that ranks first of the seven on the true tonic.
    given: Option<Mode>,
    /// The probability of our tonic.
    sure: f64,
}

const METHODS: [&str; 5] = ["ours", "K-K", "Temp. K-P", "A-S", "last note"];

impl Judged {
    pub(crate) fn of(model: &Weights, melody: &Melody, notes: &[Heard]) -> Self {
        let seen = Observed::of(notes);
        let p = probabilities(&model.evidence(&seen));
        let sums = beliefs(model, &seen, &[]);
        let best = (0..12).fold(0, |a, b| if sums[b] > sums[a] { b } else { a });
        let row = p[best];
        let minor: f64 = (0..7).filter(|&m| MODES[m].is_minor()).map(|m| row[m]).sum();
        let mut time = [0.0; 12];
        notes.iter().for_each(|n| time[usize::from(n.pitch_class())] += n.length.to_f64());
        let by_profile = profiles::ALL.map(|p| {
            let (tonic, minor) = p.key_of(&time);
            (tonic, minor, covering(&time, tonic, minor))
        });
        let last = notes.last().map_or(0, Heard::pitch_class);
        let at = |slot: u8| time[usize::from((last + slot) % 12)];
        let last_minor = at(3) > at(4);
        Self {
            answers: [
                (
                    best as u8,
                    minor > row.iter().sum::<f64>() / 2.0,
                    ranked_first(model, notes, &seen, best as u8),
                ),
                by_profile[0],
                by_profile[1],
                by_profile[2],
                (last, last_minor, covering(&time, last, last_minor)),
            ],
            given: ranked_first(model, notes, &seen, melody.tonic.pitch_class()),
            sure: sums[best],
        }
    }
}

/// The mode with this third that holds most of the time: of equals major or minor, then the lighter change to it.
fn covering(time: &[f64; 12], tonic: u8, minor: bool) -> Option<Mode> {
    use Mode::{Dorian, Locrian, Lydian, Major, Minor, Mixolydian, Phrygian};
    let modes: &[Mode] =
        if minor { &[Minor, Dorian, Phrygian, Locrian] } else { &[Major, Mixolydian, Lydian] };
    let share = |m: &Mode| m.set().slots().map(|s| time[usize::from((s + tonic) % 12)]).sum::<f64>();
    modes.iter().copied().reduce(|a, b| if share(&b) > share(&a) + 1e-9 { b } else { a })
}

/// The first of the seven modes in the whole ranking on a given tonic.
fn ranked_first(weights: &Weights, notes: &[Heard], seen: &Observed, tonic: u8) -> Option<Mode> {
    let tonic = PitchName::simplest(tonic);
    let ranked = rank(weights, &Material::of(notes, tonic), seen, tonic, None, &[]);
    ranked.into_iter().map(|f| f.mode).find(|m| MODES.contains(m))
}

/// Percent with Wilson's interval, 95 %.
fn percent(part: usize, whole: usize) -> String {
    if whole == 0 {
        return "-".to_owned();
    }
    let (n, p, z) = (whole as f64, part as f64 / whole as f64, 1.96);
    let middle = (p + z * z / (2.0 * n)) / (1.0 + z * z / n);
    let half = z / (1.0 + z * z / n) * (p * (1.0 - p) / n + z * z / (4.0 * n * n)).sqrt();
    format!("{:.1} [{:.0}-{:.0}]", 100.0 * p, 100.0 * (middle - half), 100.0 * (middle + half))
}

#[derive(Clone, Copy, Default)]
struct Count {
    n: usize,
    tonic: usize,
    third: [usize; 5],
    exact: [usize; 5],
    given: usize,
}

/// Prints the tables for whole melodies or for their beginnings.
pub(crate) fn measure(melodies: &[Melody], judged: &[Judged], short: bool) {
    let mut counts: BTreeMap<String, Count> = BTreeMap::new();
    for (melody, judged) in melodies.iter().zip(judged) {
        let group = melody.group;
        for name in [group.to_owned(), format!("{group}: {}", melody.mode), "all".to_owned()] {
            let count = counts.entry(name).or_default();
            count.n += 1;
            count.given += usize::from(judged.given == Some(melody.mode));
            for (i, &(tonic, minor, mode)) in judged.answers.iter().enumerate() {
                let right = tonic == melody.tonic.pitch_class();
                count.tonic += usize::from(right && i == 0);
                count.third[i] += usize::from(right && minor == melody.mode.is_minor());
                count.exact[i] += usize::from(right && mode == Some(melody.mode));
            }
        }
    }
    println!("\n{}", if short { "first twelve notes" } else { "whole melodies" });
    let table = |what: &str, of: &dyn Fn(&Count) -> [usize; 5]| {
        print!("| {what} | n |");
        METHODS.iter().for_each(|m| print!(" {m} |"));
        println!();
        for (name, count) in &counts {
            print!("| {name} | {} |", count.n);
            of(count).iter().for_each(|&c| print!(" {} |", percent(c, count.n)));
            println!();
        }
    };
    table("tonic and third", &|c| c.third);
    table("tonic and mode", &|c| c.exact);
    println!("| ours | n | tonic | mode, tonic given |");
    for (name, c) in &counts {
        println!("| {name} | {} | {} | {} |", c.n, percent(c.tonic, c.n), percent(c.given, c.n));
    }
    macro_average(&counts);
    calibration(melodies, judged);
    proofs(melodies, short);
}

/// The mean over the modes of tunes with twenty melodies or more, so that major does not drown the rest.
fn macro_average(counts: &BTreeMap<String, Count>) {
    let modes: Vec<&Count> =
        counts.iter().filter(|(name, c)| name.contains("tunes:") && c.n >= 20).map(|(_, c)| c).collect();
    let mean = |of: &dyn Fn(&Count) -> usize| {
        modes.iter().map(|c| 100.0 * of(c) as f64 / c.n as f64).sum::<f64>() / modes.len().max(1) as f64
    };
    print!("mean over the {} modes of tunes with 20 or more, tonic and third:", modes.len());
    METHODS.iter().enumerate().for_each(|(i, m)| print!(" {m} {:.1}", mean(&|c| c.third[i])));
    print!("; tonic and mode:");
    METHODS.iter().enumerate().for_each(|(i, m)| print!(" {m} {:.1}", mean(&|c| c.exact[i])));
    println!();
}

/// Expected calibration error of the tonic's probability, ten bins of equal width, by group and in all.
fn calibration(melodies: &[Melody], judged: &[Judged]) {
    let mut bins: BTreeMap<&str, [(usize, f64, usize); 10]> = BTreeMap::new();
    for (melody, judged) in melodies.iter().zip(judged) {
        for name in [melody.group, "all"] {
            let bin = &mut bins.entry(name).or_default()[((judged.sure * 10.0) as usize).min(9)];
            let right = judged.answers[0].0 == melody.tonic.pitch_class();
            *bin = (bin.0 + 1, bin.1 + judged.sure, bin.2 + usize::from(right));
        }
    }
    for (name, bins) in bins {
        let n: usize = bins.iter().map(|b| b.0).sum();
        let off: f64 = bins.iter().map(|b| (b.1 - b.2 as f64).abs()).sum::<f64>() / n.max(1) as f64;
        let sure: f64 = bins.iter().map(|b| b.1).sum::<f64>() / n.max(1) as f64;
        let right: usize = bins.iter().map(|b| b.2).sum();
        let right = right as f64 / n.max(1) as f64;
        println!("calibration, {name}: error {off:.3}, said {sure:.3}, right {right:.3}");
    }
}

/// What the verdicts on the true tonic come to.
fn proofs(melodies: &[Melody], short: bool) {
    let mut counts: BTreeMap<&str, usize> = BTreeMap::new();
    for melody in melodies {
        let (verdict, _) = of_material(&Material::of(short_of(melody, short), melody.tonic));
        let kind = match &verdict {
            Verdict::Decided(mode) if *mode == melody.mode => "proved, and it is the editor's",
            Verdict::Decided(_) => "proved, and the editor has another",
            Verdict::Undecided { between, .. } if between.contains(&melody.mode) => {
                "undecided, the editor's among them"
            }
            Verdict::Undecided { .. } => "undecided, the editor's not among them",
            _ => "no mode",
        };
        *counts.entry(kind).or_default() += 1;
    }
    println!("verdicts on the true tonic: {counts:?}");
}
