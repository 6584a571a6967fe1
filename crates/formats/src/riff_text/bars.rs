//! The notes, bar by bar.

use riffkin_score::Warning;
use riffkin_score::chord::Chord;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::header::Head;
use super::notes::{Ground, read_marks};
use super::scan::{BarLine, Kind, Scanner, Token};
use super::words;
use crate::text_error::{Source, TextError, shown};

/// Reads everything from the first bar line on.
pub(super) fn read(
    source: Source<'_>,
    body_at: usize,
    head: Head,
) -> Result<(Riff, Vec<Warning>), TextError> {
    let Head { header, meter, neck, warnings } = head;
    let mut reader = Reader {
        source,
        ground: Ground::new(header.key, neck),
        warnings,
        bars: Vec::new(),
        events: 0,
        open: Open::new(meter, false),
        value: None,
        bracket: Vec::new(),
        after: After::Nothing,
        pending_line: None,
    };
    let mut scanner = Scanner::new(source, body_at);
    while let Some(token) = scanner.next()? {
        reader.token(token)?;
    }
    reader.finish(header, scanner.end())
}

/// A bar being filled.
pub(super) struct Open {
    pub(super) meter: Meter,
    pub(super) short: bool,
    repeat_start: bool,
    pub(super) length: Quarters,
    pub(super) events: Vec<Event>,
    pub(super) chords: Vec<(Quarters, Chord, usize)>,
    pub(super) tempi: Vec<(Quarters, Tempo, usize)>,
    /// The first thing in it that is no note: for a bar that turns out to have none.
    first_word: Option<usize>,
    /// The first note that no longer fits.
    overfull: Option<usize>,
}

impl Open {
    fn new(meter: Meter, repeat_start: bool) -> Self {
        Self {
            meter,
            short: false,
            repeat_start,
            length: Quarters::ZERO,
            events: Vec::new(),
            chords: Vec::new(),
            tempi: Vec::new(),
            first_word: None,
            overfull: None,
        }
    }

    fn is_empty(&self) -> bool {
        self.events.is_empty() && self.first_word.is_none()
    }
}

/// What came directly before.
#[derive(Clone, Copy, PartialEq, Eq)]
enum After {
    Nothing,
    /// A bar line, on this line of text or an earlier one.
    BarLine {
        ended_repeat: bool,
        same_line: bool,
    },
    Note,
    Rest,
}

pub(super) struct Reader<'a> {
    source: Source<'a>,
    pub(super) ground: Ground,
    warnings: Vec<Warning>,
    pub(super) bars: Vec<Bar>,
    events: usize,
    pub(super) open: Open,
    value: Option<NoteValue>,
    bracket: Vec<u8>,
    after: After,
    /// The bar line that opened the bar being filled.
    pending_line: Option<usize>,
}

impl<'a> Reader<'a> {
    fn token(&mut self, token: Token<'a>) -> Result<(), TextError> {
        let Token { at, kind } = token;
        match kind {
            Kind::NewLine => {
                if let After::BarLine { same_line, .. } = &mut self.after {
                    *same_line = false;
                }
                return Ok(());
            }
            Kind::Bar(line) => return self.bar_line(at, line),
            Kind::Word(word) => {
                if let After::BarLine { ended_repeat, .. } = self.after
                    && self.after_bar_line(at, word, ended_repeat)?
                {
                    return Ok(());
                }
                return self.word(at, word);
            }
            Kind::Round(text) => return self.marks(at, text),
            Kind::Square(text) => self.square(at, text)?,
            Kind::Angle(text) => self.chord(at, text)?,
        }
        self.open.first_word.get_or_insert(at);
        self.after = After::Nothing;
        Ok(())
    }

    /// Bars as people count them: a pickup is bar 0.
    fn bar_number(&self) -> usize {
        let pickup = self.bars.first().map_or(self.open.short, |b| b.short);
        self.bars.len() + usize::from(!pickup)
    }

    pub(super) fn fail<T>(
        &self,
        at: usize,
        problem: impl Into<String>,
        advice: impl Into<String>,
    ) -> Result<T, TextError> {
        Err(self.source.error(at, problem, advice))
    }

    fn bar_line(&mut self, at: usize, line: BarLine) -> Result<(), TextError> {
        if self.open.is_empty() {
            let joins = match self.after {
                After::BarLine { same_line, .. } => !same_line,
                _ => self.pending_line.is_none(),
            };
            if !joins {
                return self.fail(
                    at,
                    format!("bar {} is empty", self.bar_number()),
                    "write its notes, or a rest such as 'w r'",
                );
            }
            // A bar line at the end of a line and one at the start of the next are one.
            if line.ends_repeat {
                match self.bars.last_mut() {
                    Some(bar) if bar.repeat_end.is_none() => bar.repeat_end = Some(2),
                    Some(_) => return self.fail(at, "a second :| at the same bar line", "take one out"),
                    None => {
                        return self.fail(at, "a repeat ends before the first bar", "start with | or |:");
                    }
                }
            }
            self.open.repeat_start |= line.starts_repeat;
        } else {
            self.close(at, line.ends_repeat)?;
            self.open.repeat_start = line.starts_repeat;
        }
        if !line.is_plain() {
            self.bracket.clear();
        }
        self.pending_line = Some(at);
        let ended_before = matches!(self.after, After::BarLine { ended_repeat: true, .. });
        self.after = After::BarLine { ended_repeat: line.ends_repeat || ended_before, same_line: true };
        Ok(())
    }

