//! What is left of a line in any key.
#![expect(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Seeded, riff};
use riffkin_score::analysis::shape::{LineShape, Technique, shape};
use riffkin_score::interval::Interval;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Approach, Event, Mark, Note};
use riffkin_score::pitch::{Pitch, PitchName};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::transpose::{nearest, transpose};
use riffkin_score::value::NoteValue;

/// One bar of sixteenths in 4/4: `x` a note, `-` held by a tie, `.` a rest.
fn sixteenths(cells: &str) -> Riff {
    let value = NoteValue::of_length(Quarters::SIXTEENTH).unwrap();
    let low: Pitch = "G1".parse().unwrap();
    let signs: Vec<char> = cells.chars().collect();
    let events: Vec<Event> = signs
        .iter()
        .enumerate()
        .map(|(i, sign)| match sign {
            '.' => Event::rest(value),
            _ => {
                let tied = signs.get(i + 1) == Some(&'-');
                Event::note(value, Note { tied, ..Note::plain(low) })
            }
        })
        .collect();
    Riff::new(Header::default(), events.chunks(16).map(|e| Bar::new(Meter::FOUR_FOUR, e.to_vec())).collect())
        .unwrap()
}

/// Longuet-Higgins and Lee 1984 by its definition: the weights of a bar of sixteenths as the literature prints them
/// (from memory), and for every note the heaviest place in the rest or tie that follows it.
#[test]
fn syncopation_by_its_definition() {
    const WEIGHTS: [i32; 16] = [0, -4, -3, -4, -2, -4, -3, -4, -1, -4, -3, -4, -2, -4, -3, -4];
    let mut dice = Seeded(3);
    let mut found = 0;
    for _ in 0..300 {
        let mut cells = String::new();
        for i in 0..32 {
            let before = cells.chars().last();
            cells.push(match dice.below(3) {
                0 => 'x',
                1 if matches!(before, Some('x' | '-')) => '-',
                _ if i == 0 => 'x',
                _ => '.',
            });
        }
        let mut wanted = Vec::new();
        let signs: Vec<char> = cells.chars().collect();
        for i in (0..32).filter(|&i| signs[i] == 'x') {
            let after = (i + 1..32).take_while(|&j| signs[j] != 'x');
            let heaviest = after.map(|j| WEIGHTS[j % 16]).max();
            wanted.extend(heaviest.map(|r| r - WEIGHTS[i % 16]).filter(|&s| s > 0).map(|s| s as u8));
        }
        let rhythm = shape(&sixteenths(&cells)).rhythm;
        let own: Vec<u8> = rhythm.syncopations.iter().map(|s| s.1).collect();
        assert_eq!(own, wanted, "{cells}");
        found += wanted.len();
        let patterns: String = rhythm.patterns.iter().map(|p| expand(&p.cells, 16)).collect();
        assert_eq!(patterns, cells);
    }
    assert!(found > 1000, "{found}");
}

/// A pattern with its cells cut up: held on by `-`, rests by `.`.
fn expand(cells: &str, to: usize) -> String {
    let times = to / cells.len();
    let more = |c: char| if c == '.' { "." } else { "-" };
    cells.chars().map(|c| format!("{c}{}", more(c).repeat(times - 1))).collect()
}

#[test]
fn on_the_beat_nothing_is_syncopated() {
    let rhythm = |cells| shape(&sixteenths(cells)).rhythm;
    for (cells, share, off) in [
        ("x---x---x---x---", 0.0, 0.0),
        ("x-x-x-x-x-x-x-x-", 0.0, 0.5),
        // An eighth, then held over the second beat: the habanera's long note is a syncopation.
        ("x-----x-x---x---", 0.0, 0.25),
        ("x-x---x-x-------", 0.25, 0.5),
        ("..x-..x-..x-..x-", 1.0, 1.0),
    ] {
        let found = rhythm(cells);
        // The last off-beat meets no beat after it.
        let wanted = if share == 1.0 { 0.75 } else { share };
        assert_eq!((found.syncopated_share(), found.off_beat_share()), (wanted, off), "{cells}");
    }
}

