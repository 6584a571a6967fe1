//! What can go wrong: on opening, on reading and writing, on copying.

use std::path::PathBuf;

use rusqlite::ErrorCode;

use crate::RiffId;

/// Why a shelf could not be opened. A file that is refused is left as it was.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum OpenError {
    /// There is no such file.
    #[error("{} is not there", .0.display())]
    NotThere(PathBuf),
    /// It is some other file.
    #[error("{} is no shelf: {found}; nothing in it was touched; name another file", path.display())]
    Foreign {
        /// The file.
        path: PathBuf,
        /// What it is instead.
        found: &'static str,
    },
    /// A newer program wrote it.
    #[error(
        "{} was written by a newer program: its layout is {found}, and this program knows layouts up to {newest}; \
         nothing in it was touched; use the newer program",
        path.display()
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its layout.
        found: u32,
        /// The newest layout that is known here.
        newest: u32,
    },
    /// It would have to be brought up to date, and may only be read.
    #[error(
        "{} has the older layout {found}, and cannot be brought up to {newest} because it may only be read; copy it to \
         where it may be written",
        path.display()
    )]
    Older {
        /// The file.
        path: PathBuf,
        /// Its layout.
        found: u32,
        /// The layout that is needed.
        newest: u32,
    },
    /// The copy that is made before bringing it up to date failed; nothing was changed.
    #[error("{} was not brought up to date, because no backup could be made first: {source}", path.display())]
    NoBackup {
        /// The file.
        path: PathBuf,
        /// Why.
        source: BackupError,
    },
    /// The file system said no.
    #[error("{}: {source}", path.display())]
    Failed {
        /// The file.
        path: PathBuf,
        /// Why.
        source: StoreError,
    },
}

/// Why something could not be read from or written to a shelf. What was not done was not done at all.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum StoreError {
    /// Another program holds the shelf.
    #[error("another program has been writing to the shelf for too long; try again when it is done")]
    Busy,
    /// No room.
    #[error("there is no room left where the shelf lies; nothing was changed; make room and try again")]
    Full,
    /// Not to be written.
    #[error("the shelf may only be read here; check the permissions of the file and of its folder")]
    ReadOnly,
    /// It could not be opened at that place.
    #[error("the file could not be opened or made there; check the folder and its permissions")]
    NoFile,
    /// Its bytes cannot be read.
    #[error("it could not be read: {0}; check the permissions of the file and of its folder")]
    Unreadable(String),
    /// The medium failed.
    #[error("the disk failed while the shelf was read or written ({0}); check the disk")]
    Disk(String),
    /// Its content is broken.
    #[error("the shelf is damaged ({0}); put a backup in its place, and keep the damaged file")]
    Damaged(String),
    /// No riff has that number.
    #[error("no riff on the shelf has the number {0}; see the list for the numbers")]
    NoSuchRiff(RiffId),
    /// The riff was never in that state.
    #[error("riff {riff} has editions 1 to {newest}, and no edition {asked}")]
    NoSuchEdition {
        /// The riff.
        riff: RiffId,
        /// What was asked for.
        asked: u32,
        /// The newest there is.
        newest: u32,
    },
    /// Somebody else changed it in between.
    #[error("riff {riff} has been changed meanwhile: it is at edition {found}, not {expected}; look again")]
    Changed {
        /// The riff.
        riff: RiffId,
        /// The edition that was expected.
        expected: u32,
        /// The edition that it has.
        found: u32,
    },
    /// Only what was removed can be purged.
    #[error("riff {0} is on the shelf; remove it first, then purge it")]
    NotRemoved(RiffId),
    /// More than one field may hold.
    #[error("{what} has {bytes} bytes; at most {most} are kept")]
    TooLong {
        /// Which field.
        what: &'static str,
        /// Its size.
        bytes: usize,
        /// The limit.
        most: usize,
    },
    /// More tags than a riff may have.
    #[error("the riff would have {tags} tags; at most {most} are kept")]
    TooManyTags {
        /// How many.
        tags: usize,
        /// The limit.
        most: usize,
    },
    /// Anything else.
    #[error("the shelf could not be used: {0}")]
    Other(String),
}

impl From<rusqlite::Error> for StoreError {
    fn from(error: rusqlite::Error) -> Self {
        let said = error.to_string();
        match error.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy,
            Some(ErrorCode::DiskFull) => Self::Full,
            Some(
                ErrorCode::ReadOnly
                | ErrorCode::PermissionDenied
                | ErrorCode::AuthorizationForStatementDenied,
            ) => Self::ReadOnly,
            Some(ErrorCode::CannotOpen) => Self::NoFile,
            Some(
                ErrorCode::SystemIoFailure
                | ErrorCode::FileLockingProtocolFailed
                | ErrorCode::NoLargeFileSupport,
            ) => Self::Disk(said),
            Some(ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => Self::Damaged(said),
            _ => match error {
                // Rows that hold what the layout does not allow.
                rusqlite::Error::FromSqlConversionFailure(..)
                | rusqlite::Error::IntegralValueOutOfRange(..)
                | rusqlite::Error::InvalidColumnType(..)
                | rusqlite::Error::Utf8Error(..)
                | rusqlite::Error::QueryReturnedNoRows => Self::Damaged(said),
                _ => Self::Other(said),
            },
        }
    }
}

/// Why a copy was not made. No part of it is left.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum BackupError {
    /// A file of that name is there, and a backup never replaces one.
    #[error("{} is there already, and a backup replaces no file; give another name", .0.display())]
    Taken(PathBuf),
    /// The shelf could not be read, or the copy not be written.
    #[error("{}: {source}", path.display())]
    Copy {
        /// The copy.
        path: PathBuf,
        /// Why.
        source: StoreError,
    },
    /// The finished copy could not be put in its place.
    #[error("{} could not be put in its place: {source}", path.display())]
    Place {
        /// The copy.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
}
