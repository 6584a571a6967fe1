//! A shelf as plain files: the index that lies beside the riffs, and the way back.

use std::fs;
use std::path::{Component, Path, PathBuf};

use riffkin_formats::riff_text;
use riffkin_store::history::{Deed, Edition};
use riffkin_store::imports::{Import, Imported};
use riffkin_store::necks::KeptNeck;
use riffkin_store::riff::Content;
use riffkin_store::settings::Setting;
use riffkin_store::whole::Former;
use riffkin_store::{Moment, Permission, RiffId, Shelf, StoreError};
use serde::{Deserialize, Serialize};

use super::adding::{Equal, alike};
use super::known::Known;
use super::{ShelfError, when};
use crate::app::intake;

/// The name of the index.
pub const INDEX: &str = "shelf.json";
/// The layout of the index.
pub const LAYOUT: u32 = 1;
/// What an index has at its beginning.
const MARK: &str = "\"riffkin_shelf\"";

/// The index of an exported shelf.
#[derive(Debug, Serialize, Deserialize)]
pub struct Index {
    /// The layout of this file.
    pub riffkin_shelf: u32,
    /// When it was written.
    pub exported: String,
    /// About copying what is in it.
    pub reminder: String,
    /// The riffs.
    pub riffs: Vec<RiffInIndex>,
    /// The teacher's own necks.
    #[serde(default)]
    pub necks: Vec<Named>,
    /// Settings.
    #[serde(default)]
    pub settings: Vec<Named>,
}

/// A riff as it stands.
#[derive(Debug, Serialize, Deserialize)]
pub struct RiffInIndex {
    /// Its number.
    pub id: i64,
    /// Its name.
    pub title: String,
    /// The file of its text, below the folder.
    pub file: String,
    /// Whether it was removed.
    #[serde(default)]
    pub removed: bool,
    /// Where it comes from.
    #[serde(default)]
    pub source: String,
    /// What may be done with it.
    pub permission: String,
    /// Its tags.
    #[serde(default)]
    pub tags: Vec<String>,
    /// The teacher's note.
    #[serde(default)]
    pub note: String,
    /// What was done to it, the first first; the last led to what stands above.
    pub history: Vec<DoneInIndex>,
    /// The files that it was found in.
    #[serde(default)]
    pub files: Vec<FileInIndex>,
}

/// Something that was done to a riff.
#[derive(Debug, Serialize, Deserialize)]
pub struct DoneInIndex {
    /// When.
    pub at: String,
    /// What.
    pub did: String,
    /// What the riff was after that; left out in the last, where it stands above.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub was: Option<WasInIndex>,
}

/// An earlier state of a riff.
#[derive(Debug, Serialize, Deserialize)]
pub struct WasInIndex {
    /// Its name then.
    pub title: String,
    /// The file of its text then.
    pub file: String,
    /// Whether it was then removed.
    #[serde(default)]
    pub removed: bool,
    /// Its source then.
    #[serde(default)]
    pub source: String,
    /// Its permission then.
    pub permission: String,
    /// Its tags then.
    #[serde(default)]
    pub tags: Vec<String>,
    /// The note then.
    #[serde(default)]
    pub note: String,
}

/// A file that a riff was found in.
#[derive(Debug, Serialize, Deserialize)]
pub struct FileInIndex {
    /// Its name.
    pub name: String,
    /// What it was recognised as.
    pub kind: String,
    /// When it was read.
    pub at: String,
    /// The digest of its bytes, in hexadecimal digits.
    pub digest: String,
    /// False when the shelf had its riff already.
    pub kept: bool,
}

/// A neck or a setting.
#[derive(Debug, Serialize, Deserialize)]
pub struct Named {
    /// Its name.
    pub name: String,
    /// The layout of its body.
    pub version: u32,
    /// When it was changed.
    pub changed: String,
    /// Its body, where that is text.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub text: Option<String>,
    /// Its body in hexadecimal digits, where it is not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub bytes: Option<String>,
}

