//! `kin`: what riffs share.

mod json;
mod source;
mod text;

use std::collections::BTreeMap;
use std::path::Path;

use riffkin_engrave::{family, svg};
use riffkin_fretboard::neck::Neck;
use riffkin_kin::degrees::Degrees;
use riffkin_kin::sought::Sought;
use riffkin_kin::stretches::Stretches;
use riffkin_score::riff::BarBeat;

use super::{Failure, args, deliver, is_report, neck_on, notice, tonic, warn};
use crate::app::kin::{self, Asked, Holder, Measure, Nearest, Relative, Typed};
use crate::app::output;
use source::Source;

pub(super) fn kin(words: &args::Kin) -> Result<(), Failure> {
    let neck = neck_on(&words.neck, words.shelf.as_deref())?;
    if words.most == 0 {
        return Err(Failure::Words("--most 0 would show nothing; give 1 or more".to_owned()));
    }
    let out = words.out.as_deref();
    if let Some(out) = out.filter(|o| !is_report(o) && !is_picture(o)) {
        return Err(Failure::Words(format!(
            "{}: kin are written as .txt or .json, families also as .svg",
            out.display()
        )));
    }
    let typed = typed(words)?;
    let picture = out.is_some_and(is_picture);
    if picture && (words.of.is_some() || typed.is_some()) {
        return Err(Failure::Words(
            "a picture shows the families of the whole folder; leave out what is asked for, or write .txt or .json"
                .to_owned(),
        ));
    }
    if let Some(of) = &words.of {
        return kin_of(words, of, &neck);
    }
    if let Some(typed) = typed {
        let rows = Source::with(words, &neck, |source| holders(source, &typed, words.most))?;
        let as_json = || super::json::text(&json::holders(&typed, &rows));
        return deliver(out, words.json, as_json, || text::holders(&typed, &rows));
    }
    let mut names = Vec::new();
    Source::with(words, &neck, |source| {
        source.each(false, &mut |_, name, imprint| names.push((name.to_owned(), imprint.set())))
    })?;
    let families = kin::families(names);
    let as_json = || super::json::text(&json::families(&families));
    if let Some(out) = out.filter(|o| is_picture(o)) {
        let groups: Vec<family::Group> =
            families.iter().map(|f| family::Group { set: f.set, riffs: f.riffs.clone() }).collect();
        let style = if words.narrow { family::Style::narrow() } else { family::Style::default() };
        let drawn = family::picture(&groups, &style);
        warn(&drawn.left_out);
        output::write_whole(out, svg::document(&drawn.scene).as_bytes())?;
        return if words.json { super::say(&as_json()) } else { Ok(()) };
    }
    deliver(out, words.json, as_json, || text::families(&families))
}

fn kin_of(words: &args::Kin, of: &Path, neck: &Neck) -> Result<(), Failure> {
    let asked_tonic = words.tonic.as_deref().map(tonic).transpose()?;
    let (riff, recording) = source::asked(words, of)?;
    let asked = Asked::new(riff, asked_tonic, neck, words.snippet || recording)?;
    if asked.imprint.notes().is_empty() {
        return Err(Failure::Could(format!(
            "{}: no note sounds in it, so there is nothing to compare",
            of.display()
        )));
    }
    if asked.imprint.is_rounded() {
        notice("note: some note values are finer than what is compared; they count as the nearest");
    }
    if Stretches::of(&asked.imprint).is_cut() {
        notice("note: it is very long; only its beginning is compared in intervals and rhythm");
    }
    let by = match words.by {
        args::By::Degrees => Measure::Degrees,
        args::By::Hand => Measure::Hand,
        args::By::Intervals => Measure::Intervals,
        args::By::Rhythm => Measure::Rhythm,
    };
    let rows = Source::with(words, neck, |source| nearest(source, &asked, of, by, words.most))?;
    let as_json = || super::json::text(&json::kin(&asked, of, by, &rows));
    deliver(words.out.as_deref(), words.json, as_json, || text::kin(&asked, &rows))
}

/// The nearest kin, compared by every measure; the file asked about is left out.
fn nearest(
    source: &Source<'_>,
    asked: &Asked,
    of: &Path,
    by: Measure,
    most: usize,
) -> Result<Vec<Relative>, Failure> {
    let itself = source.place_of(of);
    let mut nearest = Nearest::new(asked, by, most);
    source.each(by == Measure::Hand, &mut |place, name, imprint| {
        if Some(place) != itself {
            nearest.offer(place, name, imprint);
        }
    })?;
    let (places, count) = nearest.found();
    say_left_out(count, most);
    let compared = places.into_iter().map(|place| {
        let read = source.read(place)?;
        Ok(Relative::of(asked, read.file, &read.riff, &read.imprint))
    });
    compared.collect()
}

/// A riff that holds what was typed, as it is shown.
struct Row {
    name: String,
    file: String,
    degrees: Option<Degrees>,
    found: Vec<(BarBeat, u8)>,
}

/// The first riffs that hold what was typed.
fn holders(source: &Source<'_>, typed: &Typed, most: usize) -> Result<Vec<Row>, Failure> {
    let mut first: BTreeMap<u64, Holder> = BTreeMap::new();
    let mut count = 0;
    source.each(matches!(typed, Typed::Hand(_)), &mut |place, _, imprint| {
        let Some(holder) = Holder::of(typed, imprint) else { return };
        count += 1;
        first.insert(place, holder);
        if first.len() > most {
            first.pop_last();
        }
    })?;
    say_left_out(count, most);
    let rows = first.into_iter().map(|(place, holder)| {
        let read = source.read(place)?;
        Ok(Row {
            name: read.riff.header().title.clone(),
            file: read.file,
            found: holder.places(&read.riff),
            degrees: holder.degrees,
        })
    });
    rows.collect()
}

fn typed(words: &args::Kin) -> Result<Option<Typed>, Failure> {
    let off = |e: &dyn std::fmt::Display| Failure::Words(e.to_string());
    let sought = match (&words.degrees, &words.notes) {
        (Some(text), _) => Some(Sought::degrees(text).map_err(|e| off(&e))?),
        (_, Some(text)) => Some(Sought::notes(text).map_err(|e| off(&e))?),
        _ => None,
    };
    if let Some(sought) = sought {
        return Ok(Some(if words.any_order { Typed::AnyOrder(sought) } else { Typed::InOrder(sought) }));
    }
    let Some(steps) = &words.hand else { return Ok(None) };
    let shape: riffkin_fretboard::hand_shape::HandShape =
        steps.parse().map_err(|e: riffkin_fretboard::hand_shape::NotAHandShape| off(&e))?;
    if shape.is_empty() {
        return Err(Failure::Words("--hand needs a step or more, such as 0:0 0:3 1:0".to_owned()));
    }
    Ok(Some(Typed::Hand(shape)))
}

fn say_left_out(count: usize, most: usize) {
    if count > most {
        notice(&format!("note: {} more are not shown; --most {count} shows all", count - most));
    }
}

fn is_picture(out: &Path) -> bool {
    out.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"))
}

/// The name of a measure, in text and JSON.
fn measure(by: Measure) -> &'static str {
    match by {
        Measure::Degrees => "degrees",
        Measure::Hand => "hand",
        Measure::Intervals => "intervals",
        Measure::Rhythm => "rhythm",
    }
}
