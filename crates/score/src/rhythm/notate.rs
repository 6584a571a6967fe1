//! Exact onsets and lengths to written bars.

use super::levels::Levels;
use super::tuplets::{self, Cell};
use crate::meter::Meter;
use crate::note::{Approach, Event, Marks, Note};
use crate::riff::{Bar, BarBeat, Riff};
use crate::time::Quarters;
use crate::value::NoteValue;

/// A note with its place in time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TimedNote {
    /// Start, in quarters from the start of the first bar (of the pickup, when there is one).
    pub onset: Quarters,
    /// How long it sounds, above zero.
    pub length: Quarters,
    /// What it is. Whether it is tied is worked out here; what is given is not looked at.
    pub note: Note,
}

/// The bars to write into.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Meter at the start.
    pub meter: Meter,
    /// Length of the pickup bar; zero for none.
    pub pickup: Quarters,
    /// Later meters with the place from which they hold, in quarters from the start of the first bar, rising. A
    /// change in the middle of a bar cuts that bar short.
    pub changes: Vec<(Quarters, Meter)>,
    /// Write on to at least here with rests; the last bar is always filled.
    pub until: Quarters,
    /// End the last bar at `until` when nothing sounds later, though it be shorter than its meter.
    pub end_short: bool,
}

impl Layout {
    /// Full bars of one meter.
    pub fn new(meter: Meter) -> Self {
        Self { meter, pickup: Quarters::ZERO, changes: Vec::new(), until: Quarters::ZERO, end_short: false }
    }

    /// The same with a pickup of this length.
    #[must_use]
    pub fn with_pickup(self, pickup: Quarters) -> Self {
        Self { pickup, ..self }
    }
}

/// Why times cannot be written as bars.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotateError {
    /// A note that starts before zero or not after the one before it.
    #[error(
        "note {number} starts at {onset} quarters: notes must start at zero or later, each after the one before it"
    )]
    Order {
        /// Which note, from 1.
        number: usize,
        /// Its start.
        onset: Quarters,
    },
    /// A note of no length.
    #[error("note {number} at {onset} quarters has no length; give it one or leave it out")]
    NoLength {
        /// Which note, from 1.
        number: usize,
        /// Its start.
        onset: Quarters,
    },
    /// A time that no single tuplet reaches.
    #[error(
        "{at}: the times in this bar cannot be written with note values and single tuplets; quantise them first"
    )]
    Unwritable {
        /// The first time at fault.
        at: BarBeat,
    },
    /// A pickup as long as a bar, or below zero.
    #[error("a pickup of {pickup} quarters does not fit before a bar of {bar}; make it shorter than the bar")]
    Pickup {
        /// The pickup asked for.
        pickup: Quarters,
        /// The bar's length.
        bar: Quarters,
    },
    /// Meter changes out of order.
    #[error("the meter change at {at} quarters is not after the one before it")]
    MeterOrder {
        /// The change at fault.
        at: Quarters,
    },
    /// More bars than a riff may have.
    #[error("the notes reach over more than {limit} bars; split them")]
    TooLong {
        /// [`Riff::MAX_BARS`].
        limit: usize,
    },
}

// A bar to be: where it starts and ends, and where in its meter it begins.
struct Frame {
    meter: Meter,
    start: Quarters,
    length: Quarters,
    lead: Quarters,
}

impl Frame {
    fn place(&self, number: usize, in_meter: Quarters) -> BarBeat {
        let (n, d) = self.meter.beat_length().fraction();
        let beats = in_meter.scaled(d, n).unwrap_or(Quarters::ZERO);
        BarBeat { bar: u32::try_from(number).unwrap_or(u32::MAX), beat: beats + Quarters::QUARTER }
    }
}

/// Writes notes into bars: cuts them at bar lines with ties, fills gaps with rests, and chooses the plainest
/// values that show the beats (`levels.rs` has the rules and their source). Tuplets are complete groups.
///
/// The line is monophonic: a note that runs into the next is ended there. [`Riff::line`] of the result gives
/// back every onset and length. Continued heads of a tied note keep the pitch, place and finger of the first
/// and none of its marks. No notes at all give one empty bar.
///
/// # Errors
/// [`NotateError`], naming the note or the bar and beat.
pub fn notate(notes: &[TimedNote], layout: &Layout) -> Result<Vec<Bar>, NotateError> {
    let mut last = None;
    for (i, note) in notes.iter().enumerate() {
        if note.onset < Quarters::ZERO || last.is_some_and(|l| l >= note.onset) {
            return Err(NotateError::Order { number: i + 1, onset: note.onset });
        }
        if !note.length.is_positive() {
            return Err(NotateError::NoLength { number: i + 1, onset: note.onset });
        }
        last = Some(note.onset);
    }
    let end_of = |i: usize| {
        let end = notes[i].onset + notes[i].length;
        notes.get(i + 1).map_or(end, |next| end.min(next.onset))
    };
    let sounding_end = if notes.is_empty() { Quarters::ZERO } else { end_of(notes.len() - 1) };
    let frames = frames(layout, sounding_end)?;

    let mut bars = Vec::with_capacity(frames.len());
    let mut next = 0;
    for (index, frame) in frames.iter().enumerate() {
        // Stretches of the bar in its meter's own time: a note's index or a rest.
        let end = frame.start + frame.length;
        let mut stretches: Vec<(Quarters, Quarters, Option<usize>)> = Vec::new();
        let mut at = frame.start;
        while next < notes.len() && notes[next].onset < end {
            let (from, to) = (notes[next].onset.max(frame.start), end_of(next).min(end));
            if from > at {
                stretches.push((at, from, None));
            }
            stretches.push((from, to, Some(next)));
            at = to;
            if end_of(next) > end {
                break;
            }
            next += 1;
        }
        if at < end {
            stretches.push((at, end, None));
        }
        let shift = frame.lead - frame.start;
        for s in &mut stretches {
            *s = (s.0 + shift, s.1 + shift, s.2);
        }
        let number = index + usize::from(!layout.pickup.is_positive());
        let mut bar = Bar::new(frame.meter, Vec::new());
        bar.short = frame.length < frame.meter.bar_length();
        bar.events = write_bar(frame, number, &stretches, |i| {
            (notes[i].note, end_of(i) + shift, notes[i].onset + shift)
        })?;
        bars.push(bar);
    }
    Ok(bars)
}

