//! How loud a clip is, and bringing it to a wanted loudness.
//!
//! Loudness is EBU R 128 / ITU-R BS.1770 integrated loudness, measured by the `ebur128` crate. One channel is measured
//! as one loudspeaker; a player that sends it to two makes it 3 LU louder.

use crate::{Clip, Decibels};
use ebur128::{EbuR128, Mode};

/// Loudness of practice clips, in LUFS: what AES TD1008 (2021) is reported to recommend for single tracks in streaming.
pub const PRACTICE_LUFS: f64 = -16.0;
/// Highest sample peak of what leaves the renderer, in dBFS (EBU R 128: maximum level −1 dBTP).
pub const PEAK_CEILING: Decibels = Decibels(-1.0);
/// How far the limiter looks ahead and holds, in seconds: longer than a quarter period of a low bass note.
const LOOK_AHEAD_S: f64 = 0.010;

/// Integrated loudness in LUFS, or nothing where it has none: shorter than one 400 ms block, or all below the
/// absolute gate of −70 LUFS (ITU-R BS.1770-4, annex 1).
#[must_use]
pub fn integrated_lufs(clip: &Clip) -> Option<f64> {
    let channels = u32::try_from(clip.channels().len()).ok()?;
    let mut meter = EbuR128::new(channels, clip.rate().hz(), Mode::I).ok()?;
    if channels == 1 {
        meter.set_channel(0, ebur128::Channel::Center).ok()?;
    }
    let rows: Vec<&[f32]> = clip.channels().iter().map(Vec::as_slice).collect();
    meter.add_frames_planar_f32(&rows).ok()?;
    meter.loudness_global().ok().filter(|lufs| lufs.is_finite())
}

/// The clip brought to `lufs` with no sample above `ceiling`.
///
/// The gain is one number for the whole clip; peaks that would pass the ceiling are turned down around themselves by a
/// look-ahead limiter. Where the clip has no loudness (too short, silent) its peak is brought to the ceiling if that is
/// a gain of at most 24 dB, and a silent clip is returned as it came.
#[must_use]
pub fn levelled(clip: Clip, lufs: f64, ceiling: Decibels) -> Clip {
    let peak = f64::from(clip.peak());
    if peak <= 0.0 {
        return clip;
    }
    match integrated_lufs(&clip) {
        Some(now) => {
            let mut levelled = limited(clip.amplified(Decibels(lufs - now)), ceiling);
            // The limiter takes a little loudness away; one correction brings it back within a tenth of a unit.
            if let Some(after) = integrated_lufs(&levelled)
                && (lufs - after).abs() > 0.1
            {
                levelled = limited(levelled.amplified(Decibels((lufs - after).clamp(-3.0, 3.0))), ceiling);
            }
            levelled
        }
        None => {
            let room = ceiling.0 - Decibels::of_amplitude(peak).0;
            limited(clip.amplified(Decibels(room.min(24.0))), ceiling)
        }
    }
}

/// The clip with every sample at or below `ceiling`, all channels turned down together.
///
/// The wanted gain of each frame is held over a window of ±10 ms by a running minimum and then averaged over the same
/// window, so that it changes smoothly and is never above what the peak in the middle needs.
#[must_use]
pub fn limited(clip: Clip, ceiling: Decibels) -> Clip {
    let limit = ceiling.to_amplitude() as f32;
    if clip.peak() <= limit {
        return clip;
    }
    let reach = ((LOOK_AHEAD_S * clip.rate().hz_f64()) as usize).max(1);
    let frames = clip.frames().index();
    let wanted: Vec<f32> = (0..frames)
        .map(|k| {
            let loudest = clip.channels().iter().fold(0f32, |most, row| most.max(row[k].abs()));
            if loudest > limit { limit / loudest } else { 1.0 }
        })
        .collect();
    let held = running_minimum(&wanted, reach);
    let gain = running_mean(&held, reach);
    let channels = clip
        .channels()
        .iter()
        .map(|row| row.iter().zip(&gain).map(|(s, g)| (s * g).clamp(-limit, limit)).collect())
        .collect();
    Clip::new(clip.rate(), channels).unwrap_or(clip)
}

/// Smallest value within `reach` frames on either side.
fn running_minimum(values: &[f32], reach: usize) -> Vec<f32> {
    let mut queue = std::collections::VecDeque::<usize>::new();
    let mut out = Vec::with_capacity(values.len());
    let mut next = 0;
    for k in 0..values.len() {
        while next < values.len() && next <= k + reach {
            while queue.back().is_some_and(|&last| values[last] >= values[next]) {
                queue.pop_back();
            }
            queue.push_back(next);
            next += 1;
        }
        while queue.front().is_some_and(|&first| first + reach < k) {
            queue.pop_front();
        }
        out.push(queue.front().map_or(1.0, |&first| values[first]));
    }
    out
}

