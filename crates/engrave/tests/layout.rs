//! What must hold for any riff: nothing collides, nothing is lost, time runs to the right.

mod common;

use common::{Dice, bars, places, random_riff, riff};
use riffkin_engrave::music::{Engraved, Layout, Part, engrave};
use riffkin_engrave::scene::{Item, Role, Scene};
use riffkin_engrave::units::Rect;
use riffkin_fretboard::neck::Neck;
use riffkin_score::riff::Riff;

/// Boxes of noteheads, accidentals, rests and dots; fret numbers and degrees; chords.
#[derive(Default)]
struct Boxes {
    signs: Vec<Rect>,
    texts: Vec<(String, Rect)>,
    times: Vec<(f64, f64)>,
}

fn boxes(scene: &Scene) -> Boxes {
    let mut out = Boxes::default();
    scene.visit(&mut |item| match item {
        // Noteheads E0A0 to E0FF without the parentheses, accidentals E26x, rests E4Ex; not clef, meter, flags, wiggles.
        Item::Symbol { symbol, .. } => {
            let c = *symbol as u32;
            if matches!(c, 0xE0A0..=0xE0F4 | 0xE260..=0xE264 | 0xE4E0..=0xE4EF) {
                out.signs.push(item.bounds());
            }
        }
        Item::Text(t) => out.texts.push((t.content.clone(), item.bounds())),
        Item::Group { role: Role::Event { at, .. }, items } => {
            let head = items.iter().find(|i| matches!(i, Item::Symbol { symbol, .. } if matches!(*symbol as u32, 0xE0A0..=0xE0F4 | 0xE4E0..=0xE4EF)));
            if let Some(h) = head {
                out.times.push((*at, h.bounds().left));
            }
        }
        _ => {}
    });
    out
}

fn check(riff: &Riff, music: &Engraved, what: &str) {
    let mut events = 0;
    for system in &music.systems {
        let scene = &system.scene;
        let b = boxes(scene);
        for (i, a) in b.signs.iter().enumerate() {
            for c in b.signs.iter().skip(i + 1) {
                assert!(!a.grown(-0.02).overlaps(c), "{what}: two signs overlap: {a:?} {c:?}");
            }
        }
        for (i, (s, a)) in b.texts.iter().enumerate() {
            for (t, c) in b.texts.iter().skip(i + 1) {
                assert!(!a.grown(-0.02).overlaps(c), "{what}: {s} and {t} overlap: {a:?} {c:?}");
            }
            for sign in &b.signs {
                assert!(!a.grown(-0.02).overlaps(sign), "{what}: {s} lies on a note: {a:?} {sign:?}");
            }
        }
        for w in b.times.windows(2) {
            assert!(w[0].0 < w[1].0 && w[0].1 < w[1].1, "{what}: time runs to the right: {w:?}");
        }
        events += b.times.len();
        let ink = scene.bounds();
        assert!(ink.top >= -0.01 && ink.bottom <= scene.height + 0.01, "{what}: {ink:?} in {}", scene.height);
        assert!(ink.left >= -0.3 && ink.right <= scene.width + 0.3, "{what}: {ink:?} in {}", scene.width);
    }
    let wanted: usize = riff.bars().iter().map(|b| b.events.len()).sum();
    assert_eq!(events, wanted, "{what}: every note and rest is there once");
}

#[test]
fn nothing_collides_and_nothing_is_lost_on_three_hundred_random_riffs() {
    let mut dice = Dice(20_260_704);
    for n in 0..300 {
        let riff = random_riff(&mut dice);
        let neck = Neck::named(["four", "five", "six"][n % 3]).expect("known");
        let fits = places(&riff, &neck);
        let part = Part { riff: &riff, neck: (n % 4 != 0).then_some(&neck), places: &fits };
        let layout = match n % 3 {
            0 => Layout { fingers: true, ..Layout::print(180.0) },
            1 => Layout::print(95.0),
            _ => Layout::large_print(180.0),
        };
        check(&riff, &engrave(&part, &layout), &format!("riff {n}"));
    }
}

