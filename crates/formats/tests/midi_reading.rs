//! Files that others write: which part is the bass, what its times and names mean, and what is said about it.
#![expect(clippy::unwrap_used, reason = "a test helper may end the test")]

use riffkin_formats::midi::{MidiError, MidiOptions, WriteOptions, candidates, read, write};
use riffkin_score::Warning;
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::{Feel, Tempo};

/// A track from (tick, bytes of the event), in any order.
fn track(events: &[(u32, Vec<u8>)]) -> Vec<u8> {
    let mut events: Vec<_> = events.to_vec();
    events.sort_by_key(|e| e.0);
    let mut body = Vec::new();
    let mut now = 0;
    for (tick, bytes) in &events {
        body.extend(quantity(tick - now));
        body.extend(bytes);
        now = *tick;
    }
    body.extend([0, 0xff, 0x2f, 0]);
    chunk(b"MTrk", &body)
}

fn quantity(mut value: u32) -> Vec<u8> {
    let mut bytes = vec![(value & 0x7f) as u8];
    while value > 0x7f {
        value >>= 7;
        bytes.insert(0, (value & 0x7f) as u8 | 0x80);
    }
    bytes
}

fn chunk(id: &[u8], body: &[u8]) -> Vec<u8> {
    let size = (body.len() as u32).to_be_bytes();
    [id, &size, body].concat()
}

fn file(format: u8, division: u16, tracks: &[Vec<u8>]) -> Vec<u8> {
    let [high, low] = division.to_be_bytes();
    let head = chunk(b"MThd", &[0, format, 0, tracks.len() as u8, high, low]);
    [head, tracks.concat()].concat()
}

fn named(name: &str) -> (u32, Vec<u8>) {
    (0, [&[0xff, 3, name.len() as u8], name.as_bytes()].concat())
}

/// Notes as (on, off, number) on a channel.
fn notes(channel: u8, notes: &[(u32, u32, u8)]) -> Vec<(u32, Vec<u8>)> {
    // Offs go before ons of the same tick.
    let mut events: Vec<_> = notes.iter().map(|n| (n.1, vec![0x80 | channel, n.2, 0])).collect();
    events.extend(notes.iter().map(|n| (n.0, vec![0x90 | channel, n.2, 90])));
    events
}

fn plain(bytes: &[u8]) -> (Riff, Vec<Warning>) {
    read(bytes, &MidiOptions::default()).unwrap()
}

fn line(riff: &Riff) -> Vec<(String, String, String)> {
    riff.line()
        .iter()
        .map(|n| (n.onset.to_string(), n.length.to_string(), n.note.pitch.to_string()))
        .collect()
}

fn said(warnings: &[Warning], words: &str) -> bool {
    warnings.iter().any(|w| w.to_string().contains(words))
}

/// A small band at 480 ticks: drums on channel 10, piano chords, a bass on channel 2, a tune.
fn band(bass_name: &str, program: Option<u8>) -> Vec<u8> {
    let mut drums = vec![named("Drums")];
    drums.extend(notes(9, &(0..16).map(|i| (i * 240, i * 240 + 60, 36)).collect::<Vec<_>>()));
    let mut piano = vec![named("Piano"), (0, vec![0xc0, 0])];
    piano.extend(notes(
        0,
        &(0..4).flat_map(|i| [55, 59, 62].map(|n| (i * 480, i * 480 + 470, n))).collect::<Vec<_>>(),
    ));
    let mut bass = vec![named(bass_name)];
    bass.extend(program.map(|p| (0, vec![0xc1, p])));
    bass.extend(notes(
        1,
        &(0..8).map(|i| (i * 240, i * 240 + 200, [31, 31, 34, 36][i as usize % 4])).collect::<Vec<_>>(),
    ));
    let mut tune = vec![named("Voice"), (0, vec![0xc2, 73])];
    tune.extend(notes(2, &(0..4).map(|i| (i * 480, i * 480 + 480, 67 + i as u8)).collect::<Vec<_>>()));
    let meta = vec![(0, vec![0xff, 0x58, 4, 4, 2, 24, 8]), (0, vec![0xff, 0x51, 3, 0x09, 0x27, 0xc0])];
    file(1, 480, &[track(&meta), track(&drums), track(&piano), track(&bass), track(&tune)])
}

