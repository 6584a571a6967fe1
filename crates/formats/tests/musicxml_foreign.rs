//! MusicXML as other programs write it: what is read, and what is said about the rest.
//!
//! The documents follow the elements' descriptions in MusicXML 4.0 (W3C Music Notation Community Group,
//! 2021); none is a copy of a program's output.

#![allow(clippy::panic, reason = "a helper of tests fails by panicking")]

use riffkin_formats::musicxml::read;
use riffkin_score::note::{Approach, Mark, Place};
use riffkin_score::riff::Riff;

const FOUR: &str = "<time><beats>4</beats><beat-type>4</beat-type></time>";
const BASS_CLEF: &str = "<clef><sign>F</sign><line>4</line></clef>";
const OCTAVE_LOWER: &str =
    "<transpose><diatonic>0</diatonic><chromatic>0</chromatic><octave-change>-1</octave-change></transpose>";

fn part(id: &str, measures: &str) -> String {
    format!("<part id='{id}'>{measures}</part>")
}

fn partwise(list: &str, parts: &str) -> String {
    format!(
        "<?xml version='1.0'?><score-partwise version='3.1'><part-list>{list}</part-list>{parts}</score-partwise>"
    )
}

/// One part of measures, numbered from 1, in divisions of a quarter note; the first has the attributes.
fn one(attributes: &str, measures: &[&str]) -> String {
    let mut text = String::new();
    for (i, measure) in measures.iter().enumerate() {
        let attributes = if i == 0 {
            format!("<attributes><divisions>4</divisions>{attributes}</attributes>")
        } else {
            String::new()
        };
        text.push_str(&format!("<measure number='{}'>{attributes}{measure}</measure>", i + 1));
    }
    partwise("<score-part id='P1'><part-name>Bass</part-name></score-part>", &part("P1", &text))
}

/// A note of so many sixteenths; `inner` goes in behind the duration.
fn note(pitch: &str, sixteenths: u32, inner: &str) -> String {
    let (step, octave) = pitch.split_at(pitch.len() - 1);
    let (step, alter) = match step.strip_suffix('b') {
        Some(step) => (step, "<alter>-1</alter>"),
        None => (step, ""),
    };
    format!(
        "<note><pitch><step>{step}</step>{alter}<octave>{octave}</octave></pitch>\
         <duration>{sixteenths}</duration>{inner}</note>"
    )
}

fn open(text: &str) -> (Riff, String) {
    let (riff, warnings) = read(text.as_bytes()).unwrap_or_else(|e| panic!("{e}\n{text}"));
    (riff, warnings.iter().map(|w| format!("{w}\n")).collect())
}

/// Sounding pitches with onset and length in quarters.
fn line(riff: &Riff) -> String {
    let notes: Vec<String> =
        riff.line().iter().map(|n| format!("{}@{}+{}", n.note.pitch, n.onset, n.length)).collect();
    notes.join(" ")
}

fn lengths(riff: &Riff) -> Vec<String> {
    riff.bars().iter().map(|b| b.length().to_string()).collect()
}

fn on_staff(pitch: &str, sixteenths: u32, staff: u8, inner: &str) -> String {
    note(pitch, sixteenths, &format!("<voice>{}</voice><staff>{staff}</staff>{inner}", 4 * staff - 3))
}

#[test]
fn written_and_sounding_octaves() {
    let notes = note("E2", 8, "") + &note("G2", 8, "");
    let (riff, _) = open(&one(&format!("{FOUR}{BASS_CLEF}{OCTAVE_LOWER}"), &[&notes]));
    assert_eq!(line(&riff), "E1@0+2 G1@2+2");
    // Without `transpose` a pitch sounds as it stands, whatever the clef.
    let low = note("E1", 8, "") + &note("G1", 8, "");
    let (riff, said) = open(&one(&format!("{FOUR}{BASS_CLEF}"), &[&low]));
    assert_eq!(line(&riff), "E1@0+2 G1@2+2");
    assert!(!said.contains("transposition"), "{said}");
    let (riff, said) = open(&one(&format!("{FOUR}{BASS_CLEF}"), &[&notes]));
    assert_eq!(line(&riff), "E2@0+2 G2@2+2");
    assert!(said.contains("no transposition is given"), "{said}");
    let octave_clef = "<clef><sign>F</sign><line>4</line><clef-octave-change>-1</clef-octave-change></clef>";
    let (riff, _) = open(&one(&format!("{FOUR}{octave_clef}"), &[&low]));
    assert_eq!(line(&riff), "E1@0+2 G1@2+2");
}