    /// `x3` and `1st` belong to the bar line before them. True when the word was one of them.
    fn after_bar_line(&mut self, at: usize, word: &str, ended_repeat: bool) -> Result<bool, TextError> {
        if let Some(times) = word.strip_prefix('x').filter(|t| t.starts_with(|c: char| c.is_ascii_digit())) {
            let times = times.parse().ok().filter(|n| (2..=99).contains(n));
            return match (self.bars.last_mut(), times) {
                (Some(bar), Some(times)) if ended_repeat => {
                    bar.repeat_end = Some(times);
                    Ok(true)
                }
                (_, Some(_)) => self.fail(
                    at,
                    format!("{} where no repeat ends", shown(word)),
                    "how often a repeat is played stands directly after :|",
                ),
                (_, None) => self.fail(
                    at,
                    format!("{}: a repeat is played 2 to 99 times", shown(word)),
                    "write how many times in all, such as x3",
                ),
            };
        }
        let Some(passes) = words::read_ending(word) else { return Ok(false) };
        let rising = passes.windows(2).all(|w| w[0] < w[1]);
        if !rising || passes.iter().any(|p| !(1..=99).contains(p)) {
            return self.fail(
                at,
                format!("the ending {}", shown(word)),
                "write the passes upwards from 1st to 99th, such as 1st or 1st,2nd",
            );
        }
        self.bracket = passes;
        Ok(true)
    }

    fn word(&mut self, at: usize, word: &'a str) -> Result<(), TextError> {
        if let Some(length) = words::read_length(word) {
            let value = length.or_else(|why| self.fail(at, format!("{} is no length", shown(word)), why))?;
            self.value = Some(value);
            self.open.first_word.get_or_insert(at);
            self.after = After::Nothing;
            return Ok(());
        }
        if words::read_ending(word).is_some() {
            return self.fail(
                at,
                format!("the ending {} inside a bar", shown(word)),
                "an ending stands directly after a bar line, such as |1st",
            );
        }
        if self.bars.is_empty() && self.open.events.is_empty() && word.ends_with(':') {
            return self.fail(
                at,
                format!("the header line {} below the first bar line", shown(word)),
                "move it above the first line that starts with |",
            );
        }
        let note = if word == "r" {
            None
        } else {
            let before = self.last_event().and_then(|e| e.note);
            let mut warnings = Vec::new();
            let note = self
                .ground
                .read(word, before, &mut warnings)
                .or_else(|(problem, advice)| self.fail(at, problem, advice))?;
            let place = format!("bar {}", self.bar_number());
            self.warnings.extend(warnings.into_iter().map(|w| Warning::at(&place, w)));
            Some(note)
        };
        let Some(value) = self.value else {
            return self.fail(
                at,
                format!("{} before any length", shown(word)),
                "say first how long: w h q e s t z or y, such as 'q 1'",
            );
        };
        if word.starts_with('=')
            && let Some(held) = self.last_event_mut().and_then(|e| e.note.as_mut())
        {
            held.tied = true;
        }
        self.push(at, Event { value, note })
    }

    fn push(&mut self, at: usize, event: Event) -> Result<(), TextError> {
        self.events += 1;
        if self.events > Riff::MAX_EVENTS {
            return self.fail(
                at,
                format!("more than {} notes and rests", Riff::MAX_EVENTS),
                "split the riff into several",
            );
        }
        self.after = if event.note.is_some() { After::Note } else { After::Rest };
        self.open.length += event.value.length();
        if self.open.length > self.open.meter.bar_length() {
            self.open.overfull.get_or_insert(at);
        }
        self.open.events.push(event);
        Ok(())
    }

    fn last_event(&self) -> Option<Event> {
        self.open.events.last().or_else(|| self.bars.last().and_then(|b| b.events.last())).copied()
    }

    fn last_event_mut(&mut self) -> Option<&mut Event> {
        match self.open.events.last_mut() {
            Some(event) => Some(event),
            None => self.bars.last_mut().and_then(|b| b.events.last_mut()),
        }
    }

    fn marks(&mut self, at: usize, text: &str) -> Result<(), TextError> {
        let note: Option<&mut Note> = match self.after {
            After::Note => self.open.events.last_mut().and_then(|e| e.note.as_mut()),
            _ => None,
        };
        let Some(note) = note else {
            let what = if self.after == After::Rest { "marks after a rest" } else { "marks without a note" };
            return self.fail(at, what, "write them directly after the note they belong to");
        };
        let source = self.source;
        read_marks(note, text)
            .map_err(|(offset, (problem, advice))| source.error(at + 1 + offset, problem, advice))
    }

