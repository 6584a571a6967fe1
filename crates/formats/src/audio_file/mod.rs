//! Encoded sound in, block by block or whole: WAV, AIFF, CAF, FLAC, MP3, Ogg (Vorbis, FLAC) and AAC or ALAC (in
//! MP4/M4A, AAC also bare); and 16-bit WAV out.
//!
//! The kind is told from the bytes, never from a file's name. Times are those of the recording: what the encoder put
//! before and after the music is cut away where the file says how much that is (LAME tag, granule positions, edit
//! list), and where it does not, by what the coding itself delays, with a warning. [`Reader`] needs no more memory for
//! hours than for seconds; [`decode`] holds the whole.

mod adts;
mod apple;
mod boxed;
mod coded;
mod kind;
mod mp4;
mod mpeg;
mod numbers;
mod ogg;
mod pcm;
mod reader;
mod said;
mod source;
mod stream;
mod track;
mod wave;
mod write;

pub use reader::{LONGEST_S, Reader};
pub use said::{AudioFileError, Warning};
pub use source::Source;
pub use write::{WavError, wav};

use riffkin_audio::Clip;
use std::io::Cursor;

/// Most samples [`decode`] takes, over all channels: 2 GiB of `f32`; three hours in mono at 48 kHz, half that in stereo.
pub const MOST_SAMPLES: usize = 1 << 29;
/// Most samples [`decode`] takes for each byte of a file, besides [`FREE_SAMPLES`]: a small file that unpacks to hours
/// is taken by [`Reader`] only. MP3 at 8 kbit/s and 24 kHz has 24, FLAC of silence up to 600.
pub const SAMPLES_PER_BYTE: usize = 32;
/// Samples [`decode`] takes however small the file is: three minutes in stereo at 48 kHz.
pub const FREE_SAMPLES: usize = 1 << 24;

/// Decodes a whole recording: one or two channels, at the file's own rate, full scale at ±1.
///
/// # Errors
/// [`AudioFileError`] says what is wrong and what to do. A file that breaks off or has damaged places gives what could
/// be decoded with a [`Warning`], as long as there was any sound.
pub fn decode(bytes: &[u8]) -> Result<(Clip, Vec<Warning>), AudioFileError> {
    let mut reader = Reader::open(Box::new(Cursor::new(bytes.to_vec())))?;
    let most = most_samples(bytes.len());
    let mut rows = vec![Vec::new(); reader.channels()];
    let mut block = Vec::new();
    while reader.next_block(&mut block)? {
        let frames = rows.first().map_or(0, Vec::len) + block.first().map_or(0, Vec::len);
        if frames.saturating_mul(rows.len()) > most {
            let limit = format!("{most} samples over all channels, the most for a file of this size");
            return Err(AudioFileError::TooLong { limit });
        }
        for (row, more) in rows.iter_mut().zip(&block) {
            row.extend_from_slice(more);
        }
    }
    Ok((Clip::new(reader.rate(), rows)?, reader.warnings()))
}

/// Most samples, over all channels, that a file of so many bytes may hold.
fn most_samples(bytes: usize) -> usize {
    bytes.saturating_mul(SAMPLES_PER_BYTE).saturating_add(FREE_SAMPLES).min(MOST_SAMPLES)
}

#[cfg(test)]
mod tests {
    use super::*;
    use riffkin_audio::SampleRate;

    fn tone(seconds: f64, channels: usize) -> Clip {
        let rate = SampleRate::CD;
        let row = |phase: f64| {
            (0..(seconds * rate.hz_f64()) as usize)
                .map(|k| {
                    (0.5 * (std::f64::consts::TAU * 110.0 * k as f64 / rate.hz_f64() + phase).sin()) as f32
                })
                .collect()
        };
        Clip::new(rate, (0..channels).map(|c| row(c as f64)).collect()).expect("finite")
    }

    #[test]
    fn a_small_file_cannot_hold_hours() {
        assert_eq!(most_samples(0), FREE_SAMPLES);
        // Three hours of the thinnest coding, 8 kbit/s at 24 kHz, are within; three hours in a mebibyte are not.
        assert!(most_samples(3 * 3600 * 1000) > 3 * 3600 * 24_000);
        assert!(most_samples(1 << 20) < 3600 * 24_000);
        assert_eq!(most_samples(usize::MAX), MOST_SAMPLES);
    }

    /// Multimedia Programming Interface and Data Specifications 1.0 (IBM/Microsoft 1991): the canonical 44-byte header.
    #[test]
    fn the_header_is_the_canonical_one() {
        let bytes = wav(&tone(0.5, 2)).expect("short");
        assert_eq!((&bytes[..4], &bytes[8..16]), (&b"RIFF"[..], &b"WAVEfmt "[..]));
        assert_eq!(bytes[16..36], [16, 0, 0, 0, 1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0]);
        assert_eq!(&bytes[36..40], b"data");
        assert_eq!(bytes.len(), 44 + 22_050 * 4);
    }

    #[test]
    fn a_wav_comes_back_within_half_a_step() {
        for channels in [1, 2] {
            let clip = tone(0.3, channels);
            let (back, warnings) = decode(&wav(&clip).expect("short")).expect("own file");
            assert_eq!((back.rate(), back.frames(), warnings), (clip.rate(), clip.frames(), vec![]));
            for (row, want) in back.channels().iter().zip(clip.channels()) {
                // 16 bits are written against 32767 and read against 32768.
                assert!(row.iter().zip(want).all(|(a, b)| (a - b).abs() < 1.0 / 32_000.0));
            }
        }
    }

    #[test]
    fn more_than_two_channels_are_mixed_and_reported() {
        let (back, warnings) = decode(&wav(&tone(0.1, 3)).expect("short")).expect("own file");
        assert_eq!(back.channels().len(), 1);
        assert_eq!(warnings, [Warning::MixedDown { channels: 3 }]);
    }

    #[test]
    fn what_is_no_recording_says_so() {
        assert_eq!(decode(&[]), Err(AudioFileError::Empty));
        for bytes in [&b"x"[..], b"Dear class, please practise.", b"RIFF", &[0; 4096], &[0xFF; 4096]] {
            let error = decode(bytes).expect_err("no recording");
            let head = bytes == b"RIFF";
            assert_eq!(matches!(error, AudioFileError::BadHeader { .. }), head, "{error}");
            assert_eq!(matches!(error, AudioFileError::UnknownKind { .. }), !head, "{error}");
        }
        let header = &wav(&tone(0.1, 1)).expect("short")[..44];
        assert!(matches!(decode(header), Err(AudioFileError::NothingDecoded { bytes: 44, .. })));
    }

    #[test]
    fn a_file_that_breaks_off_gives_its_beginning_and_a_warning() {
        let whole = wav(&tone(1.0, 1)).expect("short");
        let (clip, warnings) = decode(&whole[..44 + 44_100]).expect("half of it is there");
        assert_eq!(clip.frames().0, 22_050);
        assert!(
            matches!(warnings[..], [Warning::CutShort { heard_s, promised_s }]
                if (heard_s - 0.5).abs() < 0.01 && (promised_s - 1.0).abs() < 0.01),
            "{warnings:?}"
        );
    }
}
