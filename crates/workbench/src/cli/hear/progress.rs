//! One line that says how far the hearing is, on a terminal only.

use std::io::{self, IsTerminal, Write};
use std::time::{Duration, Instant};

use crate::app::hearing::clock;

/// Shown only once it takes this long.
const QUIET: Duration = Duration::from_millis(700);
/// Time between two changes of the line.
const PACE: Duration = Duration::from_millis(200);

/// The line.
pub(super) struct Line {
    terminal: bool,
    begun: Instant,
    changed: Option<Instant>,
}

impl Line {
    pub(super) fn new() -> Self {
        Self { terminal: io::stderr().is_terminal(), begun: Instant::now(), changed: None }
    }

    /// Says that `done` of `all` seconds have been heard.
    pub(super) fn show(&mut self, done: f64, all: Option<f64>) {
        let due = self.changed.map_or(self.begun.elapsed() > QUIET, |at| at.elapsed() > PACE);
        if !self.terminal || !due {
            return;
        }
        self.changed = Some(Instant::now());
        let words = match all.filter(|all| *all > 0.0) {
            Some(all) => {
                let share = (done / all).clamp(0.0, 1.0);
                let left = self.begun.elapsed().as_secs_f64() * (1.0 - share) / share.max(0.01);
                format!(
                    "heard {} of {} ({:.0} %), about {left:.0} s left",
                    clock(done),
                    clock(all),
                    share * 100.0
                )
            }
            None => format!("heard {}", clock(done)),
        };
        self.write(&format!("\r\x1b[2K{words}"));
    }

    /// Takes the line away.
    pub(super) fn clear(&mut self) {
        if self.changed.take().is_some() {
            self.write("\r\x1b[2K");
        }
    }

    fn write(&self, text: &str) {
        let mut err = io::stderr().lock();
        // A closed standard error has nobody to tell.
        let _ = err.write_all(text.as_bytes()).and_then(|()| err.flush());
    }
}
