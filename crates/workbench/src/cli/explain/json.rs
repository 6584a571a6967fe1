//! A riff explained, as JSON: the fields of docs/json.md.

use riffkin_score::analysis::compare::Comparison;
use riffkin_score::analysis::harmony::{BarChords, ChordFit, ChordReading, NoteOver, OpenStep, ScaleFit};
use riffkin_score::analysis::shape::LineShape;
use riffkin_score::analysis::two_names::TwoNames;
use riffkin_score::degree::Degree;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::BarBeat;
use serde::Serialize;

use super::text::BY_HAND;
use super::{OnNeck, Told};
use crate::cli::json::{ExplanationJson, explanation, said};

/// What `explain` adds to what `transpose` and `copy` print.
#[derive(Serialize)]
pub(super) struct ToldJson {
    #[serde(flatten)]
    explanation: ExplanationJson,
    against: &'static str,
    counted_from: String,
    said: Vec<Option<String>>,
    open_steps: Vec<OpenStepJson>,
    two_names: Vec<TwoNamesJson>,
    comparison: Option<ComparisonJson>,
    shape: ShapeJson,
    neck: String,
    hand_shape: Option<HandShapeJson>,
    difficulty: Option<DifficultyJson>,
    scales_that_fit: Vec<ScaleJson>,
    chords_that_fit: Vec<ChordFitJson>,
    chords_by_bar: Vec<BarJson>,
    chord_by_chord: Vec<ChordJson>,
}

fn names(degrees: &[Degree]) -> Vec<String> {
    degrees.iter().map(ToString::to_string).collect()
}

fn notes(names: &[PitchName]) -> Vec<String> {
    names.iter().map(ToString::to_string).collect()
}

#[derive(Serialize)]
struct Place {
    bar: u32,
    beat: String,
}

fn place(at: BarBeat) -> Place {
    Place { bar: at.bar, beat: at.beat.to_string() }
}

/// Everything told.
pub(super) fn told(told: &Told<'_>) -> ToldJson {
    let found = told.found;
    ToldJson {
        explanation: explanation(told.riff, found),
        against: told.against.word(),
        counted_from: told.convention(),
        said: found.notes.iter().map(|n| told.said(n).map(|d| d.to_string())).collect(),
        open_steps: told.open_steps.iter().map(open_step).collect(),
        two_names: told.two_names.iter().map(two_names).collect(),
        comparison: told.comparison.as_ref().map(|c| comparison(c, told)),
        shape: shape(&told.shape),
        neck: told.neck.name().to_owned(),
        hand_shape: told.hand.as_ref().map(hand_shape),
        difficulty: told.hand.as_ref().map(difficulty),
        scales_that_fit: told.scales.iter().map(scale).collect(),
        chords_that_fit: told.fitting.vamp.iter().map(chord_fit).collect(),
        chords_by_bar: told.fitting.bars.iter().map(bar).collect(),
        chord_by_chord: told.under_chords.chords.iter().map(chord).collect(),
    }
}

#[derive(Serialize)]
struct OpenStepJson {
    step: u8,
    forms: Vec<FormJson>,
    decided: Option<String>,
    words: String,
}

#[derive(Serialize)]
struct FormJson {
    degree: String,
    chords: Vec<String>,
}

fn open_step(step: &OpenStep) -> OpenStepJson {
    OpenStepJson {
        step: step.number,
        forms: step
            .forms
            .iter()
            .map(|(degree, chords)| FormJson {
                degree: degree.to_string(),
                chords: chords.iter().map(ToString::to_string).collect(),
            })
            .collect(),
        decided: step.decided().map(|d| d.to_string()),
        words: step.words(),
    }
}

#[derive(Serialize)]
struct TwoNamesJson {
    names: Vec<NameJson>,
    words: String,
}

#[derive(Serialize)]
struct NameJson {
    name: String,
    degree: Option<String>,
    why: String,
    places: Vec<Place>,
}

fn two_names(two: &TwoNames) -> TwoNamesJson {
    TwoNamesJson {
        words: two.words(),
        names: two
            .names
            .iter()
            .map(|n| NameJson {
                name: n.name.to_string(),
                degree: n.degree.map(|d| d.to_string()),
                why: n.why.clone(),
                places: n.places.iter().copied().map(place).collect(),
            })
            .collect(),
    }
}

