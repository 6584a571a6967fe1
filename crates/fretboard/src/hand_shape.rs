//! Hand shape: what the fretting hand does in a riff, whatever the key.
//!
//! Strings and frets are counted from the first note that a finger presses. A block moved up the neck, or to
//! another string of a neck tuned in one interval, has the same shape; so has the riff in another key when it
//! is fitted the same way. Where a fit takes open strings the hand is bound to the nut, and the shape says so
//! ([`HandShape::is_movable`]): two such shapes may be equal and sound different.

use std::fmt;
use std::str::FromStr;

use crate::fit::{Fit, FittedNote, Touch};

/// Where one note of a shape lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Step {
    /// Strings from that of the first fretted note; above zero towards the higher sounding ones.
    pub string: i8,
    /// How the string is held there.
    pub held: Held,
}

/// How a string is held for one note of a shape.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Held {
    /// Pressed, this many frets from the first fretted note; above zero towards the body.
    Fretted(i8),
    /// Not at all: the open string.
    Open,
    /// Damped; the fret does not matter.
    Dead,
    /// Touched at a node, at this fret from the nut: harmonics do not move with the hand.
    Node(u8),
}

/// The steps of a hand through a riff, one for every note of its line.
///
/// Equal for a riff and the same block moved along the neck. Two shapes compare note by note, so that a
/// repeated note counts; [`HandShape::footprint`] is what is left when order and repeats are set aside.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HandShape(Vec<Step>);

impl HandShape {
    /// The shape of a fit. To compare riffs in different keys, fit all of them with
    /// [`crate::hand::OpenStrings::Refused`]: an open string in one key is a finger in another.
    pub fn of(fit: &Fit) -> Self {
        Self::of_notes(&fit.notes)
    }

    /// The shape of fitted notes in order, as [`crate::block::move_shape`] gives them.
    pub fn of_notes(notes: &[FittedNote]) -> Self {
        // String 1 is the highest, so that the number falls as the sound rises.
        let step = |note: &FittedNote| Step {
            string: small(-i32::from(note.place.string)),
            held: match note.touch {
                Touch::Stopped => Held::Fretted(small(i32::from(note.place.fret))),
                Touch::Open => Held::Open,
                Touch::Dead => Held::Dead,
                Touch::Harmonic => Held::Node(note.place.fret),
            },
        };
        Self(notes.iter().map(step).collect()).anchored()
    }

    /// From steps, counted anew from the first fretted note. `None` when a step then is more than 11 strings or 36
    /// frets away from it.
    pub fn of_steps(steps: Vec<Step>) -> Option<Self> {
        let near = |s: &Step| {
            s.string.unsigned_abs() <= 11
                && match s.held {
                    Held::Fretted(fret) => fret.unsigned_abs() <= 36,
                    Held::Node(fret) => fret <= 36,
                    Held::Open | Held::Dead => true,
                }
        };
        let shape = Self(steps).anchored();
        shape.0.iter().all(near).then_some(shape)
    }

    /// Counted from the first fretted note; without one, strings are counted from the first note's.
    fn anchored(mut self) -> Self {
        let first = self.0.iter().find_map(|s| match s.held {
            Held::Fretted(fret) => Some((s.string, fret)),
            _ => None,
        });
        let first = first.or_else(|| self.0.first().map(|s| (s.string, 0)));
        let (string, fret) = first.unwrap_or_default();
        for step in &mut self.0 {
            step.string = small(i32::from(step.string) - i32::from(string));
            if let Held::Fretted(own) = &mut step.held {
                *own = small(i32::from(*own) - i32::from(fret));
            }
        }
        self
    }

    /// Its steps, one for every note.
    pub fn steps(&self) -> &[Step] {
        &self.0
    }

    /// How many notes it has.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// True for no notes.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// True when the hand may take it anywhere on the neck: no open string, no harmonic.
    pub fn is_movable(&self) -> bool {
        !self.0.iter().any(|s| matches!(s.held, Held::Open | Held::Node(_)))
    }

