//! Opening a shelf: what it is, whether this program may touch it, and bringing it up to date.

use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior};

use crate::error::{OpenError, StoreError};
use crate::header::{self, Hold, SOME_OTHER, beside};
use crate::{backup, migrations};

/// How long a write waits for another program's.
const PATIENCE: Duration = Duration::from_secs(15);
/// Memory for pages of the file, in KiB.
const CACHE_KIB: i64 = 32 * 1024;
/// Size down to which the log is cut once it has been worked off, in bytes.
const LOG: i64 = 16 << 20;

/// What a shelf is opened for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Access {
    /// To look only. Works on a medium that cannot be written.
    Read,
    /// To look and change; the file must be there.
    Write,
    /// To look and change; the file is made when it is not there.
    Create,
}

/// A shelf that was brought up to date on opening.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Migrated {
    /// The layout that it had.
    pub from: u32,
    /// The layout that it has now.
    pub to: u32,
    /// The copy of what it was before.
    pub backup: PathBuf,
}

/// The shelf: riffs, tags, history, imports, fingerprints, necks and settings in one SQLite file.
///
/// Several programs may use one file at the same time: readers see the state at which they began and hold up nobody;
/// writers take turns. What a method has written when it returns survives a crash of the program and of the machine.
/// The file must lie on a disk of this machine: the log beside it does not work over a network.
#[derive(Debug)]
pub struct Shelf {
    // Closed before the hold on its file is let go: fields are dropped in this order.
    pub(crate) db: Connection,
    _hold: Hold,
    path: PathBuf,
    migrated: Option<Migrated>,
}

/// What a file says of itself.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Look {
    /// Nothing is in it yet.
    Empty,
    /// A shelf of this layout.
    Layout(u32),
}

impl Shelf {
    /// Opens a shelf. Before an older one is brought up to date it is copied beside itself.
    ///
    /// # Errors
    /// [`OpenError`]; a file that is no shelf, or a newer program's, is refused untouched.
    pub fn open(path: &Path, access: Access) -> Result<Self, OpenError> {
        let failed = |source: StoreError| OpenError::Failed { path: path.to_owned(), source };
        let there = path.try_exists().map_err(|e| failed(StoreError::Disk(e.to_string())))?;
        if !there && access != Access::Create {
            return Err(OpenError::NotThere(path.to_owned()));
        }
        if there && path.is_dir() {
            return Err(OpenError::Foreign { path: path.to_owned(), found: "it is a folder" });
        }
        let looked_at = if there { Some(header::first_look(path)?) } else { None };
        let db = connect(path, access).map_err(failed)?;
        let hold = match looked_at {
            Some(hold) => hold,
            None => Hold::on(path).map_err(|e| failed(StoreError::Unreadable(e.to_string())))?,
        };
        let mut shelf = Self { db, _hold: hold, path: path.to_owned(), migrated: None };
        let found = judge(path, look(&shelf.db).map_err(failed)?)?;
        if found != Look::Layout(migrations::NEWEST) {
            shelf.bring_up_to_date(found, access)?;
        }
        settle(&shelf.db, access).map_err(failed)?;
        Ok(shelf)
    }

    /// Where it lies.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// What was brought up to date on opening, if anything.
    pub fn migrated(&self) -> Option<&Migrated> {
        self.migrated.as_ref()
    }

    /// Copies the shelf as it is into one new file. Others may go on reading and writing meanwhile.
    ///
    /// # Errors
    /// [`crate::BackupError`]; a file that is there already is never replaced.
    pub fn back_up(&self, to: &Path) -> Result<(), crate::BackupError> {
        backup::copy(&self.db, &self.path, to)
    }

    /// Where [`Shelf::back_up`] writes until the copy is whole; to be removed should the program be stopped meanwhile.
    pub fn unfinished_backup(to: &Path) -> PathBuf {
        backup::unfinished(to)
    }

    fn bring_up_to_date(&mut self, found: Look, access: Access) -> Result<(), OpenError> {
        let path = self.path.clone();
        let failed = |source: StoreError| OpenError::Failed { path: path.clone(), source };
        let sql = |source: rusqlite::Error| failed(source.into());
        if access == Access::Read {
            return match found {
                Look::Empty => Err(OpenError::NotThere(path)),
                Look::Layout(found) => Err(OpenError::Older { path, found, newest: migrations::NEWEST }),
            };
        }
        // The copy is read by a connection of its own while this one keeps other writers out.
        let reader = connect(&path, Access::Read).map_err(failed);
        let transaction = self.db.transaction_with_behavior(TransactionBehavior::Immediate).map_err(sql)?;
        // Another program may have been quicker.
        let found = judge(&path, look(&transaction).map_err(failed)?)?;
        let from = match found {
            Look::Empty => 0,
            Look::Layout(layout) => layout,
        };
        if from == migrations::NEWEST {
            return Ok(());
        }
        let mut migrated = None;
        if from > 0 {
            let backup = backup::before_migrating(&reader?, &header::itself(&path), from)
                .map_err(|source| OpenError::NoBackup { path: path.clone(), source })?;
            migrated = Some(Migrated { from, to: migrations::NEWEST, backup });
        }
        for step in migrations::after(from) {
            transaction.execute_batch(step).map_err(sql)?;
        }
        transaction.pragma_update(None, "application_id", migrations::APPLICATION).map_err(sql)?;
        transaction.pragma_update(None, "user_version", migrations::NEWEST).map_err(sql)?;
        transaction.commit().map_err(sql)?;
        self.migrated = migrated;
        Ok(())
    }
}

