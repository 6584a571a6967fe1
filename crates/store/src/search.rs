//! Finding riffs by words and by facts.

use rusqlite::types::Value;
use rusqlite::{Connection, params, params_from_iter};

use crate::riff::{Content, ENTRY, Entry, read_entry};
use crate::{Permission, RiffId, Shelf, StoreError, tags};

/// The order of what is found.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Order {
    /// By number, the oldest first.
    #[default]
    Number,
    /// By title, the capitals of the Latin alphabet alike.
    Title,
    /// The last changed first.
    Changed,
    /// The best match of the words first (BM25: Robertson and Zaragoza 2009, as SQLite's FTS5 computes it).
    Match,
}

/// What is looked for; a riff must meet all of it.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Wanted {
    /// Words, or beginnings of words, in title, tags, source or note. Any text is safe. Capitals and diacritics do not
    /// matter.
    pub words: String,
    /// Tags that the riff has.
    pub tags: Vec<String>,
    /// Its key: in full as it is kept (`G minor`), or the tonic alone (`G`). Capitals do not matter.
    pub key: Option<String>,
    /// Its degrees lie within these, as bits.
    pub within: Option<u16>,
    /// Its degrees hold all of these, as bits.
    pub having: u16,
    /// Its permission.
    pub permission: Option<Permission>,
    /// Look among the removed ones instead.
    pub removed: bool,
    /// The order.
    pub order: Order,
    /// How many to pass over.
    pub skip: u64,
    /// How many to give at most; `None` for all.
    pub most: Option<u64>,
}

/// The conditions of a question, and the values in them.
struct Question {
    from: &'static str,
    conditions: Vec<String>,
    values: Vec<Value>,
}

impl Shelf {
    /// The riffs that meet everything wanted.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn find(&self, wanted: &Wanted) -> Result<Vec<Entry>, StoreError> {
        let Some(question) = question(wanted) else { return Ok(Vec::new()) };
        let order = match wanted.order {
            Order::Title => "riff.title COLLATE NOCASE, riff.id",
            Order::Changed => "riff.changed DESC, riff.id DESC",
            Order::Match if !wanted.words.trim().is_empty() => "words.rank, riff.id",
            // The index of words gives its finds in this order by itself.
            Order::Number | Order::Match if !wanted.words.trim().is_empty() => "words.rowid",
            Order::Number | Order::Match => "riff.id",
        };
        let whole = |n: u64| i64::try_from(n).unwrap_or(i64::MAX);
        let sql = format!(
            "SELECT {ENTRY} FROM {} WHERE {} ORDER BY {order} LIMIT {} OFFSET {}",
            question.from,
            question.conditions.join(" AND "),
            wanted.most.map_or(-1, whole),
            whole(wanted.skip)
        );
        let mut statement = self.db.prepare(&sql)?;
        Ok(statement.query_map(params_from_iter(question.values), read_entry)?.collect::<Result<_, _>>()?)
    }

    /// How many riffs meet everything wanted, `skip` and `most` left aside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn count_of(&self, wanted: &Wanted) -> Result<u64, StoreError> {
        let Some(question) = question(wanted) else { return Ok(0) };
        let sql =
            format!("SELECT count(*) FROM {} WHERE {}", question.from, question.conditions.join(" AND "));
        let count: i64 = self.db.query_row(&sql, params_from_iter(question.values), |row| row.get(0))?;
        Ok(count.unsigned_abs())
    }
}

