//! What is opened, what is refused, and what becomes of an older shelf.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use std::fs;

use common::{Folder, add, content, facts, open};
use riffkin_store::history::{Deed, Field};
use riffkin_store::search::Wanted;
use riffkin_store::{Access, Moment, NEWEST, OpenError, Permission, RiffId, Shelf};
use rusqlite::Connection;

const LAYOUT_1: &str = include_str!("fixtures/layout-1.sql");

/// A file as an earlier program left it: in the folder `name`, closed.
fn layout_1(folder: &Folder) -> std::path::PathBuf {
    let file = folder.file("old.shelf");
    let db = Connection::open(&file).unwrap();
    db.pragma_update_and_check(None, "journal_mode", "wal", |_| Ok(())).unwrap();
    db.execute_batch(LAYOUT_1).unwrap();
    file
}

fn layout(file: &std::path::Path) -> u32 {
    Connection::open(file).unwrap().pragma_query_value(None, "user_version", |row| row.get(0)).unwrap()
}

#[test]
fn a_new_shelf_is_empty_and_sound() {
    let folder = Folder::new("new");
    let file = folder.file("a.shelf");
    let shelf = open(&file);
    assert_eq!(shelf.count().unwrap(), (0, 0));
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
    assert!(shelf.find(&Wanted::default()).unwrap().is_empty() && shelf.tags().unwrap().is_empty());
    assert!(shelf.migrated().is_none());
    drop(shelf);
    assert_eq!(folder.names(), ["a.shelf"], "no log and no backup are left beside a new shelf");
    assert_eq!(layout(&file), NEWEST);
}

#[test]
fn an_older_shelf_is_copied_then_brought_up_to_date_with_everything_in_it() {
    let folder = Folder::new("older");
    let file = layout_1(&folder);
    let before = fs::read(&file).unwrap();
    let mut shelf = Shelf::open(&file, Access::Write).unwrap();
    let migrated = shelf.migrated().unwrap().clone();
    assert_eq!((migrated.from, migrated.to), (1, NEWEST));
    assert_eq!(migrated.backup, folder.file("old.shelf.layout-1.backup"));
    assert_eq!(layout(&migrated.backup), 1);
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());

    let history = shelf.history(RiffId(1)).unwrap();
    assert_eq!(history.len(), 3);
    assert_eq!(history[0].content.title, "Wet Roap");
    assert_eq!(history[1].deed, Deed::Changed(vec![Field::Title, Field::Permission]));
    assert_eq!((history[2].at, history[2].content.tags.len()), (Moment(3000), 2));
    let entry = shelf.entry(RiffId(1)).unwrap();
    assert_eq!((entry.permission, entry.facts.key.as_str()), (Permission::OwnWork, "D minor"));
    assert_eq!(shelf.imports(RiffId(1)).unwrap()[0].import.digest, [1, 2]);
    assert!(shelf.entry(RiffId(2)).unwrap().removed);
    let found = shelf.find(&Wanted { words: "aloud".into(), ..Wanted::default() }).unwrap();
    assert_eq!(found.len(), 1);
    assert_eq!(add(&mut shelf, &content("New"), &facts("", 1), 9), RiffId(3));

    // The backup is a shelf of its own, as it was: an older program would find everything in it.
    let copy = Connection::open(&migrated.backup).unwrap();
    let titles: i64 = copy.query_row("SELECT count(*) FROM edition", [], |row| row.get(0)).unwrap();
    assert_eq!(titles, 5);
    drop(copy);
    assert!(fs::read(&migrated.backup).unwrap().len() >= before.len());
}

#[test]
fn a_backup_made_before_replaces_no_other() {
    let folder = Folder::new("backups");
    let file = layout_1(&folder);
    fs::write(folder.file("old.shelf.layout-1.backup"), "precious").unwrap();
    let shelf = Shelf::open(&file, Access::Write).unwrap();
    assert_eq!(shelf.migrated().unwrap().backup, folder.file("old.shelf.layout-1.2.backup"));
    assert_eq!(fs::read(folder.file("old.shelf.layout-1.backup")).unwrap(), b"precious");
}

