//! MusicXML 4.0 (W3C Music Notation Community Group, 2021), read and written, plain and compressed.
//!
//! Written: one part on a bass staff, an octave above sounding with the `transpose` element that says so,
//! and a second staff with tablature when strings and frets are known. What MusicXML has no word for (an
//! exact mode, the neck's name, remarks) stands in `miscellaneous-field` elements; `docs/musicxml.md` lists
//! every mapping.
//!
//! Read: MusicXML 2.0 to 4.0 of any program, by parts or by time. The bass is looked for among the parts,
//! one line is drawn from its staves and voices, and everything that a riff cannot hold is reported as a
//! warning with its bar and beat. A file is refused only when it is damaged or holds no music.

mod encoding;
mod marks;
mod mxl;
mod read;
mod tree;
mod write;

use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::note::Place;
use riffkin_score::riff::{Riff, RiffError};

/// What to write besides the riff itself.
#[derive(Clone, Copy, Debug, Default)]
pub struct WriteOptions<'a> {
    /// The neck whose strings the tablature has. Without it, the neck that the riff's header names.
    pub neck: Option<&'a Neck>,
    /// String, fret and finger (0 open, 1 to 4) for each note of [`Riff::line`], in order; they go before
    /// those in the riff. Notes past the end of the slice, and those with `None`, keep their own.
    pub places: Option<&'a [Option<(Place, u8)>]>,
}

/// Why a file could not be read as MusicXML, or a riff not packed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MusicXmlError {
    /// Bytes that are no text.
    #[error("byte {byte}: {message}")]
    Encoding {
        /// Where, from 0.
        byte: usize,
        /// What is wrong there.
        message: String,
    },
    /// Broken XML.
    #[error("line {line}, column {column}: {message}")]
    Xml {
        /// Line, from 1.
        line: usize,
        /// Column in bytes, from 1.
        column: usize,
        /// What is wrong there.
        message: String,
    },
    /// XML, but no score.
    #[error(
        "line {line}: this is no MusicXML score: its root is <{root}>, not score-partwise or score-timewise"
    )]
    NotAScore {
        /// The name found.
        root: String,
        /// Where.
        line: u32,
    },
    /// A value that means nothing.
    #[error("line {line}, {place}: <{element}> holds '{found}'; it must be {wanted}")]
    Value {
        /// Line in the file, from 1.
        line: u32,
        /// Part and measure.
        place: String,
        /// The element.
        element: String,
        /// What it holds.
        found: String,
        /// What it may hold.
        wanted: &'static str,
    },
    /// An element without what it needs.
    #[error("line {line}, {place}: <{element}> lacks <{missing}>; the file is damaged")]
    Missing {
        /// Line in the file, from 1.
        line: u32,
        /// Part and measure.
        place: String,
        /// The element.
        element: String,
        /// What it lacks.
        missing: &'static str,
    },
    /// Too large to open.
    #[error("more than {limit} {what}; no score of a bass line needs so much")]
    TooLarge {
        /// What there is too much of.
        what: &'static str,
        /// How much is allowed.
        limit: usize,
    },
    /// A compressed file that cannot be unpacked, or packed.
    #[error("compressed MusicXML: {message}")]
    Compressed {
        /// What is wrong.
        message: String,
    },
    /// A score without a measure.
    #[error("line {line}: {message}")]
    NoMusic {
        /// Where.
        line: u32,
        /// What is missing.
        message: String,
    },
    /// The bars found do not make a riff.
    #[error(transparent)]
    Riff(#[from] RiffError),
}

/// Writes a riff as an uncompressed MusicXML 4.0 document. The same riff gives the same text.
pub fn write(riff: &Riff, options: &WriteOptions<'_>) -> String {
    write::document(riff, options)
}

/// Writes a riff as a compressed MusicXML file (`.mxl`). The same riff gives the same bytes.
///
/// # Errors
/// [`MusicXmlError::Compressed`], which does not happen for any riff within [`Riff`]'s limits.
pub fn write_mxl(riff: &Riff, options: &WriteOptions<'_>) -> Result<Vec<u8>, MusicXmlError> {
    mxl::pack(&write(riff, options))
}

/// Reads the bass line of a MusicXML file, plain or compressed; which of the two is seen from the bytes.
///
/// # Errors
/// [`MusicXmlError`], naming the byte, the line or the measure at fault.
pub fn read(bytes: &[u8]) -> Result<(Riff, Vec<Warning>), MusicXmlError> {
    let unpacked;
    let bytes = if mxl::is_zip(bytes) {
        unpacked = mxl::unpack(bytes)?;
        &unpacked
    } else {
        bytes
    };
    if bytes.len() > mxl::MAX_UNPACKED {
        return Err(MusicXmlError::TooLarge { what: "bytes", limit: mxl::MAX_UNPACKED });
    }
    let text = encoding::decode(bytes)?;
    let tree = tree::Tree::parse(&text)?;
    read::score(tree.root())
}

/// True for bytes that are likely MusicXML, plain or compressed: a zip, or XML whose root is a score.
pub fn looks_like(bytes: &[u8]) -> bool {
    if mxl::is_zip(bytes) {
        return true;
    }
    // In UTF-16 every other byte is zero; without them the name can be found in either encoding.
    let head: Vec<u8> = bytes.iter().copied().take(8192).filter(|&b| b != 0).collect();
    [b"<score-partwise".as_slice(), b"<score-timewise"].iter().any(|n| head.windows(n.len()).any(|w| w == *n))
}