    /// Ends the bar at a bar line or the end of the text.
    fn close(&mut self, at: usize, ends_repeat: bool) -> Result<(), TextError> {
        let number = self.bar_number();
        let next = Open::new(self.open.meter, false);
        let open = std::mem::replace(&mut self.open, next);
        if open.events.is_empty() {
            return self.fail(
                open.first_word.unwrap_or(at),
                format!("bar {number} has no notes"),
                "write its notes, or a rest such as 'w r'",
            );
        }
        if self.bars.len() >= Riff::MAX_BARS {
            return self.fail(
                at,
                format!("more than {} bars", Riff::MAX_BARS),
                "split the riff into several",
            );
        }
        let wanted = open.meter.bar_length();
        if let Some(overfull) = open.overfull {
            return self.fail(
                overfull,
                format!(
                    "bar {number} holds {}, and {} asks for {}; too much: {}",
                    count(open.length),
                    open.meter,
                    count(wanted),
                    amount(open.length - wanted)
                ),
                "this is the first note that does not fit; shorten what stands before it, or move it behind a bar line",
            );
        }
        if open.length < wanted && !open.short {
            let first = if self.bars.is_empty() { "[pickup]" } else { "[short]" };
            return self.fail(
                at,
                format!(
                    "bar {number} holds {}, and {} asks for {}; missing: {}",
                    count(open.length),
                    open.meter,
                    count(wanted),
                    amount(wanted - open.length)
                ),
                format!("add it, or write {first} at the start of the bar"),
            );
        }
        if open.short && open.length == wanted {
            self.warnings.push(Warning::at(
                format!("bar {number}"),
                "the bar is marked as a pickup or short, and is full",
            ));
        }
        let mut bar = Bar::new(open.meter, open.events);
        bar.short = open.short;
        bar.repeat_start = open.repeat_start;
        bar.repeat_end = ends_repeat.then_some(2);
        bar.endings = self.bracket.clone();
        bar.chords = self.in_order("chord", open.chords, open.length)?;
        bar.tempi = self.in_order("tempo", open.tempi, open.length)?;
        self.bars.push(bar);
        Ok(())
    }

    fn in_order<T>(
        &self,
        what: &str,
        mut found: Vec<(Quarters, T, usize)>,
        length: Quarters,
    ) -> Result<Vec<(Quarters, T)>, TextError> {
        found.sort_by_key(|f| (f.0, f.2));
        if let Some((_, _, at)) = found.iter().find(|f| f.0 >= length) {
            return self.fail(
                *at,
                format!("a {what} past the last note of its bar"),
                "write it before the note over which it stands, or behind the bar line",
            );
        }
        if let Some(pair) = found.windows(2).find(|w| w[0].0 == w[1].0) {
            return self.fail(pair[1].2, format!("a second {what} at the same place"), "keep one of them");
        }
        Ok(found.into_iter().map(|(at, what, _)| (at, what)).collect())
    }

    fn finish(mut self, header: Header, end: usize) -> Result<(Riff, Vec<Warning>), TextError> {
        if !self.open.is_empty() {
            self.close(end, false)?;
        } else if self.open.repeat_start {
            return self.fail(
                self.pending_line.unwrap_or(end),
                "a repeat starts after the last bar",
                "end with :| or ||",
            );
        } else if !self.bracket.is_empty() && matches!(self.after, After::BarLine { .. }) {
            // A plain bar line at the end closes a bracket as the end of the text does.
            let opened_here = self.bars.last().is_none_or(|b| b.endings != self.bracket);
            if opened_here {
                return self.fail(
                    self.pending_line.unwrap_or(end),
                    "an ending after the last bar",
                    "write its bar, or take it out",
                );
            }
        }
        let riff = Riff::new(header, self.bars)
            .map_err(|why| self.source.error(end, why.to_string(), "correct the bar it names"))?;
        never_played(&riff, &mut self.warnings);
        Ok((riff, self.warnings))
    }
}

/// A bar under a bracket that no pass reaches is most likely a slip.
fn never_played(riff: &Riff, warnings: &mut Vec<Warning>) {
    let order = riff.order();
    if order.len() >= Riff::MAX_PLAYED_BARS {
        return;
    }
    let mut played = vec![false; riff.bars().len()];
    for bar in order {
        if let Some(seen) = played.get_mut(bar) {
            *seen = true;
        }
    }
    for (i, _) in played.iter().enumerate().filter(|(_, seen)| !**seen) {
        warnings.push(Warning::at(
            format!("bar {}", riff.bar_number(i)),
            "no pass of the repeat reaches this bar; look at its ending and at how often the repeat is played",
        ));
    }
}

/// `3 1/2 quarter notes`.
fn count(length: Quarters) -> String {
    let (n, d) = length.fraction();
    let number = match (n.div_euclid(d), n.rem_euclid(d)) {
        (whole, 0) => whole.to_string(),
        (0, part) => format!("{part}/{d}"),
        (whole, part) => format!("{whole} {part}/{d}"),
    };
    if number == "1" { "1 quarter note".to_owned() } else { format!("{number} quarter notes") }
}

/// A length in a word where one note value has it.
fn amount(length: Quarters) -> String {
    match NoteValue::of_length(length) {
        Some(value) => format!("one {}", value.words()),
        None => count(length),
    }
}
