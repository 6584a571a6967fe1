//! A riff placed on a neck: string, fret and finger for every note.

use riffkin_score::Warning;
use riffkin_score::note::Place;
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::BarBeat;

use crate::hand::Effort;

/// A riff as a hand plays it on a neck.
#[derive(Clone, Debug, PartialEq)]
pub struct Fit {
    /// Sum of all efforts, each times its weight; zero or more, lower is easier. Only comparable between fits
    /// of one riff with one hand.
    pub cost: f64,
    /// One for every note of [`riffkin_score::riff::Riff::line`], in order.
    pub notes: Vec<FittedNote>,
    /// How much there is of each effort, those that occur; [`Effort`] says in which unit.
    pub efforts: Vec<(Effort, f64)>,
    /// What speaks for and against it, in words: `one shift, across the rest in bar 2`.
    pub reasons: Vec<String>,
    /// Where a hand could come to harm: wide stretches on the low frets.
    pub cautions: Vec<Warning>,
    /// Wishes for a place or finger that could not be honoured, marks that cannot be done.
    pub warnings: Vec<Warning>,
}

/// One note on the neck.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct FittedNote {
    /// Which note of the riff's line.
    pub line: usize,
    /// Where it stands in the riff.
    pub at: BarBeat,
    /// String and fret. A dead note's fret is where the hand lies, unless it was written.
    pub place: Place,
    /// Fretting finger 1 to 4; 0 when no finger presses (open string, dead note).
    pub finger: u8,
    /// The fret under the index finger, 1 or more. On an open string or a dead note the hand may already have
    /// moved to where it is needed next.
    pub position: u8,
    /// How the string is touched.
    pub touch: Touch,
}

/// How the fretting hand meets the string.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Touch {
    /// Not at all: the open string.
    Open,
    /// Pressed down.
    Stopped,
    /// Touched at a node.
    Harmonic,
    /// Lying flat, damping.
    Dead,
}

/// Why a riff cannot be placed on a neck.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum FitError {
    /// A note that the neck does not have.
    #[error(
        "{pitch} at {at} is not on this neck, which reaches from {lowest} to {highest}{}; move the riff, adapt it, or take another neck",
        if *others > 0 { format!(" ({others} more such)") } else { String::new() }
    )]
    OffNeck {
        /// The first such note.
        pitch: Pitch,
        /// Where it stands.
        at: BarBeat,
        /// The lowest pitch of the neck.
        lowest: Pitch,
        /// The highest pitch of the neck.
        highest: Pitch,
        /// How many other notes are not there either.
        others: usize,
    },
}
