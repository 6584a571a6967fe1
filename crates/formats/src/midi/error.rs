//! Why a MIDI file gives no riff.

use riffkin_score::rhythm::{NotateError, QuantiseError};
use riffkin_score::riff::RiffError;

/// Why a MIDI file gives no riff. Bytes count from 0, tracks from 1.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum MidiError {
    /// Not a Standard MIDI File.
    #[error("byte 0: this is no Standard MIDI File: it begins with {found} instead of 'MThd'")]
    NotMidi {
        /// The first bytes.
        found: String,
    },
    /// The header cannot be used.
    #[error(
        "byte {byte}: the file header is damaged: {what}; save the file anew from the program it comes from"
    )]
    Header {
        /// Where.
        byte: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// A track cannot be read to its end.
    #[error("track {track}, byte {byte}: {what}; save the file anew, or ask for what can be saved of it")]
    Damaged {
        /// The track.
        track: usize,
        /// Where.
        byte: usize,
        /// What is wrong.
        what: &'static str,
    },
    /// Fewer tracks than the header says.
    #[error("byte 10: the file says it has {promised} tracks and holds {found}; it may be cut off")]
    MissingTracks {
        /// Tracks the header says.
        promised: usize,
        /// Tracks there are.
        found: usize,
    },
    /// SMPTE time, and no tempo to count beats by.
    #[error(
        "byte 12: the file counts time in seconds ({per_second:.2} ticks each), not in beats; give its tempo"
    )]
    NoBeats {
        /// Ticks in a second.
        per_second: f64,
    },
    /// No such track.
    #[error("there is no track {track}: the file has {tracks}")]
    NoTrack {
        /// The track asked for.
        track: usize,
        /// How many there are.
        tracks: usize,
    },
    /// Nothing to read.
    #[error(
        "none of the {tracks} tracks has a note to read here: {candidates} parts elsewhere have some, and the drum channel has {drums}"
    )]
    NoNotes {
        /// Tracks in the file.
        tracks: usize,
        /// Parts with notes outside what was asked for.
        candidates: usize,
        /// Notes on the drum channel.
        drums: usize,
    },
    /// Too long for a riff.
    #[error("{place} has {found} notes; a riff may be read of up to {limit}: cut the file")]
    TooManyNotes {
        /// The part.
        place: String,
        /// Its notes.
        found: usize,
        /// The limit.
        limit: usize,
    },
    /// The times are out of reach.
    #[error("{place}: {source}")]
    Times {
        /// The part.
        place: String,
        /// Why.
        source: QuantiseError,
    },
    /// The times cannot be written.
    #[error("{place}: {source}")]
    Notation {
        /// The part.
        place: String,
        /// Why.
        source: NotateError,
    },
    /// The bars do not make a riff.
    #[error("{place}: {source}")]
    Riff {
        /// The part.
        place: String,
        /// Why.
        source: RiffError,
    },
}
