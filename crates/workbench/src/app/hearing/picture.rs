//! The sound with the heard notes over it.

use riffkin_audio::listen::Manner;
use riffkin_audio::listen::portrait::{LOWEST_MIDI, PortraitError, portrait};
use riffkin_engrave::portrait::{BarLine, Form, HeardBar, Portrait, Sound, draw};
use riffkin_engrave::scene::Scene;
use riffkin_score::pitch::Pitch;

use super::{DOUBTFUL, Heard};

/// Draws what was heard, under a title; `None` when the sound was not kept.
///
/// # Errors
/// [`PortraitError`] when it is too long.
pub fn picture(heard: &Heard, title: &str) -> Result<Option<Scene>, PortraitError> {
    let Some(clip) = &heard.sound else { return Ok(None) };
    let seen = portrait(clip, heard.reference_hz)?;
    let notes = bars_of_notes(heard);
    let bars = bar_lines(heard);
    Ok(Some(draw(&Portrait {
        title: title.to_owned(),
        caption: caption(heard),
        sound: Sound {
            start_s: heard.region.0,
            column_s: seen.column_s,
            columns: seen.columns,
            lowest_midi: LOWEST_MIDI,
            rows_per_semitone: seen.rows_per_semitone,
            rows: seen.rows,
            levels: &seen.levels,
        },
        notes: &notes,
        bars: &bars,
    })))
}

/// `B♭1`.
fn printed(pitch: Pitch) -> String {
    format!("{}{}", pitch.name().print(), pitch.octave())
}

fn bars_of_notes(heard: &Heard) -> Vec<HeardBar> {
    let names = heard.names();
    heard
        .notes
        .iter()
        .zip(names)
        .map(|(n, name)| HeardBar {
            from_s: n.onset_s,
            to_s: n.offset_s,
            midi: n.midi,
            name: printed(name),
            form: match n.manner {
                Manner::Struck => Form::Struck,
                Manner::Joined => Form::Joined,
                Manner::Dead => Form::Dead,
            },
            doubtful: n.confidence < DOUBTFUL,
        })
        .collect()
}

/// Every beat of the tempo curve, those that begin a bar with its number.
fn bar_lines(heard: &Heard) -> Vec<BarLine> {
    let Some(written) = &heard.written else { return Vec::new() };
    let starts: Vec<(f64, u32)> = (0..written.riff.bars().len())
        .map(|i| (written.riff.bar_start(i).to_f64(), written.riff.bar_number(i)))
        .collect();
    let at = |quarters: f64| starts.iter().find(|s| (s.0 - quarters).abs() < 1e-6).map(|s| s.1);
    written
        .reading
        .curve
        .iter()
        .map(|point| BarLine { at_s: point.second, bar: at(point.quarters) })
        .filter(|line| line.at_s >= heard.region.0 && line.at_s < heard.region.1)
        .collect()
}

fn caption(heard: &Heard) -> String {
    let dead = heard.notes.len() - heard.pitched().count();
    let doubtful = heard.notes.iter().filter(|n| n.confidence < DOUBTFUL).count();
    let count = |n: usize, one: &str, many: &str| format!("{n} {}", if n == 1 { one } else { many });
    let mut words = vec![count(heard.notes.len() - dead, "note", "notes")];
    if dead > 0 {
        words.push(count(dead, "dead note", "dead notes"));
    }
    if doubtful > 0 {
        words.push(format!("{doubtful} of them doubtful"));
    }
    words.push(format!("A4 = {:.1} Hz", heard.reference_hz));
    if let Some(written) = &heard.written {
        let tempo = written.reading.tempo;
        words.push(format!(
            "{} at {} {}s a minute",
            written.reading.meter,
            tempo.per_minute(),
            tempo.unit().words()
        ));
    }
    words.join(", ")
}
