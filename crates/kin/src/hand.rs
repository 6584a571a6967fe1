//! Kin by hand shape: what the fretting hand does, wherever on the neck.

use std::ops::Range;

use riffkin_fretboard::hand_shape::{HandShape, Held, Step};
use riffkin_score::riff::Riff;

use crate::kinship::side_by_side;

/// Most steps of a shape that are compared; what follows in a longer riff is left out.
pub const MOST: usize = 512;

/// A run of so many notes is worth telling: three are struck in a row, or go to the next string and back, in most
/// riffs (our choice, no source).
pub const WORTH: usize = 4;

/// Two hand shapes side by side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Hands {
    /// Note for note the same movement.
    pub same: bool,
    /// The same places under the hand, in whatever order.
    pub same_places: bool,
    /// The longest run of notes with one movement, here; empty when there is none of two notes or more.
    pub here: Range<usize>,
    /// The same run there; the earliest of equals.
    pub there: Range<usize>,
    /// Notes here and there, dead ones counted.
    pub notes: (usize, usize),
}

/// From one step to the next, wherever the hand is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Movement {
    strings: i16,
    frets: Option<i16>,
    held: (u8, u8),
}

fn movement(from: Step, to: Step) -> Movement {
    let kind = |held| match held {
        Held::Fretted(_) => 0,
        Held::Open => 1,
        Held::Dead => 2,
        // A harmonic lies where it lies.
        Held::Node(fret) => 3u8.saturating_add(fret),
    };
    let frets = match (from.held, to.held) {
        (Held::Fretted(a), Held::Fretted(b)) => Some(i16::from(b) - i16::from(a)),
        _ => None,
    };
    Movement {
        strings: i16::from(to.string) - i16::from(from.string),
        frets,
        held: (kind(from.held), kind(to.held)),
    }
}

fn movements(shape: &HandShape) -> Vec<Movement> {
    shape.steps().windows(2).take(MOST - 1).map(|w| movement(w[0], w[1])).collect()
}

/// Longest common substring by the usual table of lengths, a row at a time: its length, and where it ends in
/// both; the earliest of equals.
fn longest(a: &[Movement], b: &[Movement], row: &mut Vec<u16>) -> (usize, (usize, usize)) {
    row.clear();
    row.resize(b.len() + 1, 0);
    let (mut best, mut ends) = (0, (0, 0));
    for (i, x) in a.iter().enumerate() {
        for (j, y) in b.iter().enumerate().rev() {
            row[j + 1] = if x == y { row[j] + 1 } else { 0 };
        }
        // The earliest of equals: from the left.
        for (j, &run) in row.iter().enumerate() {
            if run > best {
                (best, ends) = (run, (i + 1, j));
            }
        }
    }
    (usize::from(best), ends)
}

/// A hand shape that is looked for among very many.
#[derive(Clone, Debug)]
pub struct Sought {
    shape: HandShape,
    movements: Vec<Movement>,
    row: Vec<u16>,
}

impl Sought {
    /// This one.
    pub fn new(shape: HandShape) -> Self {
        Self { movements: movements(&shape), shape, row: Vec::new() }
    }

    /// Whether the other is the same, and how many notes the longest run has: [`Hands::same`] and
    /// [`Hands::run`].
    pub fn compare(&mut self, there: &HandShape) -> (bool, usize) {
        let (best, _) = longest(&self.movements, &movements(there), &mut self.row);
        let run = if best == 0 { 0 } else { best + 1 };
        (!self.shape.is_empty() && self.shape == *there, run)
    }
}

impl Hands {
    /// Of the riff asked about, `here`, and another.
    pub fn between(here: &HandShape, there: &HandShape) -> Self {
        let (best, ends) = longest(&movements(here), &movements(there), &mut Vec::new());
        // So many movements join one note more.
        let range = |end: usize| if best == 0 { 0..0 } else { end - best..end + 1 };
        let footprint = here.footprint();
        Self {
            same: !here.is_empty() && here == there,
            same_places: !footprint.is_empty() && footprint == there.footprint(),
            here: range(ends.0),
            there: range(ends.1),
            notes: (here.len(), there.len()),
        }
    }

    /// Notes of the longest run.
    pub fn run(&self) -> usize {
        self.here.len()
    }

    /// In words.
    pub fn words(&self) -> String {
        let run = self.run();
        let order = if self.same_places { "the same places under the hand, in another order" } else { "" };
        match (self.same, run >= WORTH) {
            (true, _) => "the same hand shape".to_owned(),
            (_, true) if self.same_places => format!("{order}; {run} notes in a row with the same movement"),
            (_, true) => format!("{run} notes in a row with the same movement"),
            _ if self.same_places => order.to_owned(),
            _ => format!("no {WORTH} notes in a row with the same movement"),
        }
    }

    /// The longest run as bars here and there; `None` when it is not worth telling, or when it is all.
    pub fn place(&self, here: &Riff, there: &Riff) -> Option<String> {
        let bars = |riff: &Riff, run: &Range<usize>| {
            let line = riff.line();
            let part = line.get(run.clone())?;
            Some((riff.bar_number(part.first()?.bar), riff.bar_number(part.last()?.bar)))
        };
        let told = !self.same && self.run() >= WORTH;
        told.then(|| Some(side_by_side(bars(here, &self.here)?, bars(there, &self.there)?)))?
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Root, minor third, fourth: string and fret from the first note (common practice, no source).
    #[test]
    fn runs_are_found_wherever_they_lie() {
        let of = |a: &str, b: &str| Hands::between(&a.parse().unwrap(), &b.parse().unwrap());
        let same = of("0:0 0:3 1:0 1:1", "1:2 1:5 2:2 2:3");
        assert!(same.same && same.same_places && same.here == (0..4), "a block moved is the same shape");
        let part = of("0:0 0:3 1:0 1:1", "1:0 0:2 0:5 1:2 0:2");
        assert!(!part.same);
        assert_eq!((part.here, part.there), (0..3, 1..4));
        let order = of("0:0 0:3 1:0", "1:0 0:3 0:0");
        assert!(!order.same && order.same_places);
        let none = of("", "0:0");
        assert!(!none.same && none.run() == 0);
    }
}
