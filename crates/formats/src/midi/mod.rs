//! Standard MIDI Files: [`read`] finds the bass in any of them, [`write`](write()) makes one of a riff.
//!
//! What Riffkin writes it reads back as it was, note for note and time for time; what others wrote is understood
//! as far as it goes, and every guess is a warning that says what it rests on. The rules, and the texts that
//! Riffkin puts into its own files, are in `docs/midi.md`.
//!
//! ```
//! use riffkin_formats::midi::{MidiOptions, WriteOptions, read, write};
//! let riff = riffkin_score::random::riff(7, 4);
//! let (again, _) = read(&write(&riff, &WriteOptions::default()), &MidiOptions::default()).unwrap();
//! let heard = |r: &riffkin_score::riff::Riff| -> Vec<_> {
//!     r.played().iter().map(|n| (n.onset, n.length, n.note.pitch.midi())).collect()
//! };
//! assert_eq!(heard(&riff), heard(&again));
//! ```

mod build;
mod error;
mod file;
mod find;
mod line;
mod ours;
mod texts;
mod timeline;
mod times;
mod write;

pub use error::MidiError;
pub use find::{Candidate, Reason};
pub use write::{WriteOptions, losses, write};

use riffkin_score::Warning;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::riff::Riff;
use riffkin_score::tempo::{Feel, Tempo};

/// What is known about a file beforehand; by default nothing.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct MidiOptions {
    /// Read this track, from 1.
    pub track: Option<usize>,
    /// Read this channel, 1 to 16.
    pub channel: Option<u8>,
    /// The meter, whatever the file says.
    pub meter: Option<Meter>,
    /// The key, whatever the file says.
    pub key: Option<Key>,
    /// The tempo, whatever the file says. Files that count in seconds need it.
    pub tempo: Option<Tempo>,
    /// Straight or swung, instead of finding out.
    pub feel: Option<Feel>,
    /// Keep whole bars of rest before the first note.
    pub from_start: bool,
    /// Read what comes before a damage instead of refusing the file; the damage becomes a warning.
    pub salvage: bool,
}

/// Most notes read from one part of a file.
pub const MAX_NOTES: usize = 10_000;

/// Reads the bass of a file as a riff, with what had to be guessed or left out.
///
/// Formats 0, 1 and 2 are read, also inside a RIFF wrapper. Time and memory are linear in the length of the
/// file.
///
/// # Errors
/// [`MidiError`], naming the byte or the track.
pub fn read(bytes: &[u8], options: &MidiOptions) -> Result<(Riff, Vec<Warning>), MidiError> {
    let file = file::read(bytes, options.salvage)?;
    build::riff(file, options)
}

/// The parts of a file that may be the bass, the likeliest first, with the reasons.
///
/// # Errors
/// [`MidiError`] when the file cannot be read.
pub fn candidates(bytes: &[u8], options: &MidiOptions) -> Result<Vec<Candidate>, MidiError> {
    Ok(find::candidates(&file::read(bytes, options.salvage)?))
}
