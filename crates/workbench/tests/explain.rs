//! `riffkin explain` as teachers and scripts meet it.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod program;

use std::fs;

use program::{Folder, good, json, riffkin};

use serde_json::Value;

/// Exit status, standard output, standard error.
fn told(words: &[&str]) -> (i32, String, String) {
    let out = riffkin(words);
    let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
    (out.status.code().unwrap(), text(out.stdout), text(out.stderr))
}

/// A riff of these lines.
fn riff(folder: &Folder, text: &str) -> String {
    folder.write("a.riff", format!("riff: A\n{text}\n"))
}

fn texts(value: &Value) -> Vec<String> {
    value.as_array().unwrap().iter().map(|v| v.as_str().unwrap_or("none").to_owned()).collect()
}

fn find<'a>(list: &'a Value, field: &str, wanted: &str) -> &'a Value {
    list.as_array().unwrap().iter().find(|v| v[field] == wanted).unwrap()
}

/// Two chords that prove Dorian (common practice: i7 and IV7), a minor pentatonic line over them.
const VAMP: &str =
    "meter: 4/4\ntempo: 120\n| <Gm7> e G1 Bb1 C2 D2 F2 D2 q G1 | <C7> e G1 Bb1 C2 D2 q E2 G1 |";

#[test]
fn sections_come_in_a_teachers_order() {
    let folder = Folder::new("order");
    let text = good(&["explain", &riff(&folder, "| <Am7> q A1 C2 D2 E2 | G2 E2 h A1 |")]);
    let heads = [
        "Key",
        "What would decide",
        "Degrees",
        "Shape",
        "Difficulty",
        "Scales that fit",
        "Chords that fit",
        "Chord by chord",
        "Note by note",
    ];
    let places: Vec<usize> = heads.iter().map(|h| text.find(&format!("\n{h}\n")).unwrap()).collect();
    assert!(places.is_sorted(), "{text}");
    assert!(text.contains("the 6th would decide (6 for Dorian, ♭6 for minor"), "{text}");
    assert!(text.contains("A Dorian has 6 (F♯) where A minor has ♭6 (F)"), "{text}");
    assert!(text.contains("no chord has one of them: a fill does without the 2nd and the 6th"), "{text}");
    // More of it, and how each note stands to its chord, when asked.
    let all = good(&["explain", &riff(&folder, "| <Am7> q A1 C2 D2 E2 | <D7> D2 e F2 E2 h A1 |"), "--all"]);
    assert!(all.contains("bar by bar:") && all.contains("C ♭3 (third), D 4 (passing)"), "{all}");
    // A level never stands without its reasons, nor without the word that it is set by hand.
    let level = text.lines().find(|l| l.contains("level ")).unwrap();
    let why = level.split_once(" of 5, ").and_then(|(_, rest)| rest.split_once(": ")).unwrap().1;
    assert!(why.contains("bar 1"), "{level}");
    assert!(text.contains("set by hand (common practice, no source)"));
}

/// The sixth of a fill agrees with the vamp's chords; Dorian stands before natural minor (common practice).
#[test]
fn scales_and_chords_that_fit() {
    let folder = Folder::new("fit");
    let file = riff(&folder, "| <Gm7> e G1 Bb1 C2 D2 F2 D2 q G1 | <C7> e G1 Bb1 C2 D2 q F2 G1 |");
    let found = json(&["explain", &file, "--tonic", "G", "--json"]);
    let sixth = find(&found["open_steps"], "words", "a fill's 6th is 6: C7 has it");
    assert_eq!((&sixth["step"], &sixth["decided"]), (&6.into(), &"6".into()));
    let names: Vec<&str> =
        found["scales_that_fit"].as_array().unwrap().iter().map(|s| s["name"].as_str().unwrap()).collect();
    let place = |name: &str| names.iter().position(|n| *n == name).unwrap();
    assert!(place("Dorian") < place("minor"), "{names:?}");
    let minor = find(&found["scales_that_fit"], "name", "minor");
    assert_eq!(texts(&minor["lacks_of_chords"]), ["6"]);
    assert_eq!(texts(&minor["adds"]), ["2", "b6"]);
    let vamp = &found["chords_that_fit"][0];
    assert_eq!((&vamp["chord"], &vamp["numeral"]), (&"Gm7".into(), &"i7".into()));
    assert_eq!(texts(&vamp["tones"]), ["G", "Bb", "D", "F"]);
    assert!(vamp["evidence"].as_str().unwrap().contains("its root opens every bar"));
    assert_eq!(found["chords_by_bar"].as_array().unwrap().len(), 2);
}

