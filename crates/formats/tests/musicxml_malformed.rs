//! Damaged and nonsensical MusicXML is refused with the place at fault, and never panics.

use riffkin_formats::musicxml::{MusicXmlError, WriteOptions, read, write, write_mxl};
use riffkin_score::random::riff;

/// A small score in order; each case below spoils one thing in it.
const SOUND: &str = r#"<?xml version="1.0" encoding="UTF-8"?>
<score-partwise version="4.0">
<part-list><score-part id="P1"><part-name>Bass</part-name></score-part></part-list>
<part id="P1">
<measure number="1">
<attributes><divisions>2</divisions><key><fifths>-1</fifths><mode>minor</mode></key>
<time><beats>4</beats><beat-type>4</beat-type></time>
<clef><sign>F</sign><line>4</line></clef>
<staff-details><staff-tuning line="1"><tuning-step>E</tuning-step><tuning-octave>1</tuning-octave></staff-tuning></staff-details>
<transpose><chromatic>0</chromatic><octave-change>-1</octave-change></transpose></attributes>
<direction><direction-type><words>slow</words></direction-type><sound tempo="60"><swing><first>2</first><second>1</second></swing></sound></direction>
<note><pitch><step>D</step><alter>0</alter><octave>3</octave></pitch><duration>8</duration><staff>1</staff><notations><technical><string>2</string><fret>0</fret><bend><bend-alter>1</bend-alter></bend></technical></notations></note>
</measure>
<measure number="2">
<harmony><root><root-step>D</root-step></root><kind>minor</kind><offset>1</offset></harmony>
<note><pitch><step>F</step><octave>3</octave></pitch><duration>4</duration></note>
<backup><duration>4</duration></backup>
<forward><duration>8</duration></forward>
<barline location="right"><ending number="1" type="start"/><repeat direction="backward" times="2"/></barline>
</measure>
</part>
</score-partwise>
"#;

/// What to replace, by what, and what the error must name.
const CASES: &[(&str, &str, &str)] = &[
    // The XML itself.
    ("</score-partwise>\n", "", "line 22"),
    ("</note>\n</measure>\n<measure number=\"2\">", "</measure>", "line 12"),
    ("<measure number=\"2\">", "<measure number=\"2>", "line 14"),
    ("<measure number=\"2\">", "<measure number=2>", "line 14"),
    ("<measure number=\"2\">", "<measure number=\"&two;\">", "line 14"),
    ("<kind>minor</kind>", "<kind>&minor;</kind>", "line 15"),
    ("<kind>minor</kind>", "<kind>minor</kin>", "line 15"),
    ("<kind>minor</kind>", "<kind>minor & more</kind>", "line 15"),
    ("<kind>minor</kind>", "<kind>mi<nor</kind>", "line 15"),
    ("<kind>minor</kind>", "<kind>minor</kind", "line 15"),
    ("<kind>minor</kind>", "<kind>&#x110000;</kind>", "line 15"),
    ("<words>slow</words>", "<!-- <words>slow</words>", "line 11"),
    ("<words>slow</words>", "<![CDATA[<words>slow</words>", "line 11"),
    ("</score-partwise>", "</score-partwise><score-partwise/>", "line 22"),
    ("</score-partwise>", "</score-partwise>rest", "line 22"),
    ("<score-partwise version=\"4.0\">", "words <score-partwise version=\"4.0\">", "line 2"),
    // The score as a whole.
    ("score-partwise", "score", "line 2"),
    ("score-partwise", "html", "<html>"),
    ("part id=\"P1\"", "section id=\"P1\"", "line"),
    // Attributes of a measure.
    ("<divisions>2<", "<divisions>0<", "measure 1"),
    ("<divisions>2<", "<divisions>-2<", "line 6"),
    ("<divisions>2<", "<divisions>two<", "'two'"),
    ("<divisions>2<", "<divisions><", "<divisions>"),
    ("<fifths>-1<", "<fifths>one flat<", "line 6"),
    ("<fifths>-1<", "<fifths>99<", "<fifths>"),
    ("<beats>4<", "<beats>0<", "line 7"),
    ("<beats>4<", "<beats>four<", "<beats>"),
    ("<beats>4<", "<beats>2+<", "'2+'"),
    ("<beat-type>4<", "<beat-type>5<", "<beat-type>"),
    ("<beat-type>4<", "<beat-type><", "line 7"),
    ("<line>4</line>", "<clef-octave-change>low</clef-octave-change>", "line 8"),
    ("<staff-tuning line=\"1\">", "<staff-tuning line=\"x\">", "line 9"),
    ("<staff-tuning line=\"1\">", "<staff-tuning>", "<staff-tuning>"),
    ("<tuning-step>E<", "<tuning-step>H<", "'H'"),
    ("<tuning-octave>1</tuning-octave>", "", "<tuning-octave>"),
    ("<tuning-octave>1<", "<tuning-octave>77<", "<tuning-octave>"),
    ("<chromatic>0<", "<chromatic>some<", "line 10"),
    ("<octave-change>-1<", "<octave-change>down<", "<octave-change>"),
    // Notes.
    ("<step>D<", "<step>H<", "line 12"),
    ("<step>D<", "<step>DD<", "'DD'"),
    ("<step>D</step>", "", "lacks <step>"),
    ("<alter>0<", "<alter>sharp<", "<alter>"),
    ("<octave>3</octave></pitch><duration>8", "<octave>x</octave></pitch><duration>8", "part P1, measure 1"),
    ("<octave>3</octave></pitch><duration>8", "</pitch><duration>8", "lacks <octave>"),
    ("<pitch><step>F</step><octave>3</octave></pitch>", "", "part P1, measure 2"),
    ("<duration>8</duration><staff>", "<staff>", "lacks <duration>"),
    ("<duration>8</duration><staff>", "<duration>long</duration><staff>", "line 12"),
    ("<duration>8</duration><staff>", "<duration>-8</duration><staff>", "'-8'"),
    ("<duration>8</duration><staff>", "<duration>999999999</duration><staff>", "<duration>"),
    ("<duration>8</duration><staff>", "<duration>NaN</duration><staff>", "'NaN'"),
    ("<staff>1<", "<staff>upper<", "<staff>"),
    ("<staff>1<", "<staff>0<", "line 12"),
    ("<string>2<", "<string>A<", "<string>"),
    ("<fret>0<", "<fret>-1<", "<fret>"),
    ("<bend-alter>1<", "<bend-alter>half<", "<bend-alter>"),
    ("<bend-alter>1</bend-alter>", "", "lacks <bend-alter>"),
    // Between the notes.
    ("<offset>1<", "<offset>later<", "line 15"),
    ("tempo=\"60\"", "tempo=\"fast\"", "'fast'"),
    ("tempo=\"60\"", "tempo=\"-60\"", "line 11"),
    ("<first>2<", "<first>0<", "<first>"),
    ("<second>1</second>", "", "lacks <second>"),
    ("<backup><duration>4<", "<backup><duration>x<", "line 17"),
    ("<backup><duration>4</duration>", "<backup>", "lacks <duration>"),
    ("<forward><duration>8<", "<forward><duration>1e9<", "line 18"),
    ("direction=\"backward\"", "direction=\"sideways\"", "'sideways'"),
    ("times=\"2\"", "times=\"twice\"", "'twice'"),
    ("type=\"start\"/><repeat", "type=\"somewhere\"/><repeat", "measure 2"),
];

