//! The clicks before a riff.

use super::{Instrument, NoteEvent};

/// One click of a bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Beat {
    /// How long until the next click, in seconds.
    pub length_s: f64,
    /// Whether it is the accented first click of the bar.
    pub accented: bool,
}

/// Velocity of an accented click; sounds the higher block.
const ACCENTED: u8 = 112;
/// Velocity of a plain click; sounds the lower block.
const PLAIN: u8 = 84;
/// How long a click is held, in seconds; a wood block dies away by itself.
const HELD_S: f64 = 0.05;

/// Clicks for `bars` bars of `bar`, the first at `start_s`; also the instant at which the music begins.
#[must_use]
pub fn count_in(bar: &[Beat], bars: u32, start_s: f64) -> (Vec<NoteEvent>, f64) {
    let mut clicks = Vec::new();
    let mut now = start_s;
    for _ in 0..bars {
        for beat in bar {
            let velocity = if beat.accented { ACCENTED } else { PLAIN };
            clicks.push(NoteEvent {
                onset_s: now,
                length_s: HELD_S,
                midi: 76,
                velocity,
                instrument: Instrument::Click,
            });
            now += beat.length_s;
        }
    }
    (clicks, now)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_bars_of_three_accent_each_first_click() {
        let bar: Vec<Beat> = (0..3).map(|k| Beat { length_s: 0.5, accented: k == 0 }).collect();
        let (clicks, begins) = count_in(&bar, 2, 0.25);
        let onsets: Vec<f64> = clicks.iter().map(|c| c.onset_s).collect();
        assert_eq!(onsets, [0.25, 0.75, 1.25, 1.75, 2.25, 2.75]);
        assert_eq!(begins, 3.25);
        let loud: Vec<bool> = clicks.iter().map(|c| c.velocity == ACCENTED).collect();
        assert_eq!(loud, [true, false, false, true, false, false]);
    }
}
