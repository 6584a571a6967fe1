//! A riff as it stands on the shelf: adding, changing, removing, taking back, purging.

use rusqlite::{Connection, OptionalExtension, Row, params};

use crate::history::{self, Deed, Field};
use crate::imports::{self, Import};
use crate::open::write;
use crate::prints::{self, Prints};
use crate::{Moment, Permission, RiffId, Shelf, StoreError, search, tags};

/// Longest text of a riff, in bytes.
const MOST_NOTATION: usize = 64 << 20;
/// Longest title, source, note or tag, in bytes.
const MOST_TEXT: usize = 1 << 20;
/// Most tags on one riff.
const MOST_TAGS: usize = 1_000;

/// What others found out about a riff's text; kept so that it can be listed and searched.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Facts {
    /// The key in words, such as `G minor`; empty when there is none. `~` before it says that it was found by listening
    /// to the notes and not written; a search for the key finds both.
    pub key: String,
    /// The meter, such as `4/4`.
    pub meter: String,
    /// How many notes it has.
    pub notes: u32,
    /// Its degrees, bit 0 for the root; 12 bits.
    pub degrees: u16,
}

/// Everything that the teacher keeps about one riff, in one state.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Content {
    /// Its name.
    pub title: String,
    /// The riff itself, in riff notation.
    pub notation: String,
    /// Where it comes from, in free words; empty when nobody said.
    pub source: String,
    /// What may be done with it.
    pub permission: Permission,
    /// The teacher's note, any number of lines.
    pub note: String,
    /// Tags, without regard to order and capitals: kept sorted, each once.
    pub tags: Vec<String>,
}

/// A riff to be put on the shelf.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct New<'a> {
    /// What is kept.
    pub content: &'a Content,
    /// What was found out about it.
    pub facts: &'a Facts,
    /// Its fingerprints.
    pub prints: &'a Prints,
    /// The file that it was read from, if any.
    pub import: Option<&'a Import>,
}

/// One line of a list.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Entry {
    /// Its number.
    pub id: RiffId,
    /// The number of its newest edition, from 1.
    pub edition: u32,
    /// True when it was removed and can be taken back.
    pub removed: bool,
    /// Its name.
    pub title: String,
    /// What was found out about it.
    pub facts: Facts,
    /// What may be done with it.
    pub permission: Permission,
    /// When it was put on the shelf.
    pub added: Moment,
    /// When it was changed last.
    pub changed: Moment,
}

/// What a change leaves as it is (`None`) and what it replaces.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Change {
    /// Text, name and facts of the riff; its fingerprints too, when the notes are others.
    pub riff: Option<ChangedRiff>,
    /// The source.
    pub source: Option<String>,
    /// The permission.
    pub permission: Option<Permission>,
    /// The teacher's note.
    pub note: Option<String>,
    /// All the tags.
    pub tags: Option<Vec<String>>,
    /// Refuse the change unless the riff is still at this edition.
    pub expected: Option<u32>,
}

/// A riff's new text and what was found out about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ChangedRiff {
    /// Its name.
    pub title: String,
    /// In riff notation.
    pub notation: String,
    /// What was found out about it.
    pub facts: Facts,
    /// Its fingerprints; `None` leaves those that it has.
    pub prints: Option<Prints>,
    /// True when notes were replaced, and not only words above them.
    pub notes: bool,
}

