//! What of an MP4 file's sound track is to be heard: its edit list, or the note that some encoders leave instead.
//!
//! Boxes after ISO/IEC 14496-12:2015: `mvhd` 8.2.2, `hdlr` 8.4.3, `mdhd` 8.4.2, `elst` 8.6.6. The note `iTunSMPB` is no
//! standard; its hexadecimal numbers are: nothing, samples before, samples behind, samples between (common practice).

use symphonia::core::errors::Error as Symphonia;

use super::numbers::{be32, be64};
use super::source::Input;
use super::track::Facts;
use super::{AudioFileError, Warning, adts};

/// Largest index that is read, in bytes: a day of AAC needs 20 MB, a picture of the cover a few.
const LARGEST: u64 = 1 << 26;
/// Most boxes looked at, to see whether the last is whole; a file in fragments has two for each.
const BOXES: usize = 4096;

/// The one stretch of a sound track that is to be heard.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Edit {
    /// Where it starts, in seconds of the decoded track.
    start_s: f64,
    /// How long it is, in seconds; 0 means to the end.
    length_s: f64,
    /// How many more stretches there are.
    more: u32,
}

/// What an MP4 file says about time.
#[derive(Debug, Default, PartialEq)]
pub(super) struct Movie {
    /// Whether the file has its index at all.
    index: bool,
    /// Whether the file ends within a box.
    pub(super) cut: bool,
    edit: Option<Edit>,
    /// Samples before, and between, by the encoder's note.
    note: Option<(u64, u64)>,
}

/// Reads the index of an MP4 file that begins at `start`; none where it is no such file.
pub(super) fn read(input: &mut Input, start: u64) -> Option<Movie> {
    input.seek(start);
    if input.peek(8).get(4..8)? != b"ftyp" {
        return None;
    }
    let mut found = Movie::default();
    for _ in 0..BOXES {
        let here = input.position();
        let head = input.peek(16);
        let Some((size, kind)) = be32(head, 0).zip(head.get(4..8)) else {
            found.cut |= !head.is_empty();
            break;
        };
        let moov = kind == b"moov";
        let wide = be64(head, 8);
        let size = match size {
            0 => input.length().saturating_sub(here),
            1 => wide.unwrap_or(0).max(16),
            n => u64::from(n).max(8),
        };
        if moov && !found.index {
            let whole = size.min(LARGEST) as usize;
            found = movie(input.peek(whole));
        }
        found.cut |= here.saturating_add(size) > input.length();
        input.seek(here.saturating_add(size));
    }
    Some(found)
}

/// The right words where an MP4 file cannot be opened.
pub(super) fn or_else(movie: Option<&Movie>, bytes: u64, error: &Symphonia) -> AudioFileError {
    match movie {
        Some(Movie { index: false, .. }) => AudioFileError::BadHeader {
            kind: "MP4",
            reason: "its index (moov) is missing, as when a recording or a download was broken off"
                .to_owned(),
        },
        Some(_) => AudioFileError::BadHeader { kind: "MP4", reason: error.to_string() },
        None => AudioFileError::NothingDecoded {
            bytes: bytes.try_into().unwrap_or(usize::MAX),
            reason: error.to_string(),
        },
    }
}