/// Roles as a harmony primer has them, chord-scale pairs as handbooks list them (common practice, no source).
#[test]
fn chord_by_chord() {
    let folder = Folder::new("chords");
    let found = json(&["explain", &riff(&folder, VAMP), "--tonic", "G", "--json"]);
    let chords = &found["chord_by_chord"];
    let (first, second) = (&chords[0], &chords[1]);
    assert_eq!(
        (&first["chord"], &first["bar"], &first["beat"], &first["duration"]),
        (&"Gm7".into(), &1.into(), &"1".into(), &"4".into())
    );
    assert_eq!((&second["chord"], &second["numeral"]), (&"C7".into(), &"IV7".into()));
    assert_eq!(texts(&json_list(&first["scales"], "words")), ["G Dorian"]);
    assert_eq!(texts(&json_list(&second["scales"], "words")), ["C Mixolydian"]);
    assert_eq!(texts(&json_list(&first["notes"], "chord_degree")), ["1", "b3", "4", "5", "b7", "5", "1"]);
    assert_eq!(
        texts(&json_list(&first["notes"], "role")),
        ["chord tone", "chord tone", "passing", "chord tone", "chord tone", "chord tone", "chord tone"]
    );
}

fn json_list(list: &Value, field: &str) -> Value {
    list.as_array().unwrap().iter().map(|v| v[field].clone()).collect()
}

/// One way to count in one output, and it says which.
#[test]
fn degrees_against_the_key_or_the_chord() {
    let folder = Folder::new("against");
    let file = riff(&folder, VAMP);
    let key = json(&["explain", &file, "--tonic", "G", "--json"]);
    let chord = json(&["explain", &file, "--tonic", "G", "--against", "chord", "--json"]);
    assert_eq!((&key["against"], &chord["against"]), (&"key".into(), &"chord".into()));
    assert_eq!(texts(&key["said"]), texts(&json_list(&key["notes"], "degree")));
    assert_eq!(texts(&chord["said"]), texts(&json_list(&chord["notes"], "chord_degree")));
    assert_eq!(texts(&key["said"])[7..], ["1", "b3", "4", "5", "6", "1"]);
    assert_eq!(texts(&chord["said"])[7..], ["5", "b7", "1", "2", "3", "5"]);
    // What is against the key stays so, whatever was chosen.
    assert_eq!(key["notes"], chord["notes"]);

    let rows = |against: &str| -> Vec<String> {
        let text = good(&["explain", &file, "--tonic", "G", "--against", against]);
        let said = format!(
            "degrees {}",
            if against == "key" { "counted from G" } else { "counted from the root of the chord" }
        );
        let (_, table) = text.split_once("\nNote by note\n").unwrap();
        assert!(table.trim_start().starts_with(&said), "{table}");
        table
            .lines()
            .filter(|l| l.contains("bar 2"))
            .map(|l| l.split_whitespace().nth(5).unwrap_or_default().to_owned())
            .collect()
    };
    // Place, beat and pitch stand before the degree; half beats take one word more.
    let (by_key, by_chord) = (rows("key"), rows("chord"));
    assert_eq!((by_key[0].as_str(), by_chord[0].as_str()), ("1", "5"));
    let plain = riff(&folder, "| q G1 Bb1 C2 D2 |");
    let (status, out, said) = told(&["explain", &plain, "--against", "chord"]);
    assert_eq!((status, out.as_str()), (1, ""));
    assert!(said.contains("no chord is written in it") && said.contains("--against key"), "{said}");
    assert_eq!(told(&["explain", &plain, "--against", "root"]).0, 2);
}

