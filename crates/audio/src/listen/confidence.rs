//! How sure a heard note is.
//!
//! A logistic regression over what the evidence says of the note as a whole: how well its pitch explains its sound, how far
//! the next best pitch and the next best octave lie behind, how likely its attack is, how loud, how long and how quickly
//! dying it is beside the other notes. The weights were learned from lines whose notes are known, by
//! `examples/learn_confidence.rs`, for each front end by itself; a note counts as right when it starts within 50 ms of a
//! true note of its pitch. So a confidence of 0.8 is meant as a frequency: of many such notes four in five are right
//! (`cargo xtask accuracy hear` prints how far that holds).

use super::decode::Span;
use super::evidence::{Evidence, FEATURES, PITCHES, Weights};

/// Of a note that begins in earnest, only this long a part is asked for its pitch, in seconds.
const BEGINNING_S: f64 = 0.25;
/// Where a note's level is taken, in seconds after its start.
const PEAK_S: f64 = 0.06;
/// When its fall is measured, in seconds after its peak was sought.
const FALL_S: f64 = 0.06;

/// What is asked of every note: mean salience of its pitch; how far the best other pitch lies behind, and the best octave;
/// log odds of its attack; whether it was joined; its level beside the middle one, in tens of decibels; its length, as a
/// logarithm; its fall in the 60 ms after the peak, in tens of decibels; whether it repeats the note before at once; and
/// the odds of its attack once more if it does.
#[must_use]
pub(super) fn features(evidence: &Evidence, spans: &[Span], stops: &[usize]) -> Vec<[f32; FEATURES]> {
    let frames_in = |seconds: f64| (seconds / evidence.hop.value()).round().max(1.0) as usize;
    let (beginning, peak, fall) = (frames_in(BEGINNING_S), frames_in(PEAK_S), frames_in(FALL_S));
    let level = |span: &Span, from: usize, to: usize| {
        let pitch = span.pitch.unwrap_or(0);
        let to = to.min(evidence.frames.len());
        evidence.frames[from.min(to)..to].iter().map(|f| f.level_db[pitch]).fold(-120f32, f32::max)
    };
    let peaks: Vec<f32> = spans.iter().map(|s| level(s, s.start, (s.start + peak).min(s.end))).collect();
    let mut sorted = peaks.clone();
    sorted.sort_by(f32::total_cmp);
    let middle = sorted.get(sorted.len() / 2).copied().unwrap_or(0.0);
    let mut said = Vec::with_capacity(spans.len());
    for (k, span) in spans.iter().enumerate() {
        let end = stops[k].min(span.start + beginning).clamp(span.start + 1, span.end.max(span.start + 1));
        let inside = &evidence.frames[span.start.min(evidence.frames.len())..end.min(evidence.frames.len())];
        let share = 1.0 / inside.len().max(1) as f32;
        let mean: [f32; PITCHES] =
            std::array::from_fn(|p| inside.iter().map(|f| f.salience[p]).sum::<f32>() * share);
        let own = span.pitch.unwrap_or(0);
        let rival = |octave: bool| {
            (0..PITCHES)
                .filter(|p| *p != own && (p.abs_diff(own) % 12 == 0) == octave)
                .map(|p| mean[p])
                .fold(-3f32, f32::max)
        };
        let mine = mean[own].max(-3.0);
        let odds = span.onset.clamp(-6.0, 4.0);
        let again = k > 0 && spans[k - 1].pitch == span.pitch && spans[k - 1].end == span.start;
        let later = level(span, span.start + peak, (span.start + peak + fall).max(span.start + peak + 1));
        let length = (stops[k] - span.start.min(stops[k])).max(1) as f32 * evidence.hop.value() as f32;
        said.push([
            mine,
            (mine - rival(false)).clamp(-2.0, 4.0),
            (mine - rival(true)).clamp(-2.0, 4.0),
            odds,
            f32::from(span.joined),
            ((peaks[k] - middle) / 10.0).clamp(-3.0, 1.0),
            (length / 0.1).ln().clamp(-1.0, 2.0),
            ((peaks[k] - later) / 10.0).clamp(0.0, 3.0),
            f32::from(again),
            if again { odds } else { 0.0 },
        ]);
    }
    said
}

/// Probability that a note is right.
#[must_use]
pub fn confidence(weights: &Weights, features: &[f32; FEATURES]) -> f64 {
    let odds = weights[FEATURES] + features.iter().zip(weights).map(|(f, w)| f * w).sum::<f32>();
    1.0 / (1.0 + f64::from(-odds).exp())
}
