//! Reading for the commands, with notices to standard error.

use std::path::Path;

use riffkin_formats::detect::{Kind, ReadOptions};
use riffkin_fretboard::neck::Neck;

use super::{Failure, args, notice, shelf, warn};
use crate::app::intake::{self, Taken};
use crate::app::necks;

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

/// The teacher's own necks, which riffs may name; none where they cannot be looked at, which is said.
pub(super) fn own_necks() -> Vec<Neck> {
    let own = || -> Result<Vec<Neck>, Failure> {
        let Some(kept) = shelf::there(None)? else { return Ok(Vec::new()) };
        let (own, off) = necks::own(&kept)?;
        warn(&off);
        Ok(own)
    };
    own().unwrap_or_else(|failed| {
        let (Failure::Could(why) | Failure::Words(why)) = failed;
        notice(&format!("note: no neck of your own is known: {why}"));
        Vec::new()
    })
}

/// One riff, its warnings said.
pub(super) fn take(path: &Path, reading: &args::Reading) -> Result<Taken, Failure> {
    let mut options = options(reading)?;
    if intake::kind(path)? != Kind::Audio {
        options.necks = own_necks();
    }
    let taken = intake::take(path, &options)?;
    warn(&taken.warnings);
    Ok(taken)
}

/// All riffs of a folder, their warnings said; files that gave none are named.
pub(super) fn folder(path: &Path) -> Result<Vec<Taken>, Failure> {
    let (taken, refused) =
        intake::take_folder(path, &ReadOptions { necks: own_necks(), ..ReadOptions::default() })?;
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
