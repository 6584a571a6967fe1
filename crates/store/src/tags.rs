//! Tags: words that the teacher puts on riffs.

use rusqlite::{Connection, params};

use crate::{RiffId, Shelf, StoreError};

impl Shelf {
    /// All tags, and how many riffs on the shelf have them; in the order of the alphabet.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn tags(&self) -> Result<Vec<(String, u64)>, StoreError> {
        let mut statement = self.db.prepare_cached(
            "SELECT tag.name, count(*) FROM tag JOIN riff_tag ON riff_tag.tag = tag.id
             JOIN riff ON riff.id = riff_tag.riff AND riff.removed = 0 GROUP BY tag.id ORDER BY tag.folded",
        )?;
        let rows = statement.query_map([], |row| Ok((row.get(0)?, row.get::<_, i64>(1)?.unsigned_abs())))?;
        Ok(rows.collect::<Result<_, _>>()?)
    }
}

/// Without regard to capitals.
pub(crate) fn folded(tag: &str) -> String {
    tag.to_lowercase()
}

/// Each tag once, on one line, in the order of the alphabet; the first way to write it stays.
pub(crate) fn tidy(tags: &[String]) -> Vec<String> {
    let mut tidy: Vec<String> = tags
        .iter()
        .map(|tag| tag.split_whitespace().collect::<Vec<_>>().join(" "))
        .filter(|t| !t.is_empty())
        .collect();
    tidy.sort_by_cached_key(|tag| folded(tag));
    tidy.dedup_by(|a, b| folded(a) == folded(b));
    tidy
}

/// Gives a riff these tags and no others.
pub(crate) fn set(db: &Connection, id: RiffId, tags: &[String]) -> Result<(), StoreError> {
    let had = of(db, id)?;
    db.prepare_cached("DELETE FROM riff_tag WHERE riff = ?1")?.execute([id.0])?;
    for tag in tags {
        let folded = folded(tag);
        db.prepare_cached("INSERT INTO tag (folded, name) VALUES (?1, ?2) ON CONFLICT (folded) DO NOTHING")?
            .execute(params![folded, tag])?;
        db.prepare_cached("INSERT INTO riff_tag (riff, tag) SELECT ?1, id FROM tag WHERE folded = ?2")?
            .execute(params![id.0, folded])?;
    }
    sweep(db, &had)
}

/// The inner numbers of a riff's tags.
pub(crate) fn of(db: &Connection, id: RiffId) -> Result<Vec<i64>, StoreError> {
    let mut statement = db.prepare_cached("SELECT tag FROM riff_tag WHERE riff = ?1")?;
    Ok(statement.query_map([id.0], |row| row.get(0))?.collect::<Result<_, _>>()?)
}

/// Forgets those of these tags that no riff has any more.
pub(crate) fn sweep(db: &Connection, tags: &[i64]) -> Result<(), StoreError> {
    for tag in tags {
        db.prepare_cached(
            "DELETE FROM tag WHERE id = ?1 AND NOT EXISTS (SELECT 1 FROM riff_tag WHERE tag = ?1)",
        )?
        .execute([tag])?;
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tags_are_sorted_and_each_is_kept_once() {
        let tags = ["Slow", "  first\n term ", "slow", "", "Ärger"].map(str::to_owned);
        assert_eq!(tidy(&tags), ["first term", "Slow", "Ärger"]);
    }
}
