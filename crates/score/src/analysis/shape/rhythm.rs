//! Rhythm: where the notes begin, how dense they are, and how much of it is syncopated.

use std::collections::BTreeSet;

use super::weights::depth;
use crate::meter::Meter;
use crate::rhythm::SwingClock;
use crate::riff::{BarBeat, LineNote, Riff};
use crate::time::Quarters;
use crate::value::NoteValue;

/// The rhythm of one bar as a row of cells.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct BarPattern {
    /// The bar's number; a pickup is 0.
    pub bar: u32,
    /// Length of a cell, in quarters: the longest that every start and end of a note in the bar falls on.
    pub cell: Quarters,
    /// One sign for each cell: `x` a note begins, `-` it goes on, `.` a rest.
    pub cells: String,
}

/// What the rhythm of a line is made of. Dead notes count: they are rhythm and nothing else.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RhythmShape {
    /// Quarters from each note's start to the next one's, in order; the last one's to the end of the riff.
    pub gaps: Vec<Quarters>,
    /// Each bar's pattern; a bar whose notes lie on no grid of at most 96 cells has none.
    pub patterns: Vec<BarPattern>,
    /// Notes for each counted beat.
    pub notes_per_beat: f64,
    /// Notes a second at the riff's own tempo, over the whole.
    pub notes_per_second: f64,
    /// The most notes a second over a stretch of [`RUN`] notes, with where it begins; over the whole where
    /// there are fewer notes.
    pub fastest: Option<(f64, BarBeat)>,
    /// Syncopated notes ([`syncopation`]), each with how strong it is, in levels of the meter.
    pub syncopations: Vec<(BarBeat, u8)>,
    /// How many notes begin off the counted beats.
    pub off_beat: usize,
    /// How many notes there are.
    pub notes: usize,
    /// The written values of notes, longest first; ties count as the values they join.
    pub values: Vec<NoteValue>,
}

/// Notes in a stretch by which the fastest passage is found. By hand.
pub const RUN: usize = 4;
/// Most cells of a pattern.
const MOST_CELLS: i64 = 96;

impl RhythmShape {
    /// The share of notes that are syncopated, 0 to 1.
    pub fn syncopated_share(&self) -> f64 {
        share(self.syncopations.len(), self.notes)
    }

    /// The share of notes that begin off the counted beats, 0 to 1.
    pub fn off_beat_share(&self) -> f64 {
        share(self.off_beat, self.notes)
    }
}

fn share(part: usize, all: usize) -> f64 {
    if all == 0 { 0.0 } else { part as f64 / all as f64 }
}

/// Reads the rhythm of the written line, repeats not written out.
pub fn rhythm(riff: &Riff) -> RhythmShape {
    let line = riff.line();
    let ends = line.iter().skip(1).map(|n| n.onset).chain([riff.length()]);
    let gaps: Vec<Quarters> = line.iter().zip(ends).map(|(note, next)| next - note.onset).collect();
    let beats: f64 =
        riff.bars().iter().map(|b| b.length().to_f64() / b.meter.beat_length().to_f64().max(1e-9)).sum();
    let tempo = riff.tempo();
    let swing = SwingClock::written(riff);
    let seconds = |at: Quarters| tempo.seconds_at(swing.at(at.to_f64()));
    let per = |notes: usize, time: f64| if time > 0.0 { notes as f64 / time } else { 0.0 };
    let offset = |n: &LineNote| in_bar(riff, n.bar, n.onset);
    RhythmShape {
        notes_per_beat: per(line.len(), beats),
        notes_per_second: per(line.len(), seconds(riff.length())),
        fastest: fastest(riff, &line, &seconds),
        syncopations: line
            .iter()
            .zip(&gaps)
            .filter_map(|(n, &gap)| Some((riff.place_of(n.onset), syncopation(riff, n, gap)?)))
            .collect(),
        off_beat: line
            .iter()
            .filter(|n| {
                let beat = riff.bars().get(n.bar).map_or(Quarters::QUARTER, |b| b.meter.beat_length());
                offset(n).rest_of_steps(beat) != Quarters::ZERO
            })
            .count(),
        notes: line.len(),
        values: values(riff),
        patterns: patterns(riff, &line),
        gaps,
    }
}

/// How far into a full bar a position lies; a pickup's places count from the bar line it would have had.
fn in_bar(riff: &Riff, bar: usize, at: Quarters) -> Quarters {
    let lead = match riff.bars().get(bar) {
        Some(b) if bar == 0 && b.short => b.meter.bar_length() - b.length(),
        _ => Quarters::ZERO,
    };
    at - riff.bar_start(bar) + lead
}

