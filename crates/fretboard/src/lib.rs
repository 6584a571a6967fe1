//! Strings, tunings and the hand: where a riff lies on a neck.

pub mod fit;
pub mod hand;
pub mod neck;
