//! The shelf as JSON; see docs/json.md.

use std::path::Path;

use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_store::RiffId;
use riffkin_store::history::Edition;
use riffkin_store::riff::{Content, Entry};
use riffkin_store::whole::Whole;
use serde::Serialize;
use serde_json::{Value, json};

use super::adding::Tally;
use super::changing::Changed;
use crate::app::shelf::{Exported, Soundness, when};
use crate::cli::json::VERSION;

#[derive(Serialize)]
struct EntryJson {
    id: i64,
    title: String,
    key: Option<String>,
    key_found: Option<String>,
    meter: String,
    notes: u32,
    degrees: Vec<String>,
    source: String,
    permission: &'static str,
    tags: Vec<String>,
    note: String,
    edition: u32,
    removed: bool,
    added: String,
    changed: String,
}

fn entry(entry: &Entry, content: &Content) -> EntryJson {
    let set = DegreeSet::from_slots((0..12).filter(|slot| entry.facts.degrees >> slot & 1 == 1));
    let key = Some(entry.facts.key.clone()).filter(|k| !k.is_empty());
    let found = key.as_deref().and_then(|k| k.strip_prefix('~')).map(str::to_owned);
    EntryJson {
        id: entry.id.0,
        title: content.title.clone(),
        key: key.filter(|_| found.is_none()),
        key_found: found,
        meter: entry.facts.meter.clone(),
        notes: entry.facts.notes,
        degrees: set.slots().map(|slot| Degree::usual(slot).to_string()).collect(),
        source: content.source.clone(),
        permission: content.permission.words(),
        tags: content.tags.clone(),
        note: content.note.clone(),
        edition: entry.edition,
        removed: entry.removed,
        added: when::print(entry.added),
        changed: when::print(entry.changed),
    }
}

pub(super) fn list(path: &Path, all: u64, found: &[(Entry, Content)]) -> Value {
    let riffs: Vec<_> = found.iter().map(|(e, c)| entry(e, c)).collect();
    json!({ "version": VERSION, "shelf": path.display().to_string(), "count": all, "riffs": riffs })
}

pub(super) fn riff(whole: &Whole, edition: &Edition) -> Value {
    let files: Vec<_> = whole
        .imports
        .iter()
        .map(|f| {
            json!({ "name": f.import.name, "kind": f.import.kind, "at": when::print(f.at), "kept": f.kept })
        })
        .collect();
    let content = &edition.content;
    json!({
        "version": VERSION,
        "riff": entry(&whole.entry, &whole.editions.last().map(|e| e.content.clone()).unwrap_or_default()),
        "files": files,
        "shown": state(edition),
        "notation": content.notation,
    })
}

fn state(edition: &Edition) -> Value {
    let content = &edition.content;
    json!({
        "edition": edition.number,
        "at": when::print(edition.at),
        "did": edition.deed.to_string(),
        "removed": edition.removed,
        "title": content.title,
        "source": content.source,
        "permission": content.permission.words(),
        "tags": content.tags,
        "note": content.note,
        "notation": content.notation,
    })
}

pub(super) fn history(id: RiffId, editions: &[Edition]) -> Value {
    json!({ "version": VERSION, "id": id.0, "history": editions.iter().map(state).collect::<Vec<_>>() })
}

pub(super) fn tags(tags: &[(String, u64)]) -> Value {
    let tags: Vec<_> = tags.iter().map(|(tag, count)| json!({ "tag": tag, "count": count })).collect();
    json!({ "version": VERSION, "tags": tags })
}

pub(super) fn place(path: &Path, there: bool) -> Value {
    json!({ "version": VERSION, "shelf": path.display().to_string(), "there": there })
}

pub(super) fn added(path: &Path, tally: &Tally) -> Value {
    let added: Vec<_> = tally
        .added
        .iter()
        .map(|(id, title, file)| json!({ "id": id.0, "title": title, "file": file }))
        .collect();
    let left_out: Vec<_> = tally
        .left_out
        .iter()
        .map(|(file, equal)| {
            json!({ "file": file, "id": equal.id.0, "title": equal.title, "removed": equal.removed,
                    "alike": equal.alike.words() })
        })
        .collect();
    let refused: Vec<_> =
        tally.refused.iter().map(|(file, why)| json!({ "file": file, "why": why })).collect();
    json!({
        "version": VERSION, "shelf": path.display().to_string(), "added": added, "left_out": left_out, "refused": refused,
    })
}

pub(super) fn changed(all: &[Changed]) -> Value {
    let riffs: Vec<_> = all
        .iter()
        .map(|c| json!({ "id": c.id.0, "title": c.title, "edition": c.edition, "did": c.did.as_ref().map(ToString::to_string) }))
        .collect();
    json!({ "version": VERSION, "riffs": riffs })
}

pub(super) fn purged(ids: &[RiffId]) -> Value {
    json!({ "version": VERSION, "purged": ids.iter().map(|id| id.0).collect::<Vec<_>>() })
}

pub(super) fn soundness(path: &Path, found: &Soundness, renewed: usize) -> Value {
    json!({
        "version": VERSION,
        "shelf": path.display().to_string(),
        "riffs": found.riffs,
        "editions": found.editions,
        "faults": found.faults,
        "outdated": found.outdated.iter().map(|id| id.0).collect::<Vec<_>>(),
        "renewed": renewed,
    })
}

pub(super) fn exported(folder: &Path, exported: &Exported) -> Value {
    json!({
        "version": VERSION,
        "folder": folder.display().to_string(),
        "riffs": exported.riffs,
        "removed": exported.removed,
        "not_free": exported.not_free,
        "reminder": exported.reminder,
    })
}

pub(super) fn backup(file: &Path, bytes: u64) -> Value {
    json!({ "version": VERSION, "file": file.display().to_string(), "bytes": bytes })
}
