//! `riffkin fit` as people and scripts call it: choices, wishes, hands, taste.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod program;

use std::fs;

use program::{Folder, bad, good, json, riffkin};

const SCALE: &str = "riff: Scale\nkey: C\n| e C2 D2 E2 F2 G2 A2 B2 C3 ||\n";

fn places(fit: &serde_json::Value) -> Vec<(u64, u64, u64)> {
    let of = |n: &serde_json::Value, key: &str| n[key].as_u64().unwrap();
    let notes = fit["notes"].as_array().unwrap();
    notes.iter().map(|n| (of(n, "string"), of(n, "fret"), of(n, "finger"))).collect()
}

#[test]
fn the_scale_comes_out_as_taught_and_other_choices_say_what_sets_them_apart() {
    let folder = Folder::new("fit-choices");
    let file = folder.write("a.riff", SCALE);
    let found = json(&["fit", &file, "--neck", "four", "--best", "3", "--json"]);
    let fits = found["fits"].as_array().unwrap();
    // Common practice, no source: 2 4 / 1 2 4 / 1 3 4 from fret 3.
    let taught = [(3, 3, 2), (3, 5, 4), (2, 2, 1), (2, 3, 2), (2, 5, 4), (1, 2, 1), (1, 4, 3), (1, 5, 4)];
    assert_eq!(places(&fits[0]), taught);
    assert!(fits[0]["apart"].as_array().unwrap().is_empty());
    for other in &fits[1..] {
        let elsewhere = places(other).iter().zip(places(&fits[0])).filter(|(a, b)| a.0 != b.0).count();
        assert!(elsewhere >= 4, "half of the passage lies on other strings: {other}");
        assert!(other["apart"][0].as_str().unwrap().contains("instead of around fret"), "{other}");
    }
    // The cost is the sum of its efforts.
    for fit in fits {
        let sum: f64 = fit["efforts"].as_array().unwrap().iter().map(|e| e["cost"].as_f64().unwrap()).sum();
        assert!((sum - fit["cost"].as_f64().unwrap()).abs() < 1e-9);
    }
    let text = good(&["fit", &file, "--neck", "four", "--best", "3"]);
    assert!(text.contains("against the first: around fret"), "{text}");
    assert!(bad(&["fit", &file, "--best", "17"], 2).contains("outside 1 to 16"));
}

#[test]
fn wishes_are_honoured_or_refused_by_name() {
    let folder = Folder::new("fit-wishes");
    let file = folder.write("a.riff", SCALE);
    let wished = |wishes: &[&str]| {
        let mut words = vec!["fit", &file, "--neck", "four", "--json"];
        for wish in wishes {
            words.extend(["--wish", *wish]);
        }
        places(&json(&words)["fits"][0])
    };
    assert!(wished(&["string 3"]).iter().all(|p| p.0 == 3));
    assert!(wished(&["frets 7 to 10"]).iter().all(|p| (7..=10).contains(&p.1)));
    assert_eq!(wished(&["bar 1, beat 2: string 3, fret 7, finger 4"])[2], (3, 7, 4));
    let said = bad(&["fit", &file, "--wish", "frets 7 to 10", "--wish", "bar 1: string 1"], 1);
    assert!(said.contains("C2 at bar 1, beat 1 cannot be played as wished: 'bar 1: string 1'"), "{said}");
    let said = bad(&["fit", &file, "--wish", "frets 2 to 5", "--wish", "bar 1, beat 2: string 3"], 1);
    assert!(said.contains("E2 at bar 1, beat 2") && said.contains("give up one of them"), "{said}");
    assert!(bad(&["fit", &file, "--wish", "high up"], 2).contains("'high up' is no wish"));
    assert!(bad(&["fit", &file, "--wish", "bar 7: string 3"], 1).contains("is about no note"));
}

