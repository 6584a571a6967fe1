//! The weights of the tonic and mode model, as `examples/learn_tonic.rs` printed them.
//!
//! Learned from 1,094 tunes with their editor's key (Aird's Airs 1778-1801, Northumbrian Minstrelsy 1882,
//! Ryan's Mammoth Collection 1883, O'Neill's Music of Ireland 1903) and the bass lines of 194 chorales by
//! J. S. Bach, all as encoded in the corpus of the Python package music21. How well they do: `docs/key.md`.

use crate::analysis::model::Weights;

impl Weights {
    /// Learned weights. The profile's rows: major third and in the mode, major third and foreign to it, minor
    /// third and in the mode, minor third and foreign to it. A zero that no data spoke to is a slot that
    /// cannot occur in its row.
    pub const LEARNED: Self = Self {
        cues: [
            0.47, // First
            0.76, // FirstDownbeat
            0.71, // Last
            1.88, // LastHeld
            0.88, // LastFromFifth
            0.36, // Lowest
            0.69, // Longest
            0.61, // FifthHeard
            0.11, // FigureStart
        ],
        profile: [
            [6.34, 0.00, 0.48, 0.00, 7.85, 2.91, 2.79, 6.73, 0.00, 1.15, 5.91, 2.47],
            [0.00, -3.98, 0.00, -7.10, 0.00, -4.46, -7.52, 0.00, -5.25, 0.00, -7.58, -9.71],
            [6.16, 3.68, 4.94, 4.18, 0.00, 0.77, -0.60, 7.63, 0.43, 1.33, 4.48, 0.00],
            [0.00, -5.94, -3.35, 0.00, -6.73, 0.00, -4.01, -1.48, -11.98, -6.61, 0.00, -0.35],
        ],
        mode: [
            -1.45, // Lydian
            1.64,  // major
            0.69,  // Mixolydian
            0.32,  // Dorian
            1.26,  // minor
            -1.01, // Phrygian
            -2.40, // Locrian
        ],
    };
}