#[test]
fn the_score_the_cases_spoil_is_sound() {
    let (riff, _) = read(SOUND.as_bytes()).unwrap();
    assert_eq!(riff.bars().len(), 2);
    assert_eq!(riff.line()[0].note.pitch.to_string(), "D2");
}

#[test]
fn each_damage_is_refused_and_its_place_named() {
    assert!(CASES.len() >= 50);
    let mut wrong = Vec::new();
    for (what, by, named) in CASES {
        assert!(SOUND.contains(what), "{what} is not in the score");
        let case = format!("{by:?} for {what:?}");
        match read(SOUND.replace(what, by).as_bytes()) {
            Ok(_) => wrong.push(format!("accepted: {case}")),
            Err(error) => {
                let text = error.to_string();
                if !text.contains(named) || !text.contains("line ") {
                    wrong.push(format!("{case}: '{text}' does not name {named} and its line"));
                }
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn a_score_cut_off_anywhere_is_refused() {
    let whole = SOUND.trim_end();
    for end in (0..whole.len()).step_by(2) {
        assert!(read(&whole.as_bytes()[..end]).is_err(), "cut at byte {end}");
    }
}

#[test]
fn a_compressed_score_cut_off_or_flipped_does_not_panic() {
    let bytes = write_mxl(&riff(7, 4), &WriteOptions::default()).unwrap();
    for end in (0..bytes.len()).step_by(3) {
        assert!(read(&bytes[..end]).is_err(), "cut at byte {end}");
    }
    for at in (0..bytes.len()).step_by(11) {
        let mut flipped = bytes.clone();
        flipped[at] ^= 0x55;
        let _ = read(&flipped);
    }
}

#[test]
fn any_byte_changed_in_a_written_score_does_not_panic() {
    let text = write(&riff(11, 3), &WriteOptions::default()).into_bytes();
    for at in (0..text.len()).step_by(23) {
        let mut changed = text.clone();
        changed[at] = b"<>&\"'0 x\xff"[at % 9];
        let _ = read(&changed);
    }
}

#[test]
fn sizes_are_bounded() {
    let deep = "<score-partwise>".repeat(1 << 16);
    assert!(matches!(read(deep.as_bytes()), Err(MusicXmlError::Xml { .. })));
    let many =
        format!("<score-partwise><part id='P'>{}</part></score-partwise>", "<measure/>".repeat(50_000));
    assert!(matches!(read(many.as_bytes()), Err(MusicXmlError::TooLarge { .. })));
    let attributes: String = (0..1000).map(|i| format!(" a{i}=''")).collect();
    assert!(read(format!("<score-partwise{attributes}/>").as_bytes()).is_err());
}
