//! The riff: bars of written notes under a header, checked once and never changed.

mod playing;

use std::fmt;

use crate::chord::Chord;
use crate::key::Key;
use crate::meter::Meter;
use crate::note::{Event, Mark, Note};
use crate::tempo::{Feel, Tempo};
use crate::time::Quarters;

/// What stands above the notes. Texts are single lines: see [`Header::clean`].
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Header {
    /// The riff's name.
    pub title: String,
    /// Its key, once known.
    pub key: Option<Key>,
    /// Tempo at the start.
    pub tempo: Tempo,
    /// Straight or swung.
    pub feel: Feel,
    /// The neck it was written for, by name.
    pub neck: Option<String>,
    /// Where it comes from.
    pub source: Option<String>,
    /// What may be done with it.
    pub permission: Option<String>,
    /// Remarks, a line each.
    pub remarks: Vec<String>,
}

impl Header {
    /// A text as a header holds it: one line, no control characters, blanks trimmed and joined.
    pub fn clean(text: &str) -> String {
        text.split(|c: char| c.is_whitespace() || c.is_control())
            .filter(|word| !word.is_empty())
            .collect::<Vec<_>>()
            .join(" ")
    }

    fn cleaned(mut self) -> Self {
        let clean = |text: Option<String>| text.map(|t| Self::clean(&t)).filter(|t| !t.is_empty());
        self.title = Self::clean(&self.title);
        self.neck = clean(self.neck);
        self.source = clean(self.source);
        self.permission = clean(self.permission);
        self.remarks = self.remarks.iter().map(|r| Self::clean(r)).filter(|r| !r.is_empty()).collect();
        self
    }
}

/// One bar as written.
#[derive(Clone, Debug, PartialEq)]
pub struct Bar {
    /// The meter that holds in it.
    pub meter: Meter,
    /// True when the bar is meant to be shorter than the meter: a pickup at the start, or the bar that
    /// completes one.
    pub short: bool,
    /// Notes and rests in order; they fill the bar.
    pub events: Vec<Event>,
    /// Chord symbols with their distance from the bar line, rising.
    pub chords: Vec<(Quarters, Chord)>,
    /// Tempo changes with their distance from the bar line, rising.
    pub tempi: Vec<(Quarters, Tempo)>,
    /// A repeat starts here.
    pub repeat_start: bool,
    /// A repeat ends here; how many times the passage is played in all (2 or more).
    pub repeat_end: Option<u8>,
    /// The passes on which this bar is played, when it stands under an ending bracket; rising, from 1.
    pub endings: Vec<u8>,
}

impl Bar {
    /// A full bar of these events.
    pub fn new(meter: Meter, events: Vec<Event>) -> Self {
        Self {
            meter,
            short: false,
            events,
            chords: Vec::new(),
            tempi: Vec::new(),
            repeat_start: false,
            repeat_end: None,
            endings: Vec::new(),
        }
    }

    /// Sum of its events.
    pub fn length(&self) -> Quarters {
        self.events.iter().map(|e| e.value.length()).sum()
    }
}

/// A place in a riff, as people say it. Bars count from 1; a pickup bar is bar 0.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BarBeat {
    /// Bar number.
    pub bar: u32,
    /// Distance from the bar line in counted beats, from 1: one and a half beats in is 5/2.
    pub beat: Quarters,
}

impl fmt::Display for BarBeat {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (n, d) = self.beat.fraction();
        match (n.div_euclid(d), n.rem_euclid(d)) {
            (whole, 0) => write!(f, "bar {}, beat {whole}", self.bar),
            (whole, part) => write!(f, "bar {}, beat {whole} {part}/{d}", self.bar),
        }
    }
}

/// Why bars do not make a riff.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RiffError {
    /// Nothing there.
    #[error("there are no bars; write at least one")]
    Empty,
    /// More than the limit.
    #[error("{what}: {found} are more than the {limit} a riff may have; split it")]
    TooLarge {
        /// What there is too much of.
        what: &'static str,
        /// How many were found.
        found: usize,
        /// How many are allowed.
        limit: usize,
    },
    /// A bar that does not add up.
    #[error("bar {bar} holds {found} quarter notes and the meter {meter} asks for {wanted}; {}", if found < wanted { "add what is missing, or mark the bar as a pickup or short" } else { "take out what is too much" })]
    BarLength {
        /// The bar.
        bar: u32,
        /// Its meter.
        meter: Meter,
        /// Its length.
        found: Quarters,
        /// The meter's length.
        wanted: Quarters,
    },
    /// A tie to nothing, or to another pitch.
    #[error("the tie at {at} needs a next note of the same pitch")]
    LooseTie {
        /// The tied note.
        at: BarBeat,
    },
    /// A chord or tempo outside its bar or out of order.
    #[error(
        "a {what} in bar {bar} stands {at} quarter notes in: outside the bar, or not after the one before it"
    )]
    Misplaced {
        /// Chord or tempo.
        what: &'static str,
        /// The bar.
        bar: u32,
        /// Where.
        at: Quarters,
    },
    /// A repeat or ending that cannot be played.
    #[error("the {what} in bar {bar} must be {wanted}")]
    Repeat {
        /// What is off.
        what: &'static str,
        /// The bar.
        bar: u32,
        /// What is allowed.
        wanted: &'static str,
    },
    /// A finger, bend or place out of range.
    #[error("{what} at {at}: {found} is out of range, {wanted}")]
    Detail {
        /// What is off.
        what: &'static str,
        /// The note.
        at: BarBeat,
        /// The value found.
        found: u8,
        /// What is allowed.
        wanted: &'static str,
    },
}