/// Dorian and natural minor differ in the sixth only (any theory primer).
#[test]
fn two_scales_side_by_side() {
    let folder = Folder::new("compare");
    let file = riff(&folder, "| q G1 Bb1 C2 D2 |");
    let picture = folder.path("difference.svg");
    assert_eq!(good(&["explain", &file, "--compare", "G dorian", "G minor", "-o", &picture]), "");
    let drawn = fs::read_to_string(&picture).unwrap();
    assert!(drawn.starts_with("<svg") && drawn.contains("Degrees counted from G."), "{drawn:.200}");
    assert!(drawn.contains("Only G Dorian: ") && drawn.contains("Only G minor: "));

    let found = json(&["explain", &file, "--tonic", "G", "--compare", "Dorian", "minor", "--json"]);
    let compared = &found["comparison"];
    assert_eq!(
        (texts(&compared["only_first"]), texts(&compared["only_second"])),
        (vec!["6".into()], vec!["b6".into()])
    );
    assert_eq!(compared["words"][0], "G Dorian has 6 (E) where G minor has ♭6 (E♭)");
    assert!(compared["riff"].as_str().unwrap().contains("does not tell them apart"));
    let text = good(&["explain", &file, "--tonic", "G", "--compare", "Dorian", "minor"]);
    assert!(text.contains("\nSide by side\n") && text.contains("one note tells them apart"), "{text}");
    assert!(json(&["explain", &file, "--json"])["comparison"].is_null());

    for (words, status, why) in [
        (vec!["explain", &file, "-o", &picture], 2, "--compare"),
        (vec!["explain", &file, "--compare", "G Dorian", "G sideways"], 2, "G sideways"),
        (vec!["explain", &file, "--compare", "G Dorian", "G"], 2, "names no scale"),
        (vec!["explain", &file, "--compare", "G Dorian"], 2, "--compare"),
        (vec!["explain", &file, "--compare", "Dorian", "minor", "-o", "x.png"], 2, ".svg"),
        (vec!["explain", &file, "--neck", "nine"], 2, "nine"),
    ] {
        let (found, out, said) = told(&words);
        assert_eq!((found, out.as_str()), (status, ""), "{words:?}: {said}");
        assert!(said.contains(why), "{said}");
    }
}

#[test]
fn two_names_for_one_fret_are_explained() {
    let folder = Folder::new("names");
    let file = riff(&folder, "key: Eb minor\n| q Eb1 Cb2 B1 C2 | h Bb1 Eb1 |");
    let found = json(&["explain", &file, "--json"]);
    let names = &found["two_names"][0]["names"];
    assert_eq!(texts(&json_list(names, "name")), ["Cb", "B"]);
    assert_eq!(texts(&json_list(names, "degree")), ["b6", "#5"]);
    assert!(good(&["explain", &file]).contains("C♭ and B are one fret: C♭ (bar 1, beat 2) is ♭6"));
}

#[test]
fn shape_hand_and_difficulty() {
    let folder = Folder::new("shape");
    // The blues pattern above a root at fret 3 (common practice): frets 3 6 / 3 4 5 / 3.
    let file = riff(&folder, "tempo: 120\n| e G1 Bb1 C2 Db2 D2 F2 q G1 |");
    let found = json(&["explain", &file, "--neck", "four", "--json"]);
    let shape = &found["shape"];
    assert_eq!(shape["semitones"], serde_json::json!([3, 2, 1, 1, 3, -10]));
    assert_eq!((&shape["contour"], &shape["turns"]), (&"+++++-".into(), &1.into()));
    assert_eq!(shape["longest_leap"]["interval"], "-m7");
    assert_eq!(shape["rhythm"]["patterns"][0]["cells"], "xxxxxxx-");
    assert_eq!(shape["rhythm"]["fastest_notes_per_second"], 4.0);
    assert_eq!(found["hand_shape"]["steps"], "0:0 0:3 1:0 1:1 1:2 2:0 0:0");
    assert_eq!(found["hand_shape"]["movable"], true);
    let difficulty = &found["difficulty"];
    assert!((1..=5).contains(&difficulty["level"].as_i64().unwrap()));
    assert_eq!(difficulty["reasons"].as_array().unwrap().len(), 7);
    assert!(difficulty["limits"].as_str().unwrap().contains("by hand"));
    // In another key the hand does the same, and so does the line.
    let moved = folder.path("moved.riff");
    good(&["transpose", &file, "--to", "A", "-o", &moved]);
    let other = json(&["explain", &moved, "--neck", "four", "--json"]);
    assert_eq!(other["hand_shape"]["steps"], found["hand_shape"]["steps"]);
    assert_eq!(other["shape"]["semitones"], shape["semitones"]);
    assert_eq!(other["shape"]["rhythm"], shape["rhythm"]);
}

