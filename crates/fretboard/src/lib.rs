//! Strings, tunings and the hand: where a riff lies on a neck.

pub mod neck;
