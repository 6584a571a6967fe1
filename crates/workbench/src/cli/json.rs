//! Results as JSON. Field names and units are described in docs/json.md; `version` rises when one changes meaning.

use std::path::Path;

use riffkin_audio::Clip;
use riffkin_lesson::ladder::Ladder;
use riffkin_score::Warning;
use riffkin_score::analysis::explain::Explanation;
use riffkin_score::analysis::set_class;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::riff::Riff;
use serde::Serialize;

use crate::app::intake::Taken;
use crate::app::lesson::Built;

/// Version of every layout below.
pub(super) const VERSION: u32 = 1;

/// Pretty-printed, with a line end.
pub(super) fn text<T: Serialize>(value: &T) -> String {
    // Strings, numbers and lists always serialise.
    serde_json::to_string_pretty(value).unwrap_or_default() + "\n"
}

fn names(degrees: &[Degree]) -> Vec<String> {
    degrees.iter().map(ToString::to_string).collect()
}

pub(super) fn said(warnings: &[Warning]) -> Vec<String> {
    warnings.iter().map(ToString::to_string).collect()
}

#[derive(Serialize)]
pub(super) struct ExplanationJson {
    version: u32,
    title: String,
    tonic: Option<String>,
    how: Option<&'static str>,
    mode: &'static str,
    words: Vec<String>,
    tonics: Vec<Ranked>,
    modes: Vec<Ranked>,
    deciding: Vec<String>,
    degrees: Vec<String>,
    prime_form: Vec<u8>,
    notes: Vec<NoteJson>,
}

#[derive(Serialize)]
struct Ranked {
    name: String,
    score: f64,
    evidence: String,
}

#[derive(Serialize)]
struct NoteJson {
    midi: u8,
    pitch: String,
    degree: Option<String>,
    dead: bool,
    bar: u32,
    beat: String,
    onset: String,
    duration: String,
    interval: Option<String>,
    chord: Option<String>,
    chord_degree: Option<String>,
}

pub(super) fn explanation(riff: &Riff, found: &Explanation) -> ExplanationJson {
    let note = |n: &riffkin_score::analysis::explain::NoteReading| NoteJson {
        midi: n.pitch.midi().number(),
        pitch: n.pitch.to_string(),
        degree: n.degree.map(|d| d.to_string()),
        dead: n.dead,
        bar: n.place.bar,
        beat: n.place.beat.to_string(),
        onset: n.onset.to_string(),
        duration: n.length.to_string(),
        interval: n.from_previous.map(|i| i.to_string()),
        chord: n.over.map(|(chord, _)| chord.to_string()),
        chord_degree: n.over.map(|(_, degree)| degree.to_string()),
    };
    let modes = found.mode.as_ref().map(|m| m.ranked.as_slice()).unwrap_or_default();
    ExplanationJson {
        version: VERSION,
        title: riff.header().title.clone(),
        tonic: found.tonic.map(|(t, _)| t.to_string()),
        how: found.tonic.map(|(_, how)| how.words()),
        mode: found.verdict().label(),
        words: found.words(),
        tonics: found
            .tonics
            .iter()
            .map(|t| Ranked { name: t.tonic.to_string(), score: t.score, evidence: t.words(5) })
            .collect(),
        modes: modes
            .iter()
            .map(|m| Ranked { name: m.mode.name().to_owned(), score: m.score, evidence: m.words() })
            .collect(),
        deciding: found
            .verdict()
            .deciding()
            .iter()
            .flat_map(|d| d.answers.iter().map(|(degree, _)| degree.to_string()))
            .collect(),
        degrees: names(&found.degrees),
        prime_form: set_class::prime_form(found.set()),
        notes: found.notes.iter().map(note).collect(),
    }
}

#[derive(Serialize)]
pub(super) struct LadderJson {
    version: u32,
    cost: u32,
    rungs: Vec<RungJson>,
}

#[derive(Serialize)]
struct RungJson {
    riff: String,
    file: String,
    read_as: &'static str,
    degrees: Vec<String>,
    new: Vec<String>,
}

fn in_set(degrees: &[Degree], set: DegreeSet) -> Vec<String> {
    degrees.iter().filter(|d| set.contains(d.slot())).map(ToString::to_string).collect()
}

pub(super) fn ladder(taken: &[Taken], explained: &[Explanation], ladder: &Ladder) -> LadderJson {
    LadderJson {
        version: VERSION,
        cost: ladder.cost,
        rungs: ladder
            .rungs
            .iter()
            .filter_map(|rung| {
                let (taken, found) = (taken.get(rung.riff)?, explained.get(rung.riff)?);
                Some(RungJson {
                    riff: taken.riff.header().title.clone(),
                    file: taken.path.display().to_string(),
                    read_as: taken.kind.name(),
                    degrees: names(&found.degrees),
                    new: in_set(&found.degrees, rung.new),
                })
            })
            .collect(),
    }
}

#[derive(Serialize)]
pub(super) struct SoundJson {
    version: u32,
    file: String,
    seconds: f64,
    rate: u32,
}

pub(super) fn sound(out: &Path, clip: &Clip) -> SoundJson {
    SoundJson {
        version: VERSION,
        file: out.display().to_string(),
        seconds: clip.duration().value(),
        rate: clip.rate().hz(),
    }
}

#[derive(Serialize)]
pub(super) struct BuiltJson {
    version: u32,
    tonic: String,
    cost: u32,
    rungs: Vec<BuiltRung>,
    left_out: Vec<String>,
    files: Vec<String>,
}

#[derive(Serialize)]
struct BuiltRung {
    riff: String,
    degrees: Vec<String>,
    new: Vec<String>,
    notices: Vec<String>,
}

pub(super) fn built(built: &Built) -> BuiltJson {
    let plan = &built.plan;
    BuiltJson {
        version: VERSION,
        tonic: plan.tonic.to_string(),
        cost: plan.ladder.cost,
        rungs: plan
            .members
            .iter()
            .map(|m| BuiltRung {
                riff: m.riff.header().title.clone(),
                degrees: names(&m.explanation.degrees),
                new: in_set(&m.explanation.degrees, m.new),
                notices: said(&[m.guesses.as_slice(), m.changes.as_slice()].concat()),
            })
            .collect(),
        left_out: plan.left_out.iter().map(|(_, why)| why.clone()).collect(),
        files: built.files.iter().map(|f| f.display().to_string()).collect(),
    }
}
