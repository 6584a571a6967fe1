//! What kind of recording the bytes are.

use super::pcm::Pcm;
use super::source::Input;
use super::stream::{self, Stream};
use super::track::Track;
use super::wave::Wave;
use super::{AudioFileError, adts, apple, boxed, mpeg, ogg, wave};

/// Kinds that are recognised only to say what to do with them: where their mark stands, and what they are called.
const OTHERS: [(usize, &[u8], &str); 9] = [
    (0, b"\x1A\x45\xDF\xA3", "a WebM or Matroska file"),
    (0, b"\x30\x26\xB2\x75", "a Windows Media file"),
    (0, b"#!AMR", "an AMR file"),
    (0, b"MThd", "a MIDI file, which holds notes and no sound"),
    (0, b"riff\x2E\x91\xCF\x11", "a Wave64 file"),
    (0, b"%PDF", "a PDF file"),
    (0, b"PK\x03\x04", "a zip archive"),
    (8, b"AVI ", "a video file (AVI)"),
    (0, b"wvpk", "a WavPack file"),
];

/// The sound track of a recording.
pub(super) fn open(mut input: Input) -> Result<Box<dyn Track>, AudioFileError> {
    // Tags of whatever length may stand before the recording itself.
    let mut start = 0;
    while let Some(length) = stream::tag(input.peek(32)).filter(|_| input.peek(3) == b"ID3") {
        start += length;
        input.seek(start);
    }
    let head = input.peek(16).to_vec();
    if let Some(reason) = input.trouble() {
        return Err(AudioFileError::Unreadable { reason: reason.to_owned() });
    }
    let begins = |mark: &[u8]| head.starts_with(mark);
    let form = head.get(8..12).unwrap_or(&[]);
    if (begins(b"RIFF") && form != b"AVI ") || begins(b"RF64") || begins(b"BW64") {
        let mut warnings = Vec::new();
        return match wave::header(&mut input, &mut warnings)? {
            Wave::Samples(layout) => Ok(Box::new(Pcm::new(input, layout, warnings)?)),
            Wave::Mpeg { start } => {
                input.seek(start);
                frames(input)
            }
        };
    }
    if begins(b"FORM") && form.starts_with(b"AIF") {
        let layout = apple::aiff(&mut input)?;
        return Ok(Box::new(Pcm::new(input, layout, Vec::new())?));
    }
    if begins(b"caff") {
        let layout = apple::caf(&mut input)?;
        return Ok(Box::new(Pcm::new(input, layout, Vec::new())?));
    }
    if begins(b"OggS") {
        return ogg::track(input);
    }
    if begins(b"fLaC") || head.get(4..8) == Some(b"ftyp") {
        return boxed::track(input, start);
    }
    let other =
        OTHERS.iter().find(|(at, mark, _)| head.get(*at..).is_some_and(|rest| rest.starts_with(mark)));
    if let Some((_, _, what)) = other {
        return Err(AudioFileError::OtherKind { what: (*what).to_owned() });
    }
    frames(input)
}

/// The track of a stream of frames.
fn frames(mut input: Input) -> Result<Box<dyn Track>, AudioFileError> {
    let begin = input.position();
    if let Some(first) = Stream::first(&mut input, adts::head) {
        return adts::track(input, first);
    }
    if let Some(first) = Stream::first(&mut input, mpeg::head) {
        return mpeg::track(input, first);
    }
    input.seek(begin);
    if let [0xFF, second, third] = input.peek(3)
        && second & 0xE4 == 0xE4
        && third & 0xF0 != 0xF0
    {
        return Err(AudioFileError::OtherKind { what: "MPEG audio of layer I or II (MP2)".to_owned() });
    }
    let beginning = input.peek(8).iter().map(|b| format!("{b:02x}")).collect::<Vec<_>>().join(" ");
    let text = input.peek(512);
    let text =
        !text.is_empty() && text.iter().all(|b| matches!(b, b'\t' | b'\n' | b'\r' | 0x20..=0x7E | 0x80..));
    let reason = if text { "it looks like text" } else { "no known kind begins like that" };
    Err(AudioFileError::UnknownKind {
        bytes: usize::try_from(input.length()).unwrap_or(usize::MAX),
        beginning,
        reason: reason.to_owned(),
    })
}
