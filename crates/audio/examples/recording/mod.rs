//! Reading a WAV file, for the examples.

use riffkin_audio::{Clip, SampleRate};
use std::error::Error;
use std::path::Path;

/// A WAV file of whole or floating-point numbers.
pub(crate) fn read(file: &Path) -> Result<Clip, Box<dyn Error>> {
    let mut reader = hound::WavReader::open(file)?;
    let spec = reader.spec();
    let samples: Vec<f32> = match spec.sample_format {
        hound::SampleFormat::Float => reader.samples::<f32>().collect::<Result<_, _>>()?,
        hound::SampleFormat::Int => {
            let full = (1i64 << (spec.bits_per_sample - 1)) as f32;
            reader.samples::<i32>().map(|s| s.map(|s| s as f32 / full)).collect::<Result<_, _>>()?
        }
    };
    let count = usize::from(spec.channels);
    let channels = (0..count).map(|c| samples.iter().skip(c).step_by(count).copied().collect()).collect();
    Ok(Clip::new(SampleRate::new(spec.sample_rate)?, channels)?)
}