    /// The places under the hand, each once, as strings from the lowest used and frets from the lowest used,
    /// rising; fretted notes only. Equal for two riffs over one pattern that start on different notes of it.
    pub fn footprint(&self) -> Vec<(u8, u8)> {
        let fretted = || {
            self.0.iter().filter_map(|s| match s.held {
                Held::Fretted(fret) => Some((i32::from(s.string), i32::from(fret))),
                _ => None,
            })
        };
        let low_string = fretted().map(|p| p.0).min().unwrap_or(0);
        let low_fret = fretted().map(|p| p.1).min().unwrap_or(0);
        let from = |n: i32, low: i32| u8::try_from(n - low).unwrap_or(u8::MAX);
        let mut places: Vec<(u8, u8)> =
            fretted().map(|(string, fret)| (from(string, low_string), from(fret, low_fret))).collect();
        places.sort_unstable();
        places.dedup();
        places
    }

    /// Frets from the lowest to the highest that is pressed: 3 for one finger per fret.
    pub fn fret_span(&self) -> u8 {
        self.footprint().iter().map(|p| p.1).max().unwrap_or(0)
    }

    /// How many strings lie from the lowest to the highest that is played, both counted; 0 without notes.
    pub fn string_span(&self) -> u8 {
        let strings = || self.0.iter().map(|s| i32::from(s.string));
        match (strings().min(), strings().max()) {
            (Some(low), Some(high)) => u8::try_from(high - low + 1).unwrap_or(u8::MAX),
            _ => 0,
        }
    }
}

/// Strings and frets of a neck are at most 12 and 36, so that they and their differences always fit.
fn small(n: i32) -> i8 {
    i8::try_from(n).unwrap_or(if n < 0 { i8::MIN } else { i8::MAX })
}

/// `0:0 0:3 1:0 1:1`: string and fret from the first fretted note; `o` open, `x` dead, `n12` a node at fret 12.
impl fmt::Display for HandShape {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, step) in self.0.iter().enumerate() {
            let blank = if i > 0 { " " } else { "" };
            write!(f, "{blank}{}:", step.string)?;
            match step.held {
                Held::Fretted(fret) => write!(f, "{fret}")?,
                Held::Open => f.write_str("o")?,
                Held::Dead => f.write_str("x")?,
                Held::Node(fret) => write!(f, "n{fret}")?,
            }
        }
        Ok(())
    }
}

/// A text that is no hand shape.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' is no step of a hand shape; write string and fret from the first note, such as 0:0 0:3 1:0 (string 1 is the next higher one), o for an open string, x for a dead note, n12 for a harmonic"
)]
pub struct NotAHandShape(pub String);

/// Reads what is printed, and counts anew from the first fretted note.
impl FromStr for HandShape {
    type Err = NotAHandShape;
    fn from_str(text: &str) -> Result<Self, NotAHandShape> {
        let steps = text.split_whitespace().map(|word| {
            let refuse = || NotAHandShape(word.to_owned());
            let (string, held) = word.split_once(':').ok_or_else(refuse)?;
            let string = string.parse::<i8>().ok().filter(|s| s.unsigned_abs() <= 11).ok_or_else(refuse)?;
            let held = match held {
                "o" => Held::Open,
                "x" => Held::Dead,
                other => match other.strip_prefix('n') {
                    Some(node) => Held::Node(node.parse().ok().filter(|n| *n <= 36).ok_or_else(refuse)?),
                    None => Held::Fretted(
                        other.parse::<i8>().ok().filter(|f| f.unsigned_abs() <= 36).ok_or_else(refuse)?,
                    ),
                },
            };
            Ok(Step { string, held })
        });
        Ok(Self(steps.collect::<Result<_, _>>()?).anchored())
    }
}
