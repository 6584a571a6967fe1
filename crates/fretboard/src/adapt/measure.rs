//! How much an adaptation changes, so that two can be compared.

use std::fmt;

/// For each octave of each note moved.
const MOVED: u32 = 2;
/// More for a root on the first beat of a bar.
const ROOT: u32 = 4;
/// For neighbours moved differently; half across a rest.
const BREAK: u32 = 2;
/// For neighbours between which the line goes another way than it did; half across a rest.
const TURN: u32 = 4;

/// What moving notes by octaves does to a line.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Change {
    /// Notes moved.
    pub notes: u32,
    /// Octaves they move, added up.
    pub octaves: u32,
    /// Roots on the first beat of a bar among them.
    pub roots: u32,
    /// Phrases broken: neighbours without a rest between them that move differently.
    pub breaks: u32,
    /// The same across a rest.
    pub breaks_at_rests: u32,
    /// Turns of the contour: neighbours without a rest between them where the line rises, falls or stays level and
    /// did not before.
    pub turns: u32,
    /// The same across a rest.
    pub turns_at_rests: u32,
}

impl Change {
    /// The change as one number: 2 for each octave of each note, 4 more for a root on a first beat, 2 for a break and
    /// 4 for a turn, half of it across a rest. Our measure, no source: one note in the middle of a line weighs as much
    /// as a phrase of five that keeps its contour.
    pub fn weight(self) -> u32 {
        let halves = (BREAK * self.breaks_at_rests + TURN * self.turns_at_rests) / 2;
        MOVED * self.octaves + ROOT * self.roots + BREAK * self.breaks + TURN * self.turns + halves
    }

    /// Turns of the contour, across rests or not.
    pub fn all_turns(self) -> u32 {
        self.turns + self.turns_at_rests
    }

    /// Both changes together.
    #[must_use]
    pub(super) fn and(self, other: Self) -> Self {
        Self {
            notes: self.notes + other.notes,
            octaves: self.octaves + other.octaves,
            roots: self.roots + other.roots,
            breaks: self.breaks + other.breaks,
            breaks_at_rests: self.breaks_at_rests + other.breaks_at_rests,
            turns: self.turns + other.turns,
            turns_at_rests: self.turns_at_rests + other.turns_at_rests,
        }
    }
}

/// What an adaptation costs, in the unit of its kind. Kinds are not weighed against each other: they are offered in
/// order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Notes moved by octaves; the whole line too.
    Moved(Change),
    /// Another key.
    Key {
        /// How far it moves, signed.
        semitones: i32,
        /// Sharps of its signature, flats below zero; `None` while its mode is undecided.
        signature: Option<i32>,
    },
    /// Another tuning.
    Tuning {
        /// Strings tuned otherwise.
        strings: u32,
        /// Semitones that they move, added up.
        semitones: u32,
    },
    /// Another instrument.
    MoreStrings {
        /// Strings more than before.
        strings: u32,
    },
}

/// In words: `change 17: 1 note moved, 2 turns of the line, 2 breaks`.
impl fmt::Display for Measure {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match *self {
            Self::Moved(change) => {
                write!(f, "change {}: {} moved", change.weight(), many(change.notes, "note"))?;
                if change.octaves > change.notes {
                    write!(f, " by {}", many(change.octaves, "octave"))?;
                }
                for (count, what) in [
                    (change.roots, "root on a first beat"),
                    (change.turns, "turn of the line"),
                    (change.turns_at_rests, "turn across a rest"),
                    (change.breaks, "break in a phrase"),
                    (change.breaks_at_rests, "break at a rest"),
                ] {
                    if count > 0 {
                        write!(f, ", {}", many(count, what))?;
                    }
                }
                Ok(())
            }
            Self::Key { semitones, signature } => {
                let signs = match signature {
                    None => String::new(),
                    Some(0) => ", no sharps or flats".to_owned(),
                    Some(n) if n > 0 => format!(", {}", many(n.unsigned_abs(), "sharp")),
                    Some(n) => format!(", {}", many(n.unsigned_abs(), "flat")),
                };
                write!(f, "{} away{signs}", many(semitones.unsigned_abs(), "semitone"))
            }
            Self::Tuning { strings, semitones } => {
                write!(f, "{} retuned, {} in all", many(strings, "string"), many(semitones, "semitone"))
            }
            Self::MoreStrings { strings } => write!(f, "{} more", many(strings, "string")),
        }
    }
}

/// `1 root on a first beat`, `2 roots on a first beat`.
pub(super) fn many(count: u32, what: &str) -> String {
    match (count, what.split_once(' ')) {
        (1, _) => format!("1 {what}"),
        (_, Some((noun, rest))) => format!("{count} {noun}s {rest}"),
        (_, None) => format!("{count} {what}s"),
    }
}
