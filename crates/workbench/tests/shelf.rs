//! The shelf as the teacher and scripts use it.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod common;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::{Value, json};

/// A folder with a shelf of its own for each test, removed when the test is over.
struct Desk {
    folder: PathBuf,
}

impl Desk {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("riffkin-shelf-{name}-{}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        Self { folder }
    }

    fn write(&self, name: &str, text: impl AsRef<[u8]>) -> String {
        let path = self.folder.join(name);
        fs::create_dir_all(path.parent().unwrap()).unwrap();
        fs::write(&path, text).unwrap();
        path.display().to_string()
    }

    fn path(&self, name: &str) -> String {
        self.folder.join(name).display().to_string()
    }

    fn command(&self, shelf: &str, words: &[&str]) -> Command {
        let mut command = Command::new(env!("CARGO_BIN_EXE_riffkin"));
        command.arg("shelf").args(words).env("RIFFKIN_SHELF", self.folder.join(shelf)).stdin(Stdio::null());
        command
    }

    fn run(&self, words: &[&str]) -> Output {
        self.command("riffs.shelf", words).output().unwrap()
    }

    fn good(&self, words: &[&str]) -> String {
        let out = self.run(words);
        assert_eq!(out.status.code(), Some(0), "{words:?}\n{}", String::from_utf8_lossy(&out.stderr));
        String::from_utf8(out.stdout).unwrap()
    }

    /// What it says when it cannot.
    fn bad(&self, words: &[&str], status: i32) -> String {
        let out = self.run(words);
        let said = String::from_utf8(out.stderr).unwrap();
        assert_eq!(out.status.code(), Some(status), "{words:?}\n{said}");
        said
    }

    fn json(&self, words: &[&str]) -> Value {
        let words: Vec<&str> = words.iter().copied().chain(["--json"]).collect();
        let found: Value = serde_json::from_str(&self.good(&words)).unwrap();
        assert_eq!(found["version"], 1, "{words:?}");
        found
    }

    fn titles(&self, words: &[&str]) -> Vec<String> {
        let found = self.json(words);
        let riffs = found["riffs"].as_array().unwrap();
        assert_eq!(found["count"], riffs.len());
        riffs.iter().map(|r| r["title"].as_str().unwrap().to_owned()).collect()
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

const MENDER: &str =
    "riff: Net Mender\nkey: G minor blues\nsource: invented\n| e 1 b3 4 b5 q 4 e b3 1 | q b7- e 1 r h r |\n";
const STOMP: &str = "riff: Ferry Stomp\nkey: A minor\npermission: for class only\n| q 1 b3 4 5 |\n";

fn class() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("../../demo/class")
}

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
    let take = desk.write("harbour-walk.wav", common::wav(16_000, &[common::line(16_000)]));
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

