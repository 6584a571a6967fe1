//! A second look at a note that is in doubt: what speaks against it, and what else it could be.
//!
//! The same kind of evidence that the note was decoded from is taken again of the sound around it: the salience of every
//! pitch over its length, and the odds of an attack at its start.

use super::evidence::{Evidence, FrontEnd, LOWEST_MIDI, PITCHES};
use super::listener::retuned;
use super::mix::Mix;
use super::solo::Solo;
use super::{HeardNote, Listening};
use crate::Clip;

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
    /// Probability that it was struck at its start, 0 to 1.
    pub struck: f64,
}

/// Looks again at notes of a clip, whose instants are seconds of the clip; `reference_hz` is the A4 they were heard with.
#[must_use]
pub fn second_look(
    clip: &Clip,
    notes: &[HeardNote],
    listening: Listening,
    reference_hz: f64,
) -> Vec<SecondLook> {
    let row = Clip::mono(clip.rate(), clip.one_row());
    let (moved, slower) = retuned(&row, reference_hz);
    let sound = moved.as_ref().unwrap_or(&row);
    let evidence = if listening.mix { Mix.listen(sound) } else { Solo.listen(sound) };
    notes.iter().map(|n| look(&evidence, n, 1.0 / slower)).collect()
}

fn look(evidence: &Evidence, note: &HeardNote, slower: f64) -> SecondLook {
    let (onset_s, offset_s) = (note.onset_s * slower, note.offset_s * slower);
    let own = usize::from(note.midi.saturating_sub(LOWEST_MIDI)).min(PITCHES - 1);
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
    // In a mix only a rise of the note's own pitch counts; alone all pitches have the same odds.
    let attack = around.iter().map(|f| f.onset[own]).fold(-30f32, f32::max);
    SecondLook { pitches, struck: 1.0 / (1.0 + f64::from(-attack).exp()) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::SampleRate;
    use crate::listen::Manner;
    use std::f64::consts::TAU;

    /// A plucked E2 of ten decaying partials, with a share of the odd partials of an E1 under it.
    fn looked_at(under: f64) -> SecondLook {
        let rate = SampleRate::new(22_050).unwrap();
        let partial = |t: f64, hz: f64, h: f64| (-t * 2.0).exp() * (TAU * hz * h * t).sin() / h;
        let samples = (0..22_050).map(|n| {
            let t = f64::from(n) / 22_050.0 - 0.2;
            if t < 0.0 {
                return 0.0;
            }
            let own: f64 = (1..=10).map(|h| partial(t, 82.41, f64::from(h))).sum();
            let odd: f64 = (0..10).map(|h| partial(t, 41.2, f64::from(2 * h + 1))).sum();
            (0.2 * (own + under * odd)) as f32
        });
        let note = HeardNote {
            onset_s: 0.2,
            offset_s: 0.9,
            midi: 40,
            confidence: 0.4,
            cents: 0.0,
            manner: Manner::Struck,
            level_db: 0.0,
        };
        let clip = Clip::mono(rate, samples.collect());
        second_look(&clip, &[note], Listening::default(), 440.0).remove(0)
    }

    #[test]
    fn the_octave_below_gains_as_its_odd_partials_do() {
        let share =
            |look: &SecondLook, midi: u8| look.pitches.iter().find(|p| p.0 == midi).map_or(0.0, |p| p.1);
        let (plain, torn) = (looked_at(0.0), looked_at(0.4));
        assert_eq!(plain.pitches[0].0, 40, "{:?}", &plain.pitches[..3]);
        assert!(plain.struck > 0.5, "{}", plain.struck);
        assert!(share(&torn, 28) > 2.0 * share(&plain, 28), "{torn:?}");
        let sum: f64 = torn.pitches.iter().map(|p| p.1).sum();
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
            level_db: 0.0,
        };
        assert_eq!(second_look(&clip, &[note], Listening::default(), 440.0).len(), 1);
    }
}
