//! Played onsets and lengths to exact ones.
//!
//! One Viterbi search places every onset (`viterbi.rs`), the timing's spread is then measured and the search run
//! once more with it; swing is one question about the whole line, asked before; ends come last (`ends.rs`),
//! because how long a note is held says more about the touch than about the value.

mod beats;
mod ends;
mod habits;
mod viterbi;
mod weights;

use self::beats::BarAt;
use self::ends::{Ending, Reader};
use self::habits::Habits;
use self::viterbi::{Reading, Search};
use super::notate::{Layout, TimedNote};
use super::swing::written_in_bar;
use crate::Warning;
use crate::meter::Meter;
use crate::note::Note;
use crate::riff::{BarBeat, Riff};
use crate::tempo::{Feel, Swing};
use crate::time::Quarters;

/// A note as it was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Played {
    /// Start in quarters, on any clock that runs with the beat.
    pub onset: f64,
    /// How long it sounded, in quarters; zero or less is taken for a very short note.
    pub length: f64,
    /// Sounding MIDI number; handed through.
    pub midi: u8,
}

/// How exactly the notes were played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Spread {
    /// Found out from the notes.
    Measured,
    /// This standard deviation, in quarters; taken into 0.0005 to 0.12.
    Known(f64),
}

impl Spread {
    /// From a standard deviation in seconds at a tempo in quarters a minute. Good players keep within 10 to
    /// 30 ms (from memory).
    pub fn of_seconds(seconds: f64, quarters_per_minute: f64) -> Self {
        Self::Known(seconds * quarters_per_minute / 60.0)
    }
}

/// Whether the notes may be swung.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum FeelWanted {
    /// Find out; only meters of quarter beats swing.
    Detected,
    /// This feel.
    Known(Feel),
}

/// Into how many parts a beat may fall.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Grids {
    /// Up to sixteenths, triplets and sextuplets: what a hand plays and an ear hears.
    Usual,
    /// Up to sixty-fourths, quintuplets and septuplets: for machines that play exactly.
    Rich,
}

/// What is known about the notes beforehand.
#[derive(Clone, Debug, PartialEq)]
pub struct Options {
    /// The meter at the downbeat (and before it).
    pub meter: Meter,
    /// Later meters, in quarters from the downbeat, rising.
    pub changes: Vec<(Quarters, Meter)>,
    /// Where a bar line lies on the notes' clock. Notes before it make a pickup.
    pub downbeat: f64,
    /// Exactness of the playing.
    pub spread: Spread,
    /// Straight or swung.
    pub feel: FeelWanted,
    /// Divisions allowed.
    pub grids: Grids,
    /// A silence shorter than this part of the time from note to note is touch, not a rest; 0 to 1.
    pub close_gaps: f64,
    /// Bars that are alike help each other to be read; only where the spread is measured.
    pub habits: bool,
}

impl Options {
    /// A bar line at zero, everything else found out; silences below a quarter of the value are closed.
    pub fn new(meter: Meter) -> Self {
        Self {
            meter,
            changes: Vec::new(),
            downbeat: 0.0,
            spread: Spread::Measured,
            feel: FeelWanted::Detected,
            grids: Grids::Usual,
            close_gaps: 0.25,
            habits: true,
        }
    }
}

/// A note with its exact time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct QuantisedNote {
    /// Index of the note in the input.
    pub played: usize,
    /// Exact start, in quarters from the start of the first bar.
    pub onset: Quarters,
    /// Exact length, in quarters.
    pub length: Quarters,
    /// Sounding MIDI number.
    pub midi: u8,
    /// Played much shorter than its value, as the line's other notes show: staccato.
    pub short: bool,
    /// How much later than written (with its swing) it was played, in quarters; early is below zero.
    pub late: f64,
}

/// What the playing means, and how sure that is.
#[derive(Clone, Debug, PartialEq)]
pub struct Quantised {
    /// The notes in order; none ends after the next begins.
    pub notes: Vec<QuantisedNote>,
    /// The bars to write them into.
    pub layout: Layout,
    /// Straight or swung.
    pub feel: Feel,
    /// Where the first bar starts on the notes' own clock, in quarters.
    pub starts: f64,
    /// Standard deviation of the onsets around their places, in quarters.
    pub spread: f64,
    /// The note farthest from its place: its index in [`Quantised::notes`] and the distance in quarters.
    pub worst: Option<(usize, f64)>,
    /// How unlikely the onsets are, in nats: minus the logarithm of their joint probability density per quarter
    /// (timing, division of the beats, places). Readings of the same notes on clocks of different speed compare once
    /// the logarithm of a quarter's length is added for every note.
    pub cost: f64,
    /// What was left out or is in doubt.
    pub warnings: Vec<Warning>,
}

