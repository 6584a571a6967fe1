//! What a front end hands to the note decoder.

use crate::{Clip, Seconds};

/// Lowest pitch listened for: MIDI 23, the open low B of a five-string bass (30.87 Hz).
pub const LOWEST_MIDI: u8 = 23;
/// Highest pitch listened for: MIDI 67, fret 24 of the G string (392 Hz).
pub const HIGHEST_MIDI: u8 = 67;
/// How many pitches are listened for.
pub const PITCHES: usize = (HIGHEST_MIDI - LOWEST_MIDI) as usize + 1;
/// How many things are asked of a note to tell how sure it is.
pub const FEATURES: usize = 10;
/// What each of them counts for, and the constant last, in log odds.
pub type Weights = [f32; FEATURES + 1];

/// What one instant of sound says about notes.
#[derive(Clone, Debug, PartialEq)]
pub struct Frame {
    /// For each pitch from [`LOWEST_MIDI`] up: how much better this instant is explained by that pitch sounding than by
    /// none, as a natural logarithm of a likelihood ratio. Negative where the pitch is unlikely.
    pub salience: [f32; PITCHES],
    /// For each pitch: how far the best period lies from the front end's reference tuning, in cents, ±50.
    pub cents: [i8; PITCHES],
    /// For each pitch: log odds that a note of that pitch is struck at this very frame; negative almost everywhere. A front
    /// end for a bass alone says the same of all pitches; in a mix only a pitch's own rise counts.
    pub onset: [f32; PITCHES],
    /// For each pitch: level of what sounds at that pitch, in decibels relative to full scale. For a bass alone the level of
    /// the whole.
    pub level_db: [f32; PITCHES],
    /// How much better this instant is explained by a damped string that is struck, without a pitch, than by none, as a
    /// natural logarithm of a likelihood ratio.
    pub unpitched: f32,
    /// Where exactly the attack lies that `onset` speaks of, in seconds after the frame; 0 where there is none.
    pub attack_s: f32,
    /// Whether the level is above the noise floor.
    pub audible: bool,
}

impl Frame {
    /// Log odds that anything is struck at this frame.
    #[must_use]
    pub fn struck(&self) -> f32 {
        self.onset.iter().copied().fold(f32::MIN, f32::max)
    }
}

/// Evidence over time, one frame every `hop`.
#[derive(Clone, Debug, PartialEq)]
pub struct Evidence {
    /// Distance between frames.
    pub hop: Seconds,
    /// How far a frame's content lies after its place: frame k speaks of the sound at `k · hop − delay`.
    pub delay: Seconds,
    /// The frames.
    pub frames: Vec<Frame>,
}

/// Turns sound into evidence of notes. One front end hears a solo bass; another may hear a bass inside a mix. The
/// decoder after it is the same.
pub trait FrontEnd {
    /// Evidence for the whole clip.
    fn listen(&self, clip: &Clip) -> Evidence;

    /// How much each feature of a note counts for being sure of it.
    fn trust(&self) -> &'static Weights;
}
