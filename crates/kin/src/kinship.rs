//! Two riffs side by side, by every measure, each with its words.

use std::ops::Range;

use riffkin_score::degree::Degree;
use riffkin_score::riff::Riff;

use crate::align::{Alignment, Common, Extent, align};
use crate::degrees::Degrees;
use crate::hand::Hands;
use crate::imprint::Imprint;
use crate::rhythm::{self, Rhythm};
use crate::stretches::{Stretches, bars};

/// Paces at which a played or hummed snippet is looked for: as written, in half the values, in double.
pub const SNIPPET_PACES: [(u32, u32); 3] = [(1, 1), (1, 2), (2, 1)];

/// So many stretches on end that agree are worth telling.
pub const WORTH: usize = 3;

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
    /// Parts in common without a difference, as notes here and notes there. Left out are those that say nothing:
    /// of fewer than [`WORTH`] stretches, unless nothing differs.
    pub common: Vec<(Range<usize>, Range<usize>)>,
    /// Their length here in twelfths of a quarter.
    pub alike: u32,
    /// Length here of all that agrees, single notes too, in twelfths of a quarter.
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
    /// length, of equals the least higher, then the first.
    pub fn inside(snippet: &Imprint, riff: &Imprint) -> Option<Self> {
        let (a, b) = (Stretches::of(snippet), Stretches::of(riff));
        let tried = SNIPPET_PACES.iter().filter_map(|&(num, den)| {
            let paced = if (num, den) == (1, 1) { a.clone() } else { a.paced(num, den) };
            Self::of(&paced, &b, (num, den), Extent::Part)
        });
        tried.min_by_key(|tune| (tune.share(), tune.higher))
    }

    /// How much there is to change, in millionths of the length of the riff asked about.
    pub fn share(&self) -> u64 {
        share(self.cost, self.totals.0)
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
        let told = |part: &&Common| found.cost == 0 || part.here.len().max(part.there.len()) >= WORTH;
        Some(Self {
            cost: found.cost,
            higher: found.shift,
            pace,
            totals: (a.total(), b.total()),
            agreeing: parts.iter().map(|p| length(&p.here)).sum(),
            alike: parts.iter().filter(|p| told(p)).map(|p| length(&p.here)).sum(),
            common: parts
                .iter()
                .filter(|p| told(p))
                .map(|p| (notes(a, &p.here), notes(b, &p.there)))
                .collect(),
            differing: found.differing(),
            extent,
        })
    }

    /// In words: how much is alike, and what differs.
    pub fn words(&self) -> String {
        let mut words = match (self.cost, self.extent) {
            (0, Extent::Whole) => "note for note the same".to_owned(),
            (0, Extent::Part) => "all of it is there".to_owned(),
            _ if self.common.is_empty() => return "no bar alike".to_owned(),
            _ => format!("{} alike", portion(self.alike, self.totals.0)),
        };
        match self.pace {
            (1, 1) => {}
            (1, 2) => words.push_str(", in note values half as long there"),
            _ => words.push_str(", in note values twice as long there"),
        }
        if self.higher != 0 {
            words.push_str(&format!(", {} higher above the root there", interval(self.higher)));
        }
        if self.cost > 0 {
            words.push_str(&format!("; {}", self.differences()));
        }
        words
    }

    fn differences(&self) -> String {
        let (here, there, both) = self.differing;
        if here + there + both > 8 {
            return "much else differs".to_owned();
        }
        let say = |n: usize, what: &str| (n > 0).then(|| format!("{n} {what}"));
        let notes = if both == 1 { "note differs" } else { "notes differ" };
        let parts = [say(both, notes), say(here, "only here"), say(there, "only there")];
        parts.into_iter().flatten().collect::<Vec<_>>().join(", ")
    }

    /// The parts in common as bars here and bars there: `bars 1 to 2 here, bar 3 there`.
    pub fn places(&self, here: &Riff, there: &Riff) -> Vec<String> {
        let part = |(a, b): &(Range<usize>, Range<usize>)| {
            Some(side_by_side(bars(here, a.clone())?, bars(there, b.clone())?))
        };
        let mut places: Vec<String> = self.common.iter().filter_map(part).collect();
        places.dedup();
        places
    }
}

/// A cost in millionths of a length. Different costs for one length that a riff may have stay different.
pub fn share(cost: u32, length: u32) -> u64 {
    u64::from(cost) * 1_000_000 / u64::from(length.max(1))
}

/// First and last bars here and there, in words.
pub(crate) fn side_by_side(here: (u32, u32), there: (u32, u32)) -> String {
    let say = |(a, b): (u32, u32)| if a == b { format!("bar {a}") } else { format!("bars {a} to {b}") };
    format!("{} here, {} there", say(here), say(there))
}

/// A part of a whole in words.
fn portion(part: u32, whole: u32) -> &'static str {
    match u64::from(part) * 8 / u64::from(whole.max(1)) {
        7.. => "nearly all of it",
        5..=6 => "most of it",
        3..=4 => "about half of it",
        _ => "a part of it",
    }
}

/// Semitones in words.
fn interval(semitones: u8) -> String {
    let words = Degree::usual(semitones).interval().words();
    words.trim_end_matches(" up").to_owned()
}
