//! The whole shelf as plain files: a text for every riff and every state it had, and one index.

use std::fs;
use std::path::{Path, PathBuf};

use riffkin_store::whole::Whole;
use riffkin_store::{Moment, Permission, Shelf};

use super::ShelfError;
use super::exported::{
    DoneInIndex, FileInIndex, INDEX, Index, LAYOUT, Named, RiffInIndex, WasInIndex, hex, instant,
};
use crate::app::output::{self, WriteError};

/// About copying.
const REMINDER: &str = "A transcription of somebody's song may need the owner's permission where you live; this is no legal \
                        advice.";
/// Characters of a title in a file's name.
const LONGEST: usize = 40;

/// What was written.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Exported {
    /// Riffs, removed ones too.
    pub riffs: usize,
    /// Of those, removed ones.
    pub removed: usize,
    /// Riffs that are for class only, or of which nobody has said what may be done with them.
    pub not_free: usize,
    /// The reminder about copying.
    pub reminder: &'static str,
}

/// Why the shelf was not exported. No part of it is left.
#[derive(Debug, thiserror::Error)]
pub enum ExportError {
    /// The folder has something in it.
    #[error("{} has something in it already; give a new folder", .0.display())]
    Taken(PathBuf),
    /// It could not be written.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// The shelf could not be read.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
}

impl From<riffkin_store::StoreError> for ExportError {
    fn from(e: riffkin_store::StoreError) -> Self {
        Self::Shelf(e.into())
    }
}

/// Writes everything on the shelf into a new folder, which appears when it is whole. `progress` is told how many riffs of how
/// many are written.
///
/// # Errors
/// [`ExportError`].
pub fn export(
    shelf: &Shelf,
    folder: &Path,
    at: Moment,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Exported, ExportError> {
    let taken = match fs::read_dir(folder) {
        Ok(mut entries) => entries.next().is_some(),
        Err(_) => folder.symlink_metadata().is_ok(),
    };
    if taken {
        return Err(ExportError::Taken(folder.to_owned()));
    }
    output::build_folder(folder, |beside| write(shelf, beside, at, progress))
}

fn write(
    shelf: &Shelf,
    folder: &Path,
    at: Moment,
    progress: &mut dyn FnMut(usize, usize),
) -> Result<Exported, ExportError> {
    shelf.at_rest(|shelf| {
        let mut exported = Exported { reminder: REMINDER, ..Exported::default() };
        let mut index = Index {
            riffkin_shelf: LAYOUT,
            exported: instant(at),
            reminder: REMINDER.to_owned(),
            riffs: Vec::new(),
            necks: Vec::new(),
            settings: Vec::new(),
        };
        let ids = shelf.numbers()?;
        for (i, &id) in ids.iter().enumerate() {
            progress(i, ids.len());
            let whole = shelf.whole(id)?;
            exported.riffs += 1;
            exported.removed += usize::from(whole.entry.removed);
            let free = !matches!(whole.entry.permission, Permission::ForClassOnly | Permission::Unknown);
            exported.not_free += usize::from(!free && !whole.entry.removed);
            index.riffs.push(riff(folder, &whole)?);
        }
        index.necks = shelf
            .necks()?
            .into_iter()
            .map(|n| named(n.name, n.version, n.changed, n.body.into_bytes()))
            .collect();
        index.settings =
            shelf.settings()?.into_iter().map(|s| named(s.name, s.version, s.changed, s.body)).collect();
        // Strings, numbers and lists always serialise.
        let text = serde_json::to_string_pretty(&index).unwrap_or_default() + "\n";
        output::write_new(&folder.join(INDEX), text.as_bytes())?;
        Ok(exported)
    })
}

fn named(name: String, version: u32, changed: Moment, body: Vec<u8>) -> Named {
    let (text, bytes) = match String::from_utf8(body) {
        Ok(text) => (Some(text), None),
        Err(e) => (None, Some(hex(e.as_bytes()))),
    };
    Named { name, version, changed: instant(changed), text, bytes }
}

/// Writes the texts of one riff; gives its part of the index.
fn riff(folder: &Path, whole: &Whole) -> Result<RiffInIndex, ExportError> {
    let entry = &whole.entry;
    let name = format!("{:04}-{}", entry.id.0, in_file_names(&entry.title));
    let place = if entry.removed { "removed" } else { "riffs" };
    let present = format!("{place}/{name}.riff");
    let last = whole.editions.last();
    // Each text is written once, the present one first.
    let mut written: Vec<(&str, String)> = Vec::new();
    let put = |path: String, notation: &str| output::write_new(&folder.join(path), notation.as_bytes());
    if let Some(last) = last {
        put(present.clone(), &last.content.notation)?;
        written.push((&last.content.notation, present.clone()));
    }
    let mut history = Vec::new();
    for edition in &whole.editions {
        let was = if Some(edition.number) == last.map(|l| l.number) {
            None
        } else {
            let content = &edition.content;
            let known = written.iter().find(|(text, _)| *text == content.notation).map(|(_, f)| f.clone());
            let file = match known {
                Some(file) => file,
                None => {
                    let path = format!("earlier/{name}.{}.riff", edition.number);
                    put(path.clone(), &content.notation)?;
                    written.push((&content.notation, path.clone()));
                    path
                }
            };
            Some(WasInIndex {
                title: content.title.clone(),
                file,
                removed: edition.removed,
                source: content.source.clone(),
                permission: content.permission.words().to_owned(),
                tags: content.tags.clone(),
                note: content.note.clone(),
            })
        };
        history.push(DoneInIndex { at: instant(edition.at), did: edition.deed.to_string(), was });
    }
    let content = last.map(|l| l.content.clone()).unwrap_or_default();
    let files = whole
        .imports
        .iter()
        .map(|i| FileInIndex {
            name: i.import.name.clone(),
            kind: i.import.kind.clone(),
            at: instant(i.at),
            digest: hex(&i.import.digest),
            kept: i.kept,
        })
        .collect();
    Ok(RiffInIndex {
        id: entry.id.0,
        title: content.title,
        file: present,
        removed: entry.removed,
        source: content.source,
        permission: content.permission.words().to_owned(),
        tags: content.tags,
        note: content.note,
        history,
        files,
    })
}

/// A title as part of a file's name on any system: small letters and digits of ASCII, hyphens for everything else.
fn in_file_names(title: &str) -> String {
    let mut out = String::new();
    for c in title.chars().flat_map(char::to_lowercase) {
        if out.len() >= LONGEST {
            break;
        }
        if c.is_ascii_alphanumeric() {
            out.push(c);
        } else if !out.is_empty() && !out.ends_with('-') {
            out.push('-');
        }
    }
    let out = out.trim_end_matches('-');
    if out.is_empty() { "riff".to_owned() } else { out.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::in_file_names;

    #[test]
    fn titles_become_names_of_files() {
        for (title, name) in [
            ("Net Mender", "net-mender"),
            ("  ../../etc/passwd", "etc-passwd"),
            ("Übung №5!", "bung-5"),
            ("🎸", "riff"),
            ("", "riff"),
        ] {
            assert_eq!(in_file_names(title), name);
        }
        assert!(in_file_names(&"long ".repeat(100)).len() <= 40);
    }
}
