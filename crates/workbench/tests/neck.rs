//! Necks, maps and adaptation as people and scripts call them.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod program;

use std::fs;

use program::{Folder, ends, good, json};

fn said(words: &[&str], status: i32) -> String {
    ends(status, words).1
}

const LOW: &str = "riff: Low\nkey: D minor\nneck: five\n| e D2 C2 A1 G1 F1 E1 D1 D1 |\n";

#[test]
fn a_neck_is_named_or_written_out() {
    let names = good(&["neck"]);
    for name in ["four", "five", "six", "drop-d", "half-down", "whole-down", "bead", "high-c", "short"] {
        assert!(names.lines().any(|l| l.starts_with(name)), "{names}");
    }
    let found = json(&["neck", "G2 D2 A1 E1, 24 frets, 35 inch, left-handed", "--json"]);
    let neck = &found["neck"];
    assert_eq!(neck["line"], "G2 D2 A1 E1, 24 frets, 35 inch, left-handed");
    assert_eq!(
        (&neck["frets"], &neck["left_handed"], &neck["lowest"]),
        (&24.into(), &true.into(), &"E1".into())
    );
    assert_eq!(neck["strings"][3]["midi"], 28);
    // Fret 12 lies at half the string.
    assert!((neck["fret_mm"][12].as_f64().unwrap() - 444.5).abs() < 1e-9);
    assert!(good(&["neck", "five, capo 2"]).contains("tablature count from it"));
}

/// Common practice: the box of G minor pentatonic; G major three notes to a string on two strings.
#[test]
fn maps_in_words_and_json() {
    let text = good(&["neck", "four", "--scale", "G minor pentatonic", "--position", "3"]);
    for line in ["string 4 (E), fret 3: G, 1", "string 4 (E), fret 6: B♭, ♭3", "string 1 (G), fret 5: C, 4"]
    {
        assert!(text.lines().any(|l| l == line), "{text}");
    }
    assert!(text.contains("whole under one hand at frets 3-6"));
    let found =
        json(&["neck", "four", "--scale", "G major", "--per-string", "3", "--strings", "4-3", "--json"]);
    let frets: Vec<u64> =
        found["map"]["spots"].as_array().unwrap().iter().map(|s| s["fret"].as_u64().unwrap()).collect();
    assert_eq!(frets, [3, 5, 7, 3, 5, 7]);
    let found = json(&["neck", "four", "--numerals", "1 4 6 5", "--key", "G", "--frets", "1-7", "--json"]);
    let way = found["map"]["way"].as_array().unwrap();
    assert_eq!((way.len(), &way[0]["string"], &way[0]["fret"]), (4, &4.into(), &3.into()));
    let roman = json(&["neck", "four", "--numerals", "I IV vi V", "--key", "G", "--frets", "1-7", "--json"]);
    assert_eq!(roman["map"]["spots"], found["map"]["spots"]);
    let chord = good(&["neck", "four", "--chord", "Gm7", "--frets", "3-6"]);
    assert!(chord.contains("string 2 (D), fret 3: F, ♭7") && !chord.contains(": C,"), "{chord}");
    let from = good(&["neck", "four", "--from", "A1", "--position", "5"]);
    assert!(from.contains("string 3 (A), fret 5: D, perfect fourth up"), "{from}");
    let set = good(&["neck", "four", "--degrees", "1 b3 #4", "--key", "A", "--position", "5"]);
    assert!(set.contains("D♯, ♯4"), "{set}");
}

#[test]
fn maps_as_pictures() {
    let folder = Folder::new("pictures");
    let svg = |words: &[&str]| {
        let out = folder.path("map.svg");
        let mut all = vec!["neck"];
        all.extend(words);
        all.extend(["-o", &out]);
        assert_eq!(good(&all), "");
        fs::read_to_string(&out).unwrap()
    };
    let lying = svg(&["four", "--scale", "G Dorian", "--frets", "0-12"]);
    assert!(lying.contains("<title id=\"p-t\">G Dorian, on the neck four</title>"), "{}", &lying[..400]);
    assert!(lying.contains("string 4 (E), fret 3: G, 1"));
    let left = svg(&["four, left-handed", "--scale", "G Dorian", "--frets", "0-12"]);
    assert!(left.contains("Drawn for the left-handed") && left != lying);
    let size = |text: &str| {
        let view = text.split("viewBox=\"").nth(1).unwrap().split('"').next().unwrap();
        let numbers: Vec<f64> = view.split(' ').map(|n| n.parse().unwrap()).collect();
        (numbers[2], numbers[3])
    };
    let standing = svg(&["six", "--scale", "G Dorian", "--frets", "0-12", "--upright"]);
    assert!(size(&lying).0 > 2.0 * size(&lying).1 && size(&standing).1 > 2.0 * size(&standing).0);
    let notes = svg(&["four"]);
    assert!(notes.contains("string 4 (E), fret 3: G;") && !notes.contains("fret 3: G, "));
    let json_file = folder.path("map.json");
    good(&["neck", "four", "--chord", "Gm7", "-o", &json_file]);
    let found: serde_json::Value = serde_json::from_slice(&fs::read(&json_file).unwrap()).unwrap();
    assert_eq!(found["map"]["title"], "Gm7");
}

