//! Damaged files: each is refused with a byte or a track, none panics, and what can be saved is saved on request.

use riffkin_formats::midi::{MidiError, MidiOptions, WriteOptions, read, write};
use riffkin_score::random::{Recipe, riff_of};

const HEAD: &[u8] = b"MThd\0\0\0\x06\0\x01\0\x01\x01\xE0";

fn with_track(body: &[u8]) -> Vec<u8> {
    let size = (body.len() as u32).to_be_bytes();
    [HEAD, b"MTrk", &size, body].concat()
}

const NOTE: &[u8] = b"\0\x90\x1c\x40\x83\x60\x80\x1c\0";
const END: &[u8] = b"\0\xff\x2f\0";

/// One good note, then something, then the end.
fn after_note(bytes: &[u8]) -> Vec<u8> {
    with_track(&[NOTE, bytes, END].concat())
}

fn header(bytes: &[u8]) -> Vec<u8> {
    let size = (NOTE.len() + END.len()) as u32;
    [b"MThd", bytes, b"MTrk", &size.to_be_bytes(), NOTE, END].concat()
}

/// The files, what each is, and words its error must hold.
fn damaged() -> Vec<(&'static str, Vec<u8>, &'static str)> {
    let good = with_track(&[NOTE, END].concat());
    let cut = |at: usize| good[..at].to_vec();
    vec![
        ("nothing at all", vec![], "byte 0"),
        ("one byte", b"M".to_vec(), "byte 0"),
        ("a text", b"Wet Rope in D minor".to_vec(), "'Wet '"),
        ("a picture", b"\x89PNG\r\n\x1a\n\0\0\0\0".to_vec(), "byte 0"),
        ("a track without a header", good[14..].to_vec(), "'MTrk'"),
        ("letters of the header in lower case", [b"mthd", &good[4..]].concat(), "byte 0"),
        ("a wrapper with nothing in it", b"RIFF\x04\0\0\0RMID".to_vec(), "byte 0"),
        ("a wrapper around nothing", b"RIFF\x0c\0\0\0RMIDdata\0\0\0\0".to_vec(), "byte"),
        ("a wrapper around a text", b"RIFF\x10\0\0\0RMIDdata\x04\0\0\0Rope".to_vec(), "'Rope'"),
        ("the header's name only", cut(4), "byte 4"),
        ("half the header's length", cut(6), "byte 4"),
        ("the header's length only", cut(8), "byte 4"),
        ("half a header", cut(11), "byte 4"),
        ("a header without division", cut(12), "byte 4"),
        ("half a division", cut(13), "byte 4"),
        ("a header length of 0", header(b"\0\0\0\0"), "byte 4"),
        ("a header length of 5", header(b"\0\0\0\x05\0\x01\0\x01\x01"), "byte 4"),
        ("a header of 4 GiB", header(b"\xff\xff\xff\xff\0\x01\0\x01\x01\xe0"), "byte 4"),
        ("format 3", header(b"\0\0\0\x06\0\x03\0\x01\x01\xe0"), "byte 8"),
        ("format 65535", header(b"\0\0\0\x06\xff\xff\0\x01\x01\xe0"), "byte 8"),
        ("division 0", header(b"\0\0\0\x06\0\x01\0\x01\0\0"), "byte 12"),
        ("23 frames a second", header(b"\0\0\0\x06\0\x01\0\x01\xe9\x28"), "byte 12"),
        ("128 frames a second", header(b"\0\0\0\x06\0\x01\0\x01\x80\x28"), "byte 12"),
        ("0 ticks in a frame", header(b"\0\0\0\x06\0\x01\0\x01\xe7\0"), "byte 12"),
        ("time in seconds", header(b"\0\0\0\x06\0\x01\0\x01\xe7\x28"), "byte 12"),
        ("65535 tracks promised", header(b"\0\0\0\x06\0\x01\xff\xff\x01\xe0"), "65535 tracks"),
        ("two tracks promised, one there", header(b"\0\0\0\x06\0\x01\0\x02\x01\xe0"), "byte 10"),
        ("no track", HEAD.to_vec(), "byte 10"),
        ("no track promised or there", b"MThd\0\0\0\x06\0\x01\0\0\x01\xe0".to_vec(), "none of the 0 tracks"),
        ("a track's name only", cut(18), "byte 10"),
        ("half a track's length", cut(20), "byte 10"),
        ("a track that is not there", cut(22), "track 1, byte 18"),
        ("half a track", cut(28), "track 1, byte 18"),
        ("a track of 4 GiB", [HEAD, b"MTrk\xff\xff\xff\xff", NOTE, END].concat(), "track 1, byte 18"),
        ("a second header in the file", [&good[..], HEAD].concat(), "byte 35"),
        ("an empty track", with_track(b""), "none of the 1 tracks"),
        ("a track with its end only", with_track(END), "none of the 1 tracks"),
        ("drums only", with_track(b"\0\x99\x24\x40\x10\x89\x24\0\0\xff\x2f\0"), "drum channel has 1"),
        ("note-offs only", with_track(b"\0\x80\x1c\0\x10\x80\x1c\0\0\xff\x2f\0"), "none of the 1 tracks"),
        ("a data byte first", with_track(b"\0\x1c\x40\0\xff\x2f\0"), "track 1, byte 22"),
        ("a data byte after a text", after_note(b"\0\xff\x01\x02hi\0\x1c\x40"), "track 1, byte 37"),
        ("an overlong time", after_note(b"\xff\xff\xff\xff\x7f\x90\x1c\x40"), "track 1, byte 31"),
        ("a time and nothing after it", with_track(&[NOTE, b"\x10"].concat()), "track 1, byte 31"),
        ("half a time", with_track(&[NOTE, b"\x81"].concat()), "track 1, byte 31"),
        ("half a note", with_track(&[NOTE, b"\0\x90\x1c"].concat()), "track 1, byte 31"),
        ("a status only", with_track(&[NOTE, b"\0\x90"].concat()), "track 1, byte 31"),
        ("a note above 127", after_note(b"\0\x90\x9c\x40"), "track 1, byte 31"),
        ("a velocity above 127", after_note(b"\0\x90\x1c\xc0"), "track 1, byte 31"),
        ("a program above 127", after_note(b"\0\xc0\x80"), "track 1, byte 31"),
        ("a system message", after_note(b"\0\xf1\x10"), "track 1, byte 31"),
        ("a clock message", after_note(b"\0\xf8"), "track 1, byte 31"),
        ("a text longer than its track", after_note(b"\0\xff\x01\x7fhi"), "track 1, byte 31"),
        ("a text of an overlong length", after_note(b"\0\xff\x01\xff\xff\xff\xff\x7f"), "track 1, byte 31"),
        ("a meta event without a type", with_track(&[NOTE, b"\0\xff"].concat()), "track 1, byte 31"),
        ("a meta event without a length", with_track(&[NOTE, b"\0\xff\x51"].concat()), "track 1, byte 31"),
        ("a key signature of one byte", after_note(b"\0\xff\x59\x01\0"), "track 1, byte 31"),
        ("a system exclusive without end", after_note(b"\0\xf0\x40\x01"), "track 1, byte 31"),
        ("a note 260 million ticks away", far_away(), "10000 bars"),
        ("more notes than a riff has", too_many(), "notes"),
    ]
}