/// A short bass line in musical time: immutable, and always consistent.
///
/// Every bar adds up, every tie leads to its note, chords stand inside their bars. An edit makes a new riff.
#[derive(Clone, Debug, PartialEq)]
pub struct Riff {
    header: Header,
    bars: Vec<Bar>,
    starts: Vec<Quarters>,
}

/// A sounding note of the written line: tied heads joined.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LineNote {
    /// Index of its bar in [`Riff::bars`].
    pub bar: usize,
    /// Index of its first head in the bar's events.
    pub event: usize,
    /// Where it starts, in quarters from the start of the first bar.
    pub onset: Quarters,
    /// How long it lasts with its ties.
    pub length: Quarters,
    /// Its first head.
    pub note: Note,
}

impl LineNote {
    /// True for a dead note, whose pitch is only nominal.
    pub fn is_dead(&self) -> bool {
        self.note.marks.has(Mark::Dead)
    }
}

/// A note as played, repeats written out.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlayedNote {
    /// Start in quarters from the start of playing.
    pub onset: Quarters,
    /// Length in quarters.
    pub length: Quarters,
    /// Which note of [`Riff::line`] it is.
    pub line: usize,
    /// The note.
    pub note: Note,
}

impl Riff {
    /// Most bars in a riff.
    pub const MAX_BARS: usize = 10_000;
    /// Most note heads and rests in a riff.
    pub const MAX_EVENTS: usize = 200_000;
    /// Most bars once repeats are written out; repeats beyond are not played.
    pub const MAX_PLAYED_BARS: usize = 20_000;

    /// Checks and keeps.
    ///
    /// # Errors
    /// [`RiffError`], naming the bar and beat at fault.
    pub fn new(header: Header, bars: Vec<Bar>) -> Result<Self, RiffError> {
        if bars.is_empty() {
            return Err(RiffError::Empty);
        }
        let limit = |what, found, limit| {
            if found > limit { Err(RiffError::TooLarge { what, found, limit }) } else { Ok(()) }
        };
        limit("bars", bars.len(), Self::MAX_BARS)?;
        limit("notes and rests", bars.iter().map(|b| b.events.len()).sum(), Self::MAX_EVENTS)?;
        let mut starts = Vec::with_capacity(bars.len() + 1);
        let mut at = Quarters::ZERO;
        for bar in &bars {
            starts.push(at);
            at += bar.length();
        }
        starts.push(at);
        let riff = Self { header: header.cleaned(), bars, starts };
        riff.check()?;
        Ok(riff)
    }

    fn check(&self) -> Result<(), RiffError> {
        for (i, bar) in self.bars.iter().enumerate() {
            let number = self.bar_number(i);
            let (found, wanted) = (bar.length(), bar.meter.bar_length());
            let fits = found == wanted || (bar.short && found.is_positive() && found < wanted);
            if !fits {
                return Err(RiffError::BarLength { bar: number, meter: bar.meter, found, wanted });
            }
            let in_order = |what, places: &[Quarters]| {
                let mut last = None;
                for &at in places {
                    if at < Quarters::ZERO || at >= found || last.is_some_and(|l| l >= at) {
                        return Err(RiffError::Misplaced { what, bar: number, at });
                    }
                    last = Some(at);
                }
                Ok(())
            };
            in_order("chord", &bar.chords.iter().map(|c| c.0).collect::<Vec<_>>())?;
            in_order("tempo", &bar.tempi.iter().map(|t| t.0).collect::<Vec<_>>())?;
            if bar.repeat_end.is_some_and(|times| !(2..=99).contains(&times)) {
                return Err(RiffError::Repeat {
                    what: "repeat",
                    bar: number,
                    wanted: "played 2 to 99 times",
                });
            }
            let rising = bar.endings.windows(2).all(|w| w[0] < w[1]);
            if !rising || bar.endings.iter().any(|&e| !(1..=99).contains(&e)) {
                return Err(RiffError::Repeat {
                    what: "ending",
                    bar: number,
                    wanted: "numbered upwards from 1 to 99",
                });
            }
        }
        self.check_notes()
    }

