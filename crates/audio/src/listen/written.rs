//! Heard notes become a riff: the pulse is found, the rhythm quantised, the notes named.
//!
//! What is written is the plainest right reading; what was played is kept beside it in a [`Reading`].

mod marks;
mod reading;

use riffkin_score::Warning;
use riffkin_score::analysis::explain::name_by_ear;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::pitch::{Midi, Pitch};
use riffkin_score::rhythm::{self, FeelWanted, Options, Played};
use riffkin_score::riff::{Header, Riff};
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::time::Quarters;

pub use self::reading::{Alternative, ReadNote, Reading, TempoPoint};
use super::pulse::{Known, Pulse, Tone, pulse};
use super::{HeardNote, Manner};

/// What is known beforehand. What is `None` is found out; what is stated is never overruled.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Asked {
    /// The meter.
    pub meter: Option<Meter>,
    /// The tempo; the playing may be 3 % off and drift from there. With no meter stated, a tempo in quarters counts the
    /// beats, whatever their value turns out to be (a click in 6/8 counts dotted quarters).
    pub tempo: Option<Tempo>,
    /// The instant of the first beat of bar 1, in seconds of the recording; notes before it are a pickup.
    pub first_beat_s: Option<f64>,
    /// A count-in before bar 1; looked at when `first_beat_s` is not given.
    pub count_in: Option<CountIn>,
    /// Length of the pickup, from the first note to the first bar line; zero when the first note is on it. Looked at when
    /// neither of the two above is given.
    pub pickup: Option<Quarters>,
    /// Straight or swung.
    pub feel: Option<Feel>,
    /// The key.
    pub key: Option<Key>,
}

/// Clicks before the first bar.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct CountIn {
    /// How many counted beats it lasts.
    pub beats: u8,
    /// When its first click sounds, in seconds of the recording.
    pub first_s: f64,
}

/// What heard notes became.
#[derive(Clone, Debug, PartialEq)]
pub struct Written {
    /// The riff.
    pub riff: Riff,
    /// What was played, beside it.
    pub reading: Reading,
    /// What was guessed, left out or is in doubt.
    pub warnings: Vec<Warning>,
}

/// Below this confidence a note is named as doubtful.
const DOUBTFUL: f64 = 0.5;
/// Most doubtful notes that are named one by one.
const MOST_NAMED: usize = 5;
/// Share from which another reading of the pulse is named.
const NAMED_SHARE: f64 = 0.15;
/// Drift of the tempo from which it is named.
const NAMED_DRIFT: f64 = 0.03;

/// The riff that the notes make. Notes joined to the one before become hammer-ons, pull-offs or slides, dead notes are
/// written as such.
///
/// `None` without notes, or when they reach over more bars than a riff may have.
#[must_use]
pub fn written(notes: &[HeardNote], asked: &Asked) -> Option<Written> {
    let tones: Vec<Tone> = notes
        .iter()
        .map(|n| Tone {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            midi: (n.manner != Manner::Dead).then_some(n.midi),
            level_db: (n.manner == Manner::Struck).then_some(n.level_db),
        })
        .collect();
    let readings = pulse(&tones, &known(asked));
    let found = readings.first()?;
    let beat = found.meter.beat_length().to_f64();
    let at = |second: f64| found.clock.beats_at(second) * beat;
    let played: Vec<Played> = notes
        .iter()
        .map(|n| Played { onset: at(n.onset_s), length: at(n.offset_s) - at(n.onset_s), midi: n.midi })
        .collect();
    let played = marks::dead_notes_held(notes, played);
    let options = Options { feel: FeelWanted::Known(found.feel), ..Options::new(found.meter) };
    let quantised = rhythm::quantise(&played, &options).ok()?;
    let timed = quantised.timed(|n| marks::note(notes, n.played, n.short));
    let bars = rhythm::notate(&timed, &quantised.layout).ok()?;
    let tempo = asked.tempo.filter(|_| asked.meter.is_some()).or_else(|| tempo(found)).unwrap_or_default();
    let header = Header { key: asked.key, tempo, feel: quantised.feel, ..Header::default() };
    let riff = Riff::new(header, bars).ok()?;
    let reading = reading::reading(notes, &readings, &quantised, tempo);
    let mut warnings = quantised.warnings.clone();
    warnings.extend(guesses(asked, &reading));
    warnings.extend(doubts(notes));
    Some(Written { riff: name_by_ear(&riff), reading, warnings })
}

