//! What one has in the ear or under the hand: a few typed degrees or notes, looked for in riffs.

use std::ops::Range;

use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::pitch::PitchName;

use crate::imprint::Imprint;
use crate::stretches::Stretches;

/// Degrees or notes in order. Repeats on end count as one, octaves are not told apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Sought {
    slots: Vec<u8>,
    names: Vec<String>,
    kind: Kind,
}

/// What the slots are counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    /// From the tonic of the riff: degrees.
    Degrees,
    /// From C: notes.
    Notes,
}

/// Why a text cannot be looked for.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum NotSought {
    /// A word that is no degree.
    #[error(transparent)]
    Degree(#[from] riffkin_score::degree::NotADegree),
    /// A word that is no note.
    #[error(transparent)]
    Note(#[from] riffkin_score::pitch::NotAPitch),
    /// Nothing.
    #[error("there is nothing to look for; write a few, such as 1 b3 4 or G Bb C")]
    Empty,
    /// Too much.
    #[error("{0} are too many to look for; write {most} at most", most = Sought::MOST)]
    TooMany(usize),
}

/// A place where something was found.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Found {
    /// The notes of the imprint.
    pub notes: Range<usize>,
    /// Semitones above what was typed, 0 to 11; 0 for degrees.
    pub higher: u8,
}

impl Sought {
    /// Most degrees or notes.
    pub const MOST: usize = 64;

    fn made(slots: Vec<u8>, names: Vec<String>, kind: Kind) -> Result<Self, NotSought> {
        match slots.len() {
            0 => Err(NotSought::Empty),
            n if n > Self::MOST => Err(NotSought::TooMany(n)),
            _ => Ok(Self { slots, names, kind }),
        }
    }

    /// From degrees as typed: `1 b3 4`.
    ///
    /// # Errors
    /// [`NotSought`].
    pub fn degrees(text: &str) -> Result<Self, NotSought> {
        let parsed: Vec<Degree> = words(text).map(str::parse).collect::<Result<_, _>>()?;
        let names = parsed.iter().map(|d| d.print()).collect();
        Self::made(parsed.iter().map(|d| d.slot()).collect(), names, Kind::Degrees)
    }

    /// From note names as typed: `G Bb C`.
    ///
    /// # Errors
    /// [`NotSought`].
    pub fn notes(text: &str) -> Result<Self, NotSought> {
        let parsed: Vec<PitchName> = words(text).map(str::parse).collect::<Result<_, _>>()?;
        let names = parsed.iter().map(|p| p.print()).collect();
        Self::made(parsed.iter().map(|p| p.pitch_class()).collect(), names, Kind::Notes)
    }

    /// What was typed, as printed.
    pub fn words(&self) -> String {
        self.names.join(" ")
    }

    /// Degrees or notes.
    pub fn kind(&self) -> Kind {
        self.kind
    }

    /// What was typed, order set aside: slots above the tonic, or pitch classes from C.
    pub fn set(&self) -> DegreeSet {
        DegreeSet::from_slots(self.slots.iter().copied())
    }

    /// What was typed with repeats on end joined.
    pub fn slots(&self) -> Vec<u8> {
        let mut slots = self.slots.clone();
        slots.dedup();
        slots
    }

    /// Every place where they stand one after another. Notes are looked for in every key: [`Found::higher`]
    /// says how much higher they lie, the places in the typed key first. Degrees are found only in riffs with
    /// a tonic.
    pub fn in_order(&self, imprint: &Imprint) -> Vec<Found> {
        let stretches = Stretches::of(imprint);
        let line: Vec<u8> = stretches.line().iter().map(|s| s.slot).collect();
        let slots = self.slots();
        // Slots of the line are counted from here.
        let one = match (self.kind, imprint.tonic()) {
            (Kind::Degrees, None) => return Vec::new(),
            (Kind::Degrees, Some(_)) => 0,
            (Kind::Notes, tonic) => tonic.or(imprint.notes().first().map(|n| n.midi % 12)).unwrap_or(0),
        };
        let mut found: Vec<Found> = line
            .windows(slots.len())
            .enumerate()
            .filter_map(|(at, part)| {
                let higher = (part[0] + one + 12 - slots[0]) % 12;
                let same = part.iter().zip(&slots).all(|(p, s)| (p + one) % 12 == (s + higher) % 12);
                let wanted = same && (self.kind == Kind::Notes || higher == 0);
                let notes = stretches.note(at)..stretches.note(at + slots.len());
                wanted.then_some(Found { notes, higher })
            })
            .collect();
        found.sort_by_key(|f| (f.higher, f.notes.start));
        found
    }

    /// True when the riff has all of them, in whatever order: degrees against its tonic, notes as they are.
    pub fn in_any_order(&self, imprint: &Imprint) -> bool {
        match self.kind {
            Kind::Degrees => imprint.tonic().is_some() && self.set().is_within(imprint.set()),
            Kind::Notes => {
                let heard = DegreeSet::from_slots(imprint.notes().iter().map(|n| n.midi % 12));
                self.set().is_within(heard)
            }
        }
    }
}

fn words(text: &str) -> impl Iterator<Item = &str> {
    text.split([' ', ',', '\t', '\n']).filter(|w| !w.is_empty())
}
