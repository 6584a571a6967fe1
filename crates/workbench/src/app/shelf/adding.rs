//! Putting a file on the shelf, unless the shelf has its riff already.

use std::fs::File;
use std::hash::Hasher as _;
use std::io::Read;
use std::path::{Path, PathBuf};

use riffkin_formats::detect::ReadOptions;
use riffkin_formats::riff_text;
use riffkin_kin::imprint::Imprint;
use riffkin_score::Warning;
use riffkin_score::riff::{Header, Riff};
use riffkin_store::imports::Import;
use riffkin_store::riff::{Content, New};
use riffkin_store::{Moment, Permission, RiffId, Shelf, StoreError};
use siphasher::sip128::{Hasher128, SipHasher24};

use super::ShelfError;
use super::known::{Known, RULES};
use crate::app::intake::{self, IntakeError};

/// Most riffs of one likeness that are compared.
const MOST_ALIKE: u32 = 1_000;

/// What to do beside reading the file.
#[derive(Clone, Debug, Default)]
pub struct Adding {
    /// How to read it.
    pub options: ReadOptions,
    /// Add it even if the shelf has the same.
    pub alike_too: bool,
    /// Tags for what is added.
    pub tags: Vec<String>,
    /// The source, where the file names none.
    pub source: Option<String>,
    /// The permission; else what the file says, where that is one of ours.
    pub permission: Option<Permission>,
}

/// In which way a riff is on the shelf already.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Alike {
    /// A file of the very same bytes was read before.
    Bytes,
    /// The same notes in the same places.
    Notes,
    /// The same, so many octaves higher (lower below zero).
    Octaves(i32),
    /// The same, so many semitones higher (lower below zero).
    Semitones(i32),
}

impl Alike {
    /// In words.
    pub fn words(self) -> String {
        match self {
            Self::Bytes => "the same file".to_owned(),
            Self::Notes => "the same riff".to_owned(),
            Self::Octaves(n) => format!("the same riff, {}", far(n, "octave")),
            Self::Semitones(n) => format!("the same riff in another key, {}", far(n, "semitone")),
        }
    }

    /// In words, with the riff that it equals: `the same riff as 8 Ferry Stomp, 3 semitones higher`.
    pub fn as_said_of(self, riff: &str) -> String {
        match self {
            Self::Bytes => format!("the same file as {riff}"),
            Self::Notes => format!("the same riff as {riff}"),
            Self::Octaves(n) => format!("the same riff as {riff}, {}", far(n, "octave")),
            Self::Semitones(n) => format!("the same riff as {riff}, {}", far(n, "semitone")),
        }
    }
}

fn far(n: i32, what: &str) -> String {
    let way = if n < 0 { "lower" } else { "higher" };
    format!("{} {what}{} {way}", n.unsigned_abs(), if n.unsigned_abs() == 1 { "" } else { "s" })
}

/// A riff on the shelf that a file equals.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Equal {
    /// Its number.
    pub id: RiffId,
    /// Its name.
    pub title: String,
    /// True when it was removed.
    pub removed: bool,
    /// In which way.
    pub alike: Alike,
}

/// A riff that is now on the shelf.
#[derive(Clone, Debug)]
pub struct Added {
    /// Its number.
    pub id: RiffId,
    /// Its name.
    pub title: String,
    /// What it equals all the same.
    pub equal: Option<Equal>,
    /// What was left out, guessed or changed on reading.
    pub warnings: Vec<Warning>,
}

/// What became of a file.
#[derive(Clone, Debug)]
pub enum Outcome {
    /// Its riff is on the shelf and safe.
    Added(Added),
    /// The shelf has it already.
    LeftOut(Equal),
}

