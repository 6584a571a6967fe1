//! Where a string is struck.
//!
//! Several witnesses are heard at every frame. A pluck makes most bands of the spectrum louder within a few milliseconds
//! (log-compressed spectral flux over bands, after Böck & Widmer 2013): once as a rise of the mean over about 30 ms and
//! once as a jump between neighbouring frames. And it breaks the period: what comes cannot be foretold from the period
//! before, even where the level does not change because the same note is struck again. Each band carries its own noise
//! floor, so that in a noisy recording the bands drowned in it keep silent instead of voting. What each witness is worth
//! was learned from lines whose notes are known, clean and in rooms and noise: see the example `learn_attacks`.

use super::period::{GRID, lag_range, prefix, products, stretch};
use realfft::RealFftPlanner;
use std::f32::consts::PI;

/// Edges of the bands, in hertz, and whether the longer window is used: low bands need it to tell a period's own
/// swelling from a pluck.
const BANDS: [(f64, f64, bool); 6] = [
    (40.0, 150.0, true),
    (150.0, 400.0, true),
    (400.0, 1_000.0, true),
    (1_000.0, 2_500.0, false),
    (2_500.0, 6_000.0, false),
    (6_000.0, 10_000.0, false),
];
/// Window lengths in seconds: for high and for low bands.
const WINDOWS_S: [f64; 2] = [0.023, 0.046];
/// A rise counts for at most this, in decibels, so that no band outvotes the others; a fall for at most [`FALL`].
const RISE: f32 = 8.0;
/// See [`RISE`].
const FALL: f32 = -3.0;
/// A band rises well from this on, in decibels.
const WELL: f32 = 4.0;
/// A jump between neighbouring frames counts for at most this, in decibels.
const JUMP: f32 = 10.0;
/// Energy of a band, as a share of the loudest band's loudest frame, below which it is taken for silent: 60 dB.
const INAUDIBLE: f32 = 1e-6;
/// Stretch that is foretold, in seconds.
const FORETOLD_S: f64 = 0.015;
/// Frames blocked together while foretelling; bounds the memory.
const BLOCK: usize = 2048;

/// Log odds of a frame that says nothing. Learned, as are the [`WEIGHTS`], by `examples/learn_attacks.rs`; from which
/// lines: `docs/decisions/0005-learned-hearing.md`.
const EVEN: f32 = 0.448;
/// What each witness adds, see [`witnesses`].
const WEIGHTS: [f32; WITNESSES] = [
    -0.164, -0.235, -0.340, 0.120, 0.397, 1.019, 0.249, 0.019, 0.857, 0.116, 0.063, -0.461, 1.784, -0.043,
    0.082, 1.663, 0.856,
];

/// How many things are asked of a frame.
pub const WITNESSES: usize = 2 * BANDS.len() + 5;

/// What each frame says of an attack: for every band its rise over about 30 ms and its jump between neighbouring frames, in
/// decibels; how much was not foretold (natural logarithm of a share); how far the sound has just been damped; how loud
/// it is then beside the loudest; in how many bands it rises well; and the log odds of a strike that the partials of all
/// pitches tell, as a function of the second.
#[must_use]
pub fn witnesses(
    x: &[f32],
    voiced: &[f32],
    strikes: impl Fn(f64) -> f32,
    rate: f64,
    hop: usize,
) -> Vec<[f32; WITNESSES]> {
    let frames = x.len() / hop + 1;
    let levels = band_levels(x, rate, hop, frames);
    let news = unforetold(voiced, rate, hop, frames);
    let whole: Vec<f32> =
        (0..frames).map(|k| levels.iter().map(|band| band[k]).fold(f32::MIN, f32::max)).collect();
    let loudest = whole.iter().copied().fold(f32::MIN, f32::max);
    let at = |k: usize, offset: isize| (k as isize + offset).clamp(0, frames as isize - 1) as usize;
    let mean = |row: &[f32], k: usize, from: isize, to: isize| {
        (from..to).map(|o| row[at(k, o)]).sum::<f32>() / (to - from) as f32
    };
    (0..frames)
        .map(|k| {
            let mut said = [0f32; WITNESSES];
            let mut well = 0f32;
            for (band, row) in levels.iter().enumerate() {
                let rise = mean(row, k, 0, 4) - mean(row, k, -6, -2);
                let jump = row[at(k, 1)].max(row[at(k, 2)]) - row[at(k, -1)].min(row[at(k, -2)]);
                said[band] = rise.clamp(FALL, RISE);
                said[BANDS.len() + band] = jump.clamp(0.0, JUMP);
                well += f32::from(rise > WELL);
            }
            let [.., foretold, damped, loud, many, strike] = &mut said;
            *foretold = news[k].max(1e-3).ln();
            *damped = (mean(&whole, k, -3, 0) - mean(&whole, k, -14, -8)).clamp(-20.0, 0.0);
            *loud = (mean(&whole, k, 1, 5) - loudest).clamp(-40.0, 0.0);
            *many = well;
            *strike = strikes(k as f64 * hop as f64 / rate).clamp(-8.0, 8.0);
            said
        })
        .collect()
}