#[test]
fn six_hundred_bars_fill_lines_evenly_and_split_no_bar() {
    let text = ["e:E1 e:E1 e:G1 e:A1 e:E1 e:D2 e:B1 e:A1", "q:E1 q:G1 q:A1 q:B1", "h:E1 h:B1"];
    let all: Vec<&str> = (0..600).map(|i| text[i % 3]).collect();
    let riff = riff("Long", "E minor", bars("4/4", &all.join("|")));
    let neck = Neck::named("four").expect("known");
    let fits = places(&riff, &neck);
    let music = engrave(&Part { riff: &riff, neck: Some(&neck), places: &fits }, &Layout::print(180.0));
    assert!(music.warnings.is_empty(), "{:?}", music.warnings);
    let mut next = 1;
    for s in &music.systems {
        assert_eq!(s.first_bar, next);
        next = s.last_bar + 1;
    }
    assert_eq!(next, 601);
    check(&riff, &music, "600 bars");
    for s in music.systems.iter().rev().skip(1) {
        let right = s.scene.bounds().right;
        assert!((right - 180.0).abs() < 0.5, "a line ends at the margin: {right}");
    }
}

#[test]
fn one_note_rests_only_and_an_overfull_bar() {
    let neck = Neck::named("four").expect("known");
    let layout = Layout::print(60.0);
    for (text, meter) in [("w:G1", "4/4"), ("w:r|w:r", "4/4"), ("q:r h:r", "3/4")] {
        let riff = riff("Small", "", bars(meter, text));
        let fits = places(&riff, &neck);
        let music = engrave(&Part { riff: &riff, neck: Some(&neck), places: &fits }, &layout);
        assert!(music.warnings.is_empty());
        check(&riff, &music, text);
    }
    let full = vec!["t:Gb1"; 32].join(" ");
    let riff = riff("Full", "C major", bars("4/4", &full));
    let fits = places(&riff, &neck);
    let music = engrave(&Part { riff: &riff, neck: Some(&neck), places: &fits }, &layout);
    assert_eq!(music.systems.len(), 1);
    assert!(music.warnings.iter().any(|w| w.to_string().contains("bar 1")), "{:?}", music.warnings);
    check(&riff, &music, "overfull");
}

#[test]
fn notes_without_a_place_are_counted_in_a_warning() {
    let riff = riff("Gaps", "E minor", bars("4/4", "q:E1 q:G1 q:A1 q:B1"));
    let neck = Neck::named("four").expect("known");
    let music = engrave(&Part { riff: &riff, neck: Some(&neck), places: &[] }, &Layout::print(100.0));
    assert_eq!(music.warnings.len(), 1);
    assert!(music.warnings[0].message.contains("4 notes"));
}

#[test]
fn sizes_out_of_range_are_mended_and_said() {
    let riff = riff("Odd", "", bars("4/4", "w:E1"));
    for (width, space) in [(f64::NAN, 1.75), (-5.0, 1.75), (100.0, 0.0), (100.0, f64::INFINITY)] {
        let layout = Layout { space, ..Layout::print(width) };
        let music = engrave(&Part { riff: &riff, neck: None, places: &[] }, &layout);
        assert!(!music.warnings.is_empty());
        assert!(music.systems[0].scene.height.is_finite());
    }
}

#[test]
fn the_words_say_what_stands_there() {
    let riff = riff("Words", "G minor", bars("4/4", "q:G1 e:Bb1H e:r h:C2~|h:C2 h:Db2x"));
    let neck = Neck::named("four").expect("known");
    let fits = places(&riff, &neck);
    let music = engrave(&Part { riff: &riff, neck: Some(&neck), places: &fits }, &Layout::print(180.0));
    assert_eq!(
        music.systems[0].scene.description,
        "Bar 1, 4/4: G1 quarter, degree 1, string 4 fret 3; B♭1 eighth, degree ♭3, string 3 fret 1, hammered on; \
         rest eighth; C2 half, degree 4, string 3 fret 3. Bar 2: C2 half tied on; D♭2 half, string 3 fret 4, dead."
    );
}
