//! The program as people and scripts call it, in a folder of its own and without a shelf.

#![allow(dead_code, reason = "each test file uses what it needs")]

use std::fs;
use std::path::PathBuf;
use std::process::{Command, Output};

/// A folder for one test, removed when the test is over.
pub(crate) struct Folder(pub(crate) PathBuf);

impl Folder {
    pub(crate) fn new(name: &str) -> Self {
        let path = std::env::temp_dir().join(format!("riffkin-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&path);
        fs::create_dir_all(&path).unwrap();
        Self(path)
    }

    /// Writes a file, its folders too; its path.
    pub(crate) fn write(&self, name: &str, content: impl AsRef<[u8]>) -> String {
        let path = self.0.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, content).unwrap();
        path.display().to_string()
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }

    pub(crate) fn dir(&self) -> String {
        self.0.display().to_string()
    }

    /// The names of what lies in it, in order.
    pub(crate) fn names(&self) -> Vec<String> {
        let entries = fs::read_dir(&self.0).unwrap();
        let mut names: Vec<String> =
            entries.map(|e| e.unwrap().file_name().to_string_lossy().into_owned()).collect();
        names.sort();
        names
    }
}

impl Drop for Folder {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.0);
    }
}

pub(crate) fn riffkin(words: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_riffkin"))
        .args(words)
        .env("RIFFKIN_SHELF", "/no/shelf")
        .output()
        .unwrap()
}

/// Standard output and standard error of a command that ends with a status.
pub(crate) fn ends(status: i32, words: &[&str]) -> (String, String) {
    let out = riffkin(words);
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert_eq!(out.status.code(), Some(status), "{words:?}\n{said}");
    (String::from_utf8(out.stdout).unwrap(), said)
}

/// What a command that succeeds prints.
pub(crate) fn good(words: &[&str]) -> String {
    ends(0, words).0
}

/// What a command that fails says.
pub(crate) fn bad(words: &[&str], status: i32) -> String {
    let (printed, said) = ends(status, words);
    assert!(printed.is_empty(), "a failed command prints no result");
    said
}

pub(crate) fn json(words: &[&str]) -> serde_json::Value {
    serde_json::from_str(&good(words)).unwrap()
}
