//! The dynamic programme of [`crate::align`] for all twelve transpositions at once, side by side in a register,
//! given up as soon as it is too dear.
//!
//! For two stretches the twelve weights are one row of a table, read from another place for another interval.
//! Sums stop at the largest number of their type, which then means as much or more.

use crate::align::{Extent, PIECES, WEIGHTS};
use crate::stretches::{MOST, Stretch};

/// Transpositions side by side; the last four repeat the first.
const SIDE: usize = 16;

/// A cost of one byte or two.
pub(super) trait Cost: Copy + Ord + Into<u32> {
    const ZERO: Self;
    const MOST: Self;
    fn plus(self, other: Self) -> Self;
    fn of(cost: u32) -> Self;
}

impl Cost for u8 {
    const ZERO: Self = 0;
    const MOST: Self = Self::MAX;
    #[inline]
    fn plus(self, other: Self) -> Self {
        self.saturating_add(other)
    }
    #[inline]
    fn of(cost: u32) -> Self {
        cost.min(255) as Self
    }
}

impl Cost for u16 {
    const ZERO: Self = 0;
    const MOST: Self = Self::MAX;
    #[inline]
    fn plus(self, other: Self) -> Self {
        self.saturating_add(other)
    }
    #[inline]
    fn of(cost: u32) -> Self {
        cost.min(65_535) as Self
    }
}

type Side<C> = [C; SIDE];

#[inline]
fn add<C: Cost>(a: &Side<C>, b: &Side<C>) -> Side<C> {
    let mut out = *a;
    for l in 0..SIDE {
        out[l] = out[l].plus(b[l]);
    }
    out
}

#[inline]
fn add_one<C: Cost>(a: &Side<C>, b: C) -> Side<C> {
    let mut out = *a;
    for v in &mut out {
        *v = v.plus(b);
    }
    out
}

#[inline]
fn least<C: Cost>(a: &Side<C>, b: &Side<C>) -> Side<C> {
    let mut out = *a;
    for l in 0..SIDE {
        out[l] = out[l].min(b[l]);
    }
    out
}

/// Rows that are kept: this one, and as many as a joined stretch may reach back.
const ROWS: usize = PIECES + 1;

/// Room for one alignment after another.
pub(super) struct Kernel<C> {
    // Weights by length: those of interval d stand from d on, for shifts 0, 11, 10 and so on.
    table: Vec<[C; 28]>,
    rows: Vec<Side<C>>,
    whole: Vec<Side<C>>,
}

impl<C: Cost> Kernel<C> {
    pub(super) fn new() -> Self {
        let row = |length: u32| std::array::from_fn(|d| C::of(length * u32::from(WEIGHTS[d % 12])));
        Self {
            table: (0..256).map(row).collect(),
            rows: vec![[C::MOST; SIDE]; ROWS * (MOST + 1)],
            whole: vec![[C::MOST; SIDE]; ROWS * (MOST + 1)],
        }
    }

    #[inline]
    fn weights(&self, here: Stretch, there: Stretch, length: u8) -> Side<C> {
        let d = usize::from((there.slot + 12 - here.slot) % 12);
        let row = &self.table[usize::from(length)];
        // From 0 to 11, so that the window always lies inside the row.
        row.get(d..d + SIDE).and_then(|w| w.try_into().ok()).unwrap_or([C::MOST; SIDE])
    }

    /// The cost of the cheapest transposition and the least shift that has it; `None` when it is above `limit`,
    /// which must be less than the largest cost there is.
    pub(super) fn align(
        &mut self,
        here: &[Stretch],
        there: &[Stretch],
        extent: Extent,
        limit: C,
    ) -> Option<(C, u8)> {
        let there = &there[..there.len().min(MOST)];
        let width = there.len() + 1;
        let row_at = |i: usize| (i % ROWS) * (MOST + 1);
        let mut sum = C::ZERO;
        self.rows[0] = [C::ZERO; SIDE];
        for (j, s) in there.iter().enumerate() {
            if extent == Extent::Whole {
                sum = sum.plus(C::of(u32::from(s.length)));
            }
            self.rows[j + 1] = [sum; SIDE];
        }
        // The least of each of the rows that a later one may build on.
        let mut minima = [C::ZERO; PIECES];
        for (i, &a) in (1..).zip(here) {
            let (row, above) = (row_at(i), row_at(i - 1));
            let la = u32::from(a.length);
            let alone_a = C::of(la);
            let mut left = add_one(&self.rows[above], alone_a);
            self.rows[row] = left;
            let mut low = left;
            for j in 1..width {
                let b = there[j - 1];
                let lb = u32::from(b.length);
                // Each stretch there for its whole length against this one here, and the other way round.
                let piece = self.weights(a, b, b.length);
                self.rows_put(row, j, &piece);
                let mut best = least(&add_one(&self.rows[above + j], alone_a), &add_one(&left, C::of(lb)));
                let pair = self.weights(a, b, a.length.min(b.length));
                let apart = C::of(la.abs_diff(lb));
                best = least(&best, &add(&add_one(&self.rows[above + j - 1], apart), &pair));
                // One here for several there. Once those at hand last as long, one more is never cheaper than
                // leaving it alone.
                let (mut pieces, mut length) = (piece, lb);
                for p in 2..=PIECES.min(j) {
                    if length >= la {
                        break;
                    }
                    let more = there[j - p];
                    pieces = add(&pieces, &self.whole[row + j - p + 1]);
                    length += u32::from(more.length);
                    let sum = add(&add_one(&self.rows[above + j - p], C::of(la.abs_diff(length))), &pieces);
                    best = least(&best, &sum);
                }
                // Several here for one there.
                let (mut pieces, mut length) = (self.weights(a, b, a.length), la);
                for p in 2..=PIECES.min(i) {
                    if length >= lb {
                        break;
                    }
                    let more = here[i - p];
                    pieces = add(&pieces, &self.weights(more, b, more.length));
                    length += u32::from(more.length);
                    let from = row_at(i - p) + j - 1;
                    let sum = add(&add_one(&self.rows[from], C::of(lb.abs_diff(length))), &pieces);
                    best = least(&best, &sum);
                }
                self.rows[row + j] = best;
                low = least(&low, &best);
                left = best;
            }
            minima[i % PIECES] = low.into_iter().min().unwrap_or(C::MOST);
            if minima.iter().all(|&m| m > limit) {
                return None;
            }
        }
        let last = row_at(here.len());
        let mut end = self.rows[last + width - 1];
        if extent == Extent::Part {
            end = self.rows[last..last + width].iter().fold(end, |best, side| least(&best, side));
        }
        let cost = end.into_iter().min().filter(|&c| c <= limit)?;
        // Side l stands for the shift 12 - l.
        let shift = (0..12u8).find(|&s| end[usize::from((12 - s) % 12)] == cost)?;
        Some((cost, shift))
    }

    #[inline]
    fn rows_put(&mut self, row: usize, j: usize, piece: &Side<C>) {
        self.whole[row + j] = *piece;
    }
}
