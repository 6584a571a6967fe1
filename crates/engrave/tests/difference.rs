//! The picture of two scales on one neck.
#![allow(clippy::expect_used, reason = "a failed helper is a failed test")]

use riffkin_engrave::diagram::{Difference, difference};
use riffkin_engrave::path::Segment;
use riffkin_engrave::scene::{Item, Scene};
use riffkin_engrave::svg;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::positions;
use riffkin_score::analysis::compare::{Comparison, compare};
use riffkin_score::key::{Key, Mode};

fn compared(first: &str, second: &str) -> Comparison {
    let key = |text: &str| text.parse::<Key>().expect("a key");
    compare(key(first), key(second)).expect("two scales")
}

/// Heavy outlines by their corners, the explanation below the neck left out: diamonds and hexagons.
fn corners(scene: &Scene, count: usize) -> usize {
    let of = |item: &&Item| match item {
        Item::Stroke { path, .. } => {
            let lines = path.segments.iter().filter(|s| matches!(s, Segment::Line(_))).count();
            let straight = path.segments.iter().all(|s| !matches!(s, Segment::Cubic(..)));
            let upright = path.segments.windows(2).any(|w| match w {
                [Segment::Move(a), Segment::Line(b)] => a.x == b.x || a.y == b.y,
                _ => false,
            });
            straight && lines + 1 == count && (count != 4 || !upright)
        }
        _ => false,
    };
    scene.items.iter().filter(of).count() - 1
}

/// Every place of a note that one scale alone has is drawn in that scale's form, and no other: against the neck's own
/// positions, for every pair of the seven modes.
#[test]
fn forms_tell_the_scales_apart() {
    let neck = Neck::named("five").expect("known");
    for (a, b) in Mode::DIATONIC.into_iter().flat_map(|a| Mode::DIATONIC.map(|b| (a, b))) {
        let c = compared(&format!("A {a}"), &format!("A {b}"));
        if a == b {
            continue;
        }
        let scene = difference(&Difference { comparison: &c, neck: &neck, frets: (1, 9) }, 120.0, 8.0);
        let places = |degrees| positions(&neck, c.first.tonic, degrees, 0..=9).len();
        assert_eq!(corners(&scene, 4), places(&c.only_first), "{a} {b}");
        assert_eq!(corners(&scene, 6), places(&c.only_second), "{a} {b}");
    }
}

#[test]
fn words_for_those_who_cannot_see_it() {
    let c = compared("G Dorian", "G minor");
    let neck = Neck::named("four").expect("known");
    let scene = difference(&Difference { comparison: &c, neck: &neck, frets: (2, 7) }, 110.0, 9.0);
    assert_eq!(scene.title, "G Dorian and G minor");
    // The sixth of G is E: fret 2 of the D string, fret 7 of the A string; E flat one fret lower (common practice).
    assert_eq!(
        scene.description,
        "G Dorian has 6 (E) where G minor has ♭6 (E♭). One note tells them apart; all others are shared. Degrees \
         counted from G. Only G Dorian: A string fret 7 (6), D string fret 2 (6). Only G minor: A string fret 6 (♭6). \
         Root: E string fret 3 (1), D string fret 5 (1)."
    );
    assert!(scene.missing_characters().is_empty());
    let drawn = svg::document(&scene);
    assert!(drawn.contains("role=\"img\"") && drawn.contains("Degrees counted from G."));
}

#[test]
fn all_ink_lies_inside_and_the_left_hand_is_told() {
    for (first, second, neck) in [
        ("G Lydian", "G Locrian", "five"),
        ("G major", "E minor pentatonic", "six"),
        ("C# major", "Db minor", "four"),
    ] {
        for (left, frets) in
            [(false, (1, 5)), (true, (1, 5)), (true, (5, 12)), (false, (19, 90)), (false, (0, 0))]
        {
            let c = compared(first, second);
            let neck = Neck::named(neck).expect("known").left_handed(left);
            let scene = difference(&Difference { comparison: &c, neck: &neck, frets }, 120.0, 8.0);
            let ink = scene.bounds();
            assert!(ink.top >= -0.1 && ink.bottom <= scene.height + 0.1, "{first} {frets:?}");
            assert!(ink.left >= -0.3 && ink.right <= scene.width + 0.5, "{first} {frets:?}: {ink:?}");
            assert_eq!(scene.description.contains("left-handed"), left);
        }
    }
    let c = compared("G Lydian", "G Locrian");
    let neck = Neck::named("four").expect("known");
    let scene = difference(&Difference { comparison: &c, neck: &neck, frets: (1, 6) }, 120.0, 8.0);
    let both =
        scene.items.iter().any(|i| matches!(i, Item::Text(t) if t.content == "both: ♯4 or ♭5 (C♯ or D♭)"));
    assert!(both, "one fret under two names bears both");
}