/// Log odds that a note is struck at a frame, from what it says.
#[must_use]
pub fn odds(said: &[f32; WITNESSES]) -> f32 {
    EVEN + said.iter().zip(&WEIGHTS).map(|(s, w)| s * w).sum::<f32>()
}

/// Finds the exact place of an attack near a frame.
///
/// The sound's slope (its first difference, which lifts the pluck's noise above the low partials) is squared, and the
/// energy of the [`SIDE_S`] after each instant is compared with that before it. The attack begins where that rise first
/// reaches a good part of the highest rise nearby: a finger's touch comes before the string is let go, and the note
/// begins with the touch.
pub(super) struct Placer {
    energy: Vec<f64>,
    rate: f64,
    floor: f64,
}

/// Length of the stretches compared on either side of an attack, in seconds.
const SIDE_S: f64 = 0.006;
/// How far before and after a frame its attack is sought, in seconds: the windows that find an attack look ahead.
const SOUGHT_S: (f64, f64) = (-0.015, 0.025);
/// Share of the highest rise, in decibels, at which the attack begins.
const BEGUN: f64 = 0.5;
/// Level relative to the loudest below which nothing rises, as a share of energy: 50 dB.
const FLOOR: f64 = 1e-5;

impl Placer {
    pub(super) fn new(x: &[f32], rate: f64) -> Self {
        let mut energy = Vec::new();
        let slope = x.iter().zip(std::iter::once(&0.0).chain(x)).map(|(a, b)| f64::from(a - b));
        prefix(slope.map(|s| s * s), &mut energy);
        let side = Self::side(rate);
        let loudest = energy.windows(side + 1).step_by(side).map(|w| w[side] - w[0]).fold(0f64, f64::max);
        Self { energy, rate, floor: FLOOR * loudest + 1e-15 }
    }

    fn side(rate: f64) -> usize {
        ((SIDE_S * rate) as usize).max(1)
    }

    /// Seconds from sample `at` to the beginning of the attack nearest to it; negative where it lies before.
    pub(super) fn after(&self, at: usize) -> f32 {
        let side = Self::side(self.rate);
        let last = self.energy.len().saturating_sub(1);
        let sum = |from: usize, to: usize| self.energy[to.min(last)] - self.energy[from.min(last)];
        let range = (SOUGHT_S.0 * self.rate) as isize..=(SOUGHT_S.1 * self.rate) as isize;
        let rises: Vec<(isize, f64)> = range
            .filter_map(|shift| {
                let here = at.checked_add_signed(shift)?;
                let (before, after) = (sum(here.saturating_sub(side), here), sum(here, here + side));
                Some((shift, ((after + self.floor) / (before + self.floor)).ln()))
            })
            .collect();
        let highest = rises.iter().fold(0f64, |most, (_, rise)| most.max(*rise));
        let Some(begun) = rises.iter().position(|(_, rise)| *rise >= BEGUN * highest) else { return 0.0 };
        // On to the top of the rise that begins there.
        let mut top = begun;
        while rises.get(top + 1).is_some_and(|next| next.1 >= rises[top].1) {
            top += 1;
        }
        (rises[top].0 as f64 / self.rate) as f32
    }
}

/// Level of each band at each frame in decibels, never below the band's noise floor.
fn band_levels(x: &[f32], rate: f64, hop: usize, frames: usize) -> Vec<Vec<f32>> {
    let mut planner = RealFftPlanner::<f32>::new();
    let mut levels = vec![vec![0f32; frames]; BANDS.len()];
    for (which, seconds) in WINDOWS_S.into_iter().enumerate() {
        let length = ((seconds * rate / 2.0) as usize * 2).max(2);
        let transform = planner.plan_fft_forward(length);
        let window: Vec<f32> =
            (0..length).map(|k| 0.5 - 0.5 * (2.0 * PI * (k as f32 + 0.5) / length as f32).cos()).collect();
        let (mut input, mut output) = (transform.make_input_vec(), transform.make_output_vec());
        let bin = |hz: f64| ((hz * length as f64 / rate).round() as usize).min(output.len());
        let mine: Vec<(usize, usize, usize)> = BANDS
            .iter()
            .enumerate()
            .filter(|(_, band)| band.2 == (which == 1))
            .map(|(b, band)| (b, bin(band.0), bin(band.1)))
            .collect();
        for k in 0..frames {
            let middle = k * hop;
            for (j, slot) in input.iter_mut().enumerate() {
                let at = (middle + j).checked_sub(length / 2);
                *slot = window[j] * at.and_then(|at| x.get(at)).copied().unwrap_or(0.0);
            }
            if transform.process(&mut input, &mut output).is_err() {
                continue;
            }
            for &(band, from, to) in &mine {
                let energy: f32 = output[from.min(to)..to].iter().map(|c| c.norm_sqr()).sum();
                // Both windows give a steady tone the same reading.
                if let Some(level) = levels[band].get_mut(k) {
                    *level = energy / (length * length) as f32;
                }
            }
        }
    }
    let loudest = levels.iter().flatten().copied().fold(0f32, f32::max);
    for band in &mut levels {
        let mut sorted = band.clone();
        sorted.sort_by(f32::total_cmp);
        let tenth = sorted.get(sorted.len() / 10).copied().unwrap_or(0.0);
        let floor = (2.0 * tenth).max(INAUDIBLE * loudest).max(1e-14);
        for level in band {
            *level = 10.0 * (*level + floor).log10();
        }
    }
    levels
}

