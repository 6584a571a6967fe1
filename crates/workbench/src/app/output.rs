//! Writing files whole or not at all.

use std::collections::BTreeSet;
use std::fs;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

/// A file that could not be written.
#[derive(Debug, thiserror::Error)]
#[error("{} could not be written or removed: {source}; {hint}", path.display())]
pub struct WriteError {
    path: PathBuf,
    source: io::Error,
    hint: &'static str,
}

/// Unfinished files, removed when the program is interrupted.
fn unfinished() -> &'static Mutex<BTreeSet<PathBuf>> {
    static PATHS: OnceLock<Mutex<BTreeSet<PathBuf>>> = OnceLock::new();
    PATHS.get_or_init(Mutex::default)
}

/// On Ctrl-C removes what is unfinished and leaves with status 130.
///
/// # Errors
/// When the system refuses the handler.
pub fn clean_up_when_interrupted() -> Result<(), ctrlc::Error> {
    ctrlc::set_handler(|| {
        let paths = unfinished().lock();
        if let Ok(paths) = &paths {
            for path in paths.iter() {
                // Nothing more can be done about a file that will not go.
                let _ = if path.is_dir() { fs::remove_dir_all(path) } else { fs::remove_file(path) };
            }
        }
        // With the paths still held, so that nothing is put into a folder that was just removed.
        std::process::exit(130);
    })
}

/// Makes a folder and those above it.
///
/// # Errors
/// [`WriteError`].
pub fn make_folder(path: &Path) -> Result<(), WriteError> {
    fs::create_dir_all(path).map_err(|source| WriteError {
        path: path.to_owned(),
        source,
        hint: "choose another folder with -o",
    })
}

/// Removes a file; one that is gone already is no error.
///
/// # Errors
/// [`WriteError`].
pub fn remove(path: &Path) -> Result<(), WriteError> {
    match fs::remove_file(path) {
        Err(source) if source.kind() != io::ErrorKind::NotFound => {
            Err(WriteError { path: path.to_owned(), source, hint: "remove it by hand" })
        }
        _ => Ok(()),
    }
}

/// Writes a file beside its place and moves it there, so that no reader ever sees half of it.
///
/// # Errors
/// [`WriteError`]; the file that stood there before is untouched.
pub fn write_whole(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    let fail = |source| WriteError {
        path: path.to_owned(),
        source,
        hint: "check that the folder exists, may be written to and has room",
    };
    let name = path.file_name().ok_or_else(|| fail(io::Error::other("the path names no file")))?;
    let mut beside = std::ffi::OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}.unfinished", std::process::id()));
    let beside = path.with_file_name(beside);
    let note = |keep: bool| {
        if let Ok(mut paths) = unfinished().lock() {
            if keep {
                paths.insert(beside.clone())
            } else {
                paths.remove(&beside)
            };
        }
    };
    note(true);
    let done = fs::File::create(&beside)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_data()))
        .and_then(|()| fs::rename(&beside, path));
    if done.is_err() {
        let _ = fs::remove_file(&beside);
    }
    note(false);
    done.map_err(fail)
}

/// Notes a path as unfinished, or no longer so.
pub fn note_unfinished(path: &Path, unfinished_now: bool) {
    if let Ok(mut paths) = unfinished().lock() {
        if unfinished_now {
            paths.insert(path.to_owned())
        } else {
            paths.remove(path)
        };
    }
}

/// Writes a file where none is, inside a folder that [`build_folder`] is building; folders below that are made.
///
/// # Errors
/// [`WriteError`].
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), WriteError> {
    // An interruption waits until the file is there, or is never followed by another file.
    let _held = unfinished().lock();
    let folder = path.parent().map_or(Ok(()), fs::create_dir_all);
    folder
        .and_then(|()| fs::File::create_new(path))
        .and_then(|mut file| file.write_all(bytes))
        .map_err(|source| WriteError { path: path.to_owned(), source, hint: "check that there is room" })
}

/// Builds a folder beside its place and moves it there when it is whole; an empty folder may stand there. Gives what `build`
/// gives.
///
/// # Errors
/// What `build` gives, or [`WriteError`]; nothing is left then.
pub fn build_folder<T, E: From<WriteError>>(
    path: &Path,
    build: impl FnOnce(&Path) -> Result<T, E>,
) -> Result<T, E> {
    let fail = |source| WriteError {
        path: path.to_owned(),
        source,
        hint: "check that the folder above it exists, may be written to and has room",
    };
    let name = path.file_name().ok_or_else(|| fail(io::Error::other("the path names no folder")))?;
    let mut beside = std::ffi::OsString::from(".");
    beside.push(name);
    beside.push(format!(".{}.unfinished", std::process::id()));
    let beside = path.with_file_name(beside);
    note_unfinished(&beside, true);
    let built = fs::create_dir(&beside).map_err(|e| E::from(fail(e))).and_then(|()| build(&beside)).and_then(
        |built| {
            // Not every system moves a folder over an empty one.
            let _ = fs::remove_dir(path);
            fs::rename(&beside, path).map_err(|e| E::from(fail(e))).map(|()| built)
        },
    );
    if built.is_err() {
        let _ = fs::remove_dir_all(&beside);
    }
    note_unfinished(&beside, false);
    built
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_failed_write_leaves_what_was_there() {
        let folder = std::env::temp_dir().join(format!("riffkin-output-{}", std::process::id()));
        make_folder(&folder).unwrap();
        let file = folder.join("a.txt");
        write_whole(&file, b"first").unwrap();
        write_whole(&file, b"second").unwrap();
        assert_eq!(fs::read(&file).unwrap(), b"second");
        // A folder of the same name cannot be replaced by a file.
        let blocked = folder.join("b");
        make_folder(&blocked.join("inside")).unwrap();
        assert!(write_whole(&blocked, b"x").is_err());
        let left: Vec<_> = fs::read_dir(&folder).unwrap().map(|e| e.unwrap().file_name()).collect();
        assert_eq!(left.len(), 2, "{left:?}");
        fs::remove_dir_all(&folder).unwrap();
    }
}
