//! The imprint: a riff's compact trace, from which every measure of kin is computed.

mod bytes;

pub use bytes::BytesError;

use riffkin_fretboard::fit;
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::hand_shape::HandShape;
use riffkin_fretboard::neck::Neck;
use riffkin_score::analysis::explain::explain;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Riff;
use riffkin_score::time::Quarters;
use riffkin_score::transpose::transpose;

/// Ticks in a quarter note: `2^4 · 3 · 5 · 7`.
///
/// Exact for plain and dotted values down to the 64th note, for triplets down to the 32nd, for quintuplets and
/// septuplets of sixteenths. Anything finer is moved to the nearest tick, less than 0.4 ms at 90 quarters a
/// minute, and [`Imprint::is_rounded`] says so.
pub const TICKS_PER_QUARTER: u32 = 1680;

/// One sounding note of an imprint.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Trace {
    /// Sounding MIDI number, 0 to 127.
    pub midi: u8,
    /// Start, in ticks from the start of the first bar.
    pub onset: u32,
    /// Length with its ties, in ticks, at least 1.
    pub length: u32,
}

/// What a riff leaves behind: its sounding notes on a grid, its tonic and its hand shape.
///
/// Dead notes, spelling, bar lines, chords, marks and tempo are left out; repeats are not written out. Two
/// riffs with one imprint sound the same notes at the same places.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Imprint {
    notes: Vec<Trace>,
    tonic: Option<u8>,
    length: u32,
    hand: Option<HandShape>,
    rounded: bool,
}

/// Why notes make no imprint.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum ImprintError {
    /// A MIDI number or tonic that does not exist.
    #[error("{what} {found} of note {note} lies outside 0 to {limit}")]
    Range {
        /// MIDI number, or tonic.
        what: &'static str,
        /// The value.
        found: u32,
        /// Which note, from 1.
        note: usize,
        /// The largest allowed.
        limit: u32,
    },
    /// Notes that do not follow one another.
    #[error("note {note} starts before the one before it; put them in order of their onsets")]
    Order {
        /// Which note, from 1.
        note: usize,
    },
    /// A note without length, or one that ends beyond [`Imprint::MAX_TICKS`].
    #[error("note {note} has no length or ends too late; cut the riff")]
    Length {
        /// Which note, from 1.
        note: usize,
    },
    /// More notes than a riff may have.
    #[error("{found} notes are more than the {limit} an imprint may have; cut the riff")]
    TooMany {
        /// How many.
        found: usize,
        /// How many are allowed.
        limit: usize,
    },
}

impl Imprint {
    /// Most notes.
    pub const MAX_NOTES: usize = Riff::MAX_EVENTS;
    /// Latest end of a note, and longest riff, in ticks: more than 600 000 quarter notes.
    pub const MAX_TICKS: u32 = 1 << 30;

    /// From notes in the order of their onsets. `tonic` is a pitch class 0 to 11, `length` the whole riff's in
    /// ticks (raised to the end of the last note when it is less).
    ///
    /// # Errors
    /// [`ImprintError`], naming the note.
    pub fn new(
        notes: Vec<Trace>,
        tonic: Option<u8>,
        length: u32,
        hand: Option<HandShape>,
    ) -> Result<Self, ImprintError> {
        if notes.len() > Self::MAX_NOTES {
            return Err(ImprintError::TooMany { found: notes.len(), limit: Self::MAX_NOTES });
        }
        let range = |what, found: u32, note, limit| Err(ImprintError::Range { what, found, note, limit });
        if let Some(tonic) = tonic.filter(|&t| t > 11) {
            return range("tonic", u32::from(tonic), 0, 11);
        }
        let (mut last, mut end) = (0, 0);
        for (i, note) in notes.iter().enumerate() {
            if note.midi > 127 {
                return range("MIDI number", u32::from(note.midi), i + 1, 127);
            }
            if note.onset < last {
                return Err(ImprintError::Order { note: i + 1 });
            }
            let stop = note.onset.checked_add(note.length).filter(|&s| s <= Self::MAX_TICKS);
            let Some(stop) = stop.filter(|_| note.length > 0) else {
                return Err(ImprintError::Length { note: i + 1 });
            };
            last = note.onset;
            end = end.max(stop);
        }
        let length = length.clamp(end, Self::MAX_TICKS);
        Ok(Self { notes, tonic, length, hand, rounded: false })
    }

