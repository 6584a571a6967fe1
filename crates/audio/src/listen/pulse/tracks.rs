//! Beats at every tempo that may be meant, and the notes read against each.

use super::clock::{Clock, Sighting};
use super::course::{self, Kind, course};
use super::division::timing;
use super::weights::TEMPI;
use super::{EvidenceKind, Known, LEAST_SPREAD_S, Tone, WANDER};
use riffkin_score::meter::Meter;
use riffkin_score::rhythm::{self, FeelWanted, Options, Played, Quantised};

/// Standard deviation of an even player's onsets before it is measured, in seconds.
const SPREAD_S: f64 = 0.01;
/// The same of an uneven player, as a part of the beat.
const SPREAD: f64 = 0.04;
/// How far a beat's length may be from the stated or the band's middle one, as a ratio.
const AROUND: f64 = 1.08;
/// Ratio between the middles of neighbouring bands.
const BAND: f64 = 1.12;

pub(super) fn kind_of(meter: Meter) -> Kind {
    if meter.is_compound() { Kind::Threes } else { Kind::Twos }
}

/// Tempi near one, for beats of one kind.
#[derive(Clone, Copy, Debug)]
pub(super) struct Band {
    pub(super) kind: Kind,
    pub(super) beat_s: f64,
}

pub(super) fn bands(known: &Known) -> Vec<Band> {
    let kinds: Vec<Kind> = match known.meter {
        Some(meter) => vec![kind_of(meter)],
        None => vec![Kind::Twos, Kind::Threes],
    };
    let mut bands = Vec::new();
    for kind in kinds {
        match known.beat_s {
            Some(beat_s) => bands.push(Band { kind, beat_s }),
            None => {
                let (slowest, fastest) = TEMPI;
                let count = ((fastest / slowest).ln() / BAND.ln()).ceil() as i32;
                bands.extend((0..=count).map(|k| Band { kind, beat_s: 60.0 / slowest / BAND.powi(k) }));
            }
        }
    }
    bands
}

/// Notes read against a clock of one kind of beat.
pub(super) struct Track {
    pub(super) kind: Kind,
    pub(super) clock: Clock,
    pub(super) reading: Quantised,
    pub(super) spread_s: f64,
}

/// The courses of beats in these bands, read and smoothed; near twins left out.
pub(super) fn tracks(tones: &[Tone], known: &Known, bands: &[Band]) -> Vec<Track> {
    let onsets: Vec<f64> = tones.iter().map(|t| t.onset_s).collect();
    let mut tracks: Vec<Track> = Vec::new();
    for band in bands {
        if let (Some(_), Some((at, _))) = (known.beat_s, known.bar_line) {
            // The player may simply have kept to the click.
            let before = ((at - onsets[0]) / band.beat_s).ceil().max(0.0) + 1.0;
            let click = Clock::even(at - before * band.beat_s, band.beat_s);
            tracks.extend(read_and_smoothed(tones, click, band.kind, known));
        }
        // As an even player would be followed, and as an uneven one.
        for spread_s in [SPREAD_S, SPREAD_S.max(SPREAD * band.beat_s)] {
            let asked = course::Known {
                periods: (band.beat_s / AROUND, band.beat_s * AROUND),
                beat_at: known.bar_line.map(|b| b.0),
                kind: band.kind,
                spread_s,
                wander: WANDER.0,
            };
            let Some(clock) = course(&onsets, &asked).and_then(|beats| Clock::new(beats, 0)) else {
                continue;
            };
            if tracks.iter().any(|t| is_twin(t, &clock, band.kind, onsets[onsets.len() / 2])) {
                continue;
            }
            let Some(track) = read_and_smoothed(tones, clock, band.kind, known) else { continue };
            if known.bar_line.is_none() {
                // The same tempo, the beats on what were its parts.
                for part in parts_to_be_beats(&track) {
                    let shifted = track.clock.shifted(part);
                    tracks.extend(shifted.and_then(|c| read_and_smoothed(tones, c, band.kind, known)));
                }
            }
            tracks.push(track);
        }
    }
    if known.beat_s.is_none() {
        tracks.extend(relatives(tones, known, &tracks));
    }
    tracks
}

fn is_twin(track: &Track, clock: &Clock, kind: Kind, around: f64) -> bool {
    let off = track.clock.beats_at(clock.second_at(clock.beats_at(around).round()));
    track.kind == kind
        && (track.clock.beat_s() / clock.beat_s()).ln().abs() < 0.006
        && (off - off.round()).abs() < 0.1
}