/// Standard tuning, E A D G, by staff line from the lowest.
fn tuning(number: &str) -> String {
    let lines: String = [("E", 1), ("A", 1), ("D", 2), ("G", 2)]
        .iter()
        .zip(1..)
        .map(|((step, octave), line)| {
            format!(
                "<staff-tuning line='{line}'><tuning-step>{step}</tuning-step>\
                 <tuning-octave>{octave}</tuning-octave></staff-tuning>"
            )
        })
        .collect();
    format!("<staff-details{number}><staff-lines>4</staff-lines>{lines}</staff-details>")
}

fn fretted(string: u8, fret: u8, more: &str) -> String {
    format!(
        "<notations><technical><string>{string}</string><fret>{fret}</fret>{more}</technical></notations>"
    )
}

#[test]
fn strings_and_frets_come_from_the_tablature_staff() {
    let attributes = format!(
        "{FOUR}<staves>2</staves><clef number='1'><sign>F</sign></clef><clef number='2'><sign>TAB</sign></clef>{}{OCTAVE_LOWER}",
        tuning(" number='2'")
    );
    let upper =
        on_staff("C3", 8, 1, "<notations><technical><fingering>2</fingering></technical></notations>")
            + &on_staff("D3", 8, 1, "");
    let lower = on_staff("C3", 8, 2, &fretted(3, 3, "<hammer-on type='start'>H</hammer-on>"))
        + &on_staff("D3", 8, 2, &fretted(3, 5, "<hammer-on type='stop'/>"));
    let measure = format!("{upper}<backup><duration>16</duration></backup>{lower}");
    let (riff, said) = open(&one(&attributes, &[&measure]));
    assert_eq!(line(&riff), "C2@0+2 D2@2+2");
    let notes = riff.line();
    assert_eq!(notes[0].note.place, Some(Place { string: 3, fret: 3 }));
    assert_eq!(notes[0].note.finger, Some(2));
    assert_eq!(notes[1].note.place, Some(Place { string: 3, fret: 5 }));
    assert_eq!(notes[1].note.approach, Approach::Hammer);
    assert_eq!(riff.header().neck.as_deref(), Some("four"));
    assert!(!said.contains("staves"), "{said}");
}

#[test]
fn tablature_alone_is_enough_and_settles_the_octave() {
    let attributes = format!("{FOUR}<clef><sign>TAB</sign></clef>{}", tuning(""));
    // Written an octave too high and without `transpose`; string and fret tell what sounds.
    let notes = note("C3", 8, &fretted(3, 3, "")) + &note("D3", 8, &fretted(2, 0, ""));
    let (riff, said) = open(&one(&attributes, &[&notes]));
    assert_eq!(line(&riff), "C2@0+2 D2@2+2");
    assert!(said.contains("strings and frets show that the notes sound 1 octave(s) lower"), "{said}");
    let sounding = note("C2", 8, &fretted(3, 3, "")) + &note("D2", 8, &fretted(2, 0, ""));
    let (riff, said) = open(&one(&attributes, &[&sounding]));
    assert_eq!(line(&riff), "C2@0+2 D2@2+2");
    assert!(!said.contains("octave"), "{said}");
    let wrong = note("C2", 8, &fretted(3, 4, "")) + &note("D2", 8, &fretted(2, 0, ""));
    assert!(open(&one(&attributes, &[&wrong])).1.contains("1 of 2 notes do not sound where"));
}

