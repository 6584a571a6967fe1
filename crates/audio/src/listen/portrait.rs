//! The picture of a sound that a teacher checks notes against: level over pitch and time.
//!
//! A reassigned spectrogram (Auger and Flandrin 1995, *Improving the readability of time-frequency and time-scale
//! representations by the reassignment method*, IEEE Transactions on Signal Processing 43(5), 1068–1089): the energy of
//! each short stretch is drawn where it lies and not where the window's grid happens to be, so that a low string is a
//! thin line although its period is long. Below [`SPLIT_HZ`] a long window keeps the lowest partials apart; above it a
//! short one keeps fast notes apart.

use crate::resample::resampled;
use crate::{Clip, SampleRate};
use realfft::num_complex::Complex;
use realfft::{RealFftPlanner, RealToComplex};
use std::f64::consts::TAU;
use std::sync::Arc;

/// Lowest pitch shown, a MIDI number: 27.5 Hz, under the open low B of a five-string bass.
pub const LOWEST_MIDI: u8 = 21;
/// Highest pitch shown, a MIDI number: 1480 Hz, the fourth partial of the highest fretted notes.
pub const HIGHEST_MIDI: u8 = 90;
/// Rows for each semitone; the middle one is the equal-tempered pitch itself.
pub const ROWS_PER_SEMITONE: usize = 3;
/// Columns a second.
pub const COLUMNS_PER_S: f64 = 100.0;
/// Longest sound that is drawn, in seconds.
pub const LONGEST_S: f64 = 120.0;
/// How far below the loudest place a level may lie and still be shown, in decibels.
pub const DEPTH_DB: f64 = 60.0;

/// Rate at which is looked, in hertz: holds what is shown.
const RATE_HZ: u32 = 4_000;
/// Samples from one look to the next: 5 ms.
const HOP: usize = 20;
/// Points of each transform.
const POINTS: usize = 1_024;
/// Where the long window gives way to the short one, in hertz.
pub const SPLIT_HZ: f64 = 150.0;
/// Length of the long and of the short window, in samples: 200 and 90 ms.
const WINDOWS: [usize; 2] = [800, 360];
/// How far energy may be moved in frequency, in widths of the window's main lobe; what would go further is noise.
const REACH: f64 = 2.0;

const ROWS: usize = (HIGHEST_MIDI - LOWEST_MIDI) as usize * ROWS_PER_SEMITONE + ROWS_PER_SEMITONE;

/// Level over pitch and time.
#[derive(Clone, Debug, PartialEq)]
pub struct Portrait {
    /// Seconds from column to column.
    pub column_s: f64,
    /// How many columns; column k shows the sound around `(k + 1/2) · column_s` from the clip's start.
    pub columns: usize,
    /// How many rows.
    pub rows: usize,
    /// Rows for each semitone; row r is `LOWEST_MIDI + (r − 1) / 3` as a MIDI number.
    pub rows_per_semitone: usize,
    /// Column by column, each from the lowest row up: 255 is the loudest place of all, 0 is [`DEPTH_DB`] below it or less.
    pub levels: Vec<u8>,
}

/// Why a sound has no portrait.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum PortraitError {
    /// It is too long to be looked at in one picture.
    #[error("{seconds:.0} s are too long for one picture, which holds {LONGEST_S:.0} s")]
    TooLong {
        /// Its length.
        seconds: f64,
    },
    /// The reference tuning is of no use.
    #[error("a reference of {reference_hz} Hz is none; give a frequency between 300 and 600 Hz")]
    Reference {
        /// What was given.
        reference_hz: f64,
    },
}

/// The portrait of a clip; `reference_hz` is the frequency of A4, MIDI 69.
///
/// # Errors
/// [`PortraitError`] for more than [`LONGEST_S`] or a reference outside 300 to 600 Hz.
pub fn portrait(clip: &Clip, reference_hz: f64) -> Result<Portrait, PortraitError> {
    let seconds = clip.duration().value();
    if seconds > LONGEST_S {
        return Err(PortraitError::TooLong { seconds });
    }
    if !(300.0..=600.0).contains(&reference_hz) {
        return Err(PortraitError::Reference { reference_hz });
    }
    let columns = (seconds * COLUMNS_PER_S).ceil() as usize;
    let mut canvas = Canvas { reference_hz, columns, power: vec![0.0; columns * ROWS] };
    if let Ok(rate) = SampleRate::new(RATE_HZ) {
        let samples = resampled(&clip.one_row(), clip.rate(), rate);
        let mut planner = RealFftPlanner::new();
        let transform = planner.plan_fft_forward(POINTS);
        for (i, length) in WINDOWS.into_iter().enumerate() {
            Look::new(length, Arc::clone(&transform)).over(&samples, i == 0, &mut canvas);
        }
    }
    Ok(Portrait {
        column_s: 1.0 / COLUMNS_PER_S,
        columns,
        rows: ROWS,
        rows_per_semitone: ROWS_PER_SEMITONE,
        levels: canvas.levels(),
    })
}