/// Sentences and tables print `♭` and `♯`; what is typed (`b3`, `Bb1`) stands in fields only.
#[test]
fn accidentals_are_printed_in_one_way() {
    let folder = Folder::new("signs");
    let typed = |text: &str| {
        let sign = |w: &[char]| {
            matches!(w, [a, '#' | 'b', c] if !a.is_alphabetic() && c.is_ascii_digit())
                || matches!(w, ['A'..='G', 'b' | '#', c] if *c == 'm' || !c.is_alphabetic())
        };
        let chars: Vec<char> = text.chars().collect();
        chars.windows(3).find(|w| sign(w)).map(|w| w.iter().collect::<String>())
    };
    assert_eq!(
        (typed(" b3 "), typed("Eb minor").is_some(), typed("♭3 B♭ Able")),
        (Some(" b3".into()), true, None)
    );
    for text in [
        "| <Ebm7> q Eb1 Gb1 Ab1 Db2 | <Cbmaj7> Cb2 Bb1 h A1 |",
        "| q F#1 A1 B1 C#2 | E2 C#2 h F#1 |",
        "key: G\n| q G1 Bb1 Db2 D2 | F#1 Ab1 h G1 |",
    ] {
        for more in [&[][..], &["--all"], &["--tonic", "F#"], &["--compare", "Lydian", "Locrian"]] {
            let out = good(&[&["explain", &riff(&folder, text)], more].concat());
            assert_eq!(typed(&out), None, "{out}");
        }
    }
}

/// The table of notes does not drown the rest.
#[test]
fn long_riffs_are_told_shortly() {
    let folder = Folder::new("long");
    let file = riff(&folder, &format!("| {}", "q G1 Bb1 C2 D2 | ".repeat(100)));
    let lines = |words: &[&str]| good(words).lines().count();
    let (short, all) = (lines(&["explain", &file]), lines(&["explain", &file, "--all"]));
    assert!(short < 80 && all > 400, "{short} {all}");
    assert!(good(&["explain", &file]).contains("and 368 notes more: --all tells them"));
}

#[test]
fn odd_riffs_are_explained_too() {
    let folder = Folder::new("odd");
    let rests = riff(&folder, "| w r |");
    let found = json(&["explain", &rests, "--json"]);
    assert!(found["tonic"].is_null() && found["scales_that_fit"].as_array().unwrap().is_empty());
    let (status, out, said) = told(&["explain", &rests, "--compare", "Dorian", "minor"]);
    assert_eq!((status, out.as_str()), (1, ""), "{said}");
    assert!(good(&["explain", &rests]).contains("nothing to say about a key"));
    // Below the neck: adapted, and said so.
    let low = riff(&folder, "neck: four\n| h C1 G1 |");
    let found = json(&["explain", &low, "--json"]);
    assert!(!found["hand_shape"]["adapted"].as_array().unwrap().is_empty(), "{}", found["hand_shape"]);
    // A neck that nobody knows is no reason to say nothing.
    let (status, out, said) = told(&["explain", &riff(&folder, "neck: banjo\n| h C2 G1 |")]);
    assert!(status == 0 && out.contains("Difficulty") && said.contains("banjo"), "{said}");
}
