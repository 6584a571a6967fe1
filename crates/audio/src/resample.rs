//! Another sample rate for the same sound.
//!
//! Band-limited interpolation with a windowed sinc (J. O. Smith, *Digital Audio Resampling*, 2002): each output sample
//! is the input weighted by `sinc` at its distance, under a Kaiser window, with the cut-off below the lower of the two
//! Nyquist frequencies. It has no delay: output sample k lies at `k / to` seconds.

use crate::SampleRate;
use std::f64::consts::PI;

/// Zero crossings of the sinc on either side of its middle.
const CROSSINGS: f64 = 16.0;
/// Kaiser's β for about 80 dB of stop band (Kaiser 1974: β = 0.1102 (A − 8.7)).
const KAISER_BETA: f64 = 7.86;
/// Cut-off as a share of the lower Nyquist frequency: leaves the window its transition band.
const PASS: f64 = 0.90;
/// Steps of the tabulated kernel between two zero crossings; linear in between.
const STEPS: usize = 256;

/// `samples` at rate `from` as samples at rate `to`. Beyond the ends the sound is taken for silent.
#[must_use]
pub fn resampled(samples: &[f32], from: SampleRate, to: SampleRate) -> Vec<f32> {
    if from == to {
        return samples.to_vec();
    }
    let ratio = to.hz_f64() / from.hz_f64();
    let cut = PASS * ratio.min(1.0);
    let kernel = kernel();
    let reach = CROSSINGS / cut;
    let length = (samples.len() as f64 * ratio).ceil() as usize;
    (0..length)
        .map(|k| {
            let at = k as f64 / ratio;
            let first = (at - reach).ceil().max(0.0) as usize;
            let last = ((at + reach).floor() as usize + 1).min(samples.len());
            let mut sum = 0.0;
            for (j, sample) in samples.iter().enumerate().take(last).skip(first) {
                let place = (at - j as f64).abs() * cut * STEPS as f64;
                let step = place as usize;
                if let [here, next] = kernel[step.min(kernel.len() - 2)..][..2] {
                    sum += f64::from(*sample) * (here + (next - here) * (place - step as f64));
                }
            }
            (sum * cut) as f32
        })
        .collect()
}

/// One side of the windowed sinc, `STEPS` values to a zero crossing.
fn kernel() -> Vec<f64> {
    let length = CROSSINGS as usize * STEPS;
    (0..length + 2)
        .map(|k| {
            let x = k as f64 / STEPS as f64;
            let sinc = if k == 0 { 1.0 } else { (PI * x).sin() / (PI * x) };
            let inside = 1.0 - (x / CROSSINGS).powi(2);
            if inside < 0.0 {
                0.0
            } else {
                sinc * bessel_i0(KAISER_BETA * inside.sqrt()) / bessel_i0(KAISER_BETA)
            }
        })
        .collect()
}

/// Modified Bessel function of the first kind and order zero, by its power series `Σ ((x/2)^k / k!)²`.
fn bessel_i0(x: f64) -> f64 {
    let (mut term, mut sum) = (1.0, 1.0);
    for k in 1..60 {
        term *= (x / (2.0 * f64::from(k))).powi(2);
        sum += term;
    }
    sum
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sine(hz: f64, rate: SampleRate, frames: usize) -> Vec<f32> {
        (0..frames).map(|k| (2.0 * PI * hz * k as f64 / rate.hz_f64()).sin() as f32).collect()
    }

    /// Abramowitz & Stegun (1964), table 9.8: I0(1) = 1.2660658778, I0(5) = 27.2398718236.
    #[test]
    fn bessel_matches_the_printed_table() {
        assert!((bessel_i0(1.0) - 1.266_065_877_8).abs() < 1e-9);
        assert!((bessel_i0(5.0) - 27.239_871_823_6).abs() < 1e-8);
    }

    #[test]
    fn a_tone_keeps_its_pitch_phase_and_level() {
        for (from, to) in [(44_100, 11_025), (48_000, 44_100), (22_050, 48_000), (8_000, 44_100)] {
            let (from, to) =
                (SampleRate::new(from).expect("in range"), SampleRate::new(to).expect("in range"));
            let out = resampled(&sine(440.0, from, from.hz() as usize / 2), from, to);
            let want = sine(440.0, to, out.len());
            let edge = to.hz() as usize / 20;
            for k in edge..out.len() - edge {
                assert!((out[k] - want[k]).abs() < 2e-3, "{from:?} {to:?} {k}: {} {}", out[k], want[k]);
            }
        }
    }

    #[test]
    fn what_lies_above_the_new_nyquist_frequency_is_gone() {
        let (from, to) = (SampleRate::CD, SampleRate::new(11_025).expect("in range"));
        let out = resampled(&sine(7_000.0, from, 22_050), from, to);
        assert!(out[500..out.len() - 500].iter().all(|s| s.abs() < 1e-3));
    }
}
