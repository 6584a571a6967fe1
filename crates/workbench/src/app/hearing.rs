//! A recording becomes notes and a quantised riff.

use riffkin_audio::listen::{self, HeardNote};
use riffkin_formats::audio_file::{self, AudioFileError};
use riffkin_formats::detect::ReadOptions;
use riffkin_score::Warning;
use riffkin_score::riff::Riff;

/// What was heard.
#[derive(Clone, Debug)]
pub struct Heard {
    /// The notes in real seconds of the file.
    pub notes: Vec<HeardNote>,
    /// The notes on a grid; `None` when none are heard.
    pub riff: Option<Riff>,
    /// Length of the recording in seconds.
    pub duration_s: f64,
    /// What was guessed or damaged.
    pub warnings: Vec<Warning>,
}

/// Hears a solo bass in the bytes of an audio file.
///
/// # Errors
/// [`AudioFileError`] when the bytes cannot be decoded.
pub fn hear(bytes: &[u8], options: &ReadOptions) -> Result<Heard, AudioFileError> {
    let (clip, said) = audio_file::decode(bytes)?;
    let mut warnings: Vec<Warning> = said.iter().map(|w| Warning::whole(w.to_string())).collect();
    let notes = listen::hear_solo(&clip);
    let asked = listen::Asked {
        meter: options.meter,
        tempo: options.tempo,
        key: options.key,
        ..listen::Asked::default()
    };
    let riff = listen::written(&notes, &asked).map(|written| {
        warnings.extend(written.warnings);
        written.riff
    });
    Ok(Heard { notes, riff, duration_s: clip.duration().value(), warnings })
}
