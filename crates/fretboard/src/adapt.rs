//! When a riff does not lie on a neck: what could be changed, from the gentlest on.

mod octaves;

use riffkin_score::Warning;
use riffkin_score::interval::Interval;
use riffkin_score::key::Key;
use riffkin_score::riff::{BarBeat, Riff};
use riffkin_score::transpose::{tonic_for, transpose};

use crate::fit::missing;
use crate::neck::Neck;

/// One way to make a riff lie on a neck.
#[derive(Clone, Debug, PartialEq)]
pub struct Adaptation {
    /// What is changed.
    pub kind: Kind,
    /// The riff after it. All its notes lie on `neck`.
    pub riff: Riff,
    /// The neck it then lies on: the one asked for, unless the change is another neck.
    pub neck: Neck,
    /// Every change with the place where it starts, in order.
    pub changes: Vec<(BarBeat, String)>,
}

/// What an adaptation changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The whole line, by so many octaves.
    Octave(i8),
    /// The key, by so many semitones.
    Key(i32),
    /// Single notes and phrases, by octaves; how many notes.
    Notes(usize),
    /// The tuning; as many strings as before.
    Tuning,
    /// The instrument: one with more strings.
    MoreStrings,
}

/// What could be done, gentlest first: the whole line an octave or two away; the nearest key that fits; single
/// phrases moved by octaves, with the least change; another tuning of as many strings; a neck with more
/// strings. Each kind at most once (both directions for a key equally near), and only those that work. Empty
/// when the riff lies on the neck as it is.
///
/// For the phrases the least change is exact: the sum of 1 for each note moved, for each octave of it; 3 more
/// for a root on the first beat of a bar; 2 for each seam (neighbours moved differently), 1 across a rest; 6
/// where the line goes another way than it did (up, down, level), 3 across a rest. Our measure, no source; it
/// keeps the contour first, then the intervals, then the notes. Among equal changes the one with fewer notes
/// moved at the start wins, then upwards before downwards.
pub fn adapt(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    if missing(riff, neck).is_empty() {
        return Vec::new();
    }
    let mut offers = Vec::new();
    offers.extend(whole_octaves(riff, neck));
    offers.extend(other_key(riff, neck));
    offers.extend(octaves::least_change(riff, neck));
    offers.extend(other_neck(riff, neck, Kind::Tuning));
    offers.extend(other_neck(riff, neck, Kind::MoreStrings));
    offers
}

/// The riff as it can be played on the neck, changed no more than needed: the whole line in another octave;
/// else phrases moved by octaves; else another key. Tuning, instrument and, if possible, key are kept, because
/// a class shares them. Warnings name every change; when nothing helps the riff comes back unchanged and the
/// warning says so.
pub fn adapted(riff: &Riff, neck: &Neck) -> (Riff, Vec<Warning>) {
    let off = missing(riff, neck);
    let Some(&first) = off.first() else { return (riff.clone(), Vec::new()) };
    let choice = whole_octaves(riff, neck)
        .or_else(|| octaves::least_change(riff, neck))
        .or_else(|| other_key(riff, neck).into_iter().next());
    match choice {
        Some(choice) => {
            let warnings = choice.changes.iter().map(|(at, words)| Warning::at(at, words.as_str()));
            (choice.riff, warnings.collect())
        }
        None => {
            let line = riff.line();
            let name = line.get(first).map(|n| n.note.pitch.to_string()).unwrap_or_default();
            let place = line.get(first).map(|n| riff.place_of(n.onset).to_string()).unwrap_or_default();
            let message = format!(
                "{name} does not lie on the neck '{}' and no octave or key helps; {} such notes; choose another neck",
                neck.name(),
                off.len()
            );
            (riff.clone(), vec![Warning::at(place, message)])
        }
    }
}

fn start_of(riff: &Riff) -> BarBeat {
    riff.place_of(riff.line().first().map_or(riff.bar_start(0), |n| n.onset))
}

