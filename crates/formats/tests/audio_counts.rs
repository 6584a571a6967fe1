//! Ogg pages whose count of frames cannot be true: nothing is lost, nothing else moves, and it is said.

#![allow(clippy::unwrap_used, clippy::panic, reason = "a test stops where it fails, and says on which file")]

use riffkin_audio::Frames;
use riffkin_formats::audio_file::{self, Reader, Warning};
use std::io::Cursor;

const MONO: &[u8] = include_bytes!("audio/mono.ogg");
/// What [`MONO`] holds.
const FRAMES: u64 = 53_000;

/// The pages of an Ogg file (RFC 3533, section 6): 27 bytes, a table of lengths, what they add up to.
fn pages(mut bytes: &[u8]) -> Vec<Vec<u8>> {
    let mut pages = Vec::new();
    while !bytes.is_empty() {
        let body = 27 + usize::from(bytes[26]);
        let length = body + bytes[27..body].iter().map(|b| usize::from(*b)).sum::<usize>();
        pages.push(bytes[..length].to_vec());
        bytes = &bytes[length..];
    }
    pages
}

/// The file with another count on one page, its checksum made to fit, bit by bit after RFC 3533.
fn recounted(bytes: &[u8], page: usize, count: i64) -> Vec<u8> {
    let mut pages = pages(bytes);
    let page = &mut pages[page];
    page[6..14].copy_from_slice(&count.to_le_bytes());
    page[22..26].fill(0);
    let mut sum = 0u32;
    for byte in page.iter() {
        sum ^= u32::from(*byte) << 24;
        for _ in 0..8 {
            sum = if sum >> 31 == 1 { sum << 1 ^ 0x04C1_1DB7 } else { sum << 1 };
        }
    }
    page[22..26].copy_from_slice(&sum.to_le_bytes());
    pages.concat()
}

fn doubted(warnings: &[Warning]) -> usize {
    let places = warnings.iter().map(|warning| match warning {
        Warning::Damaged { packets, reason, .. } if reason.contains("by its own count") => *packets,
        _ => 0,
    });
    places.sum()
}

#[test]
fn the_checksum_is_that_of_the_files() {
    // The second page with sound ends at 13 888, as ffmpeg wrote it.
    assert_eq!(recounted(MONO, 3, 13_888), MONO);
}

#[test]
fn a_count_that_cannot_be_true_moves_nothing() {
    let chain = [MONO, MONO].concat();
    let (whole, _) = audio_file::decode(&chain).unwrap();
    assert_eq!(whole.frames().0, 2 * FRAMES);
    let one = pages(MONO).len();
    // The second page with sound up to the last but one, of either stream.
    for page in (3..one - 1).chain(one + 3..2 * one - 1) {
        for count in [0, 1 << 40, i64::MAX] {
            let bytes = recounted(&chain, page, count);
            let (clip, warnings) =
                audio_file::decode(&bytes).unwrap_or_else(|e| panic!("{page} {count}: {e}"));
            assert_eq!(doubted(&warnings), 1, "{page} {count}: {warnings:?}");
            assert!(clip == whole, "{page} {count}: {:?}", clip.frames());
        }
    }
}

#[test]
fn no_count_loses_sound_or_stops_the_reader() {
    let chain = [MONO, MONO].concat();
    let one = pages(MONO).len();
    for page in 0..2 * one {
        for count in [-1, i64::MAX] {
            let bytes = recounted(&chain, page, count);
            let (clip, warnings) =
                audio_file::decode(&bytes).unwrap_or_else(|e| panic!("{page} {count}: {e}"));
            // The end of a stream may lie up to a page later where its count is no help.
            let frames = clip.frames().0;
            assert!(
                (2 * FRAMES..2 * FRAMES + 8192).contains(&frames),
                "{page} {count}: {frames} {warnings:?}"
            );
            let to = FRAMES + FRAMES / 2;
            let mut reader = Reader::open(Box::new(Cursor::new(bytes))).unwrap();
            assert_eq!(reader.skip_to(Frames(to)).unwrap(), Frames(to), "{page} {count}");
            let (mut left, mut block) = (0, Vec::new());
            while reader.next_block(&mut block).unwrap() {
                left += block[0].len() as u64;
            }
            assert_eq!(left, frames - to, "{page} {count}");
        }
    }
}
