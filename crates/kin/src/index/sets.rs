//! Riffs by their sets of degrees.

use riffkin_score::degree::DegreeSet;

use super::Index;

/// Riffs of one set of degrees.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Kindred<'a> {
    /// The set.
    pub set: DegreeSet,
    /// Their numbers, rising.
    pub numbers: &'a [u64],
}

/// A bucket for each of the 4,096 sets.
#[derive(Clone, Debug)]
pub(super) struct Sets(Vec<Vec<u64>>);

impl Default for Sets {
    fn default() -> Self {
        Self(vec![Vec::new(); 4096])
    }
}

impl Sets {
    fn bucket(&mut self, set: DegreeSet) -> &mut Vec<u64> {
        &mut self.0[usize::from(set.bits())]
    }

    /// At the end of its bucket: [`Sets::sort`] or [`Sets::settle`] must follow.
    pub(super) fn push(&mut self, set: DegreeSet, number: u64) {
        self.bucket(set).push(number);
    }

    pub(super) fn sort(&mut self) {
        for bucket in &mut self.0 {
            bucket.sort_unstable();
        }
    }

    /// Moves the last of a bucket to its place.
    pub(super) fn settle(&mut self, set: DegreeSet) {
        let bucket = self.bucket(set);
        if let Some(last) = bucket.pop() {
            let at = bucket.partition_point(|&n| n < last);
            bucket.insert(at, last);
        }
    }

    pub(super) fn remove(&mut self, set: DegreeSet, number: u64) {
        let bucket = self.bucket(set);
        if let Ok(at) = bucket.binary_search(&number) {
            bucket.remove(at);
        }
    }

    pub(super) fn shrink(&mut self) {
        for bucket in &mut self.0 {
            bucket.shrink_to_fit();
        }
    }

    pub(super) fn bytes(&self) -> usize {
        self.0.iter().map(|b| b.capacity() * 8 + size_of::<Vec<u64>>()).sum()
    }
}

impl Index {
    /// Riffs whose set passes, the nearest to `near` first: by how many degrees differ, then by the set's bits.
    fn kindred(&self, near: DegreeSet, pass: impl Fn(DegreeSet) -> bool) -> Vec<Kindred<'_>> {
        let mut found: Vec<Kindred<'_>> = (0..4096u16)
            .zip(&self.sets.0)
            .filter(|(bits, bucket)| !bucket.is_empty() && pass(DegreeSet::from_bits(*bits)))
            .map(|(bits, bucket)| Kindred { set: DegreeSet::from_bits(bits), numbers: bucket })
            .collect();
        found.sort_by_key(|k| ((k.set.bits() ^ near.bits()).count_ones(), k.set.bits()));
        found
    }

    /// Riffs with exactly these degrees. Riffs without a tonic have none.
    pub fn with_degrees(&self, set: DegreeSet) -> Vec<Kindred<'_>> {
        self.kindred(set, |s| s == set)
    }

    /// Riffs that need no other degree than these: what a class that knows them can play.
    pub fn within(&self, set: DegreeSet) -> Vec<Kindred<'_>> {
        self.kindred(set, |s| s.is_within(set))
    }

    /// Riffs that have all of these degrees, and maybe more.
    pub fn holding(&self, set: DegreeSet) -> Vec<Kindred<'_>> {
        self.kindred(set, |s| set.is_within(s))
    }

    /// Near kin and the same: riffs at most `steps` degrees away, one exchanged for another counting once
    /// ([`crate::degrees::Degrees::steps_apart`]).
    pub fn near(&self, set: DegreeSet, steps: usize) -> Vec<Kindred<'_>> {
        self.kindred(set, |s| crate::degrees::Degrees::between(set, s).steps_apart() <= steps)
    }

    /// Numbers of riffs that hold these slots one after another, degrees against their tonics, rising. Repeats
    /// on end count as one, in the riff and in what is looked for; riffs without a tonic are counted from their
    /// first note.
    pub fn in_order(&self, slots: &[u8]) -> Vec<u64> {
        let mut sought = slots.to_vec();
        sought.dedup();
        if sought.is_empty() {
            return Vec::new();
        }
        let wanted = DegreeSet::from_slots(sought.iter().copied()).bits();
        let mut found: Vec<u64> = (0..self.len())
            .filter(|&i| self.masks[i] & wanted == wanted)
            .filter(|&i| {
                let line = self.line(i);
                line.windows(sought.len()).any(|part| part.iter().zip(&sought).all(|(s, w)| s.slot == *w))
            })
            .map(|i| self.numbers[i])
            .collect();
        found.sort_unstable();
        found
    }
}