/// Why an exported shelf could not be read.
#[derive(Debug, thiserror::Error)]
pub enum ImportError {
    /// A file is missing or cannot be read.
    #[error(transparent)]
    File(#[from] intake::IntakeError),
    /// The index, or a riff, is not what it should be.
    #[error("{}: {message}", path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What is wrong, and where.
        message: String,
    },
    /// The shelf did not take it.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
}

impl From<StoreError> for ImportError {
    fn from(e: StoreError) -> Self {
        Self::Shelf(e.into())
    }
}

/// Whether a shelf was exported to this folder.
pub fn is_export(folder: &Path) -> bool {
    let mut head = Vec::new();
    fs::File::open(folder.join(INDEX))
        .and_then(|file| std::io::Read::read_to_end(&mut std::io::Read::take(file, 256), &mut head))
        .is_ok_and(|_| String::from_utf8_lossy(&head).contains(MARK))
}

/// Bytes as hexadecimal digits.
pub fn hex(bytes: &[u8]) -> String {
    bytes.iter().map(|b| format!("{b:02x}")).collect()
}

fn unhex(text: &str) -> Option<Vec<u8>> {
    let digit = |c: &u8| char::from(*c).to_digit(16);
    text.as_bytes()
        .chunks(2)
        .map(|pair| match pair {
            [a, b] => u8::try_from(digit(a)? * 16 + digit(b)?).ok(),
            _ => None,
        })
        .collect()
}

/// What came back from an export.
#[derive(Debug, Default)]
pub struct CameBack {
    /// Riffs that are on the shelf now: number and name.
    pub added: Vec<(RiffId, String)>,
    /// Riffs that the shelf had already, by their file.
    pub left_out: Vec<(PathBuf, Equal)>,
}

/// Puts an exported shelf on a shelf: the riffs with their history, all of them or none on an error, then necks and settings.
/// Riffs that were on the shelf before are left out unless `alike_too`; a neck or setting that is there stays as it is.
///
/// # Errors
/// [`ImportError`].
pub fn put_back(shelf: &mut Shelf, folder: &Path, alike_too: bool) -> Result<CameBack, ImportError> {
    let path = folder.join(INDEX);
    let wrong = |message: String| ImportError::Content { path: path.clone(), message };
    let index: Index = serde_json::from_slice(&intake::bytes(&path)?).map_err(|e| wrong(e.to_string()))?;
    if index.riffkin_shelf != LAYOUT {
        return Err(wrong(format!(
            "the index has layout {}, and this program reads layout {LAYOUT}; use the program that wrote it",
            index.riffkin_shelf
        )));
    }
    let (mut formers, mut back) = (Vec::new(), CameBack::default());
    let empty = shelf.count()? == (0, 0);
    for riff in &index.riffs {
        let (former, text) = former(folder, riff)?;
        let known = Known { facts: former.facts.clone(), prints: former.prints.clone() };
        // A shelf may hold the same riff twice on purpose; only what was here before counts.
        let same = if alike_too || empty { None } else { alike(shelf, &known)? };
        match same {
            Some(equal) => back.left_out.push((text, equal)),
            None => formers.push(former),
        }
    }
    let ids = shelf.put_back(&formers)?;
    let titles = formers.into_iter().filter_map(|f| f.editions.last().map(|e| e.content.title.clone()));
    back.added = ids.into_iter().zip(titles).collect();
    let moment = |text: &str| when::read(text).ok_or_else(|| wrong(format!("'{text}' is no instant")));
    let body = |named: &Named| match (&named.text, &named.bytes) {
        (Some(text), _) => Ok(text.clone().into_bytes()),
        (None, Some(bytes)) => {
            unhex(bytes).ok_or_else(|| wrong(format!("'{bytes}' are no hexadecimal digits")))
        }
        (None, None) => Ok(Vec::new()),
    };
    for neck in &index.necks {
        if shelf.neck(&neck.name)?.is_none() {
            let body = String::from_utf8_lossy(&body(neck)?).into_owned();
            let changed = moment(&neck.changed)?;
            shelf.keep_neck(&KeptNeck { name: neck.name.clone(), version: neck.version, body, changed })?;
        }
    }
    for setting in &index.settings {
        if shelf.setting(&setting.name)?.is_none() {
            let (body, changed) = (body(setting)?, moment(&setting.changed)?);
            shelf.keep_setting(&Setting {
                name: setting.name.clone(),
                version: setting.version,
                body,
                changed,
            })?;
        }
    }
    Ok(back)
}

