//! The demo class: every file reads, and the lesson holds what it promises.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

fn riffkin(words: &[&str]) -> (String, String) {
    let out = Command::new(env!("CARGO_BIN_EXE_riffkin"))
        .args(words)
        .env("RIFFKIN_SHELF", "/no/shelf")
        .output()
        .unwrap();
    let said = String::from_utf8(out.stderr).unwrap();
    assert!(out.status.success(), "{words:?}\n{said}");
    (String::from_utf8(out.stdout).unwrap(), said)
}

fn class() -> Vec<PathBuf> {
    let folder = concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/class");
    let mut paths: Vec<PathBuf> = fs::read_dir(folder)
        .unwrap()
        .map(|e| e.unwrap().path())
        .filter(|p| p.extension().is_some_and(|e| e != "md"))
        .collect();
    paths.sort();
    paths
}

#[test]
fn every_file_reads_and_its_print_reads_back_to_itself() {
    let copy = std::env::temp_dir().join(format!("riffkin-demo-copy-{}.riff", std::process::id()));
    let mut endings: Vec<String> = Vec::new();
    for path in class() {
        let (printed, _) = riffkin(&["copy", path.to_str().unwrap()]);
        fs::write(&copy, &printed).unwrap();
        assert_eq!(riffkin(&["copy", copy.to_str().unwrap()]).0, printed, "{}", path.display());
        endings.push(path.extension().unwrap().to_string_lossy().into_owned());
    }
    fs::remove_file(&copy).unwrap();
    for ending in ["riff", "musicxml", "mxl", "mid", "txt", "flac"] {
        assert!(endings.iter().any(|e| e == ending), "no .{ending} in the class");
    }
}

/// The recording was made from this line; what is heard must be it, note for note.
#[test]
fn the_recording_is_heard_as_it_was_played() {
    let path = class().into_iter().find(|p| p.extension().is_some_and(|e| e == "flac")).unwrap();
    let (printed, said) = riffkin(&["hear", path.to_str().unwrap()]);
    let played =
        "| q D2 e F2 G2 q A2 G2 | e F2 D2 C2 D2 q F2 D2 | D2 e F2 G2 q A2 C3 | e A2 G2 F2 C2 h D2 ||";
    assert!(printed.contains("tempo: 96\n") && printed.contains(played), "{printed}");
    assert!(said.contains("guessed"), "a guessed tempo is said to be one: {said}");
}

#[test]
fn the_demo_builds_the_whole_lesson() {
    let out = std::env::temp_dir().join(format!("riffkin-demo-{}", std::process::id()));
    let (ladder, said) = riffkin(&["demo", "-o", out.to_str().unwrap()]);
    let riffs = class().len();
    assert!(riffs >= 18);
    let file = |name: &str| fs::read(out.join(name)).unwrap();
    let rungs: serde_json::Value = serde_json::from_slice(&file("ladder.json")).unwrap();
    assert_eq!(rungs["rungs"].as_array().unwrap().len(), riffs, "{said}");
    assert_eq!(rungs["tonic"], "G");
    for rung in rungs["rungs"].as_array().unwrap() {
        assert!(ladder.contains(rung["riff"].as_str().unwrap()));
    }
    let inside = |folder: &str| fs::read_dir(out.join(folder)).unwrap().count();
    assert_eq!((inside("sound"), inside("scores"), inside("class")), (riffs, 3 * riffs, riffs));
    assert!(file("sheet.pdf").starts_with(b"%PDF-") && file("answers.pdf").starts_with(b"%PDF-"));
    let page = String::from_utf8(file("page.html")).unwrap();
    assert_eq!(page.matches("<button type=\"button\" data-play").count(), riffs);
    let addresses = page.matches("http").count();
    let names = page.matches("http://www.w3.org/2000/svg").count() + page.matches("http-equiv").count();
    assert_eq!(addresses, names, "the page names no address but the SVG namespace");
    assert!(said.contains("Ballast"), "what was adapted is said: {said}");
    fs::remove_dir_all(Path::new(&out)).unwrap();
}
