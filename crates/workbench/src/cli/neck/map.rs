//! From the words of the command to a map.

use std::ops::RangeInclusive;

use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::{self, Map};
use riffkin_score::chord::Chord;
use riffkin_score::degree::Degree;
use riffkin_score::key::Key;
use riffkin_score::note::Place;
use riffkin_score::pitch::{Pitch, PitchName};

use super::super::{Failure, tonic};
use super::{Shown, args};

/// Frets under one hand, one finger per fret.
const HAND: u8 = 4;

pub(super) fn read(neck: Neck, words: &args::Neck) -> Result<Shown, Failure> {
    let frets = frets(&neck, words)?;
    let strings = strings(&neck, words)?;
    let mut positions = Vec::new();
    let mut way = Vec::new();
    let mut whole = |neck: &Neck, tonic: PitchName, degrees: &[Degree]| {
        positions = shapes::hand_positions(neck, tonic, degrees, HAND);
    };
    let map = if let Some(text) = &words.scale {
        let (key, degrees) = scale(text)?;
        match words.per_string {
            Some(notes) => Some(pattern(&neck, key, &degrees, notes, &strings, &frets)?),
            None => {
                whole(&neck, key.tonic, &degrees);
                Some(shapes::scale_map(&neck, key, frets.clone()))
            }
        }
    } else if let Some(text) = &words.chord {
        let chord: Chord =
            text.parse().map_err(|e: riffkin_score::chord::NotAChord| Failure::Words(e.to_string()))?;
        whole(&neck, chord.root, &chord.kind.degrees());
        Some(shapes::chord_map(&neck, chord, frets.clone()))
    } else if let (Some(text), Some(key)) = (&words.numerals, &words.key) {
        let key = tonic(key)?;
        let roots = numerals(text, key)?;
        way = shapes::root_way(&neck, key, &roots, frets.clone()).unwrap_or_default();
        Some(shapes::root_map(&neck, key, &roots, frets.clone()))
    } else if let (Some(text), Some(key)) = (&words.degrees, &words.key) {
        let key = tonic(key)?;
        let degrees = degrees(text)?;
        whole(&neck, key, &degrees);
        let names: Vec<String> = degrees.iter().map(|d| d.print()).collect();
        let title = format!("{} on {}", names.join(" "), key.print());
        Some(shapes::degree_map(&neck, title, key, &degrees, frets.clone()))
    } else if let Some(text) = &words.from {
        let from: Pitch = text.parse().map_err(|_| {
            Failure::Words(format!(
                "'{text}' is no note with its octave; write such as A1, the open A string"
            ))
        })?;
        Some(shapes::interval_map(&neck, from, frets.clone()))
    } else {
        None
    };
    let map = map.map(|map| Map {
        spots: map.spots.into_iter().filter(|s| strings.contains(&s.place.string)).collect(),
        ..map
    });
    if let Some(map) = map.as_ref().filter(|m| m.spots.is_empty()) {
        return Err(Failure::Could(format!(
            "{}: none of it lies at frets {} to {} on the neck '{}'; take more frets or strings",
            map.title,
            frets.start(),
            frets.end(),
            neck.name()
        )));
    }
    Ok(Shown { neck, frets, map, positions, way })
}

/// `3-7`, `3 to 7` or `5`; with a position four frets from it; else the whole neck.
fn frets(neck: &Neck, words: &args::Neck) -> Result<RangeInclusive<u8>, Failure> {
    let last = neck.frets();
    if let Some(first) = words.position {
        if first == 0 || first > last {
            return Err(Failure::Words(format!(
                "--position {first} lies off the neck '{}'; write 1 to {last}, the fret under the index finger",
                neck.name()
            )));
        }
        return Ok(first..=first.saturating_add(HAND - 1).min(last));
    }
    let Some(text) = &words.frets else { return Ok(0..=last) };
    let refuse =
        || Failure::Words(format!("--frets '{text}': write such as 3-7, within 0 (open) and {last}"));
    let (a, b) = two(text).ok_or_else(refuse)?;
    if a > b || b > last {
        return Err(refuse());
    }
    Ok(a..=b)
}

/// Two numbers with a stroke or `to` between them, or one.
fn two(text: &str) -> Option<(u8, u8)> {
    let (a, b) = match text.split_once(['-', '–']).or_else(|| text.split_once("to")) {
        Some((a, b)) => (a, b),
        None => (text, text),
    };
    Some((a.trim().parse().ok()?, b.trim().parse().ok()?))
}

