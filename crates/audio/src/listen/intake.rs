//! Sound as it comes in: any rate and any channels become one row at the rate at which is listened.
//!
//! Blocks are changed in rate a few seconds at a time, each with a second of its neighbours on either side; whole seconds
//! are whole samples at every rate, so the pieces meet exactly. Two channels are kept apart until a window is taken, so that
//! a recording whose channels cancel each other out is still heard ([`Clip::one_row`]); more are mixed as they come.

use crate::resample::resampled;
use crate::{Clip, SampleRate};

/// Rate at which is listened, in hertz: fine enough for the shortest period, and it holds a pluck's noise.
pub(super) const RATE_HZ: u32 = 22_050;
/// Seconds changed in rate at once.
const BLOCK_S: usize = 10;
/// Seconds of neighbouring sound on either side.
const MARGIN_S: usize = 1;
/// Channels that are kept apart.
const APART: usize = 2;

/// Collects blocks of channels.
pub(super) struct Intake {
    from: SampleRate,
    to: SampleRate,
    /// One for each channel that is kept apart; at least one.
    rows: Vec<Row>,
}

/// One row of samples on its way from one rate to the other.
#[derive(Default)]
struct Row {
    /// At the rate of the source; the first [`MARGIN_S`] of it have been changed already, unless nothing has.
    waiting: Vec<f32>,
    begun: bool,
    /// At the rate at which is listened.
    ready: Vec<f32>,
}

impl Intake {
    pub(super) fn new(from: SampleRate, channels: usize) -> Self {
        let to = SampleRate::new(RATE_HZ).unwrap_or(SampleRate::CD);
        let rows = if channels == APART { APART } else { 1 };
        Self { from, to, rows: (0..rows).map(|_| Row::default()).collect() }
    }

    /// Takes a block of channels of equal length; a channel that is shorter counts as silent where it ends.
    pub(super) fn push(&mut self, block: &[Vec<f32>]) {
        let length = block.iter().map(Vec::len).max().unwrap_or(0);
        let sample =
            |channel: &Vec<f32>, k: usize| channel.get(k).copied().filter(|s| s.is_finite()).unwrap_or(0.0);
        if self.rows.len() == block.len() {
            for (row, channel) in self.rows.iter_mut().zip(block) {
                row.waiting.extend((0..length).map(|k| sample(channel, k)));
            }
        } else {
            let share = 1.0 / block.len().max(1) as f32;
            for row in &mut self.rows {
                let mean = |k| share * block.iter().map(|c| sample(c, k)).sum::<f32>();
                row.waiting.extend((0..length).map(mean));
            }
        }
        let whole = (BLOCK_S + 2 * MARGIN_S) * self.from.hz() as usize;
        while self.waiting() >= whole {
            self.change(whole, false);
        }
    }

    /// Changes what is still waiting.
    pub(super) fn finish(&mut self) {
        self.change(self.waiting(), true);
    }

    fn waiting(&self) -> usize {
        self.rows.first().map_or(0, |row| row.waiting.len())
    }

    fn change(&mut self, length: usize, last: bool) {
        for row in &mut self.rows {
            row.change(self.from, self.to, length, last);
        }
    }

    /// Samples that are ready.
    pub(super) fn ready(&self) -> usize {
        self.rows.first().map_or(0, |row| row.ready.len())
    }

    /// The first `length` samples that are ready, as one row; the first `go` of them do not stay.
    pub(super) fn take(&mut self, length: usize, go: usize) -> Clip {
        let channels = self.rows.iter().map(|row| row.ready.iter().take(length).copied().collect()).collect();
        for row in &mut self.rows {
            row.ready.drain(..go.min(row.ready.len()));
        }
        match Clip::new(self.to, channels) {
            Ok(clip) => Clip::mono(self.to, clip.one_row()),
            Err(_) => Clip::mono(self.to, Vec::new()),
        }
    }
}

impl Row {
    fn change(&mut self, from: SampleRate, to: SampleRate, length: usize, last: bool) {
        let length = length.min(self.waiting.len());
        let changed = resampled(&self.waiting[..length], from, to);
        let before = if self.begun { MARGIN_S } else { 0 };
        let after = if last { 0 } else { MARGIN_S };
        let (start, cut) = (before * to.hz() as usize, after * to.hz() as usize);
        let end = changed.len().saturating_sub(cut).max(start.min(changed.len()));
        self.ready.extend_from_slice(changed.get(start..end).unwrap_or_default());
        let gone = length.saturating_sub((after + MARGIN_S) * from.hz() as usize);
        self.waiting.drain(..if last { length } else { gone });
        self.begun = true;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f32::consts::TAU;

    fn tone(rate: u32, seconds: usize) -> Vec<f32> {
        (0..rate as usize * seconds).map(|k| (TAU * 55.0 * k as f32 / rate as f32).sin()).collect()
    }

    /// Cut into blocks or not, the sound at the new rate is the same.
    #[test]
    fn pieces_meet_exactly() {
        for rate in [8_000, 44_100, 48_000] {
            let from = SampleRate::new(rate).expect("in range");
            let sound = tone(rate, 37);
            let mut intake = Intake::new(from, 1);
            for block in sound.chunks(9_973) {
                intake.push(&[block.to_vec()]);
            }
            intake.finish();
            let whole = resampled(&sound, from, SampleRate::new(RATE_HZ).expect("in range"));
            assert_eq!(intake.ready(), whole.len(), "{rate}");
            let got = intake.take(whole.len(), whole.len());
            for (k, (a, b)) in got.channels()[0].iter().zip(&whole).enumerate() {
                assert!((a - b).abs() < 1e-4, "{rate} {k}: {a} {b}");
            }
            assert_eq!(intake.ready(), 0);
        }
    }

    #[test]
    fn a_recording_out_of_phase_is_heard() {
        let left = tone(22_050, 2);
        let right: Vec<f32> = left.iter().map(|s| -s).collect();
        let mut intake = Intake::new(SampleRate::new(22_050).expect("in range"), 2);
        intake.push(&[left, right]);
        intake.finish();
        assert!(intake.take(44_100, 0).peak() > 0.9);
    }
}