impl Quantised {
    /// The notes with what `note` makes of each, to be written by [`super::notate`].
    pub fn timed(&self, mut note: impl FnMut(&QuantisedNote) -> Note) -> Vec<TimedNote> {
        self.notes.iter().map(|n| TimedNote { onset: n.onset, length: n.length, note: note(n) }).collect()
    }
}

/// Why played notes have no exact times.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum QuantiseError {
    /// Not a number, or infinite.
    #[error("note {number} has no time: onset {onset}, length {length}")]
    NoTime {
        /// Which note, from 1.
        number: usize,
        /// Its onset.
        onset: f64,
        /// Its length.
        length: f64,
    },
    /// More bars than a riff may have.
    #[error("the notes reach over more than {limit} bars; take a shorter passage")]
    TooLong {
        /// [`Riff::MAX_BARS`].
        limit: usize,
    },
}

/// Spreads the search starts from and stays within, in quarters.
const FIRST_SPREAD: f64 = 0.03;
const SPREADS: (f64, f64) = (0.004, 0.08);

/// How a beat is divided, before a note is heard: for every usual division its chance, and the chance of a note on each
/// of its equal parts. Of beats of two, or of beats of three (compound meters).
pub fn divisions(of_three: bool) -> impl Iterator<Item = (f64, &'static [f64])> {
    let (usual, grids) = if of_three {
        (3, &weights::TERNARY[..weights::USUAL])
    } else {
        (2, &weights::BINARY[..weights::USUAL])
    };
    grids.iter().map(move |g| (weights::kind_chance(usual, None, g.kind()) * g.share, g.points))
}

/// Finds the plainest exact rhythm that the playing can mean.
///
/// The clock must run with the beat: quarters from a tempo map or a beat tracker. Onsets are placed all at once,
/// each within half a grid step; two notes never share a place (the later of two that fall together wins, and
/// the other is warned about). `Riff::line` of what [`super::notate`] makes of the result has the same onsets and
/// lengths.
///
/// # Errors
/// [`QuantiseError`] for times that are no numbers, or too many bars.
pub fn quantise(played: &[Played], options: &Options) -> Result<Quantised, QuantiseError> {
    let mut order: Vec<usize> = (0..played.len()).collect();
    for (i, note) in played.iter().enumerate() {
        if !(note.onset.is_finite() && note.length.is_finite() && options.downbeat.is_finite()) {
            return Err(QuantiseError::NoTime { number: i + 1, onset: note.onset, length: note.length });
        }
    }
    order.sort_by(|&a, &b| played[a].onset.total_cmp(&played[b].onset));
    let onsets: Vec<f64> = order.iter().map(|&i| played[i].onset - options.downbeat).collect();
    let last_end =
        order.iter().map(|&i| played[i].onset + played[i].length - options.downbeat).fold(0.0, f64::max);
    let first = onsets.first().copied().unwrap_or(0.0).min(0.0) - 0.5;
    let last = onsets.last().copied().unwrap_or(0.0).max(last_end) + 1.0;
    let bars = beats::bars(options.meter, &options.changes, first, last, Riff::MAX_BARS)
        .ok_or(QuantiseError::TooLong { limit: Riff::MAX_BARS })?;
    let beats = beats::beats(&bars);
    let searched = |feel, spread, habits: Option<&Habits>| {
        let rich = options.grids == Grids::Rich;
        Search { bars: &bars, beats: &beats, onsets: &onsets, feel, spread, rich, habits }.run()
    };
    let search = |feel, spread| searched(feel, spread, None);

    let known = match options.spread {
        Spread::Known(s) if s.is_finite() => Some(s.clamp(0.0005, 0.12)),
        _ => None,
    };
    let first_spread = known.unwrap_or(FIRST_SPREAD);
    let (feel, mut reading) = match options.feel {
        FeelWanted::Known(feel) => (feel, search(feel, first_spread)),
        FeelWanted::Detected => detect(&bars, &beats, &onsets, |feel| search(feel, first_spread)),
    };
    let mut used = first_spread;
    if known.is_none() {
        let measured = spread_of(&bars, &onsets, feel, &reading);
        if (measured / first_spread - 1.0).abs() > 0.2 {
            used = measured.clamp(SPREADS.0, SPREADS.1);
            reading = search(feel, used);
        }
    }
    if options.habits
        && known.is_none()
        && let Some(habits) = Habits::of(&bars, &beats, &reading)
    {
        reading = searched(feel, used, Some(&habits));
    }
    reading.cost += onsets.len() as f64 * (used * (2.0 * std::f64::consts::PI).sqrt()).ln();
    Ok(finish(played, options, &order, &onsets, (&bars, &beats), feel, reading))
}

