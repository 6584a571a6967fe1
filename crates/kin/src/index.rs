//! An index over very many riffs: who has these degrees, and whose intervals and rhythm come nearest.
//!
//! Everything lies in flat arrays of small numbers, 60 to 80 bytes a riff (see `examples/million`), and one
//! core is enough. Sets of degrees have 4,096 buckets. Intervals and rhythm are found exactly: a lower bound of
//! the cost of alignment is computed for every riff from what each of its pitch classes lasts, sixteen riffs at
//! a time; riffs are aligned in the order of that bound, all twelve transpositions at once, each only as far as
//! it can still be among the best; and none is aligned whose bound says that it cannot be. The bound and its
//! proof: `docs/kin.md`.

mod bound;
mod filter;
mod kernel;
mod seek;
mod sets;

pub use seek::{Hit, Seeking};
pub use sets::Kindred;

use riffkin_score::degree::DegreeSet;

use crate::imprint::Imprint;
use crate::stretches::{Stretch, Stretches};
use bound::Durations;
use sets::Sets;

/// Riffs by number. A number is the caller's own name for a riff, such as its row in a store.
#[derive(Clone, Debug, Default)]
pub struct Index {
    sets: Sets,
    // One entry a riff, in no order: its number, its degrees, its stretches in the pool.
    numbers: Vec<u64>,
    masks: Vec<u16>,
    starts: Vec<u32>,
    counts: Vec<u16>,
    durations: Durations,
    pool: Vec<Stretch>,
    dropped: usize,
}

impl Index {
    /// An empty index.
    pub fn new() -> Self {
        Self::default()
    }

    /// Of many riffs at once; of two with one number the later counts.
    pub fn build<'a>(riffs: impl IntoIterator<Item = (u64, &'a Imprint)>) -> Self {
        let mut made = Self::default();
        for (number, imprint) in riffs {
            made.push(number, imprint);
        }
        made.tidy();
        made
    }

    /// As [`Index::build`], from imprints that are made one by one and need not be kept, such as those read
    /// from their bytes.
    pub fn build_from(riffs: impl IntoIterator<Item = (u64, Imprint)>) -> Self {
        let mut made = Self::default();
        for (number, imprint) in riffs {
            made.push(number, &imprint);
        }
        made.tidy();
        made
    }

    /// After pushing without looking: sorts the buckets, drops what came twice.
    fn tidy(&mut self) {
        let mut order: Vec<usize> = (0..self.numbers.len()).collect();
        order.sort_by_key(|&slot| self.numbers[slot]);
        let mut twice: Vec<usize> =
            order.windows(2).filter(|w| self.numbers[w[0]] == self.numbers[w[1]]).map(|w| w[0]).collect();
        // From the last on, so that what is moved into a hole stays where it is expected.
        twice.sort_unstable_by(|a, b| b.cmp(a));
        self.sets.sort();
        for slot in twice {
            self.take_out(slot);
        }
        self.shrink();
    }

    fn push(&mut self, number: u64, imprint: &Imprint) {
        let stretches = Stretches::of(imprint);
        let set = imprint.set();
        self.sets.push(set, number);
        self.numbers.push(number);
        self.masks.push(set.bits());
        self.starts.push(u32::try_from(self.pool.len()).unwrap_or(u32::MAX));
        self.counts.push(stretches.line().len() as u16);
        self.durations.push(stretches.line());
        self.pool.extend_from_slice(stretches.line());
    }

    /// Puts a riff in that is not there yet, without looking for one of its number: quicker than
    /// [`Index::insert`] for very many.
    pub fn append(&mut self, number: u64, imprint: &Imprint) {
        self.push(number, imprint);
        self.sets.settle(imprint.set());
    }

    /// Puts a riff in; one of the same number goes out first. True when there was one.
    pub fn insert(&mut self, number: u64, imprint: &Imprint) -> bool {
        let replaced = self.remove(number);
        self.push(number, imprint);
        self.sets.settle(imprint.set());
        replaced
    }

    /// Takes a riff out. True when it was there.
    pub fn remove(&mut self, number: u64) -> bool {
        let Some(slot) = self.numbers.iter().position(|&n| n == number) else { return false };
        self.take_out(slot);
        if self.dropped > self.pool.len() / 2 {
            self.compact();
        }
        true
    }

    fn take_out(&mut self, slot: usize) {
        self.sets.remove(DegreeSet::from_bits(self.masks[slot]), self.numbers[slot]);
        self.dropped += usize::from(self.counts[slot]);
        self.numbers.swap_remove(slot);
        self.masks.swap_remove(slot);
        self.starts.swap_remove(slot);
        self.counts.swap_remove(slot);
        self.durations.swap_remove(slot);
    }

    /// Stretches of what went out are left behind until they are half of the pool.
    fn compact(&mut self) {
        let mut pool = Vec::with_capacity(self.pool.len() - self.dropped);
        for slot in 0..self.numbers.len() {
            let start = pool.len() as u32;
            pool.extend_from_slice(self.line(slot));
            self.starts[slot] = start;
        }
        self.pool = pool;
        self.dropped = 0;
    }

    fn shrink(&mut self) {
        self.sets.shrink();
        self.numbers.shrink_to_fit();
        self.masks.shrink_to_fit();
        self.starts.shrink_to_fit();
        self.counts.shrink_to_fit();
        self.durations.shrink();
        self.pool.shrink_to_fit();
    }

    fn line(&self, slot: usize) -> &[Stretch] {
        let start = self.starts[slot] as usize;
        self.pool.get(start..start + usize::from(self.counts[slot])).unwrap_or_default()
    }

    /// How many riffs.
    pub fn len(&self) -> usize {
        self.numbers.len()
    }

    /// True without riffs.
    pub fn is_empty(&self) -> bool {
        self.numbers.is_empty()
    }

    /// Bytes that it occupies, spare room included.
    pub fn bytes(&self) -> usize {
        self.numbers.capacity() * 8
            + self.masks.capacity() * 2
            + self.starts.capacity() * 4
            + self.counts.capacity() * 2
            + self.pool.capacity() * size_of::<Stretch>()
            + self.durations.bytes()
            + self.sets.bytes()
            + size_of::<Self>()
    }
}
