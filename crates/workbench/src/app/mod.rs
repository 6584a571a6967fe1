//! What the program does, whoever asks: the command line today, a page tomorrow.

pub mod demo;
pub mod hand;
pub mod hearing;
pub mod intake;
pub mod kin;
pub mod lesson;
pub mod necks;
pub mod output;
pub mod shelf;
