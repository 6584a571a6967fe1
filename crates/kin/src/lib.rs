//! What riffs share: degrees, hand shape, intervals, rhythm; and an index that finds it among a million.
//!
//! A riff leaves an [`imprint::Imprint`], small and independent of its key, from which everything here is
//! computed. Each measure stands apart and says in words what is shared and what differs; none of them is
//! summed up into one figure, because a riff that is kin by its degrees need not be kin by its rhythm, and the
//! difference is what is taught. What each measure is, and where it comes from: `docs/kin.md`.
//!
//! ```
//! use riffkin_kin::imprint::{Imprint, Trace, TICKS_PER_QUARTER};
//! use riffkin_kin::kinship::Kinship;
//!
//! // 1 b3 4 in quarters on G, and the same a fourth higher.
//! let on = |root: u8| {
//!     let note = |i: usize, slot: u8| Trace {
//!         midi: root + slot,
//!         onset: i as u32 * TICKS_PER_QUARTER,
//!         length: TICKS_PER_QUARTER,
//!     };
//!     let notes: Vec<Trace> = [0, 3, 5].into_iter().enumerate().map(|(i, s)| note(i, s)).collect();
//!     Imprint::new(notes, Some(root % 12), 4 * TICKS_PER_QUARTER, None)
//! };
//! let (low, high) = (on(31)?, on(36)?);
//! assert_eq!(low.likeness(), high.likeness());
//! let kin = Kinship::between(&low, &high);
//! assert_eq!(kin.degrees.words(), "the same degrees");
//! assert_eq!(kin.tune.map(|tune| tune.cost), Some(0));
//! # Ok::<(), riffkin_kin::imprint::ImprintError>(())
//! ```

pub mod align;
pub mod degrees;
pub mod hand;
pub mod imprint;
pub mod index;
pub mod kinship;
pub mod likeness;
pub mod rhythm;
pub mod sought;
pub mod stretches;
