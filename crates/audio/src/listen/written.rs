//! Heard notes become a riff: a pulse is found, the rhythm quantised, the notes named.

use riffkin_score::Warning;
use riffkin_score::analysis::explain::name_by_ear;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::Note;
use riffkin_score::pitch::{Midi, Pitch};
use riffkin_score::rhythm::{self, Options, Played};
use riffkin_score::riff::{Header, Riff};
use riffkin_score::tempo::Tempo;

use super::HeardNote;
use super::pulse::{Pulse, pulse};

/// What is known beforehand.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Asked {
    /// The meter.
    pub meter: Meter,
    /// The tempo, if stated; the playing may be 3 % off.
    pub tempo: Option<Tempo>,
    /// The key, if stated.
    pub key: Option<Key>,
}

/// Below this confidence a note is named as doubtful.
const DOUBTFUL: f64 = 0.5;
/// Most doubtful notes that are named one by one.
const MOST_NAMED: usize = 5;

/// The riff that the notes make; the first note's beat is taken for the first of its bar, which is said.
///
/// `None` without notes.
#[must_use]
pub fn written(notes: &[HeardNote], asked: &Asked) -> Option<(Riff, Vec<Warning>)> {
    let onsets: Vec<f64> = notes.iter().map(|n| n.onset_s).collect();
    let beat = asked.meter.beat_length().to_f64();
    let stated = asked.tempo.map(|t| t.seconds_per_quarter() * beat);
    let found = pulse(&onsets, asked.meter, stated)?;
    let played: Vec<Played> = notes
        .iter()
        .zip(&found.onsets)
        .map(|(n, &onset)| Played {
            onset: onset * beat,
            length: (found.beats_at(n.offset_s) - onset) * beat,
            midi: n.midi,
        })
        .collect();
    let quantised = rhythm::quantise(&played, &Options::new(asked.meter)).ok()?;
    let timed = quantised.timed(|n| Note::plain(plain(n.midi)));
    let bars = rhythm::notate(&timed, &quantised.layout).ok()?;
    let tempo = asked.tempo.or_else(|| tempo(&found, asked.meter)).unwrap_or_default();
    let header = Header { key: asked.key, tempo, feel: quantised.feel, ..Header::default() };
    let riff = Riff::new(header, bars).ok()?;
    let mut warnings = quantised.warnings.clone();
    if asked.tempo.is_none() {
        warnings.push(Warning::whole(format!(
            "tempo {} and meter {} are guessed",
            per_minute(tempo),
            asked.meter
        )));
    }
    warnings.push(Warning::whole("the beat of the first note is taken for the first of its bar"));
    warnings.extend(doubts(notes));
    Some((name_by_ear(&riff), warnings))
}

fn plain(midi: u8) -> Pitch {
    Pitch::simplest(Midi::saturating(midi))
}

/// The tempo of the pulse, on the whole number when that is within one part in 150.
fn tempo(pulse: &Pulse, meter: Meter) -> Option<Tempo> {
    let exact = 60.0 / pulse.beat_s;
    let whole = exact.round();
    let shown = if (exact / whole - 1.0).abs() < 1.0 / 150.0 { whole } else { (exact * 10.0).round() / 10.0 };
    let unit = riffkin_score::value::NoteValue::of_length(meter.beat_length())?;
    Tempo::new(shown, unit)
}

fn per_minute(tempo: Tempo) -> String {
    format!("{} {}s a minute", tempo.per_minute(), tempo.unit().words())
}

/// The least sure notes, by their instant in the recording.
fn doubts(notes: &[HeardNote]) -> Vec<Warning> {
    let mut doubtful: Vec<&HeardNote> = notes.iter().filter(|n| n.confidence < DOUBTFUL).collect();
    doubtful.sort_by(|a, b| a.confidence.total_cmp(&b.confidence));
    let more = doubtful.len().saturating_sub(MOST_NAMED);
    let mut warnings: Vec<Warning> = doubtful
        .iter()
        .take(MOST_NAMED)
        .map(|n| {
            let pitch = plain(n.midi);
            Warning::at(
                format!("{:.2} s", n.onset_s),
                format!("{pitch} is doubtful ({:.0} %); check it by ear", n.confidence * 100.0),
            )
        })
        .collect();
    if more > 0 {
        warnings.push(Warning::whole(format!("{more} more notes are doubtful")));
    }
    warnings
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::listen::Manner;

    fn heard(line: &[(f64, f64, u8)], per_minute: f64) -> Vec<HeardNote> {
        let second = |beats: f64| 0.5 + beats * 60.0 / per_minute;
        line.iter()
            .map(|&(at, length, midi)| HeardNote {
                onset_s: second(at),
                offset_s: second(at + length * 0.95),
                midi,
                confidence: 0.9,
                cents: 0.0,
                manner: Manner::Struck,
            })
            .collect()
    }

    #[test]
    fn a_line_in_seconds_becomes_bars() {
        let line =
            [(0.0, 1.0, 38), (1.0, 0.5, 41), (1.5, 0.5, 43), (2.0, 1.0, 45), (3.0, 1.0, 43), (4.0, 4.0, 38)];
        let asked = Asked { meter: Meter::FOUR_FOUR, tempo: None, key: None };
        let (riff, warnings) = written(&heard(&line, 96.0), &asked).unwrap();
        assert_eq!(riff.header().tempo.per_minute(), 96.0);
        let found: Vec<(f64, f64, u8)> = riff
            .line()
            .iter()
            .map(|n| (n.onset.to_f64(), n.length.to_f64(), n.note.pitch.midi().number()))
            .collect();
        assert_eq!(found, line);
        assert!(warnings.iter().any(|w| w.message.contains("guessed")), "{warnings:?}");
    }

    #[test]
    fn nothing_heard_makes_no_riff() {
        assert_eq!(written(&[], &Asked { meter: Meter::FOUR_FOUR, tempo: None, key: None }), None);
    }

    #[test]
    fn doubtful_notes_are_named_first() {
        let mut notes = heard(&[(0.0, 1.0, 38), (1.0, 1.0, 41), (2.0, 2.0, 43)], 96.0);
        notes[1].confidence = 0.2;
        let asked = Asked { meter: Meter::FOUR_FOUR, tempo: Tempo::quarters(96.0), key: None };
        let (_, warnings) = written(&notes, &asked).unwrap();
        assert!(warnings.iter().any(|w| w.place == "1.12 s" && w.message.starts_with("F2")), "{warnings:?}");
    }
}
