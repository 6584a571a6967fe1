//! A tiny notation for test riffs, so that each test reads as music. Not the program's riff notation.

#![allow(
    dead_code,
    unreachable_pub,
    clippy::panic,
    clippy::expect_used,
    reason = "each test file uses its own part of this"
)]

use riffkin_engrave::diagram::{LadderStyle, NeckDiagram, NeckMark, Rung, Strip, ladder};
use riffkin_engrave::diagram::{neck as draw_neck, strip as draw_strip};
use riffkin_engrave::music::{Fingered, Layout, Part, engrave};
use riffkin_engrave::scene::Scene;
use riffkin_fretboard::neck::Neck;
use riffkin_score::chord::Chord;
use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Approach, Event, Mark, Note, Place};
use riffkin_score::pitch::{Pitch, PitchName, Step};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape, Tuplet};

/// Words separated by blanks, bars by `|`. A word is a value letter (`w h q e s t` from whole to thirty-second), dots,
/// `3` for a triplet, `:`, then `r` for a rest or a sounding pitch, then marks: `~` tied, `^` accent, `!` staccato,
/// `x` dead, `g` ghost, `H` hammer-on, `P` pull-off, `/` slide, `\` plucked slide, `v` vibrato, `m` palm mute, `l` let
/// ring, `S` slap, `O` pop, `*` harmonic, `2` bent a semitone.
pub fn bars(meter: &str, text: &str) -> Vec<Bar> {
    let meter: Meter = meter.parse().expect("a meter");
    text.split('|').map(|bar| Bar::new(meter, bar.split_whitespace().map(event).collect())).collect()
}

fn event(word: &str) -> Event {
    let (value, rest) = word.split_once(':').expect("value:note");
    let shape = match value.chars().next() {
        Some('w') => Shape::Whole,
        Some('h') => Shape::Half,
        Some('q') => Shape::Quarter,
        Some('e') => Shape::Eighth,
        Some('s') => Shape::Sixteenth,
        Some('t') => Shape::ThirtySecond,
        other => panic!("no value {other:?}"),
    };
    let dots = value.matches('.').count() as u8;
    let tuplet = value.contains('3').then_some(Tuplet::TRIPLET);
    let value = NoteValue::new(shape, dots, tuplet).expect("exact");
    if rest == "r" {
        return Event::rest(value);
    }
    let cut = rest.find(|c: char| c.is_ascii_digit()).expect("octave") + 1;
    let (pitch, marks) = rest.split_at(cut);
    let pitch: Pitch = pitch.parse().expect("a pitch");
    let mut note = Note::plain(pitch);
    for c in marks.chars() {
        let mark = match c {
            '~' => {
                note.tied = true;
                continue;
            }
            'H' | 'P' | '/' | '\\' => {
                note.approach = match c {
                    'H' => Approach::Hammer,
                    'P' => Approach::Pull,
                    '/' => Approach::Slide,
                    _ => Approach::SlidePlucked,
                };
                continue;
            }
            '2' => {
                note.bend = 2;
                continue;
            }
            '^' => Mark::Accent,
            '!' => Mark::Staccato,
            'x' => Mark::Dead,
            'g' => Mark::Ghost,
            'v' => Mark::Vibrato,
            'm' => Mark::PalmMute,
            'l' => Mark::LetRing,
            'S' => Mark::Slap,
            'O' => Mark::Pop,
            '*' => Mark::Harmonic,
            other => panic!("no mark {other}"),
        };
        note.marks = note.marks.with(mark);
    }
    Event::note(value, note)
}

/// A riff with a title and a key.
pub fn riff(title: &str, key: &str, bars: Vec<Bar>) -> Riff {
    let key: Option<Key> = (!key.is_empty()).then(|| key.parse().expect("a key"));
    Riff::new(Header { title: title.into(), key, ..Header::default() }, bars).expect("a riff")
}

/// The lowest fret for every note: no fingering, only places that sound the pitch.
pub fn places(riff: &Riff, neck: &Neck) -> Vec<Option<Fingered>> {
    riff.line()
        .iter()
        .map(|n| {
            let at = neck.places(n.note.pitch.midi()).into_iter().min_by_key(|p| (p.fret, p.string))?;
            Some(Fingered { place: Place { string: at.string, fret: at.fret }, finger: Some(at.fret.min(4)) })
        })
        .collect()
}

/// Numerical Recipes' 64-bit linear congruential generator; the same riffs in every run.
pub struct Dice(pub u64);

impl Dice {
    /// 0 to `sides - 1`.
    pub fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0.wrapping_mul(6_364_136_223_846_793_005).wrapping_add(1_442_695_040_888_963_407);
        (self.0 >> 33) % sides
    }
    /// True one time in `n`.
    pub fn one_in(&mut self, n: u64) -> bool {
        self.roll(n) == 0
    }
}

