//! A bass alone: the front end for a recording with nothing else in it.

pub mod attack;
mod period;
mod salience;

use crate::listen::evidence::{Evidence, Frame, FrontEnd, PITCHES, Weights};
use crate::listen::mix;
use crate::resample::resampled;
use crate::{Clip, SampleRate, Seconds};

/// Rate at which is listened, in hertz: fine enough for the shortest period, and it holds a pluck's noise.
const RATE_HZ: u32 = 22_050;
/// Samples from frame to frame: 5.8 ms.
const HOP: usize = 128;
/// A band in which a period is sought, between two frequencies in hertz (two first-order high-passes and low-passes), taking
/// only one sample of so many.
struct Voice {
    above_hz: f32,
    below_hz: f32,
    every: usize,
}

/// A period is sought twice, and what shows it more clearly is believed: the low partials are the strongest, and above the
/// others the partials are too far from harmonic to vouch for a period; but a room's rumble, a hum or the thump of a slapped
/// string may drown the low ones, and then the partials above still show it. Half the samples are enough for the low band.
const VOICES: [Voice; 2] = [
    Voice { above_hz: 60.0, below_hz: 800.0, every: 2 },
    Voice { above_hz: 300.0, below_hz: 2_000.0, every: 1 },
];
/// Above this nothing is foretold from a period, in hertz (two first-order low-passes): partials there are too far from
/// harmonic.
const TILTED_HZ: f32 = 1_800.0;
/// Below this is rumble, in hertz: first-order high-pass under the lowest string.
const RUMBLE_HZ: f32 = 20.0;
/// Log odds of the surest attack: now and then one is a noise.
const ODDS_MOST: f32 = 2.0;
/// What an audible sound without any pitch says for a dead note, as a log likelihood ratio against silence.
const DEAD: f32 = -0.5;
/// Log odds where no attack is.
const NO_ATTACK: f32 = -30.0;
/// Frames on either side that an attack must outdo.
const PEAK_REACH: usize = 4;
/// Length over which the level is taken, in frames on either side.
const LEVEL_REACH: usize = 2;

/// How much each feature of a note counts, learned by `examples/learn_confidence.rs`; from which lines:
/// `docs/decisions/0005-learned-hearing.md`.
const TRUST: Weights = [1.765, 1.194, -0.627, 1.087, 1.049, 2.311, 1.339, -1.522, -2.899, 0.908, 1.147];

/// Listens to a bass that plays alone, one note at a time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Solo;

impl FrontEnd for Solo {
    fn listen(&self, clip: &Clip) -> Evidence {
        let hop = Seconds::saturating(HOP as f64 / f64::from(RATE_HZ));
        let empty = Evidence { hop, delay: Seconds::ZERO, frames: Vec::new() };
        let Ok(rate) = SampleRate::new(RATE_HZ) else { return empty };
        let x = high_passed(&resampled(&clip.mixed_down(), clip.rate(), rate), RUMBLE_HZ);
        if x.is_empty() {
            return empty;
        }
        let mut voices = VOICES.iter().map(|voice| {
            let high = high_passed(&high_passed(&x, voice.above_hz), voice.above_hz);
            let band = low_passed(&low_passed(&high, voice.below_hz), voice.below_hz);
            let fewer: Vec<f32> = band.into_iter().step_by(voice.every).collect();
            period::periods(&fewer, rate.hz_f64() / voice.every as f64, HOP / voice.every)
        });
        let mut heard = voices.next().unwrap_or_default();
        for other in voices {
            heard.iter_mut().zip(&other).for_each(|(here, there)| here.keep_clearer(there));
        }
        let said = said(&x, clip);
        let odds: Vec<f32> = said.iter().map(attack::odds).collect();
        // Every second sample of an odd number may make one frame more.
        heard.truncate(odds.len());
        let levels = levels(&x, odds.len());
        let floor = noise_floor(&levels);
        let place = attack::Placer::new(&x, rate.hz_f64());
        let frames = heard
            .into_iter()
            .enumerate()
            .map(|(k, periods)| {
                let peak = is_peak(&odds, k);
                let salience = salience::salience(&periods);
                let onset = if peak { odds[k].min(ODDS_MOST) } else { NO_ATTACK };
                Frame {
                    salience,
                    cents: periods.cents,
                    onset: [onset; PITCHES],
                    level_db: [levels[k]; PITCHES],
                    unpitched: DEAD - salience.iter().copied().fold(0.0, f32::max),
                    attack_s: if peak { place.after(k * HOP) } else { 0.0 },
                    audible: levels[k] > floor,
                }
            })
            .collect();
        Evidence { hop, delay: Seconds::ZERO, frames }
    }

