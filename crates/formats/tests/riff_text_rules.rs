//! The rules of the notation, one by one, as `docs/riff-notation.md` gives them.

use riffkin_formats::riff_text::{parse, print};
use riffkin_score::note::{Approach, Mark, Place};
use riffkin_score::riff::Riff;
use riffkin_score::time::Quarters;

fn read(text: &str) -> Riff {
    match parse(text) {
        Ok((riff, _)) => riff,
        Err(error) => {
            assert_eq!(error.to_string(), "", "{text}");
            riffkin_score::random::riff(0, 1)
        }
    }
}

fn warnings(text: &str) -> Vec<String> {
    parse(text).map(|(_, w)| w.iter().map(ToString::to_string).collect()).unwrap_or_default()
}

fn pitches(riff: &Riff) -> String {
    riff.line().iter().map(|n| n.note.pitch.to_string()).collect::<Vec<_>>().join(" ")
}

fn lengths(riff: &Riff) -> String {
    riff.line().iter().map(|n| n.length.to_string()).collect::<Vec<_>>().join(" ")
}

/// The example at the head of the document.
#[test]
fn the_whole_of_a_riff() {
    let text = "\
riff: Wet Rope
key: D minor
meter: 4/4
tempo: 96
feel: swing 2:1 eighths
neck: four
source: invented for the class
permission: copy freely
remark: any text
remark: and more: with a colon

|: <Dm7> q 1 e b3 4 q 5 = | e. 1 s r q 5- (accent) h 1+ :| x3
";
    let riff = read(text);
    let header = riff.header();
    assert_eq!(header.title, "Wet Rope");
    assert_eq!(header.key.unwrap().to_string(), "D minor");
    assert_eq!(header.tempo.per_minute(), 96.0);
    assert_eq!(header.remarks, ["any text", "and more: with a colon"]);
    assert_eq!(pitches(&riff), "D2 F2 G2 A2 D2 A1 D3");
    assert_eq!(lengths(&riff), "1 1/2 1/2 2 3/4 1 2");
    assert_eq!(riff.bars()[1].repeat_end, Some(3));
    assert_eq!(riff.order(), [0, 1, 0, 1, 0, 1]);
    assert!(riff.line()[5].note.marks.has(Mark::Accent));
    assert_eq!(riff.bars()[0].chords[0].1.to_string(), "Dm7");
}

/// Above a G root at fret 3 of the E string lie B♭, C, D♭ and F, and the same F two frets below the root
/// (common practice).
#[test]
fn degrees_start_on_the_lowest_tonic_of_a_four_string() {
    let riff = read("key: G minor blues\n| e 1 b3 4 b5 5 b7 b7- 1+ |");
    assert_eq!(pitches(&riff), "G1 Bb1 C2 Db2 D2 F2 F1 G2");
    assert_eq!(pitches(&read("key: E\n| q 1 7- #7 b1 |")), "E1 D#1 D##2 Eb1");
    assert_eq!(pitches(&read("key: D\n| q ♭3 ♯4 bb7 1-- |")), "F2 G#2 Cb3 D0");
}

#[test]
fn names_and_places_need_no_key() {
    let riff = read("| q Bb1 C-1 @3:7 E2@3:7:4 |");
    assert_eq!(pitches(&riff), "Bb1 C-1 E2 E2");
    assert_eq!(riff.line()[3].note.place, Some(Place { string: 3, fret: 7 }));
    assert_eq!(riff.line()[3].note.finger, Some(4));
    // Fret 6 of the A string is E♭ in B♭, D♯ in E, and plainly E♭ without a key.
    for (key, name) in [("key: Bb\n", "Eb2"), ("key: E\n", "D#2"), ("", "Eb2")] {
        assert_eq!(pitches(&read(&format!("{key}| w @3:6 |"))), name);
    }
    // A low B is the fifth string of five.
    assert_eq!(pitches(&read("neck: five\n| w @5:0 |")), "B0");
    assert_eq!(pitches(&read("neck: drop-d\n| w @4:0 |")), "D1");
}

#[test]
fn lengths_stay_until_the_next() {
    let riff = read("key: D\n| q. 1 e 1 q 1 1 | 1 1 h 1 | e3 1 1 1 q3 1 e3 1 s5:4 1 1 1 1 1 e.. 1 t 1 |");
    assert_eq!(lengths(&riff), "3/2 1/2 1 1 1 1 2 1/3 1/3 1/3 2/3 1/3 1/5 1/5 1/5 1/5 1/5 7/8 1/8");
    assert_eq!(lengths(&read("meter: 4/2\n| breve E1 |")), "8");
    assert_eq!(lengths(&read("meter: 1/16\n| z E1 E1 y E1 E1 E1 E1 |")), "1/16 1/16 1/32 1/32 1/32 1/32");
}

#[test]
fn a_hold_is_a_tie() {
    let riff = read("key: D\n| h 1 q 1 5-@3:0 | = h. r |");
    assert_eq!(lengths(&riff), "2 1 2");
    let held = riff.bars()[1].events[0].note.unwrap();
    assert_eq!(held.place, Some(Place { string: 3, fret: 0 }));
    assert!(riff.bars()[0].events[2].note.unwrap().tied);
    // A tie to the same sound under another name is written out.
    let riff = read("key: D\n| h G#1 =Ab1(vibrato) |");
    assert_eq!(riff.line().len(), 1);
    assert_eq!(print(&riff).lines().last(), Some("| h #4- =b5-(vibrato) ||"));
}