// With one tick to the quarter, past the last bar that a riff may have.
fn far_away() -> Vec<u8> {
    let mut bytes = with_track(&[NOTE, b"\xff\xff\xff\x7f\x90\x1c\x40\x10\x80\x1c\0", END].concat());
    bytes[12..14].copy_from_slice(&[0, 1]);
    bytes
}

fn too_many() -> Vec<u8> {
    let mut body = NOTE.repeat(11_000);
    body.extend(END);
    with_track(&body)
}

#[test]
fn every_damage_is_refused_with_its_place() {
    let files = damaged();
    assert!(files.len() >= 50);
    for (what, bytes, words) in &files {
        let error = match read(bytes, &MidiOptions::default()) {
            Err(error) => error.to_string(),
            Ok((riff, warnings)) => panic!("{what} was read: {} bars, {warnings:?}", riff.bars().len()),
        };
        assert!(error.contains(words), "{what}: {error}");
        assert!(error.contains("byte ") || error.contains("track"), "{what}: {error}");
    }
}

#[test]
fn what_comes_before_a_damage_can_be_saved() {
    let salvage = MidiOptions { salvage: true, ..MidiOptions::default() };
    let mut saved = 0;
    for (what, bytes, _) in damaged() {
        match read(&bytes, &salvage) {
            Ok((riff, warnings)) => {
                assert_eq!(riff.line().len(), 1, "{what}");
                assert!(
                    warnings
                        .iter()
                        .any(|w| w.to_string().contains("byte") || w.to_string().contains("tracks")),
                    "{what}: {warnings:?}"
                );
                saved += 1;
            }
            Err(error) => assert!(
                !matches!(error, MidiError::Damaged { .. }) || what.contains("second header"),
                "{what}: {error}"
            ),
        }
    }
    assert!(saved >= 20, "{saved} saved");
}

