//! Fingerprints of riffs: bytes that others compute and read. Their version says by which rules.

use rusqlite::{Connection, OptionalExtension, params};

use crate::riff::Facts;
use crate::{RiffId, Shelf, StoreError};

/// The fingerprints of one riff.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Prints {
    /// The rules by which they were made.
    pub version: u32,
    /// Equal in riffs that are the same in another key or octave.
    pub likeness: Vec<u8>,
    /// What is compared when kin are looked for.
    pub imprint: Vec<u8>,
}

/// A riff as those who look for kin see it first.
#[derive(Clone, Copy, Debug)]
pub struct Imprint<'a> {
    /// Its number.
    pub id: RiffId,
    /// Its name.
    pub title: &'a str,
    /// The rules by which the imprint was made.
    pub version: u32,
    /// The imprint.
    pub bytes: &'a [u8],
}

/// What was found out anew about a riff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Renewed {
    /// Its number.
    pub id: RiffId,
    /// The edition whose text was read.
    pub edition: u32,
    /// What was found out.
    pub facts: Facts,
    /// Its fingerprints.
    pub prints: Prints,
}

impl Shelf {
    /// The fingerprints of a riff; `None` when it has none.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn prints(&self, id: RiffId) -> Result<Option<Prints>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT version, likeness, imprint FROM print WHERE riff = ?1")?;
        let read = |row: &rusqlite::Row<'_>| {
            Ok(Prints { version: row.get(0)?, likeness: row.get(1)?, imprint: row.get(2)? })
        };
        Ok(statement.query_row([id.0], read).optional()?)
    }

    /// Riffs of this likeness, removed ones too, the first that came first; at most `most`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alike(&self, version: u32, likeness: &[u8], most: u32) -> Result<Vec<RiffId>, StoreError> {
        // `+` keeps the index of versions out: all riffs have the same one.
        let mut statement = self.db.prepare_cached(
            "SELECT riff FROM print WHERE likeness = ?1 AND +version = ?2 ORDER BY +riff LIMIT ?3",
        )?;
        let rows = statement.query_map(params![likeness, version, most], |row| row.get(0).map(RiffId))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Riffs whose fingerprints were made by other rules than these; at most `most`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn outdated_prints(&self, version: u32, most: u32) -> Result<Vec<RiffId>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT riff FROM print WHERE version < ?1 OR version > ?1 LIMIT ?2")?;
        let rows = statement.query_map(params![version, most], |row| row.get(0).map(RiffId))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }

    /// Replaces facts and fingerprints that were made by other rules, all or none of those given; no edition comes of
    /// it. A riff that was changed since its text was read (another edition) keeps those that it has.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn renew(&mut self, renewed: &[Renewed]) -> Result<(), StoreError> {
        crate::open::write(&mut self.db, |db| {
            for new in renewed {
                if crate::riff::entry(db, new.id)?.edition == new.edition {
                    crate::riff::set_facts(db, new.id, &new.facts)?;
                    set(db, new.id, &new.prints)?;
                }
            }
            Ok(())
        })
    }

    /// Shows the imprint of every riff on the shelf, in the order of their numbers, without keeping them in memory;
    /// `look` gives false when it has seen enough. Riffs without an imprint are passed over.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn each_imprint(&self, mut look: impl FnMut(Imprint<'_>) -> bool) -> Result<(), StoreError> {
        let mut statement = self.db.prepare_cached(
            "SELECT print.riff, riff.title, print.version, print.imprint FROM print
             JOIN riff ON riff.id = print.riff WHERE +riff.removed = 0 ORDER BY print.riff",
        )?;
        let mut rows = statement.query([])?;
        while let Some(row) = rows.next()? {
            let text = |e: rusqlite::types::FromSqlError| StoreError::Damaged(e.to_string());
            let imprint = Imprint {
                id: RiffId(row.get(0)?),
                title: row.get_ref(1)?.as_str().map_err(text)?,
                version: row.get(2)?,
                bytes: row.get_ref(3)?.as_blob().map_err(text)?,
            };
            if !look(imprint) {
                break;
            }
        }
        Ok(())
    }
}

pub(crate) fn set(db: &Connection, id: RiffId, prints: &Prints) -> Result<(), StoreError> {
    db.prepare_cached(
        "INSERT INTO print (riff, version, likeness, imprint) VALUES (?1, ?2, ?3, ?4)
         ON CONFLICT (riff) DO UPDATE SET version = ?2, likeness = ?3, imprint = ?4",
    )?
    .execute(params![id.0, prints.version, prints.likeness, prints.imprint])?;
    Ok(())
}
