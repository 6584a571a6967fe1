//! Starts become written values: each note lasts until the next, cut where a reader expects to see the beat.

use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape, Tuplet};

use super::Timed;

/// The events of a bar of this length.
pub(super) fn events(notes: &[Timed], length: Quarters, meter: Meter) -> Vec<Event> {
    let mut starts: Vec<(Quarters, Option<Note>)> = notes.iter().map(|t| (t.at, Some(t.note))).collect();
    if starts.first().is_none_or(|s| s.0 > Quarters::ZERO) {
        starts.insert(0, (Quarters::ZERO, None));
    }
    let cells = cells(&starts, length, meter);
    let mut events = Vec::new();
    for (i, &(from, note)) in starts.iter().enumerate() {
        let to = starts.get(i + 1).map_or(length, |next| next.0);
        let values = spell(from, to, length, meter, &cells);
        let last = values.len().saturating_sub(1);
        for (k, value) in values.into_iter().enumerate() {
            let Some(note) = note else {
                events.push(Event::rest(value));
                continue;
            };
            let head = if k == 0 { note } else { Note { place: note.place, ..Note::plain(note.pitch) } };
            events.push(Event::note(value, Note { tied: k < last, ..head }));
        }
    }
    events
}

/// A stretch that is divided in three.
#[derive(Clone, Copy, Debug)]
struct Cell {
    from: Quarters,
    length: Quarters,
}

impl Cell {
    fn to(self) -> Quarters {
        self.from + self.length
    }
}

/// The beats, or pairs of beats, whose notes start on thirds.
fn cells(starts: &[(Quarters, Option<Note>)], length: Quarters, meter: Meter) -> Vec<Cell> {
    let beat = meter.beat_length();
    let in_two = |at: Quarters| at.fraction().1.count_ones() == 1;
    let mut cells = Vec::new();
    let mut from = Quarters::ZERO;
    while from < length {
        let within = |to: Quarters| starts.iter().map(|s| s.0).filter(move |&at| at > from && at < to);
        let pair = beat * 2;
        let third = pair.scaled(1, 3).unwrap_or(pair);
        let pairs_up = from.rest_of_steps(pair) == Quarters::ZERO && from + pair <= length;
        let on_thirds = within(from + pair).all(|at| (at - from).rest_of_steps(third) == Quarters::ZERO);
        if pairs_up && on_thirds && within(from + pair).any(|at| !in_two(at)) {
            cells.push(Cell { from, length: pair });
            from += pair;
        } else {
            if within(from + beat).any(|at| !in_two(at)) {
                cells.push(Cell { from, length: beat });
            }
            from += beat;
        }
    }
    cells
}

fn spell(from: Quarters, to: Quarters, length: Quarters, meter: Meter, cells: &[Cell]) -> Vec<NoteValue> {
    let mut values = Vec::new();
    let mut at = from;
    while at < to {
        let cell = cells.iter().find(|c| c.from <= at && at < c.to());
        if let Some(cell) = cell
            && (at > cell.from || to < cell.to())
        {
            let end = to.min(cell.to());
            let before = values.len();
            in_thirds(*cell, end - at, &mut values);
            if values.len() == before {
                break;
            }
            at = end;
            continue;
        }
        // Plain values up to the end, or up to a divided beat in which the note ends.
        let limit = cells.iter().find(|c| c.from > at && c.from < to && to < c.to()).map_or(to, |c| c.from);
        let Some(value) = plain(at, limit - at, length, meter) else { break };
        values.push(value);
        at += value.length();
    }
    values
}

/// A length inside a stretch divided in three, in sixths of it.
fn in_thirds(cell: Cell, length: Quarters, values: &mut Vec<NoteValue>) {
    let sixth = cell.length.scaled(1, 6).unwrap_or(cell.length);
    let triplet = |quarter_of_cell: i64, dots: u8| {
        let plain = cell.length.scaled(1, quarter_of_cell).ok()?;
        let shape = Shape::ALL.into_iter().find(|s| s.length() == plain)?;
        NoteValue::new(shape, dots, Some(Tuplet::TRIPLET))
    };
    let parts: &[(i64, u8)] = match length.whole_steps(sixth) {
        1 => &[(4, 0)],
        2 => &[(2, 0)],
        3 => &[(2, 1)],
        4 => &[(1, 0)],
        5 => &[(1, 0), (4, 0)],
        _ => &[],
    };
    values.extend(parts.iter().filter_map(|&(part, dots)| triplet(part, dots)));
}

/// The longest value that may stand here: from a beat anything that fits; off the beat up to the next beat, or
/// one beat long when it starts half-way and does not hide the middle of the bar (common practice).
fn plain(at: Quarters, room: Quarters, length: Quarters, meter: Meter) -> Option<NoteValue> {
    let beat = meter.beat_length();
    // The beats of a pickup are counted back from its end.
    let lead = (meter.bar_length() - length).rest_of_steps(beat);
    let off = (at + lead).rest_of_steps(beat);
    let half = beat.scaled(1, 2).unwrap_or(beat);
    let middle = length.scaled(1, 2).unwrap_or(length);
    let hides_middle =
        |v: Quarters| at < middle && at + v > middle && meter.counted_beats().is_multiple_of(4);
    let fits = |v: Quarters| {
        if v > room {
            return false;
        }
        if off == Quarters::ZERO {
            let whole_beats = v.rest_of_steps(beat) == Quarters::ZERO;
            return if meter.is_compound() {
                v <= beat || whole_beats
            } else {
                whole_beats || v <= beat * 2 && v.rest_of_steps(half) == Quarters::ZERO || v <= beat
            };
        }
        let to_next = beat - off;
        v <= to_next || (!meter.is_compound() && off == half && v == beat && v == room && !hides_middle(v))
    };
    let mut all: Vec<NoteValue> = (0..=1u8)
        .flat_map(|dots| Shape::ALL.into_iter().filter_map(move |s| NoteValue::new(s, dots, None)))
        .collect();
    all.sort_by_key(|v| std::cmp::Reverse(v.length()));
    all.into_iter().find(|v| fits(v.length()) && is_spellable(room - v.length()))
}

/// What is left over must still be a sum of values: a whole number of 128th notes.
fn is_spellable(rest: Quarters) -> bool {
    let shortest = Shape::HundredTwentyEighth.length();
    rest.rest_of_steps(shortest) == Quarters::ZERO
}
