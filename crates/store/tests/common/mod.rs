//! Folders and riffs for the tests of the shelf. The riffs are invented: what is kept does not depend on the music.

#![allow(dead_code, reason = "each test file uses what it needs")]
#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use std::fs;
use std::path::{Path, PathBuf};

use riffkin_store::prints::Prints;
use riffkin_store::riff::{Content, Facts, New};
use riffkin_store::{Access, Moment, RiffId, Shelf};

/// A folder of its own for each test, removed when the test is over.
pub(crate) struct Folder(pub(crate) PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("riffkin-store-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    pub(crate) fn file(&self, name: &str) -> PathBuf {
        self.0.join(name)
    }

    /// Names of the files in it, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        let mut names: Vec<_> =
            fs::read_dir(&self.0).unwrap().map(|e| e.unwrap().file_name().into_string().unwrap()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

pub(crate) fn open(path: &Path) -> Shelf {
    Shelf::open(path, Access::Create).unwrap()
}

pub(crate) fn content(title: &str) -> Content {
    Content { title: title.to_owned(), notation: format!("riff: {title}\n| w A1 |\n"), ..Content::default() }
}

pub(crate) fn facts(key: &str, degrees: u16) -> Facts {
    Facts { key: key.to_owned(), meter: "4/4".to_owned(), notes: 1, degrees }
}

/// Puts one riff on the shelf.
pub(crate) fn add(shelf: &mut Shelf, content: &Content, facts: &Facts, at: i64) -> RiffId {
    let prints = Prints { version: 1, likeness: content.title.as_bytes().to_vec(), imprint: vec![1, 2, 3] };
    shelf.add(&[New { content, facts, prints: &prints, import: None }], Moment(at)).unwrap()[0]
}
