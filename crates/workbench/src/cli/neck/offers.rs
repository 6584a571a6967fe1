//! A riff laid on a neck: what was changed for it, and what else could be.

use std::fmt::Write as _;

use riffkin_fretboard::adapt::{self, Adaptation, Kind, Measure};
use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::riff::{Header, Riff};
use serde::Serialize;

use super::super::Failure;

/// A riff that lies on a neck.
pub(in super::super) struct Laid {
    /// The riff, adapted where it had to be.
    pub(in super::super) riff: Riff,
    /// The neck: the one asked for, unless another one was chosen among the offers.
    pub(in super::super) neck: Neck,
    /// What was changed, by bar and beat.
    pub(in super::super) adapted: Vec<Warning>,
    /// Everything that could be done, in order; empty when the riff lay on the neck as it was.
    offers: Vec<Adaptation>,
    /// Which of them was.
    taken: Option<usize>,
}

/// Lays a riff on a neck, which is named in its header. Where it does not fit, the offer of that number (from 1) is taken,
/// else the one that changes least.
pub(in super::super) fn lay(riff: &Riff, neck: &Neck, offer: Option<usize>) -> Result<Laid, Failure> {
    let mut laid = Laid {
        riff: riff.clone(),
        neck: neck.clone(),
        adapted: Vec::new(),
        offers: adapt::adapt(riff, neck),
        taken: None,
    };
    let count = laid.offers.len();
    let name = neck.name();
    laid.taken = match offer {
        Some(number) => match number.checked_sub(1).filter(|i| *i < count) {
            Some(index) => Some(index),
            None if count == 0 && adapt::adapted(riff, neck).1.is_empty() => {
                let words = format!("--offer {number}: the riff lies on the neck '{name}' as it is");
                return Err(Failure::Words(words));
            }
            None => {
                return Err(Failure::Words(format!(
                    "--offer {number}: write 1 to {count}\n{}",
                    list(&laid.offers, None)
                )));
            }
        },
        None => adapt::usual(&laid.offers),
    };
    match laid.taken.and_then(|i| laid.offers.get(i)) {
        Some(taken) => {
            laid.riff = taken.riff.clone();
            laid.neck = taken.neck.clone();
            laid.adapted = taken.changes.iter().map(|(at, words)| Warning::at(at, words.as_str())).collect();
        }
        None => {
            // Nothing that may be done unasked: say which note, and what could be chosen.
            let (_, said) = adapt::adapted(riff, neck);
            if let Some(why) = said.first() {
                let choices = if count == 0 {
                    String::new()
                } else {
                    format!("\nWith --offer it can be:\n{}", list(&laid.offers, None))
                };
                return Err(Failure::Could(format!("{why}{choices}")));
            }
        }
    }
    let header = Header { neck: Some(laid.neck.to_string()), ..laid.riff.header().clone() };
    laid.riff = laid.riff.with_header(header);
    Ok(laid)
}

/// The offers as a numbered list, each with its measure; the one taken is marked.
fn list(offers: &[Adaptation], taken: Option<usize>) -> String {
    let mut out = String::new();
    for (i, offer) in offers.iter().enumerate() {
        let mark = if taken == Some(i) { "  (taken)" } else { "" };
        let _ = writeln!(out, "{:>3}  {}; {}{mark}", i + 1, offer.title(), offer.measure);
    }
    out
}

impl Laid {
    /// What was taken, its changes, and what else there is; empty when nothing had to be changed.
    pub(in super::super) fn text(&self) -> String {
        if self.offers.is_empty() {
            return String::new();
        }
        let mut out = String::from("Adapted to the neck:\n");
        for warning in &self.adapted {
            let _ = writeln!(out, "     {warning}");
        }
        out.push_str("Offers, to be chosen with --offer:\n");
        out.push_str(&list(&self.offers, self.taken));
        out.push('\n');
        out
    }

    /// The offers for JSON.
    pub(in super::super) fn json(&self) -> Vec<OfferJson> {
        self.offers.iter().enumerate().map(|(i, offer)| one(offer, i + 1, self.taken == Some(i))).collect()
    }
}

/// One offer.
#[derive(Serialize)]
pub(in super::super) struct OfferJson {
    offer: usize,
    kind: &'static str,
    title: String,
    taken: bool,
    neck: String,
    measure: String,
    weight: Option<u32>,
    notes_moved: Option<u32>,
    turns: Option<u32>,
    semitones: Option<i32>,
    changes: Vec<ChangeJson>,
}

#[derive(Serialize)]
struct ChangeJson {
    bar: u32,
    beat: String,
    what: String,
}

fn one(offer: &Adaptation, number: usize, taken: bool) -> OfferJson {
    let moved = match offer.measure {
        Measure::Moved(change) => Some(change),
        _ => None,
    };
    OfferJson {
        offer: number,
        kind: match offer.kind {
            Kind::Octave(_) => "octave",
            Kind::Key(_) => "key",
            Kind::Phrases(_) => "phrases",
            Kind::Notes(_) => "notes",
            Kind::Tuning => "tuning",
            Kind::MoreStrings => "more strings",
        },
        title: offer.title(),
        taken,
        neck: offer.neck.to_string(),
        measure: offer.measure.to_string(),
        weight: moved.map(|c| c.weight()),
        notes_moved: moved.map(|c| c.notes),
        turns: moved.map(|c| c.all_turns()),
        semitones: match offer.kind {
            Kind::Octave(octaves) => Some(12 * i32::from(octaves)),
            Kind::Key(semitones) => Some(semitones),
            _ => None,
        },
        changes: offer
            .changes
            .iter()
            .map(|(at, what)| ChangeJson { bar: at.bar, beat: at.beat.to_string(), what: what.clone() })
            .collect(),
    }
}
