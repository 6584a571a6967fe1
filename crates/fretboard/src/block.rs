//! Transposition as the hand does it: the same shape, so many frets up or down, or on other strings.

use riffkin_score::note::Mark;
use riffkin_score::note::Place;
use riffkin_score::riff::{BarBeat, Riff};

use crate::fit::{Fit, FittedNote, Touch};
use crate::neck::Neck;

/// What stops a shape from being moved: the first note that cannot come along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("at {} {}", self.at(), self.problem())]
#[non_exhaustive]
pub enum WhatBroke {
    /// A finger would have to go below the first fret.
    Nut {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck, before the move.
        place: Place,
        /// How many frets it was to move.
        frets: i32,
    },
    /// A note would lie beyond the last fret.
    LastFret {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck, before the move.
        place: Place,
        /// How many frets it was to move.
        frets: i32,
        /// The last fret of the neck.
        last: u8,
    },
    /// An open string stays where it is.
    OpenString {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
    /// A natural harmonic stays where it is.
    Harmonic {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
    /// The neck has no string where the note would lie.
    NoString {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
}

impl WhatBroke {
    /// Where in the riff.
    pub fn at(&self) -> BarBeat {
        match *self {
            Self::Nut { at, .. }
            | Self::LastFret { at, .. }
            | Self::OpenString { at, .. }
            | Self::Harmonic { at, .. }
            | Self::NoString { at, .. } => at,
        }
    }

    /// What happens there, in words.
    pub fn problem(&self) -> String {
        let far = |frets: i32| match frets.unsigned_abs() {
            1 => "a fret".to_owned(),
            n => format!("{n} frets"),
        };
        let way = |frets: i32| if frets < 0 { "down" } else { "up" };
        match *self {
            Self::Nut { place: Place { string, fret }, frets, .. } => {
                let (far, way) = (far(frets), way(frets));
                format!("the shape meets the nut: string {string}, fret {fret} cannot move {far} {way}")
            }
            Self::LastFret { place: Place { string, fret }, frets, last, .. } => {
                let (far, way) = (far(frets), way(frets));
                format!(
                    "the shape passes the last fret, {last}: string {string}, fret {fret} cannot move {far} {way}"
                )
            }
            Self::OpenString { place, .. } => {
                format!("the open string {} cannot move with the shape", place.string)
            }
            Self::Harmonic { place: Place { string, fret }, .. } => {
                format!("the natural harmonic at string {string}, fret {fret} cannot move with the shape")
            }
            Self::NoString { place, .. } => {
                format!("the shape uses string {}, which this neck does not have", place.string)
            }
        }
    }
}

/// A shape moved as a whole.
#[derive(Clone, Debug, PartialEq)]
pub struct Block {
    /// Strings it moved: above zero towards the highest string, 0 on the strings where it was.
    pub strings: i8,
    /// Frets it moved, up above zero.
    pub frets: i32,
    /// The notes where they lie now; fingers as they were.
    pub notes: Vec<FittedNote>,
}

impl Block {
    /// In words: `2 frets up on the same strings`, `one string higher and 2 frets up`.
    pub fn words(&self) -> String {
        let frets = match (self.frets.unsigned_abs(), self.frets < 0) {
            (0, _) => "at the same frets".to_owned(),
            (1, down) => format!("1 fret {}", if down { "down" } else { "up" }),
            (n, down) => format!("{n} frets {}", if down { "down" } else { "up" }),
        };
        match (self.strings.unsigned_abs(), self.strings < 0) {
            (0, _) => format!("{frets} on the same strings"),
            (1, low) => format!("one string {}, {frets}", if low { "lower" } else { "higher" }),
            (n, low) => format!("{n} strings {}, {frets}", if low { "lower" } else { "higher" }),
        }
    }
}

/// A fit moved as a block by so many semitones: on the same strings if it can, else on others that lie as far apart
/// (on a neck in fourths any shape goes to the next string: D minor at fret 5 of the A string is G minor at fret 5 of
/// the D string and at fret 3 of the E string; common practice, no source), the nearest strings first.
///
/// # Errors
/// [`WhatBroke`] says what stops it on its own strings, where it can go on no others either.
pub fn move_block(fit: &Fit, semitones: i32, neck: &Neck) -> Result<Block, WhatBroke> {
    let broke = match move_shape(fit, semitones, neck) {
        Ok(notes) => return Ok(Block { strings: 0, frets: semitones, notes }),
        Err(broke) => broke,
    };
    let most = i8::try_from(neck.string_count()).unwrap_or(i8::MAX) - 1;
    let other = (1..=most).flat_map(|far| [far, -far]);
    other.into_iter().find_map(|strings| on_other_strings(fit, semitones, strings, neck)).ok_or(broke)
}

fn on_other_strings(fit: &Fit, semitones: i32, strings: i8, neck: &Neck) -> Option<Block> {
    let to =
        |place: Place| u8::try_from(i16::from(place.string) - i16::from(strings)).ok().filter(|s| *s > 0);
    let apart = |place: Place| {
        let open = |string| neck.open(string).map(|p| i32::from(p.midi().number()));
        Some(open(to(place)?)? - open(place.string)?)
    };
    let first = apart(fit.notes.first()?.place)?;
    let frets = semitones.checked_sub(first)?;
    let moved = fit.notes.iter().map(|note| {
        (apart(note.place)? == first).then_some(())?;
        let there = FittedNote { place: Place { string: to(note.place)?, ..note.place }, ..*note };
        move_note(&there, frets, neck).ok()
    });
    Some(Block { strings, frets, notes: moved.collect::<Option<Vec<_>>>()? })
}

/// Checks that the strings and frets written with a riff can all move by so many semitones.
///
/// # Errors
/// [`WhatBroke`] names the first that cannot.
pub fn written_moves(riff: &Riff, semitones: i32, neck: &Neck) -> Result<(), WhatBroke> {
    if semitones == 0 {
        return Ok(());
    }
    for note in riff.line() {
        let Some(place) = note.note.place else { continue };
        let at = riff.place_of(note.onset);
        let frets = semitones;
        let fret = i32::from(place.fret).saturating_add(frets);
        if place.string == 0 || place.string > neck.string_count() {
            return Err(WhatBroke::NoString { at, place });
        }
        if place.fret == 0 {
            return Err(WhatBroke::OpenString { at, place });
        }
        if note.note.marks.has(Mark::Harmonic) {
            return Err(WhatBroke::Harmonic { at, place });
        }
        if fret < 1 {
            return Err(WhatBroke::Nut { at, place, frets });
        }
        if fret > i32::from(neck.frets()) {
            return Err(WhatBroke::LastFret { at, place, frets, last: neck.frets() });
        }
    }
    Ok(())
}

/// The riff without its written strings, frets and fingers.
pub(crate) fn without_places(riff: &Riff) -> Riff {
    let (header, mut bars) = riff.clone().into_parts();
    for note in bars.iter_mut().flat_map(|b| &mut b.events).filter_map(|e| e.note.as_mut()) {
        note.place = None;
        note.finger = None;
    }
    Riff::new(header, bars).unwrap_or_else(|_| riff.clone())
}

/// The notes of a fit with every place and position moved by `semitones` frets, strings and fingers kept.
/// Dead notes follow the hand as far as the neck goes. `neck` is the one that the fit was made for, or one
/// tuned in the same intervals.
///
/// # Errors
/// [`WhatBroke`] names the first note that cannot come along.
pub fn move_shape(fit: &Fit, semitones: i32, neck: &Neck) -> Result<Vec<FittedNote>, WhatBroke> {
    fit.notes.iter().map(|note| move_note(note, semitones, neck)).collect()
}

fn move_note(note: &FittedNote, frets: i32, neck: &Neck) -> Result<FittedNote, WhatBroke> {
    let FittedNote { at, place, .. } = *note;
    if place.string == 0 || place.string > neck.string_count() {
        return Err(WhatBroke::NoString { at, place });
    }
    if frets == 0 {
        return Ok(*note);
    }
    let last = neck.frets();
    let follow = |fret: u8| {
        let moved = i32::from(fret).saturating_add(frets).clamp(1, i32::from(last));
        u8::try_from(moved).unwrap_or(last)
    };
    let moved = FittedNote {
        place: Place { fret: if place.fret == 0 { 0 } else { follow(place.fret) }, ..place },
        position: follow(note.position),
        ..*note
    };
    match note.touch {
        Touch::Dead => return Ok(moved),
        Touch::Open => return Err(WhatBroke::OpenString { at, place }),
        Touch::Harmonic => return Err(WhatBroke::Harmonic { at, place }),
        Touch::Stopped => {}
    }
    if i32::from(note.position).saturating_add(frets) < 1 {
        return Err(WhatBroke::Nut { at, place, frets });
    }
    if i32::from(place.fret).saturating_add(frets) > i32::from(last) {
        return Err(WhatBroke::LastFret { at, place, frets, last });
    }
    Ok(moved)
}
