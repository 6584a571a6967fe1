//! What a file is, by what is in it, and one way to read every kind that holds notes.

use riffkin_score::Warning;
use riffkin_score::analysis::explain::name_by_ear;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::riff::Riff;
use riffkin_score::tempo::Tempo;

use crate::midi::{self, MidiError, MidiOptions};
use crate::musicxml::{self, MusicXmlError};
use crate::riff_text::{self, ParseError};
use crate::tab_text::{self, TabError, TabOptions};

/// What a file holds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// Our riff notation.
    RiffText,
    /// MusicXML, plain or compressed.
    MusicXml,
    /// A Standard MIDI File.
    Midi,
    /// Typed tablature.
    TabText,
    /// A recording.
    Audio,
    /// Something else.
    Unknown,
}

impl Kind {
    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::RiffText => "riff notation",
            Self::MusicXml => "MusicXML",
            Self::Midi => "MIDI",
            Self::TabText => "typed tablature",
            Self::Audio => "a recording",
            Self::Unknown => "nothing known",
        }
    }
}

/// What to take where a file does not say. All `None`: the format's own defaults.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ReadOptions {
    /// The meter.
    pub meter: Option<Meter>,
    /// The tempo.
    pub tempo: Option<Tempo>,
    /// The key.
    pub key: Option<Key>,
    /// Which MIDI track holds the bass, from 1.
    pub midi_track: Option<usize>,
}

/// Why a file gave no riff.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum ReadError {
    /// Riff notation.
    #[error(transparent)]
    RiffText(ParseError),
    /// MusicXML.
    #[error(transparent)]
    MusicXml(#[from] MusicXmlError),
    /// MIDI.
    #[error(transparent)]
    Midi(#[from] MidiError),
    /// Typed tablature.
    #[error(transparent)]
    TabText(TabError),
    /// A recording, which has to be heard first.
    #[error("this is a recording; hear it first")]
    Audio,
    /// Nothing known.
    #[error(
        "this is neither riff notation, MusicXML, MIDI, typed tablature nor a recording{}; check that it is the right file",
        if *empty { ": it is empty" } else { "" }
    )]
    Unknown {
        /// True for a file without content.
        empty: bool,
    },
}

/// What the bytes look like. Only the first 64 KiB are looked at.
pub fn detect(bytes: &[u8]) -> Kind {
    match bytes {
        [b'M', b'T', b'h', b'd', ..] => return Kind::Midi,
        [b'P', b'K', 3, 4, ..] => return Kind::MusicXml,
        // A MIDI file may be wrapped in RIFF with the type RMID; every other RIFF is taken for sound.
        [b'R', b'I', b'F', b'F', _, _, _, _, b'R', b'M', b'I', b'D', ..] => return Kind::Midi,
        [b'R', b'I', b'F', b'F', ..]
        | [b'R', b'F', b'6', b'4', ..]
        | [b'f', b'L', b'a', b'C', ..]
        | [b'O', b'g', b'g', b'S', ..]
        | [b'I', b'D', b'3', ..]
        | [0xff, 0xe0..=0xfe, ..]
        | [_, _, _, _, b'f', b't', b'y', b'p', ..] => {
            // The UTF-16 byte order mark begins like an MPEG frame.
            if !matches!(bytes, [0xff, 0xfe, _, 0, ..]) {
                return Kind::Audio;
            }
        }
        _ => {}
    }
    let head = &bytes[..bytes.len().min(1 << 16)];
    let (text, _) = decode(head);
    if text.trim_start().starts_with('<') {
        return Kind::MusicXml;
    }
    let words = ["riff:", "key:", "meter:", "tempo:", "feel:", "neck:", "source:", "permission:", "remark:"];
    let mut tab_lines = 0;
    let mut first = true;
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with("//")) {
        if first && (words.iter().any(|w| line.starts_with(w)) || is_riff_bar(line)) {
            return Kind::RiffText;
        }
        first = false;
        if is_string_line(line) {
            tab_lines += 1;
            if tab_lines >= 3 {
                return Kind::TabText;
            }
        } else {
            tab_lines = 0;
        }
    }
    Kind::Unknown
}

/// A bar line followed by a length word of riff notation, or by what may stand before one.
fn is_riff_bar(line: &str) -> bool {
    let Some(rest) = line.strip_prefix('|') else { return false };
    let rest = rest.trim_start_matches([':', '|']);
    let word = rest.split_whitespace().find(|w| !w.starts_with(['<', '[']) || !w.ends_with(['>', ']']));
    word.is_some_and(|w| w.starts_with(|c: char| c.is_ascii_lowercase()) && !w.contains('-'))
}

