//! The riffs whose intervals and rhythm come nearest: the k best, exactly.

use std::collections::BinaryHeap;
use std::ops::Range;

use super::Index;
use super::filter::Filter;
use super::kernel::{Cost, Kernel};
use crate::align::Extent;
use crate::stretches::{Stretch, Stretches};

/// A riff that was found.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Hit {
    /// What it costs to make one of the other, in twelfths of a quarter ([`crate::align`]).
    pub cost: u32,
    /// Semitones round the octave by which it lies higher against its tonic.
    pub higher: u8,
    /// Its number.
    pub number: u64,
}

/// How a search went.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Seeking {
    /// The nearest, cheapest first; of equals the least higher first, then by the order that was asked for.
    pub hits: Vec<Hit>,
    /// How many riffs had to be aligned.
    pub aligned: usize,
}

/// How many of the likeliest are aligned first, to know how cheap the best are.
const FIRST: usize = 4096;

/// The best so far.
struct Best<T, F> {
    heap: BinaryHeap<(u32, u8, T, u64)>,
    wanted: usize,
    order: F,
}

impl<T: Ord, F: Fn(u64) -> T> Best<T, F> {
    fn offer(&mut self, hit: Hit) {
        self.heap.push((hit.cost, hit.higher, (self.order)(hit.number), hit.number));
        if self.heap.len() > self.wanted {
            self.heap.pop();
        }
    }

    /// The dearest that would still be taken, were it the first of its equals.
    fn limit(&self) -> u32 {
        match self.heap.peek() {
            Some(worst) if self.heap.len() == self.wanted => worst.0,
            _ => u32::MAX,
        }
    }

    fn hits(self) -> Vec<Hit> {
        let hit = |(cost, higher, _, number)| Hit { cost, higher, number };
        self.heap.into_sorted_vec().into_iter().map(hit).collect()
    }
}

impl Index {
    /// The `wanted` riffs that are nearest to a query by [`crate::align::align`], exactly; of equals those that
    /// lie least higher, then those with lower numbers. Riffs without a note are never found; a query without a
    /// note finds nothing.
    pub fn nearest(&self, query: &Stretches, extent: Extent, wanted: usize) -> Seeking {
        self.nearest_in_order(query, extent, wanted, |_| ())
    }

    /// The same, where equals come in another order, such as that of their names, before that of their numbers.
    pub fn nearest_in_order<T: Ord>(
        &self,
        query: &Stretches,
        extent: Extent,
        wanted: usize,
        order: impl Fn(u64) -> T,
    ) -> Seeking {
        let query = query.line();
        let mut best = Best { heap: BinaryHeap::new(), wanted, order };
        let mut aligned = 0;
        if query.is_empty() || wanted == 0 {
            return Seeking::default();
        }
        let bounds = self.durations.bounds(query, extent);
        let levels = Levels::new(&bounds);
        let mut wide = Kernel::<u16>::new();
        let mut narrow = Kernel::<u8>::new();
        let filter = Filter::new(query);
        let mut ranges = Vec::new();
        // The likeliest first; then what can still be among the best, in the order in which it is kept, which
        // is the order in which memory is fast.
        let first = levels.up_to(FIRST.max(wanted));
        let likely = levels.between(&bounds, 0, first);
        let rest = (0u32..).zip(&bounds).filter(|(_, b)| u32::from(**b) > first).map(|(slot, _)| slot);
        for slot in likely.into_iter().chain(rest) {
            let limit = best.limit();
            if u32::from(bounds[slot as usize]) > limit {
                continue;
            }
            let line = self.line(slot as usize);
            match extent {
                Extent::Whole if filter.rules_out_whole(line, limit) => continue,
                Extent::Whole => {
                    ranges.clear();
                    ranges.push(0..line.len());
                }
                Extent::Part => filter.parts(line, limit, &mut ranges),
            }
            if line.is_empty() || ranges.is_empty() {
                continue;
            }
            aligned += 1;
            // In costs of one byte when those suffice.
            let found = if limit < 255 {
                cheapest(&mut narrow, query, line, extent, &ranges, limit)
            } else {
                cheapest(&mut wide, query, line, extent, &ranges, limit)
            };
            if let Some((cost, higher)) = found {
                best.offer(Hit { cost, higher, number: self.numbers[slot as usize] });
            }
        }
        Seeking { hits: best.hits(), aligned }
    }
}

/// The cheapest alignment of a query with one of these parts of a riff, of equals the least shift.
fn cheapest<C: Cost>(
    kernel: &mut Kernel<C>,
    query: &[Stretch],
    line: &[Stretch],
    extent: Extent,
    ranges: &[Range<usize>],
    limit: u32,
) -> Option<(u32, u8)> {
    let mut best: Option<(u32, u8)> = None;
    for range in ranges {
        let most: u32 = C::MOST.into();
        let limit = best.map_or(limit, |(cost, _)| cost).min(most - 1);
        let part = line.get(range.clone()).unwrap_or_default();
        if let Some((cost, higher)) = kernel.align(query, part, extent, C::of(limit)) {
            let found = (cost.into(), higher);
            best = Some(best.map_or(found, |best| best.min(found)));
        }
    }
    best
}

/// How many riffs have each bound.
struct Levels {
    counts: Vec<u32>,
}

impl Levels {
    fn new(bounds: &[u16]) -> Self {
        let most = bounds.iter().copied().max().unwrap_or(0);
        let mut counts = vec![0u32; usize::from(most) + 1];
        for &b in bounds {
            counts[usize::from(b)] += 1;
        }
        Self { counts }
    }

    /// The least bound up to which at least `wanted` riffs lie.
    fn up_to(&self, wanted: usize) -> u32 {
        let mut sum = 0;
        let enough = self.counts.iter().position(|&count| {
            sum += count as usize;
            sum >= wanted
        });
        enough.unwrap_or(self.counts.len()) as u32
    }

    /// All riffs whose bounds lie between these two, both taken in, in order of their bounds.
    fn between(&self, bounds: &[u16], from: u32, to: u32) -> Vec<u32> {
        let mut places = vec![0u32; self.counts.len()];
        let mut sum = 0;
        for (level, count) in (0u32..).zip(&self.counts) {
            places[level as usize] = sum;
            if level >= from && level <= to {
                sum += count;
            }
        }
        let mut slots = vec![0u32; sum as usize];
        for (slot, &bound) in (0u32..).zip(bounds) {
            let level = u32::from(bound);
            if level >= from && level <= to {
                let place = &mut places[usize::from(bound)];
                slots[*place as usize] = slot;
                *place += 1;
            }
        }
        slots
    }
}
