//! Tablature as people type it, and the riff it should become.
//!
//! The texts are made up for these tests; the ways of writing are common practice, no source. What is checked
//! against the outside is that every note sounds its string and fret (standard tuning E A D G in fourths).

use riffkin_formats::riff_text;
use riffkin_formats::tab_text::{TabOptions, read};
use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::note::{Approach, Mark};
use riffkin_score::riff::Riff;

fn read_in(meter: &str, text: &str) -> (Riff, Vec<Warning>) {
    let options =
        TabOptions { meter: meter.parse().unwrap_or(TabOptions::default().meter), ..TabOptions::default() };
    match read(text, &options) {
        Ok(read) => read,
        Err(error) => {
            assert_eq!(error.to_string(), "", "{text}");
            (riffkin_score::random::riff(0, 1), Vec::new())
        }
    }
}

/// The notes as riff notation without header and places.
fn notes(meter: &str, text: &str) -> String {
    let (riff, _) = read_in(meter, text);
    let printed = riff_text::print(&riff);
    let body: Vec<&str> = printed.lines().skip_while(|l| !l.starts_with('|')).collect();
    let places = body.join(" ").replace("    ", " ");
    let mut out = String::new();
    let mut skipping = false;
    for c in places.chars() {
        skipping = c == '@' || (skipping && (c.is_ascii_digit() || c == ':' || c == '!'));
        if !skipping {
            out.push(c);
        }
    }
    out.replace("| |", "|")
}

fn says(warnings: &[Warning], part: &str) -> bool {
    warnings.iter().any(|w| w.to_string().contains(part))
}

#[test]
fn every_note_sounds_its_string_and_fret() {
    let text = "\
G|-0-2-4-5-|---------|
D|-----0---|-0-2-3-5-|
A|-------0-|---------|
E|---------|---------|

G|---------|---------|
D|---------|---------|
A|-0-2-3-5-|---------|
E|---------|-0-1-3-12|
";
    let (riff, warnings) = read_in("4/4", text);
    assert_eq!(riff.header().neck.as_deref(), Some("four"));
    let neck = Neck::named("four").unwrap();
    for note in riff.line() {
        let place = note.note.place.unwrap();
        assert_eq!(neck.sounding(place), Some(note.note.pitch.midi()));
    }
    let names: Vec<String> = riff.line().iter().map(|n| n.note.pitch.to_string()).collect();
    assert_eq!(names.join(" "), "G2 A2 D2 A1 D2 E2 F2 G2 A1 B1 C2 D2 E1 F1 G1 E2");
    assert!(says(&warnings, "guessed from the spacing"));
    assert!(says(&warnings, "bar 1: two notes at once (D2 and B2) on line 2; the lower one was kept"));
}

/// The same bar in the ways in which people space it.
#[test]
fn plain_spacings() {
    let empty = |n: usize| "-".repeat(n);
    for (row, expected) in [
        ("-5---7---5---7---", "| q D2 E2 D2 E2 ||"),
        ("5---7---5---7---", "| q D2 E2 D2 E2 ||"),
        ("--5--7--5--7--", "| q D2 E2 D2 E2 ||"),
        ("-5-7-5-7-", "| q D2 E2 D2 E2 ||"),
        ("5-7-5-7-", "| q D2 E2 D2 E2 ||"),
        ("5-7-5-7", "| q D2 E2 D2 E2 ||"),
        ("-5-7-5-7-5-7-5-7-", "| e D2 E2 D2 E2 D2 E2 D2 E2 ||"),
        ("-5-5-7---5---5-5-", "| e D2 D2 q E2 D2 e D2 D2 ||"),
        ("5-----7-5-------", "| q. D2 e E2 h D2 ||"),
        ("5-----7---7-----", "| q. D2 e E2 = E2 q = ||"),
        ("5---------7-----", "| h D2 e = E2 q = ||"),
        ("5--75--75-------", "| e. D2 s E2 e. D2 s E2 h D2 ||"),
        ("5-7-555-7---0-0-", "| e D2 E2 s D2 D2 e D2 q E2 e A1 A1 ||"),
        ("-10-12-10-12-", "| q G2 A2 G2 A2 ||"),
        ("-8-10-8-10-", "| q F2 G2 F2 G2 ||"),
        ("5--7--5-7--5--7-", "| e. D2 s E2 e = D2 e. E2 s D2 e = E2 ||"),
        ("-5-12-5-12-5-12-5-12-", "| e D2 A2 D2 A2 D2 A2 D2 A2 ||"),
        ("5-57-75-57-7", "| q3 D2 e3 D2 q3 E2 e3 E2 q3 D2 e3 D2 q3 E2 e3 E2 ||"),
        ("557775557777", "| e3 D2 D2 E2 E2 E2 D2 D2 D2 E2 E2 E2 E2 ||"),
        ("5555----7777----", "| s D2 D2 D2 D2 q = s E2 E2 E2 E2 q = ||"),
        ("-5-5-5-7-7-7-", "| q3 D2 D2 D2 E2 E2 E2 ||"),
        ("--------5---7---", "| h r q D2 E2 ||"),
        ("5---------------", "| w D2 ||"),
        ("--5--", "| w D2 ||"),
    ] {
        let silent = empty(row.len());
        let text = format!("G|{silent}|\nD|{silent}|\nA|{row}|\nE|{silent}|\n");
        assert_eq!(notes("4/4", &text), expected, "{row}");
    }
}

