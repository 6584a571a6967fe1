//! Wishes: honoured whenever they can be, else refused with a smallest set of them to blame.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_eighths};
use riffkin_fretboard::fit::{Fit, FitError, Touch, best, wished};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::wishes::{Over, What, Wish};
use riffkin_score::note::Place;
use riffkin_score::riff::Riff;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

fn wishes(lines: &[&str]) -> Vec<Wish> {
    lines.iter().map(|l| l.parse().unwrap()).collect()
}

/// True when a fit does what is wished, by the words of [`What`].
fn granted(wish: Wish, fit: &Fit, riff: &Riff, neck: &Neck) -> bool {
    let line = riff.line();
    fit.notes.iter().filter(|n| wish.over.holds(n.at)).all(|n| {
        let held = matches!(n.touch, Touch::Stopped | Touch::Harmonic);
        match wish.what {
            What::String(string) => n.place.string == string,
            What::Place(place, finger) => n.place == place && finger.is_none_or(|f| f == n.finger),
            What::Finger(finger) => n.finger == finger,
            What::Frets { from, to } => !held || (n.position >= from && n.place.fret <= to),
            What::Position(fret) => !held || n.position == fret,
            What::NoOpenStrings => n.place.fret > 0,
            What::OpenStrings => {
                let midi = line[n.line].note.pitch.midi();
                n.place.fret == 0 || neck.strings().iter().all(|s| s.midi() != midi)
            }
        }
    })
}

fn any_wish(dice: &mut Dice, riff: &Riff) -> Wish {
    let line = riff.line();
    let bars = riff.bars().len() as u64;
    let from = 1 + dice.below(bars) as u32;
    let note = line[dice.below(line.len() as u64) as usize];
    let over = match dice.below(3) {
        0 => Over::Riff,
        1 => Over::Bars { from, to: (from + dice.below(2) as u32).min(bars as u32) },
        _ => Over::Note(riff.place_of(note.onset)),
    };
    let fret = 1 + dice.below(12) as u8;
    let what = match dice.below(7) {
        0 => What::String(1 + dice.below(4) as u8),
        1 => What::Place(Place { string: 1 + dice.below(4) as u8, fret }, None),
        2 => What::Finger(1 + dice.below(4) as u8),
        3 => What::Frets { from: fret, to: fret + 4 + dice.below(6) as u8 },
        4 => What::Position(fret),
        5 => What::NoOpenStrings,
        _ => What::OpenStrings,
    };
    Wish { over, what }
}

#[test]
fn wishes_are_honoured_or_a_smallest_set_is_blamed() {
    let (neck, mut dice) = (four(), Dice(61));
    let (mut honoured, mut refused) = (0, 0);
    for i in 0..1500 {
        let notes: Vec<u8> = (0..4 + dice.below(20)).map(|_| 28 + dice.below(28) as u8).collect();
        let riff = midi_eighths(&notes);
        let wishes: Vec<Wish> = (0..1 + dice.below(3)).map(|_| any_wish(&mut dice, &riff)).collect();
        let open = [OpenStrings::Welcome, OpenStrings::Sparing, OpenStrings::Refused][i % 3];
        let hand = Hand::default().with_open_strings(open);
        match wished(&riff, &neck, &hand, &wishes, 3) {
            Ok(fits) => {
                honoured += 1;
                for fit in &fits {
                    assert!(wishes.iter().all(|&w| granted(w, fit, &riff, &neck)), "line {i}: {wishes:?}");
                }
                let free = best(&riff, &neck, &hand, 1).unwrap();
                let kept = wishes.iter().all(|&w| granted(w, &free[0], &riff, &neck));
                if kept {
                    assert_eq!(
                        free[0].notes, fits[0].notes,
                        "line {i}: a wish that the fit grants changes nothing"
                    );
                } else if open != OpenStrings::Refused {
                    assert!(fits[0].cost >= free[0].cost - 1e-6);
                }
            }
            Err(FitError::Wishes(conflicts)) => {
                refused += 1;
                for conflict in conflicts {
                    // Together they cannot be had, without any one of them they could, for this note.
                    let note =
                        riff.line().iter().position(|n| riff.place_of(n.onset) == conflict.at).unwrap();
                    let alone = midi_eighths(&notes[note..=note]);
                    let over_all = |w: &Wish| Wish { over: Over::Riff, what: w.what };
                    let blamed: Vec<Wish> = conflict.wishes.iter().map(over_all).collect();
                    assert!(wished(&alone, &neck, &hand, &blamed, 1).is_err());
                    for k in 0..blamed.len() {
                        let mut fewer = blamed.clone();
                        fewer.remove(k);
                        assert!(wished(&alone, &neck, &hand, &fewer, 1).is_ok(), "line {i}: {blamed:?}");
                    }
                }
            }
            Err(other) => unreachable!("line {i}: {other}"),
        }
    }
    assert!(honoured > 200 && refused > 400, "{honoured} honoured, {refused} refused");
}