#[test]
fn an_older_shelf_that_may_only_be_read_is_left_as_it_is() {
    let folder = Folder::new("older-read");
    let file = layout_1(&folder);
    assert!(matches!(
        Shelf::open(&file, Access::Read),
        Err(OpenError::Older { found: 1, newest: NEWEST, .. })
    ));
    assert_eq!(layout(&file), 1);
    assert!(!folder.names().iter().any(|n| n.ends_with(".backup")));
}

/// A backup that cannot be made stops everything: here its place is taken by a folder that cannot be replaced.
#[test]
fn without_a_backup_nothing_is_brought_up_to_date() {
    let folder = Folder::new("no-backup");
    let file = layout_1(&folder);
    let blocked = folder.file(".old.shelf.layout-1.backup.unfinished");
    fs::create_dir_all(blocked.join("inside")).unwrap();
    let refused = Shelf::open(&file, Access::Write).unwrap_err();
    assert!(matches!(refused, OpenError::NoBackup { .. }), "{refused}");
    assert_eq!(layout(&file), 1);
}

fn refused_untouched(folder: &Folder, name: &str) -> OpenError {
    let file = folder.file(name);
    let before = fs::read(&file).unwrap();
    let names = folder.names();
    let mut refusal = None;
    for access in [Access::Read, Access::Write, Access::Create] {
        refusal = Some(Shelf::open(&file, access).unwrap_err());
        assert_eq!(fs::read(&file).unwrap(), before, "{access:?} touched it");
        assert_eq!(folder.names(), names, "{access:?} left something beside it");
    }
    refusal.unwrap()
}

#[test]
fn a_newer_programs_shelf_is_refused_untouched() {
    let folder = Folder::new("newer");
    let file = folder.file("a.shelf");
    drop(open(&file));
    Connection::open(&file).unwrap().pragma_update(None, "user_version", NEWEST + 1).unwrap();
    let refusal = refused_untouched(&folder, "a.shelf");
    assert!(matches!(refusal, OpenError::Newer { found, newest: NEWEST, .. } if found == NEWEST + 1));
    assert!(refusal.to_string().contains("newer program"), "{refusal}");
}

/// The newer layout stands in the log only, as after a power cut: the log is not worked off by the older program.
#[test]
fn a_newer_layout_that_is_still_in_the_log_is_seen() {
    let folder = Folder::new("newer-log");
    let file = folder.file("a.shelf");
    drop(open(&file));
    let newer = Connection::open(&file).unwrap();
    newer.pragma_update(None, "user_version", NEWEST + 1).unwrap();
    fs::create_dir(folder.file("cut")).unwrap();
    for name in ["a.shelf", "a.shelf-wal"] {
        fs::copy(folder.file(name), folder.file("cut").join(name)).unwrap();
    }
    drop(newer);
    let cut = folder.file("cut").join("a.shelf");
    let log = folder.file("cut").join("a.shelf-wal");
    let before = (fs::read(&cut).unwrap(), fs::read(&log).unwrap());
    assert!(matches!(Shelf::open(&cut, Access::Write), Err(OpenError::Newer { .. })));
    assert_eq!((fs::read(&cut).unwrap(), fs::read(&log).unwrap()), before);
}

