//! The layouts that a shelf has had. A layout that was shipped never changes; a new one is a new file.

/// Each layout's number is its place in this list, from 1; the text brings the layout before it to this one.
const STEPS: &[&str] = &[
    include_str!("../migrations/0001-riffs.sql"),
    include_str!("../migrations/0002-necks-and-settings.sql"),
];

/// The layout that this program writes.
pub const NEWEST: u32 = STEPS.len() as u32;

/// Marks a file as a shelf: the four letters `RfSh` as SQLite's application id (SQLite file format, 1.2.15).
pub(crate) const APPLICATION: i32 = i32::from_be_bytes(*b"RfSh");

/// The steps that lead from a layout to the newest.
pub(crate) fn after(layout: u32) -> impl Iterator<Item = &'static str> {
    STEPS.iter().copied().skip(layout as usize)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A layout that was shipped never changes: FNV-1a, 64 bits, of each text (Fowler, Noll and Vo; from memory).
    #[test]
    fn shipped_layouts_are_as_they_were() {
        let hash = |text: &str| {
            text.replace('\r', "")
                .bytes()
                .fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x0100_0000_01b3))
        };
        let hashes: Vec<String> = STEPS.iter().map(|text| format!("{:016x}", hash(text))).collect();
        assert_eq!(hashes, ["b98baf8d58869ead", "d057b3f268efcbca"]);
    }
}
