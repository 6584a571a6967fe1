//! The dynamic programme of [`crate::align`] for all twelve transpositions at once, side by side in a register,
//! computed only where it may still become cheap enough.
//!
//! For two stretches the twelve weights are one row of a table, read from another place for another interval.
//! Sums stop at the largest number of their type, which then means as much or more. A cell of the table is dead
//! when what it costs and what the rest of the query must cost at least (by the bound of [`super::bound`], for
//! each transposition) are above the limit; what can only be reached through dead cells is not computed.

use super::bound;
use crate::align::{Extent, PIECES, WEIGHTS};
use crate::stretches::{MOST, Stretch};

/// Transpositions side by side; the last four repeat the first.
const SIDE: usize = 16;

/// A cost of one byte or two.
pub(super) trait Cost: Copy + Ord + Into<u32> {
    const ZERO: Self;
    const MOST: Self;
    fn plus(self, other: Self) -> Self;
    fn less(self, other: Self) -> Self;
    fn of(cost: u32) -> Self;
    /// True when one of them is not zero.
    fn any(side: &[Self; SIDE]) -> bool;
}

impl Cost for u8 {
    const ZERO: Self = 0;
    const MOST: Self = Self::MAX;
    #[inline]
    fn plus(self, other: Self) -> Self {
        self.saturating_add(other)
    }
    #[inline]
    fn less(self, other: Self) -> Self {
        self.saturating_sub(other)
    }
    #[inline]
    fn of(cost: u32) -> Self {
        cost.min(255) as Self
    }
    #[inline]
    fn any(side: &[Self; SIDE]) -> bool {
        u128::from_ne_bytes(*side) != 0
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
    fn less(self, other: Self) -> Self {
        self.saturating_sub(other)
    }
    #[inline]
    fn of(cost: u32) -> Self {
        cost.min(65_535) as Self
    }
    #[inline]
    fn any(side: &[Self; SIDE]) -> bool {
        side.iter().fold(0, |all, v| all | v) != 0
    }
}

type Side<C> = [C; SIDE];

#[inline]
fn each<C: Cost>(a: &Side<C>, b: &Side<C>, what: impl Fn(C, C) -> C) -> Side<C> {
    let mut out = *a;
    for l in 0..SIDE {
        out[l] = what(out[l], b[l]);
    }
    out
}

#[inline]
fn add<C: Cost>(a: &Side<C>, b: &Side<C>) -> Side<C> {
    each(a, b, C::plus)
}

#[inline]
fn add_one<C: Cost>(a: &Side<C>, b: C) -> Side<C> {
    each(a, &[b; SIDE], C::plus)
}

#[inline]
fn least<C: Cost>(a: &Side<C>, b: &Side<C>) -> Side<C> {
    each(a, b, C::min)
}

/// Sixteen of a row of the table from `from` on, which is at most 12.
#[inline]
fn window<C: Cost>(row: &[C; 28], from: usize) -> Side<C> {
    row.get(from..from + SIDE).and_then(|w| w.try_into().ok()).unwrap_or([C::MOST; SIDE])
}

/// Rows that are kept: this one, and as many as a joined stretch may reach back.
const ROWS: usize = PIECES + 1;
/// Cells in a row.
const WIDE: usize = MOST + 1;

/// Room for one alignment after another.
pub(super) struct Kernel<C> {
    // Weights by length: those of interval d stand from d on, for shifts 0, 11, 10 and so on.
    table: Vec<[C; 28]>,
    rows: Vec<Side<C>>,
    // Of the riff at hand, what lasts from each column to the end.
    left_there: Vec<u32>,
}

/// What is left of both lines, and what it costs at least.
struct Rest<C> {
    // What the classes of the query last from its next stretch on.
    asked: [u32; 12],
    // The same of the other line, from the leftmost living column on; and turned, so that class c of the query
    // meets its like for each transposition in a window.
    lasting: [u32; 12],
    turned: [C; 28],
    from: usize,
    cost: Side<C>,
}

impl<C: Cost> Rest<C> {
    fn new(here: &[Stretch], there: &[Stretch]) -> Self {
        let lasting = bound::durations(there);
        // Side l stands for the shift -l, where the class c of the query meets c - l.
        let turned = std::array::from_fn(|x| C::of(lasting[(24 - x % 12) % 12]));
        let mut made =
            Self { asked: bound::durations(here), lasting, turned, from: 0, cost: [C::ZERO; SIDE] };
        made.count();
        made
    }

    fn count(&mut self) {
        let mut sum = [C::ZERO; SIDE];
        for (class, &asked) in self.asked.iter().enumerate().filter(|(_, a)| **a > 0) {
            let met = window(&self.turned, (12 - class) % 12);
            sum = add(&sum, &each(&[C::of(asked); SIDE], &met, C::less));
        }
        self.cost = sum;
    }

    /// Without this stretch of the query, and from this column of the other line on.
    fn advance(&mut self, here: Stretch, there: &[Stretch], from: usize) {
        let class = usize::from(here.slot % 12);
        self.asked[class] = self.asked[class].saturating_sub(u32::from(here.length));
        while self.from < from {
            if let Some(s) = there.get(self.from) {
                let class = usize::from(s.slot % 12);
                self.lasting[class] = self.lasting[class].saturating_sub(u32::from(s.length));
                let first = (12 - class) % 12;
                for x in [first, first + 12, first + 24] {
                    if let Some(turned) = self.turned.get_mut(x) {
                        *turned = C::of(self.lasting[class]);
                    }
                }
            }
            self.from += 1;
        }
        self.count();
    }
}

impl<C: Cost> Kernel<C> {
    pub(super) fn new() -> Self {
        let row = |length: u32| std::array::from_fn(|d| C::of(length * u32::from(WEIGHTS[d % 12])));
        Self {
            table: (0..256).map(row).collect(),
            rows: vec![[C::MOST; SIDE]; ROWS * WIDE],
            left_there: Vec::with_capacity(WIDE),
        }
    }

