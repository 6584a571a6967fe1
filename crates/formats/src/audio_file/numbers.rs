//! Numbers of fixed width within a header; none where the bytes end before.

/// 16 bits, the least significant byte first.
pub(super) fn le16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|b| u16::from_le_bytes(*b))
}

/// 32 bits, the least significant byte first.
pub(super) fn le32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|b| u32::from_le_bytes(*b))
}

/// 64 bits, the least significant byte first.
pub(super) fn le64(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk().map(|b| u64::from_le_bytes(*b))
}

/// 16 bits, the most significant byte first.
pub(super) fn be16(bytes: &[u8], at: usize) -> Option<u16> {
    bytes.get(at..)?.first_chunk().map(|b| u16::from_be_bytes(*b))
}

/// 32 bits, the most significant byte first.
pub(super) fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk().map(|b| u32::from_be_bytes(*b))
}

/// 64 bits, the most significant byte first.
pub(super) fn be64(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk().map(|b| u64::from_be_bytes(*b))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_lie_whole_within_the_bytes() {
        let bytes = [1, 2, 3, 4, 5, 6, 7, 8, 9];
        assert_eq!((le16(&bytes, 1), be16(&bytes, 1)), (Some(0x0302), Some(0x0203)));
        assert_eq!((le32(&bytes, 5), be32(&bytes, 5)), (Some(0x0908_0706), Some(0x0607_0809)));
        assert_eq!(
            (le64(&bytes, 1), be64(&bytes, 0)),
            (Some(0x0908_0706_0504_0302), Some(0x0102_0304_0506_0708))
        );
        assert_eq!((le16(&bytes, 8), be32(&bytes, 6), be64(&bytes, 2)), (None, None, None));
        assert_eq!((le32(&bytes, 9), be16(&bytes, usize::MAX)), (None, None));
    }
}
