//! Lessons: the ladder of riffs and what a lesson holds.

pub mod ladder;
pub mod plan;
