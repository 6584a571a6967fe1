//! From sound to notes.
//!
//! A [`evidence::FrontEnd`] says for every few milliseconds which pitches explain the sound and whether a note starts;
//! [`decode`] finds the likeliest notes in that; [`release`] finds where each stops. [`hear_solo`] is all of it for a
//! bass that plays alone.

pub mod decode;
pub mod evidence;
mod hear;
mod release;
pub mod solo;

pub use hear::{HeardNote, hear, hear_solo};
