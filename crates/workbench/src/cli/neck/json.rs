//! A neck and its maps as JSON.

use riffkin_fretboard::neck::Neck;
use riffkin_score::note::Place;
use serde::Serialize;

use super::super::json::VERSION;
use super::Shown;

#[derive(Serialize)]
pub(super) struct NamesJson {
    version: u32,
    necks: Vec<NeckJson>,
    own: Vec<NeckJson>,
}

#[derive(Serialize)]
pub(super) struct ShownJson {
    version: u32,
    neck: NeckJson,
    map: Option<MapJson>,
}

#[derive(Serialize)]
pub(in super::super) struct NeckJson {
    name: String,
    line: String,
    strings: Vec<StringJson>,
    frets: u8,
    scale_mm: f64,
    fretless: bool,
    capo: u8,
    left_handed: bool,
    lowest: String,
    highest: String,
    fret_mm: Vec<f64>,
}

#[derive(Serialize)]
struct StringJson {
    string: u8,
    open: String,
    midi: u8,
}

#[derive(Serialize)]
struct MapJson {
    title: String,
    first_fret: u8,
    last_fret: u8,
    spots: Vec<SpotJson>,
    positions: Vec<u8>,
    way: Vec<PlaceJson>,
}

#[derive(Serialize)]
struct SpotJson {
    string: u8,
    fret: u8,
    pitch: String,
    midi: u8,
    degree: String,
    root: bool,
    interval: Option<String>,
}

#[derive(Serialize)]
struct PlaceJson {
    string: u8,
    fret: u8,
}

pub(in super::super) fn described(neck: &Neck) -> NeckJson {
    NeckJson {
        name: neck.name().to_owned(),
        line: neck.to_string(),
        strings: (1..=neck.string_count())
            .filter_map(|string| {
                let open = neck.open(string)?;
                Some(StringJson { string, open: open.to_string(), midi: open.midi().number() })
            })
            .collect(),
        frets: neck.frets(),
        scale_mm: neck.scale_mm(),
        fretless: neck.is_fretless(),
        capo: neck.capo(),
        left_handed: neck.is_left_handed(),
        lowest: neck.lowest().to_string(),
        highest: neck.highest().to_string(),
        fret_mm: (0..=neck.frets()).map(|f| neck.fret_mm(f)).collect(),
    }
}

/// The usual necks, and the teacher's own.
pub(super) fn names(own: &[Neck]) -> NamesJson {
    let necks = Neck::NAMES.iter().filter_map(|name| Neck::named(name).ok());
    NamesJson {
        version: VERSION,
        necks: necks.map(|n| described(&n)).collect(),
        own: own.iter().map(described).collect(),
    }
}

pub(super) fn neck(shown: &Shown) -> ShownJson {
    let map = shown.map.as_ref().map(|map| MapJson {
        title: map.title.clone(),
        first_fret: *shown.frets.start(),
        last_fret: *shown.frets.end(),
        spots: map
            .spots
            .iter()
            .map(|spot| SpotJson {
                string: spot.place.string,
                fret: spot.place.fret,
                pitch: spot.pitch.to_string(),
                midi: spot.pitch.midi().number(),
                degree: spot.degree.to_string(),
                root: spot.is_root(),
                interval: spot.interval.map(|i| i.to_string()),
            })
            .collect(),
        positions: shown.positions.clone(),
        way: shown.way.iter().map(|&Place { string, fret }| PlaceJson { string, fret }).collect(),
    });
    ShownJson { version: VERSION, neck: described(&shown.neck), map }
}
