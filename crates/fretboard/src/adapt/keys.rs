//! Another key near by.

use riffkin_score::interval::Interval;
use riffkin_score::key::Key;
use riffkin_score::riff::Riff;
use riffkin_score::transpose::tonic_for;

use super::measure::many;
use super::{Adaptation, Kind, Measure, moved_onto, start_of};
use crate::neck::Neck;

/// Farthest that a key is looked for, in semitones.
const FARTHEST: i32 = 35;

/// The nearest keys that fit: one, or both when as near upwards as downwards, the one with fewer sharps or flats first.
pub(super) fn nearest(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    let line = riff.line();
    let Some(first) = line.first() else { return Vec::new() };
    let written = riff.header().key;
    let key = written.unwrap_or(Key { tonic: first.note.pitch.name(), mode: None });
    (1..=FARTHEST)
        .filter(|distance| distance % 12 != 0)
        .map(|distance| {
            let both = [distance, -distance].into_iter();
            let mut found: Vec<(u32, Adaptation)> =
                both.filter_map(|semitones| away(riff, neck, key, semitones)).collect();
            found.sort_by_key(|f| f.0);
            found
        })
        .find(|found| !found.is_empty())
        .map(|found| found.into_iter().map(|f| f.1).collect())
        .unwrap_or_default()
}

/// The riff so many semitones away, and how many sharps or flats its key has.
fn away(riff: &Riff, neck: &Neck, key: Key, semitones: i32) -> Option<(u32, Adaptation)> {
    let class = (i32::from(key.tonic.pitch_class()) + semitones).rem_euclid(12);
    let to = tonic_for(key, u8::try_from(class).ok()?);
    let up = key.tonic.interval_to(to);
    let octaves = (semitones - up.semitones()).div_euclid(12);
    let by = Interval::from_steps(up.steps() + 7 * octaves, up.semitones() + 12 * octaves);
    let (moved, warnings) = moved_onto(riff, neck, by)?;
    let way = if semitones > 0 { "up" } else { "down" };
    let far = many(semitones.unsigned_abs(), "semitone");
    let to = Key { tonic: to, ..key };
    let words = match riff.header().key {
        Some(_) => format!("the key becomes {to}, {far} {way}"),
        None => format!("every note {far} {way}"),
    };
    let mut changes = vec![(start_of(riff), words)];
    changes.extend(warnings.into_iter().map(|w| (start_of(riff), w.to_string())));
    let signature = to.mode.map(|_| to.signature());
    let measure = Measure::Key { semitones, signature };
    let adaptation =
        Adaptation { kind: Kind::Key(semitones), riff: moved, neck: neck.clone(), changes, measure };
    // While the mode is open, the tonic's own place on the line of fifths stands for it.
    Some((signature.unwrap_or(to.tonic.line_of_fifths()).unsigned_abs(), adaptation))
}