fn known(asked: &Asked) -> Known {
    let beat = |tempo: Tempo| match asked.meter {
        Some(meter) => tempo.seconds_per_quarter() * meter.beat_length().to_f64(),
        None => 60.0 / tempo.per_minute(),
    };
    let bar_line = match (asked.first_beat_s, asked.count_in) {
        (Some(at), _) => Some((at, 0)),
        (None, Some(count)) => Some((count.first_s, count.beats)),
        (None, None) => None,
    };
    Known {
        meter: asked.meter,
        beat_s: asked.tempo.map(beat),
        bar_line: bar_line.filter(|b| b.0.is_finite()),
        pickup: asked
            .pickup
            .map(|p| p.to_f64() / asked.meter.unwrap_or(Meter::FOUR_FOUR).beat_length().to_f64()),
        feel: asked.feel,
    }
}

fn plain(midi: u8) -> Pitch {
    Pitch::simplest(Midi::saturating(midi))
}

/// The tempo of the pulse, on the whole number when that is within one part in 150.
fn tempo(pulse: &Pulse) -> Option<Tempo> {
    let exact = pulse.per_minute();
    let whole = exact.round();
    let shown = if (exact / whole - 1.0).abs() < 1.0 / 150.0 { whole } else { (exact * 10.0).round() / 10.0 };
    let unit = riffkin_score::value::NoteValue::of_length(pulse.meter.beat_length())?;
    Tempo::new(shown, unit)
}

/// What was found out and not stated, and what else it could be.
fn guesses(asked: &Asked, reading: &Reading) -> Vec<Warning> {
    let mut said = Vec::new();
    let guessed: Vec<String> = [
        asked.tempo.is_none().then(|| format!("tempo {}", per_minute(reading.tempo))),
        asked.meter.is_none().then(|| format!("meter {}", reading.meter)),
        (asked.first_beat_s.is_none() && asked.count_in.is_none() && asked.pickup.is_none()).then(|| {
            if reading.pickup == Quarters::ZERO {
                "the first bar line".to_owned()
            } else {
                format!("a pickup of {} quarters", reading.pickup)
            }
        }),
    ]
    .into_iter()
    .flatten()
    .collect();
    if !guessed.is_empty() {
        said.push(Warning::whole(format!("guessed: {}", guessed.join(", "))));
    }
    for other in reading.alternatives.iter().skip(1).filter(|a| a.share >= NAMED_SHARE) {
        said.push(Warning::whole(format!(
            "it may also be {} at {} ({:.0} %); state the tempo or the meter if so",
            other.meter,
            per_minute(other.tempo),
            other.share * 100.0
        )));
    }
    let (slowest, fastest) = reading.tempo_range();
    if fastest / slowest > 1.0 + NAMED_DRIFT {
        said.push(Warning::whole(format!(
            "the tempo moves between {slowest:.0} and {fastest:.0} beats a minute; the bars follow it"
        )));
    }
    said
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
                level_db: 0.0,
            })
            .collect()
    }

    #[test]
    fn a_line_in_seconds_becomes_bars() {
        let line =
            [(0.0, 1.0, 38), (1.0, 0.5, 41), (1.5, 0.5, 43), (2.0, 1.0, 45), (3.0, 1.0, 43), (4.0, 4.0, 38)];
        let asked = Asked::default();
        let Written { riff, warnings, .. } = written(&heard(&line, 96.0), &asked).unwrap();
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
        assert_eq!(written(&[], &Asked::default()), None);
    }

    #[test]
    fn doubtful_notes_are_named_first() {
        let mut notes = heard(&[(0.0, 1.0, 38), (1.0, 1.0, 41), (2.0, 2.0, 43)], 96.0);
        notes[1].confidence = 0.2;
        let asked = Asked { meter: Some(Meter::FOUR_FOUR), tempo: Tempo::quarters(96.0), ..Asked::default() };
        let Written { warnings, .. } = written(&notes, &asked).unwrap();
        assert!(warnings.iter().any(|w| w.place == "1.12 s" && w.message.starts_with("F2")), "{warnings:?}");
    }
}
