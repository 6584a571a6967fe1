//! What a file is, by what is in it, and one way to read every kind that holds notes.

use riffkin_fretboard::neck::Neck;
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
    /// Necks beside the usual ones that riff notation may name.
    pub necks: Vec<Neck>,
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
        // The UTF-16 byte order mark begins like an MPEG frame.
        [0xff, 0xfe, _, 0, ..] => {}
        [b'R', b'I', b'F', b'F', ..]
        | [b'R', b'F', b'6', b'4', ..]
        | [b'B', b'W', b'6', b'4', ..]
        | [b'F', b'O', b'R', b'M', _, _, _, _, b'A', b'I', b'F', b'F' | b'C', ..]
        | [b'c', b'a', b'f', b'f', ..]
        | [b'f', b'L', b'a', b'C', ..]
        | [b'O', b'g', b'g', b'S', ..]
        | [b'I', b'D', b'3', ..]
        | [0xff, 0xe0..=0xfe, ..]
        | [_, _, _, _, b'f', b't', b'y', b'p', ..] => return Kind::Audio,
        _ => {}
    }
    let head = bytes.get(..1 << 16).unwrap_or(bytes);
    let (text, _) = decode(head);
    if text.trim_start().starts_with('<') {
        return Kind::MusicXml;
    }
    if text.contains('\0') {
        return Kind::Unknown;
    }
    // A mail with tablature may begin with 'tempo: 96' too, so the notes decide before the header does.
    if riff_text::has_bars(&text) {
        Kind::RiffText
    } else if tab_text::looks_like(&text) {
        Kind::TabText
    } else if riff_text::has_header(&text) {
        Kind::RiffText
    } else {
        Kind::Unknown
    }
}

/// Bytes as text: UTF-8, UTF-16, else Windows-1252; what was assumed comes as a warning.
///
/// Windows-1252 is Latin 1 with quotes and dashes in 0x80 to 0x9f (WHATWG Encoding Standard, section 9; the table
/// is from memory). UTF-16 needs no byte order mark when every other byte at the start is zero.
pub fn decode(bytes: &[u8]) -> (String, Option<Warning>) {
    let utf16 = |rest: &[u8], unit: fn([u8; 2]) -> u16| {
        let units = rest.chunks(2).map(|pair| match pair {
            [a, b] => unit([*a, *b]),
            _ => 0xd800, // half a unit at the end: as wrong as half a surrogate pair
        });
        let mut lost = 0;
        let text: String = char::decode_utf16(units)
            .map(|c| {
                c.unwrap_or_else(|_| {
                    lost += 1;
                    char::REPLACEMENT_CHARACTER
                })
            })
            .collect();
        let message = match lost {
            0 => "the text is read as UTF-16".to_owned(),
            n => format!("the text is read as UTF-16; {n} characters in it are damaged"),
        };
        (text, Some(Warning::whole(message)))
    };
    match bytes {
        [0xff, 0xfe, rest @ ..] => return utf16(rest, u16::from_le_bytes),
        [0xfe, 0xff, rest @ ..] => return utf16(rest, u16::from_be_bytes),
        [0, 1..=255, 0, 1..=255, ..] => return utf16(bytes, u16::from_be_bytes),
        [1..=255, 0, 1..=255, 0, ..] => return utf16(bytes, u16::from_le_bytes),
        _ => {}
    }
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    match std::str::from_utf8(bytes) {
        Ok(text) => (text.to_owned(), None),
        // A text cut in the middle of a character.
        Err(at) if at.error_len().is_none() => {
            let whole = bytes.get(..at.valid_up_to()).unwrap_or(b"");
            let message = "the text ends in the middle of a character, which was left out";
            (String::from_utf8_lossy(whole).into_owned(), Some(Warning::whole(message)))
        }
        Err(at) => {
            let message = format!("byte {} is not UTF-8; the text is read as Windows-1252", at.valid_up_to());
            (bytes.iter().map(|&b| windows_1252(b)).collect(), Some(Warning::whole(message)))
        }
    }
}

