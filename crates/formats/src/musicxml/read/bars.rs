//! Measures made into bars that add up.

use riffkin_score::chord::Chord;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Approach, Event, Marks, Note};
use riffkin_score::riff::Bar;
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;

use super::barline;
use super::line::{Head, Line, Stretch};
use super::notices::{Notices, spot};
use super::part::{RawMeasure, RawPart, closeness};
use super::split::Splitter;

/// How long a bar is to be, and in which meter.
struct Frame {
    meter: Meter,
    length: Quarters,
    short: bool,
}

/// Makes the bars of a riff.
pub(super) struct Builder<'a> {
    measures: &'a [RawMeasure<'a>],
    line: &'a Line,
    splitter: Splitter,
    notices: Notices,
    lengths: Vec<Quarters>,
    // The measure before is the first half of a divided bar, of which this is the second.
    divided: bool,
}

/// Bars with their notes, without chords and tempi.
pub(super) fn bars(part: &mut RawPart<'_>, line: &Line) -> Vec<Bar> {
    let mut builder = Builder {
        measures: &part.measures,
        line,
        splitter: Splitter::new(),
        notices: Notices::default(),
        lengths: Vec::with_capacity(part.measures.len()),
        divided: false,
    };
    let mut bars: Vec<Bar> = (0..part.measures.len()).map(|i| builder.bar(i)).collect();
    builder.repeats(&mut bars);
    builder.ties(&mut bars);
    let notices = builder.notices;
    part.notices.append(notices);
    bars
}

