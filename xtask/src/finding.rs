//! What a rule has to say about a file.

use std::fmt;

/// One remark of a house rule, with its place.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Finding {
    /// Path from the repository root, with forward slashes.
    pub(crate) file: String,
    /// Line, counted from 1, when the rule knows it.
    pub(crate) line: Option<usize>,
    /// What is wrong and what to do about it.
    pub(crate) message: String,
    /// `false` for a warning, which is printed but does not fail the check.
    pub(crate) grave: bool,
}

impl Finding {
    /// A remark about a whole file that fails the check.
    pub(crate) fn of_file(file: &str, message: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line: None, message: message.into(), grave: true }
    }

    /// A remark about one line (counted from 1) that fails the check.
    pub(crate) fn of_line(file: &str, line: usize, message: impl Into<String>) -> Self {
        Self { file: file.to_owned(), line: Some(line), message: message.into(), grave: true }
    }

    /// The same remark as a mere warning.
    pub(crate) fn into_warning(mut self) -> Self {
        self.grave = false;
        self
    }
}

impl fmt::Display for Finding {
    fn fmt(&self, out: &mut fmt::Formatter<'_>) -> fmt::Result {
        let kind = if self.grave { "error" } else { "warning" };
        match self.line {
            Some(line) => write!(out, "{kind}: {}:{line}: {}", self.file, self.message),
            None => write!(out, "{kind}: {}: {}", self.file, self.message),
        }
    }
}
