//! What must be known before the first note is written.

use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Approach, Note, Place};
use riffkin_score::riff::Riff;
use riffkin_score::time::Quarters;

use super::super::WriteOptions;

/// A note head with its neighbours.
#[derive(Clone, Copy, Debug)]
pub(super) struct Head {
    /// The head; its place and finger are those to write.
    pub(super) note: Note,
    /// How the next head is reached; plucked when there is none.
    pub(super) next: Approach,
    /// False for the first head of the riff.
    pub(super) has_before: bool,
    /// The head before is tied to this one.
    pub(super) tied_from: bool,
    /// Counts heads, to number slurs and slides.
    pub(super) number: usize,
}

/// The riff made ready.
pub(super) struct Plan<'a> {
    /// The riff.
    pub(super) riff: &'a Riff,
    /// The neck of the tablature staff; `None` when there is none.
    pub(super) tablature: Option<Neck>,
    /// Parts of a quarter note in which every length and offset is whole.
    pub(super) divisions: i64,
    /// Heads by bar and event; `None` for rests.
    pub(super) heads: Vec<Vec<Option<Head>>>,
}

impl<'a> Plan<'a> {
    pub(super) fn new(riff: &'a Riff, options: &WriteOptions<'_>) -> Self {
        let heads = heads(riff, options);
        let neck = match (options.neck, &riff.header().neck) {
            (Some(neck), _) => Some(neck.clone()),
            (None, Some(name)) => Neck::named(name).ok(),
            (None, None) => None,
        };
        let mut places = heads.iter().flatten().flatten().filter_map(|h| h.note.place).peekable();
        let tablature = neck.filter(|neck| {
            places.peek().is_some() && places.all(|p| (1..=neck.string_count()).contains(&p.string))
        });
        Self { riff, tablature, divisions: divisions(riff), heads }
    }

    /// A length in divisions.
    pub(super) fn ticks(&self, length: Quarters) -> i64 {
        length.scaled(self.divisions, 1).unwrap_or(length).fraction().0
    }
}

/// True when a tempo change on the very first beat takes the place of the header's tempo.
pub(super) fn starts_elsewhere(riff: &Riff) -> bool {
    let first = riff.bars().first().and_then(|bar| bar.tempi.first());
    first.is_some_and(|(at, _)| *at == Quarters::ZERO)
}

fn heads(riff: &Riff, options: &WriteOptions<'_>) -> Vec<Vec<Option<Head>>> {
    let mut heads = Vec::with_capacity(riff.bars().len());
    let given = options.places.unwrap_or_default();
    let (mut line, mut tied_from, mut number) = (0usize, false, 0usize);
    for bar in riff.bars() {
        let mut row = Vec::with_capacity(bar.events.len());
        for event in &bar.events {
            let Some(mut note) = event.note else {
                row.push(None);
                continue;
            };
            line += usize::from(!tied_from);
            if let Some(&Some((Place { string, fret }, finger))) = given.get(line - 1) {
                note.place = Some(Place { string, fret });
                note.finger = Some(finger);
            }
            row.push(Some(Head { note, next: Approach::Plucked, has_before: number > 0, tied_from, number }));
            tied_from = note.tied;
            number += 1;
        }
        heads.push(row);
    }
    let mut next = Approach::Plucked;
    for head in heads.iter_mut().flatten().flatten().rev() {
        head.next = next;
        next = head.note.approach;
    }
    heads
}

fn divisions(riff: &Riff) -> i64 {
    let lengths = riff.bars().iter().flat_map(|bar| {
        let events = bar.events.iter().map(|e| e.value.length());
        events.chain(bar.chords.iter().map(|c| c.0)).chain(bar.tempi.iter().map(|t| t.0))
    });
    // Every denominator divides the grain of musical time, so the common multiple does too.
    lengths.map(|l| l.fraction().1).fold(1, |all, d| all / gcd(all, d) * d)
}

fn gcd(mut a: i64, mut b: i64) -> i64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.max(1)
}