fn whole_octaves(riff: &Riff, neck: &Neck) -> Option<Adaptation> {
    [1, -1, 2, -2, 3, -3].into_iter().find_map(|octaves: i8| {
        let by = Interval::from_steps(7 * i32::from(octaves), 12 * i32::from(octaves));
        let (moved, warnings) = moved_onto(riff, neck, by)?;
        let mut changes = vec![(start_of(riff), format!("the whole line {}", octaves::words(octaves)))];
        changes.extend(warnings.into_iter().map(|w| (start_of(riff), w.to_string())));
        Some(Adaptation { kind: Kind::Octave(octaves), riff: moved, neck: neck.clone(), changes })
    })
}

fn moved_onto(riff: &Riff, neck: &Neck, by: Interval) -> Option<(Riff, Vec<Warning>)> {
    let (moved, warnings) = transpose(riff, by).ok()?;
    missing(&moved, neck).is_empty().then_some((moved, warnings))
}

/// The nearest keys that fit: one, or both when as near upwards as downwards.
fn other_key(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    let line = riff.line();
    let Some(first) = line.first() else { return Vec::new() };
    let key = riff.header().key.unwrap_or(Key { tonic: first.note.pitch.name(), mode: None });
    (1..12)
        .map(|distance| {
            let both = [distance, -distance].into_iter();
            both.filter_map(|semitones| key_away(riff, neck, key, semitones)).collect::<Vec<_>>()
        })
        .find(|found| !found.is_empty())
        .unwrap_or_default()
}

fn key_away(riff: &Riff, neck: &Neck, key: Key, semitones: i32) -> Option<Adaptation> {
    let class = (i32::from(key.tonic.pitch_class()) + semitones).rem_euclid(12);
    let to = tonic_for(key, u8::try_from(class).ok()?);
    let up = key.tonic.interval_to(to);
    let octaves = (semitones - up.semitones()).div_euclid(12);
    let by = Interval::from_steps(up.steps() + 7 * octaves, up.semitones() + 12 * octaves);
    let (moved, warnings) = moved_onto(riff, neck, by)?;
    let way = if semitones > 0 { "up" } else { "down" };
    let many = if semitones.abs() == 1 { "semitone" } else { "semitones" };
    let words = format!("the key becomes {}, {} {many} {way}", Key { tonic: to, ..key }, semitones.abs());
    let mut changes = vec![(start_of(riff), words)];
    changes.extend(warnings.into_iter().map(|w| (start_of(riff), w.to_string())));
    Some(Adaptation { kind: Kind::Key(semitones), riff: moved, neck: neck.clone(), changes })
}

/// The named neck nearest to the one asked for that has the notes: fewest strings tuned otherwise, in the
/// order of [`Neck::NAMES`].
fn other_neck(riff: &Riff, neck: &Neck, kind: Kind) -> Option<Adaptation> {
    let strings = usize::from(neck.string_count());
    let other = Neck::NAMES
        .iter()
        .filter_map(|name| Neck::named(name).ok())
        .filter(|n| match kind {
            Kind::Tuning => n.strings().len() == strings && n.strings() != neck.strings(),
            _ => n.strings().len() > strings,
        })
        .filter(|n| missing(riff, n).is_empty())
        .min_by_key(|n| {
            let kept = n.strings().iter().filter(|&open| neck.strings().contains(open)).count();
            (n.strings().len(), strings.saturating_sub(kept))
        })?
        .left_handed(neck.is_left_handed())
        .fretless(neck.is_fretless());
    let strings: Vec<String> = other.strings().iter().rev().map(|p| p.name().to_string()).collect();
    let words = format!("as written on the neck '{}', strings {}", other.name(), strings.join(" "));
    Some(Adaptation { kind, riff: riff.clone(), neck: other, changes: vec![(start_of(riff), words)] })
}
