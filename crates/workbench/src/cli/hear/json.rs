//! What was heard as JSON; described in docs/json.md.

use riffkin_audio::listen::Manner;
use serde::Serialize;

use super::super::json::{VERSION, said};
use super::manner;
use crate::app::hearing::Heard;

#[derive(Serialize)]
pub(super) struct HeardJson {
    version: u32,
    from_s: f64,
    to_s: f64,
    duration_s: f64,
    reference_hz: f64,
    meter: Option<String>,
    quarters_per_minute: Option<f64>,
    pickup: Option<String>,
    spread_ms: Option<f64>,
    riff: Option<String>,
    notes: Vec<NoteJson>,
    beats: Vec<BeatJson>,
    alternatives: Vec<AlternativeJson>,
    warnings: Vec<String>,
}

#[derive(Serialize)]
struct NoteJson {
    onset_s: f64,
    offset_s: f64,
    midi: Option<u8>,
    pitch: Option<String>,
    cents: f64,
    confidence: f64,
    manner: &'static str,
    bar: Option<u32>,
    beat: Option<String>,
    onset: Option<String>,
    duration: Option<String>,
    late_ms: Option<f64>,
}

#[derive(Serialize)]
struct BeatJson {
    second: f64,
    onset: f64,
    beats_per_minute: f64,
}

#[derive(Serialize)]
struct AlternativeJson {
    meter: String,
    beats_per_minute: f64,
    beat: String,
    share: f64,
    first_bar_s: f64,
}

pub(super) fn heard(heard: &Heard) -> HeardJson {
    let written = heard.written.as_ref();
    let reading = written.map(|w| &w.reading);
    let names = heard.names();
    let notes = heard.notes.iter().zip(names).enumerate().map(|(i, (n, name))| {
        let read = reading.and_then(|r| r.notes.get(i)).filter(|r| r.onset.is_some());
        let place = written.zip(read.and_then(|r| r.onset)).map(|(w, at)| w.riff.place_of(at));
        let pitched = n.manner != Manner::Dead;
        NoteJson {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            midi: pitched.then_some(n.midi),
            pitch: pitched.then(|| name.to_string()),
            cents: n.cents,
            confidence: n.confidence,
            manner: manner(n.manner),
            bar: place.map(|p| p.bar),
            beat: place.map(|p| p.beat.to_string()),
            onset: read.and_then(|r| r.onset).map(|q| q.to_string()),
            duration: read.and_then(|r| r.length).map(|q| q.to_string()),
            late_ms: read.map(|r| r.late_ms),
        }
    });
    HeardJson {
        version: VERSION,
        from_s: heard.region.0,
        to_s: heard.region.1,
        duration_s: heard.region.1 - heard.region.0,
        reference_hz: heard.reference_hz,
        meter: reading.map(|r| r.meter.to_string()),
        quarters_per_minute: written.map(|w| 60.0 / w.riff.header().tempo.seconds_per_quarter()),
        pickup: reading.map(|r| r.pickup.to_string()),
        spread_ms: reading.map(|r| r.spread_ms),
        riff: written.map(|w| riffkin_formats::riff_text::print(&w.riff)),
        notes: notes.collect(),
        beats: reading
            .map(|r| r.curve.as_slice())
            .unwrap_or_default()
            .iter()
            .map(|p| BeatJson { second: p.second, onset: p.quarters, beats_per_minute: p.per_minute })
            .collect(),
        alternatives: reading
            .map(|r| r.alternatives.as_slice())
            .unwrap_or_default()
            .iter()
            .map(|a| AlternativeJson {
                meter: a.meter.to_string(),
                beats_per_minute: a.tempo.per_minute(),
                beat: a.tempo.unit().words(),
                share: a.share,
                first_bar_s: a.bar_line_s,
            })
            .collect(),
        warnings: said(&heard.warnings),
    }
}