/// A riff of the index with its texts, and the file of its present text.
fn former(folder: &Path, riff: &RiffInIndex) -> Result<(Former, PathBuf), ImportError> {
    let index = folder.join(INDEX);
    let wrong = |message: String| ImportError::Content {
        path: index.clone(),
        message: format!("riff {} ({}): {message}", riff.id, riff.title),
    };
    let moment = |text: &str| when::read(text).ok_or_else(|| wrong(format!("'{text}' is no instant")));
    let permission = |words: &str| {
        Permission::of_words(words)
            .ok_or_else(|| wrong(format!("'{words}' is no permission this program knows")))
    };
    let mut editions = Vec::new();
    let last = riff.history.len().saturating_sub(1);
    let mut newest = None;
    for (i, done) in riff.history.iter().enumerate() {
        let now = WasInIndex {
            title: riff.title.clone(),
            file: riff.file.clone(),
            removed: riff.removed,
            source: riff.source.clone(),
            permission: riff.permission.clone(),
            tags: riff.tags.clone(),
            note: riff.note.clone(),
        };
        let was = match &done.was {
            Some(was) if i < last => was,
            None if i < last => {
                return Err(wrong(format!("edition {} does not say what the riff was", i + 1)));
            }
            _ => &now,
        };
        let (read, notation) = text(folder, &was.file)?;
        let deed: Deed =
            done.did.parse().map_err(|e: riffkin_store::history::NotADeed| wrong(e.to_string()))?;
        editions.push(Edition {
            number: u32::try_from(i + 1).unwrap_or(u32::MAX),
            at: moment(&done.at)?,
            deed,
            removed: was.removed,
            content: Content {
                title: was.title.clone(),
                notation,
                source: was.source.clone(),
                permission: permission(&was.permission)?,
                note: was.note.clone(),
                tags: was.tags.clone(),
            },
        });
        newest = Some(read);
    }
    let Some(newest) = newest else { return Err(wrong("it has no history".to_owned())) };
    let known = Known::of(&newest);
    let imports = riff
        .files
        .iter()
        .map(|file| {
            let digest =
                unhex(&file.digest).ok_or_else(|| wrong(format!("'{}' is no digest", file.digest)))?;
            let import = Import { digest, name: file.name.clone(), kind: file.kind.clone() };
            Ok(Imported { import, at: moment(&file.at)?, kept: file.kept })
        })
        .collect::<Result<_, ImportError>>()?;
    let former = Former { id: RiffId(riff.id), editions, imports, facts: known.facts, prints: known.prints };
    Ok((former, folder.join(&riff.file)))
}

/// The riff in a file of the export, and its text.
fn text(folder: &Path, file: &str) -> Result<(riffkin_score::riff::Riff, String), ImportError> {
    let inside = Path::new(file).components().all(|c| matches!(c, Component::Normal(_)));
    let path = folder.join(file);
    let wrong = |message: String| ImportError::Content { path: path.clone(), message };
    if !inside || file.is_empty() {
        return Err(wrong("the index names a file that does not lie in the folder".to_owned()));
    }
    let bytes = intake::bytes(&path)?;
    let text = String::from_utf8(bytes).map_err(|e| wrong(format!("it is not UTF-8: {e}")))?;
    let (riff, _) = riff_text::parse(&text).map_err(|e| wrong(e.to_string()))?;
    let printed = riff_text::print(&riff);
    Ok((riff, printed))
}

/// An instant as the index has it.
pub fn instant(at: Moment) -> String {
    when::print(at)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn bytes_go_through_hexadecimal_digits() {
        assert_eq!(unhex(&hex(&[0, 255, 16])), Some(vec![0, 255, 16]));
        assert_eq!((unhex("0"), unhex("zz"), unhex("é")), (None, None, None));
    }
}
