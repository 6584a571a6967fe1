//! `hear` as people meet it: recordings of every odd kind, parts of a recording, what is printed and written.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

mod program;
mod sounds;

use program::{Folder, ends};
use sounds::{LINE, drums, line, noise, pluck, speech, telephone, wav};
use std::fs;

/// Standard output and standard error of `hear`, which ends with a status.
fn hear(status: i32, words: &[&str]) -> (String, String) {
    ends(status, &[&["hear"], words].concat())
}

fn notes(csv: &str) -> Vec<(f64, f64, u8, f64)> {
    let mut lines = csv.lines();
    assert_eq!(lines.next(), Some("onset_s,offset_s,midi,confidence"));
    lines
        .map(|l| {
            let f: Vec<f64> = l.split(',').map(|n| n.parse().unwrap()).collect();
            (f[0], f[1], f[2] as u8, f[3])
        })
        .collect()
}

/// That [`LINE`] is heard in a CSV: every note at its instant (50 ms, as the field counts it), and nothing else.
fn is_the_line(csv: &str, what: &str) {
    let found = notes(csv);
    let pitches: Vec<u8> = found.iter().map(|n| n.2).collect();
    assert_eq!(pitches, LINE.map(|n| n.1), "{what}: {found:?}");
    for (n, (onset, _)) in found.iter().zip(LINE) {
        assert!((n.0 - onset).abs() < 0.05, "{what}: {found:?}");
    }
}

#[test]
fn rates_channels_and_phase_do_not_change_what_is_heard() {
    let folder = Folder::new("kinds");
    let minus = |row: &[f64]| row.iter().map(|s| -s).collect::<Vec<f64>>();
    let cd = line(44_100);
    let cases = [
        ("cd.wav", wav(44_100, std::slice::from_ref(&cd))),
        ("high.wav", wav(192_000, &[line(192_000)])),
        ("low.wav", wav(8_000, &[line(8_000)])),
        ("left.wav", wav(44_100, &[cd.clone(), vec![0.0; cd.len()]])),
        ("phase.wav", wav(44_100, &[cd.clone(), minus(&cd)])),
        ("eight.wav", wav(44_100, &vec![cd.clone(); 8])),
    ];
    for (name, bytes) in cases {
        let (csv, said) = hear(0, &[&folder.write(name, bytes), "--csv"]);
        is_the_line(&csv, name);
        assert_eq!(name == "eight.wav", said.contains("8 channels were mixed"), "{name}: {said}");
    }
}

/// What is left of a bass on a telephone is its overtones: the pitch is to be told from them.
#[test]
fn a_telephone_keeps_the_notes() {
    let folder = Folder::new("telephone");
    let sound: Vec<f64> = telephone(&line(8_000), 8_000).iter().map(|s| 3.0 * s).collect();
    let (csv, _) = hear(0, &[&folder.write("a.wav", wav(8_000, &[sound])), "--csv"]);
    is_the_line(&csv, "telephone");
}

/// Clipped to a third, a string's end may sound like another stroke: such a note is less sure than any true one.
#[test]
fn clipping_is_said_and_heard_through() {
    let folder = Folder::new("clipped");
    let loud: Vec<f64> = line(44_100).iter().map(|s| 3.0 * s).collect();
    let (csv, said) = hear(0, &[&folder.write("a.wav", wav(44_100, &[loud])), "--csv"]);
    let (mut kept, mut false_ones) = (String::from("onset_s,offset_s,midi,confidence\n"), Vec::new());
    for (row, note) in csv.lines().skip(1).zip(notes(&csv)) {
        match LINE.iter().any(|(onset, midi)| *midi == note.2 && (onset - note.0).abs() < 0.05) {
            true => kept += &format!("{row}\n"),
            false => false_ones.push(note.3),
        }
    }
    is_the_line(&kept, "clipped");
    let least = notes(&kept).iter().map(|n| n.3).fold(1.0, f64::min);
    assert!(false_ones.len() <= 1 && false_ones.iter().all(|sure| *sure < least - 0.3), "{csv}");
    assert!(said.contains("the sound is clipped in"), "{said}");
}

