//! Techniques: how the notes are reached and struck.

use std::collections::BTreeMap;

use crate::note::{Approach, Mark};
use crate::riff::LineNote;

/// A way to play a note other than plucking it plainly.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Technique {
    /// Hammered on.
    Hammer,
    /// Pulled off.
    Pull,
    /// Slid into, plucked or not.
    Slide,
    /// Bent upwards.
    Bend,
    /// A playing mark.
    Mark(Mark),
}

impl Technique {
    /// One of it in words: `hammer-on`.
    pub fn name(self) -> &'static str {
        match self {
            Self::Hammer => "hammer-on",
            Self::Pull => "pull-off",
            Self::Slide => "slide",
            Self::Bend => "bend",
            Self::Mark(Mark::Dead) => "dead note",
            Self::Mark(Mark::Ghost) => "ghost note",
            Self::Mark(Mark::Staccato) => "staccato note",
            Self::Mark(Mark::Accent) => "accent",
            Self::Mark(Mark::PalmMute) => "palm-muted note",
            Self::Mark(Mark::LetRing) => "note left to ring",
            Self::Mark(Mark::Slap) => "slapped note",
            Self::Mark(Mark::Pop) => "popped note",
            Self::Mark(Mark::Harmonic) => "harmonic",
            Self::Mark(Mark::Vibrato) => "note with vibrato",
        }
    }

    /// Several of it in words: `hammer-ons`, `notes left to ring`.
    pub fn plural(self) -> String {
        match self {
            Self::Mark(Mark::LetRing) => "notes left to ring".to_owned(),
            Self::Mark(Mark::Vibrato) => "notes with vibrato".to_owned(),
            other => format!("{}s", other.name()),
        }
    }

    /// `1 slide`, `3 notes left to ring`.
    pub fn counted(self, n: usize) -> String {
        if n == 1 { format!("1 {}", self.name()) } else { format!("{n} {}", self.plural()) }
    }

    /// The techniques of one note.
    pub fn of(note: &LineNote) -> impl Iterator<Item = Self> {
        let note = note.note;
        let reached = match note.approach {
            Approach::Plucked => None,
            Approach::Hammer => Some(Self::Hammer),
            Approach::Pull => Some(Self::Pull),
            Approach::Slide | Approach::SlidePlucked => Some(Self::Slide),
        };
        let bend = (note.bend > 0).then_some(Self::Bend);
        reached
            .into_iter()
            .chain(bend)
            .chain(Mark::ALL.into_iter().filter(move |&m| note.marks.has(m)).map(Self::Mark))
    }
}

/// The techniques of a line and how often each is used.
pub fn techniques(line: &[LineNote]) -> Vec<(Technique, usize)> {
    let mut counts: BTreeMap<Technique, usize> = BTreeMap::new();
    for technique in line.iter().flat_map(Technique::of) {
        *counts.entry(technique).or_default() += 1;
    }
    counts.into_iter().collect()
}
