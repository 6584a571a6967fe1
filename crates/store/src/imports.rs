//! Files that riffs were read from.

use rusqlite::{Connection, params};

use crate::riff::{self, New};
use crate::{Moment, RiffId, Shelf, StoreError};

/// A file that was read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Import {
    /// A digest of its bytes; the caller's business which one.
    pub digest: Vec<u8>,
    /// Its name.
    pub name: String,
    /// What it was recognised as.
    pub kind: String,
}

/// A file that was read, and when.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Imported {
    /// The file.
    pub import: Import,
    /// When.
    pub at: Moment,
    /// True when the riff on the shelf is the one from this file; false when the file held one that was there already.
    pub kept: bool,
}

impl Shelf {
    /// The riff that came from, or is the same as that in, a file of these bytes, the first one; removed or not.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn with_digest(&self, digest: &[u8]) -> Result<Option<RiffId>, StoreError> {
        use rusqlite::OptionalExtension as _;
        let mut statement = self
            .db
            .prepare_cached("SELECT riff FROM import WHERE digest = ?1 ORDER BY kept DESC, id LIMIT 1")?;
        Ok(statement.query_row([digest], |row| row.get(0).map(RiffId)).optional()?)
    }

    /// The highest number that a riff has ever had on this shelf; 0 when none has.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn newest(&self) -> Result<RiffId, StoreError> {
        newest(&self.db)
    }

    /// Puts a riff on the shelf, and gives its number; `None` when another came on it since `newest_seen` was the newest: whoever
    /// looked for the same riff then is to look again.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_next(
        &mut self,
        newest_seen: RiffId,
        new: &New<'_>,
        at: Moment,
    ) -> Result<Option<RiffId>, StoreError> {
        riff::check(new.content)?;
        crate::open::write(&mut self.db, |db| {
            if newest(db)? != newest_seen {
                return Ok(None);
            }
            riff::add(db, new, at).map(Some)
        })
    }

    /// The files that a riff was found in, in the order in which they came.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn imports(&self, id: RiffId) -> Result<Vec<Imported>, StoreError> {
        of(&self.db, id)
    }

    /// Notes that a file holds a riff that is on the shelf already, so that the same bytes need not be read again.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn seen(&mut self, id: RiffId, import: &Import, at: Moment) -> Result<(), StoreError> {
        crate::open::write(&mut self.db, |db| {
            crate::riff::entry(db, id)?;
            keep(db, id, import, false, at)
        })
    }
}

/// See [`Shelf::newest`].
pub(crate) fn newest(db: &Connection) -> Result<RiffId, StoreError> {
    let mut statement =
        db.prepare_cached("SELECT coalesce(max(seq), 0) FROM sqlite_sequence WHERE name = 'riff'")?;
    Ok(statement.query_row([], |row| row.get(0).map(RiffId))?)
}

pub(crate) fn of(db: &Connection, id: RiffId) -> Result<Vec<Imported>, StoreError> {
    let mut statement =
        db.prepare_cached("SELECT digest, name, kind, at, kept FROM import WHERE riff = ?1 ORDER BY id")?;
    let rows = statement.query_map([id.0], |row| {
        Ok(Imported {
            import: Import { digest: row.get(0)?, name: row.get(1)?, kind: row.get(2)? },
            at: Moment(row.get(3)?),
            kept: row.get(4)?,
        })
    })?;
    Ok(rows.collect::<Result<_, _>>()?)
}

pub(crate) fn keep(
    db: &Connection,
    id: RiffId,
    import: &Import,
    kept: bool,
    at: Moment,
) -> Result<(), StoreError> {
    db.prepare_cached(
        "INSERT INTO import (riff, at, digest, name, kind, kept) VALUES (?1, ?2, ?3, ?4, ?5, ?6)",
    )?
    .execute(params![id.0, at.0, import.digest, import.name, import.kind, kept])?;
    Ok(())
}