#[test]
fn silence_and_noise_say_what_was_heard_and_what_to_do() {
    let folder = Folder::new("nothing");
    let silent = folder.write("silent.wav", wav(44_100, &[vec![0.0; 88_200]]));
    let (_, said) = hear(1, &[&silent]);
    assert!(
        said.contains("it is silent (every sample is zero)") && said.contains("check the cable"),
        "{said}"
    );
    let (csv, said) = hear(0, &[&silent, "--csv"]);
    assert_eq!(csv, "onset_s,offset_s,midi,confidence\n");
    assert!(said.contains("it is silent"), "{said}");
    let (json, _) = hear(0, &[&silent, "--json"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert!(json["riff"].is_null() && json["notes"].as_array().unwrap().is_empty(), "{json}");

    let hiss = folder.write("noise.wav", wav(44_100, &[noise(44_100, 4.0, 0.3, 5)]));
    let (_, said) = hear(1, &[&hiss]);
    assert!(said.contains("no bass notes are heard in it") && said.contains("--mix"), "{said}");
    let (_, said) = hear(1, &[&hiss, "-o", &folder.path("a.riff")]);
    assert!(said.contains("no bass notes"), "{said}");
    assert_eq!(folder.names(), ["noise.wav", "silent.wav"], "nothing is left behind");
}

/// A voice and a kick drum are no bass; they have pitches all the same, and so it is said that these are not to be trusted.
#[test]
fn voices_and_drums_are_not_taken_for_a_bass_in_earnest() {
    let folder = Folder::new("voice");
    const SAID: &str = "this may be no bass that plays alone";
    for seed in [3, 4] {
        let voice = folder.write("voice.wav", wav(22_050, &[speech(22_050, 8.0, seed)]));
        let (csv, said) = hear(0, &[&voice, "--csv"]);
        assert!(said.contains("lie on no scale") || said.contains(SAID), "{said}");
        let sure = notes(&csv).iter().filter(|n| n.3 >= 0.5).count();
        assert!(2 * sure < notes(&csv).len(), "most of a voice's notes are doubtful: {csv}");
    }
    // The scale is looked at where there are notes enough; here a riff is refused, unless somebody vouches for it.
    let voice = folder.write("voice.wav", wav(22_050, &[speech(22_050, 12.0, 3)]));
    let (_, said) = hear(1, &[&voice]);
    assert!(said.contains("lie on no scale"), "{said}");
    hear(0, &[&voice, "--reference", "440"]);
    let beat = folder.write("drums.wav", wav(22_050, &[drums(22_050, 6.0, 7)]));
    let (_, said) = hear(0, &[&beat, "--csv"]);
    assert!(said.contains(SAID) || said.contains("no bass notes are heard"), "{said}");
    let bass = folder.write("bass.wav", wav(22_050, &[line(22_050)]));
    let (_, said) = hear(0, &[&bass, "--csv"]);
    assert!(!said.contains(SAID), "{said}");
}

#[test]
fn damaged_and_empty_files_are_told() {
    let folder = Folder::new("damaged");
    let (_, said) = hear(1, &[&folder.write("empty.wav", b"")]);
    assert!(said.contains("empty"), "{said}");
    let (_, said) = hear(1, &[&folder.write("text.wav", b"this is no sound at all, whatever its name says")]);
    assert!(said.contains("not a recording"), "{said}");
    let (_, said) = hear(1, &[&folder.path("missing.wav")]);
    assert!(said.contains("check the name"), "{said}");
    let whole = wav(44_100, &[line(44_100)]);
    let half = folder.write("half.wav", &whole[..whole.len() / 2]);
    let (csv, said) = hear(0, &[&half, "--csv"]);
    let wanted: Vec<u8> = LINE.iter().filter(|n| n.0 < 2.4).map(|n| n.1).collect();
    assert_eq!(notes(&csv).iter().map(|n| n.2).collect::<Vec<_>>(), wanted);
    assert!(said.contains("breaks off: 2.50 s of the promised 5.00 s"), "{said}");
    let head = folder.write("head.wav", &whole[..44]);
    let (_, said) = hear(1, &[&head]);
    assert!(said.contains("sound"), "{said}");
}

#[test]
fn a_part_of_a_recording_keeps_the_time_of_the_file() {
    let folder = Folder::new("part");
    let file = folder.write("a.wav", wav(44_100, &[line(44_100)]));
    let (csv, _) = hear(0, &[&file, "--csv", "--from", "1.3", "--to", "0:03.3"]);
    let found = notes(&csv);
    // The note that sounds when the part begins is heard from there.
    assert_eq!(found.iter().map(|n| n.2).collect::<Vec<_>>(), [31, 33, 35, 38, 40], "{found:?}");
    assert!((found[0].0 - 1.3).abs() < 0.02 && (found[1].0 - 1.5).abs() < 0.05, "{found:?}");
    assert!(found[4].1 <= 3.31, "{found:?}");

    let (_, said) = hear(0, &[&file, "--csv", "--from", "3", "--to", "9"]);
    assert!(said.contains("--to 9.00 s lies behind the end at 5.00 s"), "{said}");
    let (_, said) = hear(1, &[&file, "--from", "1:00"]);
    assert!(said.contains("--from 1:00.00 lies behind the end; the recording is 5.00 s long"), "{said}");
    let (_, said) = hear(2, &[&file, "--from", "4", "--to", "3"]);
    assert!(said.contains("--to lies before --from"), "{said}");
    let (_, said) = hear(2, &[&file, "--from", "soon"]);
    assert!(said.contains("--from soon is no instant"), "{said}");
}

#[test]
fn a_reference_is_estimated_said_and_taken() {
    let folder = Folder::new("reference");
    // Played at 44 100 Hz but written as 45 000: everything is 35 cents sharp, so A4 = 449.
    let file = folder.write("a.wav", wav(45_000, &[line(44_100)]));
    let (csv, said) = hear(0, &[&file, "--csv"]);
    assert_eq!(notes(&csv).iter().map(|n| n.2).collect::<Vec<_>>(), LINE.map(|n| n.1));
    assert!(said.contains("tuned to A4 = 44") || said.contains("tuned to A4 = 45"), "{said}");
    let (json, said) = hear(0, &[&file, "--json", "--reference", "449"]);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(json["reference_hz"], 449.0);
    assert!(!said.contains("tuned to"), "{said}");
    let (_, said) = hear(2, &[&file, "--reference", "44"]);
    assert!(said.contains("--reference 44 lies outside"), "{said}");
}

#[test]
fn json_carries_sound_and_score() {
    let folder = Folder::new("json");
    let file = folder.write("a.wav", wav(44_100, &[line(44_100)]));
    let words = [&file, "--json", "--tempo", "120", "--meter", "4/4", "--first-beat", "0.5"];
    let (json, _) = hear(0, &words);
    let json: serde_json::Value = serde_json::from_str(&json).unwrap();
    assert_eq!(
        (&json["version"], &json["meter"], &json["quarters_per_minute"]),
        (&1.into(), &"4/4".into(), &120.0.into())
    );
    let found = json["notes"].as_array().unwrap();
    assert_eq!(found.len(), LINE.len());
    for (i, (note, (onset, midi))) in found.iter().zip(LINE).enumerate() {
        assert_eq!(note["midi"], midi);
        assert_eq!(
            (&note["bar"], &note["beat"]),
            (&(i / 4 + 1).into(), &(i % 4 + 1).to_string().into()),
            "{note}"
        );
        assert_eq!(note["manner"], "struck");
        let late = note["late_ms"].as_f64().unwrap();
        assert!((note["onset_s"].as_f64().unwrap() - onset).abs() < 0.05 && late.abs() < 50.0, "{note}");
    }
    assert_eq!(found[0]["pitch"], "E1");
}

#[test]
fn files_by_their_ending() {
    let folder = Folder::new("endings");
    let file = folder.write("a.wav", wav(44_100, &[line(44_100)]));
    for name in ["b.csv", "b.json", "b.txt", "b.riff", "b.musicxml", "b.mid", "b.svg"] {
        let (printed, _) = hear(0, &[&file, "-o", &folder.path(name)]);
        assert!(printed.is_empty(), "{name}");
        assert!(fs::metadata(folder.path(name)).unwrap().len() > 40, "{name}");
    }
    let picture = fs::read_to_string(folder.path("b.svg")).unwrap();
    assert!(picture.contains("<title id=\"p-t\">Sound and heard notes: a.wav</title>"));
    assert!(picture.contains("E1 at 0.5") && picture.contains("data:image/png;base64,"));
    assert!(fs::read_to_string(folder.path("b.txt")).unwrap().contains("8 notes heard"));
    let (_, said) = hear(2, &[&file, "-o", &folder.path("b.doc")]);
    assert!(said.contains("names nothing that can be written"), "{said}");
    let (_, said) = hear(2, &[&file, "-o", &file]);
    assert!(said.contains("this is the recording"), "{said}");
    is_the_line(&hear(0, &[&file, "--csv"]).0, "the recording is untouched");
}

#[test]
fn a_picture_of_a_long_recording_is_refused_with_advice() {
    let folder = Folder::new("long");
    let mut sound = vec![0.0; 8_000 * 125];
    pluck(&mut sound, 8_000, 62.0, 1.0, 33, 0.4);
    let file = folder.write("a.wav", wav(8_000, &[sound]));
    let (_, said) = hear(2, &[&file, "-o", &folder.path("a.svg")]);
    assert!(said.contains("at most 120 s; give --from and --to"), "{said}");
    hear(0, &[&file, "-o", &folder.path("a.svg"), "--from", "1:00", "--to", "1:10"]);
    assert!(fs::read_to_string(folder.path("a.svg")).unwrap().contains("The sound from 1:00.00 to 1:10.00"));
}

/// The same pitch twice without a gap and hardly an attack: the list names it first and says why.
#[test]
fn the_review_puts_the_least_sure_first() {
    let folder = Folder::new("review");
    let file = folder.write("a.wav", wav(44_100, &[line(44_100)]));
    let (list, _) = hear(0, &[&file, "--review"]);
    let (csv, _) = hear(0, &[&file, "--csv"]);
    let least = notes(&csv).iter().map(|n| n.3).fold(1.0, f64::min);
    let first = list.lines().nth(3).unwrap();
    assert!(first.contains(&format!("{:.0} %", least * 100.0)), "{least}\n{list}");
    let (_, said) = hear(2, &[&file, "--review", "--csv"]);
    assert!(said.contains("cannot be used with"), "{said}");
}
