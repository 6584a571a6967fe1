//! What is looked at: spectra of several lengths on a semitone axis, and what in them is news.
//!
//! In each frame every bin of a short-time spectrum is moved to where its sound truly lies, by the phase's rate of
//! change (frequency reassignment; Auger & Flandrin 1995, *Improving the readability of time-frequency and time-scale
//! representations by the reassignment method*, IEEE Trans. Signal Processing 43, eq. 15), and its energy is added up
//! in semitones. So a partial lies in one semitone even where a window is too short to part it from the next by itself.
//!
//! Two spectra more hold the news: the energy of what differs from the spectrum some frames before with its phases
//! turned on (complex-domain onset detection; Duxbury, Bello, Davies & Sandler 2003). A string that rings on under a
//! drum foretells itself; one that is struck again does not, even if it is no louder than before.
//!
//! All energies are taken relative to the level around them and compressed by a logarithm.

use realfft::num_complex::Complex32;
use realfft::{RealFftPlanner, RealToComplex};
use std::f32::consts::{PI, TAU};
use std::sync::Arc;

/// Rate at which is listened, in hertz: holds the sixth partial of every note listened for.
pub(super) const RATE_HZ: u32 = 11_025;
/// Samples from frame to frame: 11.6 ms.
pub(super) const HOP: usize = 128;
/// MIDI number of the first semitone.
pub(super) const FIRST_MIDI: usize = 11;
/// Semitones.
pub(super) const CHANNELS: usize = 90;
/// Place from one frame's semitones to the next's: a whole number of vector lanes.
pub(super) const ROW: usize = 96;
/// Window lengths in samples: 186, 93, 46 and 23 ms.
const WINDOWS: [usize; 4] = [2048, 1024, 512, 256];
/// Spectra of news: of which window, and how many frames back it is foretold from.
const NEWS: [(usize, usize); 2] = [(1, 4), (2, 3)];
/// How many spectra there are.
pub(super) const SPECTRA: usize = WINDOWS.len() + NEWS.len();
/// The band analysed, in hertz.
const BAND_HZ: (f32, f32) = (15.0, 2_800.0);
/// A bin is moved by at most this many bins: what is farther lies outside the window's main lobe.
const FARTHEST: f32 = 1.5;
/// Share of the level around under which energies are not told apart: −40 dB.
const QUIET: f32 = 1e-4;
/// Energy taken for silence, relative to a full-scale sine: −100 dB.
const SILENT: f32 = 1e-10;
/// Semitones whose energy makes the level: MIDI 23 to 70.
const LEVEL: std::ops::Range<usize> = 12..60;
/// How far the level around a frame reaches, in seconds (decay constant on either side).
const NEAR_S: f32 = 3.0;
/// Least level around a frame, as a share of the clip's.
const LEAST: f32 = 1e-3;
/// A Hann window's bins hold this much more energy than its middle bin.
const SPREAD: f32 = 1.5;

/// The spectra of a clip.
pub(super) struct Spectra {
    /// How many frames there are.
    pub(super) frames: usize,
    /// For each spectrum and frame [`CHANNELS`] log-compressed energies, in rows of [`ROW`].
    rows: Vec<Vec<f32>>,
    /// For each frame and semitone: energy-weighted distance from the semitone's middle, in semitones (longest window).
    off: Vec<f32>,
    /// Energies that go with `off`, relative to a full-scale sine.
    energy: Vec<f32>,
}

impl Spectra {
    /// Spectra of `x`, sampled at [`RATE_HZ`].
    pub(super) fn new(x: &[f32]) -> Self {
        let frames = x.len() / HOP + 1;
        let mut rows = vec![vec![0f32; frames * ROW]; SPECTRA];
        let mut off = vec![0f32; frames * CHANNELS];
        let mut planner = RealFftPlanner::<f32>::new();
        for (which, length) in WINDOWS.into_iter().enumerate() {
            let news = NEWS.iter().position(|(window, _)| *window == which);
            let back = news.map_or(0, |n| NEWS[n].1);
            let mut lens = Lens::new(&mut planner, length, back);
            for k in 0..frames {
                lens.look(x, k);
                let row = k * ROW..k * ROW + CHANNELS;
                lens.gather(&mut rows[which][row.clone()]);
                if which == 0 {
                    lens.gather_offsets(&mut off[k * CHANNELS..(k + 1) * CHANNELS]);
                }
                if let Some(news) = news {
                    lens.gather_news(k, &mut rows[WINDOWS.len() + news][row]);
                }
            }
        }
        let energy = (0..frames).flat_map(|k| rows[0][k * ROW..k * ROW + CHANNELS].iter().copied()).collect();
        let levels: Vec<Vec<f32>> = rows[..WINDOWS.len()].iter().map(|rows| near_levels(rows)).collect();
        for (which, rows) in rows.iter_mut().enumerate() {
            let window = which.checked_sub(WINDOWS.len()).map_or(which, |news| NEWS[news].0);
            for (row, level) in rows.chunks_exact_mut(ROW).zip(&levels[window]) {
                let scale = 1.0 / (QUIET * level + SILENT);
                row.iter_mut().for_each(|e| *e = (*e * scale).ln_1p());
            }
        }
        Self { frames, rows, off, energy }
    }