#[test]
fn tablature_in_a_part_of_its_own_is_taken_over() {
    let list = "<score-part id='P1'><part-name>Bass</part-name></score-part>\
                <score-part id='P2'><part-name>Frets</part-name></score-part>";
    let staff = format!(
        "<measure number='1'><attributes><divisions>4</divisions>{FOUR}{BASS_CLEF}{OCTAVE_LOWER}</attributes>{}</measure>",
        note("C3", 16, "")
    );
    let tab = format!(
        "<measure number='1'><attributes><divisions>4</divisions>{FOUR}<clef><sign>TAB</sign></clef>{OCTAVE_LOWER}</attributes>{}</measure>",
        note("C3", 16, &fretted(3, 3, ""))
    );
    let (riff, said) = open(&partwise(list, &(part("P1", &staff) + &part("P2", &tab))));
    assert_eq!(riff.line()[0].note.place, Some(Place { string: 3, fret: 3 }), "{said}");
    assert!(said.contains("another part with the same notes"), "{said}");
}

#[test]
fn the_bass_is_found_among_the_parts() {
    let measure = |attributes: &str, pitch: &str| {
        format!(
            "<measure number='1'><attributes><divisions>4</divisions>{FOUR}{attributes}</attributes>{}</measure>",
            note(pitch, 16, "")
        )
    };
    let program = |id: &str, name: &str, program: u8| {
        format!(
            "<score-part id='{id}'><part-name>{name}</part-name><score-instrument id='{id}-I'><instrument-name>{name}</instrument-name></score-instrument><midi-instrument id='{id}-I'><midi-channel>{}</midi-channel><midi-program>{program}</midi-program></midi-instrument></score-part>",
            if name.contains("Drum") { 10 } else { 1 }
        )
    };
    let treble = "<clef><sign>G</sign></clef>";
    let list = program("P1", "Tuba", 59) + &program("P2", "Bass Drum", 1) + &program("P3", "Low strings", 34);
    let parts = part("P1", &measure(BASS_CLEF, "F1"))
        + &part("P2", &measure("<clef><sign>percussion</sign></clef>", "C2"))
        + &part("P3", &measure(treble, "A2"));
    let (riff, said) = open(&partwise(&list, &parts));
    assert_eq!(line(&riff), "A2@0+4");
    assert!(
        said.contains("of 3 parts 'Low strings' (P3) is read as the bass: its MIDI program is 34"),
        "{said}"
    );
    // Without instruments the name says it, and without a name the clef and the register.
    let named =
        |id: &str, name: &str| format!("<score-part id='{id}'><part-name>{name}</part-name></score-part>");
    let list = named("P1", "Cello") + &named("P2", "Contrabass") + &named("P3", "");
    assert_eq!(line(&open(&partwise(&list, &parts)).0), "C2@0+4".replace("C2", "F1"));
    let list = named("P1", "") + &named("P2", "Bass Clarinet") + &named("P3", "E-Bass");
    assert_eq!(line(&open(&partwise(&list, &parts)).0), "A2@0+4");
}

#[test]
fn by_time_is_the_same_as_by_part() {
    let list = "<score-part id='P1'><part-name>Flute</part-name></score-part>\
                <score-part id='P2'><part-name>Bass</part-name></score-part>";
    let attributes = format!("<attributes><divisions>4</divisions>{FOUR}</attributes>");
    let text = format!(
        "<score-timewise><part-list>{list}</part-list>\
         <measure number='1'><part id='P1'>{attributes}{}</part><part id='P2'>{attributes}{}</part></measure>\
         <measure number='2'><part id='P1'>{}</part><part id='P2'>{}</part></measure></score-timewise>",
        note("C5", 16, ""),
        note("E1", 16, ""),
        note("D5", 16, ""),
        note("G1", 16, ""),
    );
    assert_eq!(line(&open(&text).0), "E1@0+4 G1@4+4");
}