    #[inline]
    fn weights(&self, here: Stretch, there: Stretch, length: u8) -> Side<C> {
        let d = usize::from((there.slot + 12 - here.slot) % 12);
        window(&self.table[usize::from(length)], d)
    }

    /// What lasts from each column on.
    fn measure(&mut self, there: &[Stretch]) -> u32 {
        let mut left: u32 = there.iter().map(|s| u32::from(s.length)).sum();
        let all = left;
        self.left_there.clear();
        self.left_there.push(left);
        for s in there {
            left -= u32::from(s.length);
            self.left_there.push(left);
        }
        all
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
        let whole = extent == Extent::Whole;
        let width = there.len() + 1;
        let top = [limit.plus(C::of(1)); SIDE];
        // The cell without what cannot be part of an alignment within the limit, and whether anything is left.
        // Lengths that are left of both must be made equal by a whole alignment.
        let living = |cell: &Side<C>, rest: &Side<C>, apart: u32| {
            let apart = if whole { C::of(apart) } else { C::ZERO };
            let sum = add(cell, &each(rest, &[apart; SIDE], C::max));
            let room = each(&top, &sum, C::less);
            (each(cell, &room, |c, room| if room == C::ZERO { C::MOST } else { c }), C::any(&room))
        };
        let all_there = self.measure(there);
        let mut left_here: u32 = here.iter().map(|s| u32::from(s.length)).sum();
        let mut rest = Rest::new(here, there);
        // Leftmost and rightmost living column of the rows that the next may build on.
        let mut spans = [(usize::MAX, 0); PIECES];
        for j in 0..width {
            let left = self.left_there[j];
            let cost = if whole { C::of(all_there - left) } else { C::ZERO };
            let (cell, alive) = living(&[cost; SIDE], &rest.cost, left_here.abs_diff(left));
            self.rows[j] = cell;
            if alive {
                spans[0] = (spans[0].0.min(j), j);
            }
        }
        for (i, &a) in (1..).zip(here) {
            let low = spans.iter().map(|s| s.0).min().filter(|&low| low < width)?;
            let high = spans.iter().map(|s| s.1).max().unwrap_or(0);
            rest.advance(a, there, low);
            left_here -= u32::from(a.length);
            let row = (i % ROWS) * WIDE;
            self.rows[row..row + low].fill([C::MOST; SIDE]);
            let mut span = (usize::MAX, 0);
            let mut left = [C::MOST; SIDE];
            let mut end = low;
            while end < width {
                let j = end;
                end += 1;
                let best = self.cell(here, there, i, j, &left);
                let apart = left_here.abs_diff(self.left_there[j]);
                let (cell, alive) = living(&best, &rest.cost, apart);
                self.rows[row + j] = cell;
                left = cell;
                if alive {
                    span = (span.0.min(j), j);
                } else if j > high + PIECES {
                    // Beyond what the rows above reach, only the cell to the left could lead on.
                    break;
                }
            }
            self.rows[row + end..row + width].fill([C::MOST; SIDE]);
            spans[i % PIECES] = span;
        }
        let last = (here.len() % ROWS) * WIDE;
        let ends = if whole { last + width - 1..last + width } else { last..last + width };
        let end = ends.fold([C::MOST; SIDE], |best, cell| least(&best, &self.rows[cell]));
        let cost = end.into_iter().min().filter(|&c| c <= limit)?;
        // Side l stands for the shift 12 - l.
        let shift = (0..12u8).find(|&s| end[usize::from((12 - s) % 12)] == cost)?;
        Some((cost, shift))
    }

    /// The least of all ways into a cell; dead cells cost the most there is.
    #[inline]
    fn cell(&self, here: &[Stretch], there: &[Stretch], i: usize, j: usize, left: &Side<C>) -> Side<C> {
        let row_at = |i: usize| (i % ROWS) * WIDE;
        let above = row_at(i - 1);
        let a = here[i - 1];
        let la = u32::from(a.length);
        let mut best = add_one(&self.rows[above + j], C::of(la));
        let Some(before) = j.checked_sub(1) else { return best };
        let b = there[before];
        let lb = u32::from(b.length);
        best = least(&best, &add_one(left, C::of(lb)));
        let pair = self.weights(a, b, a.length.min(b.length));
        let apart = C::of(la.abs_diff(lb));
        best = least(&best, &add(&add_one(&self.rows[above + j - 1], apart), &pair));
        // One for several, here for there and the other way round. Once the several last as long as the one,
        // one more is never cheaper than leaving it alone.
        if lb < la {
            let (mut pieces, mut length) = (self.weights(a, b, b.length), lb);
            for p in 2..=PIECES.min(j) {
                let more = there[j - p];
                pieces = add(&pieces, &self.weights(a, more, more.length));
                length += u32::from(more.length);
                let apart = C::of(la.abs_diff(length));
                best = least(&best, &add(&add_one(&self.rows[above + j - p], apart), &pieces));
                if length >= la {
                    break;
                }
            }
        } else if la < lb {
            let (mut pieces, mut length) = (self.weights(a, b, a.length), la);
            for p in 2..=PIECES.min(i) {
                let more = here[i - p];
                pieces = add(&pieces, &self.weights(more, b, more.length));
                length += u32::from(more.length);
                let apart = C::of(lb.abs_diff(length));
                best = least(&best, &add(&add_one(&self.rows[row_at(i - p) + j - 1], apart), &pieces));
                if length >= lb {
                    break;
                }
            }
        }
        best
    }
}
