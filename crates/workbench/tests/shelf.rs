//! The shelf as the teacher and scripts use it: adding, finding, changing, refusing.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod desk;
mod sounds;

use std::fs;
use std::path::Path;
use std::process::Command;

use serde_json::json;

use desk::{Desk, MENDER, STOMP};

#[test]
fn a_folder_goes_on_the_shelf_once() {
    let desk = Desk::new("folder");
    desk.write("in/a.riff", MENDER);
    desk.write("in/more/deep/b.riff", STOMP);
    desk.write("in/.hidden.riff", "riff: Hidden\n| w A1 |\n");
    desk.write("in/letter.txt", "Dear class, see you on Tuesday.\n");
    let said = desk.good(&["add", &desk.path("in")]);
    assert!(said.starts_with("added 1 Net Mender\n"), "{said}");
    assert!(
        said.contains("added 2 Ferry Stomp\n") && said.ends_with("2 riffs added; 2 on the shelf\n"),
        "{said}"
    );
    assert_eq!(desk.titles(&["list"]), ["Net Mender", "Ferry Stomp"]);
    let again = desk.json(&["add", &desk.path("in")]);
    assert_eq!(again["added"], json!([]));
    assert_eq!(again["left_out"].as_array().unwrap().len(), 2);
    assert_eq!(again["left_out"][0]["alike"], "the same file");
    assert_eq!(again["refused"].as_array().unwrap().len(), 1, "the letter is named");
    assert_eq!(desk.good(&["where"]).trim(), desk.path("riffs.shelf"));
    assert!(desk.good(&["check"]).starts_with("the shelf is sound: 2 riffs, 2 editions"));
    // A file that was asked for by name and is no riff fails, the others are added.
    desk.write("in/c.riff", "riff: Third\n| w D2 |\n");
    let said = desk.bad(&["add", &desk.path("in/letter.txt"), &desk.path("in/c.riff")], 1);
    assert!(said.contains("letter.txt"), "{said}");
    assert_eq!(desk.titles(&["list"]).len(), 3);
    fs::create_dir(desk.folder.join("empty")).unwrap();
    assert!(desk.bad(&["add", &desk.path("empty")], 1).contains("no file"));
    assert!(desk.bad(&["add", &desk.path("gone.riff")], 1).contains("gone.riff could not be read"));
}

/// A shelf in the folder of its riffs is no file of the teacher's: it is neither read nor named.
#[test]
fn a_shelf_is_not_put_on_itself() {
    let desk = Desk::new("own");
    desk.write("a.riff", MENDER);
    let folder = desk.folder.display().to_string();
    desk.good(&["add", &folder]);
    desk.write("b.riff", STOMP);
    let again = desk.json(&["add", &folder]);
    assert_eq!((again["added"].as_array().unwrap().len(), &again["refused"]), (1, &serde_json::json!([])));
    assert!(desk.bad(&["add", &desk.path("riffs.shelf")], 1).contains("belongs to the shelf itself"));
    assert!(desk.bad(&["list", "--key", "H"], 2).contains("'H' is no key"));
    assert!(desk.bad(&["title", "1", " "], 2).contains("a title"));
}

#[test]
fn the_same_riff_in_other_clothes_is_known() {
    let desk = Desk::new("alike");
    let file = desk.write("a.riff", MENDER);
    desk.good(&["add", &file]);
    let program = |words: &[&str]| {
        let out = Command::new(env!("CARGO_BIN_EXE_riffkin")).args(words).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
    };
    let (midi, moved, lifted) = (desk.path("b.mid"), desk.path("c.riff"), desk.path("d.riff"));
    program(&["copy", &file, "-o", &midi]);
    program(&["transpose", &file, "--to", "C", "--way", "up", "-o", &moved]);
    desk.write(
        "d.riff",
        MENDER
            .replace("1 b3 4 b5", "1+ b3+ 4+ b5+")
            .replace("q 4 e b3 1 |", "q 4+ e b3+ 1+ |")
            .replace("b7- e 1 r", "b7 e 1+ r"),
    );
    desk.write("e.riff", MENDER.replace("b3 1 | q", "b3 4 | q"));
    desk.write("again.riff", std::fs::read_to_string(&moved).unwrap() + "\n");
    let alike = |file: &str| desk.json(&["add", file])["left_out"][0]["alike"].clone();
    assert_eq!(alike(&midi), "the same riff");
    assert_eq!(alike(&moved), "the same riff in another key, 5 semitones higher");
    assert_eq!(alike(&lifted), "the same riff, 1 octave higher");
    let first = desk.json(&["show", "1"]);
    let files: Vec<_> =
        first["files"].as_array().unwrap().iter().map(|f| (f["name"].clone(), f["kept"].clone())).collect();
    assert_eq!(
        files,
        [("a.riff", true), ("b.mid", false), ("c.riff", false), ("d.riff", false)]
            .map(|(n, k)| (n.into(), k.into()))
    );
    let said = desk.good(&["add", &desk.path("again.riff")]);
    assert!(said.contains("again.riff: the same riff as 1 Net Mender, 5 semitones higher"), "{said}");
    // Once seen, a file is known by its bytes.
    assert_eq!(alike(&midi), "the same file");
    let said = desk.good(&["add", &moved, "--alike-too"]);
    assert!(said.starts_with("added 2 Net Mender (the same file as 1 Net Mender)"), "{said}");
    let other = desk.json(&["add", &desk.path("e.riff")]);
    assert_eq!(other["added"].as_array().unwrap().len(), 1, "one note differs: another riff");
    desk.good(&["remove", "1,2"]);
    assert_eq!(desk.json(&["add", &midi])["left_out"][0]["removed"], true);
}

