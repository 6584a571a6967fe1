//! Every state that a riff ever had, with its instant and what was done.

use rusqlite::{Connection, OptionalExtension, Row, params};

use crate::riff::{Content, State, permission};
use crate::{Moment, RiffId, Shelf, StoreError, riff};

/// A part of what is kept about a riff.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Field {
    /// The notes.
    Notes,
    /// What stands above the notes, other than title and source.
    Header,
    /// The title.
    Title,
    /// The source.
    Source,
    /// The permission.
    Permission,
    /// The teacher's note.
    Note,
    /// The tags.
    Tags,
}

impl Field {
    const ALL: [Self; 7] =
        [Self::Notes, Self::Header, Self::Title, Self::Source, Self::Permission, Self::Note, Self::Tags];

    /// Its word.
    pub fn word(self) -> &'static str {
        match self {
            Self::Notes => "notes",
            Self::Header => "header",
            Self::Title => "title",
            Self::Source => "source",
            Self::Permission => "permission",
            Self::Note => "note",
            Self::Tags => "tags",
        }
    }
}

/// What was done to a riff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Deed {
    /// It was put on the shelf.
    Added,
    /// Something about it was changed.
    Changed(Vec<Field>),
    /// It was removed.
    Removed,
    /// It was taken back.
    TakenBack,
    /// An earlier edition was made the present one.
    BackTo(u32),
}

impl std::fmt::Display for Deed {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self {
            Self::Added => f.write_str("added"),
            Self::Removed => f.write_str("removed"),
            Self::TakenBack => f.write_str("taken back"),
            Self::BackTo(edition) => write!(f, "back to {edition}"),
            Self::Changed(fields) => {
                f.write_str("changed")?;
                fields.iter().try_for_each(|field| write!(f, " {}", field.word()))
            }
        }
    }
}

impl std::str::FromStr for Deed {
    type Err = NotADeed;

    fn from_str(text: &str) -> Result<Self, NotADeed> {
        let wrong = || NotADeed(text.to_owned());
        match text {
            "added" => return Ok(Self::Added),
            "removed" => return Ok(Self::Removed),
            "taken back" => return Ok(Self::TakenBack),
            _ => {}
        }
        if let Some(edition) = text.strip_prefix("back to ") {
            return edition.parse().map(Self::BackTo).map_err(|_| wrong());
        }
        let fields = text.strip_prefix("changed").ok_or_else(wrong)?;
        fields
            .split_whitespace()
            .map(|word| Field::ALL.into_iter().find(|f| f.word() == word).ok_or_else(wrong))
            .collect::<Result<_, _>>()
            .map(Self::Changed)
    }
}

/// A text that says nothing that is done to riffs.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is nothing that is done to a riff on a shelf")]
pub struct NotADeed(pub String);

/// A state that a riff had or has.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Edition {
    /// From 1, without gaps.
    pub number: u32,
    /// When it came about.
    pub at: Moment,
    /// By what.
    pub deed: Deed,
    /// Whether the riff was then removed.
    pub removed: bool,
    /// What was kept.
    pub content: Content,
}

impl Shelf {
    /// A riff's editions, the first first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn history(&self, id: RiffId) -> Result<Vec<Edition>, StoreError> {
        riff::entry(&self.db, id)?;
        editions(&self.db, id)
    }

    /// One edition of a riff.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn edition(&self, id: RiffId, number: u32) -> Result<Edition, StoreError> {
        let newest = riff::entry(&self.db, id)?.edition;
        edition(&self.db, id, number)?.ok_or(StoreError::NoSuchEdition { riff: id, asked: number, newest })
    }
}

const EDITION: &str = "number, at, did, removed, title, notation, source, permission, note, tags";

fn read(row: &Row<'_>) -> rusqlite::Result<Edition> {
    let did: String = row.get(2)?;
    let tags: String = row.get(9)?;
    Ok(Edition {
        number: row.get(0)?,
        at: Moment(row.get(1)?),
        deed: did.parse().map_err(|e| {
            rusqlite::Error::FromSqlConversionFailure(2, rusqlite::types::Type::Text, Box::new(e))
        })?,
        removed: row.get(3)?,
        content: Content {
            title: row.get(4)?,
            notation: row.get(5)?,
            source: row.get(6)?,
            permission: permission(row, 7)?,
            note: row.get(8)?,
            tags: tags.lines().map(str::to_owned).collect(),
        },
    })
}

pub(crate) fn editions(db: &Connection, id: RiffId) -> Result<Vec<Edition>, StoreError> {
    let sql = format!("SELECT {EDITION} FROM edition WHERE riff = ?1 ORDER BY number");
    Ok(db.prepare_cached(&sql)?.query_map([id.0], read)?.collect::<Result<_, _>>()?)
}

pub(crate) fn edition(db: &Connection, id: RiffId, number: u32) -> Result<Option<Edition>, StoreError> {
    let sql = format!("SELECT {EDITION} FROM edition WHERE riff = ?1 AND number = ?2");
    Ok(db.prepare_cached(&sql)?.query_row(params![id.0, number], read).optional()?)
}

/// What is kept in an edition that must be there.
pub(crate) fn content(db: &Connection, id: RiffId, number: u32) -> Result<Content, StoreError> {
    let found = edition(db, id, number)?;
    found
        .map(|e| e.content)
        .ok_or_else(|| StoreError::Damaged(format!("edition {number} of riff {id} is missing")))
}

pub(crate) fn keep(
    db: &Connection,
    id: RiffId,
    number: u32,
    state: &State<'_>,
    deed: &Deed,
    at: Moment,
) -> Result<(), StoreError> {
    let content = state.content;
    db.prepare_cached(
        "INSERT INTO edition (riff, number, at, did, removed, title, notation, source, permission, note, tags)
         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11)",
    )?
    .execute(params![
        id.0,
        number,
        at.0,
        deed.to_string(),
        state.removed,
        content.title,
        content.notation,
        content.source,
        content.permission.words(),
        content.note,
        content.tags.join("\n")
    ])?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn deeds_are_read_as_they_are_written() {
        for deed in [
            Deed::Added,
            Deed::Changed(Field::ALL.to_vec()),
            Deed::Changed(vec![Field::Tags]),
            Deed::Removed,
            Deed::TakenBack,
            Deed::BackTo(7),
        ] {
            assert_eq!(deed.to_string().parse(), Ok(deed));
        }
        assert!("changed colour".parse::<Deed>().is_err() && "back to".parse::<Deed>().is_err());
    }
}
