//! A clip as a WAV file.

use riffkin_audio::Clip;
use std::io::Cursor;

/// Why a clip could not be written as WAV.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WavError {
    /// A WAV file's sizes are 32-bit numbers.
    #[error("{samples} samples are more than a WAV file holds (4 GiB)")]
    TooLong {
        /// How many samples there are over all channels.
        samples: u64,
    },
    /// The writer refused.
    #[error("the WAV file could not be written: {reason}")]
    Refused {
        /// What it said.
        reason: String,
    },
}

/// The clip as a WAV file of 16-bit PCM. Samples beyond ±1 are clipped; 1.0 becomes 32767.
///
/// # Errors
/// [`WavError`] for more samples than the format can count.
pub fn wav(clip: &Clip) -> Result<Vec<u8>, WavError> {
    let channels = clip.channels().len();
    let samples = clip.frames().0 * channels as u64;
    let too_long = WavError::TooLong { samples };
    if samples * 2 > u64::from(u32::MAX) - 100 {
        return Err(too_long);
    }
    let spec = hound::WavSpec {
        channels: u16::try_from(channels).map_err(|_| too_long)?,
        sample_rate: clip.rate().hz(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let refused = |error: hound::Error| WavError::Refused { reason: error.to_string() };
    let mut bytes = Vec::new();
    let mut writer = hound::WavWriter::new(Cursor::new(&mut bytes), spec).map_err(refused)?;
    for frame in 0..clip.frames().index() {
        for row in clip.channels() {
            let sample = f64::from(row[frame]).clamp(-1.0, 1.0) * f64::from(i16::MAX);
            writer.write_sample(sample.round() as i16).map_err(refused)?;
        }
    }
    writer.finalize().map_err(refused)?;
    Ok(bytes)
}
