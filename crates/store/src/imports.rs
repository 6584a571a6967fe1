//! Files that riffs were read from.

use rusqlite::{Connection, params};

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
