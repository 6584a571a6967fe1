//! `riffkin fit`: string, fret and finger for every note, as a hand, its wishes and its taste have it.

mod report;
pub(super) mod words;

use std::fs;

use riffkin_fretboard::fit::{self, FitError};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste::{self, Corrected, Learned};
use riffkin_score::riff::Riff;

use super::{Failure, deliver, is_report, json, neck, notice, read, warn, write};
use crate::app::output;
use words::Fit;

/// Largest file that is read as a taste, in bytes.
const MOST_BYTES: u64 = 1 << 20;

pub(super) fn fit_riff(words: &Fit) -> Result<(), Failure> {
    if !(1..=fit::MOST_CHOICES).contains(&words.best) {
        return Err(Failure::Words(format!("--best {} lies outside 1 to {}", words.best, fit::MOST_CHOICES)));
    }
    let (hand, wishes) = (words.hand.hand()?, words.wishes()?);
    let taken = read::take(&words.file, &words.reading)?;
    let name =
        words.neck.clone().or_else(|| taken.riff.header().neck.clone()).unwrap_or_else(|| "four".to_owned());
    let asked = super::neck(&name)?;
    let learned = learned(words, &asked, &hand)?;
    let hand = match (&learned, &words.taste) {
        (Some(learned), _) => hand.with_weights(learned.taste),
        (None, Some(file)) => {
            let named = |e: &dyn std::fmt::Display| Failure::Could(format!("{}: {e}", file.display()));
            if fs::metadata(file).map_err(|e| named(&e))?.len() > MOST_BYTES {
                return Err(named(&"too large for a taste, which is a page of text"));
            }
            let text = fs::read_to_string(file).map_err(|e| named(&e))?;
            hand.with_weights(taste::read(&text).map_err(|e| named(&e))?)
        }
        (None, None) => hand,
    };
    let laid = neck::offers::lay(&taken.riff, &asked, words.offer)?;
    let (riff, neck) = (&laid.riff, &laid.neck);
    warn(&laid.adapted);
    let fits = if words.best == 1 && wishes.is_empty() && words.hand.same > 0.0 {
        let together = fit::alike(&[riff], neck, &hand, words.hand.same).map_err(|(_, e)| e)?;
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
        return write::riff(&fit::written_into(riff, &best.notes)?, out, Some(neck));
    }
    let opinions = taste::in_words(hand.weights());
    let about = About { opinions, learned: learned.as_ref() };
    let as_json = || json::text(&report::json(riff, neck, &hand, &fits, &laid, &about));
    let as_text = || about.text() + &laid.text() + &report::text(riff, neck, &fits);
    deliver(words.out.as_deref(), words.json, as_json, as_text)
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

/// The taste that corrected riffs show, written to the file named for it.
fn learned(words: &Fit, neck: &Neck, hand: &Hand) -> Result<Option<Learned>, Failure> {
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
            let why = fit::fit(&riff, neck, hand).err().map(|e: FitError| e.to_string()).unwrap_or_default();
            return Err(Failure::Could(format!("{}: {why}", file.display())));
        }
        riffs.push(riff);
    }
    let corrected: Vec<Corrected<'_>> = riffs.iter().map(|riff| Corrected { riff, neck }).collect();
    let learned = taste::learn(&corrected, hand)?;
    if let Some(file) = &words.taste {
        output::write_whole(file, taste::write(&learned.taste).as_bytes())?;
    }
    Ok(Some(learned))
}