    fn trust(&self) -> &'static Weights {
        &TRUST
    }
}

/// What every frame of a clip says of an attack, for learning the weights.
#[must_use]
pub fn attack_witnesses(clip: &Clip) -> Vec<[f32; attack::WITNESSES]> {
    SampleRate::new(RATE_HZ).map_or_else(
        |_| Vec::new(),
        |rate| said(&high_passed(&resampled(&clip.mixed_down(), clip.rate(), rate), RUMBLE_HZ), clip),
    )
}

fn said(x: &[f32], clip: &Clip) -> Vec<[f32; attack::WITNESSES]> {
    let voiced = low_passed(&low_passed(x, TILTED_HZ), TILTED_HZ);
    let tilted: Vec<f32> =
        voiced.iter().zip(std::iter::once(&0.0).chain(&voiced)).map(|(a, b)| a - 0.95 * b).collect();
    let (strikes, hop_s) = mix::strikes(clip);
    let strike = |second: f64| {
        let near = (second / hop_s).round() as usize;
        let around = near.saturating_sub(1).min(strikes.len())..(near + 2).min(strikes.len());
        strikes[around].iter().copied().fold(f32::MIN, f32::max)
    };
    attack::witnesses(x, &tilted, strike, f64::from(RATE_HZ), HOP)
}

fn coefficient(hz: f32) -> f32 {
    (-std::f32::consts::TAU * hz / RATE_HZ as f32).exp()
}

fn low_passed(x: &[f32], hz: f32) -> Vec<f32> {
    let keep = coefficient(hz);
    let mut state = 0f32;
    x.iter()
        .map(|s| {
            state = keep * state + (1.0 - keep) * s;
            state
        })
        .collect()
}

fn high_passed(x: &[f32], hz: f32) -> Vec<f32> {
    x.iter().zip(low_passed(x, hz)).map(|(s, low)| s - low).collect()
}

/// Mean level around each frame, in decibels relative to full scale.
fn levels(x: &[f32], frames: usize) -> Vec<f32> {
    let mut running = Vec::new();
    period::prefix(x.iter().map(|s| f64::from(s * s)), &mut running);
    (0..frames)
        .map(|k| {
            let from = (k.saturating_sub(LEVEL_REACH) * HOP).min(x.len());
            let to = ((k + LEVEL_REACH) * HOP).min(x.len());
            let power = (running[to] - running[from]) / (to - from).max(1) as f64;
            (10.0 * (power + 1e-12).log10()) as f32
        })
        .collect()
}

/// The level below which nothing is taken for a note: 6 dB above the twentieth part of the frames that are softest, but
/// no less than 50 dB and no more than 25 dB below the loud ones, and never below −80 dBFS.
fn noise_floor(levels: &[f32]) -> f32 {
    let mut sorted = levels.to_vec();
    sorted.sort_by(f32::total_cmp);
    let share =
        |part: f32| sorted.get((part * (sorted.len() - 1) as f32) as usize).copied().unwrap_or(-120.0);
    let (soft, loud) = (share(0.05), share(0.95));
    (soft + 6.0).clamp(loud - 50.0, loud - 25.0).max(-80.0)
}

fn is_peak(strength: &[f32], k: usize) -> bool {
    let around = &strength[k.saturating_sub(PEAK_REACH)..(k + PEAK_REACH + 1).min(strength.len())];
    let before = &strength[k.saturating_sub(PEAK_REACH)..k];
    around.iter().all(|s| *s <= strength[k]) && before.iter().all(|s| *s < strength[k])
}