    /// The semitones of a spectrum at a frame; beyond the ends those of the first and of the last frame.
    pub(super) fn row(&self, spectrum: usize, frame: usize, later: isize) -> &[f32] {
        let at = frame.saturating_add_signed(later).min(self.frames - 1);
        &self.rows[spectrum][at * ROW..(at + 1) * ROW]
    }

    /// Energy in a semitone at a frame, relative to a full-scale sine, and its distance from the semitone's middle in
    /// semitones.
    pub(super) fn found(&self, frame: usize, channel: usize) -> (f32, f32) {
        let at = frame * CHANNELS + channel;
        let energy = self.energy[at];
        (energy, if energy > 0.0 { self.off[at] / energy } else { 0.0 })
    }
}

/// The level around each frame: the mean of the energy, weighted by itself so that silence does not count, and by
/// `exp(−|t| / NEAR_S)`.
fn near_levels(rows: &[f32]) -> Vec<f32> {
    let energy: Vec<f32> = rows.chunks_exact(ROW).map(|row| row[LEVEL].iter().sum()).collect();
    let squares: Vec<f32> = energy.iter().map(|e| e * e).collect();
    let whole = squares.iter().sum::<f32>() / (energy.iter().sum::<f32>() + 1e-20);
    let (above, below) = (spread(&squares), spread(&energy));
    above.iter().zip(&below).map(|(a, b)| (a / (b + 1e-20)).max(LEAST * whole)).collect()
}

/// Each value spread over its neighbours by a falling exponential on either side.
fn spread(values: &[f32]) -> Vec<f32> {
    let keep = (-(HOP as f32) / (NEAR_S * RATE_HZ as f32)).exp();
    let mut out = values.to_vec();
    let mut sum = 0.0;
    for (out, value) in out.iter_mut().zip(values) {
        sum = sum * keep + value;
        *out = sum;
    }
    sum = 0.0;
    for (out, value) in out.iter_mut().zip(values).rev() {
        *out += sum * keep;
        sum = sum * keep + value;
    }
    out
}

/// One bin's finding.
#[derive(Clone, Copy, Default)]
struct Bin {
    value: Complex32,
    energy: f32,
    /// Where its sound lies, in bins.
    place: f32,
    /// The semitone it lies in, or [`CHANNELS`] and more where outside.
    channel: usize,
    /// Its distance from that semitone's middle.
    off: f32,
}

/// A window of one length that is moved over the sound.
struct Lens {
    length: usize,
    transform: Arc<dyn RealToComplex<f32>>,
    input: Vec<f32>,
    output: Vec<Complex32>,
    scratch: Vec<Complex32>,
    /// First bin of the band.
    low: usize,
    /// What was found at the last frames; this frame's first.
    found: Vec<Vec<Bin>>,
}

impl Lens {
    fn new(planner: &mut RealFftPlanner<f32>, length: usize, back: usize) -> Self {
        let transform = planner.plan_fft_forward(length);
        let bin = |hz: f32| (hz * length as f32 / RATE_HZ as f32) as usize;
        let low = bin(BAND_HZ.0).max(1);
        let bins = (bin(BAND_HZ.1) + 2).min(length / 2) - low;
        Self {
            length,
            input: transform.make_input_vec(),
            output: transform.make_output_vec(),
            scratch: transform.make_scratch_vec(),
            transform,
            low,
            found: vec![vec![Bin::default(); bins]; back + 1],
        }
    }