impl Shelf {
    /// Puts riffs on the shelf: all of them, or none on an error. Gives their numbers.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add(&mut self, news: &[New<'_>], at: Moment) -> Result<Vec<RiffId>, StoreError> {
        for new in news {
            check(new.content)?;
        }
        write(&mut self.db, |db| news.iter().map(|new| add(db, new, at)).collect())
    }

    /// Changes a riff, keeping its former state. Gives the number of the new edition, or of the present one when nothing
    /// would differ.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn change(&mut self, id: RiffId, change: &Change, at: Moment) -> Result<u32, StoreError> {
        write(&mut self.db, |db| {
            let entry = entry(db, id)?;
            if let Some(expected) = change.expected.filter(|e| *e != entry.edition) {
                return Err(StoreError::Changed { riff: id, expected, found: entry.edition });
            }
            let old = history::content(db, id, entry.edition)?;
            let mut new = old.clone();
            if let Some(riff) = &change.riff {
                new.title.clone_from(&riff.title);
                new.notation.clone_from(&riff.notation);
            }
            new.source = change.source.clone().unwrap_or(new.source);
            new.permission = change.permission.unwrap_or(new.permission);
            new.note = change.note.clone().unwrap_or(new.note);
            new.tags = tags::tidy(change.tags.as_deref().unwrap_or(&new.tags));
            let mut fields = Vec::new();
            let mut differs = |field, is| {
                if is {
                    fields.push(field);
                }
            };
            differs(
                Field::Notes,
                change.riff.as_ref().is_some_and(|r| r.notes) && new.notation != old.notation,
            );
            differs(Field::Title, new.title != old.title);
            differs(Field::Source, new.source != old.source);
            differs(Field::Permission, new.permission != old.permission);
            differs(Field::Note, new.note != old.note);
            differs(Field::Tags, new.tags != old.tags);
            if new == old {
                return Ok(entry.edition);
            }
            if fields.is_empty() {
                fields.push(Field::Header);
            }
            check(&new)?;
            let state = State {
                content: &new,
                facts: change.riff.as_ref().map_or(&entry.facts, |r| &r.facts),
                prints: change.riff.as_ref().and_then(|r| r.prints.as_ref()),
                removed: entry.removed,
            };
            next(db, &entry, &state, &Deed::Changed(fields), at)
        })
    }

    /// Takes a riff off the shelf, so that it can be taken back. Gives the new edition.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove(&mut self, id: RiffId, at: Moment) -> Result<u32, StoreError> {
        self.put_removed(id, true, at)
    }

    /// Puts a removed riff back on the shelf. Gives the new edition.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn take_back(&mut self, id: RiffId, at: Moment) -> Result<u32, StoreError> {
        self.put_removed(id, false, at)
    }

    fn put_removed(&mut self, id: RiffId, removed: bool, at: Moment) -> Result<u32, StoreError> {
        write(&mut self.db, |db| {
            let entry = entry(db, id)?;
            if entry.removed == removed {
                return Ok(entry.edition);
            }
            let content = history::content(db, id, entry.edition)?;
            let state = State { content: &content, facts: &entry.facts, prints: None, removed };
            next(db, &entry, &state, if removed { &Deed::Removed } else { &Deed::TakenBack }, at)
        })
    }

    /// Makes a former edition the present one, as a new edition. `facts` and `prints` are those of its text. Gives the
    /// new edition.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn back_to(
        &mut self,
        id: RiffId,
        edition: u32,
        facts: &Facts,
        prints: &Prints,
        at: Moment,
    ) -> Result<u32, StoreError> {
        write(&mut self.db, |db| {
            let entry = entry(db, id)?;
            let was = history::edition(db, id, edition)?.ok_or(StoreError::NoSuchEdition {
                riff: id,
                asked: edition,
                newest: entry.edition,
            })?;
            let state = State { content: &was.content, facts, prints: Some(prints), removed: was.removed };
            next(db, &entry, &state, &Deed::BackTo(edition), at)
        })
    }

    /// Takes removed riffs away for good, with their history: all of them, or none on an error. What they held is
    /// overwritten in the file; that takes a second for some hundred thousand riffs on the shelf.
    ///
    /// # Errors
    /// [`StoreError`]; a riff that is still on the shelf is refused.
    pub fn purge(&mut self, ids: &[RiffId]) -> Result<(), StoreError> {
        write(&mut self.db, |db| {
            for &id in ids {
                if !entry(db, id)?.removed {
                    return Err(StoreError::NotRemoved(id));
                }
                let had = tags::of(db, id)?;
                search::forget(db, id)?;
                db.prepare_cached("DELETE FROM riff WHERE id = ?1")?.execute([id.0])?;
                tags::sweep(db, &had)?;
            }
            search::rewrite(db)
        })?;
        // Nor may it live on in the log; while others read the log, it waits for a later time.
        self.db.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |_| Ok(()))?;
        Ok(())
    }

    /// One riff as it stands, removed or not.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn entry(&self, id: RiffId) -> Result<Entry, StoreError> {
        entry(&self.db, id)
    }

    /// What is kept about a riff as it stands, removed or not.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn content(&self, id: RiffId) -> Result<Content, StoreError> {
        let edition = entry(&self.db, id)?.edition;
        history::content(&self.db, id, edition)
    }

    /// How many riffs are on the shelf, and how many were removed.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn count(&self) -> Result<(u64, u64), StoreError> {
        let count = |removed: bool| -> Result<u64, StoreError> {
            let count: i64 =
                self.db
                    .query_row("SELECT count(*) FROM riff WHERE removed = ?1", [removed], |row| row.get(0))?;
            Ok(count.unsigned_abs())
        };
        Ok((count(false)?, count(true)?))
    }

    /// Reads several things at one and the same state of the shelf, whatever others write meanwhile.
    ///
    /// # Errors
    /// What `look` gives, or [`StoreError`].
    pub fn at_rest<T, E: From<StoreError>>(&self, look: impl FnOnce(&Self) -> Result<T, E>) -> Result<T, E> {
        // Nothing is written, so it does not matter how the transaction ends.
        let begun = self.db.unchecked_transaction().map_err(StoreError::from)?;
        let seen = look(self);
        drop(begun);
        seen
    }
}

