//! A piece of sound.

use crate::{Decibels, Frames, SampleRate, Seconds};

/// A mean of channels that holds less than this share of the louder channel's energy has cancelled itself out.
const CANCELLED: f64 = 0.1;

/// A piece of sound: one or more channels of equal length, samples as `f32` with full scale at ±1.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    rate: SampleRate,
    channels: Vec<Vec<f32>>,
}

impl Clip {
    /// Accepts one or more channels of equal length whose samples are all finite.
    ///
    /// # Errors
    /// [`NotAClip`] says which channel or sample is wrong.
    pub fn new(rate: SampleRate, channels: Vec<Vec<f32>>) -> Result<Self, NotAClip> {
        let expected = channels.first().ok_or(NotAClip::NoChannel)?.len();
        for (channel, samples) in channels.iter().enumerate() {
            if samples.len() != expected {
                return Err(NotAClip::Ragged { channel, frames: samples.len(), expected });
            }
            if let Some(frame) = samples.iter().position(|s| !s.is_finite()) {
                return Err(NotAClip::NotFinite { channel, frame });
            }
        }
        Ok(Self { rate, channels })
    }

    /// A clip of one channel. Samples that are not finite become silence.
    #[must_use]
    pub fn mono(rate: SampleRate, mut samples: Vec<f32>) -> Self {
        for sample in &mut samples {
            if !sample.is_finite() {
                *sample = 0.0;
            }
        }
        Self { rate, channels: vec![samples] }
    }

    /// Silence of one channel.
    #[must_use]
    pub fn silence(rate: SampleRate, length: Frames) -> Self {
        Self { rate, channels: vec![vec![0.0; length.index()]] }
    }

    /// Samples a second.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// The channels, each a row of samples; at least one, all of one length.
    #[must_use]
    pub fn channels(&self) -> &[Vec<f32>] {
        &self.channels
    }

    /// Length in frames.
    #[must_use]
    pub fn frames(&self) -> Frames {
        Frames(self.channels.first().map_or(0, Vec::len) as u64)
    }

    /// Length in real time.
    #[must_use]
    pub fn duration(&self) -> Seconds {
        self.frames().to_seconds(self.rate)
    }

    /// The channels' mean as one row of samples.
    #[must_use]
    pub fn mixed_down(&self) -> Vec<f32> {
        match self.channels.as_slice() {
            [only] => only.clone(),
            many => {
                let share = 1.0 / many.len() as f32;
                let mut mixed = vec![0.0; self.frames().index()];
                for channel in many {
                    for (sum, sample) in mixed.iter_mut().zip(channel) {
                        *sum += share * sample;
                    }
                }
                mixed
            }
        }
    }

    /// The channels' mean, or the loudest channel where they cancel each other out.
    #[must_use]
    pub fn one_row(&self) -> Vec<f32> {
        let energy = |row: &[f32]| row.iter().map(|s| f64::from(*s) * f64::from(*s)).sum::<f64>();
        let mean = self.mixed_down();
        let loudest = self.channels.iter().rev().max_by(|a, b| energy(a).total_cmp(&energy(b)));
        match loudest {
            Some(row) if energy(&mean) < CANCELLED * energy(row) => row.clone(),
            _ => mean,
        }
    }

    /// Largest absolute sample (the sample peak, not the true peak between samples); 0 for an empty clip.
    #[must_use]
    pub fn peak(&self) -> f32 {
        self.channels.iter().flatten().fold(0.0, |peak, sample| peak.max(sample.abs()))
    }

    /// The same sound louder or softer.
    #[must_use]
    pub fn amplified(mut self, gain: Decibels) -> Self {
        let factor = gain.to_amplitude() as f32;
        for sample in self.channels.iter_mut().flatten() {
            *sample = (*sample * factor).clamp(f32::MIN, f32::MAX);
        }
        self
    }

    /// The part from `start` up to, not including, `end`, as far as the clip holds it.
    #[must_use]
    pub fn part(&self, start: Frames, end: Frames) -> Self {
        let end = end.index().min(self.frames().index());
        let start = start.index().min(end);
        let channels = self.channels.iter().map(|samples| samples[start..end].to_vec()).collect();
        Self { rate: self.rate, channels }
    }