#[test]
fn the_bass_is_found_and_the_reasons_are_said() {
    for (name, program) in [("Bass", Some(33)), ("Track 4", Some(38)), ("Bass", None), ("", None)] {
        let (riff, warnings) = plain(&band(name, program));
        assert_eq!(riff.line().len(), 8, "{name} {program:?}");
        assert_eq!(riff.line()[0].note.pitch.midi().number(), 31);
        assert!(said(&warnings, "track 4"), "{name} {program:?}: {warnings:?}");
    }
    let (_, warnings) = plain(&band("Bass", Some(33)));
    assert!(said(&warnings, "track 4 \"Bass\", channel 2: program 34, fingered bass"), "{warnings:?}");
    assert!(said(&warnings, "100 % one note at a time"), "{warnings:?}");
    assert!(said(&warnings, "median"), "{warnings:?}");
    let all = candidates(&band("Bass", Some(33)), &MidiOptions::default()).unwrap();
    assert_eq!(all.iter().map(|c| c.track).collect::<Vec<_>>()[0], 4);
    assert_eq!(all.len(), 3, "the drums are no candidate");
    // Asked for by hand.
    let options = MidiOptions { track: Some(5), ..MidiOptions::default() };
    assert_eq!(read(&band("Bass", Some(33)), &options).unwrap().0.line()[0].note.pitch.midi().number(), 67);
    let options = MidiOptions { track: Some(9), ..MidiOptions::default() };
    assert!(matches!(read(&band("Bass", None), &options), Err(MidiError::NoTrack { track: 9, tracks: 5 })));
    let options = MidiOptions { track: Some(2), ..MidiOptions::default() };
    assert!(matches!(read(&band("Bass", None), &options), Err(MidiError::NoNotes { drums: 16, .. })));
}

/// Tempo bytes are microseconds to the quarter, rounded (Standard MIDI Files 1.0): the event's own arithmetic.
#[test]
fn tempo_events_are_microseconds_to_the_quarter() {
    let riff = riff_of(1, Recipe::plain(1));
    for (tempo, bytes) in [
        (60.0, [0x0f, 0x42, 0x40]),
        (72.0, [0x0c, 0xb7, 0x35]),
        (90.0, [0x0a, 0x2c, 0x2b]),
        (100.0, [0x09, 0x27, 0xc0]),
        (120.0, [0x07, 0xa1, 0x20]),
        (140.0, [0x06, 0x8a, 0x1b]),
        (180.0, [0x05, 0x16, 0x15]),
    ] {
        let mut header = riff.header().clone();
        header.tempo = Tempo::quarters(tempo).unwrap();
        let written = write(&riff.with_header(header.clone()), &WriteOptions::default());
        let event = [&[0xff, 0x51, 3], &bytes[..]].concat();
        assert!(written.windows(6).any(|w| w == event), "{tempo}");
        assert_eq!(plain(&written).0.header().tempo, header.tempo, "{tempo}");
    }
}

#[test]
fn formats_0_and_2_and_wrapped_files_are_read() {
    let mut one = vec![(0, vec![0xff, 0x58, 4, 3, 2, 24, 8]), (0, vec![0xc0, 33])];
    one.extend(notes(0, &[(0, 480, 28), (480, 960, 31), (960, 1440, 33)]));
    one.extend(notes(3, &[(0, 1440, 72)]));
    let (riff, _) = plain(&file(0, 480, &[track(&one)]));
    assert_eq!(line(&riff).iter().map(|n| n.2.as_str()).collect::<Vec<_>>(), ["E1", "G1", "A1"]);
    assert_eq!(riff.bars()[0].meter.to_string(), "3/4");
    // Two pieces in one file: the second is the bass, in its own meter.
    let mut two = vec![named("Bass"), (0, vec![0xff, 0x58, 4, 6, 3, 36, 8])];
    two.extend(notes(0, &[(0, 720, 28), (720, 1440, 31), (1440, 2160, 28), (2160, 2880, 31)]));
    let lead = track(&notes(0, &[(0, 480, 72), (480, 960, 74)]));
    let (riff, _) = plain(&file(2, 480, &[lead, track(&two)]));
    assert_eq!(riff.bars()[0].meter.to_string(), "6/8");
    assert_eq!(riff.line().len(), 4);
    let inner = file(0, 480, &[track(&one)]);
    let size = (inner.len() as u32).to_le_bytes();
    let body = [b"RMIDdata".as_slice(), &size, &inner].concat();
    let wrapped = [b"RIFF".as_slice(), &(body.len() as u32).to_le_bytes(), &body].concat();
    assert_eq!(plain(&wrapped).0.line().len(), 3);
}

