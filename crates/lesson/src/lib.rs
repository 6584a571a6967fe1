//! Lessons: the ladder of riffs and what a lesson holds.

pub mod homework;
pub mod ladder;
pub mod plan;
