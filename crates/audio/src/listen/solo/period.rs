//! How well each pitch's period explains the sound around an instant.
//!
//! The measure is one minus the normalised correlation of a stretch of sound with the stretch one period later: 0 where
//! the sound repeats exactly, about 1 where the two are unrelated. For stretches of equal energy this is half of the
//! difference function of de Cheveigné & Kawahara (2002, *YIN*, eq. 6) divided by that energy; unlike the difference it
//! does not take a dying note for an unclear one.
//!
//! It is used otherwise than in YIN. The stretch is no longer than it must be: one period of a low note, a few of a
//! high one. And three places are tried at every instant, the stretch beginning there, ending there and lying around
//! it, and the best is kept: so a note is named from its first period on and until its last, although a low B needs
//! 65 ms to show two of them. Which of several harmonically related pitches it is (twice the period fits as well as the
//! period) is left to [`super::salience`].
//!
//! Running sums for each lag, kept every [`GRID`] samples, make every stretch cost the same: the work is one
//! multiplication for each lag and sample, and no Fourier transform is needed.

use crate::listen::evidence::{LOWEST_MIDI, PITCHES};

/// Shortest stretch compared, in seconds: a period of the lowest note and half, so that the slope of a low partial is
/// not taken for a high note's repetition.
const SHORTEST_S: f64 = 0.045;
/// A stretch this much weaker than its partner (in energy) cannot vouch for a pitch: the correlation is divided by no
/// less.
const WEAKEST: f64 = 0.3;
/// Samples from one running sum to the next, 1.5 ms: stretches begin and end on this grid. A frame must lie on it.
pub(super) const GRID: usize = 32;
/// Frames worked on together; bounds the memory to about 10 MB.
const BLOCK: usize = 2048;

/// For one instant: the aperiodicity of each pitch's best period, and where that lies.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Periods {
    /// One minus the normalised correlation, 0 periodic, about 1 unrelated.
    pub(super) aperiodicity: [f32; PITCHES],
    /// Place of the best period against equal temperament, in cents, −50 to 50.
    pub(super) cents: [i8; PITCHES],
}

impl Periods {
    /// Takes over the periods that show more clearly in another hearing of the same instant.
    pub(super) fn keep_clearer(&mut self, other: &Self) {
        for p in 0..PITCHES {
            if other.aperiodicity[p] < self.aperiodicity[p] {
                (self.aperiodicity[p], self.cents[p]) = (other.aperiodicity[p], other.cents[p]);
            }
        }
    }
}

/// Frequency of MIDI number `midi` (may be fractional) at A4 = 440 Hz, equal temperament (ISO 16:1975), in hertz.
pub(super) fn hertz(midi: f64) -> f64 {
    440.0 * ((midi - 69.0) / 12.0).exp2()
}

/// The lags, in samples, between which every pitch listened for has its period.
pub(super) fn lag_range(rate: f64) -> (usize, usize) {
    let lowest = f64::from(LOWEST_MIDI);
    let shortest = (rate / hertz(lowest + PITCHES as f64 - 0.5)).floor() as usize - 1;
    (shortest, (rate / hertz(lowest - 0.5)).ceil() as usize + 1)
}

/// Periods at every `hop` samples of `x`, sampled at `rate` hertz.
pub(super) fn periods(x: &[f32], rate: f64, hop: usize) -> Vec<Periods> {
    let frames = x.len() / hop + 1;
    let (shortest, longest) = lag_range(rate);
    let least = (SHORTEST_S * rate) as usize;
    let ranges = pitch_ranges(rate, shortest, longest);
    let lags = longest - shortest + 1;
    let mut found = Vec::with_capacity(frames);
    let (mut energy, mut running) = (Vec::new(), Vec::new());
    for first in (0..frames).step_by(BLOCK) {
        let count = BLOCK.min(frames - first);
        let reach = (longest + longest.max(least)).next_multiple_of(GRID);
        let sound = stretch(x, first * hop, (count - 1) * hop, reach);
        prefix(sound.iter().map(|s| f64::from(s * s)), &mut energy);
        let mut table = vec![1f32; lags * count];
        for lag in shortest..=longest {
            products(&sound, &sound[lag..], &mut running);
            let width = lag.max(least) / GRID * GRID;
            for k in 0..count {
                let here = reach + k * hop;
                let starts = [here, here - width - lag, here - (width + lag) / 2].map(|s| s / GRID * GRID);
                let best = starts.iter().fold(1f64, |best, &start| {
                    let product = running[(start + width) / GRID] - running[start / GRID];
                    let one = energy[start + width] - energy[start];
                    let other = energy[start + width + lag] - energy[start + lag];
                    let floor = WEAKEST * one.max(other);
                    let scale = one.max(floor) * other.max(floor);
                    if scale > 1e-18 { best.min(1.0 - product / scale.sqrt()) } else { best }
                });
                table[k * lags + lag - shortest] = best as f32;
            }
        }
        found.extend(table.chunks_exact(lags).map(|row| best_of_each(&ranges, shortest, row)));
    }
    found
}

/// The samples from `reach` before `from` to `reach` after `from + length`; silence beyond the clip.
pub(super) fn stretch(x: &[f32], from: usize, length: usize, reach: usize) -> Vec<f32> {
    (0..length + 2 * reach + 1)
        .map(|k| (from + k).checked_sub(reach).and_then(|j| x.get(j)).copied().unwrap_or(0.0))
        .collect()
}