/// The file's address for a look that assumes nobody changes it (SQLite, *URI filenames*; RFC 3986, 2.1).
fn still(path: &Path) -> String {
    let mut out = "file:".to_owned();
    for &byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'/' | b'.' | b'-' | b'_' | b'~' => out.push(char::from(byte)),
            b'\\' if cfg!(windows) => out.push('/'),
            b':' if cfg!(windows) => {
                out.insert(5, '/');
                out.push(':');
            }
            _ if byte.is_ascii_alphanumeric() => out.push(char::from(byte)),
            _ => out.push_str(&format!("%{byte:02x}")),
        }
    }
    // Two slashes would begin the name of a host.
    if out.starts_with("file://") {
        out.insert_str(5, "//");
    }
    out + "?immutable=1"
}

/// Application id, layout, and whether anything is in it.
fn look(db: &Connection) -> Result<(i32, i64, bool), StoreError> {
    let read = || -> rusqlite::Result<(i32, i64, bool)> {
        let application = db.pragma_query_value(None, "application_id", |row| row.get(0))?;
        let layout = db.pragma_query_value(None, "user_version", |row| row.get(0))?;
        let tables: i64 = db.query_row("SELECT count(*) FROM sqlite_schema", [], |row| row.get(0))?;
        Ok((application, layout, tables == 0))
    };
    match read() {
        Err(e) if e.sqlite_error_code() == Some(rusqlite::ErrorCode::NotADatabase) => Ok((0, 0, false)),
        read => Ok(read?),
    }
}

pub(crate) fn judge(path: &Path, (application, layout, empty): (i32, i64, bool)) -> Result<Look, OpenError> {
    let foreign = |found| Err(OpenError::Foreign { path: path.to_owned(), found });
    match (application, layout) {
        (0, 0) if empty => Ok(Look::Empty),
        (migrations::APPLICATION, 1..) => {
            let found = u32::try_from(layout).unwrap_or(u32::MAX);
            if found > migrations::NEWEST {
                return Err(OpenError::Newer { path: path.to_owned(), found, newest: migrations::NEWEST });
            }
            Ok(Look::Layout(found))
        }
        (migrations::APPLICATION, _) => foreign("it says that it is one, but not of which layout"),
        (0, 0) => foreign(SOME_OTHER),
        _ => foreign("it belongs to another program"),
    }
}

fn connect(path: &Path, access: Access) -> Result<Connection, StoreError> {
    // No URI: a path is a path, whatever it begins with.
    let common = OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = match access {
        Access::Create => Connection::open_with_flags(
            path,
            common | OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE,
        )?,
        Access::Write => Connection::open_with_flags(path, common | OpenFlags::SQLITE_OPEN_READ_WRITE)?,
        Access::Read => {
            // Where it may be written it is opened so, though nothing is: else the log, empty or not, would stay beside the file
            // after the last look. Where it may not, SQLite opens it to be read by itself.
            let db = Connection::open_with_flags(path, common | OpenFlags::SQLITE_OPEN_READ_WRITE)?;
            db.busy_timeout(PATIENCE)?;
            db.pragma_update(None, "query_only", true)?;
            match look(&db) {
                // Where no log can be made beside the file, nobody can be writing to it either.
                Err(StoreError::NoFile | StoreError::ReadOnly) if !has_log(path) => {
                    let flags = common | OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI;
                    Connection::open_with_flags(still(path), flags)?
                }
                _ => db,
            }
        }
    };
    db.busy_timeout(PATIENCE)?;
    // Until it is known that the file may be touched, closing it must not work off its log.
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_DEFENSIVE, true)?;
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_TRUSTED_SCHEMA, false)?;
    db.pragma_update(None, "foreign_keys", true)?;
    // The log is on the disk before a write is acknowledged; on macOS that takes a stronger word.
    db.pragma_update(None, "synchronous", "full")?;
    db.pragma_update(None, "fullfsync", true)?;
    db.pragma_update(None, "checkpoint_fullfsync", true)?;
    db.pragma_update(None, "cache_size", -CACHE_KIB)?;
    Ok(db)
}

fn has_log(path: &Path) -> bool {
    beside(path, "-wal").metadata().is_ok_and(|about| about.len() > 0)
}

/// What holds once the file is known to be ours and of the newest layout.
fn settle(db: &Connection, access: Access) -> Result<(), StoreError> {
    db.set_prepared_statement_cache_capacity(64);
    // Whoever closes it last works the log off and takes it away.
    db.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, false)?;
    if access == Access::Read {
        return Ok(());
    }
    // Nobody may use the file while it changes to a log. When somebody does, it stays as safe as it is, and the next
    // program to open it tries again.
    match db.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())).map_err(StoreError::from) {
        Ok(()) | Err(StoreError::Busy) => {}
        Err(e) => return Err(e),
    }
    db.pragma_update_and_check(None, "journal_size_limit", LOG, |_| Ok(()))?;
    // What is taken away for good is overwritten.
    db.pragma_update_and_check(None, "secure_delete", true, |_| Ok(()))?;
    Ok(())
}

/// Runs one change: all of it or nothing, after waiting for other writers.
pub(crate) fn write<T>(
    db: &mut Connection,
    change: impl FnOnce(&Connection) -> Result<T, StoreError>,
) -> Result<T, StoreError> {
    let transaction = db.transaction_with_behavior(TransactionBehavior::Immediate)?;
    let done = change(&transaction)?;
    transaction.commit()?;
    Ok(done)
}
