//! Riffs that do not lie on the neck.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_note, riff_of};
use riffkin_fretboard::adapt::{Adaptation, Change, Kind, Measure, adapt, adapted, usual};
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
    // A tone up in E minor it fits as it is; drop D has the low D, so have the lower tunings and the five-string.
    assert_eq!(kinds[..3], [Kind::Octave(1), Kind::Key(2), Kind::Notes(2)]);
    let necks: Vec<(Kind, &str)> = offers[3..].iter().map(|o| (o.kind, o.neck.name())).collect();
    assert_eq!(
        necks,
        [
            (Kind::Tuning, "drop-d"),
            (Kind::Tuning, "whole-down"),
            (Kind::Tuning, "bead"),
            (Kind::MoreStrings, "five"),
            (Kind::MoreStrings, "six")
        ]
    );
    assert_eq!(offers[3].measure, Measure::Tuning { strings: 1, semitones: 2 });
    assert_eq!(offers[5].measure.to_string(), "4 strings retuned, 20 semitones in all");
    assert_eq!(offers[6].measure, Measure::MoreStrings { strings: 1 });
    assert_eq!(offers[1].measure.to_string(), "2 semitones away, 1 sharp");
    assert_eq!(offers[1].riff.header().key.unwrap().to_string(), "E minor");
    assert_eq!(said(&offers[1]), ["bar 1, beat 1: the key becomes E minor, 2 semitones up"]);
    assert_eq!(said(&offers[0]), ["bar 1, beat 1: the whole line an octave up"]);
    for offer in &offers {
        assert!(missing(&offer.riff, &offer.neck).is_empty(), "{:?}", offer.kind);
        assert!(fit(&offer.riff, &offer.neck, &Hand::default()).is_ok());
    }
    // All eight notes and a root on a first beat make 20, the two low notes with a break and a turn 10.
    assert_eq!(offers[0].measure.to_string(), "change 20: 8 notes moved, 1 root on a first beat");
    assert_eq!(
        offers[2].measure.to_string(),
        "change 10: 2 notes moved, 1 turn of the line, 1 break in a phrase"
    );
    assert_eq!(usual(&offers), Some(2));
    let (taken, warnings) = adapted(&riff, &four());
    assert_eq!(taken, offers[2].riff);
    assert_eq!(
        warnings.iter().map(ToString::to_string).collect::<Vec<_>>(),
        [
            "bar 1, beat 4: 2 notes from D1 to D1, up to bar 1, beat 4 1/2, an octave up",
            "bar 1, beat 4: the line rises here, where it fell before the change"
        ]
    );
}

