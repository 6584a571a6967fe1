//! The shelf in words.

use std::fmt::Write as _;

use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_store::history::{Deed, Edition};
use riffkin_store::riff::{Entry, Facts};
use riffkin_store::whole::Whole;

use super::s;
use crate::app::shelf::when;

/// Widest column, in characters.
const WIDEST: usize = 40;

/// A text cut to a column.
fn cut(text: &str) -> String {
    if text.chars().count() <= WIDEST {
        return text.to_owned();
    }
    text.chars().take(WIDEST - 1).chain(['…']).collect()
}

/// Degrees as their usual names.
fn degrees(facts: &Facts) -> String {
    let set = DegreeSet::from_slots((0..12).filter(|slot| facts.degrees >> slot & 1 == 1));
    set.slots().map(|slot| Degree::usual(slot).print()).collect::<Vec<_>>().join(" ")
}

/// A key in words; one that was found and not written, with a question mark.
fn key(facts: &Facts) -> String {
    facts.key.strip_prefix('~').map_or_else(|| facts.key.clone(), |key| format!("{key}?"))
}

/// A line for every riff: number, title, key, meter, notes, degrees.
pub(super) fn list(entries: &[Entry]) -> String {
    let wide =
        |column: fn(&Entry) -> String| entries.iter().map(|e| column(e).chars().count()).max().unwrap_or(0);
    let number = wide(|e| e.id.to_string());
    let title = wide(|e| cut(&e.title));
    let key_width = wide(|e| cut(&key(&e.facts)));
    let meter = wide(|e| cut(&e.facts.meter));
    let mut out = String::new();
    for e in entries {
        let line = format!(
            "{:>number$}  {:title$}  {:key_width$}  {:meter$}  {:>4} note{:1}  {}",
            e.id,
            cut(&e.title),
            cut(&key(&e.facts)),
            cut(&e.facts.meter),
            e.facts.notes,
            s(e.facts.notes as usize),
            degrees(&e.facts)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}

/// Everything about one riff in one of its editions.
pub(super) fn riff(whole: &Whole, edition: &Edition) -> String {
    let (entry, content) = (&whole.entry, &edition.content);
    let newest = edition.number == entry.edition;
    let mut out = String::new();
    let mut line = |word: &str, text: &str| {
        if !text.is_empty() {
            let _ = writeln!(out, "{word:11} {}", text.replace('\n', "\n            "));
        }
    };
    line("number", &entry.id.to_string());
    line("title", &content.title);
    if newest {
        line("key", &key(&entry.facts));
        line("meter", &entry.facts.meter);
        line("notes", &entry.facts.notes.to_string());
        line("degrees", &degrees(&entry.facts));
    }
    line("source", &content.source);
    line("permission", content.permission.words());
    line("tags", &content.tags.join(", "));
    line("note", &content.note);
    for file in &whole.imports {
        let also = if file.kept { "" } else { ", which held the same" };
        line("from", &format!("{} ({}), {}{also}", file.import.name, file.import.kind, when::words(file.at)));
    }
    let state = if edition.removed { ", removed" } else { "" };
    line("edition", &format!("{} of {}, {}{state}", edition.number, entry.edition, when::words(edition.at)));
    let _ = write!(out, "\n{}", content.notation);
    out
}

/// What was done to a riff.
pub(super) fn deed(deed: &Deed) -> String {
    match deed {
        Deed::Changed(fields) => {
            let fields: Vec<_> = fields.iter().map(|field| field.word()).collect();
            format!("changed {}", fields.join(", "))
        }
        Deed::TakenBack => "restored".to_owned(),
        Deed::BackTo(edition) => format!("back to edition {edition}"),
        Deed::Added | Deed::Removed => deed.to_string(),
    }
}

/// A line for every edition: number, instant, what was done, title.
pub(super) fn history(editions: &[Edition]) -> String {
    let did = editions.iter().map(|e| deed(&e.deed).chars().count()).max().unwrap_or(0);
    let mut out = String::new();
    for e in editions {
        let line = format!(
            "{:>4}  {}  {:did$}  {}",
            e.number,
            when::words(e.at),
            deed(&e.deed),
            cut(&e.content.title)
        );
        out.push_str(line.trim_end());
        out.push('\n');
    }
    out
}