#[test]
fn one_line_out_of_chords_voices_and_staves() {
    let chord = note("D2", 8, "") + &note("A2", 8, "").replace("<note>", "<note><chord/>");
    let under = note("D2", 8, "") + &note("A1", 8, "").replace("<note>", "<note><chord/>");
    let (riff, said) = open(&one(FOUR, &[&(chord + &under)]));
    assert_eq!(line(&riff), "D2@0+2 A1@2+2");
    assert!(said.contains("bar 1, beat 1: of notes struck together the lowest is kept (2 times"), "{said}");

    // The second voice speaks where the first rests, and is left out where it does not.
    let rest = "<note><rest/><duration>8</duration><voice>1</voice></note>";
    let first = note("E1", 4, "<voice>1</voice>") + &note("G1", 4, "<voice>1</voice>") + rest;
    let second = note("B2", 4, "<voice>2</voice>")
        + "<forward><duration>8</duration></forward>"
        + &note("A1", 4, "<voice>2</voice>");
    let measure = format!("{first}<backup><duration>16</duration></backup>{second}");
    let (riff, said) = open(&one(FOUR, &[&measure]));
    assert_eq!(line(&riff), "E1@0+1 G1@1+1 A1@3+1");
    assert!(said.contains("bar 1, beat 1: a note of a second voice is left out"), "{said}");
    assert_eq!(lengths(&riff), ["4"]);

    // Of a grand staff the lower.
    let measure = format!(
        "{}<backup><duration>16</duration></backup>{}",
        on_staff("C4", 16, 1, ""),
        on_staff("C2", 16, 2, "")
    );
    let clefs = "<clef number='1'><sign>G</sign></clef><clef number='2'><sign>F</sign></clef>";
    let (riff, said) = open(&one(&format!("{FOUR}<staves>2</staves>{clefs}"), &[&measure]));
    assert_eq!(line(&riff), "C2@0+4");
    assert!(said.contains("of 2 staves"), "{said}");
}

#[test]
fn what_a_riff_cannot_hold_is_named_with_its_place() {
    let grace = "<note><grace/><pitch><step>C</step><octave>2</octave></pitch><type>eighth</type></note>";
    let cue = note("C4", 4, "").replace("<note>", "<note><cue/>");
    let turn = "<notations><ornaments><turn/></ornaments><fermata/><slur type='start'/></notations><lyric><text>la</text></lyric>";
    let measure = format!(
        "<direction><direction-type><dynamics><f/></dynamics></direction-type></direction>{}{grace}{}{cue}\
         <direction><direction-type><words>D.C. al Fine</words></direction-type></direction>",
        note("E1", 8, turn),
        note("G1", 4, "<notations><slur type='stop'/></notations>"),
    );
    let key = "<key><fifths>-2</fifths></key>";
    let second = format!("<attributes><key><fifths>3</fifths></key></attributes>{}", note("E1", 16, ""));
    let (riff, said) = open(&one(&format!("{key}{FOUR}"), &[&measure, &second]));
    assert_eq!(line(&riff), "E1@0+2 G1@2+1 E1@4+4");
    for expected in [
        "bar 1, beat 1: dynamics are left out",
        "bar 1, beat 1: turns are left out",
        "bar 1, beat 1: fermatas are left out",
        "bar 1, beat 1: lyrics are left out",
        "bar 1, beat 3: a grace note is left out",
        "bar 1, beat 3: a slur that is no hammer-on",
        "bar 1, beat 4: a cue note is left out",
        "jumps (segno, coda, D.C., D.S., Fine) are not followed",
        "bar 2, beat 1: a change of key is left out",
        "the key signature (2 flats) names no mode, so no tonic: it fits Bb major and G minor",
        "no tempo is given at the start",
    ] {
        assert!(said.contains(expected), "{expected} is not in\n{said}");
    }
    assert_eq!(riff.header().key, None);
}

