//! Riffs that do not lie on the neck.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_note, riff_of};
use riffkin_fretboard::adapt::{Adaptation, Kind, adapt, adapted};
use riffkin_fretboard::fit::{fit, missing};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Note, Place};
use riffkin_score::riff::Riff;
use riffkin_score::value::Shape;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

fn in_key(riff: &Riff, key: &str) -> Riff {
    let mut header = riff.header().clone();
    header.key = Some(key.parse().unwrap());
    riff.with_header(header)
}

fn midi(riff: &Riff) -> Vec<i32> {
    riff.line().iter().map(|n| i32::from(n.note.pitch.midi().number())).collect()
}

fn said(offer: &Adaptation) -> Vec<String> {
    offer.changes.iter().map(|(at, words)| format!("{at}: {words}")).collect()
}

#[test]
fn what_lies_on_the_neck_is_left_alone() {
    let riff = eighths("E1 G1 A1 B1");
    assert!(adapt(&riff, &four()).is_empty());
    assert_eq!(adapted(&riff, &four()), (riff, vec![]));
}

#[test]
fn the_offers_come_in_order_and_lie_on_their_necks() {
    let riff = in_key(&eighths("D2 C2 A1 G1 F1 E1 D1 D1"), "D minor");
    let offers = adapt(&riff, &four());
    let kinds: Vec<Kind> = offers.iter().map(|o| o.kind).collect();
    // Drop D has the low D; so has the five-string; a tone up in E minor it fits as it is.
    assert_eq!(kinds[..2], [Kind::Octave(1), Kind::Key(2)]);
    assert!(matches!(kinds[2], Kind::Notes(_)));
    assert_eq!(kinds[3..], [Kind::Tuning, Kind::MoreStrings]);
    assert_eq!((offers[3].neck.name(), offers[4].neck.name()), ("drop-d", "five"));
    assert_eq!(offers[1].riff.header().key.unwrap().to_string(), "E minor");
    assert_eq!(said(&offers[1]), ["bar 1, beat 1: the key becomes E minor, 2 semitones up"]);
    assert_eq!(said(&offers[0]), ["bar 1, beat 1: the whole line an octave up"]);
    for offer in &offers {
        assert!(missing(&offer.riff, &offer.neck).is_empty(), "{:?}", offer.kind);
        assert!(fit(&offer.riff, &offer.neck, &Hand::default()).is_ok());
    }
    let (default, warnings) = adapted(&riff, &four());
    assert_eq!(default, offers[0].riff);
    assert_eq!(warnings[0].to_string(), "bar 1, beat 1: the whole line an octave up");
}

/// A line too wide for any octave of the whole: the low phrase goes up, across the rest, and the rest stays.
#[test]
fn a_low_phrase_is_moved_across_its_rests() {
    let riff = in_key(&eighths("G2 D3 G3 Bb3 D4 - - - C1 D1 C1 D1 C1 - - - G2 D3 G3 Bb3"), "G minor");
    let offers = adapt(&riff, &four());
    let notes = offers.iter().find(|o| matches!(o.kind, Kind::Notes(_))).unwrap();
    assert_eq!(notes.kind, Kind::Notes(5));
    let moved: Vec<i32> = midi(&notes.riff).iter().zip(midi(&riff)).map(|(a, b)| a - b).collect();
    assert_eq!(moved, [0, 0, 0, 0, 0, 12, 12, 12, 12, 12, 0, 0, 0, 0]);
    assert_eq!(said(notes), ["bar 2, beat 1: 5 notes from C1 to C1, up to bar 2, beat 3, an octave up"]);
    // Up an octave D4 is gone; no key helps a line of more than three octaves.
    assert!(!offers.iter().any(|o| matches!(o.kind, Kind::Octave(_) | Kind::Key(_))));
    assert_eq!(adapted(&riff, &four()).0, notes.riff);
}

/// A line that falls by semitones through the whole neck and two notes beyond: wherever it is lifted by an
/// octave it must rise once, and lifting the last two alone moves the fewest notes.
#[test]
fn contour_that_turns_is_said() {
    let line: Vec<Option<Note>> = (26..=63).rev().map(|m| Some(midi_note(m))).collect();
    let riff = riff_of(Shape::Eighth, &line);
    let notes = adapt(&riff, &four()).into_iter().find(|o| matches!(o.kind, Kind::Notes(_))).unwrap();
    assert_eq!(notes.kind, Kind::Notes(2));
    assert_eq!(midi(&notes.riff)[35..], [28, 39, 38]);
    assert_eq!(
        said(&notes),
        [
            "bar 5, beat 3: 2 notes from Eb1 to D1, up to bar 5, beat 3 1/2, an octave up",
            "bar 5, beat 3: the line rises here, where it fell before the change"
        ]
    );
}

