//! The first look at a file, before SQLite opens it: without any side effect, not even a lock.
//!
//! SQLite cannot be asked yet. While a log is worked off the file alone may make no sense, and a stopped program's leavings are
//! put right as soon as SQLite opens it.

use std::fs::File;
use std::io;
use std::path::{Path, PathBuf};
#[cfg(unix)]
use std::sync::Arc;
use std::time::Duration;

use crate::error::{OpenError, StoreError};
use crate::open::judge;

/// The beginning of every database, the length of its header and of the smallest page, in bytes; the application id stands at
/// byte 68, the layout at 60 (SQLite, *Database File Format*, 1.3).
const MAGIC: &[u8] = b"SQLite format 3\0";
/// See [`MAGIC`].
const HEADER: usize = 100;
/// See [`MAGIC`].
const SMALLEST: u64 = 512;
/// How often a file is looked at that seems to be no shelf, and the time between.
const LOOKS: u32 = 4;
/// See [`LOOKS`].
const PAUSE: Duration = Duration::from_millis(25);
/// Said of a file that says nothing of itself.
pub(crate) const SOME_OTHER: &str = "it is some other file";

/// The file itself, where the path is a link to it: what belongs to it lies beside it and not beside the link.
pub(crate) fn itself(path: &Path) -> PathBuf {
    match path.symlink_metadata() {
        Ok(about) if about.is_symlink() => path.canonicalize().unwrap_or_else(|_| path.to_owned()),
        _ => path.to_owned(),
    }
}

/// What lies beside the file with this ending.
pub(crate) fn beside(path: &Path, ending: &str) -> PathBuf {
    let mut name = itself(path).into_os_string();
    name.push(ending);
    name.into()
}

/// Refuses what is certainly not to be touched. The hold on the file that comes of it is to be let go after SQLite has closed
/// the file.
pub(crate) fn first_look(path: &Path) -> Result<Hold, OpenError> {
    let failed = |e: io::Error| OpenError::Failed {
        path: path.to_owned(),
        source: StoreError::Unreadable(e.to_string()),
    };
    let hold = Hold::on(path).map_err(failed)?;
    for _ in 1..LOOKS {
        let (header, length) = hold.header().map_err(failed)?;
        if judge_header(path, &header, length).is_ok() {
            return Ok(hold);
        }
        // Another program may be in the middle of making it.
        std::thread::sleep(PAUSE);
    }
    let (header, length) = hold.header().map_err(failed)?;
    judge_header(path, &header, length).map(|()| hold)
}

fn judge_header(path: &Path, header: &[u8], length: u64) -> Result<(), OpenError> {
    let foreign = |found| Err(OpenError::Foreign { path: path.to_owned(), found });
    let half_made = beside(path, "-journal").exists();
    let number = |at: usize| match header.get(at..at + 4) {
        Some(&[a, b, c, d]) => i32::from_be_bytes([a, b, c, d]),
        _ => 0,
    };
    match length {
        0 => return Ok(()),
        // SQLite takes what is shorter than its smallest page for empty, and would write over it.
        1..SMALLEST => return foreign(SOME_OTHER),
        _ => {}
    }
    match (header.starts_with(MAGIC), number(68)) {
        (false, _) | (true, 0) if half_made => Ok(()),
        (false, _) => foreign(SOME_OTHER),
        (true, application) => judge(path, (application, i64::from(number(60)), false)).map(|_| ()),
    }
}

/// A file that is open for looks at its header.
///
/// POSIX lets go of all locks that a program has on a file as soon as the program closes the file once, whoever in it set
/// them (SQLite, *How To Corrupt An SQLite Database File*, 2.2). So the file is opened once for all shelves of this program
/// that lie in it, and closed after the last of them.
#[cfg(unix)]
#[derive(Debug)]
pub(crate) struct Hold {
    /// Device and number of the file.
    which: (u64, u64),
    file: Option<Arc<File>>,
}

#[cfg(unix)]
mod held {
    use std::collections::BTreeMap;
    use std::fs::File;
    use std::sync::{Arc, Mutex, MutexGuard, PoisonError};

    pub(super) type Files = BTreeMap<(u64, u64), Arc<File>>;

