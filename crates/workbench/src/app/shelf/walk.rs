//! Files in folders, in order.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::exported::is_export;

/// Folders within folders that are followed.
const DEEPEST: usize = 64;

/// What a path leads to.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Found {
    /// A file that may hold a riff.
    File {
        /// Where.
        path: PathBuf,
        /// True when it was asked for by name.
        named: bool,
    },
    /// A folder that an export of a shelf was written to.
    Export(PathBuf),
}

/// Everything below the paths: files in the order of their names, folders entered, hidden files, links to folders and what
/// belongs to the shelf itself left aside. What could not be listed is given apart.
pub fn walk(paths: &[PathBuf], shelf: &Path) -> (Vec<Found>, Vec<(PathBuf, io::Error)>) {
    let (mut found, mut failed) = (Vec::new(), Vec::new());
    for path in paths {
        if path.is_dir() {
            enter(path, 0, &mut found, &mut failed);
        } else {
            found.push(Found::File { path: path.clone(), named: true });
        }
    }
    let own = own(shelf);
    found.retain(|found| match found {
        Found::File { path, named } if path.canonicalize().is_ok_and(|path| own.contains(&path)) => {
            if *named {
                failed.push((path.clone(), io::Error::other("it belongs to the shelf itself")));
            }
            false
        }
        _ => true,
    });
    (found, failed)
}

/// The file of the shelf and those beside it (SQLite, *Temporary Files*, 2), where they are. Whoever opens and closes them
/// beside SQLite lets go of its locks on them.
fn own(shelf: &Path) -> Vec<PathBuf> {
    let Ok(shelf) = shelf.canonicalize() else { return Vec::new() };
    let beside = |ending: &str| {
        let mut path = shelf.clone().into_os_string();
        path.push(ending);
        PathBuf::from(path)
    };
    ["", "-wal", "-shm", "-journal"].map(beside).to_vec()
}

fn enter(folder: &Path, depth: usize, found: &mut Vec<Found>, failed: &mut Vec<(PathBuf, io::Error)>) {
    if is_export(folder) {
        found.push(Found::Export(folder.to_owned()));
        return;
    }
    if depth > DEEPEST {
        failed.push((folder.to_owned(), io::Error::other("too many folders within folders")));
        return;
    }
    let listed = fs::read_dir(folder).and_then(|entries| entries.map(|e| e.map(|e| e.path())).collect());
    let mut paths: Vec<PathBuf> = match listed {
        Ok(paths) => paths,
        Err(e) => return failed.push((folder.to_owned(), e)),
    };
    paths.sort();
    for path in paths {
        let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
        match fs::symlink_metadata(&path) {
            _ if hidden => {}
            Ok(about) if about.is_dir() => enter(&path, depth + 1, found, failed),
            // A link to a file is followed, one to a folder could lead in a circle.
            Ok(_) if path.is_file() => found.push(Found::File { path, named: false }),
            Ok(_) => {}
            Err(e) => failed.push((path, e)),
        }
    }
}
