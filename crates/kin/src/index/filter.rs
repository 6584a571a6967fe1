//! Sharper bounds for one riff at a time, all twelve transpositions side by side: what the bound of
//! [`super::bound`] lets through is looked at once more before it is aligned.
//!
//! **Whole.** What a pitch class lasts beyond its like in the other riff must be paid for. Two such steps may
//! stand against each other at cost 1 only where their interval weighs 1; all others cost 1 each, alone or in
//! pairs at cost 2. So the cost is at least both remainders together less the number of cheap pairs, and of
//! those there are at most as many as every class finds partners for.
//!
//! The order counts as well: cut both at the same time from their beginnings. However an alignment shifts the
//! cut in the other riff, by so much and no more can what is shared grow on one side, and by as much the lengths
//! on that side differ. So the shorter length less what the beginnings share and less what the ends share is a
//! bound too.
//!
//! And so does the time: whatever lies before two steps that stand against each other costs at least the
//! difference of both lengths, and so does what lies after them. So a step can only find its like near its own
//! time, at most half the limit away when both riffs last as long, and each quarter of the query can share only
//! with what lies so near to it. In a part, the time from its first stretch counts, and the whole limit.
//!
//! **Part.** A part that costs at most `limit` is no longer than the query and `limit` together, because every
//! step by which it is longer costs 1. So only stretches within so much time of each other can be its likes.

use std::ops::Range;

use super::bound::durations;
use crate::align::{ALONE, WEIGHTS};
use crate::stretches::Stretch;

const SIDE: usize = 16;
type Side = [u16; SIDE];

/// What a query lasts, class by class.
pub(super) struct Filter {
    // Turned for each class of the other riff: side l stands for the transposition -l.
    turned: [Side; 12],
    total: u32,
    // Where the query is cut, and the same of both of its parts.
    cuts: Vec<(u32, [Side; 12], [Side; 12])>,
    // What lies between these times.
    pieces: Vec<(u32, u32, [Side; 12])>,
}

/// Into how many equal parts a query is cut, at each of the times between them.
const PARTS: u32 = 4;

/// What the classes of the first so many grid steps last.
fn beginning(line: &[Stretch], steps: u32) -> [u32; 12] {
    let mut left = steps;
    let mut sum = [0; 12];
    for s in line {
        let length = u32::from(s.length).min(left);
        sum[usize::from(s.slot % 12)] += length;
        left -= length;
        if left == 0 {
            break;
        }
    }
    sum
}

/// The class c of the other riff meets c - shift = c + l of the query.
fn turned(asked: [u16; 12]) -> [Side; 12] {
    std::array::from_fn(|c| std::array::from_fn(|l| asked[(c + l) % 12]))
}

/// Which classes may stand against each other at a cost of 1: their distances.
fn cheap() -> impl Iterator<Item = usize> {
    (1..12).filter(|&d| u32::from(WEIGHTS[d]) == ALONE)
}

fn small(n: u32) -> u16 {
    n.min(16_000) as u16
}

impl Filter {
    pub(super) fn new(query: &[Stretch]) -> Self {
        let lasting = durations(query);
        let asked = lasting.map(small);
        let total: u32 = lasting.iter().sum();
        let cut = |part: u32| {
            let at = total * part / PARTS;
            let first = beginning(query, at);
            let second: [u32; 12] = std::array::from_fn(|c| lasting[c] - first[c]);
            (at, turned(first.map(small)), turned(second.map(small)))
        };
        let piece = |part: u32| {
            let (from, to) = (total * part / PARTS, total * (part + 1) / PARTS);
            let (before, all) = (beginning(query, from), beginning(query, to));
            (from, to, turned(std::array::from_fn(|c| small(all[c] - before[c]))))
        };
        let cuts = (1..PARTS).map(cut).collect();
        Self { turned: turned(asked), total, cuts, pieces: (0..PARTS).map(piece).collect() }
    }

