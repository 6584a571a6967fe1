//! Where a typed text is wrong, and what to do about it: shared by the readers of typed text.

use std::fmt;

/// Why a typed text is no riff: the place, what was found there, and what to write instead.
///
/// `Display` gives the message, the line, and a caret under the place:
///
/// ```text
/// line 4, column 9: '8' is no degree; degrees go from 1 to 7, an octave up is 1+
///   | q 1 2 8 |
///         ^
/// ```
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TextError {
    line: usize,
    column: usize,
    offset: usize,
    problem: String,
    advice: String,
    excerpt: String,
    caret: usize,
}

impl TextError {
    /// The line, from 1.
    pub fn line(&self) -> usize {
        self.line
    }

    /// The column, from 1, in characters.
    pub fn column(&self) -> usize {
        self.column
    }

    /// The place in bytes from the start of the text.
    pub fn offset(&self) -> usize {
        self.offset
    }

    /// What was found.
    pub fn problem(&self) -> &str {
        &self.problem
    }

    /// What to write instead.
    pub fn advice(&self) -> &str {
        &self.advice
    }
}

impl fmt::Display for TextError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "line {}, column {}: {}; {}", self.line, self.column, self.problem, self.advice)?;
        write!(f, "\n  {}\n  {:>caret$}", self.excerpt, "^", caret = self.caret + 1)
    }
}

impl std::error::Error for TextError {}

/// A text being read, for errors to point into.
#[derive(Clone, Copy)]
pub(crate) struct Source<'a>(pub(crate) &'a str);

/// Characters shown on either side of the place.
const SHOWN: usize = 48;

impl Source<'_> {
    /// An error at a byte offset (taken back to the nearest character's start).
    pub(crate) fn error(
        self,
        offset: usize,
        problem: impl Into<String>,
        advice: impl Into<String>,
    ) -> TextError {
        let mut offset = offset.min(self.0.len());
        while !self.0.is_char_boundary(offset) {
            offset -= 1;
        }
        let (before, after) = self.0.split_at(offset);
        let line = line_breaks(before) + 1;
        let start = before.rfind(['\n', '\r']).map_or(0, |i| i + 1);
        let left: Vec<char> = before[start..].chars().collect();
        let cut = left.len().saturating_sub(SHOWN);
        let mut excerpt: String = if cut > 0 { "…".to_owned() } else { String::new() };
        excerpt.extend(left[cut..].iter().map(|&c| plain(c)));
        let caret = excerpt.chars().count();
        let mut right = after.chars().take_while(|c| !matches!(c, '\n' | '\r'));
        excerpt.extend(right.by_ref().take(SHOWN).map(plain));
        if right.next().is_some() {
            excerpt.push('…');
        }
        TextError {
            line,
            column: left.len() + 1,
            offset,
            problem: problem.into(),
            advice: advice.into(),
            excerpt: excerpt.trim_end().to_owned(),
            caret,
        }
    }
}

/// A tab or control character would put the caret in the wrong place.
fn plain(c: char) -> char {
    if c.is_control() || c == '\u{feff}' { ' ' } else { c }
}

/// Line ends of any system: LF, CR LF, CR.
fn line_breaks(text: &str) -> usize {
    let bytes = text.as_bytes();
    bytes
        .iter()
        .enumerate()
        .filter(|&(i, &b)| b == b'\n' || (b == b'\r' && bytes.get(i + 1) != Some(&b'\n')))
        .count()
}

/// A found text in quotes, cut short when it is long.
pub(crate) fn shown(text: &str) -> String {
    let mut chars = text.chars();
    let mut out: String = chars.by_ref().take(24).map(plain).collect();
    if chars.next().is_some() {
        out.push('…');
    }
    format!("'{out}'")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_caret_stands_under_the_place() {
        let text = "a\r\nbé\tx\ry";
        let error = Source(text).error(text.find('x').unwrap(), "an x", "write y");
        assert_eq!((error.line(), error.column(), error.offset()), (2, 4, 7));
        assert_eq!(error.to_string(), "line 2, column 4: an x; write y\n  bé x\n     ^");
        assert_eq!(Source(text).error(9, "", "").line(), 3);
        assert_eq!(Source("é").error(1, "", "").offset(), 0);
    }

    #[test]
    fn a_long_line_is_shown_in_part() {
        let text = "-".repeat(1000);
        let shown = Source(&text).error(500, "p", "a").to_string();
        let lines: Vec<&str> = shown.lines().collect();
        assert_eq!(lines[1].chars().count(), 2 + 2 * SHOWN + 2);
        assert_eq!(lines[2].chars().count(), 2 + 1 + SHOWN + 1);
    }
}
