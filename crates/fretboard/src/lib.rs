//! Strings, tunings and the hand: where a riff lies on a neck.

pub mod adapt;
pub mod block;
pub mod fit;
pub mod hand;
pub mod neck;
pub mod shapes;