#[test]
fn other_files_are_refused_untouched() {
    let folder = Folder::new("foreign");
    fs::write(folder.file("letter.txt"), "Dear class, see you on Tuesday.\n".repeat(100)).unwrap();
    fs::write(folder.file("short"), "x").unwrap();
    let db = Connection::open(folder.file("other.db")).unwrap();
    db.execute_batch("PRAGMA journal_mode = wal; CREATE TABLE a (b); INSERT INTO a VALUES (1);").unwrap();
    db.close().unwrap();
    let db = Connection::open(folder.file("marked.db")).unwrap();
    db.execute_batch("PRAGMA application_id = 7; PRAGMA user_version = 1;").unwrap();
    db.close().unwrap();
    let db = Connection::open(folder.file("unversioned.db")).unwrap();
    db.pragma_update(None, "application_id", i32::from_be_bytes(*b"RfSh")).unwrap();
    db.close().unwrap();
    for name in ["letter.txt", "short", "other.db", "marked.db", "unversioned.db"] {
        let refusal = refused_untouched(&folder, name);
        assert!(matches!(refusal, OpenError::Foreign { .. }), "{name}: {refusal}");
        assert!(refusal.to_string().contains(name) && refusal.to_string().contains("no shelf"), "{refusal}");
    }
    assert!(matches!(Shelf::open(&folder.0, Access::Create), Err(OpenError::Foreign { .. })));
}

#[test]
fn a_shelf_that_is_not_there_is_made_only_when_asked_for() {
    let folder = Folder::new("absent");
    for access in [Access::Read, Access::Write] {
        assert!(matches!(Shelf::open(&folder.file("a"), access), Err(OpenError::NotThere(_))));
    }
    assert!(folder.names().is_empty());
    let refusal = Shelf::open(&folder.file("no").join("a"), Access::Create).unwrap_err();
    assert!(matches!(refusal, OpenError::Failed { .. }), "{refusal}");
    // An empty file is what is left when a program is stopped before its first write.
    fs::write(folder.file("a"), "").unwrap();
    assert_eq!(open(&folder.file("a")).count().unwrap(), (0, 0));
}

/// A first program stopped while it made the shelf: the journal puts the file right, then it is made anew.
#[test]
fn a_half_made_shelf_is_made_whole() {
    let folder = Folder::new("half");
    let file = folder.file("a.shelf");
    let db = Connection::open(&file).unwrap();
    // Pages are written out before the commit when the cache is too small for them.
    db.execute_batch("PRAGMA cache_size = 1; PRAGMA cache_spill = 1; BEGIN; CREATE TABLE t (x);").unwrap();
    for _ in 0..200 {
        db.execute("INSERT INTO t VALUES (zeroblob(3000))", []).unwrap();
    }
    fs::create_dir(folder.file("cut")).unwrap();
    for name in ["a.shelf", "a.shelf-journal"] {
        fs::copy(folder.file(name), folder.file("cut").join(name)).unwrap();
    }
    let cut = folder.file("cut").join("a.shelf");
    assert!(fs::metadata(&cut).unwrap().len() > 0, "some pages were written");
    let shelf = open(&cut);
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
}

/// A program stopped while it worked off the log: the first page is in the file, the others are in the log only.
#[test]
fn a_log_that_is_half_worked_off_does_no_harm() {
    let folder = Folder::new("half-log");
    let file = folder.file("a.shelf");
    let mut shelf = open(&file);
    fs::create_dir(folder.file("cut")).unwrap();
    let cut = folder.file("cut").join("a.shelf");
    fs::copy(&file, &cut).unwrap();
    // Few enough that the log is not worked off meanwhile.
    for i in 0..25 {
        add(&mut shelf, &content(&format!("Riff {i} {}", "of many words ".repeat(100))), &facts("", 1), i);
    }
    fs::copy(folder.file("a.shelf-wal"), folder.file("cut").join("a.shelf-wal")).unwrap();
    drop(shelf);
    let (whole, mut half) = (fs::read(&file).unwrap(), fs::read(&cut).unwrap());
    assert!(whole.len() > half.len());
    half[..4096].copy_from_slice(&whole[..4096]);
    fs::write(&cut, &half).unwrap();
    let shelf = Shelf::open(&cut, Access::Read).unwrap();
    assert_eq!((shelf.count().unwrap(), shelf.faults().unwrap().len()), ((25, 0), 0));
}

