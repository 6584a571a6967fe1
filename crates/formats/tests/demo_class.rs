//! The demo class's own riff notation reads, and prints back to itself.

#![allow(clippy::panic, reason = "a test stops where it fails, and says on which file")]

use riffkin_formats::riff_text;

#[test]
fn the_class_reads_and_prints_back() {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/class");
    let mut read = 0;
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.extension().is_none_or(|e| e != "riff") {
            continue;
        }
        let text = std::fs::read_to_string(&path).unwrap();
        let (riff, warnings) = riff_text::parse(&text).unwrap_or_else(|e| panic!("{}\n{e}", path.display()));
        assert!(warnings.is_empty(), "{}: {warnings:?}", path.display());
        let (again, _) = riff_text::parse(&riff_text::print(&riff)).unwrap();
        assert_eq!(riff, again, "{}", path.display());
        read += 1;
    }
    assert!(read >= 18, "only {read} riffs were found");
}
