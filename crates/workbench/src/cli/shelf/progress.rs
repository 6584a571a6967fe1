//! One line that says how far a long task is, on a terminal only.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

/// Time between two changes of the line.
const PACE: Duration = Duration::from_millis(200);

/// The line.
pub(super) struct Line {
    terminal: bool,
    changed: Option<Instant>,
    shown: bool,
}

impl Line {
    pub(super) fn new() -> Self {
        Self { terminal: io::stderr().is_terminal(), changed: None, shown: false }
    }

    /// Says where the task is.
    pub(super) fn show(&mut self, words: impl FnOnce() -> String) {
        if !self.terminal || self.changed.is_some_and(|at| at.elapsed() < PACE) {
            return;
        }
        self.changed = Some(Instant::now());
        self.shown = true;
        self.write(&format!("\r\x1b[2K{}", words()));
    }

    /// Takes the line away, so that something else can be said.
    pub(super) fn clear(&mut self) {
        if std::mem::take(&mut self.shown) {
            self.write("\r\x1b[2K");
        }
    }

    fn write(&self, text: &str) {
        let mut err = io::stderr().lock();
        // A closed standard error has nobody to tell.
        let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
    }
}