/// Mean over `reach` frames on either side; beyond the ends the end value goes on.
fn running_mean(values: &[f32], reach: usize) -> Vec<f32> {
    let (Some(&first), Some(&last)) = (values.first(), values.last()) else { return Vec::new() };
    let at = |k: isize| match usize::try_from(k) {
        Ok(k) => f64::from(values.get(k).copied().unwrap_or(last)),
        Err(_) => f64::from(first),
    };
    let reach = reach as isize;
    let width = (2 * reach + 1) as f64;
    let mut sum: f64 = (-reach..=reach).map(at).sum();
    let mut out = Vec::with_capacity(values.len());
    for k in 0..values.len() as isize {
        out.push((sum / width) as f32);
        sum += at(k + reach + 1) - at(k - reach);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SampleRate;
    use std::f64::consts::TAU;

    fn sine(hz: f64, level: Decibels, seconds: f64, channels: usize, rate: SampleRate) -> Clip {
        let frames = (seconds * rate.hz_f64()) as usize;
        let row: Vec<f32> = (0..frames)
            .map(|k| (level.to_amplitude() * (TAU * hz * k as f64 / rate.hz_f64()).sin()) as f32)
            .collect();
        Clip::new(rate, vec![row; channels]).expect("finite")
    }

    /// EBU Tech 3341, table 1, cases 1 and 2: stereo 1 kHz sine at −23.0 (−33.0) dBFS for 20 s reads
    /// −23.0 (−33.0) LUFS, each ±0.1 LU.
    #[test]
    fn tech_3341_cases_1_and_2() {
        for level in [-23.0, -33.0] {
            let clip = sine(1000.0, Decibels(level), 20.0, 2, SampleRate::STUDIO);
            let lufs = integrated_lufs(&clip).expect("long enough");
            assert!((lufs - level).abs() <= 0.1, "{lufs}");
        }
    }

    /// The same clip in one channel is 3.01 LU softer: half the summed power (ITU-R BS.1770, equation 2).
    #[test]
    fn one_channel_has_half_the_power_of_two() {
        let lufs =
            integrated_lufs(&sine(1000.0, Decibels(-23.0), 5.0, 1, SampleRate::STUDIO)).expect("long enough");
        assert!((lufs + 26.01).abs() < 0.1, "{lufs}");
    }

    #[test]
    fn a_short_clip_has_no_loudness_but_still_gets_a_level() {
        let click = sine(1000.0, Decibels(-20.0), 0.1, 1, SampleRate::CD);
        assert_eq!(integrated_lufs(&click), None);
        let levelled = levelled(click, PRACTICE_LUFS, PEAK_CEILING);
        assert!((Decibels::of_amplitude(f64::from(levelled.peak())).0 + 1.0).abs() < 0.05);
    }

    #[test]
    fn silence_stays_silent() {
        let silence = Clip::silence(SampleRate::CD, crate::Frames(44_100));
        assert_eq!(levelled(silence.clone(), PRACTICE_LUFS, PEAK_CEILING), silence);
    }

    #[test]
    fn a_peaky_clip_reaches_the_loudness_under_the_ceiling() {
        let rate = SampleRate::CD;
        let mut row = sine(110.0, Decibels(-30.0), 4.0, 1, rate).mixed_down();
        for at in (5_000..row.len()).step_by(22_050) {
            for k in 0..40 {
                row[at + k] += 0.3 * if k % 2 == 0 { 1.0 } else { -1.0 };
            }
        }
        let out = levelled(Clip::mono(rate, row), PRACTICE_LUFS, PEAK_CEILING);
        assert!(Decibels::of_amplitude(f64::from(out.peak())).0 <= -0.999);
        let lufs = integrated_lufs(&out).expect("long enough");
        assert!((lufs - PRACTICE_LUFS).abs() < 0.5, "{lufs}");
    }

    #[test]
    fn the_running_minimum_equals_a_search_of_every_window() {
        let values: Vec<f32> = (0..200).map(|k| ((k * 7919) % 101) as f32 / 101.0).collect();
        for reach in [1, 3, 50, 400] {
            let slow: Vec<f32> = (0..values.len())
                .map(|k| {
                    let window = &values[k.saturating_sub(reach)..(k + reach + 1).min(values.len())];
                    window.iter().copied().fold(f32::MAX, f32::min)
                })
                .collect();
            assert_eq!(running_minimum(&values, reach), slow);
        }
    }
}
