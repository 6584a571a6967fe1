//! The whole way from a clip to heard notes.

use super::confidence;
use super::decode::{Span, decode};
use super::evidence::{Evidence, FEATURES, FrontEnd, LOWEST_MIDI};
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
    /// How loud it began, in decibels above the middle (median) note of the recording: the highest level within
    /// 60 ms of its start. In a mix the level of its own pitch counts, for a bass alone that of the whole sound.
    pub level_db: f64,
}

/// How long after its start a note's level is sought, in seconds.
const PEAK_S: f64 = 0.06;

/// A struck note this short, in seconds, that is more likely wrong than right is a dead one: the thump of a damped string
/// has no pitch, or only a trace of one.
const THUMP_S: f64 = 0.12;
/// See [`THUMP_S`].
const THUMP: f64 = 0.4;

/// A string that goes on at once at the same pitch, in seconds …
const AT_ONCE_S: f64 = 0.03;
/// … has not been struck again if that is less likely than this.
const STRUCK_AGAIN: f64 = 0.5;

/// Hears notes through any front end.
#[must_use]
pub fn hear(front_end: &impl FrontEnd, clip: &Clip) -> Vec<HeardNote> {
    let mut notes = heard(front_end, clip);
    level_with_the_middle(&mut notes);
    notes
}

/// Makes the notes' levels relative to the middle one.
pub(super) fn level_with_the_middle(notes: &mut [HeardNote]) {
    let mut levels: Vec<f64> = notes.iter().map(|n| n.level_db).collect();
    levels.sort_by(f64::total_cmp);
    let middle = levels.get(levels.len() / 2).copied().unwrap_or(0.0);
    for note in notes {
        note.level_db -= middle;
    }
}

/// The same, with levels in decibels relative to full scale.
pub(super) fn heard(front_end: &impl FrontEnd, clip: &Clip) -> Vec<HeardNote> {
    let mut notes: Vec<HeardNote> = Vec::new();
    for (mut note, _) in looked_into(front_end, clip) {
        let before = notes.last_mut();
        let near = before.as_ref().map_or(note.midi, |b| b.midi);
        let again = before.filter(|b| b.midi == note.midi && note.onset_s - b.offset_s < AT_ONCE_S);
        if is_thump(&note) {
            // That it is a dead note is as sure as that it is no pitched one.
            (note.manner, note.midi, note.confidence) = (Manner::Dead, near, 1.0 - note.confidence);
        } else if let Some(before) = again.filter(|_| note.confidence < STRUCK_AGAIN) {
            before.offset_s = note.offset_s;
            continue;
        }
        notes.push(note);
    }
    notes
}

/// Hears notes, and says of each what its confidence is made of. Thumps still pass for notes of a pitch here, and levels
/// are relative to full scale.
#[must_use]
pub fn looked_into(front_end: &impl FrontEnd, clip: &Clip) -> Vec<(HeardNote, [f32; FEATURES])> {
    let evidence = front_end.listen(clip);
    let spans = decode(&evidence);
    let stops: Vec<usize> =
        spans.iter().map(|span| release(&evidence, span).clamp(span.start + 1, span.end)).collect();
    let said = confidence::features(&evidence, &spans, &stops);
    let mut near = spans.iter().find_map(Span::midi).unwrap_or(LOWEST_MIDI);
    spans
        .iter()
        .zip(stops)
        .zip(said)
        .map(|((span, stop), said)| {
            near = span.midi().unwrap_or(near);
            let sure = confidence::confidence(front_end.trust(), &said);
            (note(&evidence, span, stop, near, sure), said)
        })
        .collect()
}

fn note(evidence: &Evidence, span: &Span, stop: usize, midi: u8, confidence: f64) -> HeardNote {
    let seconds = |frame: usize| (frame as f64 * evidence.hop.value() - evidence.delay.value()).max(0.0);
    let frames = &evidence.frames[span.start..span.end.min(evidence.frames.len())];
    let mut cents: Vec<f32> =
        span.pitch.map(|p| frames.iter().map(|f| f32::from(f.cents[p])).collect()).unwrap_or_default();
    cents.sort_by(f32::total_cmp);
    let median = cents.get(cents.len() / 2).copied().unwrap_or(0.0);
    let attack_s = evidence.frames.get(span.start).map_or(0.0, |f| f64::from(f.attack_s));
    let onset_s = (seconds(span.start) + attack_s).max(0.0);
    let offset_s = seconds(stop).max(onset_s + evidence.hop.value());
    HeardNote {
        onset_s,
        offset_s,
        midi,
        confidence,
        cents: f64::from(median),
        manner: match (span.pitch, span.joined) {
            (None, _) => Manner::Dead,
            (_, true) => Manner::Joined,
            (_, false) => Manner::Struck,
        },
        level_db: peak_db(evidence, span),
    }
}

/// The highest level at the beginning of a note, in decibels relative to full scale.
fn peak_db(evidence: &Evidence, span: &Span) -> f64 {
    let frames = &evidence.frames[span.start.min(evidence.frames.len())..span.end.min(evidence.frames.len())];
    let beginning = (PEAK_S / evidence.hop.value()).round().max(1.0) as usize;
    let pitch = span.pitch.unwrap_or(0);
    f64::from(frames.iter().take(beginning).map(|f| f.level_db[pitch]).fold(-120.0, f32::max))
}

/// Whether a note is a thump.
fn is_thump(note: &HeardNote) -> bool {
    note.manner == Manner::Struck && note.confidence < THUMP && note.offset_s - note.onset_s < THUMP_S
}
