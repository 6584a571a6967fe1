//! Sound as numbers: clips, rendering, listening.
//!
//! A [`Clip`] is a piece of sound. [`render`] turns notes into one through a SoundFont, [`listen`] turns one into
//! notes. Nothing here opens a file, asks a clock or knows a sound card; encoded audio comes in through the formats
//! crate.

mod clip;
mod decibels;
mod frames;
pub mod listen;
pub mod loudness;
pub mod render;
pub mod resample;
mod sample_rate;
mod seconds;

pub use clip::{Clip, NotAClip};
pub use decibels::Decibels;
pub use frames::Frames;
pub use sample_rate::{NotASampleRate, SampleRate};
pub use seconds::{NotATime, Seconds};