/// A bar of random values that adds up.
fn random_bar(d: &mut Dice, meter: Meter) -> Bar {
    let mut events = Vec::new();
    let mut left = meter.bar_length();
    while left.is_positive() {
        let triplet = d.one_in(9) && left >= Quarters::QUARTER;
        let values: Vec<NoteValue> = if triplet {
            let eighth = NoteValue::new(Shape::Eighth, 0, Some(Tuplet::TRIPLET)).expect("exact");
            vec![eighth; 3]
        } else {
            let shape = [
                Shape::Half,
                Shape::Quarter,
                Shape::Eighth,
                Shape::Eighth,
                Shape::Sixteenth,
                Shape::ThirtySecond,
            ][d.roll(6) as usize];
            let dots = u8::from(d.one_in(5));
            let value = NoteValue::new(shape, dots, None).expect("exact");
            if value.length() > left {
                vec![NoteValue::of_length(left).unwrap_or(NoteValue::plain(Shape::ThirtySecond))]
            } else {
                vec![value]
            }
        };
        for value in values {
            events.push(if d.one_in(6) { Event::rest(value) } else { Event::note(value, random_note(d)) });
            left -= value.length();
        }
    }
    let mut bar = Bar::new(meter, events);
    if bar.length() != meter.bar_length() {
        bar = Bar::new(
            meter,
            vec![Event::rest(NoteValue::of_length(meter.bar_length()).expect("a single value"))],
        );
    }
    for beat in 0..4 {
        let at = Quarters::whole_quarters(beat);
        if d.one_in(3) && at < bar.length() {
            let chord: Chord =
                ["G", "Bbmaj7", "F#m7", "C7", "Ebm7b5"][d.roll(5) as usize].parse().expect("a chord");
            bar.chords.push((at, chord));
        }
    }
    bar.repeat_start = d.one_in(8);
    bar.repeat_end = d.one_in(8).then_some(2);
    bar
}

fn random_note(d: &mut Dice) -> Note {
    let name = PitchName::new(Step::from_index(d.roll(7) as i32), d.roll(3) as i8 - 1).expect("in range");
    let mut note = Note::plain(Pitch::new(name, 1 + d.roll(2) as i8).expect("in range"));
    if d.one_in(4) {
        note.marks = note.marks.with(Mark::ALL[d.roll(10) as usize]);
    }
    if d.one_in(6) {
        note.approach =
            [Approach::Hammer, Approach::Pull, Approach::Slide, Approach::SlidePlucked][d.roll(4) as usize];
    }
    if d.one_in(20) {
        note.bend = 2;
    }
    note
}

/// One to six bars of anything.
pub fn random_riff(d: &mut Dice) -> Riff {
    let meter: Meter =
        ["4/4", "3/4", "6/8", "7/8", "2/4", "12/8"][d.roll(6) as usize].parse().expect("a meter");
    let n = 1 + d.roll(6);
    let key = ["G minor", "D Dorian", "E major", "C# minor", "Ab major", ""][d.roll(6) as usize];
    riff("Random", key, (0..n).map(|_| random_bar(d, meter)).collect())
}

/// Pictures that are compared letter by letter, by file name.
pub fn golden() -> Vec<(&'static str, Scene)> {
    let mut all = bars(
        "4/4",
        "e:G1 e:Bb1 e:C2 e:Db2 q:C2^ e:Bb1! e:F1|e.:G1 s:Bb1H e:r e:C2g q:Db2x q:G1~|h:G1 e3:F1 e3:G1 e3:Bb1 q:C2/",
    );
    all[0].chords = vec![(Quarters::ZERO, "Gm7".parse().expect("a chord"))];
    all[0].repeat_start = true;
    all[2].repeat_end = Some(2);
    let riff = riff("Ferry Stomp", "G minor", all);
    let neck = Neck::named("four").expect("known");
    let fits = places(&riff, &neck);
    let part = Part { riff: &riff, neck: Some(&neck), places: &fits };
    let music = engrave(&part, &Layout::print(150.0)).stacked(5.0);
    let set = DegreeSet::from_slots([0, 3, 5, 6, 10]);
    let shown = Strip::new(set).with_new(DegreeSet::from_slots([6]));
    let mark = |string, fret, label: &str, root, new| NeckMark {
        place: Place { string, fret },
        label: label.into(),
        root,
        new,
    };
    let marks = vec![
        mark(4, 3, "1", true, false),
        mark(3, 1, "♭3", false, false),
        mark(3, 3, "4", false, false),
        mark(3, 4, "♭5", false, true),
        mark(4, 1, "♭7", false, false),
    ];
    let left = neck.clone().left_handed(true);
    let diagram = |n| draw_neck(&NeckDiagram { neck: n, marks: marks.clone(), frets: None }, 85.0, 6.5);
    let rungs = [
        Rung { number: 1, title: "Wet Rope".into(), strip: Strip::new(DegreeSet::from_slots([0, 10])) },
        Rung { number: 2, title: "Ferry Stomp".into(), strip: shown.clone() },
    ];
    vec![
        ("music.svg", music),
        ("strip.svg", draw_strip(&shown, 7.0)),
        ("neck.svg", diagram(&neck)),
        ("neck-left.svg", diagram(&left)),
        ("ladder.svg", ladder(&rungs, &LadderStyle::new(176.0, 3.9))),
    ]
}