fn frames(layout: &Layout, sounding_end: Quarters) -> Result<Vec<Frame>, NotateError> {
    let full = layout.meter.bar_length();
    if layout.pickup < Quarters::ZERO || layout.pickup >= full {
        return Err(NotateError::Pickup { pickup: layout.pickup, bar: full });
    }
    if let Some(w) = layout.changes.windows(2).find(|w| w[0].0 >= w[1].0) {
        return Err(NotateError::MeterOrder { at: w[1].0 });
    }
    let end = sounding_end.max(layout.until);
    let mut frames: Vec<Frame> = Vec::new();
    let (mut at, mut meter) = (Quarters::ZERO, layout.meter);
    let mut changes = layout.changes.iter().copied().peekable();
    while at < end || frames.is_empty() {
        while let Some((_, to)) = changes.next_if(|c| c.0 <= at) {
            meter = to;
        }
        let full = meter.bar_length();
        let pickup = frames.is_empty() && layout.pickup.is_positive();
        let mut length = if pickup { layout.pickup.min(full) } else { full };
        let lead = if pickup { full - length } else { Quarters::ZERO };
        if let Some(&(change, _)) = changes.peek()
            && change < at + length
        {
            length = change - at;
        } else if layout.end_short && at + length > end && at < end && !pickup {
            length = end - at;
        }
        frames.push(Frame { meter, start: at, length, lead });
        if frames.len() > Riff::MAX_BARS {
            return Err(NotateError::TooLong { limit: Riff::MAX_BARS });
        }
        at += length;
    }
    Ok(frames)
}

// Stretches, in the bar's own time, to events.
fn write_bar(
    frame: &Frame,
    number: usize,
    stretches: &[(Quarters, Quarters, Option<usize>)],
    note_of: impl Fn(usize) -> (Note, Quarters, Quarters),
) -> Result<Vec<Event>, NotateError> {
    let full = frame.meter.bar_length();
    let levels = Levels::of_meter(frame.meter);
    let mut points: Vec<Quarters> = stretches.iter().flat_map(|s| [s.0, s.1]).collect();
    points.retain(|&p| p > Quarters::ZERO && p < full);
    points.dedup();
    let unwritable = |at: Quarters| NotateError::Unwritable { at: frame.place(number, at) };
    let first_odd = points.iter().copied().find(|&p| !tuplets::is_plain(p));
    let cells = tuplets::lay(&levels, full, &points)
        .ok_or_else(|| unwritable(first_odd.unwrap_or(Quarters::ZERO)))?;

    let mut events = Vec::new();
    for &(from, to, note) in stretches {
        let mut at = from;
        while at < to {
            let cell = cells.iter().find(|c| c.to > at);
            let (part_end, values) = match cell {
                Some(cell) if cell.from <= at => {
                    let part_end = to.min(cell.to);
                    (part_end, inside_cell(cell, at, part_end, note.is_none()))
                }
                _ => {
                    let part_end = cell.map_or(to, |c| to.min(c.from));
                    (part_end, levels.values(at, part_end, note.is_none()))
                }
            };
            for value in values.ok_or_else(|| unwritable(at))? {
                let Some(index) = note else {
                    events.push(Event::rest(value));
                    at += value.length();
                    continue;
                };
                let (source, sounding_end, onset) = note_of(index);
                let first = at == onset;
                at += value.length();
                let head = Note {
                    tied: at < sounding_end,
                    approach: if first { source.approach } else { Approach::Plucked },
                    marks: if first { source.marks } else { Marks::NONE },
                    bend: if first { source.bend } else { 0 },
                    ..source
                };
                events.push(Event::note(value, head));
            }
            at = part_end;
        }
    }
    Ok(events)
}

fn inside_cell(cell: &Cell, from: Quarters, to: Quarters, rest: bool) -> Option<Vec<NoteValue>> {
    let levels = Levels::of_units(cell.parts, cell.unit);
    levels
        .values(cell.inside(from)?, cell.inside(to)?, rest)?
        .into_iter()
        .map(|v| NoteValue::new(v.shape(), v.dots(), Some(cell.tuplet)))
        .collect()
}

#[cfg(test)]
mod tests;