fn finish(
    played: &[Played],
    options: &Options,
    order: &[usize],
    onsets: &[f64],
    (bars, beats): (&[BarAt], &[beats::Beat]),
    feel: Feel,
    reading: Reading,
) -> Quantised {
    let spread = spread_of(bars, onsets, feel, &reading);
    let cost = reading.cost;
    let written = |at: f64| {
        let bar = &bars[bars.partition_point(|b| b.start.to_f64() <= at).saturating_sub(1)];
        let start = bar.start.to_f64();
        start + written_in_bar(feel, at - start, bar.length.to_f64())
    };
    let placed: Vec<(usize, Quarters)> =
        (0..onsets.len()).filter_map(|k| reading.places[k].map(|at| (k, at))).collect();
    let reader = Reader { beats, parts: &reading.parts, spread, close_gaps: options.close_gaps };
    let pickup = match placed.first() {
        Some(&(_, at)) if at < Quarters::ZERO => -at,
        _ => Quarters::ZERO,
    };
    let endings: Vec<Ending> = placed
        .iter()
        .enumerate()
        .map(|(n, &(k, at))| {
            let next = placed.get(n + 1);
            Ending {
                onset: at,
                struck: written(onsets[k]),
                released: written(onsets[k] + played[order[k]].length.max(0.0)),
                next: next.map(|p| p.1),
                next_struck: next.map(|p| written(onsets[p.0])),
            }
        })
        .collect();
    let ends = reader.ends(&endings);
    let mut notes: Vec<QuantisedNote> = Vec::with_capacity(placed.len());
    for (n, &(k, at)) in placed.iter().enumerate() {
        let (ending, mut ended) = (&endings[n], ends[n]);
        // The last note may be held to the bar line as others are to the note after them.
        let line = bars.iter().map(|b| b.start).find(|b| *b > at && b.to_f64() >= ending.released - 1e-9);
        if let (None, Some(line)) = (ending.next, line)
            && reader.closes(ending, line.to_f64())
        {
            ended.end = line;
        }
        let late = onsets[k] - bar_of(bars, at).played(feel, at);
        notes.push(QuantisedNote {
            played: order[k],
            onset: at + pickup,
            length: ended.end - at,
            midi: played[order[k]].midi,
            short: ended.short,
            late,
        });
    }
    let full = options.meter.bar_length();
    let layout = Layout {
        pickup: pickup.rest_of_steps(full),
        changes: options.changes.iter().map(|&(at, meter)| (at + pickup, meter)).collect(),
        ..Layout::new(options.meter)
    };
    let place = |at: f64| place_of(bars, at);
    let mut warnings = Vec::new();
    for (k, _) in reading.places.iter().enumerate().filter(|(_, p)| p.is_none()) {
        let midi = played[order[k]].midi;
        warnings.push(Warning::at(
            place(onsets[k]),
            format!("a note (MIDI {midi}) falls together with another one and was left out"),
        ));
    }
    let worst = (0..notes.len())
        .max_by(|&a, &b| notes[a].late.abs().total_cmp(&notes[b].late.abs()))
        .map(|i| (i, notes[i].late.abs()));
    if let Some((i, distance)) = worst
        && distance > (3.0 * spread).max(0.1)
    {
        warnings.push(Warning::at(
            place((notes[i].onset - pickup).to_f64()),
            format!(
                "this note was played {distance:.2} quarters {} its written place, the farthest of all; check it",
                if notes[i].late > 0.0 { "after" } else { "before" }
            ),
        ));
    }
    Quantised {
        notes,
        layout,
        feel,
        starts: options.downbeat - pickup.to_f64(),
        spread,
        worst,
        cost,
        warnings,
    }
}

