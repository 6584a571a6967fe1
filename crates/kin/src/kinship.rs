//! Two riffs side by side, by every measure, each with its words.

use std::ops::Range;

use riffkin_score::degree::Degree;
use riffkin_score::riff::Riff;

use crate::align::{Alignment, Extent, align};
use crate::degrees::Degrees;
use crate::hand::Hands;
use crate::imprint::{Imprint, TICKS_PER_QUARTER};
use crate::rhythm::{self, Rhythm};
use crate::stretches::{GRID, Stretches, bars};

/// Paces at which a played or hummed snippet is looked for: as written, in half the values, in double.
pub const SNIPPET_PACES: [(u32, u32); 3] = [(1, 1), (1, 2), (2, 1)];

/// What two riffs share, measure by measure. There is no sum.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Kinship {
    /// Degrees against each riff's own tonic.
    pub degrees: Degrees,
    /// Hand shape; `None` when one of the two is not known.
    pub hand: Option<Hands>,
    /// Intervals and rhythm of the whole riffs; `None` when one of them has no note.
    pub tune: Option<Tune>,
    /// Rhythm alone; `None` when one of them has no note.
    pub rhythm: Option<Rhythm>,
}

/// Intervals and rhythm of two riffs, aligned.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Tune {
    /// What it costs to make one of the other, in twelfths of a quarter.
    pub cost: u32,
    /// Semitones round the octave by which the other lies higher against its tonic: 0 when the same intervals
    /// begin on the same degree.
    pub higher: u8,
    /// Values of the riff asked about times this are those that were compared.
    pub pace: (u32, u32),
    /// Length here, at that pace, and length there, in twelfths of a quarter.
    pub totals: (u32, u32),
    /// Parts in common without a difference, as notes here and notes there.
    pub common: Vec<(Range<usize>, Range<usize>)>,
    /// Their length here in twelfths of a quarter.
    pub agreeing: u32,
    /// Stretches only here, only there, and matched though they differ.
    pub differing: (usize, usize, usize),
    /// All of the other riff, or any part of it.
    pub extent: Extent,
}

impl Kinship {
    /// Of the riff asked about, `here`, and another.
    pub fn between(here: &Imprint, there: &Imprint) -> Self {
        Self {
            degrees: Degrees::between(here.set(), there.set()),
            hand: here.hand().zip(there.hand()).map(|(a, b)| Hands::between(a, b)),
            tune: Tune::between(here, there),
            rhythm: rhythm::compare(here, there),
        }
    }
}

impl Tune {
    /// All of one riff against all of the other.
    pub fn between(here: &Imprint, there: &Imprint) -> Option<Self> {
        let (a, b) = (Stretches::of(here), Stretches::of(there));
        Self::of(&a, &b, (1, 1), Extent::Whole)
    }

    /// A snippet looked for inside a riff, at every pace of [`SNIPPET_PACES`]; the one that costs least for its
    /// length.
    pub fn inside(snippet: &Imprint, riff: &Imprint) -> Option<Self> {
        let (a, b) = (Stretches::of(snippet), Stretches::of(riff));
        let tried = SNIPPET_PACES.iter().filter_map(|&(num, den)| {
            let paced = if (num, den) == (1, 1) { a.clone() } else { a.paced(num, den) };
            Self::of(&paced, &b, (num, den), Extent::Part)
        });
        tried.min_by(|x, y| {
            let share = |x: &Self, y: &Self| u64::from(x.cost) * u64::from(y.totals.0);
            share(x, y).cmp(&share(y, x))
        })
    }

    fn of(a: &Stretches, b: &Stretches, pace: (u32, u32), extent: Extent) -> Option<Self> {
        if a.line().is_empty() || b.line().is_empty() {
            return None;
        }
        let found: Alignment = align(a.line(), b.line(), extent);
        let notes = |s: &Stretches, part: &Range<usize>| s.note(part.start)..s.note(part.end);
        let parts = found.common();
        let length = |part: &Range<usize>| -> u32 {
            a.line().get(part.clone()).into_iter().flatten().map(|s| u32::from(s.length)).sum()
        };
        Some(Self {
            cost: found.cost,
            higher: found.shift,
            pace,
            totals: (a.total(), b.total()),
            agreeing: parts.iter().map(|p| length(&p.here)).sum(),
            common: parts.iter().map(|p| (notes(a, &p.here), notes(b, &p.there))).collect(),
            differing: found.differing(),
            extent,
        })
    }

    /// In words.
    pub fn words(&self) -> String {
        let mut words = if self.cost == 0 {
            match self.extent {
                Extent::Whole => "the same intervals and rhythm".to_owned(),
                Extent::Part => "all of it is there".to_owned(),
            }
        } else {
            format!(
                "{} of {} agree, {} to change",
                length(self.agreeing),
                length(self.totals.0),
                length(self.cost)
            )
        };
        match self.pace {
            (1, 1) => {}
            (1, 2) => words.push_str(", in half the values there"),
            _ => words.push_str(", in double the values there"),
        }
        if self.higher != 0 && self.agreeing > 0 {
            words.push_str(&format!(", {} higher against the root", interval(self.higher)));
        }
        words
    }

    /// The parts in common as bars here and bars there: `bars 1 to 2 here, bar 3 there`.
    pub fn places(&self, here: &Riff, there: &Riff) -> Vec<String> {
        let say = |(a, b): (u32, u32)| if a == b { format!("bar {a}") } else { format!("bars {a} to {b}") };
        let part = |(a, b): &(Range<usize>, Range<usize>)| {
            let (a, b) = (bars(here, a.clone())?, bars(there, b.clone())?);
            Some(format!("{} here, {} there", say(a), say(b)))
        };
        let mut places: Vec<String> = self.common.iter().filter_map(part).collect();
        places.dedup();
        places
    }
}

/// Twelfths of a quarter in words.
fn length(steps: u32) -> String {
    rhythm::quarters(u64::from(steps) * u64::from(TICKS_PER_QUARTER / GRID))
}

/// Semitones in words.
fn interval(semitones: u8) -> String {
    let words = Degree::usual(semitones).interval().words();
    words.trim_end_matches(" up").to_owned()
}