#[test]
fn other_meters() {
    let bar = |row: &str| {
        let silent = "-".repeat(row.len());
        format!("G|{silent}|\nD|{silent}|\nA|{row}|\nE|{silent}|\n")
    };
    assert_eq!(notes("3/4", &bar("-5-7-5-7-5-7-")), "| e D2 E2 D2 E2 D2 E2 ||");
    assert_eq!(notes("6/8", &bar("-5-7-5-7-5-7-")), "| e D2 E2 D2 E2 D2 E2 ||");
    assert_eq!(notes("6/8", &bar("-5---7-5-----")), "| q D2 e E2 q. D2 ||");
    assert_eq!(notes("7/8", &bar("-5-7-5-7-5-7-5-")), "| e D2 E2 D2 E2 D2 E2 D2 ||");
    assert_eq!(notes("12/8", &bar("5-----7-----5-7-5-7-----")), "| q. D2 E2 e D2 E2 D2 q. E2 ||");
}

#[test]
fn a_count_line_decides() {
    // The spacing alone would say something else: the second half of the bar is squeezed.
    let text = "
   1   +   2   +   3 + 4 +
G|-------------------------|
D|-------------------------|
A|-----5-------5-----5-----|
E|-3-------3-------3-----3-|
";
    assert_eq!(notes("4/4", text), "| e G1 D2 G1 D2 G1 q D2 e G1 ||");
    let (_, warnings) = read_in("4/4", text);
    assert!(says(&warnings, "taken from the count line") && !says(&warnings, "guessed from the spacing"));
    // Below the lines, sixteenths, without room for the letters.
    let text = "
G|--------------------------------|
D|--------------------------------|
A|--------5---------------7-------|
E|3---3-3-------------------3---3-|
1 e + a 2 e + a 3 e + a 4 e + a
";
    assert_eq!(notes("4/4", text), "| e G1 s G1 G1 h D2 s E2 e G1 s G1 ||");
    let text = "
G|-------------------------|
D|-------------------------|
A|-5-5-5-7---7-5---5-7-7-7-|
E|-------------------------|
  1 + a 2 + a 3 + a 4 + a
";
    assert_eq!(notes("4/4", text), "| e3 D2 D2 D2 q3 E2 e3 E2 q3 D2 e3 D2 E2 E2 E2 ||");
    // In 6/8 people count eighths.
    let text = "
  1 2 3 4 5 6
G|-------------|
D|-------------|
A|-5---7-5-----|
E|-------------|
";
    assert_eq!(notes("6/8", text), "| q D2 e E2 q. D2 ||");
    // A count that does not belong to the meter is not used, and said so.
    let (_, warnings) = read_in("3/4", "1 2 3 4\nG|-----|\nD|-----|\nA|-5-7-|\nE|-----|\n");
    assert!(says(&warnings, "counts further than 3/4"));
}

