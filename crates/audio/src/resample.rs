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
/// Most weights kept at a time: 4 MiB. Rates with no small ratio (44 101 to 22 050 Hz) have their weights made anew for
/// each sample.
const MOST_WEIGHTS: usize = 1 << 20;
/// Products summed side by side, so that a processor's vector unit can do them at once.
const LANES: usize = 16;

/// `samples` at rate `from` as samples at rate `to`. Beyond the ends the sound is taken for silent.
///
/// Rates have a ratio `up / down`; output sample k lies `k · down / up` input samples from the beginning, so only `up`
/// different places between two input samples occur, and each has a row of weights of its own.
#[must_use]
pub fn resampled(samples: &[f32], from: SampleRate, to: SampleRate) -> Vec<f32> {
    if from == to {
        return samples.to_vec();
    }
    let common = common_divisor(from.hz(), to.hz());
    let (up, down) = ((to.hz() / common) as usize, (from.hz() / common) as usize);
    let length = (samples.len() as u128 * up as u128).div_ceil(down as u128) as usize;
    let weights = Weights::new(up, down);
    let width = 2 * weights.half;
    let kept = if up <= length && up * width <= MOST_WEIGHTS { up } else { 0 };
    let mut table = vec![0.0; kept * width];
    for (between, row) in table.chunks_exact_mut(width).enumerate() {
        weights.row(between, row);
    }
    let mut made = vec![0.0; width];
    let (mut whole, mut between) = (0, 0);
    let mut out = Vec::with_capacity(length);
    for _ in 0..length {
        let row = match table.get(between * width..(between + 1) * width) {
            Some(row) => row,
            None => {
                weights.row(between, &mut made);
                &made
            }
        };
        // The row's first weight belongs to the sample `half - 1` before `whole`.
        let first = (whole + 1usize).saturating_sub(weights.half);
        let before = (weights.half - 1).saturating_sub(whole);
        let near = samples.get(first..samples.len().min(whole + 1 + weights.half)).unwrap_or(&[]);
        out.push(dot(near, row.get(before..).unwrap_or(&[])));
        between += down;
        whole += between / up;
        between %= up;
    }
    out
}

/// The largest number that divides both.
fn common_divisor(a: u32, b: u32) -> u32 {
    if b == 0 { a } else { common_divisor(b, a % b) }
}

/// The sum of products of two rows, as far as both go.
fn dot(a: &[f32], b: &[f32]) -> f32 {
    let mut sums = [0.0f32; LANES];
    let (a_chunks, b_chunks) = (a.chunks_exact(LANES), b.chunks_exact(LANES));
    let all = a.len().min(b.len());
    let rest: f32 = (all / LANES * LANES..all).map(|k| a[k] * b[k]).sum();
    for (a, b) in a_chunks.zip(b_chunks) {
        for (sum, (a, b)) in sums.iter_mut().zip(a.iter().zip(b)) {
            *sum += a * b;
        }
    }
    sums.iter().sum::<f32>() + rest
}

/// How much each input sample around a place counts.
struct Weights {
    kernel: Vec<f64>,
    cut: f64,
    up: usize,
    /// Input samples on either side.
    half: usize,
}

impl Weights {
    fn new(up: usize, down: usize) -> Self {
        let cut = PASS * (up as f64 / down as f64).min(1.0);
        Self { kernel: kernel(), cut, up, half: (CROSSINGS / cut).ceil() as usize }
    }

    /// The weights for a place `between / up` of the way to the next input sample.
    fn row(&self, between: usize, row: &mut [f32]) {
        let at = (self.half - 1) as f64 + between as f64 / self.up as f64;
        for (j, weight) in row.iter_mut().enumerate() {
            let place = (at - j as f64).abs() * self.cut * STEPS as f64;
            let step = place as usize;
            *weight = match self.kernel.get(step..step + 2) {
                Some([here, next]) => ((here + (next - here) * (place - step as f64)) * self.cut) as f32,
                _ => 0.0,
            };
        }
    }
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

    /// A click stays where it was, and a sample of the new rate lies where its number says, also at rates without a
    /// small ratio and over a long time.
    #[test]
    fn there_is_no_delay() {
        for (from, to) in
            [(44_100, 22_050), (48_000, 22_050), (192_000, 22_050), (44_101, 22_050), (8_000, 44_100)]
        {
            let mut click = vec![0.0; 3 * from as usize];
            let place = 2 * from as usize + from as usize / 2;
            click[place] = 1.0;
            let rate = |hz| SampleRate::new(hz).expect("in range");
            let out = resampled(&click, rate(from), rate(to));
            assert_eq!(out.len(), 3 * to as usize);
            let (at, hz) = (place as f64 / f64::from(from), f64::from(to));
            let loudest = (0..out.len()).max_by(|a, b| out[*a].total_cmp(&out[*b])).expect("not empty");
            assert_eq!(loudest, (at * hz).round() as usize, "{from} {to}");
            // The mirror image: a kernel that is even about the click's place.
            if (at * hz).fract() == 0.0 {
                assert!((1..40).all(|k| (out[loudest - k] - out[loudest + k]).abs() < 1e-6), "{from} {to}");
            }
        }
    }

    #[test]
    fn short_sounds_and_none_at_all() {
        let (from, to) = (SampleRate::CD, SampleRate::new(22_050).expect("in range"));
        assert_eq!(resampled(&[], from, to), []);
        for length in 1..100 {
            assert_eq!(resampled(&vec![0.5; length], from, to).len(), length.div_ceil(2));
            assert_eq!(resampled(&vec![0.5; length], to, from).len(), length * 2);
        }
    }

    #[test]
    fn what_lies_above_the_new_nyquist_frequency_is_gone() {
        let (from, to) = (SampleRate::CD, SampleRate::new(11_025).expect("in range"));
        let out = resampled(&sine(7_000.0, from, 22_050), from, to);
        assert!(out[500..out.len() - 500].iter().all(|s| s.abs() < 1e-3));
    }
}