fn windows_1252(byte: u8) -> char {
    const HIGH: [char; 32] = [
        '€', '\u{81}', '‚', 'ƒ', '„', '…', '†', '‡', 'ˆ', '‰', 'Š', '‹', 'Œ', '\u{8d}', 'Ž', '\u{8f}',
        '\u{90}', '‘', '’', '“', '”', '•', '–', '—', '˜', '™', 'š', '›', 'œ', '\u{9d}', 'ž', 'Ÿ',
    ];
    match byte.checked_sub(0x80) {
        Some(i) => HIGH.get(usize::from(i)).copied().unwrap_or(char::from(byte)),
        None => char::from(byte),
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
            let (riff, mut warnings) =
                riff_text::parse_knowing(&text, &options.necks).map_err(ReadError::RiffText)?;
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
            (b"FORM\0\0\0\0AIFF", Kind::Audio),
            (b"caff", Kind::Audio),
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
            (b"r\0i\0f\0f\0:\0 \0A\0\n\0", Kind::RiffText),
            (b"[pickup] e 1 2 | h. 1 |", Kind::RiffText),
            (b"Key: D\n|: 1 2 3 4 :|", Kind::RiffText),
            (
                b"name: Pier\nkey: D\n| q 1- 5- 1- 5- |\n| 1- 5- 1- 5- |\n| 1- 5- 1- 5- |\n| 1- 5- 1- 5- |",
                Kind::RiffText,
            ),
            (b"tempo: 96\n\nA|--5-7-|\nE|------|\n", Kind::TabText),
            (b"G\x96\x96\x96\x96\nD\x96\x96\x96\x96\nA\x965\x96\x96\nE\x96\x96\x96\x96\n", Kind::TabText),
            (b"Dear class,\n----------\nsee you: on Tuesday | or later", Kind::Unknown),
            (b"\x7fELF\0\0\0\0\x01\0key: D\n", Kind::Unknown),
        ] {
            assert_eq!(detect(bytes), kind, "{:?}", String::from_utf8_lossy(bytes));
        }
    }
    #[test]
    fn text_in_other_encodings_is_read_and_said() {
        let plain = "riff: Caf\u{e9}\n| w A1 |\n";
        let (riff, warnings) = read_any(plain.as_bytes(), &ReadOptions::default()).unwrap();
        assert!(warnings.is_empty());
        let units: Vec<u16> = plain.encode_utf16().collect();
        let little: Vec<u8> = units.iter().flat_map(|u| u.to_le_bytes()).collect();
        let big: Vec<u8> = units.iter().flat_map(|u| u.to_be_bytes()).collect();
        let latin: Vec<u8> = plain.chars().map(|c| c as u8).collect();
        for (bytes, said) in [
            ([b"\xef\xbb\xbf", plain.as_bytes()].concat(), None),
            ([b"\xff\xfe", little.as_slice()].concat(), Some("UTF-16")),
            ([b"\xfe\xff", big.as_slice()].concat(), Some("UTF-16")),
            (little, Some("UTF-16")),
            (big, Some("UTF-16")),
            (latin, Some("byte 9 is not UTF-8")),
        ] {
            let (read, warnings) = read_any(&bytes, &ReadOptions::default()).unwrap();
            assert_eq!(read, riff);
            assert_eq!(warnings.iter().any(|w| said.is_some_and(|s| w.message.contains(s))), said.is_some());
        }
        assert_eq!(decode(b"\x96\x80").0, "–€");
        assert_eq!(decode(b"\xff\xfea\0b").0, "a\u{fffd}");
        assert_eq!(decode(b"a\xc3").0, "a");
    }

    /// Neither detection nor reading may panic on anything.
    #[test]
    fn bytes_of_every_sort() {
        let mut state = 3u64;
        for length in 0..400 {
            let bytes: Vec<u8> = (0..length)
                .map(|_| {
                    state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1);
                    (state >> 56) as u8
                })
                .collect();
            for start in [&b""[..], b"riff: ", b"| q ", b"G|--", b"\xff\xfe", b"MThd", b"<?xml "] {
                let _ = read_any(&[start, bytes.as_slice()].concat(), &ReadOptions::default());
            }
        }
    }
}