#[test]
fn bars_that_do_not_add_up() {
    // A pickup that is not marked, a bar too short, one too long, and the one that completes the pickup.
    let measures =
        [note("E1", 4, ""), note("E1", 8, ""), note("E1", 20, ""), note("E1", 16, ""), note("G1", 12, "")];
    let (riff, said) = open(&one(FOUR, &measures.each_ref().map(String::as_str)));
    assert_eq!(lengths(&riff), ["1", "4", "5", "4", "3"]);
    assert_eq!(riff.bars()[2].meter.to_string(), "5/4");
    assert!(riff.has_pickup() && riff.bars()[4].short);
    assert!(
        said.contains("bar 1, beat 1: the bar holds 1 of 4 quarter notes; it is read as a pickup"),
        "{said}"
    );
    assert!(
        said.contains("bar 2, beat 1: the bar holds 2 of 4 quarter notes; it is filled with rests"),
        "{said}"
    );
    assert!(said.contains("bar 3, beat 1: the bar holds 5 quarter notes where 4/4 asks for 4"), "{said}");

    // One bar divided in two, as around a double bar.
    let (riff, said) = open(&one(
        FOUR,
        &[&note("E1", 16, ""), &note("E1", 12, ""), &note("G1", 4, ""), &note("E1", 16, "")],
    ));
    assert_eq!(lengths(&riff), ["4", "3", "1", "4"]);
    assert!(said.contains("one bar is divided in two"), "{said}");

    // Empty bars and rests for a whole measure, whatever length they claim.
    let rest = "<note><rest measure='yes'/><duration>16</duration></note>";
    let three = "<time><beats>3</beats><beat-type>4</beat-type></time>";
    let multiple = "<attributes><measure-style><multiple-rest>2</multiple-rest></measure-style></attributes>"
        .to_owned()
        + rest;
    let (riff, said) = open(&one(three, &[rest, "", &multiple, rest, &note("E1", 12, "")]));
    assert_eq!(lengths(&riff), ["3", "3", "3", "3", "3"]);
    assert!(!said.contains("bar holds"), "{said}");

    // Rests only: still a riff.
    assert!(open(&one(FOUR, &[rest])).0.line().is_empty());
}

#[test]
fn lengths_without_types_and_coarse_divisions() {
    // No types at all: thirds, a note over the beat, and one that takes a tie.
    let text =
        one(FOUR, &[&(note("E1", 4, "") + &note("G1", 8, "") + &note("A1", 8, "") + &note("B1", 28, ""))])
            .replace("<divisions>4<", "<divisions>12<");
    let (riff, _) = open(&text);
    assert_eq!(line(&riff), "E1@0+1/3 G1@1/3+2/3 A1@1+2/3 B1@5/3+7/3");
    // A triplet in divisions that no three divides: what is written counts.
    let triplet = "<type>eighth</type><time-modification><actual-notes>3</actual-notes><normal-notes>2</normal-notes></time-modification>";
    let measure =
        note("E1", 85, triplet) + &note("G1", 85, triplet) + &note("A1", 86, triplet) + &note("B1", 768, "");
    let (riff, _) = open(&one(FOUR, &[&measure]).replace("<divisions>4<", "<divisions>256<"));
    assert_eq!(line(&riff), "E1@0+1/3 G1@1/3+1/3 A1@2/3+1/3 B1@1+3");
    // Times that are no musical values go to the nearest, and the bar still adds up.
    let measure = note("E1", 5, "") + &note("G1", 6, "") + &note("A1", 57, "");
    let (riff, said) = open(&one(FOUR, &[&measure]).replace("<divisions>4<", "<divisions>17<"));
    assert_eq!((lengths(&riff), riff.line().len()), (vec!["4".to_owned()], 3));
    assert!(said.contains("moved to the nearest"), "{said}");
}

