//! A bass among other instruments: the front end for a full mix.
//!
//! Drums, chords and a lead share the spectrum with the bass, so neither a period nor a rise of the whole level tells
//! of it. What tells is the pattern of partials above each pitch, what lies between and below them, and whether these
//! very partials rise or turn over. `spectra` lays the sound out so that such patterns look alike at every pitch;
//! `scores` weighs them.

mod scores;
mod spectra;

use crate::listen::evidence::{Evidence, Frame, FrontEnd, LOWEST_MIDI, PITCHES, Weights};
use crate::resample::resampled;
use crate::{Clip, SampleRate, Seconds};
use scores::Learned;
use spectra::{FIRST_MIDI, HOP, RATE_HZ, Spectra};

/// How much a frame's score counts for. The windows hear the same sound in many frames: as evidence in a row the scores
/// must count for less than each does alone.
const FRESH: f32 = 0.4;
/// Frames on either side that an attack's odds must outdo.
const PEAK_REACH: usize = 2;
/// Log odds where no attack is.
const NO_ATTACK: f32 = -30.0;
/// Evidence for a dead note: they are not heard in a mix, where a drum is the likelier cause.
const NO_DEAD_NOTE: f32 = -30.0;
/// Level in decibels of what is not there.
const NOTHING_DB: f32 = -100.0;
/// Semitones from a pitch to its first partials, as near as equal temperament has them.
const PARTIALS: [usize; 4] = [0, 12, 19, 24];

/// How much each feature of a note counts, learned by `examples/learn_confidence.rs`; from which lines:
/// `docs/decisions/0005-learned-hearing.md`.
const TRUST: Weights = [-0.337, 0.695, 0.564, 0.731, 0.000, -1.450, -0.237, -2.085, -3.358, 0.334, -0.555];

/// Listens to a bass with other instruments around it, one bass note at a time.
#[derive(Clone, Copy, Debug, Default)]
pub struct Mix;

impl FrontEnd for Mix {
    fn listen(&self, clip: &Clip) -> Evidence {
        let hop = Seconds::saturating(HOP as f64 / f64::from(RATE_HZ));
        let empty = Evidence { hop, delay: Seconds::ZERO, frames: Vec::new() };
        let (Ok(rate), Some(learned)) = (SampleRate::new(RATE_HZ), Learned::new()) else { return empty };
        let x = resampled(&clip.mixed_down(), clip.rate(), rate);
        if x.is_empty() {
            return empty;
        }
        let spectra = Spectra::new(&x);
        let struck: Vec<[f32; PITCHES]> =
            (0..spectra.frames).map(|k| learned.struck.at(&spectra, k)).collect();
        let frames = (0..spectra.frames)
            .map(|k| {
                let (cents, level_db) = whereabouts(&spectra, k);
                let onset = peaks(&struck, k);
                Frame {
                    salience: learned.sounds.at(&spectra, k).map(|score| FRESH * score),
                    cents,
                    onset,
                    level_db,
                    unpitched: NO_DEAD_NOTE,
                    attack_s: 0.0,
                    audible: true,
                }
            })
            .collect();
        Evidence { hop, delay: Seconds::ZERO, frames }
    }

    fn trust(&self) -> &'static Weights {
        &TRUST
    }
}

/// Log odds that any pitch is struck, for every frame of a clip, and the seconds between frames.
pub(super) fn strikes(clip: &Clip) -> (Vec<f32>, f64) {
    let hop_s = HOP as f64 / f64::from(RATE_HZ);
    let (Ok(rate), Some(learned)) = (SampleRate::new(RATE_HZ), Learned::new()) else {
        return (Vec::new(), hop_s);
    };
    let spectra = Spectra::new(&resampled(&clip.mixed_down(), clip.rate(), rate));
    let any = |k: usize| learned.struck.at(&spectra, k).into_iter().fold(f32::MIN, f32::max);
    ((0..spectra.frames).map(any).collect(), hop_s)
}

/// The odds of each pitch's attack at a frame, where they are the best around.
fn peaks(struck: &[[f32; PITCHES]], k: usize) -> [f32; PITCHES] {
    let around = &struck[k.saturating_sub(PEAK_REACH)..(k + PEAK_REACH + 1).min(struck.len())];
    std::array::from_fn(|p| {
        let here = struck[k][p];
        if around.iter().all(|other| other[p] <= here) { here } else { NO_ATTACK }
    })
}