fn bar_of(bars: &[BarAt], at: Quarters) -> &BarAt {
    &bars[bars.partition_point(|b| b.start <= at).saturating_sub(1)]
}

// Bars count from 1 at the downbeat, or as many before it as there are, the first of them being a pickup (0).
fn place_of(bars: &[BarAt], at: f64) -> BarBeat {
    let bar = &bars[bars.partition_point(|b| b.start.to_f64() <= at).saturating_sub(1)];
    let beat = bar.meter.beat_length().to_f64();
    let beats = ((at - bar.start.to_f64()) / beat * 4.0).round() as i64;
    BarBeat {
        bar: u32::try_from(bar.index + 1).unwrap_or(0),
        beat: Quarters::new(beats, 4).unwrap_or(Quarters::ZERO) + Quarters::QUARTER,
    }
}

// Robust standard deviation: 1.4826 times the median distance (the usual constant for a normal distribution),
// or the plain one when that is larger by less than a half.
fn spread_of(bars: &[BarAt], onsets: &[f64], feel: Feel, reading: &Reading) -> f64 {
    let mut off: Vec<f64> = onsets
        .iter()
        .zip(&reading.places)
        .filter_map(|(onset, place)| place.map(|at| (onset - bar_of(bars, at).played(feel, at)).abs()))
        .collect();
    if off.is_empty() {
        return 0.0;
    }
    let plain = (off.iter().map(|d| d * d).sum::<f64>() / off.len() as f64).sqrt();
    off.sort_by(f64::total_cmp);
    let robust = 1.4826 * off[off.len() / 2];
    plain.min(robust.max(1e-9) * 1.5)
}

// Ratios looked for: a hint of swing, quintuplet swing, between, triplet swing.
const RATIOS: [(u8, u8); 4] = [(4, 3), (3, 2), (5, 3), (2, 1)];
/// What it costs to call a line swung, in nats: four or five off-beats must gain from it.
const SWING_COST: f64 = 5.0;

// Straight, or the swing that the off-beats agree on when the whole line reads more plainly with it.
fn detect(
    bars: &[BarAt],
    beats: &[beats::Beat],
    onsets: &[f64],
    search: impl Fn(Feel) -> Reading,
) -> (Feel, Reading) {
    let mut best = (Feel::Straight, search(Feel::Straight));
    for sixteenths in [false, true] {
        let Some((long, short)) = ratio(bars, beats, onsets, if sixteenths { 0.5 } else { 1.0 }) else {
            continue;
        };
        let Some(swing) = Swing::new(long, short, sixteenths) else { continue };
        let mut reading = search(Feel::Swing(swing));
        reading.cost += SWING_COST;
        if reading.cost < best.1.cost {
            best = (Feel::Swing(swing), reading);
        }
    }
    best
}

// The ratio of pairs of notes in the line, when enough pairs share one.
fn ratio(bars: &[BarAt], beats: &[beats::Beat], onsets: &[f64], pair: f64) -> Option<(u8, u8)> {
    if bars.iter().any(|b| b.meter.is_compound()) {
        return None;
    }
    let mut off = Vec::new();
    let mut against = 0;
    let mut next = 0;
    for beat in beats.iter().filter(|b| b.length == Quarters::QUARTER) {
        let start = beat.start.to_f64();
        for half in 0..(1.0 / pair) as usize {
            let from = start + half as f64 * pair;
            let inside = |x: f64| (x - from) / pair;
            while next < onsets.len() && inside(onsets[next]) < 0.12 {
                next += 1;
            }
            let first = next;
            while next < onsets.len() && inside(onsets[next]) < 0.88 {
                next += 1;
            }
            match &onsets[first..next] {
                [] => {}
                [one] if inside(*one) >= 0.45 => off.push(inside(*one)),
                _ => against += 1,
            }
        }
    }
    if off.len() < 4 || against * 6 > off.len() {
        return None;
    }
    off.sort_by(f64::total_cmp);
    let median = off[off.len() / 2];
    let agree = off.iter().filter(|x| (*x - median).abs() < 0.08).count();
    if !(0.545..0.71).contains(&median) || agree * 5 < off.len() * 4 {
        return None;
    }
    RATIOS.into_iter().min_by(|a, b| {
        let off = |r: &(u8, u8)| (f64::from(r.0) / f64::from(r.0 + r.1) - median).abs();
        off(a).total_cmp(&off(b))
    })
}

#[cfg(test)]
mod tests;