    assert!(desk.good(&["undo", "1"]).contains("back to 4 (edition 6)"));
    assert!(desk.good(&["undo", "1"]).contains("back to 3 (edition 7)"));
    assert_eq!(desk.json(&["show", "1"])["riff"]["source"], "invented");
    assert!(desk.good(&["undo", "1", "--to", "5"]).contains("back to 5"));
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

/// Everything that a shelf says of its riffs, instants included.
fn everything(desk: &Desk, shelf: &str) -> Vec<Value> {
    let ask = |words: &[&str]| -> Value {
        let out = desk.command(shelf, words).arg("--json").output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        serde_json::from_slice(&out.stdout).unwrap()
    };
    let mut all = vec![ask(&["tags"])];
    for list in [ask(&["list"]), ask(&["list", "--removed"])] {
        for riff in list["riffs"].as_array().unwrap() {
            let id = riff["id"].to_string();
            all.extend([ask(&["show", &id]), ask(&["history", &id])]);
        }
    }
    all
}

fn files(folder: &Path) -> BTreeMap<PathBuf, Vec<u8>> {
    let mut all = BTreeMap::new();
    let mut open = vec![folder.to_owned()];
    while let Some(next) = open.pop() {
        for entry in fs::read_dir(next).unwrap() {
            let path = entry.unwrap().path();
            if path.is_dir() {
                open.push(path);
            } else {
                all.insert(path.strip_prefix(folder).unwrap().to_owned(), fs::read(&path).unwrap());
            }
        }
    }
    all
}

#[test]
fn an_exported_shelf_comes_back_equal() {
    let desk = Desk::new("export");
    desk.good(&["add", &desk.write("a.riff", MENDER), &desk.write("b.riff", STOMP), "--tag", "groove"]);
    desk.good(&["add", &desk.write("c.riff", STOMP.replace("A minor", "D minor")), "--alike-too"]);
    desk.good(&["note", "1", "  two\nlines \"quoted\" 🎸"]);
    desk.good(&["title", "1", "Nätmakaren / 5"]);
    desk.good(&["edit", "2", &desk.write("d.riff", "| h D2 A1 |\n")]);
    desk.good(&["undo", "2"]);
    desk.good(&["remove", "3"]);
    let out = desk.run(&["export", &desk.path("out")]);
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(
        out.status.success() && said.contains("permission where you live; this is no legal advice"),
        "{said}"
    );
    let written = files(&desk.folder.join("out"));
    let names: Vec<_> = written.keys().map(|p| p.display().to_string()).collect();
    assert_eq!(
        names,
        [
            "earlier/0001-n-tmakaren-5.1.riff",
            "earlier/0002-ferry-stomp.2.riff",
            "removed/0003-ferry-stomp.riff",
            "riffs/0001-n-tmakaren-5.riff",
            "riffs/0002-ferry-stomp.riff",
            "shelf.json"
        ]
    );
    let add = desk.command("second.shelf", &["add", &desk.path("out")]).output().unwrap();
    assert!(add.status.success(), "{}", String::from_utf8_lossy(&add.stderr));
    assert_eq!(everything(&desk, "second.shelf"), everything(&desk, "riffs.shelf"));
    // Exported once more it is the same to the byte, but for the instant of the export.
    assert!(desk.command("second.shelf", &["export", &desk.path("out2")]).output().unwrap().status.success());
    let mut second = files(&desk.folder.join("out2"));
    let mut first = written;
    let index = Path::new("shelf.json");
    let strip = |bytes: Vec<u8>| {
        let text = String::from_utf8(bytes).unwrap();
        text.lines().filter(|l| !l.contains("\"exported\"")).map(str::to_owned).collect::<Vec<_>>()
    };
    assert_eq!(strip(first.remove(index).unwrap()), strip(second.remove(index).unwrap()));
    assert_eq!(first, second);
    // Once more onto the same shelf: everything is known.
    let again = desk.json(&["add", &desk.path("out")]);
    assert_eq!(
        (again["added"].as_array().unwrap().len(), again["left_out"].as_array().unwrap().len()),
        (0, 3)
    );
    assert!(desk.bad(&["export", &desk.path("out")], 1).contains("give a new folder"));
    // An index that points outside its folder, or is broken, is refused, and nothing comes of it.
    let index = desk.folder.join("out/shelf.json");
    let text = fs::read_to_string(&index).unwrap();
    for (from, to, said) in [
        ("riffs/0002-ferry-stomp.riff", "../a.riff", "does not lie in the folder"),
        ("\"riffkin_shelf\": 1", "\"riffkin_shelf\": 2", "layout 2"),
        ("\"did\": \"added\"", "\"did\": \"stolen\"", "stolen"),
        ("for class only", "as you like", "as you like"),
    ] {
        fs::write(&index, text.replace(from, to)).unwrap();
        let out = desk.command("third.shelf", &["add", &desk.path("out")]).output().unwrap();
        let heard = String::from_utf8_lossy(&out.stderr).into_owned();
        assert!(out.status.code() == Some(1) && heard.contains(said), "{heard}");
    }
    let third = desk.command("third.shelf", &["list", "--json"]).output().unwrap();
    assert!(String::from_utf8_lossy(&third.stdout).contains("\"count\": 0"));
}

/// The riffs of the demo, in every format that can be read: all go on the shelf, out and in again.
#[test]
fn the_skarvik_class_fits_on_the_shelf() {
    let desk = Desk::new("class");
    let class = class().display().to_string();
    let added = desk.json(&["add", &class]);
    let count = added["added"].as_array().unwrap().len() + added["left_out"].as_array().unwrap().len();
    assert_eq!(count, fs::read_dir(&class).unwrap().count(), "{added:#}");
    assert_eq!(added["refused"], json!([]));
    desk.good(&["export", &desk.path("out")]);
    assert!(desk.command("second.shelf", &["add", &desk.path("out")]).output().unwrap().status.success());
    assert_eq!(everything(&desk, "second.shelf"), everything(&desk, "riffs.shelf"));
    let found = desk.json(&["check"]);
    assert_eq!((&found["faults"], &found["outdated"]), (&json!([]), &json!([])));
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

#[test]
fn a_backup_is_a_shelf() {
    let desk = Desk::new("backup");
    desk.good(&["add", &desk.write("a.riff", MENDER)]);
    let copy = desk.path("copy.shelf");
    assert!(desk.good(&["backup", &copy]).contains("the whole shelf"));
    assert!(desk.bad(&["backup", &copy], 1).contains("replaces no file"));
    let out = desk.command("copy.shelf", &["check"]).output().unwrap();
    assert!(String::from_utf8_lossy(&out.stdout).contains("sound: 1 riff, 1 edition"));
}

#[test]
fn a_text_that_cannot_be_read_is_found_and_undone() {
    use riffkin_store::riff::{Change, ChangedRiff, Facts};
    use riffkin_store::{Access, Moment, RiffId, Shelf};
    let desk = Desk::new("damaged");
    desk.good(&["add", &desk.write("a.riff", MENDER)]);
    // Past the program, as a fault in it would.
    let mut kept = Shelf::open(&desk.folder.join("riffs.shelf"), Access::Write).unwrap();
    let broken = ChangedRiff {
        title: "Other".into(),
        notation: "riff: Other\n| q 1 1 1".into(),
        facts: Facts { meter: "4/4".into(), ..Facts::default() },
        prints: None,
        notes: true,
    };
    let change = Change { riff: Some(broken), ..Change::default() };
    assert_eq!(kept.change(RiffId(1), &change, Moment(1)).unwrap(), 2);
    drop(kept);
    let said = desk.bad(&["check"], 1);
    assert!(
        said.contains("riff 1, edition 2: its text cannot be read") && said.contains("1 fault;"),
        "{said}"
    );
    assert!(desk.bad(&["show", "1", "-o", &desk.path("x.riff")], 1).contains("undo"));
    desk.good(&["undo", "1"]);
    assert!(desk.good(&["show", "1"]).contains("G minor blues"));
    assert!(desk.bad(&["check"], 1).contains("edition 2"), "the history keeps it, and the check says so");

    // Facts that other rules found are found anew.
    let desk = Desk::new("outdated");
    desk.good(&["add", &desk.write("a.riff", MENDER)]);
    let mut kept = Shelf::open(&desk.folder.join("riffs.shelf"), Access::Write).unwrap();
    let prints = riffkin_store::prints::Prints { version: 0, ..kept.prints(RiffId(1)).unwrap().unwrap() };
    let old = riffkin_store::prints::Renewed { id: RiffId(1), edition: 1, facts: Facts::default(), prints };
    kept.renew(&[old]).unwrap();
    drop(kept);
    assert_eq!(desk.json(&["check"])["outdated"], json!([1]));
    assert_eq!(desk.json(&["check", "--renew"])["renewed"], 1);
    assert_eq!(desk.json(&["list", "--key", "G"])["count"], 1);
    assert_eq!(desk.json(&["history", "1"])["history"].as_array().unwrap().len(), 1);
}
