//! What lies where on a neck: scales, chords, roots, intervals; as places to draw and as words to read out.

use std::ops::RangeInclusive;

use riffkin_score::chord::Chord;
use riffkin_score::degree::Degree;
use riffkin_score::interval::Interval;
use riffkin_score::key::Key;
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch, PitchName};

use super::positions;
use crate::neck::Neck;

/// One marked place of a map.
#[derive(Clone, Debug, PartialEq)]
pub struct Spot {
    /// String and fret.
    pub place: Place,
    /// What sounds there, spelled by its degree.
    pub pitch: Pitch,
    /// What it is against the root.
    pub degree: Degree,
    /// The interval from the note that a map of intervals starts from.
    pub interval: Option<Interval>,
}

impl Spot {
    /// True for the root.
    pub fn is_root(&self) -> bool {
        self.degree == Degree::ROOT
    }
}

/// A map of a neck.
#[derive(Clone, Debug, PartialEq)]
pub struct Map {
    /// What it shows: `G Dorian`, `Gm7`, `roots of 1 4 6 5 in G`.
    pub title: String,
    /// Its places, from the lowest string up and each string from the nut.
    pub spots: Vec<Spot>,
}

impl Map {
    /// A line of words for every place: `string 4 (E), fret 3: G, 1`, `string 3 (A), open: A, 2`.
    pub fn lines(&self, neck: &Neck) -> Vec<String> {
        self.spots
            .iter()
            .map(|spot| {
                let Place { string, fret } = spot.place;
                let open = neck.open(string).map_or_else(String::new, |p| p.name().print());
                let fret = if fret == 0 { "open".to_owned() } else { format!("fret {fret}") };
                let what = match spot.interval {
                    Some(interval) if interval == Interval::UNISON => "the note itself".to_owned(),
                    Some(interval) => interval.words(),
                    None => spot.degree.print(),
                };
                format!("string {string} ({open}), {fret}: {}, {what}", spot.pitch.name().print())
            })
            .collect()
    }
}

/// Every place of a set of degrees above a tonic within some frets (0 the open strings).
pub fn degree_map(
    neck: &Neck,
    title: String,
    tonic: PitchName,
    degrees: &[Degree],
    frets: RangeInclusive<u8>,
) -> Map {
    let places = positions(neck, tonic, degrees, frets);
    Map { title, spots: places.into_iter().filter_map(|(p, d)| spot(neck, tonic, p, d)).collect() }
}

/// A scale or mode. The key's mode, when it is undecided, counts as the tonic alone.
pub fn scale_map(neck: &Neck, key: Key, frets: RangeInclusive<u8>) -> Map {
    let degrees = key.mode.map_or_else(|| vec![Degree::ROOT], |mode| mode.degrees());
    degree_map(neck, key.print(), key.tonic, &degrees, frets)
}

/// The notes of a chord, its root called 1.
pub fn chord_map(neck: &Neck, chord: Chord, frets: RangeInclusive<u8>) -> Map {
    degree_map(neck, chord.print(), chord.root, &chord.kind.degrees(), frets)
}

/// The roots of a progression, each named by its degree in the key.
pub fn root_map(neck: &Neck, tonic: PitchName, roots: &[Degree], frets: RangeInclusive<u8>) -> Map {
    let names: Vec<String> = roots.iter().map(|d| d.print()).collect();
    let title = format!("Roots of {} in {}", names.join(" "), tonic.print());
    let mut once: Vec<Degree> = Vec::new();
    for &root in roots {
        if !once.iter().any(|d| d.slot() == root.slot()) {
            once.push(root);
        }
    }
    degree_map(neck, title, tonic, &once, frets)
}

/// Every place within some frets with its interval from a note; degrees within the octave above it.
pub fn interval_map(neck: &Neck, from: Pitch, frets: RangeInclusive<u8>) -> Map {
    let all: Vec<Degree> = (0..12).map(Degree::usual).collect();
    let places = positions(neck, from.name(), &all, frets);
    let spots = places
        .into_iter()
        .filter_map(|(place, degree)| spot(neck, from.name(), place, degree))
        .map(|spot| Spot { interval: Some(from.interval_to(spot.pitch)), ..spot });
    let name = format!("{}{}", from.name().print(), from.octave());
    Map { title: format!("Intervals from {name}"), spots: spots.collect() }
}

