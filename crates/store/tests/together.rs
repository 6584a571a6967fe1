//! Several use one shelf at once, and the disk says no.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use std::collections::BTreeSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread;
use std::time::{Duration, Instant};

use common::{Folder, add, content, facts, open};
use riffkin_store::riff::Change;
use riffkin_store::search::Wanted;
use riffkin_store::{Access, Moment, Shelf, StoreError};

#[test]
fn two_writers_and_a_reader_lose_nothing() {
    let folder = Folder::new("together");
    let file = folder.file("a.shelf");
    let done = AtomicBool::new(false);
    let ids = thread::scope(|scope| {
        let writers: Vec<_> = (0..2)
            .map(|writer| {
                let file = &file;
                // Both may be the one that makes the file.
                scope.spawn(move || {
                    let mut shelf = open(file);
                    (0..40)
                        .map(|i| {
                            let id = add(
                                &mut shelf,
                                &content(&format!("Writer {writer} riff {i}")),
                                &facts("", 1),
                                i,
                            );
                            let change = Change { note: Some(format!("of {writer}")), ..Change::default() };
                            shelf.change(id, &change, Moment(i)).unwrap();
                            id
                        })
                        .collect::<Vec<_>>()
                })
            })
            .collect();
        let reader = scope.spawn(|| {
            while Shelf::open(&file, Access::Read).is_err() && !done.load(Ordering::Relaxed) {}
            let shelf = Shelf::open(&file, Access::Read).unwrap();
            let mut last = 0;
            while !done.load(Ordering::Relaxed) {
                let now = shelf.find(&Wanted::default()).unwrap().len();
                assert!(now >= last, "what was there is still there");
                last = now;
            }
        });
        // The reader is let go before anything is judged, so that a failure is one and not an endless wait.
        let written: Vec<_> = writers.into_iter().map(|w| w.join()).collect();
        done.store(true, Ordering::Relaxed);
        reader.join().unwrap();
        written.into_iter().flat_map(Result::unwrap).collect::<Vec<_>>()
    });
    assert_eq!(ids.iter().collect::<BTreeSet<_>>().len(), 80, "every riff has a number of its own");
    let shelf = Shelf::open(&file, Access::Write).unwrap();
    for id in ids {
        assert_eq!(shelf.history(id).unwrap().len(), 2);
    }
    assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
    assert!(!folder.names().iter().any(|n| n.ends_with(".backup")));
}

#[test]
fn a_long_look_holds_up_no_writer_and_sees_one_state() {
    let folder = Folder::new("look");
    let file = folder.file("a.shelf");
    let mut writer = open(&file);
    add(&mut writer, &content("One"), &facts("", 1), 1);
    let reader = Shelf::open(&file, Access::Read).unwrap();
    let seen: Result<_, StoreError> = reader.at_rest(|reader| {
        let before = reader.count()?;
        let begun = Instant::now();
        add(&mut writer, &content("Two"), &facts("", 1), 2);
        assert!(begun.elapsed() < Duration::from_secs(10), "the writer had to wait");
        Ok((before, reader.count()?))
    });
    assert_eq!(seen.unwrap(), ((1, 0), (1, 0)));
    assert_eq!(reader.count().unwrap(), (2, 0));
}

/// POSIX lets go of a program's locks on a file when the program closes it once (SQLite, *How To Corrupt An SQLite Database
/// File*, 2.2). Were it so here, the other program would take itself for the last one and take the log away, with what is
/// written to it later.
#[test]
fn a_second_shelf_of_one_file_may_come_and_go() {
    const OTHER: &str = "RIFFKIN_STORE_TEST_OTHER";
    if let Some(file) = std::env::var_os(OTHER) {
        // The other program: writes once and ends.
        let mut shelf = open(std::path::Path::new(&file));
        add(&mut shelf, &content("Of the other"), &facts("", 1), 2);
        return;
    }
    let folder = Folder::new("second");
    let file = folder.file("a.shelf");
    let mut first = open(&file);
    add(&mut first, &content("Before"), &facts("", 1), 1);
    for access in [Access::Read, Access::Write] {
        drop(Shelf::open(&file, access).unwrap());
    }
    let other = std::process::Command::new(std::env::current_exe().unwrap())
        .args(["--exact", "a_second_shelf_of_one_file_may_come_and_go"])
        .env(OTHER, &file)
        .output()
        .unwrap();
    assert!(other.status.success(), "{other:?}");
    add(&mut first, &content("After"), &facts("", 1), 3);
    assert!(folder.names().contains(&"a.shelf-wal".to_owned()), "the log is still there");
    // As another program would see it: from the files alone.
    let copy = folder.file("copy");
    std::fs::create_dir(&copy).unwrap();
    for name in ["a.shelf", "a.shelf-wal"] {
        std::fs::copy(folder.file(name), copy.join(name)).unwrap();
    }
    assert_eq!(Shelf::open(&copy.join("a.shelf"), Access::Read).unwrap().count().unwrap(), (3, 0));
}
