//! A second look at a note that is in doubt: what speaks against it, and what else it could be.
//!
//! The same evidence that the note was decoded from is taken again for the note alone: the salience of every pitch over
//! its length, and the odds of an attack at its start.

use super::evidence::{Evidence, FrontEnd, LOWEST_MIDI, PITCHES};
use super::listener::STANDARD_A4_HZ;
use super::solo::Solo;
use super::{HeardNote, Listening};
use crate::{Clip, SampleRate};

/// The start of a note is its attack and says little about its pitch; left out where the note is long enough, in seconds.
const ATTACK_S: f64 = 0.03;
/// How far an attack may lie from the note's start, in seconds.
const NEAR_S: f64 = 0.03;
/// How much a mean salience counts, as in the confidence of a note.
const SHARPNESS: f32 = 3.0;

/// What a second look found.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondLook {
    /// Pitches as sounding MIDI numbers with their shares of likelihood, the likeliest first; the shares add up to 1.
    pub pitches: Vec<(u8, f64)>,
    /// Probability that something was struck at its start, 0 to 1.
    pub struck: f64,
}

/// Looks again at notes of a clip, whose instants are seconds of the clip; `reference_hz` is the A4 they were heard with.
#[must_use]
pub fn second_look(
    clip: &Clip,
    notes: &[HeardNote],
    _listening: Listening,
    reference_hz: f64,
) -> Vec<SecondLook> {
    // Calling the same samples faster or slower moves every pitch onto the standard grid.
    let wanted = clip.rate().hz_f64() * STANDARD_A4_HZ / reference_hz.max(1.0);
    let rate = SampleRate::new(wanted.round() as u32).unwrap_or(clip.rate());
    let slower = clip.rate().hz_f64() / rate.hz_f64();
    let moved = Clip::mono(rate, clip.one_row());
    let evidence = Solo.listen(&moved);
    notes.iter().map(|n| look(&evidence, n.onset_s * slower, n.offset_s * slower)).collect()
}

fn look(evidence: &Evidence, onset_s: f64, offset_s: f64) -> SecondLook {
    let frame = |second: f64| {
        let place = (second + evidence.delay.value()) / evidence.hop.value();
        (place.round().max(0.0) as usize).min(evidence.frames.len())
    };
    let begin = if offset_s - onset_s > 2.0 * ATTACK_S { onset_s + ATTACK_S } else { onset_s };
    let inside = &evidence.frames[frame(begin)..frame(offset_s).max(frame(begin))];
    let share = 1.0 / inside.len().max(1) as f32;
    let mean: Vec<f32> =
        (0..PITCHES).map(|p| inside.iter().map(|f| f.salience[p]).sum::<f32>() * share).collect();
    let most = mean.iter().copied().fold(f32::MIN, f32::max);
    let odds: Vec<f64> = mean.iter().map(|m| f64::from((SHARPNESS * (m - most)).exp())).collect();
    let all: f64 = odds.iter().sum();
    let mut pitches: Vec<(u8, f64)> = (LOWEST_MIDI..).zip(odds.iter().map(|o| o / all)).collect();
    pitches.sort_by(|a, b| b.1.total_cmp(&a.1));
    let around =
        &evidence.frames[frame(onset_s - NEAR_S)..frame(onset_s + NEAR_S).max(frame(onset_s - NEAR_S))];
    let attack = around.iter().map(super::evidence::Frame::struck).fold(-30f32, f32::max);
    SecondLook { pitches, struck: 1.0 / (1.0 + f64::from(-attack).exp()) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Manner;
    use std::f64::consts::TAU;

    /// Two plucked tones of ten decaying partials each, an octave apart; the second has its odd partials at half strength
    /// added, so that it is neither the one nor the other.
    #[test]
    fn a_note_between_two_octaves_names_both() {
        let rate = SampleRate::new(22_050).unwrap();
        let samples: Vec<f32> = (0..22_050)
            .map(|n| {
                let t = f64::from(n) / 22_050.0;
                let at = |hz: f64, h: f64, from: f64| {
                    if t < from {
                        0.0
                    } else {
                        (-(t - from) * 2.0).exp() * (TAU * hz * h * (t - from)).sin() / h
                    }
                };
                let sum: f64 = (1..=10).map(|h| at(82.41, f64::from(h), 0.2)).sum();
                let under: f64 = (1..=10).map(|h| 0.12 * at(41.2, f64::from(h), 0.2)).sum();
                (0.2 * (sum + under)) as f32
            })
            .collect();
        let note = HeardNote {
            onset_s: 0.2,
            offset_s: 0.9,
            midi: 40,
            confidence: 0.4,
            cents: 0.0,
            manner: Manner::Struck,
        };
        let looks = second_look(&Clip::mono(rate, samples), &[note], Listening::default(), 440.0);
        let best: Vec<u8> = looks[0].pitches.iter().take(2).map(|p| p.0).collect();
        assert!(best.contains(&40) && best.contains(&28), "{:?}", &looks[0].pitches[..4]);
        assert!(looks[0].struck > 0.5, "{}", looks[0].struck);
        let sum: f64 = looks[0].pitches.iter().map(|p| p.1).sum();
        assert!((sum - 1.0).abs() < 1e-6);
    }

    #[test]
    fn a_note_outside_the_clip_is_no_trouble() {
        let clip = Clip::mono(SampleRate::CD, vec![0.0; 100]);
        let note = HeardNote {
            onset_s: 5.0,
            offset_s: 4.0,
            midi: 40,
            confidence: 0.4,
            cents: 0.0,
            manner: Manner::Dead,
        };
        assert_eq!(second_look(&clip, &[note], Listening::default(), 440.0).len(), 1);
    }
}
