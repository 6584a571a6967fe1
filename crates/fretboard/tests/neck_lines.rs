//! Necks on one line of text: read, printed back, and what is wrong with those that cannot be.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::Dice;
use riffkin_fretboard::neck::{Neck, NeckError};
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch};

fn neck(line: &str) -> Neck {
    Neck::named(line).unwrap()
}

fn strings(neck: &Neck) -> String {
    neck.strings().iter().map(Pitch::to_string).collect::<Vec<_>>().join(" ")
}

#[test]
fn a_line_says_everything_about_a_neck() {
    let n = neck("G2 D2 A1 E1, 24 frets, 35 inch, left-handed");
    assert_eq!(strings(&n), "G2 D2 A1 E1");
    assert_eq!((n.frets(), n.is_left_handed(), n.is_fretless(), n.capo()), (24, true, false, 0));
    assert!((n.scale_mm() - 889.0).abs() < 1e-9);
    assert_eq!(n.to_string(), "G2 D2 A1 E1, 24 frets, 35 inch, left-handed");
    let n = neck("D2 A1 E1 B0 , fretless,  20 positions, 863.6 mm, capo at fret 2");
    assert_eq!((n.capo(), n.frets(), n.board_frets(), n.is_fretless()), (2, 18, 20, true));
    assert_eq!(n.to_string(), "D2 A1 E1 B0, 20 positions, 863.6 mm, fretless, capo 2");
}

/// From the lowest string, in other units, in another order, in capitals: the same neck.
#[test]
fn one_neck_has_many_lines() {
    let plain = neck("G2 D2 A1 E1, 21 frets, 34 inch");
    for line in [
        "E1 A1 D2 G2, 21 frets",
        "21 frets, G2 D2 A1 E1",
        " G2  D2 A1 E1 ;21 FRETS; 34 in",
        "G2 D2 A1 E1, 863.6 mm, 21 frets, right-handed",
        "G2 D2 A1 E1, 86.36 cm, 21 frets",
    ] {
        let n = neck(line);
        assert_eq!((n.strings(), n.frets()), (plain.strings(), 21), "{line}");
        assert!((n.scale_mm() - plain.scale_mm()).abs() < 1e-9, "{line}");
    }
}

#[test]
fn usual_names_take_what_differs() {
    assert_eq!(neck("five, left-handed").to_string(), "five, left-handed");
    assert_eq!(neck("five, 24 frets, 35 inch").to_string(), "five, 24 frets, 35 inch");
    assert_eq!(neck("four, fretless").name(), "four, fretless");
    assert_eq!(neck("FOUR").to_string(), "four");
    assert_eq!(strings(&neck("five, half-down")), "Gb2 Db2 Ab1 Eb1 Bb0");
    assert_eq!(strings(&neck("six, whole-down")), "Bb2 F2 C2 G1 D1 A0");
    assert_eq!(strings(&neck("five, drop-a")), "G2 D2 A1 E1 A0");
    assert_eq!(strings(&neck("four, drop D")), strings(&neck("drop-d")));
    assert_eq!(strings(&neck("four, half-down")), strings(&neck("half-down")));
    assert_eq!(strings(&neck("four, whole-down")), strings(&neck("whole-down")));
    for name in Neck::NAMES {
        assert_eq!(neck(name).to_string(), name);
        assert_eq!(neck(name).name(), name);
    }
}

/// What is printed reads back to the same neck, and prints the same.
#[test]
fn printed_and_read_back() {
    let mut dice = Dice(5);
    for _ in 0..2000 {
        let mut midi = 40 + dice.below(30) as u8;
        let mut open = Vec::new();
        for _ in 0..1 + dice.below(12) {
            open.push(Pitch::simplest(Midi::new(midi).unwrap()));
            midi = midi.saturating_sub(1 + dice.below(3) as u8).max(1);
            if open.last().unwrap().midi().number() <= midi {
                break;
            }
        }
        let frets = 1 + dice.below(36) as u8;
        let mm = [762.0, 863.6, 889.0, 812.8, 863.7, 301.123_456, 1200.0][dice.below(7) as usize];
        let one = Neck::new("", open, frets, mm)
            .unwrap()
            .left_handed(dice.one_in(2))
            .fretless(dice.one_in(3))
            .with_capo(dice.below(frets.into()) as u8)
            .unwrap();
        let line = one.to_string();
        let back = neck(&line);
        assert_eq!(back.to_string(), line);
        assert_eq!(back.called(""), one, "{line}");
    }
}

