//! The project's own checks and chores.
fn main() {}
