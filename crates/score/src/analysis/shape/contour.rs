//! Contour: up, down and the same, from note to note.

use std::cmp::Ordering;
use std::fmt;

/// The way from one sounding note to the next, size left out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Motion {
    /// To a lower note.
    Down,
    /// The same note again.
    Same,
    /// To a higher note.
    Up,
}

impl Motion {
    /// Of a step of so many semitones.
    pub fn of(semitones: i32) -> Self {
        match semitones.cmp(&0) {
            Ordering::Less => Self::Down,
            Ordering::Equal => Self::Same,
            Ordering::Greater => Self::Up,
        }
    }

    /// `+` up, `-` down, `=` the same.
    pub fn sign(self) -> char {
        match self {
            Self::Down => '-',
            Self::Same => '=',
            Self::Up => '+',
        }
    }
}

/// The motions of a line, one fewer than its sounding notes.
///
/// The three signs are those that Denys Parsons sorted tunes by (The Directory of Tunes and Musical Themes,
/// 1975: up, down, repeat; from memory), written `+`, `-` and `=`.
#[derive(Clone, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Contour(pub Vec<Motion>);

/// What a contour looks like from afar.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Outline {
    /// Nothing moves.
    Level,
    /// Only upwards.
    Rising,
    /// Only downwards.
    Falling,
    /// Up, then down.
    Arch,
    /// Down, then up.
    Valley,
    /// More than one turn.
    Wave,
}

impl Contour {
    /// From semitones between neighbours.
    pub fn of(intervals: &[i32]) -> Self {
        Self(intervals.iter().map(|&n| Motion::of(n)).collect())
    }

    /// How often the direction changes; a repeated note is no direction.
    pub fn turns(&self) -> usize {
        let moving: Vec<Motion> = self.0.iter().copied().filter(|&m| m != Motion::Same).collect();
        moving.windows(2).filter(|w| w[0] != w[1]).count()
    }

    /// What it looks like from afar.
    pub fn outline(&self) -> Outline {
        let first = self.0.iter().find(|&&m| m != Motion::Same);
        match (first, self.turns()) {
            (None, _) => Outline::Level,
            (Some(Motion::Up), 0) => Outline::Rising,
            (Some(_), 0) => Outline::Falling,
            (Some(Motion::Up), 1) => Outline::Arch,
            (Some(_), 1) => Outline::Valley,
            _ => Outline::Wave,
        }
    }

    /// In words: `rises, then falls`.
    pub fn words(&self) -> String {
        match self.outline() {
            Outline::Level => "stays on one note".to_owned(),
            Outline::Rising => "only rises".to_owned(),
            Outline::Falling => "only falls".to_owned(),
            Outline::Arch => "rises, then falls".to_owned(),
            Outline::Valley => "falls, then rises".to_owned(),
            Outline::Wave => format!("changes direction {} times", self.turns()),
        }
    }
}

/// `++-=`.
impl fmt::Display for Contour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        self.0.iter().try_for_each(|m| write!(f, "{}", m.sign()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn turns_and_outlines() {
        for (intervals, signs, turns, outline) in [
            (&[][..], "", 0, Outline::Level),
            (&[0, 0], "==", 0, Outline::Level),
            (&[3, 0, 2], "+=+", 0, Outline::Rising),
            (&[-1, -2], "--", 0, Outline::Falling),
            (&[3, 2, 0, -2], "++=-", 1, Outline::Arch),
            (&[-3, 5], "-+", 1, Outline::Valley),
            (&[3, -3, 5, 0, -5], "+-+=-", 3, Outline::Wave),
        ] {
            let contour = Contour::of(intervals);
            assert_eq!(contour.to_string(), signs);
            assert_eq!((contour.turns(), contour.outline()), (turns, outline), "{signs}");
        }
    }
}