/// Why a file was not put on the shelf.
#[derive(Debug, thiserror::Error)]
pub enum AddError {
    /// It gave no riff; others may.
    #[error(transparent)]
    File(#[from] IntakeError),
    /// The shelf took nothing, and will take nothing else.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
}

impl From<StoreError> for AddError {
    fn from(e: StoreError) -> Self {
        Self::Shelf(e.into())
    }
}

/// Puts the riff of one file on the shelf. When this returns, the riff is safe.
///
/// # Errors
/// [`AddError`].
pub fn add(shelf: &mut Shelf, path: &Path, adding: &Adding, at: Moment) -> Result<Outcome, AddError> {
    // Names what is wrong with a path before anything is read.
    intake::kind(path)?;
    let digest = digest(path).map_err(|source| IntakeError::Io { path: path.to_owned(), source })?;
    let same = match shelf.with_digest(&digest)? {
        Some(id) => Some(equal(shelf, id, Alike::Bytes)?),
        None => None,
    };
    if let Some(same) = same.clone().filter(|_| !adding.alike_too) {
        return Ok(Outcome::LeftOut(same));
    }
    let taken = intake::take(path, &adding.options)?;
    let known = Known::of(&taken.riff);
    let import = Import { digest, name: name_of(path), kind: taken.kind.name().to_owned() };
    let (content, known) = content(taken.riff, known, adding);
    let new = New { content: &content, facts: &known.facts, prints: &known.prints, import: Some(&import) };
    loop {
        let newest = shelf.newest()?;
        let same = match shelf.with_digest(&import.digest)? {
            Some(id) => Some(equal(shelf, id, Alike::Bytes)?),
            None => alike(shelf, &known)?,
        };
        if let Some(same) = same.clone().filter(|_| !adding.alike_too) {
            if same.alike != Alike::Bytes {
                shelf.seen(same.id, &import, at)?;
            }
            return Ok(Outcome::LeftOut(same));
        }
        // Another program may have added the same meanwhile: then everything is looked at again.
        if let Some(id) = shelf.add_next(newest, &new, at)? {
            let added = Added { id, title: content.title.clone(), equal: same, warnings: taken.warnings };
            return Ok(Outcome::Added(added));
        }
    }
}

/// What is kept of a riff that is new to the shelf.
fn content(riff: Riff, known: Known, adding: &Adding) -> (Content, Known) {
    let header = riff.header().clone();
    let said = header.permission.as_deref().and_then(Permission::of_words);
    let permission = adding.permission.or(said).unwrap_or_default();
    let source = header.source.clone().or_else(|| adding.source.clone());
    let words = adding.permission.map(|p| p.words().to_owned());
    let riff = riff.with_header(Header { source, permission: header.permission.clone().or(words), ..header });
    let header = riff.header();
    let content = Content {
        title: header.title.clone(),
        notation: riff_text::print(&riff),
        source: header.source.clone().unwrap_or_default(),
        permission,
        note: String::new(),
        tags: adding.tags.clone(),
    };
    (content, known)
}

/// The riff on the shelf that is most alike: the same notes before another octave before another key, and among those one
/// that was not removed before one that was.
pub(super) fn alike(shelf: &Shelf, known: &Known) -> Result<Option<Equal>, StoreError> {
    if known.prints.likeness.is_empty() {
        return Ok(None);
    }
    let here = first_note(&known.prints.imprint);
    let mut best: Option<(Alike, bool, RiffId)> = None;
    for id in shelf.alike(RULES, &known.prints.likeness, MOST_ALIKE)? {
        let there = shelf.prints(id)?.and_then(|p| first_note(&p.imprint));
        let (Some(here), Some(there)) = (here, there) else { continue };
        let alike = match i32::from(here) - i32::from(there) {
            0 => Alike::Notes,
            n if n % 12 == 0 => Alike::Octaves(n / 12),
            n => Alike::Semitones(n),
        };
        let found = (alike, shelf.entry(id)?.removed, id);
        if best.is_none_or(|best| found < best) {
            best = Some(found);
        }
    }
    best.map(|(alike, _, id)| equal(shelf, id, alike)).transpose()
}

fn equal(shelf: &Shelf, id: RiffId, alike: Alike) -> Result<Equal, StoreError> {
    let entry = shelf.entry(id)?;
    Ok(Equal { id, title: entry.title, removed: entry.removed, alike })
}

/// The MIDI number of the first sounding note.
fn first_note(imprint: &[u8]) -> Option<u8> {
    Imprint::from_bytes(imprint).ok()?.notes().first().map(|n| n.midi)
}

/// The name of a file without its folder, which is nobody's business.
fn name_of(path: &Path) -> String {
    PathBuf::from(path.file_name().unwrap_or_default()).display().to_string()
}

/// 128 bits that tell a file's bytes from any others that come by chance (SipHash-2-4, Aumasson and Bernstein 2012, without
/// a secret key).
fn digest(path: &Path) -> std::io::Result<Vec<u8>> {
    let mut file = File::open(path)?;
    let mut hash = SipHasher24::new();
    let mut block = vec![0; 1 << 16];
    loop {
        match file.read(&mut block)? {
            0 => break,
            n => hash.write(block.get(..n).unwrap_or_default()),
        }
    }
    Ok(hash.finish128().as_bytes().to_vec())
}
