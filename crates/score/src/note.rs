//! One note of a riff and how it is played.

use crate::pitch::Pitch;
use crate::value::NoteValue;

/// How a note is reached from the one before it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Approach {
    /// Plucked anew, the usual way.
    #[default]
    Plucked,
    /// Hammered on.
    Hammer,
    /// Pulled off.
    Pull,
    /// Slid into without a new pluck.
    Slide,
    /// Slid into and plucked.
    SlidePlucked,
}

/// A playing mark on one note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Mark {
    /// Muted to a click without pitch, the crossed notehead.
    Dead,
    /// Barely heard, in parentheses.
    Ghost,
    /// Cut short.
    Staccato,
    /// Stressed.
    Accent,
    /// Damped with the heel of the hand.
    PalmMute,
    /// Left to sound on.
    LetRing,
    /// Struck with the thumb.
    Slap,
    /// Snapped with a finger.
    Pop,
    /// A natural harmonic.
    Harmonic,
    /// Shaken.
    Vibrato,
}

impl Mark {
    /// Every mark.
    pub const ALL: [Self; 10] = [
        Self::Dead,
        Self::Ghost,
        Self::Staccato,
        Self::Accent,
        Self::PalmMute,
        Self::LetRing,
        Self::Slap,
        Self::Pop,
        Self::Harmonic,
        Self::Vibrato,
    ];

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Dead => "dead",
            Self::Ghost => "ghost",
            Self::Staccato => "staccato",
            Self::Accent => "accent",
            Self::PalmMute => "palm-mute",
            Self::LetRing => "let-ring",
            Self::Slap => "slap",
            Self::Pop => "pop",
            Self::Harmonic => "harmonic",
            Self::Vibrato => "vibrato",
        }
    }
}

/// The marks of a note.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub struct Marks(u16);

impl Marks {
    /// None.
    pub const NONE: Self = Self(0);

    /// These and one more.
    #[must_use]
    pub fn with(self, mark: Mark) -> Self {
        Self(self.0 | 1 << mark as u16)
    }

    /// True when the note bears the mark.
    pub fn has(self, mark: Mark) -> bool {
        self.0 & (1 << mark as u16) != 0
    }

    /// Those present, in the order of [`Mark::ALL`].
    pub fn iter(self) -> impl Iterator<Item = Mark> {
        Mark::ALL.into_iter().filter(move |&m| self.has(m))
    }

    /// True for none.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }
}

impl FromIterator<Mark> for Marks {
    fn from_iter<I: IntoIterator<Item = Mark>>(marks: I) -> Self {
        marks.into_iter().fold(Self::NONE, Self::with)
    }
}

/// Where on the neck the writer wants a note: a wish the fit honours.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Place {
    /// String, 1 the highest sounding.
    pub string: u8,
    /// Fret, 0 the open string.
    pub fret: u8,
}

/// One note head as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Note {
    /// What sounds. A dead note has the pitch it would have, unmuted.
    pub pitch: Pitch,
    /// Tied to the next note head of the same pitch.
    pub tied: bool,
    /// How it is reached.
    pub approach: Approach,
    /// Playing marks.
    pub marks: Marks,
    /// Bent upwards by this many quarter tones; 0 not at all.
    pub bend: u8,
    /// String and fret, when the writer gave them.
    pub place: Option<Place>,
    /// Fretting finger 1 to 4 (0 open), when the writer gave it.
    pub finger: Option<u8>,
}

impl Note {
    /// A plain plucked note.
    pub fn plain(pitch: Pitch) -> Self {
        Self {
            pitch,
            tied: false,
            approach: Approach::Plucked,
            marks: Marks::NONE,
            bend: 0,
            place: None,
            finger: None,
        }
    }
}

/// A note head or a rest, with its written value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Event {
    /// How long.
    pub value: NoteValue,
    /// The note, or `None` for a rest.
    pub note: Option<Note>,
}

impl Event {
    /// A rest.
    pub fn rest(value: NoteValue) -> Self {
        Self { value, note: None }
    }

    /// A note.
    pub fn note(value: NoteValue, note: Note) -> Self {
        Self { value, note: Some(note) }
    }
}
