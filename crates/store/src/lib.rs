//! The shelf on disk: riffs, their tags, sources and history in one SQLite file. Nothing else knows SQL.
//!
//! A [`Shelf`] is opened with [`Shelf::open`]. Everything that is kept comes in as plain values and goes out as plain
//! values: the text of a riff, facts about it that others found, fingerprints as bytes. There are no musical rules here,
//! and no clock: every instant is an argument.
//!
//! - [`riff`]: a riff as it stands: adding, changing, removing, taking back;
//! - [`history`]: every state it ever had;
//! - [`tags`], [`imports`], [`prints`]: what hangs on it;
//! - [`search`]: finding riffs by words and facts;
//! - [`necks`], [`settings`]: named bodies of the teacher's own;
//! - [`whole`]: a riff with all that hangs on it, for export and back.

mod backup;
mod check;
mod error;
mod header;
pub mod history;
pub mod imports;
mod migrations;
pub mod necks;
mod open;
pub mod prints;
pub mod riff;
pub mod search;
pub mod settings;
pub mod tags;
pub mod whole;

pub use error::{BackupError, OpenError, StoreError};
pub use migrations::NEWEST;
pub use open::{Access, Migrated, Shelf};

/// The number of a riff on one shelf, from 1. It is never given to another riff.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct RiffId(pub i64);

impl std::fmt::Display for RiffId {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        self.0.fmt(f)
    }
}

/// An instant: milliseconds since 1970-01-01T00:00:00Z, without leap seconds.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Moment(pub i64);

/// What may be done with a riff, in the teacher's own judgement.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Permission {
    /// The teacher's own.
    OwnWork,
    /// Nobody's any more.
    PublicDomain,
    /// Its owner allowed it.
    WithPermission,
    /// Not beyond the class.
    ForClassOnly,
    /// Nobody has said.
    #[default]
    Unknown,
}

impl Permission {
    /// All of them.
    pub const ALL: [Self; 5] =
        [Self::OwnWork, Self::PublicDomain, Self::WithPermission, Self::ForClassOnly, Self::Unknown];

    /// In words: `own work`, `public domain`, `with permission`, `for class only`, `unknown`.
    pub fn words(self) -> &'static str {
        match self {
            Self::OwnWork => "own work",
            Self::PublicDomain => "public domain",
            Self::WithPermission => "with permission",
            Self::ForClassOnly => "for class only",
            Self::Unknown => "unknown",
        }
    }

    /// The permission of these words; capitals, and hyphens for blanks, do not matter.
    pub fn of_words(words: &str) -> Option<Self> {
        let plain = words.trim().to_lowercase().replace('-', " ");
        Self::ALL.into_iter().find(|p| p.words() == plain)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_permission_is_known_by_its_words() {
        for permission in Permission::ALL {
            assert_eq!(Permission::of_words(permission.words()), Some(permission));
            assert_eq!(
                Permission::of_words(&permission.words().to_uppercase().replace(' ', "-")),
                Some(permission)
            );
        }
        assert_eq!(Permission::of_words("anybody"), None);
    }
}