impl Builder<'_> {
    fn bar(&mut self, index: usize) -> Bar {
        let measure = &self.measures[index];
        let mut stretches = self.line.measures[index].clone();
        let frame = self.frame(index, &stretches);
        let length = frame.length;
        // A rest for the measure fills it, whatever it says.
        if let [only] = stretches.as_mut_slice()
            && only.whole_measure
        {
            only.at = Quarters::ZERO;
            only.end = length;
            only.value = only.value.filter(|v| v.length() == length);
        }
        self.cut(&mut stretches, length, measure);
        let pieces = match self.fill(&stretches, &frame) {
            Some(pieces) => pieces,
            None => {
                let place = spot(&measure.number, frame.meter, Quarters::ZERO);
                self.notices.add(&place, "times that are no musical values are moved to the nearest");
                let snapped = snap(&stretches, length);
                self.fill_on_grid(&snapped, &frame)
            }
        };
        let mut bar = Bar::new(frame.meter, pieces);
        // Snapping may have moved the end of an odd short bar.
        bar.short = frame.short || bar.length() < frame.meter.bar_length();
        self.lengths.push(bar.length());
        bar
    }

    fn frame(&mut self, index: usize, stretches: &[Stretch]) -> Frame {
        let measure = &self.measures[index];
        let full = measure.meter.bar_length();
        let written = stretches.last().map_or(Quarters::ZERO, |s| s.end);
        // Silence that is counted off is no gap.
        let reached = written.max(measure.furthest.min(full));
        let end = if written.is_positive() { reached } else { written };
        let whole = matches!(stretches, [only] if only.whole_measure);
        let frame = |length, short| Frame { meter: measure.meter, length, short };
        if end >= full || measure.implicit {
            self.divided = false;
        }
        if end == Quarters::ZERO {
            let other = measure.furthest;
            let short = measure.implicit && other.is_positive() && other < full;
            return frame(if short { other } else { full }, measure.implicit);
        }
        if end == full || (whole && !(measure.implicit && end < full)) {
            return frame(full, measure.implicit);
        }
        if (end - full).abs() < closeness() && !measure.implicit {
            return frame(full, false);
        }
        let place = spot(&measure.number, measure.meter, Quarters::ZERO);
        if end > full {
            if let Some(meter) = meter_of(end, measure.meter.unit()) {
                self.notices.add(
                    &place,
                    format!(
                        "the bar holds {end} quarter notes where {} asks for {full}; it is read as {meter}",
                        measure.meter
                    ),
                );
                return Frame { meter, length: end, short: false };
            }
            self.notices.add(&place, "the bar is too long for its meter; what is too much is cut off");
            return frame(full, measure.implicit);
        }
        if measure.implicit {
            return frame(end, true);
        }
        let last = index + 1 == self.measures.len();
        let first = index == 0 && !last;
        let completes = last && self.lengths.first().is_some_and(|first| *first + end == full);
        let next = self.measures.get(index + 1).map(|m| &m.bars);
        let before = index.checked_sub(1).and_then(|i| self.measures.get(i)).map(|m| &m.bars);
        let at_repeat = measure.bars.repeat_end.is_some()
            || measure.bars.repeat_start
            || next.is_some_and(|b| b.repeat_start || b.repeat_end_before.is_some())
            || before.is_some_and(|b| b.repeat_end.is_some());
        if completes {
            return frame(end, true);
        }
        let rest = self.line.measures.get(index + 1).and_then(|m| m.last()).map(|s| s.end);
        let same_meter = self.measures.get(index + 1).is_some_and(|m| m.meter == measure.meter);
        let first_half = !self.divided && same_meter && rest.is_some_and(|rest| end + rest == full);
        if first_half || self.divided {
            self.divided = first_half;
            self.notices.add(&place, "one bar is divided in two; both are kept short");
            return frame(end, true);
        }
        if first || at_repeat {
            let what = if first { "read as a pickup" } else { "kept short beside its repeat" };
            self.notices.add(&place, format!("the bar holds {end} of {full} quarter notes; it is {what}"));
            return frame(end, true);
        }
        self.notices
            .add(&place, format!("the bar holds {end} of {full} quarter notes; it is filled with rests"));
        frame(full, false)
    }

    fn cut(&mut self, stretches: &mut Vec<Stretch>, length: Quarters, measure: &RawMeasure<'_>) {
        let beyond = stretches.iter().filter(|s| s.at >= length && s.head.is_some()).count();
        for _ in 0..beyond {
            let place = spot(&measure.number, measure.meter, length);
            self.notices.add(&place, "a note beyond the end of the bar is left out");
        }
        stretches.retain(|s| s.at < length);
        if let Some(last) = stretches.last_mut()
            && last.end > length
        {
            last.end = length;
            last.value = None;
        }
    }

    /// Events for stretches and the gaps between; `None` when a length cannot be written.
    fn fill(&self, stretches: &[Stretch], frame: &Frame) -> Option<Vec<Event>> {
        let mut events = Vec::new();
        let mut at = Quarters::ZERO;
        for stretch in stretches {
            let gap = self.splitter.pieces(at, stretch.at, frame.meter)?;
            events.extend(gap.into_iter().map(Event::rest));
            match stretch.value {
                Some(value) => events.push(self.event(stretch, value, true, true)),
                None => {
                    let pieces = self.splitter.pieces(stretch.at, stretch.end, frame.meter)?;
                    let last = pieces.len().saturating_sub(1);
                    for (i, value) in pieces.into_iter().enumerate() {
                        events.push(self.event(stretch, value, i == 0, i == last));
                    }
                }
            }
            at = stretch.end;
        }
        let gap = self.splitter.pieces(at, frame.length, frame.meter)?;
        events.extend(gap.into_iter().map(Event::rest));
        Some(events)
    }

    fn fill_on_grid(&self, stretches: &[Stretch], frame: &Frame) -> Vec<Event> {
        let mut events = Vec::new();
        let mut at = Quarters::ZERO;
        let length = to_grid(frame.length).max(Splitter::grid());
        for stretch in stretches {
            let gap = self.splitter.pieces_on_grid(at, stretch.at, frame.meter);
            events.extend(gap.into_iter().map(Event::rest));
            let pieces = self.splitter.pieces_on_grid(stretch.at, stretch.end, frame.meter);
            let last = pieces.len().saturating_sub(1);
            for (i, value) in pieces.into_iter().enumerate() {
                events.push(self.event(stretch, value, i == 0, i == last));
            }
            at = stretch.end;
        }
        let gap = self.splitter.pieces_on_grid(at, length, frame.meter);
        events.extend(gap.into_iter().map(Event::rest));
        events
    }

    /// One event; a head cut into several values is tied together and bears its marks once.
    fn event(
        &self,
        stretch: &Stretch,
        value: riffkin_score::value::NoteValue,
        first: bool,
        last: bool,
    ) -> Event {
        let Some(head) = stretch.head.and_then(|i| self.line.heads.get(i)) else { return Event::rest(value) };
        let Head { pitch, tied, approach, marks, bend, place, finger, .. } = *head;
        let note = Note {
            pitch,
            tied: !last || tied,
            approach: if first { approach } else { Approach::Plucked },
            marks: if first { marks } else { Marks::NONE },
            bend: if first { bend } else { 0 },
            place,
            finger,
        };
        Event::note(value, note)
    }

    fn repeats(&mut self, bars: &mut [Bar]) {
        let lines: Vec<&barline::Barlines> = self.measures.iter().map(|m| &m.bars).collect();
        for (bar, (start, end, passes)) in bars.iter_mut().zip(barline::resolve(&lines)) {
            bar.repeat_start = start;
            bar.repeat_end = end;
            bar.endings = passes;
        }
    }

    /// Ties that lead nowhere are taken off.
    fn ties(&mut self, bars: &mut [Bar]) {
        let mut next: Option<u8> = None;
        for (index, bar) in bars.iter_mut().enumerate().rev() {
            let mut at = bar.length();
            for event in bar.events.iter_mut().rev() {
                at -= event.value.length();
                let own = event.note.map(|n| n.pitch.midi().number());
                if let Some(note) = &mut event.note
                    && note.tied
                    && next != own
                {
                    note.tied = false;
                    let measure = &self.measures[index];
                    let place = spot(&measure.number, measure.meter, at);
                    self.notices.add(&place, "a tie that leads to no note of the same pitch is left out");
                }
                next = own;
            }
        }
    }
}