/// Beats that are multiples and parts of the beats that fit best, so that no reading is missed because its own course was.
fn relatives(tones: &[Tone], known: &Known, tracks: &[Track]) -> Vec<Track> {
    let fit = |t: &Track| EvidenceKind::Timing.weight() * timing(t) + t.reading.notes.len() as f64 * 0.2;
    let Some(best) = tracks.iter().min_by(|a, b| fit(a).total_cmp(&fit(b))) else { return Vec::new() };
    let around = tones[tones.len() / 2].onset_s;
    let mut found: Vec<Track> = Vec::new();
    let first = best.clock.beats_at(tones[0].onset_s).round();
    let kinds: &[Kind] = match known.meter {
        Some(meter) if meter.is_compound() => &[Kind::Threes],
        Some(_) => &[Kind::Twos],
        None => &[Kind::Twos, Kind::Threes],
    };
    for ratio in [0.5f64, 2.0, 1.5, 2.0 / 3.0, 0.75, 4.0 / 3.0, 3.0, 1.0 / 3.0, 4.0, 0.25, 1.0] {
        for &kind in kinds {
            for offset in 0..(ratio.ceil() as i32) {
                let Some(clock) = best.clock.rated(ratio, first + f64::from(offset)) else { continue };
                let tempo = 60.0 / clock.beat_s();
                let twin = |t: &Track| is_twin(t, &clock, kind, around);
                let good = |t: &Track| twin(t) && fit(t) < fit(best) + 0.04 * tones.len() as f64;
                if tempo < TEMPI.0 || tempo > TEMPI.1 || tracks.iter().any(good) || found.iter().any(twin) {
                    continue;
                }
                found.extend(read_and_smoothed(tones, clock, kind, known));
            }
        }
    }
    found
}

/// The parts of the beat on which so many notes start that they might be the beats themselves; the first note's part is
/// always one.
fn parts_to_be_beats(track: &Track) -> Vec<f64> {
    let parts: i64 = if track.kind == Kind::Twos { 4 } else { 6 };
    let mut count = vec![0usize; parts as usize];
    for (i, note) in track.reading.notes.iter().enumerate() {
        let beat = (note.onset.to_f64() + track.reading.starts) / quarters(track.kind) * parts as f64;
        if (beat - beat.round()).abs() < 1e-6 {
            let part = (beat.round() as i64).rem_euclid(parts) as usize;
            count[part] += if i == 0 { track.reading.notes.len() } else { 1 };
        }
    }
    let least = track.reading.notes.len() / 6 + 1;
    (1..parts).filter(|k| count[*k as usize] >= least).map(|k| k as f64 / parts as f64).collect()
}

pub(super) fn quarters(kind: Kind) -> f64 {
    if kind == Kind::Twos { 1.0 } else { 1.5 }
}

/// Reads the notes, moves the clock to the places they got, and reads them again.
fn read_and_smoothed(tones: &[Tone], clock: Clock, kind: Kind, known: &Known) -> Option<Track> {
    let mut clock = clock;
    let mut reading = read(tones, &clock, kind, known)?;
    for _ in 0..2 {
        let spread_s = (reading.spread / quarters(kind) * clock.beat_s()).max(LEAST_SPREAD_S);
        let mut seen: Vec<Sighting> = reading
            .notes
            .iter()
            .map(|n| {
                let second = tones[n.played].onset_s;
                Sighting { beat: clock.beats_at(second) - n.late / quarters(kind), second }
            })
            .collect();
        if let Some((second, _)) = known.bar_line {
            // A stated beat is heard many times as well as a note is.
            let beat = clock.beats_at(second).round();
            seen.extend(std::iter::repeat_n(Sighting { beat, second }, 8));
        }
        clock = clock.smoothed(&seen, spread_s, WANDER.1)?;
        reading = read(tones, &clock, kind, known)?;
    }
    let spread_s = reading.spread / quarters(kind) * clock.beat_s();
    Some(Track { kind, clock, reading, spread_s })
}

/// The notes against beats alone, without bars: every beat is a bar of its own.
fn read(tones: &[Tone], clock: &Clock, kind: Kind, known: &Known) -> Option<Quantised> {
    let meter = match kind {
        Kind::Twos => Meter::grouped(&[1], 4)?,
        Kind::Threes => Meter::grouped(&[3], 8)?,
    };
    let scale = quarters(kind);
    let played: Vec<Played> = tones
        .iter()
        .map(|t| {
            let onset = clock.beats_at(t.onset_s) * scale;
            Played { onset, length: clock.beats_at(t.offset_s) * scale - onset, midi: t.midi.unwrap_or(0) }
        })
        .collect();
    let mut options = Options { habits: false, ..Options::new(meter) };
    if let Some(feel) = known.feel {
        options.feel = FeelWanted::Known(feel);
    }
    rhythm::quantise(&played, &options).ok()
}
