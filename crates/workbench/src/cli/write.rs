//! Writing a riff in the format that the file's ending names.

use std::path::Path;

use riffkin_audio::Clip;
use riffkin_audio::render::Performance;
use riffkin_engrave::music::{self, Fingered, Layout, Part};
use riffkin_engrave::svg;
use riffkin_formats::{audio_file, midi, musicxml, riff_text};
use riffkin_fretboard::fit::FittedNote;
use riffkin_fretboard::neck::Neck;
use riffkin_score::riff::Riff;

use super::{Failure, warn};
use crate::app::{lesson, output};

/// Endings that can be written.
const ENDINGS: &str = ".riff, .musicxml, .mxl, .mid, .svg or .wav";

/// Writes a riff; on a neck, with the tablature of its fit.
pub(super) fn riff(riff: &Riff, out: &Path, fit: Option<(&Neck, &[FittedNote])>) -> Result<(), Failure> {
    let ending = out.extension().unwrap_or_default().to_string_lossy().to_lowercase();
    let (neck, notes) = fit.unzip();
    let notes = notes.unwrap_or_default();
    let places: Vec<_> = notes.iter().map(|n| Some((n.place, n.finger))).collect();
    let options = musicxml::WriteOptions { neck, places: neck.map(|_| places.as_slice()) };
    let bytes = match ending.as_str() {
        "riff" => riff_text::print(riff).into_bytes(),
        "musicxml" | "xml" => musicxml::write(riff, &options).into_bytes(),
        "mxl" => musicxml::write_mxl(riff, &options)?,
        "mid" | "midi" => {
            warn(&midi::losses(riff));
            midi::write(riff, &midi::WriteOptions::default())
        }
        "svg" => {
            let fingered: Vec<_> =
                notes.iter().map(|n| Some(Fingered { place: n.place, finger: Some(n.finger) })).collect();
            let part = Part { riff, neck, places: &fingered };
            svg::document(&music::engrave(&part, &Layout::print(180.0)).stacked(music::system_gap()))
                .into_bytes()
        }
        "wav" => return wav(&lesson::sound(&lesson::player()?, riff, &Performance::default())?, out),
        _ => {
            let message =
                format!("{}: the ending names no format that can be written; use {ENDINGS}", out.display());
            return Err(Failure::Words(message));
        }
    };
    Ok(output::write_whole(out, &bytes)?)
}

/// Writes a clip as a WAV file.
pub(super) fn wav(clip: &Clip, out: &Path) -> Result<(), Failure> {
    Ok(output::write_whole(out, &audio_file::wav(clip)?)?)
}
