//! MusicXML written and read again is the same riff, plain and compressed.

#![allow(clippy::panic, reason = "a helper of tests fails by panicking")]

use riffkin_formats::musicxml::{WriteOptions, looks_like, read, write, write_mxl};
use riffkin_fretboard::neck::Neck;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Approach, Event, Note, Place};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::value::{NoteValue, Shape};

fn there_and_back(riff: &Riff, name: &str) {
    let text = write(riff, &WriteOptions::default());
    let (back, _) = read(text.as_bytes()).unwrap_or_else(|e| panic!("{name}: {e}"));
    assert_same(riff, &back, name);
}

/// Compares piece by piece, so that a difference can be read.
fn assert_same(riff: &Riff, back: &Riff, name: &str) {
    assert_eq!(riff.header(), back.header(), "{name}");
    for (i, (a, b)) in riff.bars().iter().zip(back.bars()).enumerate() {
        for (k, (x, y)) in a.events.iter().zip(&b.events).enumerate() {
            assert_eq!(x, y, "{name}, bar {i}, event {k}");
        }
        assert_eq!(a, b, "{name}, bar {i}");
    }
    assert_eq!(riff, back, "{name}");
}

#[test]
fn generated_riffs_come_back_as_they_were() {
    for seed in 0..150 {
        there_and_back(&riff_of(seed, Recipe::full(1 + seed as usize % 12)), &format!("full {seed}"));
        there_and_back(&riff_of(seed, Recipe::plain(1 + seed as usize % 8)), &format!("plain {seed}"));
        there_and_back(&riff_of(seed, Recipe::wild(1 + seed as usize % 12)), &format!("wild {seed}"));
    }
}

#[test]
fn compressed_too() {
    for seed in 0..30 {
        let riff = riff_of(seed, Recipe::full(8));
        let bytes = write_mxl(&riff, &WriteOptions::default()).unwrap();
        assert!(looks_like(&bytes));
        assert_eq!(bytes, write_mxl(&riff, &WriteOptions::default()).unwrap());
        assert_same(&riff, &read(&bytes).unwrap().0, &format!("{seed}"));
    }
}

/// Common practice and MusicXML 4.0: the open E of a four-string (E1) is written E2 with an octave change of
/// -1; `string` counts from the highest string, `staff-tuning` from the lowest line and as it sounds.
#[test]
fn the_open_e_on_both_staves() {
    let quarter = NoteValue::plain(Shape::Quarter);
    let heads = ["E1", "E1", "G1", "F2"].map(|p| Event::note(quarter, Note::plain(p.parse().unwrap())));
    let riff = Riff::new(Header::default(), vec![Bar::new(Meter::FOUR_FOUR, heads.to_vec())]).unwrap();
    let neck = Neck::named("four").unwrap();
    let at = |string, fret, finger| Some((Place { string, fret }, finger));
    let places = [at(4, 0, 0), None, at(4, 3, 2), at(2, 3, 4)];
    let text = write(&riff, &WriteOptions { neck: Some(&neck), places: Some(&places) });
    let flat: String = text.lines().map(str::trim).collect();
    for part in [
        "<pitch><step>E</step><octave>2</octave></pitch>",
        "<octave-change>-1</octave-change>",
        "<staff-tuning line=\"1\"><tuning-step>E</tuning-step><tuning-octave>1</tuning-octave></staff-tuning>",
        "<staff-tuning line=\"4\"><tuning-step>G</tuning-step><tuning-octave>2</tuning-octave></staff-tuning>",
        "<technical><string>4</string><fret>0</fret></technical>",
        "<technical><string>2</string><fret>3</fret></technical>",
        "<technical><fingering>4</fingering></technical>",
    ] {
        assert!(flat.contains(part), "{part} is not in\n{text}");
    }
    // Two staves, and each note on both.
    assert_eq!(flat.matches("<note>").count(), 8);
    let (back, warnings) = read(text.as_bytes()).unwrap();
    let found: Vec<_> = back.line().iter().map(|n| n.note.place.zip(n.note.finger)).collect();
    assert_eq!(found, places);
    assert!(warnings.is_empty(), "{warnings:?}");
}

#[test]
fn texts_with_signs_of_xml_come_back() {
    let header = Header {
        title: "<Rope> & \"Tide\" 'B\u{266d}' \u{1d122}".to_owned(),
        remarks: vec!["a < b".to_owned(), "]]> &amp;".to_owned()],
        permission: Some("for the class; ask first".to_owned()),
        source: Some("made up".to_owned()),
        neck: Some("a neck of nobody's".to_owned()),
        ..Header::default()
    };
    let rest = Event::rest(NoteValue::plain(Shape::Whole));
    let riff = Riff::new(header, vec![Bar::new(Meter::FOUR_FOUR, vec![rest])]).unwrap();
    there_and_back(&riff, "texts");
}

#[test]
fn a_first_note_that_is_hammered_and_a_tempo_on_the_first_beat() {
    let half = NoteValue::plain(Shape::Half);
    for approach in [Approach::Hammer, Approach::Pull, Approach::Slide, Approach::SlidePlucked] {
        let note = Note { approach, ..Note::plain("A1".parse().unwrap()) };
        let mut bar = Bar::new(Meter::FOUR_FOUR, vec![Event::note(half, note), Event::note(half, note)]);
        bar.tempi = vec![(riffkin_score::time::Quarters::ZERO, Tempo::quarters(96.125).unwrap())];
        there_and_back(&Riff::new(Header::default(), vec![bar]).unwrap(), "first");
    }
}