/// A line too wide for any octave of the whole: the low phrase goes up, across the rest, and the rest stays.
#[test]
fn a_low_phrase_is_moved_across_its_rests() {
    let riff = in_key(&eighths("G2 D3 G3 Bb3 D4 - - - C1 D1 C1 D1 C1 - - - G2 D3 G3 Bb3"), "G minor");
    let offers = adapt(&riff, &four());
    let notes = offers.iter().find(|o| matches!(o.kind, Kind::Phrases(_))).unwrap();
    assert_eq!(notes.kind, Kind::Phrases(5));
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
    let notes = adapt(&riff, &four()).into_iter().find(|o| matches!(o.kind, Kind::Phrases(_))).unwrap();
    assert_eq!(notes.kind, Kind::Phrases(2));
    assert_eq!(midi(&notes.riff)[35..], [28, 39, 38]);
    assert_eq!(
        said(&notes),
        [
            "bar 5, beat 3: 2 notes from E♭1 to D1, up to bar 5, beat 3 1/2, an octave up",
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
    let notes = offers.iter().find(|o| matches!(o.kind, Kind::Phrases(_))).unwrap();
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

/// The change of a choice of octaves, counted from the words of [`Change`]: turns, roots, weight.
fn change(line: &[i32], octaves: &[i32], rest_before: &[bool], root_on_one: &[bool]) -> [i32; 3] {
    let (mut weight, mut turns, mut roots) = (0, 0, 0);
    for i in 0..line.len() {
        weight += 2 * octaves[i].abs();
        if root_on_one[i] && octaves[i] != 0 {
            roots += 1;
            weight += 4;
        }
        if i > 0 {
            let new = line[i] + 12 * octaves[i] - line[i - 1] - 12 * octaves[i - 1];
            let halved = if rest_before[i] { 2 } else { 1 };
            if octaves[i] != octaves[i - 1] {
                weight += 2 / halved;
            }
            if new.signum() != (line[i] - line[i - 1]).signum() {
                turns += 1;
                weight += 4 / halved;
            }
        }
    }
    [turns, roots, weight]
}

/// A random line that may leave the neck at both ends, with rests.
struct Line {
    riff: Riff,
    midi: Vec<i32>,
    rest_before: Vec<bool>,
    root_on_one: Vec<bool>,
}

fn random_line(dice: &mut Dice, (low, high): (u8, u8), longest: u64) -> Line {
    let mut events = Vec::new();
    let (mut line, mut rest_before, mut root_on_one) = (Vec::new(), Vec::new(), Vec::new());
    let (mut midi, mut rest) = (i64::from(low) + dice.below(12) as i64 - 6, false);
    for _ in 0..1 + dice.below(longest) {
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
    Line { riff: in_key(&riff_of(Shape::Eighth, &events), "G minor"), midi: line, rest_before, root_on_one }
}

/// The fewest turns, then roots, then weight; and the least weight: what is offered equals the best of every choice
/// of octaves for every note, and the measure it states is the one counted.
#[test]
fn least_change_equals_exhaustive_search() {
    let mut dice = Dice(31);
    let necks = ["four", "five", "bead", "drop-d"].map(|n| Neck::named(n).unwrap());
    let mut compared = 0;
    for i in 0..400 {
        let neck = &necks[i % necks.len()];
        let (low, high) = neck.range();
        let line = random_line(&mut dice, (low, high), 8);
        let moved: Vec<(Vec<i32>, Change)> = adapt(&line.riff, neck)
            .into_iter()
            .filter_map(|o| match o.measure {
                Measure::Moved(change) => Some((o, change)),
                _ => None,
            })
            .map(|(o, change)| {
                let moved = midi(&o.riff);
                let octaves = moved.iter().zip(&line.midi).map(|(a, b)| (a - b).div_euclid(12));
                (octaves.collect(), change)
            })
            .collect();
        if moved.is_empty() {
            assert!(missing(&line.riff, neck).is_empty(), "line {i}");
            continue;
        }
        let on = |m: i32| u8::try_from(m).is_ok_and(|m| m >= low && m <= high);
        let choices: Vec<Vec<i32>> =
            line.midi.iter().map(|m| (-4..=4).filter(|o| on(m + 12 * o)).collect()).collect();
        let mut all: Vec<Vec<i32>> = vec![Vec::new()];
        for c in &choices {
            all = all.iter().flat_map(|a| c.iter().map(move |&o| [a.as_slice(), &[o]].concat())).collect();
        }
        let count = |o: &Vec<i32>| change(&line.midi, o, &line.rest_before, &line.root_on_one);
        let counts: Vec<[i32; 3]> = all.iter().map(count).collect();
        let found: Vec<[i32; 3]> = moved.iter().map(|(o, _)| count(o)).collect();
        for ((_, said), counted) in moved.iter().zip(&found) {
            let said = [said.all_turns() as i32, said.roots as i32, said.weight() as i32];
            assert_eq!(said, *counted, "line {i}");
        }
        // The whole line an octave away is one of the choices, so the least of the offers is the least of all.
        assert_eq!(found.iter().min(), counts.iter().min(), "line {i}: contour first");
        let weight = |all: &[[i32; 3]]| all.iter().map(|c| c[2]).min();
        assert_eq!(weight(&found), weight(&counts), "line {i}: least change");
        assert_eq!(adapted(&line.riff, neck).0.line().len(), line.midi.len());
        compared += 1;
    }
    assert!(compared > 200, "{compared}");
}

/// The list of changes says of every note whether it moved and where: replayed on the riff, it gives the result.
#[test]
fn the_list_of_changes_is_what_was_changed() {
    let mut dice = Dice(47);
    let neck = four();
    let mut checked = 0;
    for _ in 0..300 {
        let line = random_line(&mut dice, neck.range(), 14);
        let (after, warnings) = adapted(&line.riff, &neck);
        let said: Vec<String> = warnings.iter().map(ToString::to_string).collect();
        let places: Vec<String> =
            line.riff.line().iter().map(|n| line.riff.place_of(n.onset).to_string()).collect();
        let mut replayed = line.midi.clone();
        for words in said.iter().filter(|w| w.contains("octave")) {
            let up = |w: &str| match w {
                w if w.ends_with("an octave up") => 12,
                w if w.ends_with("an octave down") => -12,
                w if w.ends_with("two octaves up") => 24,
                w if w.ends_with("two octaves down") => -24,
                other => panic!("{other}"),
            };
            let (place, what) = words.split_once(": ").unwrap();
            let from = places.iter().position(|p| p == place).unwrap();
            let to = match what.split_once(", up to ") {
                _ if what.starts_with("the whole line") => places.len() - 1,
                Some((_, rest)) => {
                    let last = rest.rsplit_once(", ").unwrap().0;
                    places.iter().position(|p| p == last).unwrap()
                }
                None => from,
            };
            for midi in &mut replayed[from..=to] {
                *midi += up(what);
            }
        }
        assert_eq!(replayed, midi(&after), "{said:?}");
        for i in 1..replayed.len() {
            let way = |l: &[i32]| (l[i] - l[i - 1]).signum();
            let turned = way(&replayed) != way(&line.midi);
            let named = said.iter().any(|w| w.starts_with(&format!("{}: the line ", places[i])));
            assert_eq!(turned, named, "note {i}: {said:?}");
        }
        checked += usize::from(!said.is_empty());
    }
    assert!(checked > 150, "{checked}");
}

/// One low note in a long line: moving it, here with the note after it, changes less than lifting the whole.
#[test]
fn a_low_note_or_two_do_not_send_a_riff_up_the_neck() {
    let low = in_key(
        &eighths("G1 Bb1 C2 D2 F2 D2 C2 Bb1 G1 Bb1 C2 D2 F2 D2 C2 Bb1 G1 G1 C2 C2 - Eb1 - G1"),
        "G minor",
    );
    let (after, said) = adapted(&low, &four());
    let moved: Vec<i32> = midi(&after).iter().zip(midi(&low)).map(|(a, b)| a - b).collect();
    assert_eq!(moved[..20], [0; 20], "{said:?}");
    assert_eq!(moved[20..], [12; 2], "{said:?}");
    // A line of which most lies too low goes up as a whole.
    let line = in_key(&eighths("D1 F1 G1 D1 D1 F1 D1 C1"), "D minor");
    assert_eq!(adapted(&line, &four()).1[0].to_string(), "bar 1, beat 1: the whole line an octave up");
}

/// With a capo nothing lies below it; taking it off is offered.
#[test]
fn a_capo_can_go() {
    let neck = Neck::named("four, capo 3").unwrap();
    let riff = eighths("E1 G1 A1 B1");
    let offers = adapt(&riff, &neck);
    let off = offers.iter().find(|o| o.kind == Kind::Tuning).unwrap();
    assert_eq!((off.neck.capo(), off.measure), (0, Measure::Tuning { strings: 0, semitones: 0 }));
    assert!(said(off)[0].ends_with("without the capo"), "{:?}", said(off));
}

/// A left-handed bass of 24 frets stays one when it is retuned.
#[test]
fn another_tuning_is_of_the_same_instrument() {
    let neck = Neck::named("G2 D2 A1 E1, 24 frets, 30 inch, left-handed").unwrap();
    let offers = adapt(&eighths("D1 D2 A1 D1"), &neck);
    let drop = offers.iter().find(|o| o.kind == Kind::Tuning).unwrap();
    assert_eq!(drop.neck.to_string(), "drop-d, 24 frets, 30 inch, left-handed");
    let five = offers.iter().find(|o| o.kind == Kind::MoreStrings).unwrap();
    assert_eq!(five.neck.name(), "five, left-handed");
    // Five strings have no usual lower tuning; the lowest string goes down.
    let low = adapt(&eighths("A0 B0 D1 A0"), &Neck::named("five").unwrap());
    let names: Vec<&str> = low.iter().filter(|o| o.kind == Kind::Tuning).map(|o| o.neck.name()).collect();
    assert_eq!(names, ["G2 D2 A1 E1 A0, 20 frets, 34 inch", "F2 C2 G1 D1 A0, 20 frets, 34 inch"]);
}
