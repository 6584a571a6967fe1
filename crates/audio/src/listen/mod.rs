//! From sound to notes.
//!
//! A [`evidence::FrontEnd`] says for every few milliseconds which pitches explain the sound and whether a note starts;
//! [`decode`] finds the likeliest notes in that; `release` finds where each stops. A [`Listener`] does all of it to a
//! stream of any length, [`hear_clip`] to a clip. [`pulse`] finds the beat under the notes, and [`written`] makes a riff
//! of them.

mod circle;
pub mod confidence;
pub mod decode;
mod doubt;
pub mod evidence;
mod hear;
mod intake;
mod listener;
pub mod mix;
pub mod portrait;
pub mod pulse;
mod release;
mod second_look;
pub mod solo;
mod written;

pub use doubt::{Why, agreement, doubts};
pub use hear::{HeardNote, Manner, hear, looked_into};
pub use listener::{A4_HZ, Heard, Listener, Listening, STANDARD_A4_HZ, hear_clip, hear_solo};
pub use second_look::{SecondLook, second_look};
pub use written::{Alternative, Asked, CountIn, ReadNote, Reading, TempoPoint, Written, written};
