//! Copies of a whole shelf, made while it is in use: written whole, then put in place, replacing nothing.

use std::fs::{self, File};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::backup::{Backup, StepResult};
use rusqlite::{Connection, OpenFlags};

use crate::error::{BackupError, StoreError};

/// How often, and how many times, a copy is tried again while others hold the file.
const PAUSE: Duration = Duration::from_millis(50);
/// See [`PAUSE`].
const TRIES: u32 = 300;

/// Where a copy is written until it is whole.
pub(crate) fn unfinished(to: &Path) -> PathBuf {
    let mut name = std::ffi::OsString::from(".");
    name.push(to.file_name().unwrap_or_default());
    name.push(".unfinished");
    to.with_file_name(name)
}

/// Copies the state at which the copy begins. Who may read the copy is who may read the shelf.
pub(crate) fn copy(from: &Connection, shelf: &Path, to: &Path) -> Result<(), BackupError> {
    if to.symlink_metadata().is_ok() {
        return Err(BackupError::Taken(to.to_owned()));
    }
    let beside = unfinished(to);
    let failed = |source: StoreError| BackupError::Copy { path: to.to_owned(), source };
    let done = pages(from, shelf, &beside).map_err(failed).and_then(|()| place(&beside, to));
    if done.is_err() {
        // What is left of a copy that failed is of no use to anybody.
        let _ = fs::remove_file(&beside);
    }
    done
}

fn pages(from: &Connection, shelf: &Path, beside: &Path) -> Result<(), StoreError> {
    match fs::remove_file(beside) {
        Err(e) if e.kind() != io::ErrorKind::NotFound => return Err(StoreError::Disk(e.to_string())),
        _ => {}
    }
    make(shelf, beside).map_err(|e| StoreError::Disk(e.to_string()))?;
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE;
    let mut into = Connection::open_with_flags(beside, flags)?;
    all_at_once(&Backup::new(from, &mut into)?)?;
    // One file, without a log beside it.
    into.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(()))?;
    into.close().map_err(|(_, e)| e.into())
}

/// Makes the empty file; SQLite by itself would let everybody read it whom the system's mask does not keep out.
fn make(shelf: &Path, beside: &Path) -> io::Result<()> {
    let mut how = File::options();
    how.write(true).create_new(true);
    #[cfg(unix)]
    {
        use std::os::unix::fs::{OpenOptionsExt as _, PermissionsExt as _};
        how.mode(shelf.metadata()?.permissions().mode() & 0o666 | 0o600);
    }
    #[cfg(not(unix))]
    let _ = shelf;
    how.open(beside).map(|_| ())
}

/// All pages in one step: in pieces, every write of another program would start it anew. Writers are not held up by it.
fn all_at_once(backup: &Backup<'_, '_>) -> Result<(), StoreError> {
    for _ in 0..TRIES {
        if backup.step(-1)? == StepResult::Done {
            return Ok(());
        }
        std::thread::sleep(PAUSE);
    }
    Err(StoreError::Busy)
}

/// Puts a finished file in its place unless another stands there, and waits until the disk has it.
fn place(beside: &Path, to: &Path) -> Result<(), BackupError> {
    let failed = |source| BackupError::Place { path: to.to_owned(), source };
    File::open(beside).and_then(|file| file.sync_all()).map_err(failed)?;
    // A second name is given only where none is; not every file system knows second names.
    match fs::hard_link(beside, to) {
        Ok(()) => fs::remove_file(beside).map_err(failed)?,
        Err(e) if e.kind() == io::ErrorKind::AlreadyExists => return Err(BackupError::Taken(to.to_owned())),
        Err(_) if to.symlink_metadata().is_ok() => return Err(BackupError::Taken(to.to_owned())),
        Err(_) => fs::rename(beside, to).map_err(failed)?,
    }
    sync_folder(to).map_err(failed)
}

/// A new name is safe once its folder is on the disk.
#[cfg(unix)]
fn sync_folder(file: &Path) -> io::Result<()> {
    let folder = file.parent().filter(|p| !p.as_os_str().is_empty()).unwrap_or(Path::new("."));
    File::open(folder)?.sync_all()
}

#[cfg(not(unix))]
fn sync_folder(_: &Path) -> io::Result<()> {
    Ok(())
}

/// Copies a shelf before its layout changes; the copy is named with the old layout. Gives its path.
pub(crate) fn before_migrating(from: &Connection, shelf: &Path, layout: u32) -> Result<PathBuf, BackupError> {
    let mut count = 1;
    loop {
        let number = if count == 1 { String::new() } else { format!(".{count}") };
        let mut name = shelf.file_name().unwrap_or_default().to_owned();
        name.push(format!(".layout-{layout}{number}.backup"));
        let to = shelf.with_file_name(name);
        match copy(from, shelf, &to) {
            Err(BackupError::Taken(_)) if count < 10_000 => count += 1,
            done => return done.map(|()| to),
        }
    }
}
