//! Kin as JSON; see docs/json.md.

use std::path::Path;

use riffkin_kin::align::Extent;
use riffkin_kin::kinship::Tune;
use riffkin_kin::rhythm::Rhythm;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::pitch::PitchName;
use riffkin_score::time::Quarters;
use serde::Serialize;

use super::{Row, measure};
use crate::app::kin::{Asked, Family, Measure, Relative, Typed};
use crate::cli::json::VERSION;

fn degrees(set: DegreeSet) -> Vec<String> {
    set.slots().map(|s| Degree::usual(s).to_string()).collect()
}

/// Semitones round the octave in words: `minor third`.
pub(super) fn interval(semitones: u8) -> String {
    let words = Degree::usual(semitones).interval().words();
    words.trim_end_matches(" up").to_owned()
}

#[derive(Serialize)]
pub(super) struct KinJson {
    version: u32,
    of: OfJson,
    by: &'static str,
    kin: Vec<RelativeJson>,
}

#[derive(Serialize)]
struct OfJson {
    riff: String,
    file: String,
    tonic: Option<String>,
    degrees: Vec<String>,
    snippet: bool,
}

#[derive(Serialize)]
struct RelativeJson {
    riff: String,
    file: String,
    shared: Vec<String>,
    only_here: Vec<String>,
    only_there: Vec<String>,
    same_riff: bool,
    degrees: DegreesJson,
    hand: Option<HandJson>,
    intervals: Option<IntervalsJson>,
    rhythm: Option<RhythmJson>,
}

#[derive(Serialize)]
struct DegreesJson {
    words: String,
    steps_apart: usize,
    near_kin: bool,
}

#[derive(Serialize)]
struct HandJson {
    words: String,
    same: bool,
    same_places: bool,
    run: usize,
    notes_here: usize,
    notes_there: usize,
}

#[derive(Serialize)]
struct IntervalsJson {
    words: String,
    to_change: String,
    agreeing: String,
    length_here: String,
    length_there: String,
    semitones_higher: u8,
    pace: String,
    part: bool,
    places: Vec<String>,
}

#[derive(Serialize)]
struct RhythmJson {
    words: String,
    same: bool,
    to_change: String,
    length_here: String,
    agreeing: usize,
    onsets_here: usize,
    onsets_there: usize,
    pace: String,
}

/// Parts of a quarter as an exact fraction.
fn quarters(parts: u64, of: u32) -> String {
    let parts = i64::try_from(parts).unwrap_or(i64::MAX);
    Quarters::nearest(parts, i64::from(of)).0.to_string()
}

fn intervals(tune: &Tune, places: &[String]) -> IntervalsJson {
    let twelfths = |n: u32| quarters(u64::from(n), riffkin_kin::stretches::GRID);
    IntervalsJson {
        words: tune.words(),
        to_change: twelfths(tune.cost),
        agreeing: twelfths(tune.agreeing),
        length_here: twelfths(tune.totals.0),
        length_there: twelfths(tune.totals.1),
        semitones_higher: tune.higher,
        pace: format!("{}:{}", tune.pace.0, tune.pace.1),
        part: tune.extent == Extent::Part,
        places: places.to_vec(),
    }
}

fn rhythm(rhythm: &Rhythm) -> RhythmJson {
    let ticks = |n: u64| quarters(n, riffkin_kin::imprint::TICKS_PER_QUARTER);
    RhythmJson {
        words: rhythm.words(),
        same: rhythm.is_same(),
        to_change: ticks(rhythm.cost),
        length_here: ticks(rhythm.span),
        agreeing: rhythm.shared,
        onsets_here: rhythm.onsets.0,
        onsets_there: rhythm.onsets.1,
        pace: format!("{}:{}", rhythm.pace.0, rhythm.pace.1),
    }
}

pub(super) fn kin(asked: &Asked, of: &Path, by: Measure, rows: &[Relative]) -> KinJson {
    let relative = |r: &Relative| {
        let set = r.kinship.degrees;
        RelativeJson {
            riff: r.name.clone(),
            file: r.file.clone(),
            shared: degrees(set.shared),
            only_here: degrees(set.only_here),
            only_there: degrees(set.only_there),
            same_riff: r.same_riff,
            degrees: DegreesJson {
                words: set.words(),
                steps_apart: set.steps_apart(),
                near_kin: set.is_near(),
            },
            hand: r.kinship.hand.as_ref().map(|h| HandJson {
                words: h.words(),
                same: h.same,
                same_places: h.same_places,
                run: h.run(),
                notes_here: h.notes.0,
                notes_there: h.notes.1,
            }),
            intervals: r.tune().map(|t| intervals(t, &r.places)),
            rhythm: r.kinship.rhythm.as_ref().map(rhythm),
        }
    };
    KinJson {
        version: VERSION,
        of: OfJson {
            riff: asked.riff.header().title.clone(),
            file: of.display().to_string(),
            tonic: asked.imprint.tonic().map(|t| PitchName::simplest(t).to_string()),
            degrees: degrees(asked.imprint.set()),
            snippet: asked.snippet,
        },
        by: measure(by),
        kin: rows.iter().map(relative).collect(),
    }
}

#[derive(Serialize)]
pub(super) struct HoldersJson {
    version: u32,
    kin: Vec<HolderJson>,
}

#[derive(Serialize)]
struct HolderJson {
    riff: String,
    file: String,
    shared: Vec<String>,
    only_here: Vec<String>,
    only_there: Vec<String>,
    found: Vec<FoundJson>,
}

#[derive(Serialize)]
struct FoundJson {
    bar: u32,
    beat: String,
    semitones_higher: u8,
}

pub(super) fn holders(typed: &Typed, rows: &[Row]) -> HoldersJson {
    let notes = match typed {
        Typed::InOrder(sought) | Typed::AnyOrder(sought) => sought.kind() == riffkin_kin::sought::Kind::Notes,
        Typed::Hand(_) => false,
    };
    let names = |set: DegreeSet| -> Vec<String> {
        if notes { set.slots().map(|s| PitchName::simplest(s).to_string()).collect() } else { degrees(set) }
    };
    let holder = |h: &Row| {
        let set = |pick: fn(&riffkin_kin::degrees::Degrees) -> DegreeSet| {
            h.degrees.as_ref().map(|d| names(pick(d))).unwrap_or_default()
        };
        HolderJson {
            riff: h.name.clone(),
            file: h.file.clone(),
            shared: set(|d| d.shared),
            only_here: set(|d| d.only_here),
            only_there: set(|d| d.only_there),
            found: h
                .found
                .iter()
                .map(|(at, higher)| FoundJson {
                    bar: at.bar,
                    beat: at.beat.to_string(),
                    semitones_higher: *higher,
                })
                .collect(),
        }
    };
    HoldersJson { version: VERSION, kin: rows.iter().map(holder).collect() }
}

#[derive(Serialize)]
pub(super) struct FamiliesJson {
    version: u32,
    families: Vec<FamilyJson>,
}

#[derive(Serialize)]
struct FamilyJson {
    degrees: Vec<String>,
    riffs: Vec<String>,
    within: Vec<Vec<String>>,
}

pub(super) fn families(families: &[Family]) -> FamiliesJson {
    let within = |set: DegreeSet| {
        let above = families.iter().map(|f| f.set).filter(|&s| s != set && set.is_within(s));
        above.map(degrees).collect()
    };
    let family =
        |f: &Family| FamilyJson { degrees: degrees(f.set), riffs: f.riffs.clone(), within: within(f.set) };
    FamiliesJson { version: VERSION, families: families.iter().map(family).collect() }
}
