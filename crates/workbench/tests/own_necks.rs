//! The teacher's own necks, usual hand and taste, kept on the shelf and used everywhere else.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod desk;

use std::process::{Command, Output, Stdio};

use desk::{Desk, STOMP};
use serde_json::Value;

/// Runs the program beside a shelf.
fn riffkin(desk: &Desk, words: &[&str]) -> Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_riffkin"));
    let shelf = desk.folder.join("riffs.shelf");
    command.args(words).env("RIFFKIN_SHELF", shelf).stdin(Stdio::null()).output().unwrap()
}

/// What it answers, and what it says beside.
fn good(desk: &Desk, words: &[&str]) -> (String, String) {
    let out = riffkin(desk, words);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(0), "{words:?}\n{said}");
    (String::from_utf8(out.stdout).unwrap(), said)
}

fn bad(desk: &Desk, words: &[&str], status: i32) -> String {
    let out = riffkin(desk, words);
    let said = String::from_utf8(out.stderr).unwrap();
    assert_eq!(out.status.code(), Some(status), "{words:?}\n{said}");
    said
}

fn json(desk: &Desk, words: &[&str]) -> Value {
    serde_json::from_str(&good(desk, words).0).unwrap()
}

fn no_shelf(desk: &Desk) -> bool {
    std::fs::read_dir(&desk.folder)
        .unwrap()
        .all(|f| !f.unwrap().file_name().to_string_lossy().contains("shelf"))
}

/// A tuning that no usual neck has; A0 lies below all of them.
const SHED: &str = "C2 G1 D1 A0, 22 frets, 35 inch";
const LOW: &str = "riff: Low Tide\nkey: A minor\n| q A0 C1 D1 E1 |\n";
const SCALE: &str = "riff: Scale\nkey: C\n| e C2 D2 E2 F2 G2 A2 B2 C3 ||\n";

#[test]
fn a_kept_neck_is_known_wherever_a_neck_is_asked_for() {
    let desk = Desk::new("own-necks");
    assert_eq!(desk.good(&["neck", "Old Shed", SHED]), format!("Old Shed: {SHED}\n"));
    let riffs = desk.folder.join("riffs");
    let file = desk.write("riffs/low.riff", LOW);
    let fit = json(&desk, &["fit", &file, "--neck", "old shed", "--json"]);
    assert_eq!((&fit["neck"], fit["adapted"].as_array().unwrap().len()), (&Value::from("Old Shed"), 0));
    assert_eq!(
        (&fit["fits"][0]["notes"][0]["string"], &fit["fits"][0]["notes"][0]["fret"]),
        (&4.into(), &0.into())
    );
    assert_eq!(json(&desk, &["neck", "OLD  SHED", "--json"])["neck"]["line"], SHED);
    assert_eq!(json(&desk, &["neck", "old shed, capo 2", "--json"])["neck"]["capo"], 2);
    // A0 is no longer on it.
    let moved =
        json(&desk, &["transpose", &file, "--to", "G", "--way", "down", "--neck", "old shed", "--json"]);
    assert_eq!(moved["on_neck"]["neck"], "Old Shed");
    let copied = good(&desk, &["copy", &file, "--neck", "old shed"]).0;
    assert!(copied.contains(&format!("neck: {SHED}\n")) && copied.contains("@4:0:0"), "{copied}");
    assert_eq!(json(&desk, &["explain", &file, "--neck", "old shed", "--json"])["neck"], "Old Shed");
    let folder = riffs.display().to_string();
    let kin = json(&desk, &["kin", &folder, "--of", &file, "--neck", "old shed", "--json"]);
    assert!(kin["kin"].is_array());
    let lesson = desk.path("lesson");
    good(&desk, &["lesson", &folder, "-o", &lesson, "--key", "A", "--neck", "old shed"]);
    let page = std::fs::read_to_string(desk.folder.join("lesson/page.html")).unwrap();
    assert!(page.contains("four strings A D G C"), "the class has that neck");
    // Both kinds are listed.
    let said = bad(&desk, &["fit", &file, "--neck", "loft"], 2);
    assert!(said.contains("known are four, five") && said.contains("on your shelf Old Shed"), "{said}");
    assert!(good(&desk, &["neck"]).0.contains("Old Shed"));
    let names = json(&desk, &["neck", "--json"]);
    assert_eq!(
        (names["necks"].as_array().unwrap().len(), &names["own"][0]["name"]),
        (10, &"Old Shed".into())
    );
}