/// The same riff twice from one recording: hearing is done once.
#[test]
fn a_recording_goes_through_hearing() {
    let desk = Desk::new("recording");
    let take = desk.write("harbour-walk.wav", sounds::wav(16_000, &[sounds::line(16_000)]));
    let added = desk.json(&["add", &take]);
    assert_eq!(added["added"][0]["title"], "Harbour Walk");
    let found = desk.json(&["show", "1"]);
    assert_eq!((&found["riff"]["notes"], &found["files"][0]["kind"]), (&8.into(), &"a recording".into()));
    assert_eq!(desk.json(&["add", &take])["left_out"][0]["alike"], "the same file");
}

#[test]
fn words_tags_and_facts_find_riffs() {
    let desk = Desk::new("find");
    let (a, b) = (desk.write("a.riff", MENDER), desk.write("b.riff", STOMP));
    desk.good(&["add", &a, &b, "--tag", "first term", "--source", "by ear"]);
    let said = desk.good(&["tag", "1-2", "groove", "First Term"]);
    assert!(said.contains("1 Net Mender: changed tags (edition 2)"), "{said}");
    desk.good(&["note", "2", "say \"one\" aloud 🎸\nthen play"]);
    assert!(desk.good(&["tag", "2", "GROOVE"]).contains("nothing to change"));
    assert_eq!(desk.titles(&["find", "men"]), ["Net Mender"]);
    assert_eq!(desk.titles(&["find", "\"ONE\"", "🎸"]), ["Ferry Stomp"]);
    assert_eq!(desk.titles(&["find", "ear"]), ["Ferry Stomp"], "a source that the file names stays");
    assert_eq!(desk.titles(&["find", "invented"]), ["Net Mender"]);
    assert_eq!(desk.titles(&["find", "first", "--permission", "for-class-only"]), ["Ferry Stomp"]);
    assert_eq!(desk.titles(&["list", "--tag", "groove", "--key", "g"]), ["Net Mender"]);
    assert_eq!(desk.titles(&["list", "--within", "1 b3 4 5 b7"]), ["Ferry Stomp"]);
    assert_eq!(desk.titles(&["list", "--having", "b5"]), ["Net Mender"]);
    assert_eq!(desk.titles(&["list", "--by", "title"]), ["Ferry Stomp", "Net Mender"]);
    assert!(desk.titles(&["find", "nobody"]).is_empty());
    assert_eq!(desk.good(&["tags"]), "     2 first term\n     2 groove\n");
    desk.good(&["tag", "1", "groove", "--off"]);
    assert_eq!(
        desk.json(&["tags"])["tags"],
        json!([{"tag": "first term", "count": 2}, {"tag": "groove", "count": 1}])
    );
    let list = desk.good(&["list"]);
    assert!(list.starts_with("1  Net Mender   G minor blues  4/4     9 notes  1 ♭3 4 ♭5 ♭7\n"), "{list}");
    for (words, said) in [
        (&["find", ""][..], "give a word"),
        (&["tag", "x", "y"], "numbers"),
        (&["list", "--within", "9"], "9"),
        (&["permission", "1", "maybe"], "own work"),
        (&["tag", "1", " "], "letter"),
    ] {
        assert!(desk.bad(words, 2).contains(said), "{words:?}");
    }
    assert!(desk.bad(&["tag", "1,77", "x"], 1).contains("no riff on the shelf has the number 77"));
    assert_eq!(desk.json(&["show", "1"])["riff"]["tags"], json!(["first term"]), "nothing was done by half");
}

