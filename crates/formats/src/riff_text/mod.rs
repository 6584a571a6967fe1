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
mod header;
mod notes;
mod print;
mod scan;
mod words;

pub use crate::text_error::TextError as ParseError;
pub use print::print;

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
    let source = Source(text);
    let (head, body_at) = header::read(source)?;
    bars::read(source, body_at, head)
}