impl Movie {
    /// Says where the first sample heard lies and how many there are.
    ///
    /// `rate` is the decoder's, in hertz.
    pub(super) fn place(&self, facts: &mut Facts, rate: f64, aac: bool) {
        let frames = |s: f64| (s * rate).round() as u64;
        let all = facts.promised;
        let mut cut = |before: u64, length: Option<u64>| {
            let rest = all.map(|all| all.saturating_sub(before));
            facts.start = -before.min(i64::MAX as u64).cast_signed();
            facts.firm = length.is_some();
            facts.promised = match (length, rest) {
                (Some(length), Some(rest)) => Some(length.min(rest)),
                (length, rest) => length.or(rest),
            };
        };
        let edit = self.edit.filter(|edit| edit.start_s > 0.0 || self.note.is_none());
        match (edit, self.note) {
            (Some(edit), _) if edit.more > 0 => cut(frames(edit.start_s), None),
            (Some(edit), _) => cut(frames(edit.start_s), Some(frames(edit.length_s)).filter(|f| *f > 0)),
            (None, Some((before, between))) => cut(before, Some(between).filter(|f| *f > 0)),
            (None, None) if aac => {
                cut(adts::FRAMES, None);
                let seconds = |samples: u64| samples as f64 / rate;
                facts.warnings.push(Warning::DelayUnknown {
                    cut_s: seconds(adts::FRAMES),
                    off_s: seconds(adts::MORE_DELAY),
                });
            }
            (None, None) => {}
        }
        if let Some(edit) = edit.filter(|edit| edit.more > 0) {
            facts.warnings.push(Warning::Pieces { pieces: edit.more as usize + 1 });
        }
        facts.slack = adts::FRAMES;
    }
}

/// Reads a `moov` box.
fn movie(bytes: &[u8]) -> Movie {
    let Some(moov) = child(bytes, b"moov") else { return Movie::default() };
    Movie { index: true, cut: false, edit: edit(moov), note: note(moov) }
}

/// The edit list of the first sound track, where its first edit with sound plays at normal speed.
fn edit(moov: &[u8]) -> Option<Edit> {
    let movie_scale = timescale(child(moov, b"mvhd")?)?;
    let track = boxes(moov).filter(|(kind, _)| *kind == b"trak").map(|(_, body)| body).find(|trak| {
        child(trak, b"mdia")
            .and_then(|mdia| child(mdia, b"hdlr"))
            .and_then(|hdlr| hdlr.get(8..12))
            .is_some_and(|handler| handler == b"soun")
    })?;
    let media_scale = timescale(child(child(track, b"mdia")?, b"mdhd")?)?;
    let list = child(child(track, b"edts")?, b"elst")?;
    let (wide, entries) = (list.first()? == &1, be32(list, 4)?);
    let mut at = 8;
    for entry in 0..entries {
        let (length, start, nothing) = if wide {
            (be64(list, at)?, be64(list, at + 8)?, u64::MAX)
        } else {
            (be32(list, at)?.into(), be32(list, at + 4)?.into(), u32::MAX.into())
        };
        at += if wide { 20 } else { 12 };
        // An empty edit only says that the track begins later than others.
        if start != nothing {
            let (start_s, length_s) = (start as f64 / media_scale, length as f64 / movie_scale);
            return Some(Edit { start_s, length_s, more: entries - entry - 1 });
        }
    }
    None
}

/// The encoder's note: samples before the music, and of it.
fn note(moov: &[u8]) -> Option<(u64, u64)> {
    // `meta` has four bytes of version before its boxes.
    let list = child(child(child(moov, b"udta")?, b"meta")?.get(4..)?, b"ilst")?;
    let text = boxes(list).filter(|(kind, _)| *kind == b"----").find_map(|(_, item)| {
        let name = child(item, b"name")?.get(4..)?;
        (name == b"iTunSMPB").then(|| child(item, b"data")?.get(8..)).flatten()
    })?;
    let mut numbers = text.split(|byte| *byte == b' ').filter(|word| !word.is_empty()).map(|word| {
        let word = std::str::from_utf8(word).ok()?;
        u64::from_str_radix(word.trim_end_matches('\0'), 16).ok()
    });
    let before = numbers.nth(1)??;
    let between = numbers.nth(1)??;
    Some((before, between))
}

/// The boxes lying side by side in `bytes`: kind and body.
fn boxes(bytes: &[u8]) -> impl Iterator<Item = (&[u8; 4], &[u8])> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let (size, kind) = (be32(rest, 0)?, rest.get(4..8)?.first_chunk::<4>()?);
        let (head, size) = match size {
            0 => (8, rest.len()),
            1 => (16, usize::try_from(be64(rest, 8)?).ok()?),
            n => (8, n as usize),
        };
        let body = rest.get(head..size.min(rest.len()))?;
        rest = rest.get(size..).unwrap_or(&[]);
        Some((kind, body))
    })
}