    /// Finds what frame `k` holds: the window's middle lies on sample `k · HOP`.
    ///
    /// The sound is transformed as it is; a Hann window and its slope, which reassignment needs, are three-term sums
    /// of neighbouring bins of that. The window lies symmetrically between two samples, hence the half-sample turn.
    fn look(&mut self, x: &[f32], k: usize) {
        let first = (k * HOP) as isize - (self.length / 2) as isize;
        for (j, slot) in self.input.iter_mut().enumerate() {
            *slot = usize::try_from(first + j as isize).ok().and_then(|at| x.get(at)).copied().unwrap_or(0.0);
        }
        self.found.rotate_right(1);
        let transformed =
            self.transform.process_with_scratch(&mut self.input, &mut self.output, &mut self.scratch);
        if transformed.is_err() {
            return;
        }
        let turn = Complex32::from_polar(1.0, PI / self.length as f32);
        let hz_each = RATE_HZ as f32 / self.length as f32;
        for (j, bin) in self.found[0].iter_mut().enumerate() {
            let at = self.low + j;
            let (left, right) = (turn * self.output[at - 1], turn.conj() * self.output[at + 1]);
            let value = 0.5 * self.output[at] - 0.25 * (left + right);
            // The slope's spectrum times length / 2π: (left − right) / 4i.
            let slope = (left - right) * Complex32::new(0.0, -0.25);
            let energy = value.norm_sqr();
            let shift = -(slope * value.conj()).im / (energy + 1e-20);
            let place = at as f32 + shift.clamp(-FARTHEST, FARTHEST);
            let midi = 69.0 + 12.0 * ((place * hz_each).max(1.0) / 440.0).log2();
            let semitone = midi.round();
            let channel = semitone as isize - FIRST_MIDI as isize;
            *bin = Bin {
                value,
                energy,
                place,
                channel: usize::try_from(channel).unwrap_or(CHANNELS),
                off: midi - semitone,
            };
        }
    }

    /// Energy of a full-scale sine's bins.
    fn full_scale(&self) -> f32 {
        (self.length * self.length) as f32 / 16.0 * SPREAD
    }

    /// Adds the energies up in semitones.
    fn gather(&self, into: &mut [f32]) {
        let scale = 1.0 / self.full_scale();
        for bin in &self.found[0] {
            if let Some(slot) = into.get_mut(bin.channel) {
                *slot += bin.energy * scale;
            }
        }
    }

    /// Adds up the distances from the semitones' middles, weighted by energy.
    fn gather_offsets(&self, into: &mut [f32]) {
        let scale = 1.0 / self.full_scale();
        for bin in &self.found[0] {
            if let Some(slot) = into.get_mut(bin.channel) {
                *slot += bin.energy * bin.off * scale;
            }
        }
    }

    /// Adds up the energies of what frame `k` does not have in common with what was foretold of it.
    fn gather_news(&self, k: usize, into: &mut [f32]) {
        let scale = 1.0 / self.full_scale();
        let back = self.found.len() - 1;
        let advance = TAU * (back * HOP) as f32 / self.length as f32;
        for (now, then) in self.found[0].iter().zip(&self.found[back]) {
            let foretold = if k < back {
                Complex32::default()
            } else {
                then.value * Complex32::from_polar(1.0, then.place * advance)
            };
            if let Some(slot) = into.get_mut(now.channel) {
                *slot += (now.value - foretold).norm_sqr() * scale;
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, seconds: f64) -> Vec<f32> {
        let rate = f64::from(RATE_HZ);
        (0..(seconds * rate) as usize)
            .map(|k| (std::f64::consts::TAU * hz * k as f64 / rate).sin() as f32)
            .collect()
    }

    /// ISO 16:1975: E1 is 41.2034 Hz and A4 440 Hz.
    #[test]
    fn a_sine_lies_in_its_semitone_with_its_energy_and_its_distance_from_the_middle() {
        for (hz, midi, cents) in [(41.2034, 28, 0.0), (440.0, 69, 0.0), (110.0 * 1.0116, 45, 20.0)] {
            let spectra = Spectra::new(&tone(hz, 1.0));
            let (energy, off) = spectra.found(40, midi - FIRST_MIDI);
            assert!((energy - 1.0).abs() < 0.05, "{hz}: {energy}");
            assert!((off * 100.0 - cents).abs() < 3.0, "{hz}: {off}");
            let elsewhere: f32 =
                (0..CHANNELS).filter(|c| c + FIRST_MIDI != midi).map(|c| spectra.found(40, c).0).sum();
            assert!(elsewhere < 0.02, "{hz}: {elsewhere}");
        }
    }

    #[test]
    fn a_steady_tone_is_no_news_and_its_turning_over_is() {
        let mut x = tone(110.0, 2.0);
        let half = x.len() / 2;
        x[half..].iter_mut().for_each(|s| *s = -*s);
        let spectra = Spectra::new(&x);
        let news = |frame: usize| spectra.row(WINDOWS.len(), frame, 0)[45 - FIRST_MIDI];
        let loud = spectra.row(1, 40, 0)[45 - FIRST_MIDI];
        assert!(news(40) < 0.5 * loud, "{} {loud}", news(40));
        assert!(news(half / HOP + 3) > 0.9 * loud, "{} {loud}", news(half / HOP + 3));
    }

    #[test]
    fn nothing_sounds_in_silence() {
        let spectra = Spectra::new(&[0.0; 5_000]);
        assert!((0..SPECTRA).all(|s| spectra.row(s, 10, 0).iter().all(|e| *e == 0.0)));
    }
}
