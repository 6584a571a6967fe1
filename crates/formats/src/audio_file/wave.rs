//! The header of a WAV file, also of one beyond 4 GiB.
//!
//! Multimedia Programming Interface and Data Specifications 1.0 (IBM/Microsoft 1991); WAVEFORMATEXTENSIBLE after
//! Microsoft, *Multiple Channel Audio Data and WAVE Files* (2001); RF64 and BW64 after EBU Tech 3306 (2009) and
//! ITU-R BS.2088 (2019). Headers as recorders leave them when they are cut off are read too: no length means up to the
//! end of the file.

use super::numbers::{le16, le32, le64};
use super::pcm::{Coding, Layout};
use super::source::Input;
use super::{AudioFileError, Warning};

/// What the data chunk of a WAV file holds.
#[derive(Debug, PartialEq)]
pub(super) enum Wave {
    /// Uncoded samples.
    Samples(Layout),
    /// An MPEG stream that starts there.
    Mpeg {
        /// Where in the file it starts.
        start: u64,
    },
}

/// The parts of a format chunk that are needed.
struct Format {
    tag: u16,
    channels: u16,
    rate: u32,
    align: u16,
    bits: u16,
}

/// Reads the header, which begins where the input stands.
pub(super) fn header(input: &mut Input, warnings: &mut Vec<Warning>) -> Result<Wave, AudioFileError> {
    let broken = |reason: &str| AudioFileError::BadHeader { kind: "WAV", reason: reason.to_owned() };
    let begin = input.position();
    let head = input.peek(12);
    let (Some(magic), Some(form)) = (head.get(..4), head.get(8..12)) else {
        return Err(broken("it breaks off within 12 bytes"));
    };
    if form != b"WAVE" {
        return Err(broken("the form is not WAVE"));
    }
    let long = magic != b"RIFF";
    let whole = le32(head, 4).unwrap_or(0);
    input.consume(12);
    let (mut format, mut long_data) = (None, None);
    loop {
        let head = input.peek(8);
        let (Some(kind), Some(size)) = (head.first_chunk::<4>().copied(), le32(head, 4)) else {
            return Err(broken("there is no data chunk"));
        };
        input.consume(8);
        let start = input.position();
        match &kind {
            b"ds64" => long_data = le64(input.peek(16), 8),
            b"fmt " => {
                format = Some(format_chunk(input, size).ok_or_else(|| broken("the fmt chunk is too short"))?)
            }
            b"data" => {
                let format = format.ok_or_else(|| broken("there is no fmt chunk before the data chunk"))?;
                let rest = input.length().saturating_sub(start);
                let promised = match (size, long_data) {
                    (u32::MAX, Some(size)) if long => Some(size),
                    (u32::MAX, _) => None,
                    // A recorder that was switched off never came back to fill in the sizes.
                    (0, _) if rest > 0 && (whole == 0 || begin + u64::from(whole) + 8 <= start) => {
                        warnings.push(Warning::NoLength);
                        None
                    }
                    // More than 4 GiB behind a size of 32 bits, which then counts only what is beyond.
                    (size, _) if rest >> 32 > 0 && (rest - u64::from(size)) & 0xFFFF_FFFF < 1 << 16 => None,
                    (size, _) => Some(u64::from(size)),
                };
                return contents(&format, start, promised);
            }
            _ => {}
        }
        // Chunks begin at even places.
        input.seek(start.saturating_add(u64::from(size) + u64::from(size & 1)));
    }
}

fn format_chunk(input: &mut Input, size: u32) -> Option<Format> {
    let chunk = input.peek((size as usize).min(40));
    let mut tag = le16(chunk, 0)?;
    if tag == 0xFFFE {
        // The first two bytes of the extensible format's identifier are the tag it stands for.
        tag = le16(chunk, 24)?;
    }
    Some(Format {
        tag,
        channels: le16(chunk, 2)?,
        rate: le32(chunk, 4)?,
        align: le16(chunk, 12)?,
        bits: le16(chunk, 14)?,
    })
}