    fn check_notes(&self) -> Result<(), RiffError> {
        let mut tie: Option<(BarBeat, u8)> = None;
        for (at, event) in self.events() {
            if let Some((from, midi)) = tie.take()
                && event.note.is_none_or(|n| n.pitch.midi().number() != midi)
            {
                return Err(RiffError::LooseTie { at: from });
            }
            let Some(note) = event.note else { continue };
            let detail = |what, found, wanted| Err(RiffError::Detail { what, at, found, wanted });
            match note {
                Note { finger: Some(f), .. } if f > 4 => return detail("finger", f, "0 to 4"),
                Note { bend, .. } if bend > 8 => return detail("bend in quarter tones", bend, "0 to 8"),
                Note { place: Some(p), .. } if !(1..=12).contains(&p.string) => {
                    return detail("string", p.string, "1 to 12");
                }
                Note { place: Some(p), .. } if p.fret > 36 => return detail("fret", p.fret, "0 to 36"),
                _ => {}
            }
            tie = note.tied.then(|| (at, note.pitch.midi().number()));
        }
        match tie {
            Some((at, _)) => Err(RiffError::LooseTie { at }),
            None => Ok(()),
        }
    }

    fn events(&self) -> impl Iterator<Item = (BarBeat, &Event)> {
        self.bars.iter().enumerate().flat_map(move |(i, bar)| {
            let mut at = Quarters::ZERO;
            bar.events.iter().map(move |event| {
                let here = self.bar_beat(i, at);
                at += event.value.length();
                (here, event)
            })
        })
    }

    /// What stands above the notes.
    pub fn header(&self) -> &Header {
        &self.header
    }

    /// The bars.
    pub fn bars(&self) -> &[Bar] {
        &self.bars
    }

    /// The same notes under another header.
    pub fn with_header(&self, header: Header) -> Self {
        Self { header: header.cleaned(), ..self.clone() }
    }

    /// Header and bars, to build another riff from.
    pub fn into_parts(self) -> (Header, Vec<Bar>) {
        (self.header, self.bars)
    }

    /// True when the first bar is a pickup.
    pub fn has_pickup(&self) -> bool {
        self.bars.first().is_some_and(|b| b.short)
    }

    /// The number people give a bar: from 1, a pickup being 0.
    pub fn bar_number(&self, index: usize) -> u32 {
        let shift = usize::from(!self.has_pickup());
        u32::try_from(index + shift).unwrap_or(u32::MAX)
    }

    /// Where a bar starts, in quarters from the first bar; the end of the riff for an index past the last.
    pub fn bar_start(&self, index: usize) -> Quarters {
        self.starts.get(index).or(self.starts.last()).copied().unwrap_or_default()
    }

    /// Length of the written line, repeats not counted.
    pub fn length(&self) -> Quarters {
        self.bar_start(self.bars.len())
    }

    /// A place by bar index and distance from its bar line. A pickup's beats count back from the bar line
    /// that ends it.
    pub fn bar_beat(&self, bar: usize, offset: Quarters) -> BarBeat {
        let number = self.bar_number(bar);
        let Some(b) = self.bars.get(bar) else { return BarBeat { bar: number, beat: Quarters::QUARTER } };
        let lead = if bar == 0 && b.short { b.meter.bar_length() - b.length() } else { Quarters::ZERO };
        let (n, d) = b.meter.beat_length().fraction();
        let beats = (lead + offset).scaled(d, n).unwrap_or(Quarters::ZERO);
        BarBeat { bar: number, beat: beats + Quarters::QUARTER }
    }

    /// A place by position in quarters from the first bar.
    pub fn place_of(&self, at: Quarters) -> BarBeat {
        let bar = self.starts.partition_point(|&s| s <= at).saturating_sub(1).min(self.bars.len() - 1);
        self.bar_beat(bar, at - self.bar_start(bar))
    }

    /// The notes of the written line in order, tied heads joined.
    pub fn line(&self) -> Vec<LineNote> {
        let mut notes: Vec<LineNote> = Vec::new();
        let mut tied = false;
        for (i, bar) in self.bars.iter().enumerate() {
            let mut at = self.bar_start(i);
            for (j, event) in bar.events.iter().enumerate() {
                let length = event.value.length();
                match (event.note, notes.last_mut()) {
                    (Some(note), Some(last)) if tied => {
                        last.length += length;
                        tied = note.tied;
                    }
                    (Some(note), _) => {
                        tied = note.tied;
                        notes.push(LineNote { bar: i, event: j, onset: at, length, note });
                    }
                    (None, _) => tied = false,
                }
                at += length;
            }
        }
        notes
    }
}