#[test]
fn a_riff_may_name_a_kept_neck_and_has_it_written_out() {
    let desk = Desk::new("own-necks-named");
    let file =
        desk.write("a.riff", "riff: Low Tide\nkey: A minor\nneck: shed\n| q @4:0 @4:3 D1@3:0 E1@3:2 |\n");
    let said = bad(&desk, &["copy", &file], 1);
    assert!(said.contains("on a neck that is not known"), "{said}");
    assert!(no_shelf(&desk), "looking makes no shelf");
    desk.good(&["neck", "shed", SHED]);
    let (copied, said) = good(&desk, &["copy", &file]);
    assert!(said.contains(&format!("'shed' is {SHED}, as kept on your shelf")), "{said}");
    assert!(copied.contains(&format!("neck: {SHED}\n")) && copied.contains("1-@4:0"), "{copied}");
    // Written out it needs no shelf.
    let again = desk.write("b.riff", &copied);
    desk.good(&["neck", "shed", "--forget"]);
    assert_eq!(good(&desk, &["copy", &again]).0, copied);
    // On a shelf it is the same riff, whatever becomes of the name.
    desk.good(&["neck", "shed", SHED]);
    desk.good(&["add", &file]);
    assert!(desk.good(&["show", "1"]).contains(&format!("neck: {SHED}\n")));
    let wrong = desk.write("c.riff", "neck: shed\n| q E1@4:0 r h r |\n");
    assert!(bad(&desk, &["copy", &wrong], 1).contains("the neck 'shed'"));
}

#[test]
fn necks_are_kept_replaced_listed_forgotten_and_refused() {
    let desk = Desk::new("own-necks-kept");
    assert_eq!(desk.good(&["neck"]), "");
    for (name, line) in
        [("four", SHED), ("E1 A1", SHED), ("a, b", SHED), ("", SHED), ("shed", "G2 D2, 0 frets")]
    {
        desk.bad(&["neck", name, line], 2);
    }
    assert!(desk.bad(&["neck", "Five", SHED], 2).contains("means a neck already"));
    assert!(desk.bad(&["neck", "shed"], 1).contains("no neck called 'shed'"));
    assert!(no_shelf(&desk));
    desk.good(&["neck", "shed", "five, 24 frets"]);
    let out = desk.run(&["neck", "SHED", SHED]);
    assert!(String::from_utf8_lossy(&out.stderr).contains("'shed' was five, 24 frets before"));
    // A kept neck may be the start of another.
    desk.good(&["neck", "attic", "shed, capo 1"]);
    assert_eq!(desk.good(&["neck"]), format!("attic: {SHED}, capo 1\nSHED: {SHED}\n"));
    assert_eq!(desk.json(&["neck", "shed"])["necks"][0]["line"], SHED);
    assert_eq!(desk.good(&["neck", "Shed", "--forget"]), "Shed: forgotten\n");
    assert!(desk.bad(&["neck", "shed", "--forget"], 1).contains("no neck called"));
    // They come along with an export.
    desk.good(&["export", &desk.path("out")]);
    let back = desk.command("other.shelf", &["add", &desk.path("out")]).output().unwrap();
    assert_eq!(back.status.code(), Some(0));
    let there = desk.command("other.shelf", &["neck"]).output().unwrap();
    assert_eq!(String::from_utf8(there.stdout).unwrap(), format!("attic: {SHED}, capo 1\n"));
}

