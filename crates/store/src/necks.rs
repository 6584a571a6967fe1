//! The teacher's own necks, by name.

use rusqlite::{OptionalExtension, params};

use crate::{Moment, Shelf, StoreError, open};

/// A neck as it is kept. What its body means is known to those who write and read it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KeptNeck {
    /// Its name; capitals do not tell two necks apart.
    pub name: String,
    /// The layout of the body.
    pub version: u32,
    /// The body, a text.
    pub body: String,
    /// When it was last put here.
    pub changed: Moment,
}

impl Shelf {
    /// Keeps a neck, in place of the one of that name if there is one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_neck(&mut self, neck: &KeptNeck) -> Result<(), StoreError> {
        open::write(&mut self.db, |db| {
            db.prepare_cached(
                "INSERT INTO neck (folded, name, version, body, changed) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (folded) DO UPDATE SET name = ?2, version = ?3, body = ?4, changed = ?5",
            )?
            .execute(params![
                neck.name.to_lowercase(),
                neck.name,
                neck.version,
                neck.body,
                neck.changed.0
            ])?;
            Ok(())
        })
    }

    /// The neck of that name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn neck(&self, name: &str) -> Result<Option<KeptNeck>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT name, version, body, changed FROM neck WHERE folded = ?1")?;
        Ok(statement.query_row([name.to_lowercase()], read).optional()?)
    }

    /// All necks, by name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn necks(&self) -> Result<Vec<KeptNeck>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT name, version, body, changed FROM neck ORDER BY folded")?;
        Ok(statement.query_map([], read)?.collect::<Result<_, _>>()?)
    }

    /// Forgets a neck; says whether there was one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn forget_neck(&mut self, name: &str) -> Result<bool, StoreError> {
        open::write(&mut self.db, |db| {
            Ok(db.prepare_cached("DELETE FROM neck WHERE folded = ?1")?.execute([name.to_lowercase()])? > 0)
        })
    }
}

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<KeptNeck> {
    Ok(KeptNeck { name: row.get(0)?, version: row.get(1)?, body: row.get(2)?, changed: Moment(row.get(3)?) })
}