/// For each frame, the share of the coming stretch's energy that no earlier stretch of one period foretells: near 0
/// while a note rings, near 1 at an attack.
fn unforetold(x: &[f32], rate: f64, hop: usize, frames: usize) -> Vec<f32> {
    let (shortest, longest) = lag_range(rate);
    let width = ((FORETOLD_S * rate) as usize).next_multiple_of(GRID);
    let reach = (longest + width).next_multiple_of(GRID);
    let mut news = Vec::with_capacity(frames);
    let (mut energy, mut running) = (Vec::new(), Vec::new());
    let loudest = (0..frames)
        .map(|k| {
            let from = (k * hop).min(x.len());
            x[from..(from + width).min(x.len())].iter().map(|s| f64::from(s * s)).sum::<f64>()
        })
        .fold(0f64, f64::max);
    let least = (1e-5 * loudest).max(1e-12);
    for first in (0..frames).step_by(BLOCK) {
        let count = BLOCK.min(frames - first);
        let sound = stretch(x, first * hop, (count - 1) * hop, reach);
        prefix(sound.iter().map(|s| f64::from(s * s)), &mut energy);
        let mut best = vec![1f64; count];
        for lag in shortest..=longest {
            // Counted by the later of the two samples, so that every frame lies on the grid.
            let offset = lag.next_multiple_of(GRID);
            products(&sound[offset..], &sound[offset - lag..], &mut running);
            for (k, best) in best.iter_mut().enumerate() {
                let now = reach + k * hop;
                let then = now - lag;
                let product = running[(now - offset + width) / GRID] - running[(now - offset) / GRID];
                let (new, old) = (energy[now + width] - energy[now], energy[then + width] - energy[then]);
                // The best gain, but a note that rings on grows by no more than a tenth.
                let gain = (product / (old + 1e-18)).clamp(0.0, 1.1);
                let rest = new - 2.0 * gain * product + gain * gain * old;
                *best = best.min((rest + least) / (new + least));
            }
        }
        news.extend(best.into_iter().map(|share| share as f32));
    }
    news
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    const RATE: f64 = 22_050.0;

    fn strength(x: &[f32]) -> Vec<f32> {
        witnesses(x, x, |_| 0.0, RATE, 128).iter().map(odds).collect()
    }

    fn pluck(at: usize, hz: f64, into: &mut [f32]) {
        for (k, out) in into[at..].iter_mut().enumerate() {
            let t = k as f64 / RATE;
            let tone: f64 = (1..30)
                .map(|n| (TAU * f64::from(n) * hz * t).sin() / f64::from(n) * (-3.0 * f64::from(n) * t).exp())
                .sum();
            *out += (0.3 * tone) as f32;
        }
    }

    #[test]
    fn a_pluck_stands_out_and_the_ringing_after_it_does_not() {
        let mut x = vec![0f32; 22_050];
        pluck(6_400, 55.0, &mut x);
        let strength = strength(&x);
        let best = (0..strength.len()).max_by(|a, b| strength[*a].total_cmp(&strength[*b])).expect("frames");
        assert!(best.abs_diff(50) <= 4, "{best}");
        assert!(
            strength[50] > 3.0 && strength[70..160].iter().all(|s| *s < -3.0),
            "{:?}",
            &strength[45..160]
        );
    }

    #[test]
    fn the_same_note_struck_again_stands_out_of_its_own_ringing() {
        let mut x = vec![0f32; 22_050];
        pluck(3_200, 41.2, &mut x);
        x[12_800..].iter_mut().for_each(|s| *s = 0.0);
        pluck(12_800, 41.2, &mut x);
        let strength = strength(&x);
        assert!(strength[98..=103].iter().any(|s| *s > 1.0), "{:?}", &strength[96..106]);
    }
}
