//! What we say about chords, numerals, scales, notes between chord tones and strong places, as JSON for
//! `tests/outside/harmony.py`, which asks music21 the same:
//! `cargo run -p riffkin-score --example outside_harmony -- FILE` writes it.
#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    clippy::unwrap_used,
    reason = "an example that writes a file and stops where it cannot go on"
)]

use riffkin_score::analysis::explain::explain;
use riffkin_score::analysis::harmony::{implied, read_chords};
use riffkin_score::analysis::shape::depth;
use riffkin_score::chord::{Chord, ChordKind};
use riffkin_score::degree::Degree;
use riffkin_score::key::{Key, Mode};
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};
use serde_json::{Value, json};

fn main() {
    let out = std::env::args_os().nth(1).unwrap();
    let all = json!({
        "chords": chords(),
        "numerals": numerals(),
        "scales": scales(),
        "segments": segments(),
        "depths": depths(),
    });
    std::fs::write(out, all.to_string()).unwrap();
}

fn roots() -> impl Iterator<Item = PitchName> {
    (-6..=8).filter_map(PitchName::from_line_of_fifths)
}

/// Every kind that MusicXML has a word of its own for, on many roots: its notes in order.
fn chords() -> Vec<Value> {
    let kinds = ChordKind::ALL.into_iter().filter(|k| *k != ChordKind::SeventhSuspendedFourth);
    kinds
        .flat_map(|kind| roots().map(move |root| (kind, root)))
        .map(|(kind, root)| {
            // No root here is so remote that a tone of its chords would need three flats.
            let notes: Vec<String> =
                kind.degrees().into_iter().map(|d| d.of(root).unwrap().to_string()).collect();
            json!({
                "symbol": Chord { root, kind, bass: None }.to_string(),
                "root": root.to_string(),
                "kind": kind.musicxml(),
                "notes": notes,
            })
        })
        .collect()
}

/// Triads and sevenths on the degrees of a tonic: the numeral.
fn numerals() -> Vec<Value> {
    let kinds = [
        ChordKind::Major,
        ChordKind::Minor,
        ChordKind::Seventh,
        ChordKind::MinorSeventh,
        ChordKind::MajorSeventh,
    ];
    let mut found = Vec::new();
    for tonic in (-4..=4).filter_map(PitchName::from_line_of_fifths) {
        for degree in ["1", "b2", "2", "b3", "3", "4", "#4", "5", "b6", "6", "b7", "7"] {
            let degree: Degree = degree.parse().unwrap();
            for kind in kinds {
                let Some(root) = degree.of(tonic) else { continue };
                let chord = Chord { root, kind, bass: None };
                let notes: Option<Vec<String>> =
                    kind.degrees().into_iter().map(|d| Some(d.of(root)?.to_string())).collect();
                let (Some(numeral), Some(notes)) = (chord.numeral(tonic), notes) else { continue };
                found.push(json!({ "tonic": tonic.to_string(), "notes": notes, "numeral": numeral }));
            }
        }
    }
    found
}

/// The scale of every diatonic seventh in major and minor: its name and notes.
fn scales() -> Vec<Value> {
    let mut found = Vec::new();
    for tonic in (-5..=5).filter_map(PitchName::from_line_of_fifths) {
        for (mode, numerals) in [
            (Mode::Major, "Imaj7 ii7 iii7 IVmaj7 V7 vi7 vii7b5"),
            (Mode::Minor, "i7 ii7b5 bIIImaj7 iv7 v7 bVImaj7 bVII7"),
        ] {
            for numeral in numerals.split(' ') {
                let chord = Chord::from_numeral(numeral, tonic).unwrap();
                let scale = implied(chord, tonic, mode).unwrap();
                let notes: Vec<String> =
                    scale.degrees.iter().map(|d| d.of(chord.root).unwrap().to_string()).collect();
                found.push(json!({
                    "tonic": tonic.to_string(),
                    "mode": mode.name(),
                    "numeral": numeral,
                    "root": chord.root.to_string(),
                    "name": scale.named.map(Mode::name),
                    "notes": notes,
                }));
            }
        }
    }
    found
}

/// Three notes over a chord, the outer ones its tones: what the middle one is.
fn segments() -> Vec<Value> {
    let quarter = NoteValue::plain(Shape::Quarter);
    let mut found = Vec::new();
    for symbol in ["C", "Am7", "G7", "Dm", "Fmaj7"] {
        let chord: Chord = symbol.parse().unwrap();
        let tones: Vec<u8> = (36..=50)
            .filter(|m| chord.kind.set().contains((m + 12 - chord.root.pitch_class()) % 12))
            .collect();
        for (&first, &last) in tones.iter().flat_map(|a| tones.iter().map(move |b| (a, b))) {
            for middle in 34..=52u8 {
                let pitches = [first, middle, last].map(|m| Pitch::simplest(Midi::new(m).unwrap()));
                let mut events: Vec<Event> =
                    pitches.iter().map(|&p| Event::note(quarter, Note::plain(p))).collect();
                events.push(Event::rest(quarter));
                let mut bar = Bar::new(Meter::FOUR_FOUR, events);
                bar.chords = vec![(Quarters::ZERO, chord)];
                let key = Some("C major".parse::<Key>().unwrap());
                let riff = Riff::new(Header { key, ..Header::default() }, vec![bar]).unwrap();
                let reading = read_chords(&riff, &explain(&riff, None));
                let role = reading.chords[0].notes[1].role;
                found.push(json!({
                    "chord": symbol,
                    "notes": pitches.map(|p| p.to_string()),
                    "role": role.name(),
                }));
            }
        }
    }
    found
}

/// How deep the places of a bar lie, for meters that divide by two and three.
fn depths() -> Vec<Value> {
    let mut found = Vec::new();
    for (meter, finest) in
        [("4/4", 4), ("3/4", 4), ("2/4", 4), ("6/8", 4), ("9/8", 2), ("12/8", 2), ("2/2", 2)]
    {
        let parsed: Meter = meter.parse().unwrap();
        let cells = (parsed.bar_length() * finest).whole_steps(Quarters::QUARTER);
        for cell in 0..cells {
            let offset = Quarters::new(cell, finest).unwrap();
            found.push(
                json!({ "meter": meter, "offset": offset.to_string(), "depth": depth(parsed, offset) }),
            );
        }
    }
    found
}