    /// Over the transpositions, the most time that may stand against its like, when nothing in the other riff
    /// stands more than `early` before or `late` after its own time. True when it is enough somewhere.
    fn shares_in_order(&self, there: &[Stretch], early: u32, late: u32, wanted: u16) -> bool {
        let mut shared = [0u16; SIDE];
        for (from, to, asked) in &self.pieces {
            let (from, to) = (from.saturating_sub(early), to.saturating_add(late));
            let (mut lasting, mut at) = ([0u16; 12], 0u32);
            for s in there {
                if at >= to {
                    break;
                }
                let next = at + u32::from(s.length);
                let inside = next.min(to).saturating_sub(at.max(from));
                if let Some(sum) = lasting.get_mut(usize::from(s.slot)) {
                    *sum = sum.saturating_add(inside as u16);
                }
                at = next;
            }
            for (lasting, asked) in lasting.iter().zip(asked).filter(|(l, _)| **l > 0) {
                for l in 0..SIDE {
                    shared[l] = shared[l].saturating_add(asked[l].min(*lasting));
                }
            }
        }
        shared.iter().any(|&s| s >= wanted)
    }

    /// True when no transposition of the whole can cost `limit` or less.
    pub(super) fn rules_out_whole(&self, there: &[Stretch], limit: u32) -> bool {
        let lasting = durations(there).map(small);
        let (mut here_over, mut there_over) = ([[0u16; SIDE]; 12], [[0u16; SIDE]; 12]);
        let mut both = [0u16; SIDE];
        for c in 0..12 {
            let (q, r) = (&self.turned[c], lasting[c]);
            for l in 0..SIDE {
                here_over[c][l] = q[l].saturating_sub(r);
                there_over[c][l] = r.saturating_sub(q[l]);
                both[l] = both[l].saturating_add(here_over[c][l]).saturating_add(there_over[c][l]);
            }
        }
        let mut pairs = [0u16; SIDE];
        for c in 0..12 {
            let mut partners = [0u16; SIDE];
            for d in cheap() {
                let other = &there_over[(c + d) % 12];
                for l in 0..SIDE {
                    partners[l] = partners[l].saturating_add(other[l]);
                }
            }
            for l in 0..SIDE {
                pairs[l] = pairs[l].saturating_add(partners[l].min(here_over[c][l]));
            }
        }
        // Sums that do not fit say nothing.
        let sure = both.iter().all(|&b| b < u16::MAX);
        let dear = sure && both.iter().zip(&pairs).all(|(b, p)| u32::from(b - p.min(b)) > limit);
        dear || self.cuts.iter().any(|cut| self.rules_out_cut(cut, there, &lasting, limit))
            || self.rules_out_order(there, limit)
    }

    fn rules_out_order(&self, there: &[Stretch], limit: u32) -> bool {
        let total: u32 = there.iter().map(|s| u32::from(s.length)).sum();
        let (longer, apart) = (total.max(self.total), i64::from(self.total) - i64::from(total));
        if longer > 16_000 || limit >= longer {
            return false;
        }
        let limit_both = i64::from(limit);
        let half = |sum: i64| u32::try_from(sum.max(0) / 2).unwrap_or(u32::MAX);
        !self.shares_in_order(
            there,
            half(limit_both + apart),
            half(limit_both - apart),
            small(longer - limit),
        )
    }

    fn rules_out_cut(
        &self,
        (at, first, second): &(u32, [Side; 12], [Side; 12]),
        there: &[Stretch],
        lasting: &[u16; 12],
        limit: u32,
    ) -> bool {
        let total: u32 = lasting.iter().map(|&d| u32::from(d)).sum();
        if self.total > 16_000 || total > 16_000 || total < *at {
            return false;
        }
        let least = u32::min(self.total, total);
        let begun = beginning(there, *at).map(small);
        let mut shared = [0u16; SIDE];
        for c in 0..12 {
            let (a, b) = (begun[c], lasting[c] - begun[c]);
            for l in 0..SIDE {
                shared[l] += first[c][l].min(a) + second[c][l].min(b);
            }
        }
        shared.iter().all(|&s| least.saturating_sub(u32::from(s)) > limit)
    }

