//! A riff with all that hangs on it, as one value: for export as plain files, and back.

use crate::history::{self, Edition};
use crate::imports::{self, Imported};
use crate::prints::Prints;
use crate::riff::{self, Entry, Facts, State};
use crate::{RiffId, Shelf, StoreError, tags};

/// A riff with its history and the files that it came from.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Whole {
    /// The riff as it stands.
    pub entry: Entry,
    /// Its editions, the first first; never empty.
    pub editions: Vec<Edition>,
    /// The files.
    pub imports: Vec<Imported>,
}

/// A riff with its history, to be put on a shelf again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Former {
    /// The number that it had; it gets it again on a shelf where no riff has ever had it.
    pub id: RiffId,
    /// Its editions, the first first: numbered from 1, without gaps.
    pub editions: Vec<Edition>,
    /// The files that it came from.
    pub imports: Vec<Imported>,
    /// What was found out about the newest edition.
    pub facts: Facts,
    /// Fingerprints of the newest edition.
    pub prints: Prints,
}

/// A number above this one is not taken over: the highest number of all would leave none for the riffs that come after it
/// (SQLite, *Autoincrement*).
const HIGHEST_KEPT: i64 = 1 << 40;

impl Shelf {
    /// Numbers of all riffs, removed ones too.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn numbers(&self) -> Result<Vec<RiffId>, StoreError> {
        let mut statement = self.db.prepare_cached("SELECT id FROM riff ORDER BY id")?;
        Ok(statement.query_map([], |row| row.get(0).map(RiffId))?.collect::<Result<_, _>>()?)
    }

    /// One riff with all that hangs on it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn whole(&self, id: RiffId) -> Result<Whole, StoreError> {
        Ok(Whole {
            entry: riff::entry(&self.db, id)?,
            editions: history::editions(&self.db, id)?,
            imports: imports::of(&self.db, id)?,
        })
    }

    /// Puts riffs that were exported on the shelf, with their history: all of them, or none on an error. Gives their
    /// numbers here.
    ///
    /// # Errors
    /// [`StoreError`]; a riff without editions, or with gaps in their numbers, is damaged.
    pub fn put_back(&mut self, formers: &[Former]) -> Result<Vec<RiffId>, StoreError> {
        crate::open::write(&mut self.db, |db| formers.iter().map(|former| put_back(db, former)).collect())
    }
}

fn put_back(db: &rusqlite::Connection, former: &Former) -> Result<RiffId, StoreError> {
    let gaps = former.editions.iter().zip(1..).any(|(edition, number)| edition.number != number);
    let (Some(first), Some(last)) = (former.editions.first(), former.editions.last()) else {
        return Err(StoreError::Damaged(format!("riff {} has no editions", former.id)));
    };
    if gaps {
        return Err(StoreError::Damaged(format!(
            "the editions of riff {} are not numbered from 1",
            former.id
        )));
    }
    let newest = imports::newest(db)?;
    let id = Some(former.id).filter(|id| *id > newest && id.0 <= HIGHEST_KEPT);
    let mut content = last.content.clone();
    content.tags = tags::tidy(&content.tags);
    riff::check(&content)?;
    let state = State {
        content: &content,
        facts: &former.facts,
        prints: Some(&former.prints),
        removed: last.removed,
    };
    let id = riff::insert(db, id, &state, last.number, first.at, last.at)?;
    for edition in &former.editions {
        let mut content = edition.content.clone();
        content.tags = tags::tidy(&content.tags);
        riff::check(&content)?;
        let state = State { content: &content, facts: &former.facts, prints: None, removed: edition.removed };
        history::keep(db, id, edition.number, &state, &edition.deed, edition.at)?;
    }
    riff::hang(db, id, &state)?;
    for file in &former.imports {
        imports::keep(db, id, &file.import, file.kept, file.at)?;
    }
    Ok(id)
}
