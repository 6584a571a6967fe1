//! Lengths without a written value, cut into values that notation can write.

use std::collections::BTreeMap;

use riffkin_score::meter::Meter;
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape, Tuplet};

/// Tuplets tried, the usual ones first.
const TUPLETS: [(u8, u8); 8] = [(3, 2), (5, 4), (6, 4), (7, 4), (2, 3), (4, 3), (9, 8), (7, 8)];

/// Knows every single value by its length.
pub(super) struct Splitter {
    single: BTreeMap<Quarters, NoteValue>,
}

impl Splitter {
    /// Positions that no value reaches are moved to this grid: the triplet sixty-fourth, of which both the
    /// thirty-second and all triplets down to itself are whole multiples.
    pub(super) fn grid() -> Quarters {
        NoteValue::new(Shape::SixtyFourth, 0, Some(Tuplet::TRIPLET))
            .map_or(Quarters::SIXTEENTH, NoteValue::length)
    }

    /// All values: plain and dotted first, then the usual tuplets.
    pub(super) fn new() -> Self {
        let mut single = BTreeMap::new();
        let tuplets = TUPLETS.iter().map(|&(a, n)| (Tuplet::new(a, n), 1));
        for (tuplet, dots) in std::iter::once((None, 2)).chain(tuplets) {
            for dots in 0..=dots {
                for shape in Shape::ALL {
                    if let Some(value) = NoteValue::new(shape, dots, tuplet) {
                        single.entry(value.length()).or_insert(value);
                    }
                }
            }
        }
        Self { single }
    }

    /// The single value of this length.
    pub(super) fn one(&self, length: Quarters) -> Option<NoteValue> {
        self.single.get(&length).copied()
    }

    /// Values that add up to a length: one if possible, then two, then largest first; `None` when it cannot
    /// be done.
    fn any(&self, length: Quarters) -> Option<Vec<NoteValue>> {
        if let Some(one) = self.one(length) {
            return Some(vec![one]);
        }
        let plain = |v: &NoteValue| v.tuplet().is_none() && v.dots() == 0;
        let shorter = || self.single.range(..length).rev().map(|(_, v)| *v);
        if let Some(two) = shorter()
            .filter(|v| v.tuplet().is_none() && v.dots() <= 1)
            .find_map(|v| Some(vec![v, self.one(length - v.length())?]))
        {
            return Some(two);
        }
        let mut pieces = Vec::new();
        let mut rest = length;
        while rest.is_positive() {
            if let Some(last) = self.one(rest) {
                pieces.push(last);
                return Some(pieces);
            }
            let next = self.single.range(..rest).rev().map(|(_, v)| *v).find(plain)?;
            pieces.push(next);
            rest -= next.length();
        }
        None
    }

    /// Values that fill a bar from `from` to `to`, cut at the groups of the meter where they would hide them.
    pub(super) fn pieces(&self, from: Quarters, to: Quarters, meter: Meter) -> Option<Vec<NoteValue>> {
        let mut bounds = vec![Quarters::ZERO];
        for group in meter.groups() {
            bounds.push(*bounds.last().unwrap_or(&Quarters::ZERO) + group);
        }
        let mut pieces = Vec::new();
        let mut at = from;
        while at < to {
            let next = bounds.iter().copied().find(|&b| b > at).unwrap_or(to).min(to);
            // From a beat on, whatever one value can say; else up to the next beat first.
            let whole = self.one(to - at).filter(|v| v.tuplet().is_none() && bounds.contains(&at));
            if let Some(whole) = whole {
                pieces.push(whole);
                return Some(pieces);
            }
            pieces.extend(self.any(next - at)?);
            at = next;
        }
        Some(pieces)
    }

    /// Like [`Splitter::pieces`] for positions on the grid, where it never fails.
    pub(super) fn pieces_on_grid(&self, from: Quarters, to: Quarters, meter: Meter) -> Vec<NoteValue> {
        if let Some(pieces) = self.pieces(from, to, meter) {
            return pieces;
        }
        let mut pieces = Vec::new();
        let mut rest = to - from;
        while let Some((_, &value)) = self
            .single
            .range(..=rest)
            .rev()
            .find(|(_, v)| v.dots() == 0 && v.tuplet().is_none_or(|t| t == Tuplet::TRIPLET))
        {
            pieces.push(value);
            rest -= value.length();
        }
        pieces
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn sum(pieces: &[NoteValue]) -> Quarters {
        pieces.iter().map(|v| v.length()).sum()
    }

    #[test]
    fn pieces_fill_exactly_and_respect_the_beat() {
        let splitter = Splitter::new();
        let meter = Meter::FOUR_FOUR;
        let q = |n, d| Quarters::new(n, d).unwrap();
        let words = |from, to| {
            let pieces = splitter.pieces(from, to, meter).unwrap();
            assert_eq!(sum(&pieces), to - from);
            pieces.iter().map(|v| v.words()).collect::<Vec<_>>().join(", ")
        };
        assert_eq!(words(q(0, 1), q(4, 1)), "whole");
        assert_eq!(words(q(1, 2), q(4, 1)), "eighth, dotted half");
        assert_eq!(words(q(1, 1), q(5, 3)), "triplet quarter");
        assert_eq!(words(q(0, 1), q(5, 4)), "quarter, sixteenth");
        assert_eq!(words(q(0, 1), q(4, 5)), "5-in-4 quarter");
    }

    #[test]
    fn everything_on_the_grid_can_be_written() {
        let splitter = Splitter::new();
        let grid = Splitter::grid();
        for from in 0..96 {
            for to in from..=96 {
                let (from, to) = (grid * from, grid * to);
                assert_eq!(sum(&splitter.pieces_on_grid(from, to, Meter::FOUR_FOUR)), to - from);
            }
        }
    }
}