/// Odd, but nothing is lost: read, and said.
#[test]
fn harmless_oddities_are_warnings() {
    for (what, bytes, words) in [
        ("no end-of-track", with_track(NOTE), "no end-of-track"),
        ("padding", [with_track(&[NOTE, END].concat()), vec![0; 5]].concat(), "5 bytes at byte 35"),
        (
            "a strange chunk",
            [with_track(&[NOTE, END].concat()), b"XFIH\0\0\0\x02hi".to_vec()].concat(),
            "'XFIH'",
        ),
        (
            "a longer header",
            [b"MThd\0\0\0\x08\0\x01\0\x01\x01\xe0\0\0".as_slice(), &with_track(&[NOTE, END].concat())[14..]]
                .concat(),
            "4/4",
        ),
        ("a meter of 0/1", after_note(b"\0\xff\x58\x04\0\0\x18\x08"), "meter of 0"),
        ("a meter over 2 to the 255", after_note(b"\0\xff\x58\x04\x04\xff\x18\x08"), "power of 255"),
        ("a tempo of 0", after_note(b"\0\xff\x51\x03\0\0\0"), "0 microseconds"),
    ] {
        let (riff, warnings) =
            read(&bytes, &MidiOptions::default()).unwrap_or_else(|e| panic!("{what}: {e}"));
        assert_eq!(riff.line().len(), 1, "{what}");
        assert!(warnings.iter().any(|w| w.to_string().contains(words)), "{what}: {warnings:?}");
    }
}

/// Any byte of a good file changed, any length cut off: an answer, never a panic.
#[test]
fn changed_and_cut_files_get_an_answer() {
    let good = write(&riff_of(11, Recipe::full(2)), &WriteOptions::default());
    let salvage = MidiOptions { salvage: true, ..MidiOptions::default() };
    for at in 0..good.len() {
        for options in [MidiOptions::default(), salvage] {
            let _ = read(&good[..at], &options);
            for value in [0x00, 0x7f, 0x80, 0xff, good[at] ^ 0x10] {
                let mut changed = good.clone();
                changed[at] = value;
                if let Ok((riff, _)) = read(&changed, &options) {
                    assert!(!riff.bars().is_empty());
                }
            }
        }
    }
}

/// A mebibyte of anything ends soon: no list grows faster than the file.
#[test]
fn large_files_are_bounded() {
    let filled = |body: &[u8]| {
        let mut bytes = body.repeat((1 << 20) / body.len());
        bytes.extend(END);
        with_track(&bytes)
    };
    let chord: Vec<u8> = (0..128).flat_map(|n| [0, 0x90, n, 0x40]).collect();
    for (what, bytes) in [
        ("notes at once", filled(b"\0\x90\x28\x40\0\x80\x28\x40")),
        ("notes never ended", filled(b"\x01\x90\x28\x40")),
        ("notes far apart", filled(b"\xff\xff\xff\x7f\x90\x28\x40\xff\xff\xff\x7f\x80\x28\x40")),
        ("running status", filled(b"\x01\x90\x28\x40\x01\x28\0\x01\x29\x40\x01\x29\0")),
        ("chords", filled(&chord)),
        ("tempi", filled(b"\x01\xff\x51\x03\x07\xa1\x20\x01\xff\x51\x03\x08\0\0")),
        ("meters", filled(b"\x01\xff\x58\x04\x04\x02\x18\x08\x01\xff\x58\x04\x03\x02\x18\x08")),
        ("texts", filled(b"\0\xff\x01\x18riffkin chord: Dm7   end")),
        (
            "tracks",
            [b"MThd\0\0\0\x06\0\x01\xff\xff\x01\xe0".to_vec(), b"MTrk\0\0\0\x04\0\xff\x2f\0".repeat(80_000)]
                .concat(),
        ),
    ] {
        let answer = read(&bytes, &MidiOptions::default());
        assert!(answer.is_err(), "{what}");
    }
}
