//! Likeness: a fingerprint that a riff keeps in every key and octave, for finding it again.

use crate::imprint::Imprint;

impl Imprint {
    /// Sixteen bytes that are equal for the same riff in another key or another octave, wherever in its bars
    /// it begins; `None` when nothing sounds.
    ///
    /// They are the hash FNV-1a of 128 bits (Fowler, Noll and Vo; IETF draft "The FNV Non-Cryptographic Hash
    /// Algorithm") over every note's interval from the first note in semitones, its distance from the first
    /// onset and its length in ticks. Two different riffs meet by chance about once in 2^64 riffs; nobody is
    /// kept from making such a pair on purpose, so that it is a hint to look, and not a proof. The tonic takes
    /// no part in it: what is believed about a riff does not change which notes it has.
    pub fn likeness(&self) -> Option<[u8; 16]> {
        let first = self.notes().first()?;
        let mut hash = Fnv::new();
        for note in self.notes() {
            let interval = i16::from(note.midi) - i16::from(first.midi);
            hash.take(&interval.to_le_bytes());
            hash.take(&(note.onset - first.onset).to_le_bytes());
            hash.take(&note.length.to_le_bytes());
        }
        Some(hash.0.to_be_bytes())
    }
}

struct Fnv(u128);

impl Fnv {
    fn new() -> Self {
        Self(0x6c62_272e_07bb_0142_62b8_2175_6295_c58d)
    }

    fn take(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0 ^ u128::from(byte)).wrapping_mul(0x0000_0000_0100_0000_0000_0000_0000_013b);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::Fnv;

    /// Test values of the IETF draft (from memory).
    #[test]
    fn published_hashes() {
        let of = |text: &str| {
            let mut hash = Fnv::new();
            hash.take(text.as_bytes());
            hash.0
        };
        assert_eq!(of("a"), 0xd228_cb69_6f1a_8caf_7891_2b70_4e4a_8964);
        assert_eq!(of("foobar"), 0x343e_1662_793c_64bf_6f0d_3597_ba44_6f18);
    }
}
