//! MPEG audio layer III: the heads of its frames and the tag that says how much of it is to be heard.
//!
//! Heads after ISO/IEC 11172-3:1993, 2.4.1.3 and ISO/IEC 13818-3:1998, 2.4.2.3; the Xing and LAME tags after
//! *Mp3 Info Tag rev. 1* (LAME project).

use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_MP3;

use super::coded::{CodedTrack, decoder};
use super::source::Input;
use super::stream::{Head, Stream};
use super::track::{Facts, Track};
use super::{AudioFileError, Warning};

/// A decoder's own delay, in samples (LAME project, technical FAQ: 528 and one more).
const DECODER_DELAY: i64 = 529;
/// Delay of most encoders, in samples, where no tag gives it (same place); the filter bank alone needs 528.
const USUAL_DELAY: i64 = 576;
/// Longest known delay of an encoder beyond the usual, in samples (same place: 1160 in all).
const MORE_DELAY: i64 = 584;
/// Packets before one that shape its sound: the bit reservoir reaches back 511 bytes, in frames of 24 at least.
const WARM_UP: usize = 32;

/// kbit/s of layer III, by the head's index: MPEG 1, then MPEG 2 and 2.5.
const KBITS: [[usize; 15]; 2] = [
    [0, 32, 40, 48, 56, 64, 80, 96, 112, 128, 160, 192, 224, 256, 320],
    [0, 8, 16, 24, 32, 40, 48, 56, 64, 80, 96, 112, 128, 144, 160],
];

/// Reads the head of a layer III frame.
pub(super) fn head(bytes: &[u8]) -> Option<Head> {
    let word = u32::from_be_bytes(*bytes.first_chunk()?);
    if word >> 21 != 0x7FF || (word >> 17) & 3 != 1 {
        return None;
    }
    // 3 is MPEG 1, 2 is MPEG 2, 0 is MPEG 2.5; each has half the rates of the one before.
    let version = (word >> 19) & 3;
    let (first, halved) = match version {
        3 => (true, 0),
        2 => (false, 1),
        0 => (false, 2),
        _ => return None,
    };
    let rate = [44_100u32, 48_000, 32_000].get(((word >> 10) & 3) as usize)? >> halved;
    let kbits = *KBITS[usize::from(!first)].get(((word >> 12) & 15) as usize)?;
    // A free rate (0) would need a search for the frame's end.
    let slots = if first { 144 } else { 72 } * kbits * 1000 / rate as usize;
    if kbits == 0 || word & 3 == 2 {
        return None;
    }
    let channels = if (word >> 6) & 3 == 3 { 1 } else { 2 };
    Some(Head {
        bytes: slots + ((word >> 9) & 1) as usize,
        skip: 0,
        frames: if first { 1152 } else { 576 },
        rate,
        channels,
        // Version, layer, rate and channels stay.
        key: (word & 0x001E_0C00) | channels as u32,
    })
}

/// What a tag in the first frame says.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Info {
    /// Frames of the stream, the tag's own not counted.
    frames: Option<u32>,
    /// Samples the encoder put before the music and behind it.
    gaps: Option<(u32, u32)>,
}

/// The Xing, Info or VBRI tag of a frame, which then has no sound.
fn info(frame: &[u8]) -> Option<Info> {
    let head = head(frame)?;
    let side = match (head.frames, head.channels) {
        (1152, 1) | (576, 2) => 17,
        (1152, _) => 32,
        _ => 9,
    };
    let be32 = |at: usize| Some(u32::from_be_bytes(*frame.get(at..)?.first_chunk()?));
    if frame.get(36..40)? == b"VBRI" {
        return Some(Info { frames: be32(36 + 14), gaps: None });
    }
    let tag = 4 + side;
    if !matches!(frame.get(tag..tag + 4)?, b"Xing" | b"Info") {
        return None;
    }
    let flags = be32(tag + 4)?;
    let mut at = tag + 8;
    let frames = if flags & 1 != 0 { be32(at) } else { None };
    for (bit, length) in [(1, 4), (2, 4), (4, 100), (8, 4)] {
        if flags & bit != 0 {
            at += length;
        }
    }
    let gaps = || {
        let encoder = frame.get(at..at + 4)?;
        let [a, b, c] = *frame.get(at + 21..)?.first_chunk::<3>()?;
        let (before, behind) = (u32::from(a) << 4 | u32::from(b) >> 4, u32::from(b & 15) << 8 | u32::from(c));
        let known = [b"LAME", b"Lavf", b"Lavc", b"L3.9", b"GOGO"].iter().any(|name| *name == encoder);
        // No encoder works without a delay: 0 was left there.
        (known && before > 0).then_some((before, behind))
    };
    Some(Info { frames, gaps: gaps() })
}

