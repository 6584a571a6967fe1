//! The riff: places, ties, repeats, and what is refused.

#![expect(clippy::expect_used, reason = "a test that cannot build its own case should stop")]

mod common;

use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::pitch::Pitch;
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::{Bar, Header, Riff, RiffError};
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};

fn note(pitch: &str, shape: Shape) -> Event {
    let pitch: Pitch = pitch.parse().expect("a pitch");
    Event::note(NoteValue::plain(shape), Note::plain(pitch))
}

fn tied(mut event: Event) -> Event {
    if let Some(note) = &mut event.note {
        note.tied = true;
    }
    event
}

fn bar(meter: &str, events: Vec<Event>) -> Bar {
    Bar::new(meter.parse().expect("a meter"), events)
}

/// Bars of one whole note each; the pitch tells which bar is played.
fn passages(count: usize, change: impl Fn(usize, &mut Bar)) -> Riff {
    let bars = (0..count)
        .map(|i| {
            let mut bar = bar("4/4", vec![note(["E1", "F1", "G1", "A1", "B1", "C2"][i % 6], Shape::Whole)]);
            change(i, &mut bar);
            bar
        })
        .collect();
    Riff::new(Header::default(), bars).expect("a riff")
}

/// How repeats and endings are played: common practice, any theory primer.
#[test]
fn repeats_and_endings() {
    let plain = passages(3, |_, _| {});
    assert_eq!(plain.order(), [0, 1, 2]);
    // From the start to the sign, three times.
    let from_start = passages(3, |i, b| b.repeat_end = (i == 1).then_some(3));
    assert_eq!(from_start.order(), [0, 1, 0, 1, 0, 1, 2]);
    // Between signs.
    let between = passages(4, |i, b| {
        b.repeat_start = i == 1;
        b.repeat_end = (i == 2).then_some(2);
    });
    assert_eq!(between.order(), [0, 1, 2, 1, 2, 3]);
    // First and second ending.
    let endings = passages(5, |i, b| {
        b.repeat_end = (i == 2).then_some(2);
        b.endings = match i {
            2 => vec![1],
            3 => vec![2],
            _ => vec![],
        };
    });
    assert_eq!(endings.order(), [0, 1, 2, 0, 1, 3, 4]);
    // The first ending twice, then the last; and a second passage of its own after it.
    let twice = passages(6, |i, b| {
        b.repeat_start = i == 4;
        b.repeat_end = match i {
            1 => Some(3),
            5 => Some(2),
            _ => None,
        };
        b.endings = match i {
            1 => vec![1, 2],
            2 => vec![3],
            _ => vec![],
        };
    });
    assert_eq!(twice.order(), [0, 1, 0, 1, 0, 2, 3, 4, 5, 4, 5]);
    assert_eq!(twice.played().len(), 11);
    assert_eq!(twice.played_length(), Quarters::WHOLE * 11);
    assert_eq!(twice.played()[5].onset, Quarters::WHOLE * 5);
}

#[test]
fn playing_always_ends() {
    let many = passages(600, |i, b| {
        b.repeat_start = i % 2 == 0;
        b.repeat_end = (i % 2 == 1).then_some(99);
    });
    assert!(many.order().len() <= Riff::MAX_PLAYED_BARS);
    for seed in 0..100 {
        let wild = riff_of(seed, Recipe::wild(6));
        let played = wild.played();
        assert!(played.windows(2).all(|w| w[0].onset + w[0].length <= w[1].onset), "seed {seed}");
        assert!(wild.order().len() <= Riff::MAX_PLAYED_BARS);
    }
}

#[test]
fn places_as_people_say_them() {
    let mut pickup = bar("4/4", vec![note("D2", Shape::Eighth), note("E2", Shape::Eighth)]);
    pickup.short = true;
    let full = bar("4/4", vec![note("G1", Shape::Half), note("A1", Shape::Half)]);
    let compound = bar(
        "6/8",
        vec![
            note("G1", Shape::Quarter),
            note("A1", Shape::Eighth),
            note("B1", Shape::Quarter),
            note("C2", Shape::Eighth),
        ],
    );
    let riff = Riff::new(Header::default(), vec![pickup, full, compound]).expect("a riff");
    assert!(riff.has_pickup());
    let places: Vec<String> = riff.line().iter().map(|n| riff.place_of(n.onset).to_string()).collect();
    assert_eq!(
        places,
        [
            // A pickup counts back from its bar line.
            "bar 0, beat 4",
            "bar 0, beat 4 1/2",
            "bar 1, beat 1",
            "bar 1, beat 3",
            "bar 2, beat 1",
            "bar 2, beat 1 2/3",
            "bar 2, beat 2",
            "bar 2, beat 2 2/3"
        ]
    );
    assert_eq!(riff.place_of(Quarters::whole_quarters(1000)).bar, 2);
    assert_eq!(riff.place_of(-Quarters::WHOLE).bar, 0);
    assert_eq!((riff.bar_start(1).to_string(), riff.length().to_string()), ("1".into(), "8".into()));
}

