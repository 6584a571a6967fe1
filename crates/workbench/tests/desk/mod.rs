//! A shelf of its own for each test, and the riffs that go on it.

#![allow(dead_code, reason = "each test file uses what it needs")]
#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

/// A folder with a shelf of its own for each test, removed when the test is over.
pub(crate) struct Desk {
    pub(crate) folder: PathBuf,
}

impl Desk {
    pub(crate) fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("riffkin-shelf-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        Self { folder }
    }

    pub(crate) fn write(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        let path = self.folder.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, text).unwrap();
        path.display().to_string()
    }

    pub(crate) fn path(&self, name: &str) -> String {
        self.folder.join(name).display().to_string()
    }

    pub(crate) fn command(&self, shelf: &str, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_riffkin"));
        command.arg("shelf").args(words).env("RIFFKIN_SHELF", self.folder.join(shelf)).stdin(Stdio::null());
        command
    }

    pub(crate) fn run(&self, words: &[&str]) -> Output {
        self.command("riffs.shelf", words).output().unwrap()
    }

    pub(crate) fn good(&self, words: &[&str]) -> String {
        let out = self.run(words);
        assert_eq!(out.status.code(), Some(0), "{words:?}\n{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// What it says when it cannot.
    pub(crate) fn bad(&self, words: &[&str], status: i32) -> String {
        let out = self.run(words);
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(status), "{words:?}\n{said}");
        said
    }

    pub(crate) fn json(&self, words: &[&str]) -> Value {
        let words: Vec<&str> = words.iter().copied().chain(["--json"]).collect();
        let found: Value = serde_json::from_str(&self.good(&words)).unwrap();
        assert_eq!(found["version"], 1, "{words:?}");
        found
    }

    pub(crate) fn titles(&self, words: &[&str]) -> Vec<String> {
        let found = self.json(words);
        let riffs = found["riffs"].as_array().unwrap();
        assert_eq!(found["count"], riffs.len());
        riffs.iter().map(|r| r["title"].as_str().unwrap().to_owned()).collect()
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

pub(crate) const MENDER: &str =
    "riff: Net Mender\nkey: G minor blues\nsource: invented\n| e 1 b3 4 b5 q 4 e b3 1 | q b7- e 1 r h r |\n";
pub(crate) const STOMP: &str =
    "riff: Ferry Stomp\nkey: A minor\npermission: for class only\n| q 1 b3 4 5 |\n";

/// The riffs of the demo.
pub(crate) fn class() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo/class")
}
