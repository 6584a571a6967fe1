//! Kin by rhythm alone: where notes begin, whatever they are and however fast.
//!
//! Distances between onsets are aligned by the dynamic programme of [`crate::align`] without pitch (Mongeau and
//! Sankoff 1990): replacing costs the difference in length, leaving out and adding the length, and an onset more
//! or less inside a length costs a sixteenth (our choice, no source; without it every rhythm would be a broken
//! up whole note). Of the [`PACES`] the cheapest counts, so that a riff written in eighths and the same in
//! sixteenths have one rhythm.

mod seek;

pub use seek::Sought;

use std::collections::BTreeMap;

use riffkin_score::riff::Riff;
use riffkin_score::time::Quarters;

use crate::align::PIECES;
use crate::imprint::{Imprint, TICKS_PER_QUARTER};

/// How many times as long the other riff's values may be: numerator and denominator, the plain one first.
pub const PACES: [(u32, u32); 9] = [(1, 1), (2, 1), (1, 2), (3, 2), (2, 3), (4, 3), (3, 4), (4, 1), (1, 4)];
/// Most onsets that are compared; what follows in a longer riff is left out.
pub const MOST: usize = 512;
/// Cost of an onset more or less, in ticks: a sixteenth.
pub const ONSET: u64 = TICKS_PER_QUARTER as u64 / 4;

/// Two rhythms side by side.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Rhythm {
    /// Cost in ticks of the riff asked about.
    pub cost: u64,
    /// Length of the riff asked about from its first onset to the end of its last note, in ticks.
    pub span: u64,
    /// The other riff's values times `pace.0 / pace.1` are this one's.
    pub pace: (u32, u32),
    /// How many distances from onset to onset stand against an equal one.
    pub shared: usize,
    /// Onsets of the riff asked about, and of the other; [`MOST`] at most are compared.
    pub onsets: (usize, usize),
}

/// The distances from onset to onset, in ticks, the last note's own length last. Notes that begin together
/// count once.
pub fn onset_distances(imprint: &Imprint) -> Vec<u32> {
    let notes = imprint.notes();
    let mut distances: Vec<u32> =
        notes.windows(2).map(|w| w[1].onset - w[0].onset).filter(|&d| d > 0).take(MOST).collect();
    if distances.len() < MOST {
        distances.extend(notes.last().map(|n| n.length));
    }
    distances
}

/// The rhythms of two riffs; `None` when one of them has no note.
pub fn compare(here: &Imprint, there: &Imprint) -> Option<Rhythm> {
    let (here, there) = (onset_distances(here), onset_distances(there));
    if here.is_empty() || there.is_empty() {
        return None;
    }
    let span: u64 = here.iter().map(|&d| u64::from(d)).sum();
    let mut best: Option<Rhythm> = None;
    for (num, den) in PACES {
        // Both are multiplied, so that nothing is rounded; the cost is divided again.
        let a: Vec<u64> = here.iter().map(|&d| u64::from(d) * u64::from(den)).collect();
        let b: Vec<u64> = there.iter().map(|&d| u64::from(d) * u64::from(num)).collect();
        let (cost, shared) = distance(&a, &b, ONSET * u64::from(den));
        let cost = cost.div_ceil(u64::from(den));
        if best.as_ref().is_none_or(|b| cost < b.cost) {
            let onsets = (here.len(), there.len());
            best = Some(Rhythm { cost, span, pace: (num, den), shared, onsets });
        }
    }
    best
}

/// Cost of the cheapest alignment of two rows of lengths, and how many lengths it pairs as equal.
pub fn distance(here: &[u64], there: &[u64], onset: u64) -> (u64, usize) {
    let width = there.len() + 1;
    let at = |i: usize, j: usize| i * width + j;
    // Of equal costs the one with more equal pairs: pairs are counted downwards.
    let mut best = vec![(0u64, 0i64); (here.len() + 1) * width];
    for j in 1..width {
        best[at(0, j)].0 = best[at(0, j - 1)].0 + there[j - 1];
    }
    for i in 1..=here.len() {
        best[at(i, 0)].0 = best[at(i - 1, 0)].0 + here[i - 1];
        for j in 1..width {
            let mut found = (u64::MAX, 0);
            let mut offer = |a: usize, b: usize, cost: u64, pairs: i64| {
                let before = best[at(i - a, j - b)];
                found = found.min((before.0 + cost, before.1 - pairs));
            };
            let mut sum = 0;
            for pieces in 1..=PIECES.min(j) {
                sum += there[j - pieces];
                let apart = here[i - 1].abs_diff(sum);
                let pair = i64::from(pieces == 1 && apart == 0);
                offer(1, pieces, apart + onset * (pieces as u64 - 1), pair);
            }
            sum = here[i - 1];
            for pieces in 2..=PIECES.min(i) {
                sum += here[i - pieces];
                offer(pieces, 1, there[j - 1].abs_diff(sum) + onset * (pieces as u64 - 1), 0);
            }
            offer(1, 0, here[i - 1], 0);
            offer(0, 1, there[j - 1], 0);
            best[at(i, j)] = found;
        }
    }
    let end = best[at(here.len(), there.len())];
    (end.0, end.1.unsigned_abs() as usize)
}

