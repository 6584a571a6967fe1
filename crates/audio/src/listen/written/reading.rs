//! What was played, beside what is written.

use super::super::HeardNote;
use super::super::pulse::Pulse;
use riffkin_score::meter::Meter;
use riffkin_score::rhythm::Quantised;
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

/// A heard note and its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ReadNote {
    /// When it was heard, in seconds of the recording.
    pub onset_s: f64,
    /// When it stopped, in seconds.
    pub offset_s: f64,
    /// Where it was played on the clock of the tempo curve, in quarters from the start of the riff (as
    /// `Riff::line` counts), with its swing and its inexactness.
    pub played: f64,
    /// Where it is written, in quarters from the start of the riff; `None` for a note that was left out.
    pub onset: Option<Quarters>,
    /// How long it is written.
    pub length: Option<Quarters>,
    /// How much later it was played than it is written (its swing counted in), in milliseconds; early is below zero, and 0
    /// for a note that was left out.
    pub late_ms: f64,
}

/// The tempo at one beat.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TempoPoint {
    /// The instant of the beat, in seconds of the recording.
    pub second: f64,
    /// Its place in quarters from the start of the riff.
    pub quarters: f64,
    /// Counted beats a minute, from this beat to the next.
    pub per_minute: f64,
}

/// Another way to hear the pulse.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Alternative {
    /// The meter.
    pub meter: Meter,
    /// The tempo, in the meter's counted beats.
    pub tempo: Tempo,
    /// Probability among the alternatives, 0 to 1.
    pub share: f64,
    /// When bar 1 starts, in seconds of the recording.
    pub bar_line_s: f64,
}

/// What was played, beside what is written.
#[derive(Clone, Debug, PartialEq)]
pub struct Reading {
    /// Every heard note, in the order given.
    pub notes: Vec<ReadNote>,
    /// The tempo curve: every beat from the one at or before the first note.
    pub curve: Vec<TempoPoint>,
    /// The meter it was read in.
    pub meter: Meter,
    /// The tempo it is written with.
    pub tempo: Tempo,
    /// Straight or swung.
    pub feel: Feel,
    /// Length of the pickup bar; zero for none.
    pub pickup: Quarters,
    /// When the riff's first bar (the pickup, when there is one) starts, in seconds of the recording.
    pub start_s: f64,
    /// Standard deviation of the onsets around their places, in milliseconds.
    pub spread_ms: f64,
    /// The ways to hear the pulse, the one that was taken first.
    pub alternatives: Vec<Alternative>,
}

impl Reading {
    /// Slowest and fastest of the tempo curve over four beats together, in counted beats a minute.
    #[must_use]
    pub fn tempo_range(&self) -> (f64, f64) {
        const BEATS: usize = 4;
        let slow: Vec<f64> = self
            .curve
            .windows(BEATS)
            .map(|w| w.iter().map(|p| p.per_minute).sum::<f64>() / BEATS as f64)
            .collect();
        match (slow.iter().copied().reduce(f64::min), slow.iter().copied().reduce(f64::max)) {
            (Some(low), Some(high)) => (low, high),
            _ => {
                let one = self.curve.first().map_or(self.tempo.per_minute(), |p| p.per_minute);
                (one, one)
            }
        }
    }
}

/// Most alternatives kept.
const MOST: usize = 6;

/// Puts the reading together; `readings` are the pulses with the one taken first.
pub(super) fn reading(
    notes: &[HeardNote],
    readings: &[Pulse],
    quantised: &Quantised,
    tempo: Tempo,
) -> Reading {
    let mut read: Vec<ReadNote> = notes
        .iter()
        .map(|n| ReadNote {
            onset_s: n.onset_s,
            offset_s: n.offset_s,
            played: 0.0,
            onset: None,
            length: None,
            late_ms: 0.0,
        })
        .collect();
    let alternatives = readings
        .iter()
        .take(MOST)
        .filter_map(|p| {
            let unit = NoteValue::of_length(p.meter.beat_length())?;
            Some(Alternative {
                meter: p.meter,
                tempo: Tempo::new((p.per_minute() * 10.0).round() / 10.0, unit)?,
                share: p.share,
                bar_line_s: p.clock.second_at(0.0),
            })
        })
        .collect();
    let Some(pulse) = readings.first() else {
        return Reading {
            notes: read,
            curve: Vec::new(),
            meter: Meter::FOUR_FOUR,
            tempo,
            feel: quantised.feel,
            pickup: Quarters::ZERO,
            start_s: 0.0,
            spread_ms: 0.0,
            alternatives,
        };
    };
    let beat = pulse.meter.beat_length().to_f64();
    let clock = &pulse.clock;
    for note in &mut read {
        note.played = clock.beats_at(note.onset_s) * beat - quantised.starts;
    }
    for note in &quantised.notes {
        if let Some(read) = read.get_mut(note.played) {
            read.onset = Some(note.onset);
            read.length = Some(note.length);
            let at = clock.beats_at(read.onset_s);
            read.late_ms = (read.onset_s - clock.second_at(at - note.late / beat)) * 1e3;
        }
    }
    let beats: Vec<(i64, f64)> = clock.beats().collect();
    let curve = beats
        .windows(2)
        .map(|w| TempoPoint {
            second: w[0].1,
            quarters: w[0].0 as f64 * beat - quantised.starts,
            per_minute: 60.0 / (w[1].1 - w[0].1),
        })
        .collect();
    Reading {
        notes: read,
        curve,
        meter: pulse.meter,
        tempo,
        feel: quantised.feel,
        pickup: quantised.layout.pickup,
        start_s: clock.second_at(quantised.starts / beat),
        spread_ms: pulse.spread_s * 1e3,
        alternatives,
    }
}
