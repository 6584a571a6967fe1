//! Reading for the commands, with notices to standard error.

use std::path::Path;

use riffkin_formats::detect::ReadOptions;

use super::{Failure, args, notice, warn};
use crate::app::intake::{self, Taken};

/// Reading options from the words of the command.
pub(super) fn options(reading: &args::Reading) -> Result<ReadOptions, Failure> {
    let mut options = ReadOptions::default();
    if let Some(meter) = &reading.meter {
        options.meter =
            Some(meter.parse().map_err(|e: riffkin_score::meter::NotAMeter| Failure::Words(e.to_string()))?);
    }
    if let Some(tempo) = reading.tempo {
        let tempo = riffkin_score::tempo::Tempo::quarters(tempo);
        options.tempo =
            Some(tempo.ok_or_else(|| Failure::Words("--tempo lies between 5 and 1000".to_owned()))?);
    }
    if let Some(track) = reading.track {
        if track == 0 {
            return Err(Failure::Words("--track counts from 1".to_owned()));
        }
        options.midi_track = Some(track);
    }
    Ok(options)
}

/// One riff, its warnings said.
pub(super) fn take(path: &Path, reading: &args::Reading) -> Result<Taken, Failure> {
    let taken = intake::take(path, &options(reading)?)?;
    warn(&taken.warnings);
    Ok(taken)
}

/// All riffs of a folder, their warnings said; files that gave none are named.
pub(super) fn folder(path: &Path) -> Result<Vec<Taken>, Failure> {
    let (taken, refused) = intake::take_folder(path, &ReadOptions::default())?;
    for refusal in &refused {
        notice(&format!("left out: {refusal}"));
    }
    for t in &taken {
        for warning in &t.warnings {
            notice(&format!("note: {}: {warning}", t.path.display()));
        }
    }
    if taken.is_empty() {
        return Err(Failure::Could(format!("{}: no file in it could be read as a riff", path.display())));
    }
    Ok(taken)
}
