//! `shelf`: the teacher's whole collection.

mod adding;
pub(super) mod args;
mod changing;
mod json;
mod looking;
mod own;
mod progress;
mod text;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};

use riffkin_store::{Access, Permission, RiffId, Shelf};

use super::{Failure, notice, say};
use crate::app::shelf;
use args::Task;

/// Most riffs that one command may name.
const MOST: usize = 100_000;

/// The shelf of a command, and how its results are said.
struct Desk {
    path: PathBuf,
    json: bool,
}

pub(super) fn shelf(words: &args::Shelf) -> Result<(), Failure> {
    let desk = Desk { path: shelf::place(words.shelf.clone())?, json: words.json };
    match &words.task {
        Task::Add(words) => adding::add(&desk, words),
        Task::List(words) => looking::list(&desk, words),
        Task::Find(words) => looking::find(&desk, words),
        Task::Show(words) => looking::show(&desk, words),
        Task::Tags => looking::tags(&desk),
        Task::History(words) => looking::history(&desk, words),
        Task::Check(words) => looking::check(&desk, words),
        Task::Where => looking::place(&desk),
        Task::Export(words) => looking::export(&desk, words),
        Task::Backup(words) => looking::backup(&desk, words),
        Task::Tag(words) => changing::tag(&desk, words),
        Task::Title(words) => changing::title(&desk, words),
        Task::Note(words) => changing::note(&desk, words),
        Task::Source(words) => changing::source(&desk, words),
        Task::Permission(words) => changing::permission(&desk, words),
        Task::Edit(words) => changing::edit(&desk, words),
        Task::Undo(words) => changing::undo(&desk, words),
        Task::Remove(words) => changing::remove(&desk, words),
        Task::Restore(words) => changing::restore(&desk, words),
        Task::Purge(words) => changing::purge(&desk, words),
        Task::Neck(words) => own::neck(&desk, words),
        Task::Hand(words) => own::hand(&desk, words),
        Task::Taste(words) => own::taste(&desk, words),
    }
}

/// Opens a shelf; an older one that was brought up to date is mentioned.
pub(super) fn open(path: &Path, access: Access) -> Result<Shelf, Failure> {
    let shelf = shelf::open(path, access)?;
    if let Some(migrated) = shelf.migrated() {
        notice(&format!(
            "note: the shelf was brought from layout {} to {}; what it was before is in {}",
            migrated.from,
            migrated.to,
            migrated.backup.display()
        ));
    }
    Ok(shelf)
}

/// The shelf that was named, else the usual one, to look at; nothing where there is none.
pub(super) fn there(named: Option<&Path>) -> Result<Option<Shelf>, Failure> {
    match shelf::place(named.map(Path::to_owned)) {
        Ok(path) if named.is_some() || exists(&path) => open(&path, Access::Read).map(Some),
        _ => Ok(None),
    }
}

impl Desk {
    /// Opens the shelf.
    fn open(&self, access: Access) -> Result<Shelf, Failure> {
        open(&self.path, access)
    }

    /// The shelf's place, if there is one.
    fn there(&self) -> Option<&Path> {
        Some(self.path.as_path()).filter(|path| exists(path))
    }

    /// A result, as JSON or as text.
    fn say(&self, json: impl FnOnce() -> String, text: impl FnOnce() -> String) -> Result<(), Failure> {
        say(&if self.json { json() } else { text() })
    }

    /// One line of a result that grows; with `--json` nothing is said until the end.
    fn line(&self, line: &str) -> Result<(), Failure> {
        if self.json { Ok(()) } else { say(&format!("{line}\n")) }
    }
}

/// `3,5,8-12` as numbers, each once, in the order in which they were written.
fn numbers(text: &str) -> Result<Vec<RiffId>, Failure> {
    let wrong = || Failure::Words(format!("'{text}' are no numbers of riffs; write 7, or 3,5,8-12"));
    let (mut ids, mut named) = (Vec::new(), BTreeSet::new());
    for part in text.split([',', ' ']).filter(|p| !p.is_empty()) {
        let (first, last) = part.split_once('-').unwrap_or((part, part));
        let number = |t: &str| t.parse::<i64>().ok().filter(|n| *n > 0).ok_or_else(wrong);
        let (first, last) = (number(first)?, number(last)?);
        if last < first {
            return Err(wrong());
        }
        for id in (first..=last).map(RiffId) {
            if ids.len() >= MOST {
                return Err(Failure::Words(format!("'{text}' names more than {MOST} riffs")));
            }
            if named.insert(id) {
                ids.push(id);
            }
        }
    }
    if ids.is_empty() { Err(wrong()) } else { Ok(ids) }
}

fn permission(text: &str) -> Result<Permission, Failure> {
    Permission::of_words(text).ok_or_else(|| {
        let known: Vec<_> = Permission::ALL.iter().map(|p| p.words()).collect();
        Failure::Words(format!("'{text}' is no permission; write one of: {}", known.join(", ")))
    })
}

/// The ending of a word after a number.
fn s(count: usize) -> &'static str {
    if count == 1 { "" } else { "s" }
}

fn exists(path: &Path) -> bool {
    path.symlink_metadata().is_ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_listed_and_ranged() {
        let ids = |text: &str| numbers(text).ok().map(|ids| ids.into_iter().map(|i| i.0).collect::<Vec<_>>());
        assert_eq!(ids("7"), Some(vec![7]));
        assert_eq!(ids("3,5, 8-10,9"), Some(vec![3, 5, 8, 9, 10]));
        for wrong in ["", ",", "0", "-3", "5-3", "x", "1-", "1-999999999", "99999999999999999999"] {
            assert_eq!(ids(wrong), None, "{wrong}");
        }
    }
}
