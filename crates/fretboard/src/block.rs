//! Transposition as the hand does it: the same shape, so many frets up or down.

use riffkin_score::note::Place;
use riffkin_score::riff::BarBeat;

use crate::fit::{Fit, FittedNote, Touch};
use crate::neck::Neck;

/// What stops a shape from being moved: the first note that cannot come along.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum WhatBroke {
    /// A finger would have to go below the first fret.
    #[error("at {at} the shape meets the nut: string {}, fret {} cannot move {semitones} frets", place.string, place.fret)]
    Nut {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck, before the move.
        place: Place,
        /// How far it was to move.
        semitones: i32,
    },
    /// A note would lie beyond the last fret.
    #[error(
        "at {at} the shape passes the last fret, {last}: string {}, fret {} cannot move {semitones} frets", place.string, place.fret
    )]
    LastFret {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck, before the move.
        place: Place,
        /// How far it was to move.
        semitones: i32,
        /// The last fret of the neck.
        last: u8,
    },
    /// An open string stays where it is.
    #[error("at {at} the open string {} cannot move with the shape", place.string)]
    OpenString {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
    /// A natural harmonic stays where it is.
    #[error("at {at} the natural harmonic at string {}, fret {} cannot move with the shape", place.string, place.fret)]
    Harmonic {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
    /// The neck has fewer strings than the fit was made for.
    #[error("at {at} the shape uses string {}, which this neck does not have", place.string)]
    NoString {
        /// Where in the riff.
        at: BarBeat,
        /// Where on the neck.
        place: Place,
    },
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

fn move_note(note: &FittedNote, semitones: i32, neck: &Neck) -> Result<FittedNote, WhatBroke> {
    let FittedNote { at, place, .. } = *note;
    if place.string == 0 || place.string > neck.string_count() {
        return Err(WhatBroke::NoString { at, place });
    }
    if semitones == 0 {
        return Ok(*note);
    }
    let last = neck.frets();
    let follow = |fret: u8| {
        let moved = i32::from(fret).saturating_add(semitones).clamp(1, i32::from(last));
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
    if i32::from(note.position).saturating_add(semitones) < 1 {
        return Err(WhatBroke::Nut { at, place, semitones });
    }
    if i32::from(place.fret).saturating_add(semitones) > i32::from(last) {
        return Err(WhatBroke::LastFret { at, place, semitones, last });
    }
    Ok(moved)
}
