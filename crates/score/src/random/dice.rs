//! Chance that repeats: the same seed, the same rolls.

/// Seeded dice: the splitmix64 generator (Steele, Lea, Flood, OOPSLA 2014, fig. 15; constants from memory).
pub(super) struct Dice(pub(super) u64);

impl Dice {
    pub(super) fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 to `n - 1`; 0 for none.
    pub(super) fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { (self.roll() % n as u64) as usize }
    }

    pub(super) fn between(&mut self, low: i32, high: i32) -> i32 {
        low + self.below(usize::try_from(high - low + 1).unwrap_or(1)) as i32
    }

    pub(super) fn percent(&mut self, chance: usize) -> bool {
        self.below(100) < chance
    }

    pub(super) fn pick<T: Copy>(&mut self, from: &[T], or: T) -> T {
        from.get(self.below(from.len())).copied().unwrap_or(or)
    }
}