#[test]
fn hands_differ() {
    let folder = Folder::new("fit-hands");
    let file = folder.write("a.riff", "| q A1 E2 A2 E2 | G1 D2 G2 r ||\n");
    let fingers = |words: &[&str]| -> Vec<u64> {
        let all = [&["fit", &file, "--neck", "four", "--json"], words].concat();
        places(&json(&all)["fits"][0]).iter().map(|p| p.2).collect()
    };
    // Root, fifth, octave below the switch point: 1 4 4, and 1 3 4 with one finger per fret.
    assert_eq!(fingers(&["--open", "refused", "--wish", "bar 2: frets 3 to 5"])[4..], [1, 4, 4]);
    assert_eq!(fingers(&["--switch", "1", "--wish", "bar 2: frets 3 to 5"])[4..], [1, 3, 4]);
    for words in
        [&["--hand", "small"][..], &["--hand", "140"], &["--level", "advanced"], &["--pluck", "raking"]]
    {
        assert_eq!(fingers(words).len(), 7);
    }
    assert!(bad(&["fit", &file, "--hand", "tiny"], 2).contains("small, medium, large or a span in mm"));
    assert!(bad(&["fit", &file, "--hand", "12"], 2).contains("a hand spans 40 to 250 mm"));
    assert!(bad(&["fit", &file, "--same", "-1"], 2).contains("same"));
}

#[test]
fn a_taste_is_learned_written_and_used() {
    let folder = Folder::new("fit-taste");
    let file = folder.write("a.riff", SCALE);
    // A teacher who wants it higher up the neck.
    let (fitted, taste) = (folder.path("wanted.riff"), folder.path("taste.txt"));
    good(&["fit", &file, "--neck", "four", "--wish", "frets 7 to 10", "-o", &fitted]);
    let learned = json(&["fit", &file, "--neck", "four", "--learn", &fitted, "--taste", &taste, "--json"]);
    assert_eq!(learned["learned"]["notes"], 8);
    assert!(learned["learned"]["after"].as_f64() > learned["learned"]["before"].as_f64(), "{learned}");
    assert_eq!(learned["learned"]["after"], 1.0, "{learned}");
    assert!(!learned["taste"].as_array().unwrap().is_empty());
    let text = fs::read_to_string(&taste).unwrap();
    assert!(text.lines().any(|l| l.starts_with("height ")), "{text}");
    let again = json(&["fit", &file, "--neck", "four", "--taste", &taste, "--json"]);
    assert_eq!(places(&again["fits"][0]), places(&learned["fits"][0]));
    assert!(good(&["fit", &file, "--taste", &taste]).contains("taste: "));
    // An empty taste is the usual one.
    let empty = folder.write("empty.txt", "");
    let usual = json(&["fit", &file, "--neck", "four", "--json"]);
    assert_eq!(json(&["fit", &file, "--neck", "four", "--taste", &empty, "--json"]), usual);
    let off = folder.write("off.txt", "shift 1\nstroll 2\n");
    let said = bad(&["fit", &file, "--taste", &off], 1);
    assert!(said.contains("off.txt: line 2: there is no effort 'stroll'"), "{said}");
    assert!(bad(&["fit", &file, "--learn", &file], 1).contains("no places are written in it"));
}

#[test]
fn a_figure_that_comes_again_is_fingered_alike() {
    let folder = Folder::new("fit-alike");
    let text = "| e G1 A1 B1 C2 B1 A1 G1 A1 | C2 E2 G2 A2 C3 A2 G2 E2 | C3 E3 G3 A3 G3 E3 D3 C3 | C2 E2 G2 A2 C3 A2 G2 E2 | C3 E3 G3 E3 C3 E3 G3 E3 ||\n";
    let file = folder.write("a.riff", text);
    let found = json(&["fit", &file, "--neck", "four", "--open", "refused", "--same", "1000", "--json"]);
    let places = places(&found["fits"][0]);
    assert_eq!(places[8..16], places[24..32]);
}

#[test]
fn what_cannot_be_played_says_what_and_where() {
    let folder = Folder::new("fit-off");
    let low = folder.write("low.riff", "| q E1 G1 B0 C1 | C1 r r r ||\n");
    let said = json(&["fit", &low, "--neck", "four", "--json"]);
    assert!(!said["adapted"].as_array().unwrap().is_empty(), "{said}");
    let none = folder.write("none.riff", "| w r ||\n");
    assert_eq!(json(&["fit", &none, "--json"])["fits"][0]["reasons"][0], "nothing but rests");
    assert!(bad(&["fit", &none, "--neck", "E1, 0 frets"], 2).contains("frets"));
    let two = folder.write("two.txt", "G|-----0-|\nD|-----2-|\nA|-3---2-|\nE|-------|\n");
    let out = riffkin(&["fit", &two]);
    let said = String::from_utf8_lossy(&out.stderr).into_owned();
    assert!(said.contains("line ") || said.contains("bar 1"), "{said}");
}