/// `None` when the words hold nothing that could be found.
fn question(wanted: &Wanted) -> Option<Question> {
    // An index that begins with this column helps where it gives the order, and would else be taken for no gain: `+` keeps it
    // out (SQLite, *Query Planner*, 8).
    let few = !wanted.tags.is_empty() || !wanted.words.trim().is_empty();
    let by_index = matches!(wanted.order, Order::Title | Order::Changed) && !few;
    let mut question = Question {
        from: "riff",
        conditions: vec![if by_index { "riff.removed = ?" } else { "+riff.removed = ?" }.to_owned()],
        values: vec![Value::Integer(i64::from(wanted.removed))],
    };
    let mut must = |condition: &str, values: &[Value]| {
        question.conditions.push(condition.to_owned());
        question.values.extend_from_slice(values);
    };
    for tag in tags::tidy(&wanted.tags) {
        must(
            "riff.id IN (SELECT riff_tag.riff FROM riff_tag JOIN tag ON tag.id = riff_tag.tag WHERE tag.folded = ?)",
            &[Value::Text(tags::folded(&tag))],
        );
    }
    if let Some(key) = &wanted.key {
        let key = key.trim().to_owned();
        must(
            "(ltrim(riff.key, '~') = ? COLLATE NOCASE
              OR substr(ltrim(riff.key, '~'), 1, length(?) + 1) = ? || ' ' COLLATE NOCASE)",
            &[Value::Text(key.clone()), Value::Text(key.clone()), Value::Text(key)],
        );
    }
    if let Some(within) = wanted.within {
        must("(riff.degrees & ?) = 0", &[Value::Integer(i64::from(!within & 0xfff))]);
    }
    if wanted.having != 0 {
        let having = Value::Integer(i64::from(wanted.having & 0xfff));
        must("(riff.degrees & ?) = ?", &[having.clone(), having]);
    }
    if let Some(permission) = wanted.permission {
        must("riff.permission = ?", &[Value::Text(permission.words().to_owned())]);
    }
    if !wanted.words.trim().is_empty() {
        must("words MATCH ?", &[Value::Text(matching(&wanted.words)?)]);
        question.from = "words JOIN riff ON riff.id = words.rowid";
    }
    Some(question)
}

/// Words as FTS5 wants them: each in quotes, as the beginning of a word (SQLite, *FTS5 Extension*, 3.1 to 3.3).
/// `None` when no sign in them is part of a word.
fn matching(words: &str) -> Option<String> {
    let quoted: Vec<String> = spaced(words)
        .split_whitespace()
        .filter(|word| word.chars().any(|c| c.is_alphanumeric() || is_picture(c)))
        .map(|word| format!("\"{}\"*", word.replace('"', "\"\"")))
        .collect();
    (!quoted.is_empty()).then(|| quoted.join(" "))
}

/// A sign that is a word of its own: emoji and the like (Unicode blocks from Miscellaneous Symbols to Dingbats without
/// the signs of music, and the pictographs of plane 1).
fn is_picture(c: char) -> bool {
    matches!(c, '\u{2600}'..='\u{266c}' | '\u{2670}'..='\u{27bf}' | '\u{1f000}'..='\u{1faff}')
}

/// Pictures apart from the words beside them; no signs that end a text within SQLite.
fn spaced(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '\0' => out.push(' '),
            // Skin tones belong to the picture before them and are not looked for.
            '\u{1f3fb}'..='\u{1f3ff}' => {}
            c if is_picture(c) => out.extend([' ', c, ' ']),
            c => out.push(c),
        }
    }
    out
}

/// Puts a riff's words, as they are now, into the index.
pub(crate) fn learn(db: &Connection, id: RiffId, content: &Content) -> Result<(), StoreError> {
    db.prepare_cached(
        "INSERT OR REPLACE INTO words (rowid, title, tags, source, note) VALUES (?1, ?2, ?3, ?4, ?5)",
    )?
    .execute(params![
        id.0,
        spaced(&content.title),
        spaced(&content.tags.join(" ")),
        spaced(&content.source),
        spaced(&content.note)
    ])?;
    Ok(())
}

/// Takes a riff's words out of the index.
pub(crate) fn forget(db: &Connection, id: RiffId) -> Result<(), StoreError> {
    db.prepare_cached("DELETE FROM words WHERE rowid = ?1")?.execute([id.0])?;
    Ok(())
}

/// Writes the index of words anew, so that words of riffs that are gone are gone from the file.
pub(crate) fn rewrite(db: &Connection) -> Result<(), StoreError> {
    db.execute("INSERT INTO words (words) VALUES ('optimize')", [])?;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn any_words_become_quoted_beginnings() {
        assert_eq!(matching("wet rope").as_deref(), Some("\"wet\"* \"rope\"*"));
        assert_eq!(matching("say \"no\" AND").as_deref(), Some("\"say\"* \"\"\"no\"\"\"* \"AND\"*"));
        assert_eq!(matching("rope🎸").as_deref(), Some("\"rope\"* \"🎸\"*"));
        assert_eq!(matching(" - \" * ( "), None);
        assert_eq!(matching("a\0b").as_deref(), Some("\"a\"* \"b\"*"));
    }
}
