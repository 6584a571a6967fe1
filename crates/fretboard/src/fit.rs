//! A riff placed on a neck: string, fret and finger for every note.

mod alike;
mod choice;
mod cost;
mod figures;
mod line;
mod moment;
mod others;
mod search;
mod spots;
mod strain;
mod tables;
mod through;
mod words;

use riffkin_score::Warning;
use riffkin_score::note::{Mark, Note, Place};
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::{BarBeat, Riff, RiffError};

use crate::hand::{Effort, Hand};
use crate::neck::Neck;
use crate::wishes::{Conflict, Wish};
pub use alike::{Alike, Figure, USUAL_PRICE, alike, alike_wished};
pub use figures::Occurrence;
pub(crate) use line::Line;
pub(crate) use spots::Spot;

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
    /// What sets another choice apart from the first fit, in words: `from bar 2, beat 1 around fret 7 instead of
    /// fret 3`. Empty for the first.
    pub apart: Vec<String>,
    /// Where a hand could come to harm: wide stretches on the low frets, long passages without relief.
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
    /// Wishes that cannot be granted: for each note that cannot be had as wished, a smallest set of wishes to blame.
    #[error("{}", conflicts(.0))]
    Wishes(Vec<Conflict>),
    /// A wish for a note where none starts, or for bars without notes.
    #[error("the wish '{0}' is about no note of the riff; name the bar and beat where a note starts")]
    NoNote(Wish),
}

fn conflicts(all: &[Conflict]) -> String {
    let more = match all.len() {
        0 | 1 => String::new(),
        n => format!(" ({} more such)", n - 1),
    };
    let remedy = match all.first() {
        Some(c) if c.wishes.len() > 1 => "; give up one of them",
        _ => "; give it up",
    };
    all.first().map(|c| format!("{c}{remedy}{more}")).unwrap_or_default()
}

/// The easiest way to play a riff on a neck with a hand: exactly the least cost over every string, fret, finger
/// and hand position.
///
/// Places and fingers written with the notes are honoured where the neck has them; where not, that is among
/// the fit's warnings. A riff of rests gives a fit without notes at cost 0. Repeats are not written out.
///
/// # Errors
/// [`FitError::OffNeck`] when a note lies below, above or between what the neck has.
pub fn fit(riff: &Riff, neck: &Neck, hand: &Hand) -> Result<Fit, FitError> {
    let fits = best(riff, neck, hand, 1)?;
    Ok(fits.into_iter().next().unwrap_or_else(empty))
}

/// Up to `count` choices, easiest first; the first is [`fit`], and each next one the easiest of all fits that are
/// another choice than every one before it.
///
/// **Two fits are the same choice unless, in some passage, at least half of the notes that could lie on more than
/// one string lie on other strings** (and so, on strings in fourths, five frets away). Passages are bars, or as many
/// bars as it takes to have four such notes; what is left at the end goes with the last. Another finger, or one
/// note set aside, is no other choice. At most [`MOST_CHOICES`] are looked for; should a line offer too many ways to
/// weigh them all, the last fit found says so among its warnings.
///
/// # Errors
/// As [`fit`].
pub fn best(riff: &Riff, neck: &Neck, hand: &Hand, count: usize) -> Result<Vec<Fit>, FitError> {
    wished(riff, neck, hand, &[], count)
}

/// [`best`] of the fits that grant every wish.
///
/// # Errors
/// As [`fit`]; [`FitError::Wishes`] when wishes cannot be granted, [`FitError::NoNote`] when one is about nothing.
pub fn wished(
    riff: &Riff,
    neck: &Neck,
    hand: &Hand,
    wishes: &[Wish],
    count: usize,
) -> Result<Vec<Fit>, FitError> {
    Ok(Line::new(riff, neck, hand, wishes)?.choices(count))
}

/// Most choices that [`best`] looks for.
pub const MOST_CHOICES: usize = others::MOST_CHOICES;

/// Which notes of the riff's line the neck does not have, in order. Empty exactly when [`fit`] succeeds.
pub fn missing(riff: &Riff, neck: &Neck) -> Vec<usize> {
    let line = riff.line();
    line.iter().enumerate().filter(|(_, n)| !on_neck(&n.note, neck)).map(|(i, _)| i).collect()
}

/// True when a note can be played somewhere on the neck: dead notes anywhere, harmonics where written or at a
/// node, others where their pitch lies.
pub fn on_neck(note: &Note, neck: &Neck) -> bool {
    note.marks.has(Mark::Dead)
        || !neck.places(note.pitch.midi()).is_empty()
        || (note.marks.has(Mark::Harmonic) && spots::has_harmonic(note, neck))
}

/// The riff with the strings, frets and fingers of fitted notes written into it, so that they stand in a file
/// or are kept by the next [`fit`]. Dead notes get their string and fret.
///
/// # Errors
/// [`RiffError`] when a place is out of a riff's range, which those of a neck are not.
pub fn written_into(riff: &Riff, notes: &[FittedNote]) -> Result<Riff, RiffError> {
    let line = riff.line();
    let (header, mut bars) = riff.clone().into_parts();
    for note in notes {
        let Some(heads) = line.get(note.line) else { continue };
        let event = bars.get_mut(heads.bar).and_then(|b| b.events.get_mut(heads.event));
        if let Some(written) = event.and_then(|e| e.note.as_mut()) {
            written.place = Some(note.place);
            written.finger = (note.touch != Touch::Dead).then_some(note.finger);
        }
    }
    Riff::new(header, bars)
}

fn empty() -> Fit {
    Fit {
        cost: 0.0,
        notes: Vec::new(),
        efforts: Vec::new(),
        reasons: vec!["nothing but rests".to_owned()],
        apart: Vec::new(),
        cautions: Vec::new(),
        warnings: Vec::new(),
    }
}
