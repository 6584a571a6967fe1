//! Riff notation: our plain-text way to write a riff, degrees first and readable aloud.
//!
//! The rules, the grammar and the errors are in `docs/riff-notation.md`. [`parse`] and [`print()`] are exact
//! inverses on riffs: `parse(&print(&riff))` gives the same riff for every [`riffkin_score::riff::Riff`].
//! A text that was typed comes back in the printer's one layout.
//!
//! ```
//! let text = "riff: Wet Rope\nkey: D minor\n\n| <Dm7> q 1 e b3 4 q 5 = |\n";
//! let (riff, warnings) = riffkin_formats::riff_text::parse(text).unwrap();
//! assert!(warnings.is_empty());
//! assert_eq!(riff.line()[0].note.pitch.to_string(), "D2");
//! assert_eq!(riffkin_formats::riff_text::parse(&riffkin_formats::riff_text::print(&riff)).unwrap().0, riff);
//! ```

mod bars;
mod brackets;
mod header;
mod notes;
mod print;
mod scan;
mod words;

pub use crate::text_error::TextError as ParseError;
pub use print::print;
pub use words::read_feel;

use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::riff::Riff;

use crate::text_error::Source;

/// Reads one riff.
///
/// Time is linear in the length of the text. Line ends may be of any system's; a byte-order mark is skipped.
///
/// # Errors
/// [`ParseError`], with the line and column of the first thing that is not understood or does not add up.
pub fn parse(text: &str) -> Result<(Riff, Vec<Warning>), ParseError> {
    parse_knowing(text, &[])
}

/// [`parse`], with necks beside the usual ones that the line `neck:` may name by [`Neck::name`]. Capitals do not matter, and
/// what [`Neck::named`] reads comes first.
///
/// # Errors
/// As [`parse`].
pub fn parse_knowing(text: &str, necks: &[Neck]) -> Result<(Riff, Vec<Warning>), ParseError> {
    let source = Source(text);
    let (head, body_at) = header::read(source, necks)?;
    bars::read(source, body_at, head)
}

/// True when a line of the text starts like a bar of the notation: a bar line, then a length or a bracket.
pub(crate) fn has_bars(text: &str) -> bool {
    text.split(['\n', '\r']).any(|line| {
        let line = line.trim_start_matches(|c: char| c.is_whitespace() || c == '\u{feff}');
        let (bar, rest) = match line.strip_prefix('|') {
            Some(rest) => (true, rest.trim_start_matches(['|', ':'])),
            None => (false, line),
        };
        let brackets = ["[pickup]", "[short]", "[meter ", "[tempo "];
        let word = |text: &str| text.split_whitespace().next().is_some_and(is_length);
        let rest = rest.trim_start();
        if brackets.iter().any(|b| rest.starts_with(b)) {
            return true;
        }
        let after_chord = rest.strip_prefix('<').and_then(|rest| rest.split_once('>')).map(|(_, rest)| rest);
        bar && word(after_chord.unwrap_or(rest))
    })
}

/// True when a line of the text is a header line of the notation.
pub(crate) fn has_header(text: &str) -> bool {
    text.split(['\n', '\r']).any(|line| {
        let word = line.split_once(':').map(|(word, _)| word.trim_matches(['\u{feff}', ' ']).to_lowercase());
        word.is_some_and(|word| header::WORDS.contains(&word.as_str()))
    })
}

fn is_length(word: &str) -> bool {
    words::read_length(word).is_some_and(|length| length.is_ok())
}