#[test]
fn a_transposed_line_has_the_same_shape() {
    let strip =
        |s: &LineShape| (s.semitones(), s.contour.clone(), s.rhythm.clone(), s.techniques.clone(), s.leaps());
    for seed in 0..40 {
        let riff = riff_of(seed, Recipe::full(3));
        let own = shape(&riff);
        assert_eq!(own.intervals.len() + 1, riff.line().iter().filter(|n| !n.is_dead()).count().max(1));
        assert_eq!(
            own.rhythm.gaps.iter().copied().sum::<Quarters>()
                + riff.line().first().map_or(Quarters::ZERO, |n| n.onset),
            riff.length()
        );
        let g: PitchName = "G".parse().unwrap();
        let by = nearest(g, "A".parse().unwrap());
        let Ok((moved, _)) = transpose(&riff, by) else { continue };
        assert_eq!(strip(&own), strip(&shape(&moved)), "seed {seed}");
    }
}

#[test]
fn melody_in_words() {
    let line = shape(&riff(None, &["G1 Bb1 C2 xC2 C2 G2 D2 G1"]));
    assert_eq!(line.semitones(), [3, 2, 0, 7, -5, -7]);
    assert_eq!(line.contour.to_string(), "++=+--");
    assert_eq!((line.steps(), line.leaps(), line.contour.turns()), (1, 4, 1));
    let (leap, at) = line.longest_leap.unwrap();
    assert_eq!((leap, at.to_string().as_str()), (Interval::from_steps(4, 7), "bar 1, beat 3 1/2"));
    let words = line.words();
    assert_eq!(
        words[0],
        "the line rises, then falls between G1 and G2, a perfect octave: 1 step, 4 leaps and 1 repeat; its longest \
         leap is a perfect fifth up, to bar 1, beat 3 1/2"
    );
    assert_eq!(words[3], "techniques: 1 dead note");
    assert_eq!(shape(&riff(None, &["G1:8"])).words()[0], "the line stays on G1");
    assert!(shape(&riff(None, &["-:8"])).words().is_empty());
}

#[test]
fn rhythm_in_numbers() {
    let slow = riff(None, &["G1:4 G1:4", "G1 G1 G1 G1 G1:4"]);
    let header = Header { tempo: Tempo::quarters(120.0).unwrap(), ..Header::default() };
    let rhythm = shape(&slow.with_header(header)).rhythm;
    assert_eq!((rhythm.notes, rhythm.notes_per_beat), (7, 7.0 / 8.0));
    assert!((rhythm.notes_per_second - 7.0 / 4.0).abs() < 1e-9);
    // Eighths at 120 are four notes a second.
    let (fastest, at) = rhythm.fastest.unwrap();
    assert!((fastest - 4.0).abs() < 1e-9 && at.to_string() == "bar 2, beat 1", "{fastest} {at}");
    let values: Vec<String> = rhythm.values.iter().map(|v| v.words()).collect();
    assert_eq!(values, ["half", "eighth"]);
    assert_eq!(rhythm.patterns[0].cells, "x-x-");
    assert_eq!(rhythm.patterns[1].cells, "xxxxx---");
    assert_eq!(rhythm.patterns[1].cell, Quarters::EIGHTH);
}

#[test]
fn techniques_are_counted() {
    let value = NoteValue::of_length(Quarters::QUARTER).unwrap();
    let note = |approach, marks: &[Mark], bend| {
        let plain = Note::plain("G1".parse().unwrap());
        Event::note(value, Note { approach, marks: marks.iter().copied().collect(), bend, ..plain })
    };
    let events = vec![
        note(Approach::Plucked, &[Mark::Slap], 0),
        note(Approach::Hammer, &[], 0),
        note(Approach::SlidePlucked, &[Mark::Slap, Mark::Vibrato], 1),
        note(Approach::Slide, &[], 0),
    ];
    let riff = Riff::new(Header::default(), vec![Bar::new(Meter::FOUR_FOUR, events)]).unwrap();
    let found = shape(&riff);
    assert_eq!(
        found.techniques,
        [
            (Technique::Hammer, 1),
            (Technique::Slide, 2),
            (Technique::Bend, 1),
            (Technique::Mark(Mark::Slap), 2),
            (Technique::Mark(Mark::Vibrato), 1),
        ]
    );
    assert_eq!(
        found.words().last().unwrap(),
        "techniques: 1 hammer-on, 2 slides, 1 bend, 2 slapped notes and 1 note with vibrato"
    );
}