/// A pattern of [`super::notes_per_string`] as a map.
pub fn pattern_map(neck: &Neck, title: String, tonic: PitchName, pattern: &[(Place, Degree)]) -> Map {
    Map { title, spots: pattern.iter().filter_map(|&(p, d)| spot(neck, tonic, p, d)).collect() }
}

fn spot(neck: &Neck, tonic: PitchName, place: Place, degree: Degree) -> Option<Spot> {
    let midi: Midi = neck.sounding(place)?;
    // Degrees too remote to be spelled take the simplest name.
    let pitch = degree.of(tonic).and_then(|name| Pitch::from_midi(midi, name));
    Some(Spot { place, pitch: pitch.unwrap_or_else(|| Pitch::simplest(midi)), degree, interval: None })
}

/// The frets at which a hand can lie and play every note of a scale between the lowest and the highest note under it
/// without moving, `width` frets wide (4 is one finger per fret); fret 1 is the lowest.
pub fn hand_positions(neck: &Neck, tonic: PitchName, degrees: &[Degree], width: u8) -> Vec<u8> {
    let width = width.max(1);
    let last = neck.frets().saturating_sub(width - 1);
    (1..=last)
        .filter(|&first| {
            let places = positions(neck, tonic, degrees, first..=first + (width - 1));
            let mut there: Vec<u8> =
                places.iter().filter_map(|(p, _)| neck.sounding(*p)).map(Midi::number).collect();
            there.sort_unstable();
            let (Some(&low), Some(&high)) = (there.first(), there.last()) else { return false };
            let is_note = |midi: &u8| {
                let slot = (midi + 12 - tonic.pitch_class()) % 12;
                degrees.iter().any(|d| d.slot() == slot)
            };
            // Every string has some, or the hand's reach is not what ends the scale.
            let strings = (1..=neck.string_count()).all(|s| places.iter().any(|(p, _)| p.string == s));
            strings && (low..=high).filter(is_note).all(|midi| there.binary_search(&midi).is_ok())
        })
        .collect()
}

/// A way over the roots of a progression with the least travel: along the neck in millimetres, and 10 mm for each string
/// crossed (our choice, no source); it starts low on the neck. `None` when one of them is not within the frets.
pub fn root_way(
    neck: &Neck,
    tonic: PitchName,
    roots: &[Degree],
    frets: RangeInclusive<u8>,
) -> Option<Vec<Place>> {
    let per_root: Vec<Vec<Place>> = roots
        .iter()
        .map(|&d| positions(neck, tonic, &[d], frets.clone()).into_iter().map(|(p, _)| p).collect())
        .collect();
    let travel =
        |a: Place, b: Place| neck.span_mm(a.fret, b.fret) + 10.0 * f64::from(a.string.abs_diff(b.string));
    // For each place of each root: the travel up to it and the place before it.
    let mut so_far: Vec<Vec<(f64, usize)>> = Vec::new();
    for (i, places) in per_root.iter().enumerate() {
        let here = places
            .iter()
            .map(|&place| match i.checked_sub(1) {
                None => Some((neck.fret_mm(place.fret), 0)),
                Some(before) => so_far[before]
                    .iter()
                    .zip(&per_root[before])
                    .enumerate()
                    .map(|(k, (far, &from))| (far.0 + travel(from, place), k))
                    .min_by(|a, b| a.0.total_cmp(&b.0)),
            })
            .collect::<Option<Vec<_>>>()?;
        so_far.push(here);
    }
    let last = so_far.last()?;
    let mut k = (0..last.len()).min_by(|&a, &b| last[a].0.total_cmp(&last[b].0))?;
    let mut way = Vec::with_capacity(per_root.len());
    for (places, far) in per_root.iter().zip(&so_far).rev() {
        way.push(*places.get(k)?);
        k = far.get(k)?.1;
    }
    way.reverse();
    Some(way)
}
