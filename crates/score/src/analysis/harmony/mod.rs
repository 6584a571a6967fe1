//! Harmony: chords and scales that fit a line, and the line read under the chords that it has.

mod chord_scale;
mod chords;
mod reading;
mod roles;
mod scales;
mod standing;
mod weigh;

pub use chord_scale::{ImpliedScale, implied, implied_in, key_modes, usual};
pub use chords::{BarChords, ChordFit, ChordsThatFit, KINDS, Most, RootInBass, chords_that_fit};
pub use reading::{ChordReading, ChordsReading, Member, NoteOver, read_chords, tone_name};
pub use roles::{Role, is_tone};
pub use scales::{OpenStep, ScaleFit, open_steps, relative_major, scales_that_fit, worth_showing};
pub use standing::{StandingChord, all_slots, chord_slots, standing};