#[test]
fn tied_heads_are_one_note() {
    let first = bar("2/4", vec![note("E1", Shape::Quarter), tied(note("G1", Shape::Quarter))]);
    let second = bar("2/4", vec![tied(note("G1", Shape::Quarter)), note("G1", Shape::Quarter)]);
    let riff = Riff::new(Header::default(), vec![first.clone(), second]).expect("a riff");
    let lengths: Vec<String> = riff.line().iter().map(|n| n.length.to_string()).collect();
    assert_eq!(lengths, ["1", "3"]);
    // A tie to another pitch, a rest or nothing is refused, and the tied note named.
    let other = bar("2/4", vec![note("A1", Shape::Half)]);
    let rest = bar("2/4", vec![Event::rest(NoteValue::plain(Shape::Half))]);
    for bars in [vec![first.clone(), other], vec![first.clone(), rest], vec![first]] {
        let why = Riff::new(Header::default(), bars).expect_err("a loose tie");
        assert_eq!(why.to_string(), "the tie at bar 1, beat 2 needs a next note of the same pitch");
    }
}

#[test]
fn what_does_not_add_up_is_refused_with_its_place() {
    let refuse = |bars| Riff::new(Header::default(), bars).expect_err("refused").to_string();
    assert_eq!(refuse(vec![]), "there are no bars; write at least one");
    let good = || bar("4/4", vec![note("E1", Shape::Whole)]);
    let less = bar("4/4", vec![note("E1", Shape::Half)]);
    let why = refuse(vec![good(), less.clone()]);
    assert!(why.starts_with("bar 2 holds 2 quarter notes and the meter 4/4 asks for 4; add"), "{why}");
    let more = bar("3/4", vec![note("E1", Shape::Whole)]);
    assert!(refuse(vec![more.clone()]).ends_with("take out what is too much"));
    assert!(matches!(
        Riff::new(Header::default(), vec![Bar { short: true, ..more }]),
        Err(RiffError::BarLength { .. })
    ));
    assert!(Riff::new(Header::default(), vec![Bar { short: true, ..less }]).is_ok());
    let mut chord = good();
    let g = "G".parse().expect("a chord");
    chord.chords = vec![(Quarters::WHOLE, g)];
    assert!(refuse(vec![chord.clone()]).contains("a chord in bar 1 stands 4 quarter notes in"));
    chord.chords = vec![(Quarters::HALF, g), (Quarters::HALF, g)];
    assert!(refuse(vec![chord]).contains("not after the one before it"));
    let mut tempo = good();
    tempo.tempi = vec![(-Quarters::HALF, Tempo::default())];
    assert!(refuse(vec![tempo]).contains("a tempo in bar 1"));
    for (times, endings, what) in
        [(Some(1), vec![], "repeat"), (None, vec![2, 1], "ending"), (None, vec![0], "ending")]
    {
        let off = Bar { repeat_end: times, endings, ..good() };
        assert!(refuse(vec![off]).starts_with(&format!("the {what} in bar 1")));
    }
    let limit = vec![good(); Riff::MAX_BARS + 1];
    assert!(refuse(limit).contains("more than the 10000"));
}

#[test]
fn a_header_is_single_clean_lines() {
    let header = Header {
        title: "  Wet\tRope\n".to_owned(),
        source: Some(" \u{7} ".to_owned()),
        remarks: vec!["a\r\nb".to_owned(), " ".to_owned()],
        ..Header::default()
    };
    let riff = Riff::new(header, vec![bar("4/4", vec![note("E1", Shape::Whole)])]).expect("a riff");
    let header = riff.header();
    assert_eq!((header.title.as_str(), header.source.as_ref()), ("Wet Rope", None));
    assert_eq!(header.remarks, ["a b"]);
    assert_eq!(riff.bars()[0].meter, Meter::FOUR_FOUR);
}

#[test]
fn tempo_as_played_follows_the_repeats() {
    let slow = Tempo::quarters(60.0).expect("a tempo");
    let riff = passages(3, |i, b| {
        if i == 1 {
            b.tempi = vec![(Quarters::HALF, slow)];
            b.repeat_end = Some(2);
        }
    });
    // Played: bars 1 2 1 2 3. At 120 a bar lasts 2 s, at 60 4 s; bar 2 is half and half.
    let tempo = riff.played_tempo();
    let seconds: Vec<f64> = (0..=5).map(|i| tempo.seconds(Quarters::WHOLE * i)).collect();
    assert_eq!(seconds, [0.0, 2.0, 5.0, 7.0, 10.0, 14.0]);
}