/// A capo, common practice: open strings sound at it and frets count from it, so that it is the neck that it would be
/// with a nut there; the frets stay where they are on the board.
#[test]
fn a_capo_is_a_nut_further_up() {
    let plain = neck("four");
    for capo in 1..19 {
        let n = plain.clone().with_capo(capo).unwrap();
        assert_eq!(n.frets(), 20 - capo);
        assert_eq!(n.range(), (28 + capo, 63));
        assert_eq!(n.lowest().midi().number(), 28 + capo);
        for string in 1..=4 {
            for fret in 0..=n.frets() {
                let (here, there) = (Place { string, fret }, Place { string, fret: fret + capo });
                assert_eq!(n.sounding(here), plain.sounding(there));
            }
            assert_eq!(n.sounding(Place { string, fret: n.frets() + 1 }), None);
        }
        assert!(n.places(Midi::new(27 + capo).unwrap()).is_empty(), "no note below the capo");
        for (a, b) in [(0, 1), (1, 2), (2, 2)] {
            let board = plain.span_mm(a + capo, b + capo);
            assert!((n.span_mm(a, b) - board).abs() < 1e-9);
        }
        assert_eq!(n.with_capo(0).unwrap(), plain);
    }
    assert_eq!(
        plain.with_capo(20),
        Err(NeckError::Capo { fret: 20, frets: 20 }),
        "nothing would be left to play"
    );
}

#[test]
fn the_tuning_changes_and_the_instrument_stays() {
    let n = neck("G2 D2 A1 E1, 24 frets, 30 inch, fretless, left-handed");
    let open: Vec<Pitch> = "G2 D2 A1 D1".split(' ').map(|p| p.parse().unwrap()).collect();
    let low = n.retuned(open).unwrap();
    assert_eq!(low.to_string(), "drop-d, 24 positions, 30 inch, fretless, left-handed");
    assert_eq!(low.lowest().to_string(), "D1");
}

/// What is wrong, at which character, and what to write.
#[test]
fn lines_that_are_off_say_where() {
    for (line, at, words) in [
        ("G2 D2 H1 E1, 24 frets", 7, "'H1' names no open string"),
        ("G2 D2 H1 E1", 7, "'H1' names no open string"),
        ("E A D G", 1, "the string E needs its octave"),
        ("G2 D A1 E1", 4, "the string D needs its octave"),
        ("  G2 D2 A1 E1, 24 fretz", 14, "'24 fretz' is nothing of a neck"),
        ("G2 D2 A1 E1, 0 frets", 14, "1 to 36 frets, not 0; a neck without frets is 'fretless'"),
        ("G2 D2 A1 E1, no frets", 14, "'fretless'"),
        ("G2 D2 A1 E1, 37 frets", 14, "not 37"),
        ("G2 D2 A1 E1, 999 frets", 14, "999"),
        ("G2 D2 A1 E1, 2 inch", 14, "300 and 1200 mm"),
        ("G2 D2 A1 E1, 34", 14, "34 of what?"),
        ("G2 D2 A1 E1, 24 frets, 20 frets", 24, "twice"),
        ("G2 D2 A1 E1, G2 D2 A1 E1", 14, "second time"),
        ("G2 D2 E2 E1", 7, "E2 does not go on from D2"),
        ("G2 G2", 4, "G2 does not go on from G2"),
        ("G2 D2 A1 E1,, 24 frets", 13, "between two commas"),
        ("G2 D2 A1 E1, capo two", 14, "capo 2"),
        ("four, capo 20", 1, "leaves no fret"),
        ("left-handed, 24 frets", 1, "1 to 12 strings, not 0"),
        ("half-down, four, 24 frets", 12, "second time"),
        ("drop-a, 24 frets", 1, "the strings come first"),
        ("fünf Saiten, 24 frets", 1, "'fünf Saiten' is nothing of a neck"),
        ("G2 D2 ♯1 E1", 7, "'♯1' names no open string"),
    ] {
        match Neck::named(line) {
            Err(NeckError::Line { at: found, problem, .. }) => {
                assert!(problem.contains(words), "{line}: {problem}");
                assert_eq!(found, at, "{line}: {problem}");
            }
            other => panic!("{line}: {other:?}"),
        }
    }
    for name in ["", "banjo", "my bass", "nine-string"] {
        let error = Neck::named(name).unwrap_err();
        assert!(matches!(error, NeckError::Unknown(_)), "{name}");
        assert!(error.to_string().contains("drop-d") && error.to_string().contains("write one out"));
    }
}

/// Whatever is typed, an answer comes back.
#[test]
fn anything_typed_is_read_or_refused() {
    let mut dice = Dice(77);
    let bits = [
        "G2",
        "D2",
        "E1",
        "four",
        "five",
        ",",
        " ",
        "24",
        "frets",
        "inch",
        "capo",
        "fretless",
        "drop-",
        "a",
        "♭",
        "-",
        "left-handed",
        "half-down",
        "C-1",
        "G9",
        "\"",
        ".",
        "36",
        "1200 mm",
        "\u{0}",
        "é",
    ];
    let mut read = 0;
    for _ in 0..20_000 {
        let line: String = (0..dice.below(9)).map(|_| bits[dice.below(bits.len() as u64) as usize]).collect();
        if let Ok(found) = Neck::named(&line) {
            read += 1;
            assert_eq!(Neck::named(&found.to_string()).as_ref(), Ok(&found), "{line}");
        }
    }
    assert!(read > 100, "{read}");
}
