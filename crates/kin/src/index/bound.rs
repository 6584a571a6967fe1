//! What an alignment costs at least, from what each pitch class lasts in both riffs.
//!
//! Of the time of pitch class `c` at most `min(q, r)` can stand against its like without cost. Every other grid
//! step of a riff stands against another pitch class, which costs at least 1 and uses up one of the other
//! riff's, or alone, which costs 1. So the cost of the whole is at least the longer of both lengths less the
//! sum of these minima, and of a part at least the query's length less it; the least over the twelve
//! transpositions bounds them all.

use crate::align::Extent;
use crate::stretches::Stretch;

/// Riffs side by side: as many as fit into a register of bytes.
const SIDE: usize = 16;

/// For each riff, what its twelve pitch classes last in grid steps, 255 at most: sixteen riffs to a block,
/// class by class.
#[derive(Clone, Debug, Default)]
pub(super) struct Durations {
    blocks: Vec<[[u8; SIDE]; 12]>,
    count: usize,
}

/// What the twelve pitch classes of a line last.
pub(super) fn durations(line: &[Stretch]) -> [u32; 12] {
    line.iter().fold([0; 12], |mut sum, s| {
        sum[usize::from(s.slot % 12)] += u32::from(s.length);
        sum
    })
}

impl Durations {
    pub(super) fn push(&mut self, line: &[Stretch]) {
        if self.count.is_multiple_of(SIDE) {
            self.blocks.push([[0; SIDE]; 12]);
        }
        self.count += 1;
        self.set(self.count - 1, durations(line).map(|d| d.min(255) as u8));
    }

    fn set(&mut self, slot: usize, to: [u8; 12]) {
        if let Some(block) = self.blocks.get_mut(slot / SIDE) {
            for (row, d) in block.iter_mut().zip(to) {
                row[slot % SIDE] = d;
            }
        }
    }

    fn get(&self, slot: usize) -> [u8; 12] {
        self.blocks.get(slot / SIDE).map_or([0; 12], |block| std::array::from_fn(|c| block[c][slot % SIDE]))
    }

    pub(super) fn swap_remove(&mut self, slot: usize) {
        let last = self.get(self.count - 1);
        self.set(slot, last);
        self.set(self.count - 1, [0; 12]);
        self.count -= 1;
        self.blocks.truncate(self.count.div_ceil(SIDE));
    }

    pub(super) fn shrink(&mut self) {
        self.blocks.shrink_to_fit();
    }

    pub(super) fn bytes(&self) -> usize {
        self.blocks.capacity() * size_of::<[[u8; SIDE]; 12]>()
    }

    /// The bound for every riff, in their order.
    pub(super) fn bounds(&self, query: &[Stretch], extent: Extent) -> Vec<u16> {
        let asked = durations(query);
        // Above 255 in one class, or in all, is more than the shelf's figures can match: left out on both
        // sides, which only lowers the bound.
        let capped = asked.map(|d| d.min(255) as u8);
        let total: u32 = capped.iter().map(|&d| u32::from(d)).sum();
        let mut out = Vec::with_capacity(self.blocks.len() * SIDE);
        for block in &self.blocks {
            let shared =
                if total <= 255 { most_shared_in_bytes(block, &capped) } else { most_shared(block, &capped) };
            let mut length = [0u16; SIDE];
            if extent == Extent::Whole {
                for row in block {
                    for (l, d) in length.iter_mut().zip(row) {
                        *l += u16::from(*d);
                    }
                }
            }
            let total = total as u16;
            for (l, s) in length.iter().zip(shared) {
                out.push((*l).max(total) - s);
            }
        }
        out.truncate(self.count);
        out
    }
}

/// Over the transpositions, the most time that may stand against its like: in bytes, for a query that lasts no
/// longer than 255 grid steps, so that no sum overflows.
fn most_shared_in_bytes(block: &[[u8; SIDE]; 12], asked: &[u8; 12]) -> [u16; SIDE] {
    let mut most = [0u8; SIDE];
    for shift in 0..12 {
        let mut sum = [0u8; SIDE];
        for c in 0..12 {
            let (row, q) = (&block[(c + shift) % 12], asked[c]);
            for l in 0..SIDE {
                sum[l] = sum[l].saturating_add(row[l].min(q));
            }
        }
        for l in 0..SIDE {
            most[l] = most[l].max(sum[l]);
        }
    }
    most.map(u16::from)
}

/// The same for longer queries.
fn most_shared(block: &[[u8; SIDE]; 12], asked: &[u8; 12]) -> [u16; SIDE] {
    let mut most = [0u16; SIDE];
    for shift in 0..12 {
        let mut sum = [0u16; SIDE];
        for c in 0..12 {
            let (row, q) = (&block[(c + shift) % 12], asked[c]);
            for l in 0..SIDE {
                sum[l] += u16::from(row[l].min(q));
            }
        }
        for l in 0..SIDE {
            most[l] = most[l].max(sum[l]);
        }
    }
    most
}