#[derive(Serialize)]
struct ComparisonJson {
    first: String,
    second: String,
    counted_from: String,
    both: Vec<String>,
    only_first: Vec<String>,
    only_second: Vec<String>,
    two_names: Vec<String>,
    words: Vec<String>,
    riff: Option<String>,
}

fn comparison(c: &Comparison, told: &Told<'_>) -> ComparisonJson {
    ComparisonJson {
        first: c.first.to_string(),
        second: c.second.to_string(),
        counted_from: c.first.tonic.to_string(),
        both: names(&c.both),
        only_first: names(&c.only_first),
        only_second: names(&c.only_second),
        two_names: c.two_names.iter().map(|n| n.words(c.first, c.second)).collect(),
        words: c.words(),
        riff: told.of_riff(c),
    }
}

#[derive(Serialize)]
struct ShapeJson {
    intervals: Vec<String>,
    semitones: Vec<i32>,
    contour: String,
    turns: usize,
    lowest: Option<String>,
    highest: Option<String>,
    range_semitones: Option<i32>,
    longest_leap: Option<LeapJson>,
    rhythm: RhythmJson,
    techniques: Vec<CountJson>,
    words: Vec<String>,
}

#[derive(Serialize)]
struct LeapJson {
    interval: String,
    to: Place,
}

#[derive(Serialize)]
struct CountJson {
    name: &'static str,
    count: usize,
}

#[derive(Serialize)]
struct RhythmJson {
    notes: usize,
    gaps: Vec<String>,
    patterns: Vec<PatternJson>,
    values: Vec<String>,
    notes_per_beat: f64,
    notes_per_second: f64,
    fastest_notes_per_second: Option<f64>,
    syncopation_measure: &'static str,
    syncopated: usize,
    syncopated_share: f64,
    syncopations: Vec<SyncopationJson>,
    off_beat: usize,
    off_beat_share: f64,
}

#[derive(Serialize)]
struct PatternJson {
    bar: u32,
    cell: String,
    cells: String,
}

#[derive(Serialize)]
struct SyncopationJson {
    #[serde(flatten)]
    at: Place,
    strength: u8,
}

fn shape(shape: &LineShape) -> ShapeJson {
    let rhythm = &shape.rhythm;
    ShapeJson {
        intervals: shape.intervals.iter().map(ToString::to_string).collect(),
        semitones: shape.semitones(),
        contour: shape.contour.to_string(),
        turns: shape.contour.turns(),
        lowest: shape.range.map(|r| r.0.to_string()),
        highest: shape.range.map(|r| r.1.to_string()),
        range_semitones: shape.range.map(|(low, high)| low.interval_to(high).semitones()),
        longest_leap: shape.longest_leap.map(|(i, at)| LeapJson { interval: i.to_string(), to: place(at) }),
        techniques: shape.techniques.iter().map(|(t, n)| CountJson { name: t.name(), count: *n }).collect(),
        words: shape.words(),
        rhythm: RhythmJson {
            notes: rhythm.notes,
            gaps: rhythm.gaps.iter().map(ToString::to_string).collect(),
            patterns: rhythm
                .patterns
                .iter()
                .map(|p| PatternJson { bar: p.bar, cell: p.cell.to_string(), cells: p.cells.clone() })
                .collect(),
            values: rhythm.values.iter().map(|v| v.words()).collect(),
            notes_per_beat: rhythm.notes_per_beat,
            notes_per_second: rhythm.notes_per_second,
            fastest_notes_per_second: rhythm.fastest.map(|f| f.0),
            syncopation_measure: "Longuet-Higgins and Lee 1984",
            syncopated: rhythm.syncopations.len(),
            syncopated_share: rhythm.syncopated_share(),
            syncopations: rhythm
                .syncopations
                .iter()
                .map(|&(at, strength)| SyncopationJson { at: place(at), strength })
                .collect(),
            off_beat: rhythm.off_beat,
            off_beat_share: rhythm.off_beat_share(),
        },
    }
}

#[derive(Serialize)]
struct HandShapeJson {
    adapted: Vec<String>,
    steps: String,
    footprint: Vec<(u8, u8)>,
    movable: bool,
}

fn hand_shape(hand: &OnNeck) -> HandShapeJson {
    HandShapeJson {
        adapted: said(&hand.adapted),
        steps: hand.shape.to_string(),
        footprint: hand.shape.footprint(),
        movable: hand.shape.is_movable(),
    }
}

