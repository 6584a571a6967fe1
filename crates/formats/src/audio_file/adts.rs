//! AAC frames without a container (ADTS): ISO/IEC 13818-7:2006, 6.2.

use symphonia::core::audio::{Channels, Position};
use symphonia::core::codecs::audio::AudioCodecParameters;
use symphonia::core::codecs::audio::well_known::CODEC_ID_AAC;

use super::coded::{CodedTrack, decoder};
use super::source::Input;
use super::stream::{Head, Stream};
use super::track::{Facts, Track};
use super::{AudioFileError, Warning};

/// Frames of sound in a packet, and what the overlap of the windows alone delays every encoder by.
pub(super) const FRAMES: u64 = 1024;
/// Longest known delay of an encoder beyond that, in samples: 2112 in all (Apple, *QuickTime File Format*, appendix G).
pub(super) const MORE_DELAY: u64 = 1088;
/// Packets before one that shape its sound: windows overlap by half, and none looks farther back.
pub(super) const WARM_UP: usize = 2;

const RATES: [u32; 13] =
    [96_000, 88_200, 64_000, 48_000, 44_100, 32_000, 24_000, 22_050, 16_000, 12_000, 11_025, 8_000, 7_350];

/// Reads the head of an ADTS frame with one packet in it.
pub(super) fn head(bytes: &[u8]) -> Option<Head> {
    let b = bytes.first_chunk::<7>()?;
    // Twelve ones, then version, layer 0, and whether a checksum is absent.
    if b[0] != 0xFF || b[1] & 0xF6 != 0xF0 {
        return None;
    }
    let skip = if b[1] & 1 == 1 { 7 } else { 9 };
    let rate = *RATES.get(usize::from((b[2] >> 2) & 15))?;
    let channels = usize::from((b[2] & 1) << 2 | b[3] >> 6);
    let bytes = usize::from(b[3] & 3) << 11 | usize::from(b[4]) << 3 | usize::from(b[5] >> 5);
    // More packets in a frame are allowed, but nobody writes them.
    if bytes <= skip || b[6] & 3 != 0 {
        return None;
    }
    // Version, layer, checksum, profile, rate and channels stay.
    let key = u32::from(b[1]) << 16 | u32::from(b[2] & 0xFD) << 8 | u32::from(b[3] & 0xC0);
    Some(Head { bytes, skip, frames: FRAMES, rate, channels, key })
}

/// The track of an ADTS stream that begins at the input's place with the frame `first`.
pub(super) fn track(input: Input, first: Head) -> Result<Box<dyn Track>, AudioFileError> {
    let mut coding = AudioCodecParameters::new();
    coding.for_codec(CODEC_ID_AAC).with_sample_rate(first.rate);
    // 7 means eight channels.
    let channels = if first.channels == 7 { 8 } else { first.channels };
    if let Some(positions) = Position::from_count(channels as u32).filter(|_| channels > 0) {
        coding.with_channels(Channels::Positioned(positions));
    }
    let seconds = |samples: u64| samples as f64 / f64::from(first.rate);
    let facts = Facts {
        start: -FRAMES.cast_signed(),
        slack: FRAMES,
        warnings: vec![Warning::DelayUnknown { cut_s: seconds(FRAMES), off_s: seconds(MORE_DELAY) }],
        ..Facts::default()
    };
    let stream = Stream::new(input, head, first, |_| false);
    Ok(Box::new(CodedTrack::new(stream, decoder(&coding)?, WARM_UP, facts)))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_head_gives_length_rate_and_channels() {
        // AAC LC at 44.1 kHz, stereo, 371 bytes, no checksum.
        let bytes = [0xFF, 0xF1, 0x50, 0x80, 0x2E, 0x7F, 0xFC];
        let head = head(&bytes).expect("a head");
        assert_eq!((head.bytes, head.skip, head.rate, head.channels), (371, 7, 44_100, 2));
        for (at, byte) in [(0, 0xFE), (1, 0xF3), (2, 0x74), (4, 0), (6, 0xFD)] {
            let mut other = bytes;
            other[at] = byte;
            if at == 4 {
                other[5] = 0x1F;
            }
            assert_eq!(super::head(&other), None, "{at}");
        }
    }
}