/// Running sums, one longer than `values`: the sum of the first n at place n.
pub(super) fn prefix(values: impl Iterator<Item = f64>, into: &mut Vec<f64>) {
    into.clear();
    into.push(0.0);
    let mut sum = 0.0;
    into.extend(values.map(|v| {
        sum += v;
        sum
    }));
}

/// Running sums of the products of two stretches, one for every [`GRID`] samples: the sum of the first `n · GRID`
/// products at place n.
pub(super) fn products(one: &[f32], other: &[f32], into: &mut Vec<f64>) {
    const LANES: usize = 8;
    into.clear();
    into.push(0.0);
    let mut sum = 0.0;
    into.extend(one.chunks_exact(GRID).zip(other.chunks_exact(GRID)).map(|(a, b)| {
        // Eight sums side by side: what a processor adds at once.
        let mut lanes = [0f32; LANES];
        for (a, b) in a.chunks_exact(LANES).zip(b.chunks_exact(LANES)) {
            for ((lane, a), b) in lanes.iter_mut().zip(a).zip(b) {
                *lane += a * b;
            }
        }
        sum += f64::from(lanes.iter().sum::<f32>());
        sum
    }));
}

/// The lags that belong to each pitch, within half a semitone, and its exact period in samples.
fn pitch_ranges(rate: f64, shortest: usize, longest: usize) -> Vec<(usize, usize, f64)> {
    (0..PITCHES)
        .map(|p| {
            let midi = f64::from(LOWEST_MIDI) + p as f64;
            let low = (rate / hertz(midi + 0.5)).ceil() as usize;
            let high = (rate / hertz(midi - 0.5)).floor() as usize;
            (low.max(shortest + 1), high.min(longest - 1), rate / hertz(midi))
        })
        .collect()
}

fn best_of_each(ranges: &[(usize, usize, f64)], shortest: usize, row: &[f32]) -> Periods {
    let value = |lag: usize| row[lag - shortest];
    let mut periods = Periods { aperiodicity: [1.0; PITCHES], cents: [0; PITCHES] };
    for (p, &(low, high, exact)) in ranges.iter().enumerate() {
        let Some(lag) = (low..=high).min_by(|a, b| value(*a).total_cmp(&value(*b))) else { continue };
        let (before, here, after) = (value(lag - 1), value(lag), value(lag + 1));
        // The lowest point of the parabola through the dip and its neighbours.
        let bend = before - 2.0 * here + after;
        let (mut shift, mut depth) = (0f32, here);
        if here <= before && here <= after && bend > 0.0 {
            shift = (0.5 * (before - after) / bend).clamp(-0.5, 0.5);
            depth = here - 0.25 * (before - after) * shift;
        }
        periods.aperiodicity[p] = depth.max(0.0);
        let cents = 1200.0 * (exact / (lag as f64 + f64::from(shift))).log2();
        periods.cents[p] = cents.round().clamp(-50.0, 50.0) as i8;
    }
    periods
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const RATE: f64 = 22_050.0;

    fn tone(hz: f64) -> Vec<f32> {
        (0..8_192).map(|k| (TAU * hz * f64::from(k) / RATE).sin() as f32).collect()
    }

    /// de Cheveigné & Kawahara (2002): the difference function of a periodic sound is zero at its period and at every
    /// multiple of it. For a pure tone of frequency f it is `1 − cos(2π f τ)` of the tone's power.
    #[test]
    fn the_difference_function_of_a_pure_tone_is_one_minus_a_cosine() {
        let hz = hertz(52.0);
        let found = &periods(&tone(hz), RATE, 128)[32];
        let (shortest, longest) = lag_range(RATE);
        for (p, &(low, high, _)) in pitch_ranges(RATE, shortest, longest).iter().enumerate() {
            let want = (low..=high).map(|lag| 1.0 - (TAU * hz * lag as f64 / RATE).cos()).fold(1.0, f64::min);
            let got = f64::from(found.aperiodicity[p]);
            // Windows that hold no whole number of half periods leave a few hundredths.
            assert!((got - want).abs() < 0.06, "MIDI {}: {got}, wanted {want}", p + 23);
        }
        let at = |midi: usize| found.aperiodicity[midi - 23];
        assert!(at(52) < 1e-3 && at(40) < 1e-3 && at(33) < 1e-3, "{} {} {}", at(52), at(40), at(33));
    }

    #[test]
    fn a_tone_between_two_pitches_tells_how_far() {
        for cents in [-40.0, -7.0, 0.0, 23.0, 45.0] {
            let found = &periods(&tone(hertz(45.0 + cents / 100.0)), RATE, 128)[32];
            let got = f64::from(found.cents[45 - usize::from(LOWEST_MIDI)]);
            assert!((got - cents).abs() <= 1.5, "{got} {cents}");
        }
    }

    /// ISO 16:1975, A4 = 440 Hz, and equal temperament: open strings of a five-string bass and the C above, to 1e-4 Hz.
    #[test]
    fn open_strings_have_their_frequencies() {
        let table = [
            (23.0, 30.8677),
            (28.0, 41.2034),
            (33.0, 55.0),
            (38.0, 73.4162),
            (43.0, 97.9989),
            (48.0, 130.8128),
        ];
        for (midi, hz) in table {
            assert!((hertz(midi) - hz).abs() < 1e-4, "{midi}");
        }
    }
}