#[test]
fn a_learned_taste_is_kept_used_said_and_forgotten() {
    let desk = Desk::new("own-taste");
    let file = desk.write("class/a.riff", SCALE);
    let (plain, said) = good(&desk, &["fit", &file, "--neck", "four", "--json"]);
    assert!(!said.contains("shelf") && no_shelf(&desk));
    // A teacher who wants it higher up the neck.
    let wanted = desk.path("wanted.riff");
    good(&desk, &["fit", &file, "--neck", "four", "--wish", "frets 7 to 10", "-o", &wanted]);
    // A file that is named for it keeps the shelf out of it.
    let taste = desk.path("taste.txt");
    good(&desk, &["fit", &file, "--neck", "four", "--learn", &wanted, "--taste", &taste]);
    assert!(no_shelf(&desk));
    let (learned, said) = good(&desk, &["fit", &file, "--neck", "four", "--learn", &wanted, "--json"]);
    assert!(said.contains("kept on your shelf") && !no_shelf(&desk), "{said}");
    let (next, said) = good(&desk, &["fit", &file, "--neck", "four", "--json"]);
    assert!(said.contains("by the taste kept on your shelf"), "{said}");
    let fits = |text: &str| serde_json::from_str::<Value>(text).unwrap()["fits"].clone();
    assert_eq!(fits(&next), fits(&learned));
    assert_ne!(fits(&next), fits(&plain));
    // Everywhere else too, and said.
    let class = desk.path("class");
    for words in [
        &["lesson", &class, "-o", &desk.path("lesson")][..],
        &["copy", &file, "--neck", "four"],
        &["explain", &file],
        &["transpose", &file, "--to", "D", "--neck", "four"],
    ] {
        let said = good(&desk, words).1;
        assert!(said.contains("by the taste kept on your shelf"), "{words:?}: {said}");
    }
    let copied = good(&desk, &["copy", &file, "--neck", "four"]).0;
    let usual = good(&desk, &["fit", &file, "--neck", "four", "--usual", "--json"]);
    assert_eq!((fits(&usual.0), usual.1.contains("shelf")), (fits(&plain), false));
    // In words, and back.
    let words = desk.json(&["taste"]);
    assert_eq!(words["kept"], true);
    assert_eq!(words["taste"], serde_json::from_str::<Value>(&learned).unwrap()["taste"]);
    assert!(desk.good(&["taste"]).contains("as usual ("));
    assert_eq!(desk.good(&["taste", "--forget"]), "the usual taste\n");
    assert_eq!(desk.good(&["taste"]), "the usual taste\n");
    assert_eq!(good(&desk, &["fit", &file, "--neck", "four", "--json"]), (plain, String::new()));
    assert_ne!(good(&desk, &["copy", &file, "--neck", "four"]).0, copied);
}

#[test]
fn a_usual_hand_is_kept_used_said_and_forgotten() {
    let desk = Desk::new("own-hand");
    let file = desk.write("a.riff", "| q G1 D2 G2 r ||\n");
    let fingers = |words: &[&str]| {
        let all = [&["fit", &file, "--neck", "four", "--wish", "frets 3 to 5", "--json"], words].concat();
        let found = json(&desk, &all);
        found["fits"][0]["notes"]
            .as_array()
            .unwrap()
            .iter()
            .map(|n| n["finger"].as_u64().unwrap())
            .collect::<Vec<_>>()
    };
    // Root, fifth, octave: 1 4 4 below the switch point, 1 3 4 with one finger per fret (common practice, no source).
    assert_eq!(fingers(&[]), [1, 4, 4]);
    assert_eq!(desk.good(&["hand"]), "the usual hand\n");
    assert!(no_shelf(&desk));
    assert_eq!(desk.good(&["hand", "--switch", "1"]), "switch 1\n");
    assert_eq!(fingers(&[]), [1, 3, 4]);
    // What the command says comes first.
    assert_eq!(fingers(&["--switch", "5"]), [1, 4, 4]);
    assert_eq!(fingers(&["--usual"]), [1, 4, 4]);
    assert_eq!(desk.good(&["hand", "--level", "beginner"]), "level beginner\nswitch 1\n");
    let said = good(&desk, &["fit", &file, "--switch", "5"]).1;
    assert!(said.contains("for the hand kept on your shelf: level beginner\n"), "{said}");
    assert_eq!(desk.json(&["hand", "--hand", "140"])["hand"]["hand"], "140");
    assert_eq!(desk.good(&["hand"]), "hand 140\nlevel beginner\nswitch 1\n");
    assert!(desk.bad(&["hand", "--hand", "12"], 2).contains("40 to 250 mm"));
    assert_eq!(desk.good(&["hand", "--forget"]), "the usual hand\n");
    assert_eq!(fingers(&[]), [1, 4, 4]);
}

