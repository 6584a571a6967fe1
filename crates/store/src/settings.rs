//! Settings: named bodies of bytes, such as learned tastes.

use rusqlite::{OptionalExtension, params};

use crate::{Moment, Shelf, StoreError, open};

/// A setting as it is kept. What its body means is known to those who write and read it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Setting {
    /// Its name.
    pub name: String,
    /// The layout of the body.
    pub version: u32,
    /// The body.
    pub body: Vec<u8>,
    /// When it was last put here.
    pub changed: Moment,
}

impl Shelf {
    /// Keeps a setting, in place of the one of that name if there is one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_setting(&mut self, setting: &Setting) -> Result<(), StoreError> {
        open::write(&mut self.db, |db| {
            db.prepare_cached(
                "INSERT INTO setting (name, version, body, changed) VALUES (?1, ?2, ?3, ?4)
                 ON CONFLICT (name) DO UPDATE SET version = ?2, body = ?3, changed = ?4",
            )?
            .execute(params![setting.name, setting.version, setting.body, setting.changed.0])?;
            Ok(())
        })
    }

    /// The setting of that name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn setting(&self, name: &str) -> Result<Option<Setting>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT name, version, body, changed FROM setting WHERE name = ?1")?;
        Ok(statement.query_row([name], read).optional()?)
    }

    /// All settings, by name.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn settings(&self) -> Result<Vec<Setting>, StoreError> {
        let mut statement =
            self.db.prepare_cached("SELECT name, version, body, changed FROM setting ORDER BY name")?;
        Ok(statement.query_map([], read)?.collect::<Result<_, _>>()?)
    }

    /// Forgets a setting; says whether there was one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn forget_setting(&mut self, name: &str) -> Result<bool, StoreError> {
        open::write(&mut self.db, |db| {
            Ok(db.prepare_cached("DELETE FROM setting WHERE name = ?1")?.execute([name])? > 0)
        })
    }
}

fn read(row: &rusqlite::Row<'_>) -> rusqlite::Result<Setting> {
    Ok(Setting { name: row.get(0)?, version: row.get(1)?, body: row.get(2)?, changed: Moment(row.get(3)?) })
}
