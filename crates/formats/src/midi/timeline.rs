//! Tempo, meter and key of a file, in quarters.

use riffkin_score::Warning;
use riffkin_score::key::{Key, Mode};
use riffkin_score::meter::Meter;
use riffkin_score::pitch::PitchName;
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};

use super::file::{Division, File, Track};
use super::{MidiError, MidiOptions};

/// Times of a file in quarters.
pub(super) struct Timeline {
    /// Ticks in a quarter.
    pub(super) ticks: f64,
    exact: Option<u16>,
    /// Tempi from their places on, rising.
    pub(super) tempi: Vec<(Quarters, Tempo)>,
    /// Meter events, rising; at most one at a place.
    pub(super) meters: Vec<(u64, Quarters, Meter)>,
    /// Sharps and whether it says minor, of the first key signature.
    pub(super) signature: Option<(i8, bool)>,
}

impl Timeline {
    /// Of the whole file, or of one track of a format 2 file.
    pub(super) fn of(
        file: &File,
        track: &Track,
        options: &MidiOptions,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, MidiError> {
        let (ticks, exact) = match (file.division, options.tempo) {
            (Division::Quarter(ticks), _) => (f64::from(ticks), Some(ticks)),
            (Division::Second(per_second), Some(tempo)) => (per_second * tempo.seconds_per_quarter(), None),
            (Division::Second(per_second), None) => return Err(MidiError::NoBeats { per_second }),
        };
        let mut line = Self { ticks, exact, tempi: Vec::new(), meters: Vec::new(), signature: None };
        let tracks: Vec<&Track> = if file.format == 2 { vec![track] } else { file.tracks.iter().collect() };

        if let Some(tempo) = options.tempo {
            line.tempi.push((Quarters::ZERO, tempo));
        } else {
            let mut events: Vec<(u64, u32)> = tracks.iter().flat_map(|t| t.tempi.iter().copied()).collect();
            events.sort_by_key(|e| e.0);
            for (tick, micros) in events {
                let at = line.exact_at(tick);
                let Some(tempo) = tempo_of(micros) else {
                    let said = format!(
                        "a tempo of {micros} microseconds to the quarter is out of reach and was left out"
                    );
                    warnings.push(Warning::at(format!("tick {tick}"), said));
                    continue;
                };
                if line.tempi.last().is_some_and(|t| t.0 == at) {
                    line.tempi.pop();
                }
                line.tempi.push((at, tempo));
            }
        }

        if let Some(meter) = options.meter {
            line.meters.push((0, Quarters::ZERO, meter));
        } else {
            let mut events: Vec<(u64, u8, u8)> =
                tracks.iter().flat_map(|t| t.meters.iter().copied()).collect();
            events.sort_by_key(|e| e.0);
            for (tick, upper, lower) in events {
                let unit = 1u8.checked_shl(u32::from(lower)).unwrap_or(0);
                let Some(meter) = Meter::new(upper, unit) else {
                    let said = format!("a meter of {upper} over 2 to the power of {lower} was left out");
                    warnings.push(Warning::at(format!("tick {tick}"), said));
                    continue;
                };
                if line.meters.last().is_some_and(|m| m.0 == tick) {
                    line.meters.pop();
                }
                line.meters.push((tick, line.exact_at(tick), meter));
            }
        }
        let mut keys: Vec<(u64, i8, bool)> = tracks.iter().flat_map(|t| t.keys.iter().copied()).collect();
        keys.sort_by_key(|k| k.0);
        line.signature = keys.iter().map(|k| (k.1, k.2)).find(|k| (-7..=7).contains(&k.0));
        Ok(line)
    }

    /// A tick in quarters.
    pub(super) fn quarters(&self, tick: u64) -> f64 {
        tick as f64 / self.ticks
    }

    /// A tick in exact quarters, rounded when the division has factors that music has not.
    pub(super) fn exact_at(&self, tick: u64) -> Quarters {
        match (self.exact, i64::try_from(tick)) {
            (Some(ticks), Ok(tick)) => Quarters::nearest(tick, i64::from(ticks)).0,
            _ => Quarters::from_f64_lossy(self.quarters(tick)),
        }
    }

    /// The key of the signature, and what to say about it.
    pub(super) fn key(&self) -> (Option<Key>, Option<Warning>) {
        match self.signature {
            None => (None, None),
            // Nothing more than what a program writes unasked.
            Some((0, false)) => (
                None,
                Some(Warning::whole(
                    "the key signature says C major, which many programs write unasked; it was not taken for the key",
                )),
            ),
            Some((sharps, minor)) => {
                let (tonic, mode) = if minor { (sharps + 3, Mode::Minor) } else { (sharps, Mode::Major) };
                let key = PitchName::from_line_of_fifths(i32::from(tonic)).map(|t| Key::new(t, mode));
                let said = key.map(|key| {
                    Warning::whole(format!(
                        "the key {key} is what the key signature says; MIDI knows only major and minor"
                    ))
                });
                (key, said)
            }
        }
    }
}

/// The tempo of so many microseconds to the quarter; counted in halves or whole notes when it is very fast, in
/// eighths or sixteenths when very slow.
fn tempo_of(micros: u32) -> Option<Tempo> {
    let quarters = 60e6 / f64::from(micros.max(1));
    [Shape::Quarter, Shape::Half, Shape::Whole, Shape::Eighth, Shape::Sixteenth].into_iter().find_map(
        |shape| {
            let unit = NoteValue::plain(shape);
            Tempo::new(quarters / unit.length().to_f64(), unit)
        },
    )
}