    /// Without what lies before the first and after the last sample louder than `threshold`.
    /// A clip that is nowhere louder becomes empty.
    #[must_use]
    pub fn trimmed(&self, threshold: Decibels) -> Self {
        let limit = threshold.to_amplitude() as f32;
        let loud = |samples: &Vec<f32>| samples.iter().position(|s| s.abs() > limit);
        let last = |samples: &Vec<f32>| samples.iter().rposition(|s| s.abs() > limit);
        let start = self.channels.iter().filter_map(loud).min();
        let end = self.channels.iter().filter_map(last).max();
        match (start, end) {
            (Some(start), Some(end)) => self.part(Frames(start as u64), Frames(end as u64 + 1)),
            _ => self.part(Frames::ZERO, Frames::ZERO),
        }
    }
}

/// Why samples are no clip.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotAClip {
    /// There was no channel at all.
    #[error("a clip needs at least one channel")]
    NoChannel,
    /// A channel has another length than the first.
    #[error("channel {channel} has {frames} frames where the first has {expected}")]
    Ragged {
        /// Which channel, from 0.
        channel: usize,
        /// Its length.
        frames: usize,
        /// The first channel's length.
        expected: usize,
    },
    /// A sample is infinite or not a number.
    #[error("sample {frame} of channel {channel} is not a finite number")]
    NotFinite {
        /// Which channel, from 0.
        channel: usize,
        /// Which frame, from 0.
        frame: usize,
    },
}

#[cfg(test)]
mod tests {
    use super::*;

    fn clip(channels: Vec<Vec<f32>>) -> Clip {
        Clip::new(SampleRate::CD, channels).expect("valid in this test")
    }

    #[test]
    fn refuses_what_is_no_sound() {
        let rate = SampleRate::CD;
        assert_eq!(Clip::new(rate, vec![]), Err(NotAClip::NoChannel));
        assert_eq!(
            Clip::new(rate, vec![vec![0.0; 3], vec![0.0; 2]]),
            Err(NotAClip::Ragged { channel: 1, frames: 2, expected: 3 })
        );
        assert_eq!(
            Clip::new(rate, vec![vec![0.0, f32::NAN]]),
            Err(NotAClip::NotFinite { channel: 0, frame: 1 })
        );
    }

    #[test]
    fn mixing_down_takes_the_mean() {
        assert_eq!(clip(vec![vec![1.0, 0.0], vec![0.0, 0.5]]).mixed_down(), vec![0.5, 0.25]);
    }

    #[test]
    fn channels_in_opposite_phase_do_not_vanish() {
        assert_eq!(clip(vec![vec![1.0, 0.5], vec![-1.0, -0.5]]).one_row(), vec![1.0, 0.5]);
        assert_eq!(clip(vec![vec![1.0, 0.5], vec![0.5, 0.0]]).one_row(), vec![0.75, 0.25]);
    }

    #[test]
    fn trimming_keeps_the_loudest_channels_extent() {
        let both = clip(vec![vec![0.0, 0.5, 0.0, 0.0, 0.0], vec![0.0, 0.0, 0.0, -0.5, 0.001]]);
        let kept = both.trimmed(Decibels(-40.0));
        assert_eq!(kept.channels(), [vec![0.5, 0.0, 0.0], vec![0.0, 0.0, -0.5]]);
        assert_eq!(clip(vec![vec![0.0; 4]]).trimmed(Decibels(-40.0)).frames(), Frames(0));
    }

    #[test]
    fn a_part_beyond_the_end_is_what_there_is() {
        let short = clip(vec![vec![0.1, 0.2]]);
        assert_eq!(short.part(Frames(1), Frames(9)).channels(), [vec![0.2]]);
        assert_eq!(short.part(Frames(7), Frames(3)).frames(), Frames(0));
    }

    #[test]
    fn amplifying_by_six_decibels_doubles_the_peak() {
        let louder = clip(vec![vec![0.25, -0.3]]).amplified(Decibels(6.020_6));
        assert!((louder.peak() - 0.6).abs() < 1e-4);
    }
}
