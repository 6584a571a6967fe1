//! Texts that are no tablature: each gives an error with its line and column, none a panic.

use riffkin_formats::tab_text::{TabOptions, read};

const FOUR: &str = "G|-----|\nD|-----|\nA|-5-7-|\nE|-----|\n";

/// Text, line, column, and a part of the message. `{4}` stands for a good system.
const MALFORMED: &[(&str, usize, usize, &str)] = &[
    // Nothing to read.
    ("", 1, 1, "no lines of tablature"),
    ("\n\n  \n", 1, 1, "no lines of tablature"),
    ("only words", 1, 1, "no lines of tablature"),
    ("\n  a letter\nabout a bass", 2, 3, "no lines of tablature"),
    ("1 2 3 4", 1, 1, "no lines of tablature"),
    ("riff: Pier\nkey: D\n| q 1 2 3 4 |", 1, 1, "no lines of tablature"),
    ("\u{feff}", 1, 1, "no lines of tablature"),
    ("X: 1\nY: 2", 1, 1, "no lines of tablature"),
    ("- one\n- two", 1, 1, "no lines of tablature"),
    ("G D A E", 1, 1, "no lines of tablature"),
    // Too few lines, or too many.
    ("-5-7-5-7-", 1, 1, "a line of tablature on its own"),
    ("words\n---------\n", 2, 1, "a line of tablature on its own"),
    ("-----\n-5-7-", 1, 1, "fewer than four lines"),
    ("-----\n-5-7-\n-----", 1, 1, "fewer than four lines"),
    ("|---|\n|-5-|\n\n|---|", 1, 1, "fewer than four lines"),
    ("-----\n\n-5-7-\n\n-----\n\n-----", 1, 1, "fewer than four lines, or each"),
    ("---\n---\n---\n---\n---\n---\n-5--", 1, 1, "7 lines of tablature one under the other"),
    ("{4}F|---|", 5, 1, "the string 'F' is far from the usual B0 of its place"),
    ("{4}G|---|\nD|---|\nA|---|", 1, 1, "7 lines of tablature"),
    ("{4}E|---|\nA|---|\nD|---|\nG|---|", 1, 1, "8 lines of tablature"),
    ("{4}\n\n---\n---\n---\n---\n-5--", 7, 1, "5 lines here, and 4 in the other systems"),
    ("---\n-5--\n---\n---\n\n---\n-5--\n---\n---\n---", 6, 1, "5 lines here, and 4 in the other systems"),
    ("{4}\nA|---|", 6, 1, "1 lines here, and 4"),
    // Letters.
    ("H|---|\nD|---|\nA|-5-|\nE|---|", 1, 1, "'H' names no string"),
    ("G|---|\nD|---|\nA|-5-|\n  Q|---|", 4, 3, "'Q' names no string"),
    ("G|---|\nD|---|\nA|-5-|\n|---|", 4, 1, "a line without a letter among lines with letters"),
    ("G|---|\nD|---|\nPM|-5-|\nE|---|", 3, 1, "'PM' names no string"),
    ("G|---|\nD|---|\n3|-5-|\nE|---|", 3, 1, "'3' names no string"),
    ("{4}\nG|---|\nD|---|\nA|-5-|\nD|---|", 9, 1, "'D' stands where line 4 has 'E'"),
    ("{4}\nE|---|\nA|---|\nD|-5-|\nG|---|", 6, 1, "'E' stands where line 1 has 'G'"),
    ("E|---|\nE|---|\nE|-5-|\nE|---|", 2, 1, "no lower than the one above it"),
    ("G|---|\nD|---|\nD|-5-|\nE|---|", 3, 1, "'D' is far from the usual A1 of its place"),
    ("E|---|\nA|-5-|", 1, 1, "2 lines with letters that are no part of G D A E"),
    ("F#|-5-|", 1, 1, "1 lines with letters"),
    ("A|-5-|\nA|---|", 1, 1, "2 lines with letters"),
    ("B|---|\nG|-5-|\nD|---|", 1, 1, "3 lines with letters"),
    // Bars.
    ("G|---|---|\nD|---|\nA|-5-|---|\nE|---|---|", 2, 1, "1 bar on this line, and 2 bars on the others"),
    ("G|---|---|\nD|---|---|\nA|-5-|---|\nE|--|-|--|", 4, 1, "3 bars on this line"),
    ("G|-----\nD|-----\nA|-5-7-\nE|--|--", 4, 1, "2 bars on this line, and 1 bar on the others"),
    ("{4}\nG|---|---|\nD|---|---|\nA|-5-|---|\nE|-------|", 9, 1, "1 bar on this line"),
    ("{4}\r\nG|---|---|\r\nD|---|\r\nA|-5-|---|\r\nE|---|---|", 7, 1, "1 bar on this line"),
    // Frets.
    ("G|---|\nD|---|\nA|-1234-|\nE|---|", 3, 4, "'1234' is no fret; put a dash between"),
    ("G|---|\nD|---|\nA|---|\nE|-5-|\nC|---|\nG|---|\nD|---|", 1, 1, "7 lines of tablature"),
    ("G|---|---|\nD|---|---|\nA|---|-5-1012-|\nE|---|---|", 3, 10, "'1012' is no fret"),
    ("G|---|\nD|00000000000000010000000000000000|\nA|---|\nE|---|", 2, 3, "is no fret"),
    ("---\n---\n--5515--\n---", 3, 3, "'5515' is no fret"),
    ("{4}\nG|---|\nD|---|\nA|---|\nE|-999999919999-|", 9, 4, "is no fret"),
    ("G|---|\nD|---|\nA|---|\nE|---|", 1, 1, "no fret number on any line"),
    ("------\n------\n------\n------", 1, 1, "no fret number on any line"),
    ("G|-h-|\nD|-p-|\nA|-/-|\nE|-~-|", 1, 1, "no fret number on any line"),
    ("G|---|\rD|---|\rA|-5155-|\rE|---|", 3, 4, "'5155' is no fret"),
    ("  G|---|\n  D|---|\n\tA|-5155-|\n  E|---|", 3, 5, "'5155' is no fret"),
    ("G–———\nD———\nA–1333–––\nE———", 3, 3, "'1333' is no fret"),
];