/// Where energy is put down.
struct Canvas {
    reference_hz: f64,
    columns: usize,
    power: Vec<f64>,
}

impl Canvas {
    /// Puts energy at a place, shared among the four cells around it.
    fn put(&mut self, second: f64, hz: f64, power: f64) {
        let midi = 69.0 + 12.0 * (hz / self.reference_hz).log2();
        let row = (midi - f64::from(LOWEST_MIDI)) * ROWS_PER_SEMITONE as f64 + 1.0;
        let column = second * COLUMNS_PER_S - 0.5;
        let (low, left) = (row.floor(), column.floor());
        for (r, share_r) in [(low, 1.0 - (row - low)), (low + 1.0, row - low)] {
            for (c, share_c) in [(left, 1.0 - (column - left)), (left + 1.0, column - left)] {
                let inside = r >= 0.0 && c >= 0.0 && r < ROWS as f64 && c < self.columns as f64;
                if inside && let Some(cell) = self.power.get_mut(c as usize * ROWS + r as usize) {
                    *cell += power * share_r * share_c;
                }
            }
        }
    }

    /// Softened by one cell either way, in decibels below the loudest.
    fn levels(self) -> Vec<u8> {
        let across = softened(&self.power, ROWS);
        let power = softened(&across, 1);
        let most = power.iter().copied().fold(0.0, f64::max);
        if most <= 0.0 {
            return vec![0; power.len()];
        }
        power
            .iter()
            .map(|p| {
                let below = -10.0 * (p / most).max(1e-30).log10();
                (255.0 * (1.0 - below / DEPTH_DB).clamp(0.0, 1.0)).round() as u8
            })
            .collect()
    }
}

/// Each cell with a quarter of the cells `stride` before and after it; cells over the edge are empty.
fn softened(power: &[f64], stride: usize) -> Vec<f64> {
    let at = |i: Option<usize>| i.and_then(|i| power.get(i)).copied().unwrap_or(0.0);
    (0..power.len())
        .map(|i| {
            // Within a column the next cell up from the last row is another column's.
            let wraps = |i: usize| stride == 1 && i.is_multiple_of(ROWS);
            let before = if wraps(i) { None } else { i.checked_sub(stride) };
            let after = if wraps(i + 1) { None } else { Some(i + stride) };
            0.25 * at(before) + 0.5 * at(Some(i)) + 0.25 * at(after)
        })
        .collect()
}

/// One window with its two companions.
struct Look {
    /// The window, the window times time in samples from its middle, and its slope by sample.
    windows: [Vec<f32>; 3],
    energy: f64,
    transform: Arc<dyn RealToComplex<f32>>,
}

impl Look {
    /// A Hann window of `length` samples.
    fn new(length: usize, transform: Arc<dyn RealToComplex<f32>>) -> Self {
        let turn = TAU / length as f64;
        let middle = 0.5 * length as f64;
        let at = |n: usize| n as f64 + 0.5;
        let hann = |n: usize| 0.5 - 0.5 * (turn * at(n)).cos();
        let of = |f: &dyn Fn(usize) -> f64| (0..length).map(|n| f(n) as f32).collect::<Vec<f32>>();
        let timed = of(&|n| (at(n) - middle) * hann(n));
        let slope = of(&|n| 0.5 * turn * (turn * at(n)).sin());
        let energy = (0..length).map(|n| hann(n) * hann(n)).sum();
        Self { windows: [of(&hann), timed, slope], energy, transform }
    }