/// Mostly dashes, with figures and bar lines between.
fn is_string_line(line: &str) -> bool {
    let dashes = line.chars().filter(|c| matches!(c, '-' | '–' | '—' | '―' | '−' | '_' | '=')).count();
    let all = line.chars().filter(|c| !c.is_whitespace()).count();
    dashes >= 3 && dashes * 3 >= all
}

/// Bytes as text: UTF-8, UTF-16 with its mark, else Latin 1; what was assumed comes as a warning.
pub fn decode(bytes: &[u8]) -> (String, Option<Warning>) {
    let utf16 = |rest: &[u8], unit: fn([u8; 2]) -> u16| {
        let units = rest.chunks_exact(2).map(|pair| unit([pair[0], pair[1]]));
        char::decode_utf16(units).map(|c| c.unwrap_or(char::REPLACEMENT_CHARACTER)).collect()
    };
    match bytes {
        [0xef, 0xbb, 0xbf, rest @ ..] => (String::from_utf8_lossy(rest).into_owned(), None),
        [0xff, 0xfe, rest @ ..] => (utf16(rest, u16::from_le_bytes), None),
        [0xfe, 0xff, rest @ ..] => (utf16(rest, u16::from_be_bytes), None),
        _ => match std::str::from_utf8(bytes) {
            Ok(text) => (text.to_owned(), None),
            Err(at) => {
                let message = format!("byte {} is not UTF-8; the text is read as Latin 1", at.valid_up_to());
                (bytes.iter().map(|&b| char::from(b)).collect(), Some(Warning::whole(message)))
            }
        },
    }
}

/// Reads a riff from any kind of file that holds notes. Names that mean nothing (from MIDI numbers or frets)
/// are given by ear: see [`name_by_ear`].
///
/// # Errors
/// [`ReadError`], with the place at fault.
pub fn read_any(bytes: &[u8], options: &ReadOptions) -> Result<(Riff, Vec<Warning>), ReadError> {
    match detect(bytes) {
        Kind::RiffText => {
            let (text, warning) = decode(bytes);
            let (riff, mut warnings) = riff_text::parse(&text).map_err(ReadError::RiffText)?;
            warnings.extend(warning);
            Ok((riff, warnings))
        }
        Kind::MusicXml => Ok(musicxml::read(bytes)?),
        Kind::Midi => {
            let options = MidiOptions {
                track: options.midi_track,
                meter: options.meter,
                tempo: options.tempo,
                key: options.key,
                ..MidiOptions::default()
            };
            let (riff, warnings) = midi::read(bytes, &options)?;
            Ok((name_by_ear(&riff), warnings))
        }
        Kind::TabText => {
            let (text, warning) = decode(bytes);
            let defaults = TabOptions::default();
            let options = TabOptions {
                meter: options.meter.unwrap_or(defaults.meter),
                tempo: options.tempo.unwrap_or(defaults.tempo),
                key: options.key,
            };
            let (riff, mut warnings) = tab_text::read(&text, &options).map_err(ReadError::TabText)?;
            warnings.extend(warning);
            Ok((name_by_ear(&riff), warnings))
        }
        Kind::Audio => Err(ReadError::Audio),
        Kind::Unknown => Err(ReadError::Unknown { empty: bytes.is_empty() }),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_kind_is_known_by_its_content() {
        for (bytes, kind) in [
            (&b"MThd\0\0\0\x06"[..], Kind::Midi),
            (b"PK\x03\x04", Kind::MusicXml),
            (b"\xef\xbb\xbf<?xml version=\"1.0\"?>", Kind::MusicXml),
            (b"<\0?\0x\0m\0l\0", Kind::MusicXml),
            (b"RIFF\0\0\0\0WAVE", Kind::Audio),
            (b"fLaC", Kind::Audio),
            (b"OggS", Kind::Audio),
            (b"\xff\xfb\x90", Kind::Audio),
            (b"\0\0\0\x20ftypM4A ", Kind::Audio),
            (b"riff: Wet Rope\n| w r |", Kind::RiffText),
            (b"// a remark\n\n| <Dm7> q 1 2 3 4 |", Kind::RiffText),
            (b"Here is the line:\nG|----|\nD|----|\nA|-3--|\nE|----|\n", Kind::TabText),
            (b"|--5-7-|\n|------|\n|------|\n|------|", Kind::TabText),
            (b"", Kind::Unknown),
            (b"Dear class, see you on Tuesday.", Kind::Unknown),
            (b"\xff\xfer\0i\0f\0f\0:\0 \0A\0\n\0", Kind::RiffText),
        ] {
            assert_eq!(detect(bytes), kind, "{:?}", String::from_utf8_lossy(bytes));
        }
    }
}