#[test]
fn each_error_names_its_place() {
    assert!(MALFORMED.len() >= 50);
    for &(text, line, column, part) in MALFORMED {
        let text = text.replace("{4}", FOUR);
        match read(&text, &TabOptions::default()) {
            Ok((_, warnings)) => assert_eq!("", part, "read without an error: {text:?}\n{warnings:?}"),
            Err(error) => {
                let message = error.to_string();
                assert_eq!((error.line(), error.column()), (line, column), "{text:?}\n{message}");
                assert!(message.contains(part), "{text:?}\n{message}");
            }
        }
    }
}

#[test]
fn more_notes_than_a_bar_can_hold() {
    let row = "5-".repeat(80);
    let rest = "-".repeat(160);
    let text = format!("G|{rest}|-|\nD|{rest}|-|\nA|{row}|-|\nE|{rest}|-|\n");
    let options = TabOptions { meter: "1/2".parse().unwrap(), ..TabOptions::default() };
    let error = read(&text, &options).unwrap_err().to_string();
    assert!(error.contains("line 3, column 3: 80 notes in a bar of 1/2"), "{error}");
    assert!(read(&text, &TabOptions::default()).is_ok());
}

/// Much of anything is read in linear time: were it not, this test would take minutes.
#[test]
fn big_texts() {
    const SIZE: usize = 1 << 17;
    for piece in [
        "-", "5-", "|-5-", "5", "|", "h", "~", " ", "\t", "1 + ", "G|-5-|\n", "-5-\n", "words\n", "—", "(",
        "x",
    ] {
        let row: String = std::iter::repeat_n(piece, SIZE / 4 / piece.len()).collect();
        for text in
            [row.repeat(4), format!("G|{row}\nD|{row}\nA|{row}\nE|{row}\n"), format!("1 {row}\n{FOUR}")]
        {
            if let Err(error) = read(&text, &TabOptions::default()) {
                assert!(error.to_string().len() < 1000, "{piece:?}");
            }
        }
    }
    let systems = format!("{FOUR}\n").repeat(SIZE / FOUR.len());
    assert!(read(&systems, &TabOptions::default()).is_ok());
}

/// Tablature with signs exchanged, doubled and lost.
#[test]
fn damaged_texts_never_panic() {
    let whole = "Pier\n  1 + 2 + 3 + 4 +\nG|-----------------|-----7b9---<12>-x-|\nD|-5h7-----5/7~----|-------------------|  x2\nA|-----(5)---------|-3---3-3p0---------|\nE|-----------3---3-|-------------------|\n\nG|:--|\nD|:5-|\nA|---|\nE|---|\n";
    let signs: Vec<char> = "-|0123456789hp/\\~xb()<>+ea GDAEB\n\r\t:*o—".chars().collect();
    let mut state = 7u64;
    let mut roll = |n: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % n.max(1)
    };
    let (mut good, mut bad) = (0, 0);
    for _ in 0..2000 {
        let mut text: Vec<char> = whole.chars().collect();
        for _ in 0..=roll(6) {
            let at = roll(text.len());
            match roll(3) {
                0 => drop(text.remove(at)),
                1 => text.insert(at, signs[roll(signs.len())]),
                _ => text[at] = signs[roll(signs.len())],
            }
        }
        let text: String = text.into_iter().collect();
        let meter = ["4/4", "6/8", "7/8", "3/4", "2/2", "1/32"][roll(6)].parse().unwrap();
        match read(&text, &TabOptions { meter, ..TabOptions::default() }) {
            Ok((riff, _)) => {
                good += 1;
                let printed = riffkin_formats::riff_text::print(&riff);
                assert_eq!(riffkin_formats::riff_text::parse(&printed).ok().map(|r| r.0), Some(riff));
            }
            Err(_) => bad += 1,
        }
    }
    assert!(good > 200 && bad > 200, "{good} {bad}");
}