#[test]
fn notes_struck_again_overlapping_or_never_ended() {
    let bytes = |events: &[(u32, Vec<u8>)]| file(0, 480, &[track(events)]);
    // Velocity 0 ends a note; running status.
    let running =
        chunk(b"MTrk", &[0, 0x90, 28, 90, 0x83, 0x60, 28, 0, 0, 31, 90, 0x83, 0x60, 31, 0, 0, 0xff, 0x2f, 0]);
    let (riff, _) = plain(&file(0, 480, &[running]));
    let lengths = |riff: &Riff| line(riff).into_iter().map(|n| (n.0, n.1)).collect::<Vec<_>>();
    let quarter = |at: &str| (at.to_owned(), "1".to_owned());
    assert_eq!(lengths(&riff), [quarter("0"), quarter("1")]);
    // The off of the first after the on of the second at one tick.
    let late = [
        (0, vec![0x90, 28, 90]),
        (480, vec![0x90, 28, 90]),
        (480, vec![0x80, 28, 0]),
        (960, vec![0x80, 28, 0]),
    ];
    assert_eq!(lengths(&plain(&bytes(&late)).0), [quarter("0"), quarter("1")]);
    // Struck again with one off for both.
    let again = [(0, vec![0x90, 28, 90]), (480, vec![0x90, 28, 90]), (960, vec![0x80, 28, 0])];
    assert_eq!(lengths(&plain(&bytes(&again)).0), [quarter("0"), quarter("1")]);
    // Legato overlap.
    let (riff, warnings) = plain(&bytes(&notes(0, &[(0, 500, 28), (480, 960, 31)])));
    assert_eq!(lengths(&riff), [quarter("0"), quarter("1")]);
    assert!(!said(&warnings, "left out:"));
    // Never ended.
    let (riff, warnings) =
        plain(&bytes(&[(0, vec![0x90, 28, 90]), (480, vec![0x90, 31, 90]), (960, vec![0x80, 31, 0])]));
    assert_eq!(lengths(&riff), [quarter("0"), quarter("1")]);
    assert!(said(&warnings, "bar 1, beat 1: this note is never ended"), "{warnings:?}");
}

#[test]
fn of_notes_together_the_lowest_stays_and_the_place_is_said() {
    let (riff, warnings) = plain(&file(
        0,
        480,
        &[track(&notes(0, &[(0, 480, 40), (0, 480, 28), (2400, 2880, 31), (2400, 2880, 43)]))],
    ));
    assert_eq!(line(&riff).iter().map(|n| n.2.as_str()).collect::<Vec<_>>(), ["E1", "G1"]);
    assert!(said(&warnings, "bar 1, beat 1: E2 was left out"), "{warnings:?}");
    assert!(said(&warnings, "bar 2, beat 2: G2 was left out"), "{warnings:?}");
}

