//! Kin by hand shape: what the fretting hand does, wherever on the neck.

use std::ops::Range;

use riffkin_fretboard::hand_shape::{HandShape, Held, Step};

/// Most steps of a shape that are compared; what follows in a longer riff is left out.
pub const MOST: usize = 512;

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
#[derive(Clone, Copy, PartialEq, Eq)]
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

impl Hands {
    /// Of the riff asked about, `here`, and another.
    pub fn between(here: &HandShape, there: &HandShape) -> Self {
        let moves = |shape: &HandShape| -> Vec<Movement> {
            shape.steps().windows(2).take(MOST - 1).map(|w| movement(w[0], w[1])).collect()
        };
        let (a, b) = (moves(here), moves(there));
        // Longest common substring by the usual table of lengths, a row at a time.
        let (mut row, mut best, mut ends) = (vec![0usize; b.len() + 1], 0, (0, 0));
        for (i, x) in a.iter().enumerate() {
            for j in (0..b.len()).rev() {
                row[j + 1] = if *x == b[j] { row[j] + 1 } else { 0 };
            }
            for (j, &run) in row.iter().enumerate() {
                if run > best {
                    (best, ends) = (run, (i + 1, j));
                }
            }
        }
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
        let places = if self.same_places { ", on the same places under the hand" } else { "" };
        match (self.same, self.run()) {
            (true, _) => "the same hand shape".to_owned(),
            (_, 0 | 1) => format!("no movement of the hand in common{places}"),
            (_, run) => format!("{run} notes on end with the same movement{places}"),
        }
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
