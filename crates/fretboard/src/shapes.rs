//! Scales and other sets of degrees as shapes on a neck: for diagrams and for the hand.

mod map;

use std::ops::RangeInclusive;

use riffkin_score::degree::Degree;
use riffkin_score::key::Mode;
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, PitchName};

use crate::neck::Neck;
pub use map::{
    Map, Spot, chord_map, degree_map, hand_positions, interval_map, pattern_map, root_map, root_way,
    scale_map,
};

/// Why a pattern does not lie on a neck.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum ShapeError {
    /// The pattern starts off the neck.
    #[error("string {}, fret {} is not on this neck", .0.string, .0.fret)]
    Start(Place),
    /// No degrees, or no notes on a string.
    #[error("a pattern needs at least one degree and one note to a string")]
    Empty,
    /// More strings than there are above the start.
    #[error("the pattern takes {wanted} strings and there are {there} from its start upwards")]
    Strings {
        /// Strings asked for.
        wanted: u8,
        /// Strings from the start to the highest.
        there: u8,
    },
    /// A note would lie below the open string.
    #[error("degree {degree} would lie below the nut on string {string}; start higher up the neck")]
    BelowNut {
        /// The note.
        degree: Degree,
        /// The string.
        string: u8,
    },
    /// A note would lie beyond the last fret.
    #[error(
        "degree {degree} would lie beyond the last fret ({last}) on string {string}; start lower on the neck"
    )]
    PastLastFret {
        /// The note.
        degree: Degree,
        /// The string.
        string: u8,
        /// The last fret.
        last: u8,
    },
}

/// Every place within some frets (0 the open strings) where one of the degrees above a tonic lies, from the
/// lowest string upwards and each string from the nut up. Of two degrees that sound the same the first counts.
pub fn positions(
    neck: &Neck,
    tonic: PitchName,
    degrees: &[Degree],
    frets: RangeInclusive<u8>,
) -> Vec<(Place, Degree)> {
    let last = (*frets.end()).min(neck.frets());
    (1..=neck.string_count())
        .rev()
        .flat_map(|string| (*frets.start()..=last).map(move |fret| Place { string, fret }))
        .filter_map(|place| {
            let slot = (neck.sounding(place)?.number() + 12 - tonic.pitch_class()) % 12;
            let degree = degrees.iter().find(|d| d.slot() == slot)?;
            Some((place, *degree))
        })
        .collect()
}

/// A scale upwards with the same number of notes on each string: from `start`, which is its first degree,
/// over `strings` strings towards the highest. The degrees go round: after the last comes the first an octave
/// higher.
///
/// # Errors
/// [`ShapeError`] when the pattern leaves the neck, naming the degree and string.
pub fn notes_per_string(
    neck: &Neck,
    start: Place,
    degrees: &[Degree],
    per_string: u8,
    strings: u8,
) -> Result<Vec<(Place, Degree)>, ShapeError> {
    let from = neck.sounding(start).ok_or(ShapeError::Start(start))?;
    let Some(first) = degrees.first().copied().filter(|_| per_string > 0) else {
        return Err(ShapeError::Empty);
    };
    if strings > start.string {
        return Err(ShapeError::Strings { wanted: strings, there: start.string });
    }
    let mut pattern = Vec::new();
    let mut scale = degrees.iter().copied().cycle();
    let (mut sounding, mut slot) = (i32::from(from.number()), first.slot());
    for string in (start.string + 1 - strings..=start.string).rev() {
        for _ in 0..per_string {
            let degree = scale.next().unwrap_or(first);
            sounding += i32::from((degree.slot() + 12 - slot) % 12);
            // One degree alone goes up by octaves.
            if degrees.len() == 1 && !pattern.is_empty() {
                sounding += 12;
            }
            slot = degree.slot();
            let open = neck.open(string).map_or(0, |p| i32::from(p.midi().number()));
            let fret =
                u8::try_from(sounding - open).map_err(|_| too_far(sounding, open, degree, string, neck))?;
            let place = Place { string, fret };
            if neck.sounding(place) != u8::try_from(sounding).ok().and_then(Midi::new) {
                return Err(too_far(sounding, open, degree, string, neck));
            }
            pattern.push((place, degree));
        }
    }
    Ok(pattern)
}

fn too_far(sounding: i32, open: i32, degree: Degree, string: u8, neck: &Neck) -> ShapeError {
    if sounding < open {
        ShapeError::BelowNut { degree, string }
    } else {
        ShapeError::PastLastFret { degree, string, last: neck.frets() }
    }
}

/// A seven-note scale three notes to a string, from its first degree at `start` to the highest string.
///
/// # Errors
/// As [`notes_per_string`].
pub fn three_per_string(neck: &Neck, start: Place, mode: Mode) -> Result<Vec<(Place, Degree)>, ShapeError> {
    notes_per_string(neck, start, &mode.degrees(), 3, start.string)
}

/// A scale on two strings, three notes on each, from its first degree at `start`.
///
/// # Errors
/// As [`notes_per_string`].
pub fn two_strings(neck: &Neck, start: Place, mode: Mode) -> Result<Vec<(Place, Degree)>, ShapeError> {
    notes_per_string(neck, start, &mode.degrees(), 3, 2)
}

/// The box of a pentatonic scale: two notes to a string from its first degree at `start` to the highest string.
///
/// # Errors
/// As [`notes_per_string`].
pub fn pentatonic_box(neck: &Neck, start: Place, mode: Mode) -> Result<Vec<(Place, Degree)>, ShapeError> {
    notes_per_string(neck, start, &mode.degrees(), 2, start.string)
}
