//! Two scales on the neck.

use riffkin_engrave::diagram::{Difference, difference};
use riffkin_engrave::svg;
use riffkin_fretboard::fit::Touch;
use riffkin_score::analysis::compare::Comparison;

use super::Told;

/// Millimetres from side to side, and from string to string.
const WIDTH: f64 = 140.0;
const GAP: f64 = 9.0;
/// Frets that are shown at least: in fourths five of them hold every note.
const LEAST: u8 = 5;
/// Frets that are shown at most.
const MOST: u8 = 9;

/// The picture as SVG.
pub(super) fn drawn(comparison: &Comparison, told: &Told<'_>) -> String {
    let what = Difference { comparison, neck: &told.neck, frets: frets(told) };
    svg::document(&difference(&what, WIDTH, GAP))
}

/// The frets where the hand plays the riff, and a few more where those are few; else around the third fret.
fn frets(told: &Told<'_>) -> (u8, u8) {
    let stopped: Vec<u8> = told
        .hand
        .iter()
        .flat_map(|h| &h.fit.notes)
        .filter(|n| n.touch == Touch::Stopped)
        .map(|n| n.place.fret)
        .collect();
    let low = stopped.iter().min().copied().unwrap_or(2);
    let high = stopped.iter().max().copied().unwrap_or(low);
    let last = told.neck.frets();
    let low = if low <= 2 { 1 } else { low - 1 };
    let high =
        high.saturating_add(1).clamp(low.saturating_add(LEAST - 1), low.saturating_add(MOST - 1)).min(last);
    (low.min(high.saturating_sub(LEAST - 1).max(1)), high)
}