fn contents(format: &Format, start: u64, promised: Option<u64>) -> Result<Wave, AudioFileError> {
    let unknown = |what: String| Err(AudioFileError::UnknownCoding { reason: what });
    let bits = usize::from(format.bits);
    let channels = usize::from(format.channels);
    if channels == 0 {
        return unknown("the WAV header counts no channels".to_owned());
    }
    // Samples may lie in wider boxes than they need, in the upper bits.
    let align = usize::from(format.align);
    let least = bits.div_ceil(8);
    let width = if align.is_multiple_of(channels) && (least..=4).contains(&(align / channels)) {
        align / channels
    } else {
        least
    };
    let coding = match (format.tag, bits) {
        (1, 1..=8) if width == 1 => Coding::Unsigned8,
        (1, 1..=32) => Coding::Signed { bytes: width, big: false },
        (3, 32) => Coding::Float32 { big: false },
        (3, 64) => Coding::Float64 { big: false },
        (6, _) => Coding::ALaw,
        (7, _) => Coding::MuLaw,
        (0x50 | 0x55, _) => return Ok(Wave::Mpeg { start }),
        (1 | 3, bits) => return unknown(format!("samples of {bits} bits in a WAV file")),
        (2 | 0x11, _) => return unknown("ADPCM in a WAV file".to_owned()),
        (tag, _) => return unknown(format!("coding 0x{tag:04x} in a WAV file")),
    };
    Ok(Wave::Samples(Layout { coding, channels, rate: format.rate, start, promised }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn chunk(kind: &[u8; 4], size: u32, body: &[u8]) -> Vec<u8> {
        [&kind[..], &size.to_le_bytes(), body].concat()
    }

    fn format(tag: u16, channels: u16, align: u16, bits: u16) -> Vec<u8> {
        let mut body = [tag.to_le_bytes(), channels.to_le_bytes()].concat();
        body.extend([48_000u32, 48_000 * u32::from(align)].map(u32::to_le_bytes).concat());
        body.extend([align.to_le_bytes(), bits.to_le_bytes()].concat());
        chunk(b"fmt ", 16, &body)
    }

    fn file(magic: &[u8; 4], whole: u32, chunks: &[Vec<u8>]) -> Vec<u8> {
        [&magic[..], &whole.to_le_bytes(), b"WAVE", &chunks.concat()].concat()
    }

    fn read(bytes: Vec<u8>) -> (Result<Wave, AudioFileError>, Vec<Warning>) {
        let mut warnings = Vec::new();
        let mut input = Input::new(Box::new(Cursor::new(bytes))).expect("a cursor seeks");
        (header(&mut input, &mut warnings), warnings)
    }

    fn samples(bytes: Vec<u8>) -> (Layout, Vec<Warning>) {
        match read(bytes) {
            (Ok(Wave::Samples(layout)), warnings) => (layout, warnings),
            (other, _) => panic!("{other:?}"),
        }
    }

    #[test]
    fn other_chunks_are_stepped_over_even_of_odd_length() {
        let chunks = [
            chunk(b"JUNK", 3, b"abc\0"),
            format(1, 2, 6, 24),
            chunk(b"LIST", 4, b"INFO"),
            chunk(b"data", 12, &[0; 12]),
        ];
        let (layout, warnings) = samples(file(b"RIFF", 100, &chunks));
        assert_eq!(
            (layout.coding, layout.channels, layout.rate),
            (Coding::Signed { bytes: 3, big: false }, 2, 48_000)
        );
        assert_eq!((layout.start, layout.promised, warnings), (12 + 12 + 24 + 12 + 8, Some(12), vec![]));
    }

    #[test]
    fn a_length_of_64_bits_is_taken_from_the_long_header() {
        let long = [1u64 << 34, 1 << 33, 1 << 31].map(u64::to_le_bytes).concat();
        let chunks = [
            chunk(b"ds64", 28, &[long, vec![0; 4]].concat()),
            format(3, 1, 4, 32),
            chunk(b"data", u32::MAX, &[]),
        ];
        for magic in [b"RF64", b"BW64"] {
            assert_eq!(samples(file(magic, u32::MAX, &chunks)).0.promised, Some(1 << 33));
        }
        assert_eq!(samples(file(b"RIFF", u32::MAX, &chunks)).0.promised, None);
    }

    #[test]
    fn a_header_that_was_never_finished_means_up_to_the_end() {
        let chunks = [format(1, 1, 2, 16), chunk(b"data", 0, &[0; 8])];
        for whole in [0, 36] {
            let (layout, warnings) = samples(file(b"RIFF", whole, &chunks));
            assert_eq!((layout.promised, warnings), (None, vec![Warning::NoLength]));
        }
        // Here the sizes agree that there is no sound; what follows is something else.
        assert_eq!(samples(file(b"RIFF", 44, &chunks)).0.promised, Some(0));
    }

    #[test]
    fn codings_and_their_boxes() {
        let of = |tag, align, bits| match read(file(
            b"RIFF",
            36,
            &[format(tag, 1, align, bits), chunk(b"data", 0, &[])],
        ))
        .0
        {
            Ok(Wave::Samples(layout)) => Some(layout.coding),
            Ok(Wave::Mpeg { .. }) | Err(_) => None,
        };
        assert_eq!(of(1, 1, 8), Some(Coding::Unsigned8));
        assert_eq!(of(1, 4, 24), Some(Coding::Signed { bytes: 4, big: false }));
        assert_eq!(of(1, 0, 32), Some(Coding::Signed { bytes: 4, big: false }));
        assert_eq!(of(3, 8, 64), Some(Coding::Float64 { big: false }));
        assert_eq!(of(6, 1, 8), Some(Coding::ALaw));
        assert_eq!(of(7, 1, 8), Some(Coding::MuLaw));
        for (tag, align, bits) in
            [(1, 0, 0), (1, 8, 64), (3, 2, 16), (2, 4, 4), (0x7FFE, 2, 16), (0x55, 1, 0)]
        {
            assert_eq!(of(tag, align, bits), None, "{tag} {align} {bits}");
        }
    }

    #[test]
    fn broken_headers_say_what_is_missing() {
        let good = file(b"RIFF", 44, &[format(1, 1, 2, 16), chunk(b"data", 8, &[0; 8])]);
        for cut in 0..44 {
            assert!(read(good[..cut].to_vec()).0.is_err(), "{cut}");
        }
        let huge = file(b"RIFF", 44, &[chunk(b"JUNK", u32::MAX, &[]), format(1, 1, 2, 16)]);
        assert!(read(huge).0.is_err());
    }
}
