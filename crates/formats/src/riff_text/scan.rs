//! The text below the header cut into words, bar lines and brackets.

use crate::text_error::{Source, TextError, shown};

/// One piece of the text.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Token<'a> {
    /// Byte offset of its first character.
    pub(super) at: usize,
    pub(super) kind: Kind<'a>,
}

/// What the piece is. Brackets hold what stands between them, untrimmed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind<'a> {
    Bar(BarLine),
    /// `[meter 3/4]`
    Square(&'a str),
    /// `<Dm7>`
    Angle(&'a str),
    /// `(accent)`
    Round(&'a str),
    Word(&'a str),
    NewLine,
}

/// A bar line: `|`, `||`, `|:`, `:|`, `:|:`.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct BarLine {
    pub(super) ends_repeat: bool,
    pub(super) starts_repeat: bool,
    pub(super) double: bool,
}

impl BarLine {
    /// Only a plain `|` lets an ending bracket go on.
    pub(super) fn is_plain(self) -> bool {
        !self.ends_repeat && !self.starts_repeat && !self.double
    }
}

pub(super) struct Scanner<'a> {
    source: Source<'a>,
    at: usize,
    line_start: bool,
}

impl<'a> Scanner<'a> {
    pub(super) fn new(source: Source<'a>, at: usize) -> Self {
        Self { source, at, line_start: true }
    }

    /// Byte offset of the end of the text.
    pub(super) fn end(&self) -> usize {
        self.source.0.len()
    }

    fn rest(&self) -> &'a str {
        self.source.0.get(self.at..).unwrap_or("")
    }

    /// The next piece; `None` at the end.
    pub(super) fn next(&mut self) -> Result<Option<Token<'a>>, TextError> {
        loop {
            let rest = self.rest();
            let Some(first) = rest.chars().next() else { return Ok(None) };
            let at = self.at;
            if matches!(first, '\n' | '\r') {
                self.at += 1;
                self.line_start = true;
                return Ok(Some(Token { at, kind: Kind::NewLine }));
            }
            if first.is_whitespace() {
                self.at += first.len_utf8();
                continue;
            }
            if rest.starts_with("//") {
                if !self.line_start {
                    return Err(self.source.error(
                        at,
                        "a comment after notes",
                        "comments have a line to themselves; break the line before //",
                    ));
                }
                self.at += rest.find(['\n', '\r']).unwrap_or(rest.len());
                continue;
            }
            self.line_start = false;
            let kind = match first {
                '|' | ':' if first == '|' || rest.starts_with(":|") => self.bar_line(),
                '[' => Kind::Square(self.bracket(']')?),
                '<' => Kind::Angle(self.bracket('>')?),
                '(' => Kind::Round(self.bracket(')')?),
                ']' | '>' | ')' => {
                    return Err(self.source.error(
                        at,
                        format!("a closing {first} that nothing opened"),
                        "take it out, or write the opening sign before it",
                    ));
                }
                _ => Kind::Word(self.word()),
            };
            return Ok(Some(Token { at, kind }));
        }
    }

    fn bar_line(&mut self) -> Kind<'a> {
        let start = self.at;
        let mut take = |sign: &str| {
            let there = self.source.0.get(self.at..).is_some_and(|rest| rest.starts_with(sign));
            if there {
                self.at += sign.len();
            }
            there
        };
        let ends_repeat = take(":");
        take("|");
        let double = take("|");
        // In `| :|` written together the colon belongs to the second line.
        let colon = take(":");
        if colon && !ends_repeat && self.rest().starts_with('|') {
            self.at -= 1;
            return Kind::Bar(BarLine { ends_repeat, starts_repeat: false, double });
        }
        debug_assert!(self.at > start);
        Kind::Bar(BarLine { ends_repeat, starts_repeat: colon, double })
    }

    fn bracket(&mut self, close: char) -> Result<&'a str, TextError> {
        let inside = self.rest().get(1..).unwrap_or("");
        let end = inside.find([close, '\n', '\r']).unwrap_or(inside.len());
        let (text, after) = inside.split_at(end);
        if !after.starts_with(close) {
            let open = self.rest().get(..1).unwrap_or("");
            return Err(self.source.error(
                self.at,
                format!("{open} is not closed on its line"),
                format!("write {close} after {}", shown(text.trim())),
            ));
        }
        self.at += end + 2;
        Ok(text)
    }

    fn word(&mut self) -> &'a str {
        let rest = self.rest();
        let ends = |(i, c): (usize, char)| {
            c.is_whitespace()
                || "|[]<>()".contains(c)
                || (c == ':' && rest.get(i + 1..).is_some_and(|after| after.starts_with('|')))
        };
        let end = rest.char_indices().skip(1).find(|&found| ends(found)).map_or(rest.len(), |(i, _)| i);
        let (word, _) = rest.split_at(end);
        self.at += end;
        word
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn kinds(text: &str) -> Vec<String> {
        let mut scanner = Scanner::new(Source(text), 0);
        let mut out = Vec::new();
        while let Some(token) = scanner.next().unwrap() {
            out.push(match token.kind {
                Kind::Bar(b) => format!(
                    "{}|{}{}",
                    if b.ends_repeat { ":" } else { "" },
                    if b.double { "|" } else { "" },
                    if b.starts_repeat { ":" } else { "" }
                ),
                Kind::Square(t) => format!("[{t}"),
                Kind::Angle(t) => format!("<{t}"),
                Kind::Round(t) => format!("({t}"),
                Kind::Word(t) => t.to_owned(),
                Kind::NewLine => "n".to_owned(),
            });
        }
        out
    }

    #[test]
    fn bar_lines_stand_apart_from_words() {
        assert_eq!(kinds("|:q 1:|:s5:4 1||"), ["|:", "q", "1", ":|:", "s5:4", "1", "||"]);
        assert_eq!(kinds("|1st e3:|x3 2nd"), ["|", "1st", "e3", ":|", "x3", "2nd"]);
        assert_eq!(kinds("|:|"), ["|", ":|"]);
        assert_eq!(kinds("5(dead)<C>[short]"), ["5", "(dead", "<C", "[short"]);
        assert_eq!(kinds("// one | two\n5"), ["n", "5"]);
    }
}