#[test]
fn every_change_can_be_undone() {
    let desk = Desk::new("undo");
    let a = desk.write("a.riff", MENDER);
    desk.good(&["add", &a]);
    let first = desk.json(&["show", "1"])["notation"].clone();
    desk.good(&["title", "1", "Old Net"]);
    desk.good(&["permission", "1", "own work"]);
    desk.good(&["source", "1", "the quay"]);
    let b = desk.write("new-notes.riff", STOMP.replace("riff: Ferry Stomp\n", ""));
    assert!(desk.good(&["edit", "1", &b]).contains("1 Old Net: changed notes"));
    let shown = desk.json(&["show", "1"]);
    let riff = &shown["riff"];
    assert_eq!(
        (&riff["title"], &riff["key"], &riff["source"], &riff["permission"], &riff["edition"]),
        (&"Old Net".into(), &"A minor".into(), &"the quay".into(), &"own work".into(), &5.into())
    );
    let notation = shown["notation"].as_str().unwrap();
    assert!(notation.contains("riff: Old Net\n") && notation.contains("source: the quay\n"), "{notation}");
    let history = desk.json(&["history", "1"])["history"].clone();
    let dids: Vec<_> =
        history.as_array().unwrap().iter().map(|h| h["did"].as_str().unwrap().to_owned()).collect();
    assert_eq!(dids, ["added", "changed title", "changed permission", "changed source", "changed notes"]);

    assert!(desk.good(&["undo", "1"]).contains("back to edition 4 (edition 6)"));
    assert!(desk.good(&["undo", "1"]).contains("back to edition 3 (edition 7)"));
    assert_eq!(desk.json(&["show", "1"])["riff"]["source"], "invented");
    assert!(desk.good(&["undo", "1", "--to", "5"]).contains("back to edition 5"));
    assert_eq!(desk.json(&["show", "1"])["notation"], notation);
    desk.good(&["undo", "1", "--to", "1"]);
    assert_eq!(desk.json(&["show", "1"])["notation"], first);
    assert!(desk.bad(&["undo", "1"], 1).contains("nothing to undo"));
    assert!(desk.bad(&["undo", "1", "--to", "99"], 1).contains("no edition 99"));
    assert!(desk.good(&["show", "1", "--edition", "2"]).contains("riff: Old Net"));
    let out = desk.path("out.musicxml");
    desk.good(&["show", "1", "-o", &out]);
    assert!(fs::read_to_string(out).unwrap().contains("<work-title>Net Mender"));

    desk.good(&["remove", "1"]);
    assert!(desk.titles(&["list"]).is_empty());
    assert_eq!(desk.titles(&["list", "--removed"]), ["Net Mender"]);
    desk.good(&["restore", "1"]);
    assert!(desk.bad(&["purge", "1", "--yes"], 1).contains("remove it first"));
    desk.good(&["remove", "1"]);
    assert!(desk.bad(&["purge", "--all-removed"], 2).contains("--yes"));
    desk.good(&["purge", "--all-removed", "--yes"]);
    assert!(desk.bad(&["show", "1"], 1).contains("no riff on the shelf has the number 1"));
    assert!(desk.good(&["check"]).contains("sound: 0 riffs"));
}

#[test]
fn what_is_no_shelf_is_refused() {
    let desk = Desk::new("refused");
    let said = desk.bad(&["list"], 1);
    assert!(said.contains("no shelf at") && said.contains("shelf add"), "{said}");
    assert!(!desk.folder.join("riffs.shelf").exists(), "looking makes no shelf");
    assert!(desk.bad(&["remove", "1"], 1).contains("no shelf at"));
    desk.write("riffs.shelf", "not a database at all, but some text\n".repeat(50));
    let a = desk.write("a.riff", MENDER);
    assert!(desk.bad(&["add", &a], 1).contains("is no shelf"));
    assert!(fs::read_to_string(desk.folder.join("riffs.shelf")).unwrap().starts_with("not a database"));
    // Folders above a new shelf are made.
    let far = desk.path("far/away/b.shelf");
    assert!(desk.good(&["--shelf", &far, "add", &a]).contains("1 riff added"));
    assert!(Path::new(&far).exists());
    // The folder for the user's data, when nothing else is said.
    let mut command = Command::new(env!("CARGO_BIN_EXE_riffkin"));
    let data = desk.path("data");
    command
        .args(["shelf", "where"])
        .env_remove("RIFFKIN_SHELF")
        .env("HOME", &data)
        .env("LOCALAPPDATA", &data);
    let out = command.env("XDG_DATA_HOME", &data).output().unwrap();
    let said = String::from_utf8(out.stdout).unwrap();
    assert!(said.contains("data") && said.trim().ends_with("riffs.shelf"), "{said}");
}
