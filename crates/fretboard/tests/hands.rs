//! Hands that differ, hands that do not, and what the fit says of strain; and the fit against simple ways.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

#[path = "common/baselines.rs"]
mod baselines;
mod common;
#[path = "common/lines.rs"]
mod lines;

use baselines::{Baseline, baseline};
use common::{Dice, eighths, midi_eighths, notes, riff_of};
use riffkin_fretboard::fit::{best, fit};
use riffkin_fretboard::hand::{Effort, Hand, HandSize, Level, OpenStrings, Plucking};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::{Note, Place};
use riffkin_score::tempo::Tempo;
use riffkin_score::value::Shape;

fn four() -> Neck {
    Neck::named("four").unwrap()
}

#[test]
fn equal_settings_give_equal_fits() {
    let mut dice = Dice(50);
    let size = HandSize::Medium.widest_mm();
    let hands = [
        Hand::sized(HandSize::Medium),
        Hand::default().with_span(105.0, size).unwrap(),
        Hand::default().with_level(Level::Intermediate).with_plucking(Plucking::Any).with_switch_fret(5),
    ];
    for _ in 0..40 {
        let riff = lines::line(&mut dice, &four());
        let fits = hands.clone().map(|h| best(&riff, &four(), &h, 3).unwrap());
        assert!(fits.iter().all(|f| *f == fits[0]));
        // The other way round is a picture.
        assert_eq!(best(&riff, &four().left_handed(true), &hands[0], 3).unwrap(), fits[0]);
    }
}

#[test]
fn measured_hands_get_the_switch_point_that_suits_them() {
    // Four frets of 34 inches span 129.7 mm at fret 1, 102.9 at 5, 91.7 at 7 (L (1 - 2^(-n/12))).
    for (mm, fret) in [(170.0, 1), (136.0, 5), (119.0, 7), (90.0, 12)] {
        let hand = Hand::measured(mm).unwrap();
        assert_eq!((hand.widest_mm(), hand.switch_fret()), (mm, fret), "{mm}");
    }
    assert!(
        Hand::measured(40.0).is_err() && Hand::measured(f64::NAN).is_err() && Hand::measured(1e9).is_err()
    );
    assert_eq!(Hand::sized(HandSize::Small), Hand::small());
}

/// A wider hand and a more advanced player never find a line harder.
#[test]
fn more_reach_and_more_practice_never_cost_more() {
    let mut dice = Dice(51);
    for _ in 0..60 {
        let riff = lines::line(&mut dice, &four());
        let cost = |hand: Hand| fit(&riff, &four(), &hand).unwrap().cost;
        let spans = [(92.0, 118.0), (105.0, 136.0), (118.0, 152.0)]
            .map(|(c, w)| cost(Hand::default().with_span(c, w).unwrap()));
        assert!(spans.windows(2).all(|w| w[1] <= w[0] + 1e-9), "{spans:?}");
        let levels = [Level::Beginner, Level::Intermediate, Level::Advanced]
            .map(|l| cost(Hand::default().with_level(l)));
        assert!(levels.windows(2).all(|w| w[1] <= w[0] + 1e-9), "{levels:?}");
    }
}

/// The capo is the nut: tuned and written as much higher, all lies where it lay, but for the switch point, which
/// belongs to the frets of the board.
#[test]
fn with_a_capo_the_riff_lies_where_it_lay() {
    let mut dice = Dice(52);
    for _ in 0..40 {
        let notes: Vec<u8> = (0..12).map(|_| 28 + dice.below(20) as u8).collect();
        let up: Vec<u8> = notes.iter().map(|n| n + 2).collect();
        let capo = four().with_capo(2).unwrap();
        let short =
            Neck::new("short", four().strings().to_vec(), 18, capo.scale_mm() * 2f64.powf(-2.0 / 12.0));
        let (a, b) = (
            fit(&midi_eighths(&up), &capo, &Hand::default().with_switch_fret(7)).unwrap(),
            fit(&midi_eighths(&notes), &short.unwrap(), &Hand::default()).unwrap(),
        );
        assert_eq!(a.notes, b.notes);
    }
}

