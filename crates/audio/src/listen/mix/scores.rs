//! How likely each pitch is, and how likely it is struck, from the spectra.
//!
//! Two multinomial logistic regressions: the score of a pitch against none is a weighted sum of the spectra's log
//! energies at fixed places relative to the pitch, from an octave below it to its sixth partial and beyond, at several
//! times around the frame. The weights are the same for all pitches but for a slow drift over the register. They were
//! learned by `tests/hearing/learn_mix.py` from invented lines in mixes rendered with several SoundFonts and with
//! recorded basses, and are kept in `weights.bin`, whose layout that script writes.

use super::spectra::{CHANNELS, ROW, SPECTRA, Spectra};
use crate::listen::evidence::PITCHES;

/// The learned weights.
const LEARNED: &[u8] = include_bytes!("weights.bin");
/// Places looked at for each pitch: all semitones that every pitch has around it.
const PLACES: usize = CHANNELS + 1 - PITCHES;
/// Sums carried side by side.
const LANES: usize = 8;
/// The same, up to whole vector lanes.
const PADDED: usize = PLACES.next_multiple_of(LANES);

/// One regression.
pub(super) struct Scores {
    /// Which spectrum, and how many frames later than the frame.
    views: Vec<(usize, isize)>,
    bias: [f32; PITCHES],
    /// For each pitch and view the weights of all places, padded with zeros.
    weights: Vec<f32>,
}

/// Both regressions: which pitch sounds, and which is struck.
pub(super) struct Learned {
    pub(super) sounds: Scores,
    pub(super) struck: Scores,
}

impl Learned {
    /// The weights kept with the program; `None` only if they were damaged before it was built.
    pub(super) fn new() -> Option<Self> {
        let mut from = Bytes(LEARNED);
        let knots = usize::from(from.take::<1>()?[0]);
        let learned =
            Self { sounds: Scores::read(&mut from, knots)?, struck: Scores::read(&mut from, knots)? };
        from.0.is_empty().then_some(learned)
    }
}

impl Scores {
    fn read(from: &mut Bytes<'_>, knots: usize) -> Option<Self> {
        let count = usize::from(from.take::<1>()?[0]);
        let mut views = Vec::with_capacity(count);
        for _ in 0..count {
            let [spectrum, later] = from.take::<2>()?;
            let spectrum = usize::from(spectrum);
            if spectrum >= SPECTRA {
                return None;
            }
            views.push((spectrum, isize::from(later as i8)));
        }
        let mut bias = [0f32; PITCHES];
        for slot in &mut bias {
            *slot = f32::from_le_bytes(from.take()?);
        }
        let scale = f32::from_le_bytes(from.take()?);
        let mut weights = vec![0f32; PITCHES * count * PADDED];
        let apart = (PITCHES - 1) as f32 / (knots.checked_sub(1)?.max(1)) as f32;
        for knot in 0..knots {
            for view in 0..count {
                for place in 0..PLACES {
                    let weight = scale * f32::from(i16::from_le_bytes(from.take()?));
                    // Linear between the knots, which lie evenly over the pitches.
                    for pitch in 0..PITCHES {
                        let share = 1.0 - (pitch as f32 / apart - knot as f32).abs();
                        if share > 0.0 {
                            weights[(pitch * count + view) * PADDED + place] += share * weight;
                        }
                    }
                }
            }
        }
        Some(Self { views, bias, weights })
    }

    /// Log odds of each pitch against none at a frame, every pitch by itself.
    pub(super) fn at(&self, spectra: &Spectra, frame: usize) -> [f32; PITCHES] {
        let mut sums = [[0f32; LANES]; PITCHES];
        let each = self.views.len() * PADDED;
        for (view, (spectrum, later)) in self.views.iter().enumerate() {
            let row = spectra.row(*spectrum, frame, *later);
            for (pitch, sum) in sums.iter_mut().enumerate() {
                let weights = &self.weights[pitch * each + view * PADDED..][..PADDED];
                let seen = &row[pitch..pitch + PADDED];
                for (weights, seen) in weights.chunks_exact(LANES).zip(seen.chunks_exact(LANES)) {
                    for ((sum, weight), seen) in sum.iter_mut().zip(weights).zip(seen) {
                        *sum += weight * seen;
                    }
                }
            }
        }
        let mut scores = self.bias;
        for (score, sum) in scores.iter_mut().zip(&sums) {
            *score += sum.iter().sum::<f32>();
        }
        scores
    }
}

// The last pitch's places end where the channels do, its padding within the row.
const _: () = assert!(PITCHES - 1 + PADDED <= ROW);

/// Bytes still to be read.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn take<const N: usize>(&mut self) -> Option<[u8; N]> {
        let (first, rest) = self.0.split_first_chunk::<N>()?;
        self.0 = rest;
        Some(*first)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_learned_weights_are_whole() {
        let learned = Learned::new().expect("whole weights");
        for scores in [&learned.sounds, &learned.struck] {
            assert!(!scores.views.is_empty());
            assert!(scores.weights.iter().chain(&scores.bias).all(|w| w.is_finite()));
        }
    }

    #[test]
    fn damaged_weights_are_refused() {
        let mut short = Bytes(&LEARNED[1..LEARNED.len() / 4]);
        assert!(Scores::read(&mut short, 4).is_none());
        let mut wrong = Bytes(&[1, 200, 0]);
        assert!(Scores::read(&mut wrong, 4).is_none());
    }
}