    /// Looks along the samples and puts down what lies on its side of the split.
    fn over(&self, samples: &[f32], low: bool, canvas: &mut Canvas) {
        let rate = f64::from(RATE_HZ);
        let length = self.windows[0].len();
        let lobe = rate / length as f64 * 2.0 * REACH;
        let bin = rate / POINTS as f64;
        let span = if low { (20.0, SPLIT_HZ) } else { (SPLIT_HZ, 0.45 * rate) };
        let first = ((span.0 - lobe) / bin).max(1.0) as usize;
        let last = (((span.1 + lobe) / bin).ceil() as usize).min(POINTS / 2);
        let mut input = self.transform.make_input_vec();
        let mut spectra: [Vec<Complex<f32>>; 3] = std::array::from_fn(|_| self.transform.make_output_vec());
        let looks = samples.len().div_ceil(HOP) + length / HOP;
        for look in 0..looks {
            // The window's middle, in samples; it starts half a window before the sound.
            let middle = look as f64 * HOP as f64 - 0.5 * (length as f64) + HOP as f64;
            let start = middle as i64 - (length / 2) as i64;
            for (window, spectrum) in self.windows.iter().zip(&mut spectra) {
                input.fill(0.0);
                for (n, (slot, w)) in input.iter_mut().zip(window).enumerate() {
                    let place = usize::try_from(start + n as i64).ok();
                    *slot = w * place.and_then(|p| samples.get(p)).copied().unwrap_or(0.0);
                }
                // Lengths are the transform's own, so that it cannot refuse.
                let _ = self.transform.process(&mut input, spectrum);
            }
            let [plain, timed, slope] = &spectra;
            for k in first..last {
                let (Some(x), Some(t), Some(d)) = (plain.get(k), timed.get(k), slope.get(k)) else {
                    continue;
                };
                let power = f64::from(x.norm_sqr());
                if power < 1e-12 {
                    continue;
                }
                let later = f64::from((t * x.conj()).re) / power;
                let higher = -f64::from((d * x.conj()).im) / power * rate / TAU;
                let hz = k as f64 * bin + higher;
                let fits = higher.abs() < lobe && later.abs() < 0.5 * length as f64;
                if fits && hz >= span.0 && hz < span.1 {
                    canvas.put((start as f64 + 0.5 * length as f64 + later) / rate, hz, power / self.energy);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, seconds: f64, gain: f64, rate: u32) -> Vec<f32> {
        (0..(seconds * f64::from(rate)) as usize)
            .map(|n| (gain * (TAU * hz * n as f64 / f64::from(rate)).sin()) as f32)
            .collect()
    }

    fn clip(samples: Vec<f32>, rate: u32) -> Clip {
        Clip::mono(SampleRate::new(rate).unwrap(), samples)
    }

    /// The loudest row of a column, as a MIDI number.
    fn loudest(p: &Portrait, column: usize) -> f64 {
        let levels = &p.levels[column * p.rows..(column + 1) * p.rows];
        let (row, _) = levels.iter().enumerate().max_by_key(|(_, l)| **l).unwrap();
        f64::from(LOWEST_MIDI) + (row as f64 - 1.0) / 3.0
    }

    /// Equal temperament on A4 = 440 Hz (ISO 16:1975), frequencies to two places as usually printed.
    #[test]
    fn tones_lie_on_their_pitch() {
        for (hz, midi) in [(30.87, 23), (41.20, 28), (55.00, 33), (98.00, 43), (261.63, 60), (880.00, 81)] {
            for rate in [8_000, 44_100] {
                let p = portrait(&clip(tone(hz, 1.0, 0.5, rate), rate), 440.0).unwrap();
                for column in [30, 50, 70] {
                    assert_eq!(loudest(&p, column), f64::from(midi), "{hz} Hz at {rate}");
                }
            }
        }
    }

    #[test]
    fn a_reference_moves_the_rows() {
        let p = portrait(&clip(tone(55.0, 1.0, 0.5, 8_000), 8_000), 440.0 * 2f64.powf(1.0 / 12.0)).unwrap();
        assert_eq!(loudest(&p, 50), 32.0);
    }

    #[test]
    fn levels_are_decibels_below_the_loudest() {
        let mut samples = tone(110.0, 1.0, 0.5, 8_000);
        samples.extend(tone(110.0, 1.0, 0.05, 8_000));
        let p = portrait(&clip(samples, 8_000), 440.0).unwrap();
        let level = |column: usize| {
            let column = &p.levels[column * p.rows..(column + 1) * p.rows];
            f64::from(column.iter().copied().max().unwrap())
        };
        let below = (level(50) - level(150)) / 255.0 * DEPTH_DB;
        assert!((below - 20.0).abs() < 1.5, "{below} dB between tones 20 dB apart");
    }

    /// A tone that starts at 0.5 s is not drawn a quarter of a long window early.
    #[test]
    fn a_start_is_where_it_is() {
        for hz in [41.2, 82.4, 220.0] {
            let mut samples = vec![0.0; 4_000];
            samples.extend(tone(hz, 1.0, 0.5, 8_000));
            let p = portrait(&clip(samples, 8_000), 440.0).unwrap();
            let darkest = |k: usize| p.levels[k * p.rows..(k + 1) * p.rows].iter().copied().max().unwrap();
            // 20 dB below the loudest counts as sounding.
            let first = (0..p.columns).find(|k| darkest(*k) > 170).unwrap();
            assert!((46..=54).contains(&first), "{hz} Hz begins in column {first}");
        }
    }

    #[test]
    fn channels_in_opposite_phase_are_seen() {
        let left = tone(55.0, 0.5, 0.5, 8_000);
        let right = left.iter().map(|s| -s).collect();
        let both = Clip::new(SampleRate::new(8_000).unwrap(), vec![left, right]).unwrap();
        assert_eq!(loudest(&portrait(&both, 440.0).unwrap(), 25), 33.0);
    }

    #[test]
    fn silence_and_nothing_are_white_and_too_much_is_refused() {
        let quiet = portrait(&clip(vec![0.0; 8_000], 8_000), 440.0).unwrap();
        assert_eq!((quiet.columns, quiet.levels.iter().copied().max()), (100, Some(0)));
        assert_eq!(portrait(&clip(vec![], 8_000), 440.0).unwrap().columns, 0);
        let long = clip(vec![0.0; 8_000 * 121], 8_000);
        assert_eq!(portrait(&long, 440.0), Err(PortraitError::TooLong { seconds: 121.0 }));
        assert!(portrait(&clip(vec![], 8_000), f64::NAN).is_err());
    }
}