#[test]
fn words_that_are_off_say_what_to_write() {
    for (words, wanted) in [
        (vec!["neck", "banjo"], "drop-d"),
        (vec!["neck", "G2 D2 A1 E1, 0 frets"], "at character 14"),
        (vec!["neck", "G2 D2 H1 E1"], "'H1' names no open string"),
        (vec!["neck", "four", "--scale", "G"], "names no scale"),
        (vec!["neck", "four", "--scale", "H major"], "is no key"),
        (vec!["neck", "four", "--chord", "Gx"], "is no chord"),
        (vec!["neck", "four", "--from", "A"], "octave"),
        (vec!["neck", "four", "--numerals", "1 9", "--key", "G"], "'9' is no numeral"),
        (vec!["neck", "four", "--numerals", "", "--key", "G"], "empty"),
        (vec!["neck", "four", "--frets", "7-3"], "3-7"),
        (vec!["neck", "four", "--frets", "0-21"], "20"),
        (vec!["neck", "four", "--position", "0"], "1 to 20"),
        (vec!["neck", "four", "--strings", "4-3"], "--scale"),
        (vec!["neck", "four", "--key", "G"], "--numerals"),
        (vec!["neck", "four", "--scale", "G major", "--strings", "5"], "1 is the highest of 4"),
        (vec!["neck", "four", "--scale", "G major", "--per-string", "3", "--strings", "4 2"], "neighbouring"),
        (vec!["neck", "four", "--scale", "G major", "--per-string", "0"], "1 to 12"),
        (vec!["neck", "--scale", "G major"], "riffkin neck four"),
        (vec!["neck", "four", "-o", "map.pdf"], ".svg"),
    ] {
        let found = said(&words, 2);
        assert!(found.contains(wanted), "{words:?}: {found}");
    }
    // What the words allow and the neck does not.
    let found = said(&["neck", "four", "--scale", "G major", "--per-string", "3", "--frets", "18-20"], 1);
    assert!(found.contains("does not lie on string 4"), "{found}");
    let found = said(&["neck", "four", "--scale", "C major", "--per-string", "3", "--frets", "20"], 1);
    assert!(found.contains("beyond the last fret"), "{found}");
    said(&["neck", "four", "--chord", "G5", "--frets", "1", "--strings", "4"], 1);
}

#[test]
fn a_fit_says_what_was_taken_and_what_else_there_is() {
    let folder = Folder::new("offers");
    let file = folder.write("low.riff", LOW);
    let found = json(&["fit", &file, "--neck", "four", "--json"]);
    let offers = found["offers"].as_array().unwrap();
    let kinds: Vec<&str> = offers.iter().map(|o| o["kind"].as_str().unwrap()).collect();
    assert_eq!(kinds[..4], ["octave", "key", "notes", "tuning"]);
    assert_eq!(kinds.last(), Some(&"more strings"));
    assert_eq!(offers.iter().filter(|o| o["taken"] == true).count(), 1);
    assert_eq!((&offers[2]["taken"], &offers[2]["notes_moved"]), (&true.into(), &2.into()));
    assert_eq!((&offers[2]["changes"][0]["bar"], &offers[2]["changes"][0]["beat"]), (&1.into(), &"4".into()));
    assert!(found["adapted"][0].as_str().unwrap().starts_with("bar 1, beat 4: 2 notes from D1 to D1"));
    for (number, offer) in offers.iter().enumerate() {
        let number = (number + 1).to_string();
        let found = json(&["fit", &file, "--neck", "four", "--offer", &number, "--json"]);
        assert_eq!(found["offers"][offer["offer"].as_u64().unwrap() as usize - 1]["taken"], true);
        assert_eq!(found["fits"][0]["notes"].as_array().unwrap().len(), 8, "offer {number}");
    }
    assert!(good(&["fit", &file, "--neck", "four"]).contains("another tuning: drop-d"));
    assert!(said(&["fit", &file, "--neck", "four", "--offer", "99"], 2).contains("another key: E minor"));
    assert!(said(&["fit", &file, "--neck", "five", "--offer", "1"], 2).contains("as it is"));
    assert_eq!(json(&["fit", &file, "--neck", "five", "--json"])["offers"], serde_json::json!([]));
}

