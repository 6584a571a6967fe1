//! Where the repository is and which files belong to it.

use std::path::{Path, PathBuf};
use std::process::Command;

/// One file of the repository.
#[derive(Clone, Debug)]
pub(crate) struct Entry {
    /// Path from the repository root, with forward slashes.
    pub(crate) path: String,
    /// The text, or `None` when the file is not UTF-8 or holds a zero byte: then it is data, not text.
    pub(crate) text: Option<String>,
}

impl Entry {
    /// The part of the file's name after its last dot, or nothing.
    pub(crate) fn ending(&self) -> &str {
        self.name().rsplit_once('.').map_or("", |(_, ending)| ending)
    }

    /// The file's name without its folders.
    pub(crate) fn name(&self) -> &str {
        self.path.rsplit('/').next().unwrap_or(&self.path)
    }
}

/// The repository root: the folder above this crate's own.
pub(crate) fn root() -> Result<PathBuf, String> {
    let here = Path::new(env!("CARGO_MANIFEST_DIR"));
    here.parent().map(Path::to_path_buf).ok_or_else(|| format!("{} has no parent folder", here.display()))
}

/// Cargo's output folder: `CARGO_TARGET_DIR` if set, else `target/` in the root.
pub(crate) fn target_dir(root: &Path) -> PathBuf {
    std::env::var_os("CARGO_TARGET_DIR").map_or_else(|| root.join("target"), |dir| root.join(dir))
}

/// Every file that git knows or would add (what is ignored stays out), sorted by path.
pub(crate) fn of_repository(root: &Path) -> Result<Vec<Entry>, String> {
    let out = Command::new("git")
        .args(["ls-files", "-z", "--cached", "--others", "--exclude-standard"])
        .current_dir(root)
        .output()
        .map_err(|why| format!("cannot start git ({why}); tidy lists the files with it, so install git"))?;
    if !out.status.success() {
        return Err(format!("git ls-files failed: {}", String::from_utf8_lossy(&out.stderr).trim()));
    }
    let mut paths: Vec<String> = String::from_utf8_lossy(&out.stdout)
        .split('\0')
        .filter(|path| !path.is_empty())
        .map(str::to_owned)
        .collect();
    paths.sort();
    paths.dedup();
    let mut entries = Vec::with_capacity(paths.len());
    for path in paths {
        // A file deleted but not yet committed is still listed: it is simply not there any more.
        let Ok(bytes) = std::fs::read(root.join(&path)) else { continue };
        let text = if bytes.contains(&0) { None } else { String::from_utf8(bytes).ok() };
        entries.push(Entry { path, text });
    }
    Ok(entries)
}
