//! The same figure fingered the same way, against trying all ways.
#![allow(clippy::unwrap_used, reason = "a failed helper is a failed test")]

mod common;

use common::{Dice, eighths, midi_note, written};
use riffkin_fretboard::fit::{Alike, Fit, USUAL_PRICE, alike, alike_wished, fit, wished, written_into};
use riffkin_fretboard::hand::{Hand, OpenStrings};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::wishes::Wish;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Event, Note};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::value::{NoteValue, Shape};

/// Bars of three quarter notes.
fn bars_of_three(bars: &[[u8; 3]]) -> Riff {
    let quarter = NoteValue::plain(Shape::Quarter);
    let meter: Meter = "3/4".parse().unwrap();
    let bar = |b: &[u8; 3]| Bar::new(meter, b.iter().map(|&m| Event::note(quarter, midi_note(m))).collect());
    Riff::new(Header::default(), bars.iter().map(bar).collect()).unwrap()
}

fn closed() -> Hand {
    Hand::default().with_open_strings(OpenStrings::Refused)
}

/// A riff with a way to play three notes written at some of the bars that have the figure.
fn with_way(riff: &Riff, way: &[(u8, u8)], at: &[usize], neck: &Neck) -> Riff {
    let (header, mut bars) = riff.clone().into_parts();
    for &b in at {
        for (event, &(string, finger)) in bars[b].events.iter_mut().zip(way) {
            let note: &mut Note = event.note.as_mut().unwrap();
            note.place = neck.places(note.pitch.midi()).into_iter().find(|p| p.string == string);
            note.finger = Some(finger);
        }
    }
    Riff::new(header, bars).unwrap()
}

/// The least of cost and price over every way to play the figure and every set of bars that follow it.
fn by_trying_all(riff: &Riff, figure: &[usize], neck: &Neck, hand: &Hand, price: f64) -> f64 {
    let notes: Vec<Note> = riff.bars()[figure[0]].events.iter().map(|e| e.note.unwrap()).collect();
    let mut ways: Vec<Vec<(u8, u8)>> = vec![Vec::new()];
    for note in &notes {
        let choices: Vec<(u8, u8)> = neck
            .places(note.pitch.midi())
            .into_iter()
            .filter(|p| p.fret > 0)
            .flat_map(|p| (1..=4).map(move |finger| (p.string, finger)))
            .collect();
        ways =
            ways.iter().flat_map(|w| choices.iter().map(move |&c| [w.as_slice(), &[c]].concat())).collect();
    }
    let mut least = f64::INFINITY;
    for way in &ways {
        for set in 1usize..1 << figure.len() {
            let at: Vec<usize> = (0..figure.len()).filter(|k| set >> k & 1 == 1).map(|k| figure[k]).collect();
            let fit = fit(&with_way(riff, way, &at, neck), neck, hand).unwrap();
            if fit.warnings.is_empty() {
                least = least.min(fit.cost + price * (figure.len() - at.len()) as f64);
            }
        }
    }
    least
}

fn worth(alike: &Alike, price: f64) -> f64 {
    let others = alike.figures.iter().flat_map(|f| &f.same).filter(|same| !**same).count();
    alike.fits.iter().map(|f| f.cost).sum::<f64>() + price * others as f64
}

#[test]
fn equals_trying_all_ways() {
    let neck = Neck::named("four").unwrap();
    let mut dice = Dice(31);
    let mut torn = 0;
    for i in 0..4 {
        let mut pitch = |low: u64, span: u64| 29 + (low + dice.below(span)) as u8;
        let figure = [pitch(6, 8), pitch(6, 8), pitch(6, 8)];
        // Low notes about it the first time, high ones the second: it is drawn to different places.
        let low = [[pitch(0, 5), pitch(0, 5), 29], [30, pitch(0, 5), pitch(0, 5)]];
        let high = [[pitch(20, 10), pitch(20, 10), 50], [51, pitch(20, 10), pitch(20, 10)]];
        let riff = bars_of_three(&[low[0], figure, low[1], high[0], figure, high[1]]);
        let free = fit(&riff, &neck, &closed()).unwrap();
        for price in [0.7, USUAL_PRICE] {
            let found = alike(&[&riff], &neck, &closed(), price).unwrap();
            assert!(found.exact);
            let bars: Vec<Vec<usize>> =
                found.figures.iter().map(|f| f.occurrences.iter().map(|o| o.from / 3).collect()).collect();
            assert_eq!(bars, [[1, 4]]);
            let least = by_trying_all(&riff, &[1, 4], &neck, &closed(), price);
            assert!(
                (worth(&found, price) - least).abs() < 1e-6,
                "riff {i}: {} and {least}",
                worth(&found, price)
            );
            torn += usize::from(worth(&found, price) > free.cost + 1e-6);
        }
    }
    assert!(torn > 1, "{torn}");
}