#[test]
fn playing_signs() {
    let text = "
G|-----------------|---------------------|
D|-5h7-7p5-5/7-----|-------------<12>--5-|
A|-------------5\\3-|-x---(5)-7~--------- |
E|-----------------|---------------------|
";
    let (riff, warnings) = read_in("4/4", text);
    let line = riff.line();
    let approaches: Vec<Approach> = line.iter().map(|n| n.note.approach).collect();
    assert_eq!(approaches[1], Approach::Hammer);
    assert_eq!(approaches[3], Approach::Pull);
    assert_eq!((approaches[5], approaches[7]), (Approach::Slide, Approach::Slide));
    let has = |i: usize, mark| line[i].note.marks.has(mark);
    assert!(has(8, Mark::Dead) && has(9, Mark::Ghost) && has(10, Mark::Vibrato) && has(11, Mark::Harmonic));
    assert_eq!(line[11].note.pitch.to_string(), "D3");
    assert_eq!(warnings.len(), 1, "{warnings:?}");
}

#[test]
fn bends_and_what_is_not_understood() {
    let (riff, warnings) =
        read_in("4/4", "G|-7b9---7b-----q-|\nD|---------------|\nA|---------------|\nE|---------------|\n");
    assert_eq!(riff.line()[0].note.bend, 4);
    assert_eq!(riff.line()[1].note.bend, 4);
    assert!(says(&warnings, "line 1, column 11: how far the note is bent is not said"));
    assert!(says(&warnings, "line 1, column 17: the sign 'q' was not understood"));
    assert!(says(&warnings, "line 2: the bar from column 3 is 1 signs shorter"));
    let (riff, warnings) =
        read_in("4/4", "G|-7b9r7-5-------|\nD|---------------|\nA|---------------|\nE|---------------|\n");
    assert_eq!(riff.line().len(), 2);
    assert!(says(&warnings, "the sign 'r'"));
    let (_, warnings) =
        read_in("4/4", "G|-7/-----------|\nD|-------------|\nA|-------5-----|\nE|-------------|\n");
    assert!(says(&warnings, "line 1, column 5: a hammer-on, pull-off or slide that leads to no note"));
}

#[test]
fn tunings_by_letters() {
    for (letters, neck, lowest) in [
        ("G D A E", "four", "E1"),
        ("g d a e", "four", "E1"),
        ("G2 D2 A1 E1", "four", "E1"),
        ("G D A D", "drop-d", "D1"),
        ("G D A E B", "five", "B0"),
        ("C G D A E B", "six", "B0"),
        ("Gb Db Ab Eb", "half-down", "Eb1"),
        ("F# C# G# D#", "half-down", "Eb1"),
        ("F C G D", "whole-down", "D1"),
        ("D A E B", "bead", "B0"),
        ("E A D G", "four", "G2"),
        ("B E A D G", "five", "G2"),
    ] {
        let count = letters.split(' ').count();
        let text: String = letters
            .split(' ')
            .enumerate()
            .map(|(i, l)| format!("{l:<2}|{}|\n", if i + 1 == count { "-0-------" } else { "---------" }))
            .collect();
        let (riff, _) = read_in("4/4", &text);
        assert_eq!(riff.header().neck.as_deref(), Some(neck), "{letters}");
        assert_eq!(riff.line()[0].note.pitch.to_string(), lowest, "{letters}");
    }
    // A tuning without a name keeps its pitches.
    let (riff, warnings) = read_in("4/4", "G|-0-|\nD|---|\nG|---|\nC|---|\n");
    assert_eq!((riff.header().neck.as_deref(), riff.line()[0].note.place), (None, None));
    assert!(says(&warnings, "sound G2 D2 G1 C1"));
    assert_eq!(riff.header().remarks, ["strings from the highest: G2 D2 G1 C1"]);
}

#[test]
fn without_letters() {
    let (riff, warnings) = read_in("4/4", "---------\n---------\n-5-7-5---\n-------3-\n");
    assert_eq!(riff.line()[3].note.pitch.to_string(), "G1");
    assert!(says(&warnings, "no tuning letters: the lines were taken as G D A E from the top"));
    let (riff, _) = read_in("4/4", "|---|\n|---|\n|---|\n|---|\n|-3-|\n");
    assert_eq!(riff.line()[0].note.pitch.to_string(), "D1");
    let (riff, warnings) = read_in("4/4", "A|-5-7-5-7-|\nE|---------|\n");
    assert_eq!(riff.line()[0].note.place.unwrap().string, 3);
    assert!(says(&warnings, "not every string has a line"));
}