    /// The imprint of a riff against a tonic. `None` for the tonic when it is not known: the riff then has no
    /// degrees, and its intervals and rhythm can still be compared.
    ///
    /// # Errors
    /// [`ImprintError`] when the riff lasts longer than [`Imprint::MAX_TICKS`].
    pub fn of(riff: &Riff, tonic: Option<PitchName>, hand: Option<HandShape>) -> Result<Self, ImprintError> {
        let mut rounded = false;
        let mut ticks = |at: Quarters| {
            let (n, d) = at.fraction();
            let all = i128::from(n) * i128::from(TICKS_PER_QUARTER);
            let d = i128::from(d);
            rounded |= all % d != 0;
            u32::try_from((2 * all + d).div_euclid(2 * d)).unwrap_or(u32::MAX)
        };
        let mut notes = Vec::new();
        for note in riff.line().into_iter().filter(|n| !n.is_dead()) {
            // The end is rounded too, so that notes that touch still touch.
            let (onset, end) = (ticks(note.onset), ticks(note.onset + note.length));
            let midi = note.note.pitch.midi().number();
            notes.push(Trace { midi, onset, length: end.saturating_sub(onset).max(1) });
        }
        let length = ticks(riff.length());
        let made = Self::new(notes, tonic.map(PitchName::pitch_class), length, hand)?;
        Ok(Self { rounded, ..made })
    }

    /// The imprint of a riff explained and fitted: its tonic is the one asked for, else its own, else the
    /// likeliest; its hand shape that of [`hand_shape`].
    ///
    /// # Errors
    /// As [`Imprint::of`].
    pub fn explained(riff: &Riff, asked: Option<PitchName>, neck: &Neck) -> Result<Self, ImprintError> {
        let tonic = explain(riff, asked).tonic.map(|(tonic, _)| tonic);
        Self::of(riff, tonic, hand_shape(riff, neck))
    }

    /// The sounding notes, in the order of their onsets.
    pub fn notes(&self) -> &[Trace] {
        &self.notes
    }

    /// The pitch class of the tonic, 0 to 11.
    pub fn tonic(&self) -> Option<u8> {
        self.tonic
    }

    /// Length of the riff in ticks.
    pub fn length(&self) -> u32 {
        self.length
    }

    /// What the hand does, when it is known.
    pub fn hand(&self) -> Option<&HandShape> {
        self.hand.as_ref()
    }

    /// True when an onset or length lay between two ticks.
    pub fn is_rounded(&self) -> bool {
        self.rounded
    }

    /// Its degrees; empty without a tonic.
    pub fn set(&self) -> DegreeSet {
        self.tonic.map_or(DegreeSet::EMPTY, |tonic| {
            DegreeSet::from_slots(self.notes.iter().map(|n| slot(n.midi, tonic)))
        })
    }
}

/// Semitones of a note above a tonic, round the octave.
pub(crate) fn slot(midi: u8, tonic: u8) -> u8 {
    (midi % 12 + 12 - tonic % 12) % 12
}

/// The hand shape by which riffs are compared: the easiest fit without open strings, because an open string in
/// one key is a finger in another. A riff that needs an open string, or lies beside the neck, is moved up, else
/// down, by as few semitones as bring it between: a hand shape knows no key. `None` when the neck is too small
/// for it.
pub fn hand_shape(riff: &Riff, neck: &Neck) -> Option<HandShape> {
    let hand = Hand::default().with_open_strings(OpenStrings::Refused);
    let shape = |riff: &Riff| fit::fit(riff, neck, &hand).ok().map(|fit| HandShape::of(&fit));
    shape(riff).or_else(|| {
        let heard = || riff.line().into_iter().filter(|n| !n.is_dead()).map(|n| n.note.pitch.midi().number());
        let (low, high) = (heard().min()?, heard().max()?);
        let (open, top) = neck.range();
        let up = (i32::from(open) + 1 - i32::from(low)).max(1);
        let down = (i32::from(top) - i32::from(high)).min(-1);
        [up, down].into_iter().find_map(|by| shape(&moved(riff, by)?))
    })
}

/// A riff so many semitones higher.
fn moved(riff: &Riff, semitones: i32) -> Option<Riff> {
    let slot = u8::try_from(semitones.rem_euclid(12)).ok()?;
    let by = Degree::usual(slot).interval().with_octaves(semitones.div_euclid(12));
    transpose(riff, by).ok().map(|(riff, _)| riff)
}
