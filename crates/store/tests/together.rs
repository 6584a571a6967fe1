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