    /// The files that are held, by device and number.
    pub(super) fn files() -> MutexGuard<'static, Files> {
        static FILES: Mutex<Files> = Mutex::new(BTreeMap::new());
        // Whoever stopped in between left a map that is whole.
        FILES.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

#[cfg(unix)]
impl Hold {
    pub(crate) fn on(path: &Path) -> io::Result<Self> {
        use std::os::unix::fs::MetadataExt as _;
        let mut files = held::files();
        let about = path.metadata()?;
        let which = (about.dev(), about.ino());
        if let Some(file) = files.get(&which) {
            return Ok(Self { which, file: Some(file.clone()) });
        }
        let file = Arc::new(File::open(path)?);
        // Another file may have come into its place in between.
        let about = file.metadata()?;
        let which = (about.dev(), about.ino());
        let file = files.entry(which).or_insert(file).clone();
        Ok(Self { which, file: Some(file) })
    }

    /// The header as far as it is there, and the length of the file in bytes.
    fn header(&self) -> io::Result<(Vec<u8>, u64)> {
        use std::os::unix::fs::FileExt as _;
        let Some(file) = &self.file else { return Ok((Vec::new(), 0)) };
        let mut header = vec![0; HEADER];
        let mut read = 0;
        while let Some(rest) = header.get_mut(read..).filter(|rest| !rest.is_empty()) {
            match file.read_at(rest, read as u64) {
                Ok(0) => break,
                Ok(n) => read += n,
                Err(e) if e.kind() == io::ErrorKind::Interrupted => {}
                Err(e) => return Err(e),
            }
        }
        header.truncate(read);
        Ok((header, file.metadata()?.len()))
    }
}

#[cfg(unix)]
impl Drop for Hold {
    fn drop(&mut self) {
        // Closed while nobody can open it again: its locks would be lost.
        let mut files = held::files();
        drop(self.file.take());
        if files.get(&self.which).is_some_and(|file| Arc::strong_count(file) == 1) {
            files.remove(&self.which);
        }
    }
}

/// A file to be looked at; elsewhere than under POSIX, closing it does no harm.
#[cfg(not(unix))]
#[derive(Debug)]
pub(crate) struct Hold(PathBuf);

#[cfg(not(unix))]
impl Hold {
    pub(crate) fn on(path: &Path) -> io::Result<Self> {
        File::open(path).map(|_| Self(path.to_owned()))
    }

    /// The header as far as it is there, and the length of the file in bytes.
    fn header(&self) -> io::Result<(Vec<u8>, u64)> {
        use std::io::Read as _;
        let mut file = File::open(&self.0)?;
        let mut header = Vec::new();
        (&mut file).take(HEADER as u64).read_to_end(&mut header)?;
        Ok((header, file.metadata()?.len()))
    }
}

#[cfg(test)]
mod tests {
    #![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

    use rusqlite::Connection;

    use crate::{Access, Shelf};

    /// The lock is seen by another program only: this test runs itself as that program.
    #[cfg(unix)]
    #[test]
    fn a_look_at_a_shelf_lets_go_of_no_lock_on_it() {
        const OTHER: &str = "RIFFKIN_STORE_TEST_OTHER";
        if let Some(file) = std::env::var_os(OTHER) {
            let other = Connection::open(file).unwrap();
            other.busy_timeout(std::time::Duration::ZERO).unwrap();
            assert!(other.execute_batch("BEGIN IMMEDIATE").is_err(), "the first program's lock is gone");
            return;
        }
        let folder = std::env::temp_dir().join(format!("riffkin-store-look-{}", std::process::id()));
        std::fs::create_dir_all(&folder).unwrap();
        let file = folder.join("a.shelf");
        let shelf = Shelf::open(&file, Access::Create).unwrap();
        // As while a shelf is made or brought up to date: without a log all locks are on the file itself.
        shelf.db.pragma_update_and_check(None, "journal_mode", "delete", |_| Ok(())).unwrap();
        shelf.db.execute_batch("BEGIN IMMEDIATE").unwrap();
        drop(super::first_look(&file).unwrap());
        let other = std::process::Command::new(std::env::current_exe().unwrap())
            .args(["--exact", "header::tests::a_look_at_a_shelf_lets_go_of_no_lock_on_it"])
            .env(OTHER, &file)
            .output()
            .unwrap();
        drop(shelf);
        std::fs::remove_dir_all(&folder).unwrap();
        let said = String::from_utf8_lossy(&other.stdout);
        assert!(other.status.success() && said.contains("1 passed"), "{said}");
    }
}
