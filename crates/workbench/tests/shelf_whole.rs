//! The shelf as a whole: out as plain files and in again, copied, checked, asked for kin, interrupted.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod desk;

use std::collections::BTreeMap;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};

use serde_json::{Value, json};

use desk::{Desk, MENDER, STOMP, class};

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

/// Ctrl-C in the middle of an export and of adding: status 130, nothing by half, and what was added is there.
#[cfg(unix)]
#[test]
fn an_interrupt_leaves_nothing_by_half() {
    use std::io::{BufRead, BufReader};
    let desk = Desk::new("interrupt");
    for i in 0..60 {
        desk.write(
            &format!("in/{i:02}.riff"),
            format!("riff: Number {i}\n| q A1 D2 e A1 {} q E1 |\n", "C2 ".repeat(i % 2 + 1).trim()),
        );
    }
    let interrupt = |child: &mut std::process::Child| {
        // One that is done already cannot be interrupted.
        let _ = Command::new("kill").args(["-INT", &child.id().to_string()]).stderr(Stdio::null()).status();
        child.wait().unwrap().code()
    };
    let mut adding = desk.command("riffs.shelf", &["add", &desk.path("in"), "--alike-too"]);
    let mut child = adding.stdout(Stdio::piped()).stderr(Stdio::null()).spawn().unwrap();
    let mut lines = BufReader::new(child.stdout.take().unwrap()).lines();
    let said: Vec<String> = (0..3).map(|_| lines.next().unwrap().unwrap()).collect();
    let status = interrupt(&mut child);
    let rest: Vec<String> = lines.map_while(Result::ok).filter(|l| l.starts_with("added ")).collect();
    assert!(status == Some(130) || rest.len() == 57, "{status:?}");
    let there = desk.titles(&["list"]);
    for line in said.iter().chain(&rest) {
        let title = line.splitn(3, ' ').nth(2).unwrap().split(" (").next().unwrap();
        assert!(there.contains(&title.to_owned()), "{line}");
    }
    assert!(desk.good(&["check"]).contains("sound"));

    // Enough that an export takes a while.
    use riffkin_store::riff::{Content, Facts, New};
    let mut kept =
        riffkin_store::Shelf::open(&desk.folder.join("riffs.shelf"), riffkin_store::Access::Write).unwrap();
    let (facts, prints) = (Facts { meter: "4/4".into(), ..Facts::default() }, Default::default());
    let content =
        Content { title: "Many".into(), notation: "riff: Many\n| w A1 |\n".into(), ..Content::default() };
    let new = || New { content: &content, facts: &facts, prints: &prints, import: None };
    kept.add(&std::iter::repeat_with(new).take(4_000).collect::<Vec<_>>(), riffkin_store::Moment(1)).unwrap();
    drop(kept);
    let mut exporting = desk.command("riffs.shelf", &["export", &desk.path("out")]);
    let mut child = exporting.stdout(Stdio::null()).stderr(Stdio::null()).spawn().unwrap();
    // As soon as the first file is written.
    let unfinished = desk.folder.join(format!(".out.{}.unfinished", child.id()));
    while !unfinished.join("riffs").exists() && child.try_wait().unwrap().is_none() {}
    let status = interrupt(&mut child);
    assert!(!unfinished.exists(), "half an export is left");
    assert_eq!((status, desk.folder.join("out").exists()), (Some(130), false));
}

/// The shelf answers as a folder of the same riffs does: by every measure, whole and cut, in the same order.
#[test]
fn kin_on_the_shelf_are_those_of_the_folder() {
    let desk = Desk::new("kin");
    let folder = desk.folder.join("class");
    fs::create_dir(&folder).unwrap();
    // Without the recording: it would be heard again for every question.
    for file in fs::read_dir(class()).unwrap().map(|file| file.unwrap().path()) {
        if file.extension().is_some_and(|ending| ending != "flac") {
            fs::copy(&file, folder.join(file.file_name().unwrap())).unwrap();
        }
    }
    let class = folder.display().to_string();
    desk.good(&["add", &class, "--alike-too"]);
    let of = desk.write("of.riff", "key: A minor\n| q 1 b3 4 5 |\n");
    let asked = |folder: bool, words: &[&str]| -> (Value, String) {
        let mut command = Command::new(env!("CARGO_BIN_EXE_riffkin"));
        command.arg("kin").args(folder.then_some(&class)).args(words).arg("--json");
        let out = command.env("RIFFKIN_SHELF", desk.folder.join("riffs.shelf")).output().unwrap();
        assert!(out.status.success(), "{}", String::from_utf8_lossy(&out.stderr));
        let mut found: Value = serde_json::from_slice(&out.stdout).unwrap();
        for relative in found["kin"].as_array_mut().into_iter().flatten() {
            let file = relative.as_object_mut().unwrap().remove("file").unwrap();
            assert_ne!(file.as_str().unwrap().starts_with("shelf:"), folder);
        }
        let said = String::from_utf8(out.stderr).unwrap();
        let cut = said.lines().filter(|line| line.contains("not shown")).collect();
        (found, cut)
    };
    let questions: &[&[&str]] = &[
        &["--of", &of, "--most", "100"],
        &["--of", &of, "--by", "hand", "--most", "5"],
        &["--of", &of, "--by", "intervals", "--most", "7"],
        &["--of", &of, "--by", "intervals", "--snippet", "--most", "3"],
        &["--of", &of, "--by", "rhythm", "--most", "4"],
        &["--of", &of, "--by", "hand", "--neck", "five", "--most", "3"],
        &["--degrees", "1 b3", "--most", "2"],
        &["--hand", "0:0 0:2", "--most", "3"],
        &[],
    ];
    for words in questions {
        let (shelf, folder) = (asked(false, words), asked(true, words));
        assert_eq!(shelf, folder, "{words:?}");
        let shown = shelf.0["kin"].as_array().map_or(0, Vec::len);
        assert_eq!(!shelf.1.is_empty(), (1..10).contains(&shown), "{words:?}: what is cut is said");
    }
    // Kin found there are asked about by their numbers.
    let list = desk.json(&["list"]);
    let (title, number) = (&list["riffs"][0]["title"], format!("shelf:{}", list["riffs"][0]["id"]));
    let (found, _) = asked(false, &["--of", &number, "--most", "100"]);
    assert_eq!(&found["of"]["riff"], title);
    let others = found["kin"].as_array().unwrap();
    assert_eq!(others.len() + 1, list["riffs"].as_array().unwrap().len(), "all but itself");
    assert!(others.iter().all(|kin| &kin["riff"] != title));
    let mut gone = Command::new(env!("CARGO_BIN_EXE_riffkin"));
    gone.args(["kin", "--of", "shelf:999"]).env("RIFFKIN_SHELF", desk.folder.join("riffs.shelf"));
    let gone = gone.output().unwrap();
    let said = String::from_utf8(gone.stderr).unwrap();
    assert!(gone.status.code() == Some(1) && said.contains("999"), "{said}");
}