#[test]
fn refusals_name_note_and_wishes() {
    let said = |riff: &Riff, lines: &[&str]| {
        wished(riff, &four(), &Hand::default(), &wishes(lines), 1).unwrap_err().to_string()
    };
    let riff = eighths("G1 A1 B1 C2 D2 E2 F#2 G2");
    assert_eq!(
        said(&riff, &["no open strings", "frets 3 to 7", "bar 1: string 4"]),
        "C2 at bar 1, beat 2 1/2 cannot be played with these wishes together: 'frets 3 to 7' and 'bar 1: string 4'; give up one of them (4 more such)"
    );
    assert_eq!(
        said(&eighths("E1 G1"), &["no open strings"]),
        "E1 at bar 1, beat 1 cannot be played as wished: 'no open strings'; give it up"
    );
    assert!(said(&riff, &["bar 9: string 4"]).starts_with("the wish 'bar 9: string 4' is about no note"));
    assert!(
        said(&riff, &["bar 1, beat 1 1/4: finger 1"]).contains("name the bar and beat where a note starts")
    );
}

#[test]
fn a_wish_is_stronger_than_what_is_written() {
    let mut line = common::notes("A1 C2 E2");
    line[1].as_mut().unwrap().place = Some(Place { string: 3, fret: 3 });
    let riff = common::riff_of(riffkin_score::value::Shape::Eighth, &line);
    let kept = wished(&riff, &four(), &Hand::default(), &wishes(&["frets 1 to 5"]), 1).unwrap();
    assert_eq!(kept[0].notes[1].place, Place { string: 3, fret: 3 });
    assert!(kept[0].warnings.is_empty());
    let moved =
        wished(&riff, &four(), &Hand::default(), &wishes(&["bar 1, beat 1 1/2: string 4"]), 1).unwrap();
    assert_eq!(moved[0].notes[1].place, Place { string: 4, fret: 8 });
    assert_eq!(
        moved[0].warnings[0].to_string(),
        "bar 1, beat 1 1/2: the place or finger written there gives way to a wish"
    );
    // Open strings that a hand refuses are played where they are wished.
    let closed = Hand::default().with_open_strings(OpenStrings::Refused);
    let open = wished(&eighths("A1 C2 E2"), &four(), &closed, &wishes(&["open strings"]), 1).unwrap();
    assert_eq!(open[0].notes[0].place, Place { string: 3, fret: 0 });
}

#[test]
fn lines_that_are_no_wish_say_why() {
    for (line, why) in [
        ("", "says nothing that a note could do"),
        ("string 13", "there is no string 13"),
        ("finger 5", "there is no finger 5"),
        ("frets 7 to 3", "frets 7 to 3 run backwards"),
        ("bars 2 to 1: string 4", "bars 2 to 1 run backwards"),
        ("bar two: string 4", "the bar 'two' is no number in range"),
        ("everywhere: string 4", "'everywhere' names neither bars nor a note"),
        ("frets 3 to 999", "the fret '999' is no number in range"),
        ("bar 1, beat 1/2: string 1", "beats are counted from 1"),
        ("bar 1, beat 1 2 3: string 1", "a beat is a number such as 2, 5/2 or 2 1/2"),
    ] {
        let said = line.parse::<Wish>().unwrap_err().to_string();
        assert!(said.contains(why), "{said}");
    }
    let mut dice = Dice(8);
    for _ in 0..2000 {
        let alphabet = [
            "bar", "bars", "beat", ":", "string", "fret", "frets", "to", "no", "open", "1", "-3", "1/0", "é",
            ",",
        ];
        let words: Vec<&str> =
            (0..dice.below(9)).map(|_| alphabet[dice.below(alphabet.len() as u64) as usize]).collect();
        if let Ok(wish) = words.join(" ").parse::<Wish>() {
            assert_eq!(wish.to_string().parse::<Wish>().unwrap(), wish);
        }
    }
}

#[test]
fn a_range_may_be_written_with_a_hyphen() {
    for (short, long) in
        [("frets 3-7", "frets 3 to 7"), ("bars 1\u{2013}2: string 4", "bars 1 to 2: string 4")]
    {
        assert_eq!(short.parse::<Wish>().unwrap(), long.parse::<Wish>().unwrap());
    }
    assert!("frets 7-3".parse::<Wish>().unwrap_err().to_string().contains("run backwards"));
    assert!("frets -7".parse::<Wish>().is_err());
}
