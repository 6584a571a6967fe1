//! Two simple ways to lay a line on a neck, to be compared with: the lowest fret for each note, and the place nearest
//! to the one before. Fingers and positions are chosen as well as the places allow.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used, reason = "each test file uses its own part")]

use riffkin_fretboard::fit::{Fit, fit};
use riffkin_fretboard::hand::{Effort, Hand};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::Place;
use riffkin_score::riff::Riff;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Baseline {
    LowestFret,
    NearestFret,
}

/// The places that a baseline takes; of two equally good ones the one on the higher string.
pub fn places(riff: &Riff, neck: &Neck, baseline: Baseline) -> Vec<Place> {
    let mut last: Option<Place> = None;
    let line = riff.line();
    let choose = |note: &riffkin_score::riff::LineNote| {
        let all = neck.places(note.note.pitch.midi());
        let place = match (baseline, last) {
            (Baseline::NearestFret, Some(l)) => all
                .into_iter()
                .min_by_key(|p| (p.fret.abs_diff(l.fret), p.string.abs_diff(l.string), p.string)),
            _ => all.into_iter().min_by_key(|p| (p.fret, p.string)),
        };
        last = place;
        place.unwrap()
    };
    line.iter().map(choose).collect()
}

/// A baseline's places under the best hand.
pub fn baseline(riff: &Riff, neck: &Neck, hand: &Hand, baseline: Baseline) -> Fit {
    let places = places(riff, neck, baseline);
    let (header, mut bars) = riff.clone().into_parts();
    let mut at = places.iter();
    for note in bars.iter_mut().flat_map(|b| &mut b.events).filter_map(|e| e.note.as_mut()) {
        note.place = at.next().copied();
    }
    let written = Riff::new(header, bars).unwrap();
    fit(&written, neck, hand).unwrap()
}

/// How much a fit has of each effort, weighed by a hand; an open string that fixes the shape counts in any case, also
/// where its place was written.
pub fn costs(fit: &Fit, hand: &Hand, movable: bool) -> [f64; Effort::ALL.len()] {
    let opens = fit.notes.iter().filter(|n| n.place.fret == 0).count() as f64;
    Effort::ALL.map(|effort| {
        let amount = match effort {
            Effort::OpenFixed => {
                if movable {
                    opens
                } else {
                    0.0
                }
            }
            _ => fit.efforts.iter().find(|e| e.0 == effort).map_or(0.0, |e| e.1),
        };
        amount * hand.weight(effort)
    })
}
