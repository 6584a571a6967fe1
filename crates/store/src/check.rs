//! Whether the file is sound in itself. Whether its riffs can be read is for others to say.

use crate::{Shelf, StoreError};

/// Most faults of one kind that are named.
const MOST: usize = 100;

impl Shelf {
    /// Everything that is wrong with the file, in words; nothing when it is sound.
    ///
    /// Checked are SQLite's own structures (`integrity_check`, `foreign_key_check`), the index of words, that every riff
    /// has all its editions, and that what lists show is what the newest edition says.
    ///
    /// # Errors
    /// [`StoreError`] when it cannot even be checked.
    pub fn faults(&self) -> Result<Vec<String>, StoreError> {
        let mut faults = Vec::new();
        let mut statement = self.db.prepare(&format!("PRAGMA integrity_check({MOST})"))?;
        for line in statement.query_map([], |row| row.get::<_, String>(0))? {
            match line {
                Ok(line) if line == "ok" => {}
                Ok(line) => faults.push(line),
                Err(e) => faults.push(e.to_string()),
            }
        }
        let mut statement = self.db.prepare("PRAGMA foreign_key_check")?;
        let broken = statement.query_map([], |row| {
            let (table, row, parent): (String, Option<i64>, String) = (row.get(0)?, row.get(1)?, row.get(2)?);
            Ok(format!("{table} {}: its {parent} is missing", row.unwrap_or_default()))
        })?;
        for line in broken.take(MOST) {
            faults.push(line?);
        }
        for (sql, what) in [
            (
                "SELECT riff.id FROM riff WHERE riff.edition <> (SELECT count(*) FROM edition WHERE edition.riff = riff.id)
                 OR riff.edition <> (SELECT max(number) FROM edition WHERE edition.riff = riff.id)",
                "its editions are not all there",
            ),
            (
                "SELECT riff.id FROM riff JOIN edition ON edition.riff = riff.id AND edition.number = riff.edition
                 WHERE riff.title <> edition.title OR riff.permission <> edition.permission
                 OR riff.removed <> edition.removed OR riff.changed <> edition.at",
                "the list shows something else than its newest edition",
            ),
            (
                "SELECT riff.id FROM riff LEFT JOIN words ON words.rowid = riff.id WHERE words.rowid IS NULL",
                "its words cannot be found",
            ),
            (
                "SELECT words.rowid FROM words LEFT JOIN riff ON riff.id = words.rowid WHERE riff.id IS NULL",
                "words are left of a riff that is gone",
            ),
        ] {
            let mut statement = self.db.prepare(sql)?;
            let rows = statement.query_map([], |row| row.get::<_, i64>(0))?;
            for id in rows.take(MOST) {
                faults.push(format!("riff {}: {what}", id?));
            }
        }
        Ok(faults)
    }
}