fn child<'a>(bytes: &'a [u8], wanted: &[u8; 4]) -> Option<&'a [u8]> {
    boxes(bytes).find(|(kind, _)| *kind == wanted).map(|(_, body)| body)
}

/// Ticks a second of an `mvhd` or `mdhd` box.
fn timescale(header: &[u8]) -> Option<f64> {
    let ticks = be32(header, if header.first()? == &1 { 20 } else { 12 })?;
    (ticks > 0).then(|| f64::from(ticks))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        [&(body.len() as u32 + 8).to_be_bytes()[..], kind, body].concat()
    }

    fn moov(movie_scale: u32, media_scale: u32, elst: &[u8], rest: &[u8]) -> Vec<u8> {
        let scale = |s: u32| [&[0u8; 12][..], &s.to_be_bytes(), &[0; 4]].concat();
        let hdlr = [&[0u8; 8][..], b"soun", &[0; 12]].concat();
        let mdia = [boxed(b"mdhd", &scale(media_scale)), boxed(b"hdlr", &hdlr)].concat();
        let trak = [boxed(b"edts", &boxed(b"elst", elst)), boxed(b"mdia", &mdia)].concat();
        boxed(b"moov", &[boxed(b"mvhd", &scale(movie_scale)), boxed(b"trak", &trak), rest.to_vec()].concat())
    }

    /// An edit list of version 0: one entry, 2000 ticks of a 1000-tick movie, from tick 1024 of a 44 100-tick track.
    #[test]
    fn an_edit_list_is_read_in_its_two_timescales() {
        let elst = |start: u32| [0u32, 1, 2000, start, 0x0001_0000].map(u32::to_be_bytes).concat();
        let edit = movie(&moov(1000, 44_100, &elst(1024), &[])).edit;
        assert_eq!(edit, Some(Edit { start_s: 1024.0 / 44_100.0, length_s: 2.0, more: 0 }));
        assert_eq!(movie(&moov(1000, 44_100, &elst(u32::MAX), &[])).edit, None);
        assert_eq!(movie(&moov(0, 44_100, &elst(1024), &[])).edit, None);
        let whole = moov(1000, 44_100, &elst(1024), &[]);
        for cut in 0..whole.len() {
            let _ = movie(&whole[..cut]);
        }
    }

    #[test]
    fn an_empty_edit_before_the_first_is_passed_over() {
        let elst =
            [0u32, 2, 500, u32::MAX, 0x0001_0000, 2000, 2112, 0x0001_0000].map(u32::to_be_bytes).concat();
        let edit = movie(&moov(1000, 48_000, &elst, &[])).edit;
        assert_eq!(edit, Some(Edit { start_s: 0.044, length_s: 2.0, more: 0 }));
    }

    #[test]
    fn the_note_of_an_encoder_stands_in_for_a_missing_list() {
        let text = b" 00000000 00000840 000001CA 00000000003F31F6 00000000 00000000";
        let item = [
            boxed(b"mean", b"\0\0\0\0com.apple.iTunes"),
            boxed(b"name", b"\0\0\0\0iTunSMPB"),
            boxed(b"data", &[&[0, 0, 0, 1, 0, 0, 0, 0], &text[..]].concat()),
        ];
        let meta = boxed(b"meta", &[&[0; 4][..], &boxed(b"ilst", &boxed(b"----", &item.concat()))].concat());
        let read = movie(&moov(1000, 44_100, &[0; 8], &boxed(b"udta", &meta)));
        assert_eq!((read.edit, read.note), (None, Some((2112, 0x3F_31F6))));
        let mut facts = Facts { promised: Some(5_000_000), ..Facts::default() };
        read.place(&mut facts, 44_100.0, true);
        assert_eq!((facts.start, facts.promised, facts.firm), (-2112, Some(0x3F_31F6), true));
        assert!(facts.warnings.is_empty());
    }
}
