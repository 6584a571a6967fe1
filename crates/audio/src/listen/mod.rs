//! From sound to notes.
//!
//! A [`evidence::FrontEnd`] says for every few milliseconds which pitches explain the sound and whether a note starts;
//! [`decode`] finds the likeliest notes in that; `release` finds where each stops. [`hear_solo`] is all of it for a
//! bass that plays alone. [`pulse`] finds the beat under the notes, and [`written`] makes a riff of them.

pub mod decode;
pub mod evidence;
mod hear;
pub mod pulse;
mod release;
pub mod solo;
mod written;

pub use hear::{HeardNote, Manner, hear, hear_solo};
pub use written::{Asked, written};
