//! `riffkin fit`: string, fret and finger for every note, as a hand, its wishes and its taste have it.

mod report;
pub(super) mod words;

use std::fs;
use std::path::Path;

use riffkin_fretboard::fit::{self, FitError};
use riffkin_fretboard::hand::{Hand, Weights};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::{self, Corrected, Learned};
use riffkin_score::riff::Riff;

use super::{Failure, deliver, hand, is_report, json, neck, notice, read, warn, write};
use crate::app::output;
use words::Fit;

/// Largest file that is read as a taste, in bytes.
const MOST_BYTES: u64 = 1 << 20;

pub(super) fn fit_riff(words: &Fit) -> Result<(), Failure> {
    if !(1..=fit::MOST_CHOICES).contains(&words.best) {
        return Err(Failure::Words(format!("--best {} lies outside 1 to {}", words.best, fit::MOST_CHOICES)));
    }
    let (habits, wishes, price) = (words.hand.habits()?, words.wishes()?, words.price()?);
    let taken = read::take(&words.file, &words.reading)?;
    let name =
        words.neck.clone().or_else(|| taken.riff.header().neck.clone()).unwrap_or_else(|| "four".to_owned());
    let asked = super::neck(&name)?;
    let taste = match &words.taste {
        Some(file) if words.learn.is_empty() => Some(written_taste(file)?),
        _ if !words.learn.is_empty() => Some(Weights::default()),
        _ => None,
    };
    let hand = if words.usual { hand::said(&habits)? } else { hand::playing(&habits, taste)? };
    let learned = learned(words, &asked, &hand)?;
    let hand = match &learned {
        Some(learned) => hand.with_weights(learned.taste),
        None => hand,
    };
    let laid = neck::offers::lay(&taken.riff, &asked, words.offer)?;
    let (riff, neck) = (&laid.riff, &laid.neck);
    // On a terminal the report says it.
    if words.json || words.out.is_some() {
        warn(&laid.adapted);
    }
    let fits = if words.best == 1 && price > 0.0 {
        let together = fit::alike_wished(riff, neck, &hand, &wishes, price)?;
        if !together.exact {
            notice("note: the figures that come again offer too many ways to try them all");
        }
        together.fits
    } else {
        fit::wished(riff, neck, &hand, &wishes, words.best)?
    };
    if let (Some(out), Some(best)) = (&words.out, fits.first())
        && !is_report(out)
    {
        warn(&best.warnings);
        return write::riff(&fit::written_into(riff, &best.notes)?, out, Some((neck, &best.notes)));
    }
    let opinions = taste::in_words(hand.weights());
    let about = About { opinions, learned: learned.as_ref() };
    let as_json = || json::text(&report::json(riff, neck, &hand, &fits, &laid, &about));
    let as_text = || about.text() + &laid.text() + &report::text(riff, neck, &fits);
    deliver(words.out.as_deref(), words.json, as_json, as_text)
}

/// The taste in a file.
fn written_taste(file: &Path) -> Result<Weights, Failure> {
    let named = |e: &dyn std::fmt::Display| Failure::Could(format!("{}: {e}", file.display()));
    let unread = |e| named(&format!("the taste could not be read: {e}; check the name"));
    if fs::metadata(file).map_err(unread)?.len() > MOST_BYTES {
        return Err(named(&"too large for a taste, which is a page of text"));
    }
    let text = fs::read_to_string(file).map_err(unread)?;
    taste::read(&text).map_err(|e| named(&e))
}

/// What is to be said of the taste.
pub(super) struct About<'a> {
    /// In what it differs from the usual one.
    pub(super) opinions: Vec<String>,
    /// What was learned for it just now.
    pub(super) learned: Option<&'a Learned>,
}

impl About<'_> {
    fn text(&self) -> String {
        let mut out = String::new();
        if let Some(Learned { before, after, .. }) = self.learned {
            let percent = |share: f64| format!("{:.0} %", share * 100.0);
            out += &format!(
                "learned from {} notes: {} of their places come out now, {} before\n",
                after.notes,
                percent(after.of_places()),
                percent(before.of_places())
            );
        }
        for opinion in &self.opinions {
            out += &format!("taste: {opinion}\n");
        }
        if !out.is_empty() {
            out.push('\n');
        }
        out
    }
}

/// The taste that corrected riffs show, written to the file named for it, else kept on the shelf.
fn learned(words: &Fit, neck: &Neck, playing: &Hand) -> Result<Option<Learned>, Failure> {
    if words.learn.is_empty() {
        return Ok(None);
    }
    let mut riffs: Vec<Riff> = Vec::new();
    for file in &words.learn {
        let riff = read::take(file, &words.reading)?.riff;
        if riff.line().iter().all(|n| n.note.place.is_none()) {
            return Err(Failure::Could(format!(
                "{}: no places are written in it, so there is nothing to learn; write it with `riffkin fit {} -o corrected.riff` and put its places right",
                file.display(),
                file.display()
            )));
        }
        if !fit::missing(&riff, neck).is_empty() {
            let why =
                fit::fit(&riff, neck, playing).err().map(|e: FitError| e.to_string()).unwrap_or_default();
            return Err(Failure::Could(format!("{}: {why}", file.display())));
        }
        riffs.push(riff);
    }
    let corrected: Vec<Corrected<'_>> = riffs.iter().map(|riff| Corrected { riff, neck }).collect();
    let learned = taste::learn(&corrected, playing)?;
    match &words.taste {
        Some(file) => output::write_whole(file, taste::write(&learned.taste).as_bytes())?,
        None => hand::keep(&learned.taste)?,
    }
    Ok(Some(learned))
}