/// A riff's next state.
pub(crate) struct State<'a> {
    pub(crate) content: &'a Content,
    pub(crate) facts: &'a Facts,
    pub(crate) prints: Option<&'a Prints>,
    pub(crate) removed: bool,
}

pub(crate) fn check(content: &Content) -> Result<(), StoreError> {
    let fits = |what, bytes, most| {
        if bytes > most { Err(StoreError::TooLong { what, bytes, most }) } else { Ok(()) }
    };
    fits("the text of the riff", content.notation.len(), MOST_NOTATION)?;
    fits("the title", content.title.len(), MOST_TEXT)?;
    fits("the source", content.source.len(), MOST_TEXT)?;
    fits("the note", content.note.len(), MOST_TEXT)?;
    for tag in &content.tags {
        fits("a tag", tag.len(), MOST_TEXT)?;
    }
    match content.tags.len() {
        tags if tags > MOST_TAGS => Err(StoreError::TooManyTags { tags, most: MOST_TAGS }),
        _ => Ok(()),
    }
}

pub(crate) fn add(db: &Connection, new: &New<'_>, at: Moment) -> Result<RiffId, StoreError> {
    let mut content = new.content.clone();
    content.tags = tags::tidy(&content.tags);
    let state = State { content: &content, facts: new.facts, prints: Some(new.prints), removed: false };
    let id = insert(db, None, &state, 1, at, at)?;
    history::keep(db, id, 1, &state, &Deed::Added, at)?;
    hang(db, id, &state)?;
    if let Some(import) = new.import {
        imports::keep(db, id, import, true, at)?;
    }
    Ok(id)
}