impl Rhythm {
    /// True when nothing differs but the pace.
    pub fn is_same(&self) -> bool {
        self.cost == 0
    }

    /// The pace in words; empty for the same values.
    pub fn pace_words(&self) -> &'static str {
        match self.pace {
            (2, 1) => "in note values half as long there",
            (1, 2) => "in note values twice as long there",
            (3, 2) => "in note values two thirds as long there",
            (2, 3) => "in note values one and a half times as long there",
            (4, 3) => "in note values three quarters as long there",
            (3, 4) => "in note values one and a third times as long there",
            (4, 1) => "in note values a quarter as long there",
            (1, 4) => "in note values four times as long there",
            _ => "",
        }
    }

    /// True when three quarters of the notes, of whichever riff has more, last as long as in the other (our
    /// choice, no source).
    pub fn is_close(&self) -> bool {
        self.shared * 4 >= self.onsets.0.max(self.onsets.1) * 3
    }

    /// In words, of the whole.
    pub fn words(&self) -> String {
        let pace = match self.pace_words() {
            "" => String::new(),
            words => format!(", {words}"),
        };
        let (here, _) = self.onsets;
        match (self.is_same(), self.is_close()) {
            (true, _) => format!("the same rhythm{pace}"),
            (_, true) => {
                format!("nearly the same rhythm{pace}; {} of {here} notes last as long", self.shared)
            }
            _ => "another rhythm".to_owned(),
        }
    }
}

/// Bars of one rhythm: which bars here begin their notes at the same places as which bars there, in words. Bars
/// of fewer than two notes say nothing.
pub fn bars_alike(here: &Riff, there: &Riff) -> Vec<String> {
    let bars = |riff: &Riff| {
        let mut bars: BTreeMap<usize, Vec<Quarters>> = BTreeMap::new();
        for note in riff.line().into_iter().filter(|n| !n.is_dead()) {
            let at = note.onset - riff.bar_start(note.bar);
            bars.entry(note.bar).or_default().push(at);
        }
        let mut by_rhythm: BTreeMap<Vec<Quarters>, Vec<u32>> = BTreeMap::new();
        for (bar, mut rhythm) in bars.into_iter().filter(|(_, rhythm)| rhythm.len() > 1) {
            // Where it ends counts as well.
            rhythm.push(riff.bar_start(bar + 1) - riff.bar_start(bar));
            by_rhythm.entry(rhythm).or_default().push(riff.bar_number(bar));
        }
        by_rhythm
    };
    let there = bars(there);
    let mut alike: Vec<(Vec<u32>, &Vec<u32>)> =
        bars(here).into_iter().filter_map(|(rhythm, here)| Some((here, there.get(&rhythm)?))).collect();
    alike.sort();
    alike.into_iter().map(|(here, there)| format!("{} here, {} there", list(&here), list(there))).collect()
}

/// Numbers of bars in words: `bars 1 to 3, 5`.
fn list(bars: &[u32]) -> String {
    let mut parts: Vec<(u32, u32)> = Vec::new();
    for &bar in bars {
        match parts.last_mut() {
            Some(last) if last.1 + 1 == bar => last.1 = bar,
            _ => parts.push((bar, bar)),
        }
    }
    let words: Vec<String> = parts
        .into_iter()
        .map(|(a, b)| match b - a {
            0 => a.to_string(),
            1 => format!("{a}, {b}"),
            _ => format!("{a} to {b}"),
        })
        .collect();
    format!("{} {}", if bars.len() == 1 { "bar" } else { "bars" }, words.join(", "))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bars_as_one_names_them() {
        assert_eq!(list(&[2]), "bar 2");
        assert_eq!(list(&[1, 2, 5]), "bars 1, 2, 5");
        assert_eq!(list(&[1, 3, 4, 5]), "bars 1, 3 to 5");
    }
}
