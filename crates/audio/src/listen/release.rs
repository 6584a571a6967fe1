//! Where a note stops.
//!
//! A string left alone dies away steadily; a damped one falls away. The level is followed by a line that may only sink
//! as fast as a free string does, and the note ends where the level leaves that line for good.

use super::decode::Span;
use super::evidence::{Evidence, Frame};

/// Fastest fall of a string that still rings, in decibels a second (common practice, no source: a bass note's second
/// part falls by 5 to 40 dB a second).
const FREE_FALL_DB_S: f32 = 45.0;
/// How far below the line the level must be for the note to be over, in decibels.
const OVER_DB: f32 = 8.0;
/// How near the line it is when it still rings, in decibels.
const NEAR_DB: f32 = 2.0;
/// The first part of a note, in seconds, in which the attack's noise dies away and nothing is decided.
const ATTACK_S: f64 = 0.035;

/// The frame at which the note of `span` stops, between its start and its end.
pub(super) fn release(evidence: &Evidence, span: &Span) -> usize {
    let hop = evidence.hop.value();
    let sink = FREE_FALL_DB_S * hop as f32;
    let first = span.start + (ATTACK_S / hop).round() as usize;
    let end = span.end.min(evidence.frames.len());
    let Some(frames) = evidence.frames.get(first..end) else { return span.end };
    let Some(start) = frames.first() else { return span.end };
    let level = |frame: &Frame| frame.level_db[span.pitch.unwrap_or(0)];
    let mut line = level(start);
    let mut near = first;
    for (k, frame) in frames.iter().enumerate() {
        line = level(frame).max(line - sink);
        if line - level(frame) < NEAR_DB {
            near = first + k + 1;
        }
        if line - level(frame) > OVER_DB || !frame.audible {
            return near;
        }
    }
    end
}