/// How strong a syncopation a note is, in levels of the meter; `None` when it is none.
///
/// After Longuet-Higgins and Lee, "The rhythmic interpretation of monophonic music", Music Perception 1(4),
/// 1984 (from memory): a note is syncopated when a stronger place than its own passes before the next note
/// begins, be it in a rest or held over; as strong as the difference of the two weights ([`depth`]). The riff
/// is not taken as repeated, so that its last note meets no bar line beyond the end.
pub fn syncopation(riff: &Riff, note: &LineNote, gap: Quarters) -> Option<u8> {
    let meter = riff.bars().get(note.bar)?.meter;
    let own = depth(meter, in_bar(riff, note.bar, note.onset));
    let end = note.onset + gap;
    let bar_end = riff.bar_start(note.bar + 1);
    if own == 0 {
        return None;
    }
    let strongest = if bar_end < end {
        0
    } else {
        let start = in_bar(riff, note.bar, note.onset);
        strongest_inside(meter, start, start + gap)?
    };
    (strongest < own).then(|| own - strongest)
}

/// The strongest place strictly inside a stretch of a bar. Units are stronger than what lies between them, so
/// that the first grid that has a place inside decides. A note in thirds of a unit is measured by thirds, any
/// other by halves: a unit is divided one way at a time.
fn strongest_inside(meter: Meter, from: Quarters, to: Quarters) -> Option<u8> {
    let unit = meter.unit_length();
    let on = |parts: i64| unit.scaled(1, parts).is_ok_and(|step| from.rest_of_steps(step) == Quarters::ZERO);
    let grids = if on(24) && !on(8) { [1, 3, 6, 12, 24] } else { [1, 2, 4, 8, 16] };
    grids.into_iter().filter_map(|parts| unit.scaled(1, parts).ok()).find_map(|step| {
        let first = step * (from.whole_steps(step) + 1);
        std::iter::successors(Some(first), |&at| Some(at + step))
            .take_while(|&at| at < to)
            .map(|at| depth(meter, at))
            .min()
    })
}

fn fastest(riff: &Riff, line: &[LineNote], seconds: &impl Fn(Quarters) -> f64) -> Option<(f64, BarBeat)> {
    let (first, last) = (line.first()?, line.last()?);
    if line.len() <= RUN {
        let time = seconds(last.onset + last.length) - seconds(first.onset);
        return (time > 0.0).then(|| (line.len() as f64 / time, riff.place_of(first.onset)));
    }
    // From one start to the start of the note after the run, so that a run of n notes spans n gaps.
    line.windows(RUN + 1)
        .filter_map(|w| {
            let (from, to) = (w.first()?, w.last()?);
            let time = seconds(to.onset) - seconds(from.onset);
            (time > 0.0).then(|| (RUN as f64 / time, from.onset))
        })
        .fold(None, |best: Option<(f64, Quarters)>, run| match best {
            Some(b) if b.0 >= run.0 - 1e-9 => Some(b),
            _ => Some(run),
        })
        .map(|(speed, at)| (speed, riff.place_of(at)))
}

fn values(riff: &Riff) -> Vec<NoteValue> {
    let seen: BTreeSet<NoteValue> =
        riff.bars().iter().flat_map(|b| &b.events).filter(|e| e.note.is_some()).map(|e| e.value).collect();
    let mut values: Vec<NoteValue> = seen.into_iter().collect();
    values.sort_by(|a, b| b.length().cmp(&a.length()).then(a.cmp(b)));
    values
}

fn patterns(riff: &Riff, line: &[LineNote]) -> Vec<BarPattern> {
    let mut patterns = Vec::new();
    let mut from = 0;
    for (i, bar) in riff.bars().iter().enumerate() {
        let (start, end) = (riff.bar_start(i), riff.bar_start(i + 1));
        // Notes that begin in the bar, and the one that is held into it.
        while line.get(from).is_some_and(|n| n.onset + n.length <= start) {
            from += 1;
        }
        let inside: Vec<&LineNote> = line.iter().skip(from).take_while(|n| n.onset < end).collect();
        let unit = bar.meter.unit_length();
        let edges: Vec<Quarters> = inside
            .iter()
            .flat_map(|n| [n.onset.max(start) - start, (n.onset + n.length).min(end) - start])
            .collect();
        let steps =
            [(1, 1), (1, 2), (1, 3), (1, 4), (1, 6), (1, 8), (1, 12), (1, 5), (1, 7), (1, 16), (1, 24)];
        let length = bar.length();
        let cell = steps.into_iter().filter_map(|(n, d)| unit.scaled(n, d).ok()).find(|&cell| {
            length.whole_steps(cell) <= MOST_CELLS
                && length.rest_of_steps(cell) == Quarters::ZERO
                && edges.iter().all(|e| e.rest_of_steps(cell) == Quarters::ZERO)
        });
        let Some(cell) = cell else { continue };
        let cells = (0..length.whole_steps(cell))
            .map(|k| {
                let at = start + cell * k;
                match inside.iter().rev().find(|n| n.onset <= at) {
                    Some(n) if n.onset == at => 'x',
                    Some(n) if n.onset + n.length > at => '-',
                    _ => '.',
                }
            })
            .collect();
        patterns.push(BarPattern { bar: riff.bar_number(i), cell, cells });
    }
    patterns
}
