//! Texts that are no riff: each gives an error with its line and column, none a panic.

use riffkin_formats::riff_text::{parse, print};
use riffkin_score::random::{Recipe, riff_of};

/// Text, line, column, and a part of the message.
const MALFORMED: &[(&str, usize, usize, &str)] = &[
    // Nothing to read.
    ("", 1, 1, "ends without a bar"),
    ("\n\n", 3, 1, "ends without a bar"),
    ("riff: Pier\nkey: D minor\n", 3, 1, "ends without a bar"),
    ("// only a comment", 1, 18, "ends without a bar"),
    ("riff: A\n|\n", 3, 1, "no bars"),
    // The header.
    ("name: Pier\n| w r |", 1, 1, "'name' is no header word; known are riff, key"),
    ("riff Pier\n| w r |", 1, 1, "is no header line"),
    ("riff: a\nriff: b\n| w r |", 2, 1, "a second line 'riff:'"),
    ("key: H minor\n| w r |", 1, 6, "'H minor' is no key"),
    ("key:   D dorrian\n| w r |", 1, 8, "'D dorrian' is no key"),
    ("key:\n| w r |", 1, 5, "'' is no key"),
    ("meter: 4/3\n| w r |", 1, 8, "'4/3' is no meter"),
    ("meter: four four\n| w r |", 1, 8, "is no meter"),
    ("tempo: quick\n| w r |", 1, 8, "'quick' is no tempo"),
    ("tempo: 2000\n| w r |", 1, 8, "from 5 to 1000"),
    ("tempo: dotted crotchet = 60\n| w r |", 1, 8, "is no tempo"),
    ("feel: bouncy\n| w r |", 1, 7, "'bouncy' is no feel"),
    ("feel: swing 1:2\n| w r |", 1, 7, "is no feel"),
    ("é: x\n| w r |", 1, 1, "is no header word"),
    ("| w r |\nkey: D", 2, 1, "is no note"),
    // Words.
    ("key: D\n| q 1 2 8 4 |", 2, 9, "'8' is no degree; degrees go from 1 to 7"),
    ("key: D\n| q 1 2 bb#3 4 |", 2, 9, "is no degree"),
    ("key: D\n| q 1+- 2 3 4 |", 2, 5, "up and down at once"),
    ("key: D\n| q 1+++++++++++++ 2 3 4 |", 2, 5, "outside MIDI 0 to 127"),
    ("| q 1 2 3 4 |", 1, 5, "without a key; add a line such as 'key: D minor'"),
    ("| q H1 r r r |", 1, 5, "is no note, rest or length"),
    ("| q Bb r r r |", 1, 5, "'Bb' is no note name"),
    ("| q bb r r r |", 1, 5, "is no degree"),
    ("| q a1 r r r |", 1, 5, "note names are capital letters"),
    ("| q A99 r r r |", 1, 5, "is no note name"),
    ("| q A1 ? r r |", 1, 8, "'?' is no note"),
    ("| A1 |", 1, 3, "before any length"),
    ("| r |", 1, 3, "before any length"),
    // Lengths.
    ("| q.... A1 |", 1, 3, "at most three dots"),
    ("| e5 A1 |", 1, 3, "only 3 stands alone"),
    ("| e4:4 A1 |", 1, 3, "2 to 15 notes"),
    ("| e99:2 A1 |", 1, 3, "2 to 15 notes"),
    ("| e3:x A1 |", 1, 3, "is no length"),
    ("| q1 2 |", 1, 3, "only 3 stands alone"),
    ("| q1q2 |", 1, 3, "with blanks between"),
    // Bars.
    (
        "| q A1 A1 A1 |",
        1,
        14,
        "bar 1 holds 3 quarter notes, and 4/4 asks for 4 quarter notes; missing: one quarter",
    ),
    ("| w A1 | q A1 A1 e. A1 |", 1, 24, "bar 2 holds 2 3/4 quarter notes"),
    ("| q A1 A1 A1 A1 A1 |", 1, 17, "bar 1 holds 5 quarter notes"),
    ("[pickup] q A1 | h A1 A1 A1 |", 1, 25, "bar 1 holds 6 quarter notes"),
    ("| w A1 | | w A1 |", 1, 10, "bar 2 is empty"),
    ("| [meter 3/4] | h. A1 |", 1, 3, "bar 1 has no notes"),
    ("| w A1 | h", 1, 10, "bar 2 has no notes"),
    ("|:\n:| w A1 |", 2, 1, "a repeat ends before the first bar"),
    ("| w A1 :|\n:| w A1 |", 2, 1, "a second :|"),
    ("| w A1 |:", 1, 8, "a repeat starts after the last bar"),
    ("| w A1 :| x1 w A1 |", 1, 11, "played 2 to 99 times"),
    ("| w A1 | x3 w A1 |", 1, 10, "where no repeat ends"),
    ("| w A1 x3 |", 1, 8, "how often a repeat is played"),
    ("|0th w A1 |", 1, 2, "the ending '0th'"),
    ("|2nd,1st w A1 |", 1, 2, "upwards"),
    ("| h A1 1st A1 |", 1, 8, "inside a bar"),
    ("| w A1 :|2nd", 1, 8, "an ending after the last bar"),
    // Brackets.
    ("| [meter 3/4 h. A1 |", 1, 3, "[ is not closed"),
    ("| <Dm7 w A1 |", 1, 3, "< is not closed"),
    ("| w A1 (accent |\n) |", 1, 8, "( is not closed"),
    ("| w A1 ) |", 1, 8, "nothing opened"),
    ("| h A1 [meter 2/4] A1 |", 1, 8, "[meter] inside a bar"),
    ("| [metre 3/4] h. A1 |", 1, 3, "is not known; known are [meter 3/4]"),
    ("| [meter 3] h. A1 |", 1, 3, "'3' is no meter"),
    ("| w A1 | [pickup] w A1 |", 1, 10, "only the first bar is a pickup"),
    ("| [tempo slow] w A1 |", 1, 3, "'slow' is no tempo"),
    ("| [tempo 90 @5] w A1 |", 1, 3, "past the last note of its bar"),
    ("| <Hm> w A1 |", 1, 3, "'<Hm>' is no chord"),
    ("| <i7> w A1 |", 1, 3, "numerals need a key"),
    ("| <D @x> w A1 |", 1, 3, "no distance from the bar line"),
    ("| <D> <G> w A1 |", 1, 7, "a second chord at the same place"),
    ("| w A1 <D> |", 1, 8, "past the last note of its bar"),
    // Ties, marks and places.
    ("| w = |", 1, 5, "no note before it to hold"),
    ("| h r = |", 1, 7, "no note before it to hold"),
    ("| h A1 =B1 |", 1, 8, "another pitch"),
    ("| w (accent) A1 |", 1, 5, "marks without a note"),
    ("| w r (accent) |", 1, 7, "marks after a rest"),
    ("| w A1 () |", 1, 9, "empty parentheses"),
    ("| w A1 (accent  loud) |", 1, 17, "'loud' is no mark"),
    ("| w A1 (dead dead) |", 1, 14, "twice"),
    ("| w A1 (pull hammer) |", 1, 14, "reached another way already"),
    ("| w A1 (bend:0) |", 1, 9, "is no bend"),
    ("| w A1 (bend:9/2) |", 1, 9, "up to bend:4"),
    ("| w A1 (finger:5) |", 1, 9, "is no finger"),
    ("| w A1@3:1 |", 1, 5, "@3:1 sounds Bb1 on the neck 'four', and the note is A1"),
    ("| w A1@5:0 |", 1, 5, "the neck 'four' has 4 strings"),
    ("| w @3 |", 1, 5, "is no place"),
    ("| w @3:40 |", 1, 5, "is no place"),
    ("| w @0:1 |", 1, 5, "is no place"),
    ("| w @3:7:5 |", 1, 5, "is no place"),
    ("| w @3:7! |", 1, 5, "there is no note"),
    ("neck: banjo\n| w @3:7 |", 2, 5, "on a neck that is not known"),
    // Line ends of other systems, and comments.
    ("key: D\r\n| q 1 2\r\n  9 4 |", 3, 3, "'9' is no degree"),
    ("key: D\r| q 1 2\r  9 4 |", 3, 3, "'9' is no degree"),
    ("\u{feff}key: D\n| q 1 2 ♭♭♭♭3 4 |", 2, 9, "is no degree"),
    ("| w A1 // a comment |", 1, 8, "a line to themselves"),
];