/// Every command that takes a neck takes one written out.
#[test]
fn necks_written_out_are_taken_everywhere() {
    let folder = Folder::new("everywhere");
    let file = folder.write("low.riff", LOW);
    let neck = "G2 D2 A1 E1 B0, 24 frets, 35 inch, left-handed";
    let by_name = json(&["fit", &file, "--neck", "five", "--json"]);
    let by_line = json(&["fit", &file, "--neck", neck, "--json"]);
    let places = |found: &serde_json::Value| {
        let notes = found["fits"][0]["notes"].as_array().unwrap().clone();
        notes.iter().map(|n| (n["string"].clone(), n["fret"].clone())).collect::<Vec<_>>()
    };
    assert_eq!(by_line["neck"], neck);
    assert_eq!(places(&by_line).len(), places(&by_name).len());
    good(&["transpose", &file, "--to", "E", "--neck", neck]);
    good(&["copy", &file, "--neck", neck, "-o", &folder.path("a.musicxml")]);
    let own = folder.write("own.riff", LOW.replace("five", neck));
    assert!(good(&["copy", &own]).contains(neck));
    good(&["fit", &own]);
}

/// Common practice: the same pattern moved as a block transposes the riff.
#[test]
fn transpose_says_what_becomes_of_the_shape() {
    let folder = Folder::new("shape");
    let file = folder.write("a.riff", "riff: A\nkey: D minor\nneck: four\n| q D2 F2 G2 A2 |\n");
    let found = said(&["transpose", &file, "--to", "E"], 0);
    assert!(found.contains("the shape moves as a block: 2 frets up on the same strings"), "{found}");
    let found = said(&["transpose", &file, "--to", "G", "--way", "down"], 0);
    assert!(found.contains("one string lower, 2 frets down"), "{found}");
    let open =
        folder.write("b.riff", "riff: B\nkey: E minor\nneck: four\n| q E1@4:0 G1@4:3 B1@3:2 E1@4:0 |\n");
    let found = said(&["transpose", &open, "--to", "F#"], 0);
    assert!(found.contains("bar 1, beat 1: the open string 4 cannot move with the shape"), "{found}");
    let low = folder.write("c.riff", "riff: C\nkey: G minor\nneck: four\n| q G1 Bb1 C2 D2 | F2 D2 C2 F1 |\n");
    let found = said(&["transpose", &low, "--to", "F"], 0);
    assert!(found.contains("bar 2, beat 4: Eb1 off the neck 'four'"), "{found}");
}

/// Two notes at once, notes below every string, no frets: what and where.
#[test]
fn what_cannot_be_played_is_named() {
    let folder = Folder::new("impossible");
    let note = |step: &str, chord: &str| {
        format!(
            "<note>{chord}<pitch><step>{step}</step><octave>2</octave></pitch><duration>2</duration></note>"
        )
    };
    let chord = folder.write(
        "chord.musicxml",
        format!(
            "<score-partwise version=\"4.0\"><part-list><score-part id=\"P1\"><part-name>Bass</part-name></score-part>\
             </part-list><part id=\"P1\"><measure number=\"1\"><attributes><divisions>1</divisions><time><beats>4</beats>\
             <beat-type>4</beat-type></time></attributes>{}{}{}</measure></part></score-partwise>",
            note("G", ""),
            note("B", "<chord/>"),
            note("A", "")
        ),
    );
    let found = said(&["fit", &chord, "--neck", "four"], 0);
    assert!(found.contains("bar 1, beat 1: of notes struck together the lowest is kept"), "{found}");
    let low = folder.write("low.riff", "riff: L\nkey: C\nneck: five\n| q C2 D2 B0 G2 |\n");
    let found = said(&["fit", &low, "--neck", "E1, 1 fret"], 1);
    assert!(
        found.contains("bar 1, beat 1: C2 does not lie on the neck") && found.contains("--offer"),
        "{found}"
    );
    let found = said(&["fit", &low, "--neck", "G2 D2 A1 E1, no frets"], 2);
    assert!(found.contains("fretless"), "{found}");
}