#[test]
fn marks_stand_in_parentheses() {
    let riff =
        read("key: D\n| q 1 b3 (hammer accent) 4(slide-plucked bend:3/2) 5 (dead finger:2 palm-mute) |");
    let note = |i: usize| riff.line()[i].note;
    assert_eq!(note(1).approach, Approach::Hammer);
    assert!(note(1).marks.has(Mark::Accent));
    assert_eq!((note(2).approach, note(2).bend), (Approach::SlidePlucked, 3));
    assert_eq!(note(3).finger, Some(2));
    assert_eq!(note(3).marks.iter().collect::<Vec<_>>(), [Mark::Dead, Mark::PalmMute]);
}

#[test]
fn pickups_meters_and_tempi() {
    let riff = read(
        "key: D\n[pickup] e 5 5 | q 1 1 1 1 | [meter 2+2+3/8] [tempo dotted quarter = 60] e 1 1 1 1 [tempo 90] 1 1 1 | [meter 4/4] [short] h. 1 ||",
    );
    assert!(riff.has_pickup() && riff.bar_number(1) == 1);
    assert_eq!(riff.bars()[2].meter.to_string(), "7/8");
    assert_eq!(riff.bars()[2].tempi[1].0, Quarters::whole_quarters(2));
    assert_eq!(riff.bars()[3].length(), Quarters::whole_quarters(3));
}

#[test]
fn chords_by_symbol_numeral_and_place() {
    let riff = read("key: D minor\n| <i7> h 1 <bVII/3 @3/2> <A7 @3> b7- | <iv> w 4 |");
    let chords: Vec<String> =
        riff.bars().iter().flat_map(|b| &b.chords).map(|(at, c)| format!("{c} {at}")).collect();
    assert_eq!(chords, ["Dm7 0", "C/E 3/2", "A7 3", "Gm 0"]);
}

/// A bracket goes on over plain bar lines and ends at any other.
#[test]
fn repeats_and_endings() {
    let riff = read("key: D\n|: w 1 |1st 2 | 3 :|2nd 4 | 5 || 6 |: 7 :| x4\n");
    let endings: Vec<&[u8]> = riff.bars().iter().map(|b| b.endings.as_slice()).collect();
    assert_eq!(endings, [&[] as &[u8], &[1], &[1], &[2], &[2], &[], &[]]);
    assert_eq!(riff.order(), [0, 1, 2, 0, 3, 4, 5, 6, 6, 6, 6]);
    let riff = read("key: D\n|: w 1 |1st,2nd 2 :| x3 3rd 4 |: 5 :|: 6 :|\n| 7 |");
    assert_eq!(riff.order(), [0, 1, 0, 1, 0, 2, 3, 3, 4, 4, 5]);
}

/// A bar line at the end of a line and one at the start of the next are one.
#[test]
fn lines_break_anywhere() {
    let one = read("key: D\n| q 1 2 3 4 :|1st w 5 |");
    for text in [
        "key: D\n| q 1 2 3 4 :|\n|1st w 5 |\n",
        "key: D\r\n| q 1 2\r\n// a remark of the typist\r\n  3 4\r\n:|\r\n\r\n|1st w 5 ||\r\n",
        "\u{feff}key: D\r| q 1 2 3 4 :| 1st\r w 5",
        "KEY : D\n|q 1 2 3 4:|1st w 5|",
    ] {
        assert_eq!(read(text), one, "{text:?}");
    }
}

#[test]
fn what_is_odd_is_said() {
    for (text, part) in [
        ("neck: banjo\n| w A1@3:0 |", "no neck called 'banjo'"),
        ("| w @1:22 |", "bar 1: @1:22 lies past the last fret (20)"),
        ("| [short] w A1 |", "is full"),
        ("| w A1 |3rd w A1 |", "bar 2: no pass"),
    ] {
        let found = warnings(text);
        assert!(found.iter().any(|w| w.contains(part)), "{text:?} {found:?}");
    }
    assert!(warnings("key: D\n| h 1 5 |").is_empty());
}

/// A harmonic sounds elsewhere than where it is touched.
#[test]
fn a_place_may_be_left_unchecked() {
    let riff = read("| w D3@2:7!(harmonic) |");
    assert_eq!(print(&riff).lines().last(), Some("| w D3@2:7!(harmonic) ||"));
}

#[test]
fn the_printed_layout() {
    let riff =
        read("key:D minor\ntempo:dotted quarter=60.5\nmeter:6/8\n|e 1 1 1 q. 1:|e 1 1 1 q. 1|1 1|1 1|h. 1|1");
    assert_eq!(
        print(&riff),
        "\
key: D minor
meter: 6/8
tempo: dotted quarter = 60.5

| e 1 1 1 q. 1 :| e 1 1 1 q. 1 | 1 1 | 1 1 |
| h. 1 | 1 ||
"
    );
}