#[test]
fn repeats_endings_tempo_swing_and_chords() {
    let end = |n: u8, kind: &str, repeat: &str| {
        format!("<barline location='right'><ending number='{n}' type='{kind}'/>{repeat}</barline>")
    };
    let start = |n: u8| format!("<barline location='left'><ending number='{n}' type='start'/></barline>");
    let tempo = "<direction><direction-type><metronome><beat-unit>quarter</beat-unit><beat-unit-dot/>\
                 <per-minute>60</per-minute></metronome></direction-type><sound tempo='90'><swing><first>60</first>\
                 <second>40</second></swing></sound></direction>";
    let chord =
        "<harmony><root><root-step>E</root-step></root><kind text='7sus4'>suspended-fourth</kind></harmony>";
    let measures = [
        format!("{tempo}{chord}{}", note("E1", 16, "")),
        format!("{}{}{}", start(1), note("G1", 16, ""), end(1, "stop", "<repeat direction='backward'/>")),
        format!("{}{}{}", start(2), note("A1", 16, ""), end(2, "discontinue", "")),
    ];
    let (riff, said) = open(&one(FOUR, &measures.each_ref().map(String::as_str)));
    assert_eq!(riff.order(), [0, 1, 0, 2], "{said}");
    assert_eq!(riff.header().tempo.seconds_per_quarter(), 60.0 / 90.0);
    assert_eq!(format!("{:?}", riff.header().feel), "Swing(Swing { sixteenths: false, long: 3, short: 2 })");
    assert_eq!(riff.bars()[0].chords[0].1.to_string(), "E7sus4");
}

#[test]
fn marks_from_where_the_standard_puts_them() {
    let notations = |inner: &str| format!("<notations>{inner}</notations>");
    let measure = [
        note("E1", 2, "<notehead>x</notehead>"),
        note("E1", 2, "<notehead parentheses='yes'>normal</notehead>"),
        note(
            "E1",
            2,
            &notations("<tied type='let-ring'/><articulations><staccato/><accent/></articulations>"),
        ),
        note("E1", 2, &notations("<technical><harmonic><natural/></harmonic><snap-pizzicato/></technical>")),
        note("E1", 2, &notations("<slide type='start'/><slur type='start'/>")),
        note("G1", 2, &notations("<slide type='stop'/><slur type='stop'/><glissando type='start'/>")),
        note(
            "A1",
            2,
            &notations(
                "<glissando type='stop'/><technical><bend><bend-alter>1.5</bend-alter></bend></technical>",
            ),
        ),
        note("A1", 2, &notations("<ornaments><wavy-line type='start'/><wavy-line type='stop'/></ornaments>"))
            .replace("</note>", "<play><mute>palm</mute></play></note>"),
    ]
    .concat();
    let (riff, _) = open(&one(FOUR, &[&measure]));
    let notes: Vec<_> = riff.line().into_iter().map(|n| n.note).collect();
    let marks = |i: usize| notes[i].marks.iter().collect::<Vec<_>>();
    assert_eq!(marks(0), [Mark::Dead]);
    assert_eq!(marks(1), [Mark::Ghost]);
    assert_eq!(marks(2), [Mark::Staccato, Mark::Accent, Mark::LetRing]);
    assert_eq!(marks(3), [Mark::Pop, Mark::Harmonic]);
    assert_eq!(marks(7), [Mark::PalmMute, Mark::Vibrato]);
    assert_eq!((notes[5].approach, notes[6].approach), (Approach::Slide, Approach::SlidePlucked));
    assert_eq!(notes[6].bend, 3);
}

#[test]
fn another_transposition_than_the_octave() {
    // A part in B flat, a major ninth above sounding: D minor sounds C minor.
    let transpose = "<transpose><diatonic>-1</diatonic><chromatic>-2</chromatic><octave-change>-1</octave-change></transpose>";
    let key = "<key><fifths>-1</fifths><mode>minor</mode></key>";
    let chord = "<harmony><root><root-step>D</root-step></root><kind>minor</kind></harmony>";
    let (riff, _) =
        open(&one(&format!("{key}{FOUR}{transpose}"), &[&format!("{chord}{}", note("F3", 16, ""))]));
    assert_eq!(line(&riff), "Eb2@0+4");
    assert_eq!(riff.header().key.map(|k| k.to_string()).as_deref(), Some("C minor"));
    assert_eq!(riff.bars()[0].chords[0].1.to_string(), "Cm");
}

#[test]
fn sixteen_bit_text_reads_like_eight() {
    let text = one(FOUR, &[&note("E1", 16, "")]);
    let wide: Vec<u8> =
        [0xff, 0xfe].into_iter().chain(text.encode_utf16().flat_map(u16::to_le_bytes)).collect();
    assert_eq!(read(&wide).unwrap().0, read(text.as_bytes()).unwrap().0);
}
