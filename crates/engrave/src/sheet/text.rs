//! Running text: words in lines.

use crate::font::{Face, TextStyle, shape};
use crate::scene::{Anchor, Item};
use crate::units::Point;

/// A stretch of text in one face.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Run {
    /// Roman, italic or bold.
    pub face: Face,
    /// The characters.
    pub text: String,
}

/// Text with emphasis.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Rich {
    /// The stretches in order; blanks between them belong to their texts.
    pub runs: Vec<Run>,
}

impl Rich {
    /// Roman text.
    #[must_use]
    pub fn plain(text: impl Into<String>) -> Self {
        Self { runs: vec![Run { face: Face::Roman, text: text.into() }] }
    }

    /// The same and a bold stretch.
    #[must_use]
    pub fn bold(self, text: impl Into<String>) -> Self {
        self.and(Face::Bold, text)
    }

    /// The same and an italic stretch.
    #[must_use]
    pub fn italic(self, text: impl Into<String>) -> Self {
        self.and(Face::Italic, text)
    }

    /// The same and a roman stretch.
    #[must_use]
    pub fn roman(self, text: impl Into<String>) -> Self {
        self.and(Face::Roman, text)
    }

    fn and(mut self, face: Face, text: impl Into<String>) -> Self {
        self.runs.push(Run { face, text: text.into() });
        self
    }
}

impl From<&str> for Rich {
    fn from(text: &str) -> Self {
        Self::plain(text)
    }
}

impl From<String> for Rich {
    fn from(text: String) -> Self {
        Self::plain(text)
    }
}

/// A stretch of a word in one face.
type Piece = (Face, String);

/// Breaks text into lines no wider than `room`, at blanks; a word that is wider than the line is cut where it must be.
/// Gives for each line its stretches.
fn break_lines(rich: &Rich, size: f64, room: f64) -> Vec<Vec<Piece>> {
    let blank = |face| shape(" ", TextStyle::new(face, size)).width;
    let width = |pieces: &[Piece]| -> f64 {
        pieces.iter().map(|(f, t)| shape(t, TextStyle::new(*f, size)).width).sum()
    };
    let mut lines: Vec<Vec<Piece>> = Vec::new();
    let mut used = 0.0;
    for word in words(rich) {
        let face = word.first().map_or(Face::Roman, |p| p.0);
        let needed = width(&word);
        let gap = blank(face);
        let on_line = lines.last_mut().filter(|_| used + gap + needed <= room);
        if let Some(line) = on_line {
            if let Some(last) = line.last_mut() {
                last.1.push(' ');
            }
            line.extend(word);
            used += gap + needed;
        } else if needed <= room {
            lines.push(word);
            used = needed;
        } else {
            for part in cut(&word, size, room) {
                used = width(&part);
                lines.push(part);
            }
        }
    }
    for line in &mut lines {
        merge(line);
    }
    lines
}

/// Words: stretches without blanks, each of one or more pieces where the face changes inside a word.
fn words(rich: &Rich) -> Vec<Vec<Piece>> {
    let mut out: Vec<Vec<Piece>> = Vec::new();
    let mut open = false;
    for run in &rich.runs {
        for c in run.text.chars() {
            if c.is_whitespace() || c.is_control() {
                // A no-break space holds words together.
                if c != '\u{A0}' {
                    open = false;
                    continue;
                }
            }
            if !open {
                out.push(Vec::new());
                open = true;
            }
            let Some(word) = out.last_mut() else { continue };
            match word.last_mut() {
                Some((face, text)) if *face == run.face => text.push(c),
                _ => word.push((run.face, c.to_string())),
            }
        }
    }
    out
}

/// A word in parts that each fit; at least one character a part.
fn cut(word: &[Piece], size: f64, room: f64) -> Vec<Vec<Piece>> {
    let mut out: Vec<Vec<Piece>> = vec![Vec::new()];
    let mut used = 0.0;
    for (face, text) in word {
        for c in text.chars() {
            let w = shape(c.encode_utf8(&mut [0; 4]), TextStyle::new(*face, size)).width;
            if used + w > room && used > 0.0 {
                out.push(Vec::new());
                used = 0.0;
            }
            used += w;
            let Some(part) = out.last_mut() else { continue };
            match part.last_mut() {
                Some((f, t)) if f == face => t.push(c),
                _ => part.push((*face, c.to_string())),
            }
        }
    }
    out
}

fn merge(line: &mut Vec<Piece>) {
    let mut merged: Vec<Piece> = Vec::with_capacity(line.len());
    for (face, text) in line.drain(..) {
        match merged.last_mut() {
            Some((f, t)) if *f == face => t.push_str(&text),
            _ => merged.push((face, text)),
        }
    }
    *line = merged;
}

/// Set lines of text: shapes of each line around a baseline at zero. Lines but the last end in a blank, so that a
/// reader that glues lines together keeps words apart.
pub(super) fn set(rich: &Rich, size: f64, room: f64, left: f64) -> Vec<Vec<Item>> {
    let lines = break_lines(rich, size, room.max(size));
    let count = lines.len();
    lines
        .into_iter()
        .enumerate()
        .map(|(i, mut line)| {
            if i + 1 < count
                && let Some(last) = line.last_mut()
            {
                last.1.push(' ');
            }
            let mut x = left;
            line.into_iter()
                .map(|(face, text)| {
                    let style = TextStyle::new(face, size);
                    let item = Item::text(text.as_str(), Point::new(x, 0.0), style, Anchor::Start);
                    x += shape(&text, style).width;
                    item
                })
                .collect()
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn joined(lines: &[Vec<Piece>]) -> Vec<String> {
        lines.iter().map(|l| l.iter().map(|p| p.1.as_str()).collect()).collect()
    }

    #[test]
    fn no_line_is_wider_than_its_room_and_no_word_is_lost() {
        let text = "The same five notes carry four riffs; learn where they lie, then let the rhythm tell them apart.";
        for room in [10.0, 25.0, 60.0, 500.0] {
            let lines = break_lines(&text.into(), 4.0, room);
            for line in &joined(&lines) {
                let w = shape(line, TextStyle::new(Face::Roman, 4.0)).width;
                assert!(w <= room + 1e-6, "{line:?} is {w} in {room}");
            }
            let all: String = joined(&lines).join(" ").split_whitespace().collect();
            assert_eq!(all, text.split_whitespace().collect::<String>());
        }
    }

    #[test]
    fn emphasis_inside_a_word_does_not_break_it() {
        let rich = Rich::plain("play the ").bold("♭3").roman(", then rest");
        let lines = break_lines(&rich, 4.0, 500.0);
        assert_eq!(joined(&lines), ["play the ♭3, then rest"]);
        assert_eq!(lines[0].len(), 3);
    }

    #[test]
    fn nothing_gives_no_lines() {
        assert!(break_lines(&"  \n ".into(), 4.0, 50.0).is_empty());
        assert!(set(&Rich::default(), 4.0, 50.0, 0.0).is_empty());
    }
}
