//! What can be wrong with a recording.

use riffkin_audio::{NotAClip, NotASampleRate};

/// Something in a recording that was mended, left out or guessed.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Warning {
    /// The file ends before the length that it promises.
    #[error("the file breaks off: {heard_s:.2} s of the promised {promised_s:.2} s are there")]
    CutShort {
        /// What could be decoded, in seconds.
        heard_s: f64,
        /// What the file's header says, in seconds.
        promised_s: f64,
    },
    /// The file breaks off in the middle of a packet; no length was promised.
    #[error("the file breaks off after {heard_s:.2} s: {reason}")]
    BrokenOff {
        /// What could be decoded, in seconds.
        heard_s: f64,
        /// What the decoder said.
        reason: String,
    },
    /// The file could be read no farther, though there is more of it.
    #[error(
        "the file could be read only up to {heard_s:.2} s: {reason}; copy it to this computer's own disk and try again"
    )]
    ReadFailed {
        /// What could be decoded, in seconds.
        heard_s: f64,
        /// What the system said.
        reason: String,
    },
    /// The file's header says no length, as a recorder leaves it that was switched off.
    #[error("the header gives no length: everything up to the end of the file was taken for sound")]
    NoLength,
    /// There is more sound than the header promises.
    #[error("the file goes on beyond the promised {promised_s:.2} s; all of it was taken")]
    LongerThanPromised {
        /// What the file's header says, in seconds.
        promised_s: f64,
    },
    /// The file was cut out of a longer one and counts on from there; its own beginning is 0.
    #[error(
        "the file is a piece of a longer one, from {begin_s:.2} s on; times are counted from its own beginning"
    )]
    CutOut {
        /// Where it begins, by its own count, in seconds.
        begin_s: f64,
    },
    /// Some packets could not be decoded and became silence, so that what follows keeps its time.
    #[error(
        "{packets} damaged places, the first at {first_s:.2} s, were replaced by {silent_s:.2} s of silence: {reason}"
    )]
    Damaged {
        /// How many packets.
        packets: usize,
        /// Where the first was, in seconds.
        first_s: f64,
        /// How much silence there is instead, over all places, in seconds.
        silent_s: f64,
        /// What the decoder said of the first.
        reason: String,
    },
    /// Some samples were not finite, or far beyond full scale, and became silence.
    #[error("{samples} samples that are no numbers, the first at {first_s:.3} s, were replaced by silence")]
    NotNumbers {
        /// How many, over all channels.
        samples: usize,
        /// Where the first was, in seconds.
        first_s: f64,
    },
    /// How much the encoder put before the music is not told, so all times may be a little off.
    #[error(
        "the file does not say how much its encoder put before the music: {:.0} ms were cut; times may be off by up to \
         {:.0} ms (a WAV or FLAC file has exact times)",
        cut_s * 1000.0,
        off_s * 1000.0
    )]
    DelayUnknown {
        /// What was cut away, in seconds.
        cut_s: f64,
        /// How much more some encoders put there, in seconds.
        off_s: f64,
    },
    /// The file plays several stretches of its sound track; the sound from the first on was taken as it lies.
    #[error(
        "the file plays {pieces} pieces of its sound track one after the other; the whole from the first on was taken"
    )]
    Pieces {
        /// How many stretches there are.
        pieces: usize,
    },
    /// There were more than two channels; their mean was taken.
    #[error("{channels} channels were mixed to one")]
    MixedDown {
        /// How many channels the file has.
        channels: usize,
    },
    /// There is more than one sound track; the first was taken.
    #[error("the file has {tracks} sound tracks; the first was taken")]
    OtherTracks {
        /// How many sound tracks there are.
        tracks: usize,
    },
    /// The decoder's rate or channel count changed on the way; what followed was left out.
    #[error("the sound changes its format after {heard_s:.2} s; the rest was left out")]
    FormatChange {
        /// What was decoded until then, in seconds.
        heard_s: f64,
    },
}

/// Why bytes could not be turned into sound.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AudioFileError {
    /// There are no bytes.
    #[error("the file is empty (0 bytes)")]
    Empty,
    /// The bytes cannot be read at all.
    #[error("the file cannot be read: {reason}")]
    Unreadable {
        /// What the system said.
        reason: String,
    },
    /// The bytes are of no known kind.
    #[error(
        "not a recording that can be read ({bytes} bytes, beginning {beginning}): {reason}; give WAV, AIFF, FLAC, MP3, Ogg \
         Vorbis or AAC (M4A)"
    )]
    UnknownKind {
        /// How many bytes there are.
        bytes: usize,
        /// The first bytes in hexadecimal.
        beginning: String,
        /// What the reader stumbled over.
        reason: String,
    },
    /// The bytes are of a kind that is known but not read.
    #[error("this is {what}; convert the sound to WAV, FLAC, MP3, Ogg Vorbis or M4A and give that")]
    OtherKind {
        /// What it is.
        what: String,
    },
    /// The sound is coded as Opus.
    #[error(
        "the sound is coded as Opus, which is not read; convert it to WAV and give that, for example with “ffmpeg -i \
         recording.opus recording.wav”"
    )]
    Opus,
    /// The file's kind is known but its header is broken.
    #[error("the {kind} file cannot be read: {reason}; save or copy it again, or convert it to WAV")]
    BadHeader {
        /// What kind of file it is.
        kind: &'static str,
        /// What is wrong.
        reason: String,
    },
    /// The file is of a known kind but carries no sound track.
    #[error("the file has no sound track")]
    NoSound,
    /// The sound is coded in a way that cannot be decoded.
    #[error("the sound's coding cannot be read: {reason}; convert the file to 16-bit WAV")]
    UnknownCoding {
        /// What the decoder said.
        reason: String,
    },
    /// Not one sample could be decoded.
    #[error("no sound could be decoded from {bytes} bytes: {reason}")]
    NothingDecoded {
        /// How many bytes there are.
        bytes: usize,
        /// What went wrong first.
        reason: String,
    },
    /// The recording is longer than can be taken.
    #[error("the recording is longer than {limit}; cut it and try the parts")]
    TooLong {
        /// The limit that was passed, in words.
        limit: String,
    },
    /// The sample rate is of no use.
    #[error(transparent)]
    Rate(#[from] NotASampleRate),
    /// The decoded samples are no clip.
    #[error(transparent)]
    Samples(#[from] NotAClip),
}