/// Line ends, dashes, tabs and blanks as mail programs leave them.
#[test]
fn mail_as_it_comes() {
    let plain = "G|---------|\nD|-----5---|\nA|-3-5---3-|\nE|---------|\n";
    let expected = notes("4/4", plain);
    assert_eq!(expected, "| q C2 D2 G2 C2 ||");
    for text in [
        plain.replace('\n', "\r\n"),
        plain.replace('\n', "\r"),
        plain.replace('-', "\u{2013}"),
        plain.replace('-', "\u{2014}"),
        plain.replace('-', "\u{2212}"),
        plain.replace('-', "_"),
        plain.replace('\n', "   \t \n"),
        plain.replace("G|", "    G|").replace("D|", "    D|").replace("A|", "    A|").replace("E|", "    E|"),
        plain.replace("G|", "G:").replace("D|", "D:"),
        plain.replace('|', "||"),
        format!("\u{feff}{plain}"),
        plain.trim_end().to_owned(),
        plain.replace("-3-5---3-|", "-3-5---3-"),
    ] {
        assert_eq!(notes("4/4", &text), expected, "{text:?}");
    }
    let (_, warnings) = read_in("4/4", &plain.replace("-----5---", "----\t5--"));
    assert!(says(&warnings, "tab characters"));
}

#[test]
fn words_around_the_lines_are_kept() {
    let text = "
Pier Light
from my notebook
  --------------

G|---------|
D|---------|
A|-3-5-3---|
E|-------3-|
play it twice
G|---------|
D|---------|
A|-3-5-3---|
E|-------3-|
";
    let (riff, warnings) = read_in("4/4", text);
    assert_eq!(riff.header().title, "Pier Light");
    assert_eq!(riff.header().remarks, ["from my notebook", "--------------", "play it twice"]);
    assert_eq!(riff.bars().len(), 2);
    assert!(says(&warnings, "line 10: no tablature; kept as a remark"));
}

#[test]
fn repeats() {
    let text = "
G||----------|----------||
D||o---------|---------o||
A||o-3-5-3---|-3-5-----o||  x3
E||--------3-|-----3-5--||
";
    assert_eq!(notes("4/4", text), "|: q C2 D2 C2 G1 | C2 D2 G1 A1 :| x3");
    let text = "G|---------|\nD|---------|\nA|-3-5-3---|  (x4)\nE|-------3-|\n";
    assert_eq!(notes("4/4", text), "|: q C2 D2 C2 G1 :| x4");
    let (_, warnings) = read_in("4/4", &text.replace("(x4)", "slowly"));
    assert!(says(&warnings, "line 3: 'slowly' after the last bar line was left out"));
}

#[test]
fn a_narrow_first_bar_is_a_pickup() {
    let text = "
G|-----|-----------------|-----------------|
D|-----|-----------------|-----------------|
A|-----|-----5---3-------|-----5---3-------|
E|-3-5-|-3-----------3---|-3-----------3---|
";
    let (riff, warnings) = read_in("4/4", text);
    assert!(riff.has_pickup());
    assert_eq!(notes("4/4", text), "| [pickup] e G1 A1 | q G1 D2 C2 G1 | G1 D2 C2 G1 ||");
    assert!(says(&warnings, "bar 0: narrower than the other bars"));
}

#[test]
fn systems_without_blank_lines_or_bar_lines() {
    let four = "G|---------|\nD|---------|\nA|-3-5-3---|\nE|-------3-|\n";
    assert_eq!(read_in("4/4", &four.repeat(3)).0.bars().len(), 3);
    let long =
        format!("{}\n{}\n{}\n{}\n", "-".repeat(64), "-".repeat(64), "5---7---".repeat(8), "-".repeat(64));
    let (riff, warnings) = read_in("4/4", &long);
    assert_eq!(riff.bars().len(), 2);
    assert!(says(&warnings, "cut into 2 bars"));
    assert!(riff.line().iter().all(|n| n.length == riffkin_score::time::Quarters::EIGHTH));
}

/// What the columns do not fit is put on sixteenths, and said so.
#[test]
fn uneven_spacing_is_said() {
    let (riff, warnings) = read_in(
        "4/4",
        "G|---------------------------------|\nD|---------------------------------|\nA|-5-5---------5--5--5-------5-5--5|\nE|---------------------------------|\n",
    );
    assert_eq!(riff.line().len(), 8);
    assert!(says(&warnings, "fits no plain rhythm") || says(&warnings, "guessed"), "{warnings:?}");
}