#[derive(Serialize)]
struct DifficultyJson {
    level: u8,
    of: u8,
    name: &'static str,
    words: Vec<String>,
    reasons: Vec<ReasonJson>,
    limits: &'static str,
}

#[derive(Serialize)]
struct ReasonJson {
    demand: &'static str,
    level: u8,
    amount: f64,
    words: String,
    at: Option<Place>,
}

fn difficulty(hand: &OnNeck) -> DifficultyJson {
    let found = &hand.difficulty;
    DifficultyJson {
        level: found.level(),
        of: riffkin_fretboard::difficulty::HARDEST,
        name: found.name(),
        words: found.words(),
        reasons: found
            .reasons()
            .iter()
            .map(|r| ReasonJson {
                demand: r.demand.name(),
                level: r.level,
                amount: r.amount,
                words: r.words.clone(),
                at: r.at.map(place),
            })
            .collect(),
        limits: BY_HAND,
    }
}

#[derive(Serialize)]
struct ScaleJson {
    name: &'static str,
    share: f64,
    holds: Vec<String>,
    lacks: Vec<String>,
    adds: Vec<String>,
    lacks_of_chords: Vec<String>,
    against_key: Vec<String>,
    same_notes: Option<String>,
    words: String,
}

fn scale(fit: &ScaleFit) -> ScaleJson {
    ScaleJson {
        name: fit.mode.name(),
        share: fit.share,
        holds: names(&fit.holds),
        lacks: names(&fit.lacks),
        adds: names(&fit.adds),
        lacks_of_chords: names(&fit.lacks_of_chords),
        against_key: names(&fit.against_key),
        same_notes: fit.same_notes.map(|k| k.to_string()),
        words: fit.words(),
    }
}

#[derive(Serialize)]
struct ChordFitJson {
    chord: String,
    numeral: Option<String>,
    score: f64,
    share: f64,
    tones: Vec<String>,
    unheard: Vec<String>,
    others: Vec<String>,
    rubs: Vec<String>,
    written: bool,
    evidence: String,
}

fn chord_fit(fit: &ChordFit) -> ChordFitJson {
    let of_root = |degrees: &[Degree]| -> Vec<String> {
        degrees.iter().filter_map(|d| d.of(fit.chord.root)).map(|n| n.to_string()).collect()
    };
    ChordFitJson {
        chord: fit.chord.to_string(),
        numeral: fit.numeral.clone(),
        score: fit.score,
        share: fit.share,
        tones: of_root(&fit.tones),
        unheard: of_root(&fit.unheard),
        others: notes(&fit.others),
        rubs: fit.rubs.iter().map(|r| r.0.to_string()).collect(),
        written: fit.written,
        evidence: fit.words(),
    }
}

#[derive(Serialize)]
struct BarJson {
    bar: u32,
    chords: Vec<ChordFitJson>,
}

fn bar(bar: &BarChords) -> BarJson {
    BarJson { bar: bar.bar, chords: bar.fits.iter().map(chord_fit).collect() }
}

#[derive(Serialize)]
struct ChordJson {
    chord: String,
    numeral: Option<String>,
    #[serde(flatten)]
    from: Place,
    onset: String,
    duration: String,
    scales: Vec<ImpliedJson>,
    held: Option<OverJson>,
    notes: Vec<OverJson>,
}

#[derive(Serialize)]
struct ImpliedJson {
    words: String,
    chord_degrees: Vec<String>,
    key_modes: Vec<&'static str>,
}

#[derive(Serialize)]
struct OverJson {
    note: usize,
    chord_degree: String,
    role: &'static str,
    words: String,
}

fn chord(reading: &ChordReading) -> ChordJson {
    let over = |n: &NoteOver| OverJson {
        note: n.line,
        chord_degree: n.degree.to_string(),
        role: n.role.name(),
        words: n.words(reading.chord),
    };
    ChordJson {
        chord: reading.chord.to_string(),
        numeral: reading.numeral.clone(),
        from: place(reading.from),
        onset: reading.onset.to_string(),
        duration: reading.length.to_string(),
        scales: reading
            .scales
            .iter()
            .map(|s| ImpliedJson {
                words: s.words(reading.chord.root),
                chord_degrees: names(&s.degrees),
                key_modes: s.key_modes.iter().map(|m| m.name()).collect(),
            })
            .collect(),
        held: reading.held.as_ref().map(over),
        notes: reading.notes.iter().map(over).collect(),
    }
}