/// `4-3`, `4 2` or nothing for all, the lowest string first.
fn strings(neck: &Neck, words: &args::Neck) -> Result<Vec<u8>, Failure> {
    let count = neck.string_count();
    let Some(text) = &words.strings else { return Ok((1..=count).rev().collect()) };
    let refuse = || {
        Failure::Words(format!(
            "--strings '{text}': write such as 4-3 or '4 2'; 1 is the highest of {count} strings"
        ))
    };
    let mut strings = Vec::new();
    for part in text.split([' ', ',']).filter(|p| !p.is_empty()) {
        let (a, b) = two(part).ok_or_else(refuse)?;
        strings.extend(a.min(b)..=a.max(b));
    }
    strings.sort_unstable_by(|a, b| b.cmp(a));
    strings.dedup();
    if strings.is_empty() || strings.iter().any(|s| !(1..=count).contains(s)) {
        return Err(refuse());
    }
    Ok(strings)
}

fn scale(text: &str) -> Result<(Key, Vec<Degree>), Failure> {
    let key: Key = text.parse().map_err(|e: riffkin_score::key::NotAKey| Failure::Words(e.to_string()))?;
    let Some(mode) = key.mode else {
        return Err(Failure::Words(format!(
            "--scale '{text}' names no scale; write it after the tonic, such as '{text} minor pentatonic' or '{text} Dorian'"
        )));
    };
    Ok((key, mode.degrees()))
}

fn degrees(text: &str) -> Result<Vec<Degree>, Failure> {
    let degrees: Vec<Degree> = text
        .split([' ', ','])
        .filter(|d| !d.is_empty())
        .map(|d| d.parse::<Degree>().map_err(|e| Failure::Words(e.to_string())))
        .collect::<Result<_, _>>()?;
    if degrees.is_empty() {
        return Err(Failure::Words("--degrees is empty; write such as '1 b3 4 5 b7'".to_owned()));
    }
    Ok(degrees)
}

/// Degrees or Roman numerals of a progression: their roots.
fn numerals(text: &str, key: PitchName) -> Result<Vec<Degree>, Failure> {
    let words = text.split([' ', ',', '-', '–', '|']).filter(|w| !w.is_empty());
    let roots: Vec<Degree> = words
        .map(|word| {
            word.parse::<Degree>()
                .ok()
                .or_else(|| Degree::between(key, Chord::from_numeral(word, key).ok()?.root))
                .ok_or_else(|| {
                    Failure::Words(format!(
                        "'{word}' is no numeral; write degrees such as 1 4 6 5 or b7, or numerals such as i7 and bVII"
                    ))
                })
        })
        .collect::<Result<_, _>>()?;
    match roots.len() {
        0 => Err(Failure::Words("--numerals is empty; write such as '1 4 6 5'".to_owned())),
        1..=200 => Ok(roots),
        n => Err(Failure::Words(format!("--numerals: {n} are more than 200; write the progression once"))),
    }
}

/// The scale from its first degree on the lowest string asked for: the lowest place in the frets from which it stays on
/// the neck.
fn pattern(
    neck: &Neck,
    key: Key,
    degrees: &[Degree],
    notes: u8,
    strings: &[u8],
    frets: &RangeInclusive<u8>,
) -> Result<Map, Failure> {
    let (Some(&low), Some(&high)) = (strings.first(), strings.last()) else {
        return Err(Failure::Words("no strings".to_owned()));
    };
    if usize::from(low - high) + 1 != strings.len() {
        return Err(Failure::Words(
            "--per-string goes over neighbouring strings; write such as --strings 4-2".to_owned(),
        ));
    }
    if !(1..=12).contains(&notes) {
        return Err(Failure::Words(format!("--per-string {notes} lies outside 1 to 12")));
    }
    let mut first_error = None;
    for fret in frets.clone() {
        let start = Place { string: low, fret };
        let is_tonic = neck.sounding(start).is_some_and(|m| m.number() % 12 == key.tonic.pitch_class());
        if !is_tonic {
            continue;
        }
        match shapes::notes_per_string(neck, start, degrees, notes, low - high + 1) {
            Ok(pattern) => {
                let title = format!("{}, {notes} to a string", key.print());
                return Ok(shapes::pattern_map(neck, title, key.tonic, &pattern));
            }
            Err(error) => first_error = first_error.or(Some(format!("from fret {fret}: {error}"))),
        }
    }
    Err(Failure::Could(first_error.unwrap_or_else(|| {
        format!(
            "{} does not lie on string {low} at frets {} to {}; take other frets",
            key.tonic.print(),
            frets.start(),
            frets.end()
        )
    })))
}
