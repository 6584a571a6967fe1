//! The signs of one bar: frets, and how they are played.

use std::collections::BTreeMap;

use riffkin_score::Warning;
use riffkin_score::key::Key;
use riffkin_score::note::{Approach, Mark, Note, Place};

use super::lines::Cell;
use super::system::Measure;
use super::tuning::{Tuning, spelled};
use crate::text_error::{Source, TextError, shown};

/// A note as typed.
#[derive(Clone, Copy, Debug)]
pub(super) struct Found {
    /// Byte offset.
    pub(super) at: usize,
    /// Line number.
    pub(super) line: usize,
    /// Column in its bar, from 0.
    pub(super) column: usize,
    /// Column on the screen, from 0.
    pub(super) screen: usize,
    /// Typed with two digits.
    pub(super) wide: bool,
    pub(super) note: Note,
}

/// Signs that wait for the next note on their string, over bar lines and systems.
#[derive(Default)]
pub(super) struct Carried {
    waiting: BTreeMap<u8, Waiting>,
    played: [bool; 13],
    /// The first that led nowhere, and how many did.
    lost: Option<(usize, usize, usize)>,
}

#[derive(Clone, Copy)]
struct Waiting {
    approach: Approach,
    line: usize,
    column: usize,
    gap: usize,
}

/// Columns after which a slide or hammer-on sign no longer belongs to the next number.
const REACH: usize = 6;

impl Carried {
    fn lose(&mut self, waiting: Waiting) {
        self.lost.get_or_insert((waiting.line, waiting.column, 0)).2 += 1;
    }

    /// What never found its note.
    pub(super) fn left_over(mut self) -> Option<Warning> {
        for waiting in std::mem::take(&mut self.waiting).into_values() {
            self.lose(waiting);
        }
        let (line, column, count) = self.lost?;
        Some(Warning::at(
            format!("line {line}, column {column}"),
            format!("a hammer-on, pull-off or slide that leads to no note was left out ({})", times(count)),
        ))
    }
}

fn times(count: usize) -> String {
    if count == 1 { "once".to_owned() } else { format!("{count} times") }
}

/// Signs that mean nothing here: each with its first place and how often it stands.
#[derive(Default)]
pub(super) struct Unknown(BTreeMap<char, (usize, usize, usize)>);

impl Unknown {
    fn add(&mut self, cell: Cell, line: usize) {
        self.0.entry(cell.c).or_insert((line, cell.column + 1, 0)).2 += 1;
    }

    /// One warning for each sign.
    pub(super) fn warnings(self) -> Vec<Warning> {
        self.0
            .into_iter()
            .map(|(sign, (line, column, count))| {
                Warning::at(
                    format!("line {line}, column {column}"),
                    format!(
                        "the sign {} was not understood and left out ({})",
                        shown(&sign.to_string()),
                        times(count)
                    ),
                )
            })
            .collect()
    }
}

/// Everything a row is read with.
pub(super) struct Hand<'a> {
    pub(super) source: Source<'a>,
    pub(super) tuning: &'a Tuning,
    pub(super) key: Option<Key>,
    pub(super) carried: &'a mut Carried,
    pub(super) unknown: &'a mut Unknown,
    pub(super) warnings: &'a mut Vec<Warning>,
}

/// Most notes between two bar lines, over all strings.
const MOST: usize = 20_000;

/// Reads the notes of a bar, in the order of their columns.
pub(super) fn read(hand: &mut Hand<'_>, measure: &Measure) -> Result<Vec<Found>, TextError> {
    let mut found = Vec::new();
    for (i, (cells, &line)) in measure.rows.iter().zip(&measure.numbers).enumerate() {
        let mut row = RowReader {
            cells,
            line,
            string: hand.tuning.string(i),
            i: 0,
            ghost: false,
            harmonic: false,
            last: None,
            found: Vec::new(),
        };
        row.read(hand)?;
        found.append(&mut row.found);
        if let Some(extra) = found.get(MOST) {
            return Err(hand.source.error(
                extra.at,
                format!("more than {MOST} notes without a bar line"),
                "write bar lines, or split the text",
            ));
        }
    }
    found.sort_by_key(|f| f.column);
    Ok(found)
}