#[test]
fn odd_names_are_names() {
    let folder = Folder::new("odd");
    for name in ["a b.shelf", "50%?#.shelf", "Übung ♭.shelf", "file:a.shelf", ":memory:"] {
        let file = folder.file(name);
        add(&mut open(&file), &content("One"), &facts("", 1), 1);
        assert_eq!(Shelf::open(&file, Access::Read).unwrap().count().unwrap(), (1, 0), "{name}");
        assert!(folder.names().contains(&name.to_owned()));
    }
}

#[test]
fn what_may_only_be_read_is_read_and_not_written() {
    let folder = Folder::new("read");
    let file = folder.file("a.shelf");
    let id = add(&mut open(&file), &content("One"), &facts("", 1), 1);
    let mut shelf = Shelf::open(&file, Access::Read).unwrap();
    assert_eq!(shelf.content(id).unwrap().title, "One");
    let refusal = shelf.remove(id, Moment(2)).unwrap_err();
    assert!(refusal.to_string().contains("may only be read"), "{refusal}");
}

#[test]
fn a_copy_holds_everything_and_replaces_nothing() {
    let folder = Folder::new("copy");
    let mut shelf = open(&folder.file("a.shelf"));
    add(&mut shelf, &content("One"), &facts("", 1), 1);
    let to = folder.file("copy.shelf");
    shelf.back_up(&to).unwrap();
    add(&mut shelf, &content("Two"), &facts("", 1), 1);
    let refusal = shelf.back_up(&to).unwrap_err();
    assert!(refusal.to_string().contains("replaces no file"), "{refusal}");
    let copy = Shelf::open(&to, Access::Write).unwrap();
    assert_eq!((copy.count().unwrap(), copy.faults().unwrap().len()), ((1, 0), 0));
    drop((copy, shelf));
    assert_eq!(folder.names(), ["a.shelf", "copy.shelf"]);
    // A copy that cannot be finished leaves nothing.
    let shelf = open(&folder.file("a.shelf"));
    assert!(shelf.back_up(&folder.file("no").join("b.shelf")).is_err());
}

#[test]
fn a_look_leaves_nothing_beside_the_shelf() {
    let folder = Folder::new("look-only");
    let file = folder.file("a.shelf");
    add(&mut open(&file), &content("One"), &facts("", 1), 1);
    for _ in 0..2 {
        assert_eq!(Shelf::open(&file, Access::Read).unwrap().count().unwrap(), (1, 0));
        assert_eq!(folder.names(), ["a.shelf"]);
    }
}

/// The log belongs to the file and not to a link to it; so does a backup.
#[cfg(unix)]
#[test]
fn a_link_leads_to_the_shelf_and_what_lies_beside_it() {
    let folder = Folder::new("link");
    let file = layout_1(&folder);
    fs::create_dir(folder.file("elsewhere")).unwrap();
    let link = folder.file("elsewhere").join("link.shelf");
    std::os::unix::fs::symlink(&file, &link).unwrap();
    let shelf = Shelf::open(&link, Access::Write).unwrap();
    let backup = &shelf.migrated().unwrap().backup;
    assert_eq!(backup.file_name().unwrap(), "old.shelf.layout-1.backup");
    assert!(folder.file("old.shelf.layout-1.backup").exists(), "{}", backup.display());
    drop(shelf);
    assert_eq!(Shelf::open(&link, Access::Read).unwrap().count().unwrap(), (1, 1));
    assert_eq!(fs::read_dir(folder.file("elsewhere")).unwrap().count(), 1);
}

#[cfg(unix)]
#[test]
fn a_copy_of_a_private_shelf_is_private() {
    use std::os::unix::fs::PermissionsExt as _;
    let folder = Folder::new("private");
    let file = folder.file("a.shelf");
    drop(open(&file));
    fs::set_permissions(&file, fs::Permissions::from_mode(0o600)).unwrap();
    Shelf::open(&file, Access::Read).unwrap().back_up(&folder.file("b.shelf")).unwrap();
    let mode = fs::metadata(folder.file("b.shelf")).unwrap().permissions().mode();
    assert_eq!(mode & 0o777, 0o600);
}