    /// Where parts that cost `limit` or less can lie, whatever the transposition: ranges of stretches that do not
    /// overlap more than they must. None of them when there can be no such part.
    pub(super) fn parts(&self, there: &[Stretch], limit: u32, ranges: &mut Vec<Range<usize>>) {
        ranges.clear();
        if self.total > 16_000 || limit >= self.total {
            ranges.push(0..there.len());
            return;
        }
        let longest = self.total + limit;
        let wanted = small(self.total - limit);
        let mut lasting = [0u16; 12];
        let mut shared = [0u16; SIDE];
        // From every stretch on, as many as a part may need that begins with it.
        let (mut end, mut inside) = (0, 0);
        for (j, s) in there.iter().enumerate() {
            while inside < longest
                && let Some(comes) = there.get(end)
            {
                self.change(&mut lasting, &mut shared, *comes, true);
                inside += u32::from(comes.length);
                end += 1;
            }
            let likely = shared.iter().any(|&s| s >= wanted)
                && self.shares_in_order(there.get(j..end).unwrap_or_default(), limit, limit, wanted);
            if likely {
                match ranges.last_mut() {
                    // What begins with the next stretch lies in what begins with this one, but for its end.
                    Some(last) if last.end > j && end - last.start <= 2 * (end - j) => last.end = end,
                    _ => ranges.push(j..end),
                }
            }
            self.change(&mut lasting, &mut shared, *s, false);
            inside -= u32::from(s.length);
        }
    }

    fn change(&self, lasting: &mut [u16; 12], shared: &mut Side, by: Stretch, comes: bool) {
        let c = usize::from(by.slot % 12);
        let q = &self.turned[c];
        let before = lasting[c];
        let length = u16::from(by.length);
        let after = if comes { before.saturating_add(length) } else { before.saturating_sub(length) };
        lasting[c] = after;
        for l in 0..SIDE {
            shared[l] = shared[l].wrapping_sub(q[l].min(before)).wrapping_add(q[l].min(after));
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::align::{Extent, align};
    use proptest::prelude::*;

    fn line(most: usize) -> impl Strategy<Value = Vec<Stretch>> {
        let length = prop_oneof![Just(3u8), Just(6), Just(12), 1..60u8];
        let stretch = (0..12u8, length).prop_map(|(slot, length)| Stretch { slot, length });
        prop::collection::vec(stretch, 1..most)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(400))]

        /// Nothing is ruled out that an alignment reaches.
        #[test]
        fn no_bound_is_above_the_cost(a in line(7), b in line(12), few in 0..4u8) {
            // Few classes, so that costs are near the bounds.
            let fold = |line: &[Stretch]| -> Vec<Stretch> {
                line.iter().map(|s| Stretch { slot: if few > 0 { s.slot % 5 * few % 12 } else { s.slot }, ..*s }).collect()
            };
            let (a, b) = (fold(&a), fold(&b));
            let filter = Filter::new(&a);
            let whole = align(&a, &b, Extent::Whole).cost;
            let part = align(&a, &b, Extent::Part).cost;
            prop_assert!(!filter.rules_out_whole(&b, whole));
            // The cheapest part lies in one of the ranges, whole.
            for limit in [part, part + 3] {
                let mut ranges = Vec::new();
                filter.parts(&b, limit, &mut ranges);
                let inside = ranges.iter().map(|r| align(&a, &b[r.clone()], Extent::Part).cost).min();
                prop_assert_eq!(inside, Some(part));
            }
            for (extent, cost) in [(Extent::Whole, whole), (Extent::Part, part)] {
                let mut shelf = super::super::bound::Durations::default();
                shelf.push(&b);
                prop_assert!(u32::from(shelf.bounds(&a, extent)[0]) <= cost);
            }
        }
    }

    /// They do rule out: two notes a tritone apart against the same two, longer, cost what is longer, and
    /// whatever is not alike is paid for twice where it lies a second apart.
    #[test]
    fn what_cannot_be_cheap_is_ruled_out() {
        let line = |pairs: &[(u8, u8)]| -> Vec<Stretch> {
            pairs.iter().map(|&(slot, length)| Stretch { slot, length }).collect()
        };
        for (a, b) in [
            (line(&[(0, 40), (6, 40)]), line(&[(0, 40), (6, 60)])),
            (line(&[(0, 40), (1, 6), (0, 40)]), line(&[(0, 40), (2, 6), (0, 40)])),
        ] {
            let (filter, cost) = (Filter::new(&a), align(&a, &b, Extent::Whole).cost);
            assert!(cost > 0 && filter.rules_out_whole(&b, cost - 1) && !filter.rules_out_whole(&b, cost));
        }
    }
}
