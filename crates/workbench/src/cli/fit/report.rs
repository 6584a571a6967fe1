//! Fits as JSON (docs/json.md) and as text for a terminal.

use std::fmt::Write as _;

use riffkin_fretboard::fit::{Fit, Touch};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::Learned;
use riffkin_score::riff::Riff;
use serde::Serialize;

use super::About;
use crate::cli::json::{VERSION, said};
use crate::cli::neck::offers::{Laid, OfferJson};

#[derive(Serialize)]
pub(super) struct FitsJson {
    version: u32,
    neck: String,
    fits: Vec<FitJson>,
    adapted: Vec<String>,
    offers: Vec<OfferJson>,
    taste: Vec<String>,
    learned: Option<LearnedJson>,
}

#[derive(Serialize)]
struct FitJson {
    cost: f64,
    efforts: Vec<EffortJson>,
    reasons: Vec<String>,
    apart: Vec<String>,
    cautions: Vec<String>,
    warnings: Vec<String>,
    notes: Vec<FittedJson>,
}

#[derive(Serialize)]
struct EffortJson {
    effort: &'static str,
    amount: f64,
    cost: f64,
}

#[derive(Serialize)]
struct FittedJson {
    midi: u8,
    string: u8,
    fret: u8,
    finger: u8,
    position: u8,
    dead: bool,
    bar: u32,
    beat: String,
}

#[derive(Serialize)]
struct LearnedJson {
    notes: usize,
    before: f64,
    after: f64,
}

/// The fits of a riff for a hand as JSON.
pub(super) fn json(
    riff: &Riff,
    neck: &Neck,
    hand: &Hand,
    fits: &[Fit],
    laid: &Laid,
    about: &About<'_>,
) -> FitsJson {
    let line = riff.line();
    let note = |n: &riffkin_fretboard::fit::FittedNote| {
        Some(FittedJson {
            midi: line.get(n.line)?.note.pitch.midi().number(),
            string: n.place.string,
            fret: n.place.fret,
            finger: n.finger,
            position: n.position,
            bar: n.at.bar,
            beat: n.at.beat.to_string(),
            dead: n.touch == Touch::Dead,
        })
    };
    let one = |fit: &Fit| FitJson {
        cost: fit.cost,
        efforts: fit
            .efforts
            .iter()
            .map(|&(effort, amount)| EffortJson {
                effort: effort.key(),
                amount,
                cost: amount * hand.weight(effort),
            })
            .collect(),
        reasons: fit.reasons.clone(),
        apart: fit.apart.clone(),
        cautions: said(&fit.cautions),
        warnings: said(&fit.warnings),
        notes: fit.notes.iter().filter_map(note).collect(),
    };
    FitsJson {
        version: VERSION,
        neck: neck.name().to_owned(),
        fits: fits.iter().map(one).collect(),
        adapted: said(&laid.adapted),
        offers: laid.json(),
        taste: about.opinions.clone(),
        learned: about.learned.map(|Learned { before, after, .. }| LearnedJson {
            notes: after.notes,
            before: before.of_places(),
            after: after.of_places(),
        }),
    }
}

/// Each fit with its reasons, and a line for every note.
pub(super) fn text(riff: &Riff, neck: &Neck, fits: &[Fit]) -> String {
    let line = riff.line();
    let mut out = String::new();
    for (i, fit) in fits.iter().enumerate() {
        if fits.len() > 1 {
            let _ = writeln!(out, "{}Fit {} (effort {:.1})", if i > 0 { "\n" } else { "" }, i + 1, fit.cost);
        }
        if !fit.apart.is_empty() {
            let _ = writeln!(out, "against the first: {}", fit.apart.join("; "));
        }
        for reason in &fit.reasons {
            let _ = writeln!(out, "{reason}");
        }
        for caution in &fit.cautions {
            let _ = writeln!(out, "caution: {caution}");
        }
        for warning in &fit.warnings {
            let _ = writeln!(out, "note: {warning}");
        }
        let _ = writeln!(out, "{:18} {:6} {:7} {:>4} {:>6}", "place", "pitch", "string", "fret", "finger");
        for note in &fit.notes {
            let string = neck.open(note.place.string).map_or_else(String::new, |p| p.name().to_string());
            let pitch = line.get(note.line).map_or_else(String::new, |n| n.note.pitch.to_string());
            let (fret, finger) = match note.touch {
                Touch::Dead => ("x".to_owned(), String::new()),
                _ => (note.place.fret.to_string(), note.finger.to_string()),
            };
            let at = note.at.to_string();
            let string = format!("{} {string}", note.place.string);
            let _ = writeln!(
                out,
                "{}",
                format!("{at:18} {pitch:6} {string:<7} {fret:>4} {finger:>6}").trim_end()
            );
        }
    }
    out
}