#[test]
fn plucking_styles_count_what_they_say() {
    let amount = |plucking, effort, places: &[(u8, u8)]| {
        let line: Vec<Option<Note>> = places
            .iter()
            .map(|&(string, fret)| {
                let place = Place { string, fret };
                let midi = four().sounding(place).unwrap().number();
                Some(Note { place: Some(place), ..common::midi_note(midi) })
            })
            .collect();
        let hand = Hand::default().with_plucking(plucking);
        let fit = fit(&riff_of(Shape::Eighth, &line), &four(), &hand).unwrap();
        fit.efforts.iter().find(|e| e.0 == effort).map_or(0.0, |e| e.1)
    };
    // Down across the strings: three changes, raked for nothing; a string skipped is not raked.
    let down = [(1, 7), (2, 7), (3, 7), (4, 7)];
    assert_eq!(amount(Plucking::Any, Effort::StringChange, &down), 3.0);
    assert_eq!(amount(Plucking::Raking, Effort::StringChange, &down), 0.0);
    assert_eq!(amount(Plucking::Raking, Effort::StringChange, &[(1, 7), (3, 7)]), 1.0);
    assert_eq!(amount(Plucking::Raking, Effort::StringChange, &[(4, 7), (3, 7)]), 1.0);
    // Strictly in turn, first finger first: up to the second note the second finger leads, which suits a higher
    // string and not a lower one.
    assert_eq!(amount(Plucking::Alternating, Effort::CrossedPluck, &[(4, 7), (3, 7)]), 0.0);
    assert_eq!(amount(Plucking::Alternating, Effort::CrossedPluck, &[(3, 7), (4, 7)]), 1.0);
    assert_eq!(amount(Plucking::Alternating, Effort::CrossedPluck, &[(3, 7), (3, 9), (4, 7)]), 0.0);
    assert_eq!(amount(Plucking::Any, Effort::CrossedPluck, &[(3, 7), (4, 7)]), 0.0);
}

#[test]
fn long_passages_without_relief_are_flagged() {
    let slow = |rest: bool| {
        let mut line = notes(&"A1 C2 D2 E2 ".repeat(8));
        if rest {
            (line[12], line[24]) = (None, None);
        }
        let riff = riff_of(Shape::Half, &line);
        let mut header = riff.header().clone();
        header.tempo = Tempo::quarters(90.0).unwrap();
        fit(&riff.with_header(header), &four(), &Hand::default().with_open_strings(OpenStrings::Refused))
            .unwrap()
    };
    // 32 half notes at 90 last 42.7 s.
    let said: Vec<String> = slow(false).cautions.iter().map(ToString::to_string).collect();
    assert_eq!(
        said,
        [
            "bar 1, beat 1: from here to bar 16, beat 3 no rest and no open string relieves the hand for 43 s; keep it loose, take breaks, and stop when it hurts"
        ]
    );
    assert!(slow(true).cautions.is_empty(), "rests after 16 s: {:?}", slow(true).cautions);
    assert!(fit(&eighths("A1 C2 D2 E2"), &four(), &Hand::default()).unwrap().cautions.is_empty());
}

#[test]
fn another_choice_says_what_sets_it_apart() {
    let fits = best(&eighths("C2 E2 G2 A2 C3 A2 G2 E2"), &four(), &Hand::default(), 3).unwrap();
    assert!(fits.len() == 3 && fits[0].apart.is_empty());
    for fit in &fits[1..] {
        assert!(
            fit.apart[0].contains("around fret") && fit.apart[0].contains("instead of"),
            "{:?}",
            fit.apart
        );
        assert!(fit.cost >= fits[0].cost - 1e-9);
    }
    let open = best(&eighths("A1 C2 D2 E2 G2 A2 G2 E2"), &four(), &Hand::default(), 6).unwrap();
    let said: Vec<&String> = open.iter().flat_map(|f| &f.apart).collect();
    assert!(said.iter().any(|s| s.contains("open string")), "{said:?}");
}

/// A thousand lines, effort by effort, by `cargo run --release -p riffkin-fretboard --example baselines`.
#[test]
fn simple_ways_cost_more() {
    let mut dice = Dice(53);
    let mut better = [0; 2];
    for _ in 0..120 {
        let riff = lines::line(&mut dice, &four());
        let hand = Hand::default().with_open_strings(OpenStrings::Welcome);
        let ours = fit(&riff, &four(), &hand).unwrap().cost;
        for (k, way) in [Baseline::LowestFret, Baseline::NearestFret].into_iter().enumerate() {
            let cost = baseline(&riff, &four(), &hand, way).cost;
            assert!(cost >= ours - 1e-9);
            better[k] += usize::from(cost > ours + 1e-9);
        }
    }
    assert!(better.iter().all(|&b| b > 80), "{better:?}");
}