#[test]
fn each_error_names_its_place() {
    assert!(MALFORMED.len() >= 50);
    for &(text, line, column, part) in MALFORMED {
        match parse(text) {
            Ok(_) => assert_eq!("", part, "read without an error: {text:?}"),
            Err(error) => {
                let message = error.to_string();
                assert_eq!((error.line(), error.column()), (line, column), "{text:?}\n{message}");
                assert!(message.contains(part), "{text:?}\n{message}");
                assert!(!error.advice().is_empty() && text.is_char_boundary(error.offset()));
            }
        }
    }
}

/// Much of anything is read in linear time: were it not, this test would take minutes.
#[test]
fn big_texts() {
    const SIZE: usize = 1 << 17;
    for piece in [
        "a",
        "(",
        "[",
        "<",
        "|",
        ":",
        "|:",
        "1 ",
        "q ",
        "q1",
        "=",
        "@",
        "-",
        "+",
        "b",
        "é",
        "\r",
        "\n",
        "riff:",
        "remark: x\n",
        "| w r ",
        "<C>",
        "()",
        "// \n",
        "\t",
        "x3 ",
        "1st,",
    ] {
        for start in ["", "| ", "key: D\n| q ", "| w A1 :| ", "|1st ", "riff: "] {
            let mut text = start.to_owned();
            text.extend(std::iter::repeat_n(piece, SIZE / piece.len()));
            if let Err(error) = parse(&text) {
                assert!(error.to_string().len() < 1000, "{start:?} {piece:?}");
            }
        }
    }
}

/// Texts that are nearly right: a character taken out, doubled or exchanged.
#[test]
fn damaged_riffs_never_panic() {
    let mut state = 1u64;
    let mut roll = |n: usize| {
        state = state.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (state >> 33) as usize % n.max(1)
    };
    let mut errors = 0;
    for seed in 0..300 {
        let recipe = if seed % 2 == 0 { Recipe::full(4) } else { Recipe::wild(4) };
        let whole: Vec<char> = print(&riff_of(seed, recipe)).chars().collect();
        for _ in 0..4 {
            let mut text = whole.clone();
            for _ in 0..=roll(3) {
                let at = roll(text.len());
                match roll(3) {
                    0 => drop(text.remove(at)),
                    1 => text.insert(at, text[at]),
                    _ => text[at] = text[roll(text.len())],
                }
            }
            let text: String = text.into_iter().collect();
            match parse(&text) {
                Ok((riff, _)) => assert_eq!(parse(&print(&riff)).ok().map(|r| r.0), Some(riff)),
                Err(error) => {
                    errors += 1;
                    assert!(error.line() <= text.lines().count() + 1);
                }
            }
        }
    }
    assert!(errors > 300, "{errors}");
}
