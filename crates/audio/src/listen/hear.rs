//! The whole way from a clip to heard notes.

use super::decode::{Span, decode};
use super::evidence::{Evidence, FrontEnd, LOWEST_MIDI, PITCHES};
use super::release::release;
use crate::Clip;

/// How a heard note began.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Manner {
    /// With an attack.
    Struck,
    /// Without one, out of a note of another pitch: hammer-on, pull-off or slide.
    Joined,
    /// With an attack and no pitch after it: a dead note.
    Dead,
}

/// A note that was heard.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct HeardNote {
    /// When it starts, in seconds from the start of the clip.
    pub onset_s: f64,
    /// When it stops, in seconds; later than `onset_s`.
    pub offset_s: f64,
    /// Sounding MIDI number. A dead note has no pitch: it carries the number of the note before it, or of the one after.
    pub midi: u8,
    /// How sure the hearing is of it, 0 to 1.
    pub confidence: f64,
    /// How far it lies from equal temperament at A4 = 440 Hz, in cents, −50 to 50.
    pub cents: f64,
    /// How it began.
    pub manner: Manner,
}

/// Hears notes through any front end.
#[must_use]
pub fn hear(front_end: &impl FrontEnd, clip: &Clip) -> Vec<HeardNote> {
    heard(&front_end.listen(clip))
}

/// The notes that the evidence speaks of.
pub(super) fn heard(evidence: &Evidence) -> Vec<HeardNote> {
    let spans = decode(evidence);
    let mut near = spans.iter().find_map(Span::midi).unwrap_or(LOWEST_MIDI);
    spans
        .iter()
        .map(|span| {
            near = span.midi().unwrap_or(near);
            note(evidence, span, near)
        })
        .collect()
}

fn note(evidence: &Evidence, span: &Span, midi: u8) -> HeardNote {
    let stop = release(evidence, span).clamp(span.start + 1, span.end);
    let seconds = |frame: usize| (frame as f64 * evidence.hop.value() - evidence.delay.value()).max(0.0);
    let frames = &evidence.frames[span.start..span.end.min(evidence.frames.len())];
    let mut cents: Vec<f32> =
        span.pitch.map(|p| frames.iter().map(|f| f32::from(f.cents[p])).collect()).unwrap_or_default();
    cents.sort_by(f32::total_cmp);
    let median = cents.get(cents.len() / 2).copied().unwrap_or(0.0);
    let attack_s = evidence.frames.get(span.start).map_or(0.0, |f| f64::from(f.attack_s));
    let onset_s = (seconds(span.start) + attack_s).max(0.0);
    HeardNote {
        onset_s,
        offset_s: seconds(stop).max(onset_s + evidence.hop.value()),
        midi,
        confidence: confidence(evidence, span),
        cents: f64::from(median),
        manner: match (span.pitch, span.joined) {
            (None, _) => Manner::Dead,
            (_, true) => Manner::Joined,
            (_, false) => Manner::Struck,
        },
    }
}

/// Probability of the pitch against every other, times that of the attack.
fn confidence(evidence: &Evidence, span: &Span) -> f64 {
    let frames = &evidence.frames[span.start..span.end.min(evidence.frames.len())];
    let attack = 1.0 / (1.0 + f64::from(-span.onset).exp());
    let Some(own) = span.pitch else { return attack };
    let share = 1.0 / frames.len().max(1) as f32;
    let mean: Vec<f32> =
        (0..PITCHES).map(|p| frames.iter().map(|f| f.salience[p]).sum::<f32>() * share).collect();
    let mine = mean[own];
    let all: f32 = mean.iter().map(|s| (3.0 * (s - mine)).exp()).sum();
    let pitch = 1.0 / f64::from(all);
    (pitch * (0.5 + 0.5 * attack)).clamp(0.0, 1.0)
}
