//! What the quantiser believes before it hears a note: one table of chances and costs.
//!
//! No corpus stands behind them. They say in numbers what players of bass lines would agree on: beats and their
//! halves hold most notes; of the sixteenths the last one before a beat is commoner than the one after it; a beat of
//! triplets is rare after a beat of twos and common after one of threes. The `rhythm` example of the audio crate
//! measures what they do.

use super::beats::Grid;

/// Divisions of a beat of two; the whole beat first. Shares add up to 1 within twos and within threes.
pub(super) const BINARY: [Grid; 10] = [
    Grid { parts: 1, share: 0.30, points: &[0.80], factors: &[] },
    Grid { parts: 2, share: 0.40, points: &[0.80, 0.93], factors: &[2] },
    Grid { parts: 4, share: 0.30, points: &[0.85, 0.35, 0.60, 0.65], factors: &[2, 2] },
    Grid { parts: 3, share: 0.85, points: &[0.85, 0.75, 0.85], factors: &[3] },
    Grid { parts: 6, share: 0.15, points: &[0.85, 0.50, 0.70, 0.50, 0.70, 0.50], factors: &[3, 2] },
    // From here on only in rich grids.
    Grid { parts: 8, share: 0.3, points: &[], factors: &[2, 2, 2] },
    Grid { parts: 16, share: 0.04, points: &[], factors: &[2, 2, 2, 2] },
    Grid { parts: 12, share: 0.1, points: &[], factors: &[3, 2, 2] },
    Grid { parts: 5, share: 1.0, points: &[], factors: &[5] },
    Grid { parts: 7, share: 1.0, points: &[], factors: &[7] },
];

/// Divisions of a beat of three.
pub(super) const TERNARY: [Grid; 8] = [
    Grid { parts: 1, share: 0.22, points: &[0.85], factors: &[] },
    Grid { parts: 3, share: 0.58, points: &[0.85, 0.50, 0.65], factors: &[3] },
    Grid { parts: 6, share: 0.20, points: &[0.90, 0.30, 0.55, 0.40, 0.60, 0.40], factors: &[3, 2] },
    Grid { parts: 2, share: 0.65, points: &[0.85, 0.90], factors: &[2] },
    Grid { parts: 4, share: 0.35, points: &[0.85, 0.35, 0.60, 0.60], factors: &[2, 2] },
    // From here on only in rich grids.
    Grid { parts: 12, share: 0.3, points: &[], factors: &[3, 2, 2] },
    Grid { parts: 9, share: 0.05, points: &[], factors: &[3, 3] },
    Grid { parts: 5, share: 1.0, points: &[], factors: &[5] },
];

/// How many of each are usual.
pub(super) const USUAL: usize = 5;

/// Chance of a note on a part of a rich grid by its depth.
pub(super) const DEEP_CHANCE: [f64; 5] = [0.85, 0.55, 0.5, 0.4, 0.3];

/// Cost in nats of an end on the beat, on its first, second and third division.
pub(super) const DEPTH_COST: [f64; 5] = [0.0, 0.5, 1.3, 3.3, 5.0];

/// Chance that a beat falls into parts of `kind` (2, 3, 5, 7) when its meter's kind is `usual` and the beat before
/// fell into parts of the kind `before`.
pub(super) fn kind_chance(usual: u8, before: Option<u8>, kind: u8) -> f64 {
    match (kind == usual, before == Some(kind)) {
        (true, true) | (true, false) if before.is_none_or(|b| b == usual) => 0.95,
        (true, _) => 0.5,
        (false, true) => 0.45,
        (false, false) => match kind {
            2 | 3 => 0.045,
            5 => 0.004,
            _ => 0.001,
        },
    }
}

/// A way to hold notes.
pub(super) struct Touch {
    /// The part of its value that a note sounds, and the standard deviation of that.
    pub(super) held: f64,
    pub(super) spread: f64,
    /// How many notes' worth it counts before the line itself is heard.
    pub(super) count: f64,
}

/// Held, let go a little early, cut to about half (common practice, no source).
pub(super) const TOUCHES: [Touch; 3] = [
    Touch { held: 0.95, spread: 0.05, count: 3.0 },
    Touch { held: 0.82, spread: 0.07, count: 2.0 },
    Touch { held: 0.46, spread: 0.09, count: 0.8 },
];
/// Which of them is the short one.
pub(super) const SHORT: usize = 2;
/// How many notes' worth with a rest after them and without.
pub(super) const RESTS: (f64, f64) = (0.6, 6.0);
/// No line is taken to rest after more of its notes than this.
pub(super) const MOST_RESTS: f64 = 0.3;
/// Rounds of estimating the line's own touch.
pub(super) const ROUNDS: usize = 8;
/// Silences longer than this are never closed without weighing, in quarters.
pub(super) const LONG_SILENCE: f64 = 0.375;
/// How exactly ends are heard, as a standard deviation in quarters.
pub(super) const END_SPREAD: f64 = 0.03;

/// How many bars like this one the usual chance of a place counts for.
pub(super) const USUAL_BARS: f64 = 2.0;
/// How fast a bar that is less alike counts less: the power of the shared part of the places.
pub(super) const ALIKE: i32 = 4;
/// How many bars before and after may be like this one.
pub(super) const BARS_AROUND: usize = 16;
/// How many of a line's own beats the usual share of a division counts for.
pub(super) const USUAL_BEATS: f64 = 8.0;