/// How far each pitch's partials lie from equal temperament, in cents, and how loud they are together, in decibels.
fn whereabouts(spectra: &Spectra, k: usize) -> ([i8; PITCHES], [f32; PITCHES]) {
    let mut cents = [0i8; PITCHES];
    let mut level = [NOTHING_DB; PITCHES];
    for p in 0..PITCHES {
        let (mut all, mut off) = (0f32, 0f32);
        for partial in PARTIALS {
            let (energy, distance) = spectra.found(k, usize::from(LOWEST_MIDI) + p + partial - FIRST_MIDI);
            all += energy;
            off += energy * distance;
        }
        if all > 0.0 {
            cents[p] = (100.0 * off / all).round().clamp(-50.0, 50.0) as i8;
            level[p] = (10.0 * all.log10()).max(NOTHING_DB);
        }
    }
    (cents, level)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::hear;
    use std::f64::consts::TAU;

    const RATE: u32 = 22_050;

    /// Silence of this many seconds, to be played into.
    fn silence(seconds: f64) -> Vec<f32> {
        vec![0.0; (seconds * f64::from(RATE)) as usize]
    }

    /// A plucked string: partials falling as 1/n, the higher ones dying sooner, damped after `seconds`.
    fn pluck(into: &mut [f32], at_s: f64, seconds: f64, midi: f64, loud: f64) {
        let hz = 440.0 * ((midi - 69.0) / 12.0).exp2();
        let rate = f64::from(RATE);
        let first = (at_s * rate) as usize;
        for (k, out) in into[first..].iter_mut().take(((seconds + 0.1) * rate) as usize).enumerate() {
            let t = k as f64 / rate;
            let tone: f64 = (1..20)
                .map(|n| {
                    let n = f64::from(n);
                    (TAU * n * hz * t).sin() / n * (-(1.0 + 0.6 * n) * t).exp()
                })
                .sum();
            let damped = if t > seconds { (-(t - seconds) / 0.015).exp() } else { 1.0 };
            *out += (loud * tone * damped * (t / 0.002).min(1.0)) as f32;
        }
    }

    /// A snare drum: noise that dies away, from a congruential generator (Knuth, TAOCP 2, 3.3.4, line 26).
    fn noise(into: &mut [f32], at_s: f64, loud: f64) {
        let rate = f64::from(RATE);
        let mut state = 1u64;
        for (k, out) in into[(at_s * rate) as usize..].iter_mut().take((0.2 * rate) as usize).enumerate() {
            state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
            let value = (state >> 33) as f64 / f64::from(1u32 << 30) - 1.0;
            *out += (loud * value * (-(k as f64) / rate / 0.04).exp()) as f32;
        }
    }

    /// A bass drum: a sine that glides from 160 to 50 Hz and dies within a tenth of a second (common practice in drum
    /// synthesis, no source), with a click.
    fn kick(into: &mut [f32], at_s: f64, loud: f64) {
        let rate = f64::from(RATE);
        let mut turn = 0.0;
        for (k, out) in into[(at_s * rate) as usize..].iter_mut().take((0.3 * rate) as usize).enumerate() {
            let t = k as f64 / rate;
            turn += TAU * (50.0 + 110.0 * (-t / 0.02).exp()) / rate;
            *out += (loud * (turn.sin() * (-t / 0.08).exp() + 0.3 * (-t / 0.002).exp())) as f32;
        }
        noise(into, at_s, 0.1 * loud);
    }

    fn heard(x: Vec<f32>) -> Vec<(f64, u8)> {
        let clip = Clip::mono(SampleRate::new(RATE).expect("a rate"), x);
        hear(&Mix, &clip).iter().map(|n| (n.onset_s, n.midi)).collect()
    }

    /// Whether these notes and no others are heard, each within 50 ms.
    fn assert_heard(found: &[(f64, u8)], wanted: &[(f64, u8)]) {
        assert_eq!(found.len(), wanted.len(), "{found:?}");
        for ((onset, midi), (at, right)) in found.iter().zip(wanted) {
            assert!(midi == right && (onset - at).abs() < 0.05, "{found:?}");
        }
    }

    fn chord(into: &mut [f32], at_s: f64, seconds: f64) {
        for midi in [60.0, 64.0, 67.0, 72.0] {
            pluck(into, at_s, seconds, midi, 0.1);
        }
    }

    #[test]
    fn a_low_note_is_heard_under_a_chord_and_drums() {
        let mut x = silence(4.0);
        for at in [0.5, 1.5, 2.5] {
            chord(&mut x, at, 0.9);
            noise(&mut x, at + 0.5, 0.3);
        }
        let line = [(0.5, 28), (1.0, 33), (1.5, 35), (2.0, 40), (2.5, 28), (3.0, 31)];
        for (at, midi) in line {
            pluck(&mut x, at, 0.42, f64::from(midi), 0.3);
        }
        assert_heard(&heard(x), &line);
    }

    #[test]
    fn an_octave_is_two_notes() {
        let mut x = silence(3.0);
        chord(&mut x, 0.5, 1.9);
        let line = [(0.5, 33), (1.0, 45), (1.5, 33), (2.0, 45)];
        for (at, midi) in line {
            pluck(&mut x, at, 0.4, f64::from(midi), 0.3);
        }
        assert_heard(&heard(x), &line);
    }

    #[test]
    fn drums_alone_are_no_notes() {
        let mut x = silence(4.0);
        for beat in 0..6 {
            let at = 0.4 + 0.5 * f64::from(beat);
            if beat % 2 == 0 { kick(&mut x, at, 0.6) } else { noise(&mut x, at, 0.4) }
        }
        assert_heard(&heard(x), &[]);
    }

    #[test]
    fn silence_and_hardly_anything_are_no_notes() {
        assert_heard(&heard(silence(2.0)), &[]);
        assert_heard(&heard(Vec::new()), &[]);
        assert_heard(&heard(vec![0.5; 3]), &[]);
        assert_heard(&heard(vec![0.5; 30_000]), &[]);
    }
}
