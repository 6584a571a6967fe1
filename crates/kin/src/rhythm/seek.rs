//! One rhythm compared with very many: what [`super::compare`] finds, but only as far as it can be near enough.
//!
//! An alignment that stands at onset `i` here and `j` there has cost at least the difference of the lengths
//! before, and will cost at least the difference of those after, because every step of it costs at least the
//! difference in length of what it takes from both sides. Cells where both together are above the limit are not
//! computed; those that are left lie side by side in every row.

use super::{ONSET, PACES, onset_distances};
use crate::align::PIECES;
use crate::imprint::Imprint;

/// Rows that are kept: this one, and as many as joined lengths may reach back.
const ROWS: usize = PIECES + 1;

/// A rhythm that is looked for.
#[derive(Clone, Debug)]
pub struct Sought {
    // Where each length ends, from the first onset on; 0 first.
    here: Vec<u64>,
    there: Vec<u64>,
    rows: [Row; ROWS],
}

/// Costs of the cells from a first one on.
#[derive(Clone, Debug, Default)]
struct Row {
    first: usize,
    costs: Vec<u64>,
}

impl Row {
    fn at(&self, j: usize) -> u64 {
        j.checked_sub(self.first).and_then(|at| self.costs.get(at)).copied().unwrap_or(u64::MAX)
    }
}

fn ends(distances: &[u32], into: &mut Vec<u64>) {
    into.clear();
    into.push(0);
    let mut sum = 0;
    for &d in distances {
        sum += u64::from(d);
        into.push(sum);
    }
}

impl Sought {
    /// `None` for a riff without a note.
    pub fn new(here: &Imprint) -> Option<Self> {
        let distances = onset_distances(here);
        let mut sought = Self { here: Vec::new(), there: Vec::new(), rows: Default::default() };
        ends(&distances, &mut sought.here);
        (!distances.is_empty()).then_some(sought)
    }

    /// Cost in ticks and pace as [`super::compare`] gives them, when the cost is at most `limit`. `None` when it
    /// is more, or when the other riff has no note.
    pub fn within(&mut self, there: &Imprint, limit: u64) -> Option<(u64, (u32, u32))> {
        let distances = onset_distances(there);
        if distances.is_empty() {
            return None;
        }
        let mut ends_there = std::mem::take(&mut self.there);
        ends(&distances, &mut ends_there);
        let mut best: Option<(u64, (u32, u32))> = None;
        for (num, den) in PACES {
            let limit = match best {
                Some((0, _)) => break,
                Some((cost, _)) => limit.min(cost - 1),
                None => limit,
            };
            // As in a comparison, both are multiplied so that nothing is rounded.
            let scaled = limit.saturating_mul(u64::from(den));
            let found = self.cheapest(&ends_there, (u64::from(num), u64::from(den)), scaled);
            if let Some(cost) = found {
                best = Some((cost.div_ceil(u64::from(den)), (num, den)));
            }
        }
        self.there = ends_there;
        best
    }

    /// The cheapest alignment at one pace, when it costs at most `limit`.
    fn cheapest(&mut self, there: &[u64], (num, den): (u64, u64), limit: u64) -> Option<u64> {
        let (n, m) = (self.here.len() - 1, there.len() - 1);
        let (all_here, all_there) = (self.here[n] * den, there[m] * num);
        if all_here.abs_diff(all_there) > limit {
            return None;
        }
        let onset = ONSET * den;
        let mut first = 0;
        for i in 0..=n {
            let at_here = self.here[i] * den;
            // What a cell costs at least.
            let least = |j: usize| {
                let (a, b) = (at_here, there[j] * num);
                a.abs_diff(b) + (all_here - a).abs_diff(all_there - b)
            };
            // Where too little of the other riff is behind, the lower rows want even more.
            while first <= m && least(first) > limit && there[first] * num < at_here {
                first += 1;
            }
            let mut row = std::mem::take(&mut self.rows[i % ROWS]);
            row.first = first;
            row.costs.clear();
            for j in first..=m {
                let sure = least(j);
                if sure > limit {
                    break;
                }
                let cost = self.cell(&row, i, j, there, (num, den), onset);
                let rest = (all_here - at_here).abs_diff(all_there - there[j] * num);
                row.costs.push(if cost.saturating_add(rest) > limit { u64::MAX } else { cost });
            }
            self.rows[i % ROWS] = row;
        }
        Some(self.rows[n % ROWS].at(m)).filter(|&cost| cost <= limit)
    }

    #[inline]
    fn cell(&self, row: &Row, i: usize, j: usize, there: &[u64], (num, den): (u64, u64), onset: u64) -> u64 {
        if i == 0 {
            return there[j] * num;
        }
        let (a, b) = (self.here[i] * den, there[j] * num);
        let above = &self.rows[(i - 1) % ROWS];
        let alone_here = a - self.here[i - 1] * den;
        let mut best = above.at(j).saturating_add(alone_here);
        if j == 0 {
            return best;
        }
        let alone_there = b - there[j - 1] * num;
        best = best.min(row.at(j - 1).saturating_add(alone_there));
        for p in 1..=PIECES.min(j) {
            let apart = alone_here.abs_diff(b - there[j - p] * num);
            best = best.min(above.at(j - p).saturating_add(apart + onset * (p as u64 - 1)));
        }
        for p in 2..=PIECES.min(i) {
            let apart = alone_there.abs_diff(a - self.here[i - p] * den);
            let before = self.rows[(i - p) % ROWS].at(j - 1);
            best = best.min(before.saturating_add(apart + onset * (p as u64 - 1)));
        }
        best
    }
}

#[cfg(test)]
mod tests {
    use super::super::compare;
    use super::*;
    use crate::imprint::Trace;
    use proptest::prelude::*;

    fn imprint(distances: &[u32]) -> Imprint {
        let mut onset = 0;
        let trace = |&d: &u32| {
            onset += d;
            Trace { midi: 31, onset: onset - d, length: d }
        };
        Imprint::new(distances.iter().map(trace).collect(), None, 0, None).unwrap()
    }

    fn rhythm() -> impl Strategy<Value = Vec<u32>> {
        let length = prop_oneof![Just(420u32), Just(840), Just(1680), Just(560), Just(1120), 1..4000u32];
        prop::collection::vec(length, 1..9)
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(300))]

        /// Equal to the whole table, which knows no limit, at and around the limit.
        #[test]
        fn what_is_near_enough_is_found_and_nothing_else(a in rhythm(), b in rhythm(), off in 0..3u64) {
            let (a, b) = (imprint(&a), imprint(&b));
            let all = compare(&a, &b).unwrap();
            let mut sought = Sought::new(&a).unwrap();
            let limit = (all.cost + off).saturating_sub(1);
            let expected = (all.cost <= limit).then_some((all.cost, all.pace));
            prop_assert_eq!(sought.within(&b, limit), expected);
            prop_assert_eq!(sought.within(&b, u64::MAX), Some((all.cost, all.pace)));
        }
    }
}
