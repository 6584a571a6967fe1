//! `riffkin kin`: what is printed, in which order, and what is refused.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod program;

use std::fs;

use program::{Folder, bad, good, json, riffkin};

/// What is said where the words are off.
fn off(words: &[&str]) -> String {
    bad(words, 2)
}

/// A riff on G; the same on C; broken up; with a flat fifth more; and one of other degrees.
fn shelf(name: &str) -> Folder {
    let folder = Folder::new(name);
    folder.write("a.riff", "riff: Wet Rope\nkey: G minor\n| q 1 b3 e 4 b3 q 1 | q b7 1 h 5 |\n");
    folder.write("b.riff", "riff: Same on C\nkey: C minor\n| q 1 b3 e 4 b3 q 1 | q b7 1 h 5 |\n");
    folder.write("c.riff", "riff: Broken\nkey: A minor\n| e 1 1 b3 b3 4 b3 q 1 | q b7 1 q 5 5 |\n");
    folder.write("d.riff", "riff: Flat Five\nkey: E minor\n| e 1 b3 4 b5 q 4 b3 | q 1 b7- h 5- |\n");
    folder.write("e.riff", "riff: Elsewhere\nkey: D major\n| q 1 2 3 6 | h 2 3 |\n");
    folder
}

fn names(found: &serde_json::Value) -> Vec<String> {
    let list = found["kin"].as_array().unwrap();
    list.iter().map(|k| k["riff"].as_str().unwrap().to_owned()).collect()
}

#[test]
fn kin_of_a_riff_by_every_measure() {
    let folder = shelf("measures");
    let of = folder.path("a.riff");
    let found = json(&["kin", &folder.dir(), "--of", &of, "--by", "intervals", "--json"]);
    assert_eq!((&found["version"], &found["of"]["riff"]), (&1.into(), &"Wet Rope".into()));
    assert_eq!(names(&found)[..2], ["Broken", "Same on C"], "the riff itself is left out");
    let by_name =
        |name: &str| found["kin"].as_array().unwrap().iter().find(|k| k["riff"] == name).unwrap().clone();
    let same = by_name("Same on C");
    assert_eq!((&same["same_riff"], &same["degrees"]["words"]), (&true.into(), &"the same degrees".into()));
    assert_eq!((&same["intervals"]["to_change"], &same["rhythm"]["same"]), (&"0".into(), &true.into()));
    assert_eq!(same["hand"]["same"], true, "a block moved is the same hand shape");
    let broken = by_name("Broken");
    assert_eq!((&broken["same_riff"], &broken["intervals"]["to_change"]), (&false.into(), &"0".into()));
    assert_eq!(broken["rhythm"]["same"], false);
    assert_eq!(broken["intervals"]["places"], serde_json::json!(["bars 1 to 2 here, bars 1 to 2 there"]));
    let five = by_name("Flat Five");
    assert_eq!(five["shared"], serde_json::json!(["1", "b3", "4", "5", "b7"]));
    assert_eq!(
        (&five["only_here"], &five["only_there"]),
        (&serde_json::json!([]), &serde_json::json!(["b5"]))
    );
    assert_eq!((&five["degrees"]["near_kin"], &five["degrees"]["steps_apart"]), (&true.into(), &1.into()));
    let other = by_name("Elsewhere");
    assert_eq!(other["only_there"], serde_json::json!(["2", "3", "6"]));
    // The order follows the measure.
    let by_degrees = json(&["kin", &folder.dir(), "--of", &of, "--json"]);
    assert_eq!(names(&by_degrees), ["Broken", "Same on C", "Flat Five", "Elsewhere"]);
    let by_rhythm = json(&["kin", &folder.dir(), "--of", &of, "--by", "rhythm", "--json"]);
    assert_eq!(names(&by_rhythm)[0], "Same on C");
    let text = good(&["kin", &folder.dir(), "--of", &of, "--most", "1"]);
    assert!(text.contains("the same degrees") && !text.contains("Elsewhere"), "{text}");
}

