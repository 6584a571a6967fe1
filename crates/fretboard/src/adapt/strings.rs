//! Another tuning of the same instrument, or an instrument with more strings.

use riffkin_score::pitch::Pitch;
use riffkin_score::riff::Riff;

use super::{Adaptation, Kind, Measure, start_of};
use crate::fit::missing;
use crate::neck::{Neck, lowered};

/// Every usual tuning of as many strings that has the notes, and the neck's own strings, or its lowest, a semitone or
/// a whole tone lower, or without its capo: the fewest strings retuned first, then the fewest semitones, then in the
/// order of [`Neck::NAMES`].
pub(super) fn tunings(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    let own = neck.tuned();
    let usual = Neck::NAMES.iter().filter_map(|name| Neck::named(name).ok());
    let mut tunings: Vec<Vec<Pitch>> = vec![own.to_vec()];
    let lower = [1, 2].into_iter().flat_map(|by| {
        let lowest = own.len().saturating_sub(1);
        let one = own.iter().enumerate().map(|(i, &p)| if i == lowest { lowered(p, by) } else { Some(p) });
        let all = own.iter().map(|&p| lowered(p, by));
        [one.collect::<Option<Vec<_>>>(), all.collect()]
    });
    tunings.extend(usual.map(|n| n.tuned().to_vec()).filter(|t| t.len() == own.len()));
    tunings.extend(lower.flatten());
    let mut offers: Vec<Adaptation> = Vec::new();
    let mut seen: Vec<Vec<u8>> = Vec::new();
    for (i, tuned) in tunings.into_iter().enumerate() {
        let sounding: Vec<u8> = tuned.iter().map(|p| p.midi().number()).collect();
        if seen.contains(&sounding) {
            continue;
        }
        seen.push(sounding);
        // The first is the own tuning: of use where a capo can go.
        if i == 0 && neck.capo() == 0 {
            continue;
        }
        let other = neck.retuned(tuned).and_then(|n| n.with_capo(0));
        let Ok(other) = other.map(|n| {
            let name = n.to_string();
            n.called(&name)
        }) else {
            continue;
        };
        if missing(riff, &other).is_empty() {
            offers.push(offer(riff, neck, other, Kind::Tuning));
        }
    }
    offers.sort_by_key(|o| match o.measure {
        Measure::Tuning { strings, semitones } => (strings, semitones),
        _ => (u32::MAX, 0),
    });
    offers
}

/// Usual necks with more strings that have the notes, the fewest strings first, for the same hand.
pub(super) fn more_strings(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    let mut offers: Vec<Adaptation> = Neck::NAMES
        .iter()
        .filter_map(|name| Neck::named(name).ok())
        .filter(|n| n.string_count() > neck.string_count())
        .map(|n| n.left_handed(neck.is_left_handed()).fretless(neck.is_fretless()))
        .filter(|n| missing(riff, n).is_empty())
        .map(|n| {
            let name = n.to_string();
            offer(riff, neck, n.called(&name), Kind::MoreStrings)
        })
        .collect();
    offers.sort_by_key(|o| o.neck.string_count());
    offers
}

fn offer(riff: &Riff, neck: &Neck, other: Neck, kind: Kind) -> Adaptation {
    let strings: Vec<String> = other.strings().iter().rev().map(|p| p.name().to_string()).collect();
    let moved = neck.tuned().iter().zip(other.tuned());
    let apart: Vec<u32> =
        moved.map(|(a, b)| u32::from(a.midi().number().abs_diff(b.midi().number()))).collect();
    let measure = match kind {
        Kind::MoreStrings => {
            Measure::MoreStrings { strings: u32::from(other.string_count() - neck.string_count()) }
        }
        _ => Measure::Tuning {
            strings: apart.iter().filter(|&&a| a > 0).count() as u32,
            semitones: apart.iter().sum(),
        },
    };
    let capo = if neck.capo() > 0 { ", without the capo" } else { "" };
    let words = format!("as written on the neck '{}', strings {}{capo}", other.name(), strings.join(" "));
    Adaptation { kind, riff: riff.clone(), neck: other, changes: vec![(start_of(riff), words)], measure }
}