#[test]
fn keys_meters_and_rests_before_the_first_note() {
    let mut events = vec![(0, vec![0xff, 0x59, 2, 0xfd, 1]), (0, vec![0xff, 0x58, 4, 4, 2, 24, 8])];
    events.extend(notes(0, &[(7680, 8160, 36), (8160, 8640, 39), (8640, 9600, 43)]));
    let (riff, warnings) = plain(&file(0, 480, &[track(&events)]));
    assert_eq!(riff.header().key.unwrap().to_string(), "C minor");
    assert_eq!(line(&riff)[1].2, "Eb2");
    assert_eq!(line(&riff)[0].0, "0");
    assert!(said(&warnings, "16 quarters into the file"), "{warnings:?}");
    let whole = MidiOptions { from_start: true, ..MidiOptions::default() };
    assert_eq!(line(&read(&file(0, 480, &[track(&events)]), &whole).unwrap().0)[0].0, "16");
    // C major is what programs write unasked.
    let mut events = vec![(0, vec![0xff, 0x59, 2, 0, 0])];
    events.extend(notes(0, &[(0, 480, 36)]));
    let (riff, warnings) = plain(&file(0, 480, &[track(&events)]));
    assert_eq!(riff.header().key, None);
    assert!(said(&warnings, "write unasked"));
    // A bar of 1/4 before 4/4 is a pickup, and so is a note late in a bar of rests.
    let mut events = vec![(0, vec![0xff, 0x58, 4, 1, 2, 24, 8]), (480, vec![0xff, 0x58, 4, 4, 2, 24, 8])];
    events.extend(notes(0, &[(0, 480, 28), (480, 2400, 33)]));
    let (riff, _) = plain(&file(0, 480, &[track(&events)]));
    assert!(riff.has_pickup());
    assert_eq!(riff.bars().len(), 2);
    let (riff, _) = plain(&file(0, 480, &[track(&notes(0, &[(1440, 1920, 28), (1920, 3840, 33)]))]));
    assert!(riff.has_pickup());
}

/// The texts taken out, the ticks alone must say the same: straight and swung.
#[test]
fn files_on_the_grid_are_read_exactly_without_our_texts() {
    let mut swung = 0;
    for seed in 0..60 {
        let made = riff_of(seed, Recipe { swing: true, ..Recipe::plain(8) });
        if made.line().len() < 12 {
            continue;
        }
        let written = write(&made, &WriteOptions::default());
        // "riffkin " becomes a word that means nothing to the reader.
        let mut foreign = written.clone();
        for at in 0..foreign.len() - 8 {
            if &foreign[at..at + 8] == b"riffkin " {
                foreign[at..at + 8].copy_from_slice(b"somebody");
            }
        }
        let options =
            MidiOptions { from_start: true, feel: Some(made.header().feel), ..MidiOptions::default() };
        let (again, warnings) = read(&foreign, &options).unwrap();
        let times = |r: &Riff| {
            let notes = r.line();
            let first = notes[0].onset;
            notes.iter().map(|n| (n.onset - first, n.note.pitch.midi())).collect::<Vec<_>>()
        };
        assert_eq!(times(&again), times(&made), "seed {seed}: {warnings:?}");
        if made.header().feel == Feel::Straight {
            let lengths = |r: &Riff| r.line().iter().map(|n| n.length).collect::<Vec<_>>();
            assert_eq!(lengths(&again), lengths(&made), "seed {seed}");
        } else {
            swung += 1;
        }
    }
    assert!(swung > 5);
}

#[test]
fn seconds_need_a_tempo() {
    // 25 frames of 40 ticks: 1000 ticks a second.
    let bytes = file(0, 0xe728, &[track(&notes(0, &[(0, 500, 28), (500, 1000, 31), (1000, 2000, 33)]))]);
    let error = read(&bytes, &MidiOptions::default()).unwrap_err();
    assert!(error.to_string().contains("give its tempo"), "{error}");
    let options = MidiOptions { tempo: Tempo::quarters(120.0), ..MidiOptions::default() };
    let (riff, _) = read(&bytes, &options).unwrap();
    assert_eq!(line(&riff).iter().map(|n| n.0.as_str()).collect::<Vec<_>>(), ["0", "1", "2"]);
}

#[test]
fn a_file_of_ours_changed_by_others_is_read_by_its_notes() {
    let made = riff_of(3, Recipe::plain(4));
    let mut written = write(&made, &WriteOptions::default());
    // Half the division: every note lies elsewhere than the texts say.
    let ticks = u16::from_be_bytes([written[12], written[13]]);
    written[12..14].copy_from_slice(&(ticks / 2 + 1).to_be_bytes());
    let (_, warnings) = plain(&written);
    assert!(said(&warnings, "have been changed since"), "{warnings:?}");
}