/// The track of a layer III stream that begins at the input's place with the frame `first`.
pub(super) fn track(mut input: Input, first: Head) -> Result<Box<dyn Track>, AudioFileError> {
    let info = info(input.peek(first.bytes));
    let mut facts = Facts { slack: 2 * first.frames, ..Facts::default() };
    let gaps = info.and_then(|info| info.gaps);
    let (before, behind) = gaps.map_or((USUAL_DELAY, 0), |(before, behind)| (before.into(), behind.into()));
    facts.start = -(before + DECODER_DELAY);
    if let Some(count) = info.and_then(|info| info.frames) {
        let all = (u64::from(count) * first.frames).cast_signed();
        facts.ends = Some(facts.start + all);
        let heard = if gaps.is_some() { all - before - behind } else { all + facts.start };
        facts.promised = u64::try_from(heard).ok().filter(|heard| *heard > 0);
    }
    if gaps.is_none() {
        let seconds = |samples: i64| samples as f64 / f64::from(first.rate);
        facts
            .warnings
            .push(Warning::DelayUnknown { cut_s: seconds(-facts.start), off_s: seconds(MORE_DELAY) });
    }
    let mut coding = AudioCodecParameters::new();
    coding.for_codec(CODEC_ID_MP3).with_sample_rate(first.rate);
    let stream = Stream::new(input, head, first, info_frame);
    Ok(Box::new(CodedTrack::new(stream, decoder(&coding)?, WARM_UP, facts)))
}

fn info_frame(frame: &[u8]) -> bool {
    info(frame).is_some()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ISO/IEC 11172-3, 2.4.3.1: 128 kbit/s at 44.1 kHz is 417 bytes, 418 with padding.
    #[test]
    fn frame_lengths_follow_the_standard() {
        let of = |bytes: [u8; 4]| head(&bytes).map(|h| (h.bytes, h.frames, h.rate, h.channels));
        assert_eq!(of([0xFF, 0xFB, 0x90, 0x00]), Some((417, 1152, 44_100, 2)));
        assert_eq!(of([0xFF, 0xFB, 0x92, 0xC0]), Some((418, 1152, 44_100, 1)));
        assert_eq!(of([0xFF, 0xF3, 0x80, 0xC0]), Some((208, 576, 22_050, 1)));
        assert_eq!(of([0xFF, 0xE3, 0x18, 0xC0]), Some((72, 576, 8_000, 1)));
        for refused in
            [[0xFF, 0xFB, 0x00, 0], [0xFF, 0xFB, 0xF0, 0], [0xFF, 0xFB, 0x9C, 0], [0xFF, 0xFD, 0x90, 0]]
        {
            assert_eq!(of(refused), None, "{refused:?}");
        }
    }

    #[test]
    fn the_tag_gives_length_and_gaps() {
        let mut frame = vec![0u8; 417];
        frame[..4].copy_from_slice(&[0xFF, 0xFB, 0x90, 0x00]);
        frame[36..44].copy_from_slice(b"Xing\0\0\0\x0F");
        frame[44..48].copy_from_slice(&77u32.to_be_bytes());
        let ext = 36 + 8 + 4 + 4 + 100 + 4;
        frame[ext..ext + 4].copy_from_slice(b"LAME");
        // 576 before and 1500 behind, twelve bits each.
        frame[ext + 21..ext + 24].copy_from_slice(&[0x24, 0x05, 0xDC]);
        assert_eq!(info(&frame), Some(Info { frames: Some(77), gaps: Some((576, 1500)) }));
        frame[ext] = b'X';
        assert_eq!(info(&frame), Some(Info { frames: Some(77), gaps: None }));
        frame[36] = 0;
        assert_eq!(info(&frame), None);
        for cut in 0..frame.len() {
            let _ = info(&frame[..cut]);
        }
    }
}