/// The line of a riff; `id` only where its number is to be the one that it had on another shelf.
pub(crate) fn insert(
    db: &Connection,
    id: Option<RiffId>,
    state: &State<'_>,
    edition: u32,
    added: Moment,
    changed: Moment,
) -> Result<RiffId, StoreError> {
    let (content, facts) = (state.content, state.facts);
    db.prepare_cached(
        "INSERT INTO riff (id, edition, removed, title, key, meter, notes, degrees, permission, added, changed)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )?
    .execute(params![
        id.map(|id| id.0),
        edition,
        state.removed,
        content.title,
        facts.key,
        facts.meter,
        facts.notes,
        facts.degrees & 0xfff,
        content.permission.words(),
        added.0,
        changed.0
    ])?;
    Ok(RiffId(db.last_insert_rowid()))
}

/// Tags, words and fingerprints of a riff in its present state.
pub(crate) fn hang(db: &Connection, id: RiffId, state: &State<'_>) -> Result<(), StoreError> {
    tags::set(db, id, &state.content.tags)?;
    search::learn(db, id, state.content)?;
    if let Some(prints) = state.prints {
        prints::set(db, id, prints)?;
    }
    Ok(())
}

/// Gives a riff its next state.
fn next(
    db: &Connection,
    entry: &Entry,
    state: &State<'_>,
    deed: &Deed,
    at: Moment,
) -> Result<u32, StoreError> {
    let number = entry.edition.saturating_add(1);
    let (content, facts) = (state.content, state.facts);
    history::keep(db, entry.id, number, state, deed, at)?;
    db.prepare_cached(
        "UPDATE riff SET edition = ?2, removed = ?3, title = ?4, key = ?5, meter = ?6, notes = ?7, degrees = ?8,
         permission = ?9, changed = ?10 WHERE id = ?1",
    )?
    .execute(params![
        entry.id.0,
        number,
        state.removed,
        content.title,
        facts.key,
        facts.meter,
        facts.notes,
        facts.degrees & 0xfff,
        content.permission.words(),
        at.0
    ])?;
    hang(db, entry.id, state)?;
    Ok(number)
}

/// What was found out about a riff, put in place of what was found before.
pub(crate) fn set_facts(db: &Connection, id: RiffId, facts: &Facts) -> Result<(), StoreError> {
    db.prepare_cached("UPDATE riff SET key = ?2, meter = ?3, notes = ?4, degrees = ?5 WHERE id = ?1")?
        .execute(params![id.0, facts.key, facts.meter, facts.notes, facts.degrees & 0xfff])?;
    Ok(())
}

/// The columns that [`read_entry`] reads.
pub(crate) const ENTRY: &str = "riff.id, riff.edition, riff.removed, riff.title, riff.key, riff.meter, riff.notes, \
                                riff.degrees, riff.permission, riff.added, riff.changed";

pub(crate) fn read_entry(row: &Row<'_>) -> rusqlite::Result<Entry> {
    Ok(Entry {
        id: RiffId(row.get(0)?),
        edition: row.get(1)?,
        removed: row.get(2)?,
        title: row.get(3)?,
        facts: Facts { key: row.get(4)?, meter: row.get(5)?, notes: row.get(6)?, degrees: row.get(7)? },
        permission: permission(row, 8)?,
        added: Moment(row.get(9)?),
        changed: Moment(row.get(10)?),
    })
}

/// A permission by its words.
pub(crate) fn permission(row: &Row<'_>, column: usize) -> rusqlite::Result<Permission> {
    let words: String = row.get(column)?;
    Permission::of_words(&words)
        .ok_or_else(|| rusqlite::Error::InvalidColumnType(column, words, rusqlite::types::Type::Text))
}

pub(crate) fn entry(db: &Connection, id: RiffId) -> Result<Entry, StoreError> {
    let sql = format!("SELECT {ENTRY} FROM riff WHERE id = ?1");
    let found = db.prepare_cached(&sql)?.query_row([id.0], read_entry).optional()?;
    found.ok_or(StoreError::NoSuchRiff(id))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The limit on pages stands for a disk without room: SQLite reports both as `SQLITE_FULL` (Result and Error Codes).
    #[test]
    fn without_room_nothing_is_changed() {
        let path = std::env::temp_dir().join(format!("riffkin-store-full-{}", std::process::id()));
        let _ = std::fs::remove_file(&path);
        let mut shelf = Shelf::open(&path, crate::Access::Create).unwrap();
        let (facts, prints) = (Facts::default(), Prints::default());
        let small = Content { title: "One".into(), ..Content::default() };
        let big = Content { note: "x".repeat(900_000), ..small.clone() };
        let new = |content| New { content, facts: &facts, prints: &prints, import: None };
        let id = shelf.add(&[new(&small)], Moment(1)).unwrap()[0];
        shelf.db.pragma_update_and_check(None, "max_page_count", 60, |_| Ok(())).unwrap();
        let change = Change { note: Some(big.note.clone()), ..Change::default() };
        for refused in [
            shelf.add(&[new(&big)], Moment(2)).unwrap_err(),
            shelf.change(id, &change, Moment(2)).unwrap_err(),
        ] {
            assert!(matches!(refused, StoreError::Full), "{refused}");
        }
        assert_eq!((shelf.count().unwrap(), shelf.content(id).unwrap()), ((1, 0), small));
        assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
        drop(shelf);
        std::fs::remove_file(&path).unwrap();
    }
}