#[test]
fn ties_and_written_places_move_with_their_note() {
    let mut line: Vec<Option<Note>> = common::notes("C1 C1 D4 Eb4");
    line[0].as_mut().unwrap().tied = true;
    line[0].as_mut().unwrap().place = Some(Place { string: 5, fret: 1 });
    let riff = riff_of(Shape::Eighth, &line);
    let offers = adapt(&riff, &four());
    let notes = offers.iter().find(|o| matches!(o.kind, Kind::Notes(_))).unwrap();
    assert_eq!(midi(&notes.riff), [36, 62, 63]);
    assert_eq!(notes.riff.line()[0].length, riff.line()[0].length);
    assert!(
        said(notes).iter().any(|w| w.contains("string and fret written with C1 were dropped")),
        "{:?}",
        said(notes)
    );
}

#[test]
fn nothing_helps_on_a_neck_without_the_note() {
    let neck = Neck::new("one fret", vec!["E1".parse().unwrap()], 1, 863.6).unwrap();
    let riff = eighths("E1 G1 Bb1 Db2");
    let (same, warnings) = adapted(&riff, &neck);
    assert_eq!(same, riff);
    assert!(warnings[0].to_string().starts_with("bar 1, beat 1 1/2: G1 does not lie on the neck 'one fret'"));
    assert!(adapt(&riff, &neck).iter().all(|o| o.neck != neck));
}

/// The change of a choice of octaves, summed from the words of [`adapt`].
fn change(line: &[i32], octaves: &[i32], rest_before: &[bool], root_on_one: &[bool]) -> i32 {
    let mut sum = 0;
    for i in 0..line.len() {
        sum += octaves[i].abs();
        if root_on_one[i] && octaves[i] != 0 {
            sum += 3;
        }
        if i > 0 {
            let new = line[i] + 12 * octaves[i] - line[i - 1] - 12 * octaves[i - 1];
            let halved = if rest_before[i] { 2 } else { 1 };
            if octaves[i] != octaves[i - 1] {
                sum += 2 / halved;
            }
            if new.signum() != (line[i] - line[i - 1]).signum() {
                sum += 6 / halved;
            }
        }
    }
    sum
}

#[test]
fn least_change_equals_exhaustive_search() {
    let mut dice = Dice(31);
    let necks = ["four", "five", "bead", "drop-d"].map(|n| Neck::named(n).unwrap());
    let mut compared = 0;
    for i in 0..400 {
        let neck = &necks[i % necks.len()];
        let (low, high) = neck.range();
        // A line that may leave the neck at both ends.
        let mut events = Vec::new();
        let (mut line, mut rest_before, mut root_on_one) = (Vec::new(), Vec::new(), Vec::new());
        let (mut midi, mut rest) = (i64::from(low) + dice.below(12) as i64 - 6, false);
        for _ in 0..1 + dice.below(8) {
            if dice.one_in(5) {
                events.push(None);
                rest = !line.is_empty();
            }
            midi = (midi + dice.below(31) as i64 - 15).clamp(i64::from(low) - 14, i64::from(high) + 14);
            root_on_one.push(events.len() % 8 == 0 && midi % 12 == 7);
            rest_before.push(rest);
            rest = false;
            line.push(midi as i32);
            events.push(Some(midi_note(midi as u8)));
        }
        let riff = in_key(&riff_of(Shape::Eighth, &events), "G minor");
        let Some(offer) = adapt(&riff, neck).into_iter().find(|o| matches!(o.kind, Kind::Notes(_))) else {
            assert!(missing(&riff, neck).is_empty(), "line {i}");
            continue;
        };
        let on = |m: i32| u8::try_from(m).is_ok_and(|m| m >= low && m <= high);
        let choices: Vec<Vec<i32>> =
            line.iter().map(|m| (-4..=4).filter(|o| on(m + 12 * o)).collect()).collect();
        let mut all: Vec<Vec<i32>> = vec![Vec::new()];
        for c in &choices {
            all = all.iter().flat_map(|a| c.iter().map(move |&o| [a.as_slice(), &[o]].concat())).collect();
        }
        let least = all.iter().map(|o| change(&line, o, &rest_before, &root_on_one)).min().unwrap();
        let found: Vec<i32> =
            self::midi(&offer.riff).iter().zip(&line).map(|(a, b)| (a - b).div_euclid(12)).collect();
        assert_eq!(change(&line, &found, &rest_before, &root_on_one), least, "line {i}: {line:?} {found:?}");
        compared += 1;
    }
    assert!(compared > 200, "{compared}");
}