struct RowReader<'a> {
    cells: &'a [Cell],
    line: usize,
    string: u8,
    i: usize,
    ghost: bool,
    harmonic: bool,
    /// The fret of the last note in this bar.
    last: Option<u8>,
    found: Vec<Found>,
}

impl RowReader<'_> {
    fn read(&mut self, hand: &mut Hand<'_>) -> Result<(), TextError> {
        while let Some(&cell) = self.cells.get(self.i) {
            if self.found.len() > MOST {
                return Ok(());
            }
            if let Some(waiting) = hand.carried.waiting.get_mut(&self.string) {
                waiting.gap += 1;
                if waiting.gap > REACH {
                    let lost = *waiting;
                    hand.carried.waiting.remove(&self.string);
                    hand.carried.lose(lost);
                }
            }
            match cell.c {
                '0'..='9' => {
                    self.number(hand)?;
                    continue;
                }
                '-' | ' ' | '=' => {}
                'x' | 'X' => self.play(hand, self.i, 0, true)?,
                'h' | 'H' => self.wait(hand, cell, Approach::Hammer),
                'p' | 'P' => self.wait(hand, cell, Approach::Pull),
                '/' | '\\' | 's' => self.wait(hand, cell, Approach::Slide),
                '~' | 'v' => self.mark(hand, cell, Mark::Vibrato),
                '(' => self.ghost = true,
                ')' => self.ghost = false,
                '<' | '[' | '{' => self.harmonic = true,
                '>' | ']' | '}' => self.harmonic = false,
                'b' => {
                    self.bend(hand, cell);
                    continue;
                }
                'r' => {
                    // The number after a release is where the bent note comes back to, not a new note.
                    hand.unknown.add(cell, self.line);
                    self.i += 1;
                    self.digits();
                    continue;
                }
                _ => hand.unknown.add(cell, self.line),
            }
            self.i += 1;
        }
        Ok(())
    }

    /// The digits from here on; moves past them.
    fn digits(&mut self) -> Vec<u8> {
        let rest = self.cells.get(self.i..).unwrap_or(&[]);
        let digits: Vec<u8> =
            rest.iter().map_while(|c| c.c.to_digit(10)).filter_map(|d| u8::try_from(d).ok()).collect();
        self.i += digits.len();
        digits
    }

    /// One digit, or two up to fret 24. Longer runs are single frets, if no two neighbours could be one number.
    fn number(&mut self, hand: &mut Hand<'_>) -> Result<(), TextError> {
        let start = self.i;
        let digits = self.digits();
        let column = self.cells.get(start).map_or(0, |c| c.column + 1);
        let is_fret = |ten: u8, one: u8| (10..=24).contains(&(ten * 10 + one));
        match *digits.as_slice() {
            [one] => return self.play(hand, start, one, false),
            [ten, one] if is_fret(ten, one) => return self.play(hand, start, ten * 10 + one, false),
            _ => {}
        }
        let text: String = digits.iter().map(u8::to_string).collect();
        if digits.windows(2).any(|w| is_fret(w[0], w[1])) {
            return Err(hand.source.error(
                self.cells.get(start).map_or(0, |c| c.at),
                format!("{} is no fret", shown(&text)),
                "put a dash between the numbers; frets go from 0 to 24",
            ));
        }
        hand.warnings.push(Warning::at(
            format!("line {}, column {column}", self.line),
            format!("{} is no fret; each digit was read as one", shown(&text)),
        ));
        for (k, &fret) in digits.iter().enumerate() {
            self.play(hand, start + k, fret, false)?;
        }
        Ok(())
    }

    fn play(&mut self, hand: &mut Hand<'_>, i: usize, fret: u8, dead: bool) -> Result<(), TextError> {
        let Some(&cell) = self.cells.get(i) else { return Ok(()) };
        let semitones = if self.harmonic { node(fret) } else { Some(fret) };
        if semitones.is_none() {
            hand.warnings.push(Warning::at(
                format!("line {}, column {}", self.line, cell.column + 1),
                format!("no natural harmonic is known at fret {fret}; it was read as a fretted note"),
            ));
        }
        let sound =
            hand.tuning.midi(self.string, semitones.unwrap_or(fret)).and_then(|m| spelled(m, hand.key));
        let Some(pitch) = sound else {
            return Err(hand.source.error(
                cell.at,
                format!("fret {fret} on this string sounds nothing that can be written"),
                "look at the fret and at the letter before the line",
            ));
        };
        let mut note = Note::plain(pitch);
        if dead {
            note.marks = note.marks.with(Mark::Dead);
        }
        if self.ghost {
            note.marks = note.marks.with(Mark::Ghost);
        }
        if self.harmonic && semitones.is_some() {
            note.marks = note.marks.with(Mark::Harmonic);
        }
        if hand.tuning.name().is_some() {
            note.place = Some(Place { string: self.string, fret });
        }
        let played = hand.carried.played.get_mut(usize::from(self.string));
        if let Some(waiting) = hand.carried.waiting.remove(&self.string) {
            let from_nowhere = !played.as_ref().is_some_and(|p| **p);
            note.approach = match waiting.approach {
                Approach::Slide if from_nowhere => Approach::SlidePlucked,
                approach => approach,
            };
        }
        if let Some(played) = played {
            *played = true;
        }
        self.last = Some(fret);
        self.found.push(Found {
            at: cell.at,
            line: self.line,
            column: i,
            screen: cell.column,
            wide: fret > 9,
            note,
        });
        Ok(())
    }

    fn wait(&mut self, hand: &mut Hand<'_>, cell: Cell, approach: Approach) {
        let waiting = Waiting { approach, line: self.line, column: cell.column + 1, gap: 0 };
        if let Some(lost) = hand.carried.waiting.insert(self.string, waiting) {
            hand.carried.lose(lost);
        }
    }

    fn mark(&mut self, hand: &mut Hand<'_>, cell: Cell, mark: Mark) {
        match self.found.last_mut() {
            Some(found) => found.note.marks = found.note.marks.with(mark),
            None => hand.unknown.add(cell, self.line),
        }
    }

    /// `7b9`: bent as far as fret 9 sounds; `7b` alone: a whole tone, and said so.
    fn bend(&mut self, hand: &mut Hand<'_>, cell: Cell) {
        self.i += 1;
        let goal = self.digits();
        let (Some(from), Some(found)) = (self.last, self.found.last_mut()) else {
            hand.unknown.add(cell, self.line);
            return;
        };
        let place = format!("line {}, column {}", self.line, cell.column + 1);
        let goal =
            goal.iter().try_fold(0u8, |n, &d| n.checked_mul(10)?.checked_add(d)).filter(|_| !goal.is_empty());
        let semitones = goal.and_then(|goal| goal.checked_sub(from)).filter(|s| (1..=4).contains(s));
        if semitones.is_none() {
            hand.warnings
                .push(Warning::at(place, "how far the note is bent is not said; a whole tone was taken"));
        }
        found.note.bend = semitones.unwrap_or(2) * 2;
    }
}

/// Semitones above the open string of the natural harmonic touched over a fret: partials 2 to 6 of the string
/// (octave, fifth above, double octave, major third and fifth above that; common practice).
fn node(fret: u8) -> Option<u8> {
    match fret {
        12 => Some(12),
        7 | 19 => Some(19),
        5 | 24 => Some(24),
        4 | 9 | 16 => Some(28),
        3 => Some(31),
        _ => None,
    }
}