#[test]
fn a_shelf_that_cannot_be_read_stops_no_riff_and_is_not_passed_over_in_silence() {
    let desk = Desk::new("own-damaged");
    let file = desk.write("a.riff", STOMP);
    desk.write("riffs.shelf", "no shelf at all, but a text that somebody put in its place");
    let (text, said) = good(&desk, &["fit", &file, "--neck", "four"]);
    assert!(text.contains("finger"));
    assert!(said.contains("the usual hand and taste are taken") && said.contains("is no shelf"), "{said}");
    assert!(bad(&desk, &["fit", &file, "--neck", "shed"], 1).contains("is no shelf"));
}

#[test]
fn what_becomes_of_the_shape_stands_in_the_json_of_transpose() {
    let desk = Desk::new("own-shape");
    // D minor at fret 5 of the A string moves as a block (common practice, no source).
    let file = desk.write("a.riff", "key: D minor\n| q D2@3:5:1 F2@2:3:1 A2@2:7:4 D2@3:5:1 |\n");
    let closed = desk.write("b.riff", "key: D minor\n| q D2@3:5:1 F2@3:8:4 G2@2:5:1 A2@2:7:3 |\n");
    let moved = |file: &str, words: &[&str]| json(&desk, &[&["transpose", file, "--json"], words].concat());
    let up = moved(&closed, &["--to", "E", "--neck", "four"]);
    assert_eq!((&up["semitones"], &up["on_neck"]["shape"]["moves"]), (&2.into(), &true.into()), "{up}");
    assert_eq!(
        (&up["on_neck"]["shape"]["frets"], &up["on_neck"]["shape"]["strings"]),
        (&2.into(), &0.into())
    );
    assert!(up["on_neck"]["shape"]["words"].as_str().unwrap().contains("2 frets up on the same strings"));
    let open = desk.write("c.riff", "key: E minor\n| q E1@4:0 G1@4:3:4 B1@3:2:2 E1@4:0 |\n");
    let broke = moved(&open, &["--to", "F", "--neck", "four"]);
    let shape = &broke["on_neck"]["shape"];
    assert_eq!(
        (&shape["moves"], &shape["bar"], &shape["beat"]),
        (&false.into(), &1.into(), &"1".into()),
        "{broke}"
    );
    assert!(shape["words"].as_str().unwrap().contains("the open string 4 cannot move"), "{shape}");
    assert_eq!(moved(&file, &["--to", "E"])["on_neck"], Value::Null);
}

#[test]
fn changes_are_said_once() {
    let desk = Desk::new("own-once");
    let file = desk.write("low.riff", "key: E minor\n| q E1 G1 B0 C1 | E1 r r r ||\n");
    let out = riffkin(&desk, &["fit", &file, "--neck", "four"]);
    let both = String::from_utf8_lossy(&out.stdout).into_owned() + &String::from_utf8_lossy(&out.stderr);
    let adapted = json(&desk, &["fit", &file, "--neck", "four", "--json"])["adapted"].clone();
    let adapted = adapted.as_array().unwrap();
    assert!(!adapted.is_empty());
    for change in adapted {
        assert_eq!(both.matches(change.as_str().unwrap()).count(), 1, "{both}");
    }
    let said = good(&desk, &["fit", &file, "--neck", "four", "-o", &desk.path("out.riff")]).1;
    assert!(said.contains(adapted[0].as_str().unwrap()), "{said}");
}