#[test]
fn a_figure_is_fingered_alike_in_two_riffs_and_who_differs_is_told() {
    let neck = Neck::named("four").unwrap();
    let figure = "C2 E2 G2 A2 C3 A2 G2 E2";
    let high = eighths(&format!("C3 E3 G3 A3 G3 E3 D3 C3 {figure} C3 E3 G3 E3 C3 E3 G3 E3"));
    let low = eighths(&format!("G1 A1 B1 C2 B1 A1 G1 A1 {figure}"));
    let apart = [fit(&high, &neck, &closed()).unwrap(), fit(&low, &neck, &closed()).unwrap()];
    let figure_of = |fits: &[Fit]| {
        let words = |f: &Fit| written(f).split(' ').skip(8).take(8).map(str::to_owned).collect::<Vec<_>>();
        (words(&fits[0]), words(&fits[1]))
    };
    let (a, b) = figure_of(&apart);
    assert_ne!(a, b, "the example must tear the figure apart");
    let dear = alike(&[&high, &low], &neck, &closed(), 1000.0).unwrap();
    let (a, b) = figure_of(&dear.fits);
    assert_eq!(a, b);
    assert!(dear.exact && dear.figures[0].same == [true, true]);
    assert!(dear.fits.iter().all(|f| f.warnings.is_empty()));
    let cheap = alike(&[&high, &low], &neck, &closed(), 0.01).unwrap();
    assert_eq!(cheap.figures[0].same.iter().filter(|s| !**s).count(), 1);
    let said: Vec<String> = cheap.fits.iter().flat_map(|f| &f.warnings).map(ToString::to_string).collect();
    assert_eq!(said.len(), 1);
    assert!(said[0].contains("fingered otherwise than the same figure at bar"), "{said:?}");
    let costs = |fits: &[Fit]| fits.iter().map(|f| f.cost).sum::<f64>();
    assert!((costs(&cheap.fits) - costs(&apart)).abs() < 1e-9);
    assert!(costs(&dear.fits) >= costs(&apart) - 1e-9);
}

#[test]
fn without_figures_it_is_the_fit() {
    let neck = Neck::named("five").unwrap();
    let riffs = [eighths("G1 A1 B1 C2 D2 E2 F#2 G2"), eighths("- - - -"), eighths("E1 G1 A1")];
    let together = alike(&[&riffs[0], &riffs[1], &riffs[2]], &neck, &Hand::default(), USUAL_PRICE).unwrap();
    for (riff, fitted) in riffs.iter().zip(&together.fits) {
        assert_eq!(fit(riff, &neck, &Hand::default()).unwrap(), *fitted);
    }
    assert!(together.figures.is_empty() && together.exact);
    let off = eighths("C1 E1 G1");
    let four = Neck::named("four").unwrap();
    assert_eq!(alike(&[&riffs[0], &off], &four, &Hand::default(), 1.0).unwrap_err().0, 1);
    // What a fit has written into it is fitted as it is.
    let again = written_into(&riffs[0], &together.fits[0].notes).unwrap();
    assert_eq!(alike(&[&again], &neck, &Hand::default(), 1.0).unwrap().fits[0].notes, together.fits[0].notes);
}

/// Of ways that cost the same, the one that [`fit`] takes: fingers 1 3 4 on root, fifth and octave, and not 1 4 3.
#[test]
fn of_equal_ways_the_same_is_taken() {
    let neck = Neck::named("four").unwrap();
    let hand = closed().with_switch_fret(1);
    let mut dice = Dice(77);
    let root_fifth_octave = eighths("G1 D2 G2 G2");
    let random = (0..40).map(|_| {
        let bars: Vec<[u8; 3]> = (0..3).map(|_| [0; 3].map(|_: u8| 30 + dice.below(24) as u8)).collect();
        bars_of_three(&bars)
    });
    for riff in std::iter::once(root_fifth_octave).chain(random.collect::<Vec<_>>()) {
        let together = alike(&[&riff], &neck, &hand, USUAL_PRICE).unwrap();
        if together.figures.is_empty() {
            assert_eq!(together.fits[0], fit(&riff, &neck, &hand).unwrap());
        }
    }
}

#[test]
fn wishes_are_granted_and_the_figure_follows_them_where_it_may() {
    let neck = Neck::named("four").unwrap();
    let figure = [40, 43, 45];
    let riff = bars_of_three(&[figure, [36, 36, 36], figure]);
    let wish: Wish = "bar 1: frets 9 to 12".parse().unwrap();
    let alone = &wished(&riff, &neck, &closed(), &[wish], 1).unwrap()[0];
    let places = |fit: &Fit| fit.notes.iter().map(|n| (n.place, n.finger)).collect::<Vec<_>>();
    assert_ne!(places(alone)[..3], places(alone)[6..], "by itself the wish tears the figure apart");
    let together = alike_wished(&riff, &neck, &closed(), &[wish], 1000.0).unwrap();
    let found = places(&together.fits[0]);
    assert!(found[..3].iter().all(|(place, _)| (9..=12).contains(&place.fret)));
    assert_eq!(found[..3], found[6..]);
    // Two wishes that leave no same way: both are granted, and that is said.
    let other: Wish = "bar 3: frets 1 to 5".parse().unwrap();
    let torn = alike_wished(&riff, &neck, &closed(), &[wish, other], 1000.0).unwrap();
    let found = places(&torn.fits[0]);
    assert!(found[6..].iter().all(|(place, _)| (1..=5).contains(&place.fret)), "{found:?}");
    assert!(
        torn.fits[0].warnings.iter().any(|w| w.to_string().contains("the wishes leave no same way there")),
        "{:?}",
        torn.fits[0].warnings
    );
    assert_eq!(
        alike_wished(&riff, &neck, &closed(), &[], 2.0),
        Ok(alike(&[&riff], &neck, &closed(), 2.0).unwrap())
    );
}