/// A meter as long as a bar that its own does not fit.
fn meter_of(length: Quarters, unit: u8) -> Option<Meter> {
    [unit, 4, 8, 16, 32].into_iter().find_map(|unit| {
        let one = Quarters::new(4, i64::from(unit)).ok()?;
        if length.rest_of_steps(one) != Quarters::ZERO {
            return None;
        }
        Meter::new(u8::try_from(length.whole_steps(one)).ok().filter(|b| *b <= 32)?, unit)
    })
}

fn to_grid(at: Quarters) -> Quarters {
    let grid = Splitter::grid();
    let (down, rest) = (at.whole_steps(grid), at.rest_of_steps(grid));
    grid * (down + i64::from(rest + rest >= grid))
}

/// Stretches moved to the grid; none vanishes as long as there is room.
fn snap(stretches: &[Stretch], length: Quarters) -> Vec<Stretch> {
    let (grid, length) = (Splitter::grid(), to_grid(length));
    let mut out: Vec<Stretch> = Vec::with_capacity(stretches.len());
    let mut free = Quarters::ZERO;
    for stretch in stretches {
        let at = to_grid(stretch.at).max(free);
        let least = if stretch.head.is_some() { at + grid } else { at };
        let end = to_grid(stretch.end).max(least).min(length);
        if at < end {
            out.push(Stretch { at, end, value: None, ..*stretch });
            free = end;
        }
    }
    out
}

/// Puts chord symbols and tempi, given by measure, into bars; those at the end of a bar belong to the next.
pub(super) fn place_above(
    bars: &mut [Bar],
    measures: &[RawMeasure<'_>],
    chords: &[Vec<(Quarters, Chord)>],
    tempi: &[Vec<(Quarters, Tempo)>],
    notices: &mut Notices,
) {
    let lengths: Vec<Quarters> = bars.iter().map(Bar::length).collect();
    let target = |index: usize, at: Quarters| match lengths.get(index) {
        Some(&length) if at < length => Some((index, at)),
        Some(&length) if at - length < closeness() && index + 1 < lengths.len() => {
            Some((index + 1, Quarters::ZERO))
        }
        _ => None,
    };
    let place = |index: usize, at| {
        measures.get(index).map_or(String::new(), |m: &RawMeasure<'_>| spot(&m.number, m.meter, at))
    };
    for (index, here) in chords.iter().enumerate() {
        for &(at, chord) in here {
            match target(index, at) {
                Some((bar, at)) => bars[bar].chords.push((at, chord)),
                None => {
                    notices.add(&place(index, at), "a chord symbol beyond the end of its bar is left out")
                }
            }
        }
    }
    for (index, here) in tempi.iter().enumerate() {
        for &(at, tempo) in here {
            match target(index, at) {
                Some((bar, at)) => bars[bar].tempi.push((at, tempo)),
                None => notices.add(&place(index, at), "a tempo beyond the end of its bar is left out"),
            }
        }
    }
    for (index, bar) in bars.iter_mut().enumerate() {
        if in_order(&mut bar.chords) {
            notices.add(&place(index, Quarters::ZERO), "of two chord symbols at one place the later is kept");
        }
        if in_order(&mut bar.tempi) {
            notices.add(&place(index, Quarters::ZERO), "of two tempi at one place the later is kept");
        }
    }
}

/// Sorts by place and keeps the last of those at one place; true when that took a different one away.
fn in_order<T: Copy + PartialEq>(list: &mut Vec<(Quarters, T)>) -> bool {
    list.sort_by_key(|(at, _)| *at);
    let mut lost = false;
    let mut kept: Vec<(Quarters, T)> = Vec::with_capacity(list.len());
    for &(at, what) in list.iter() {
        match kept.last_mut() {
            Some(last) if last.0 == at => {
                lost |= last.1 != what;
                last.1 = what;
            }
            _ => kept.push((at, what)),
        }
    }
    *list = kept;
    lost
}
