//! Kin by rhythm alone: where notes begin, whatever they are and however fast.
//!
//! Distances between onsets are aligned by the dynamic programme of [`crate::align`] without pitch (Mongeau and
//! Sankoff 1990): replacing costs the difference in length, leaving out and adding the length, and an onset more
//! or less inside a length costs a sixteenth (our choice, no source; without it every rhythm would be a broken
//! up whole note). Of the [`PACES`] the cheapest counts, so that a riff written in eighths and the same in
//! sixteenths have one rhythm.

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
    pub fn pace_words(&self) -> String {
        match self.pace {
            (1, 1) => String::new(),
            (2, 1) => "in half the values there".to_owned(),
            (1, 2) => "in double the values there".to_owned(),
            (num, den) => format!("{den} there for {num} here"),
        }
    }

    /// In words.
    pub fn words(&self) -> String {
        let pace = self.pace_words();
        let pace = if pace.is_empty() { pace } else { format!(", {pace}") };
        if self.is_same() {
            return format!("the same rhythm{pace}");
        }
        let (here, there) = self.onsets;
        format!(
            "{} of {here} note lengths agree with {there} there{pace}; {} to change",
            self.shared,
            quarters(self.cost)
        )
    }
}

/// Ticks as quarters in words: `1 1/2 quarters`.
pub(crate) fn quarters(ticks: u64) -> String {
    let whole = u64::from(TICKS_PER_QUARTER);
    // To the sixty-fourth or its third at most: finer says nothing to a reader.
    let grain = whole / 48;
    let parts = (ticks + grain / 2) / grain;
    let (n, rest) = (parts / 48, parts % 48);
    let mut d = 48;
    let mut r = rest;
    for p in [2, 2, 2, 2, 3] {
        if r % p == 0 && d % p == 0 && r > 0 {
            (r, d) = (r / p, d / p);
        }
    }
    match (n, r) {
        (0, 0) => "less than a 64th".to_owned(),
        (1, 0) => "1 quarter".to_owned(),
        (n, 0) => format!("{n} quarters"),
        (0, r) => format!("{r}/{d} of a quarter"),
        (n, r) => format!("{n} {r}/{d} quarters"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lengths_in_words() {
        let q = u64::from(TICKS_PER_QUARTER);
        assert_eq!(quarters(q), "1 quarter");
        assert_eq!(quarters(q / 4), "1/4 of a quarter");
        assert_eq!(quarters(q * 3 / 2), "1 1/2 quarters");
        assert_eq!(quarters(q / 3), "1/3 of a quarter");
        assert_eq!(quarters(2 * q + q * 3 / 4), "2 3/4 quarters");
    }
}