#[test]
fn a_snippet_is_found_inside_at_another_pace() {
    let folder = shelf("snippet");
    let other = Folder::new("snippet-of");
    // b3 4 b3 1 from the first bar, in values twice as long, on B.
    let of = other.write("take.riff", "riff: Take\nkey: B minor\n| h b3 q 4 b3 | h 1 r |\n");
    let found = json(&["kin", &folder.dir(), "--of", &of, "--snippet", "--by", "intervals", "--json"]);
    let first = &found["kin"][0];
    assert_eq!((&first["intervals"]["part"], &first["intervals"]["pace"]), (&true.into(), &"1:2".into()));
    assert_eq!(first["intervals"]["to_change"], "0");
    assert_eq!(names(&found)[..3], ["Broken", "Same on C", "Wet Rope"]);
}

#[test]
fn typed_degrees_notes_and_hands() {
    let folder = shelf("typed");
    let dir = folder.dir();
    let found = json(&["kin", &dir, "--degrees", "b3 4 b3 1", "--json"]);
    assert_eq!(names(&found), ["Wet Rope", "Same on C", "Broken"]);
    assert_eq!(
        found["kin"][0]["found"][0],
        serde_json::json!({"bar": 1, "beat": "2", "semitones_higher": 0})
    );
    // G Bb C are 1 b3 4 on G, and are found on C a fourth (five semitones) higher.
    let found = json(&["kin", &dir, "--notes", "G Bb C", "--json"]);
    let higher = |name: &str| {
        let kin = found["kin"].as_array().unwrap();
        kin.iter().find(|k| k["riff"] == name).unwrap()["found"][0]["semitones_higher"].clone()
    };
    assert_eq!((higher("Wet Rope"), higher("Same on C"), higher("Broken")), (0.into(), 5.into(), 2.into()));
    let found = json(&["kin", &dir, "--degrees", "6 3 1", "--any-order", "--json"]);
    assert_eq!(names(&found), ["Elsewhere"]);
    let found = good(&["kin", &dir, "--hand", "0:0 1:-2 1:0"]);
    assert!(found.contains("Wet Rope") && !found.contains("Elsewhere"), "{found}");
    assert_eq!(good(&["kin", &dir, "--degrees", "b2 7"]), "no riff holds it\n");
}

#[test]
fn families_as_text_json_and_picture() {
    let folder = shelf("families");
    let dir = folder.dir();
    let found = json(&["kin", &dir, "--json"]);
    let families = found["families"].as_array().unwrap();
    let five = families.iter().find(|f| f["riffs"][0] == "Broken").unwrap();
    assert_eq!(five["riffs"], serde_json::json!(["Broken", "Same on C", "Wet Rope"]));
    assert_eq!(five["within"], serde_json::json!([["1", "b3", "4", "b5", "5", "b7"]]));
    assert!(good(&["kin", &dir]).contains("Flat Five"));
    for narrow in [false, true] {
        let out = folder.path("family.svg");
        let mut words = vec!["kin", &dir, "-o", &out];
        words.extend(narrow.then_some("--narrow"));
        good(&words);
        let svg = fs::read_to_string(&out).unwrap();
        assert!(svg.contains("<title") && svg.contains("Riffs: Broken, Same on C, Wet Rope."), "{narrow}");
        fs::remove_file(&out).unwrap();
    }
}

#[test]
fn what_cannot_be_asked_is_said() {
    let folder = shelf("words");
    let dir = folder.dir();
    let of = folder.path("a.riff");
    assert!(off(&["kin", &dir, "--degrees", "1 9"]).contains("'9' is no degree"));
    assert!(off(&["kin", &dir, "--notes", "H"]).contains('H'));
    assert!(off(&["kin", &dir, "--hand", "0:0 up"]).contains("up"));
    assert!(off(&["kin", &dir, "--degrees", " "]).contains("nothing to look for"));
    off(&["kin", &dir, "--of", &of, "--degrees", "1"]);
    off(&["kin", &dir, "--of", &of, "-o", &folder.path("x.svg")]);
    off(&["kin", &dir, "-o", &folder.path("x.pdf")]);
    off(&["kin", &dir, "--most", "0"]);
    let silent = folder.write("rest.riff", "riff: Silence\n| w r |\n");
    let out = riffkin(&["kin", &dir, "--of", &silent]);
    assert_eq!(out.status.code(), Some(1));
    assert!(String::from_utf8_lossy(&out.stderr).contains("no note sounds"));
}
