//! `kin`: what riffs share.

mod json;
mod text;

use std::path::Path;

use riffkin_engrave::{family, svg};
use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::sought::Sought;
use riffkin_score::riff::Riff;
use riffkin_store::Access;

use super::{Failure, args, deliver, is_report, neck, notice, read, tonic, warn};
use crate::app::intake::Taken;
use crate::app::kin::{self, Asked, Measure, Typed};
use crate::app::{output, shelf};

/// A folder's riffs with their imprints.
struct Folder {
    taken: Vec<Taken>,
    imprints: Vec<Imprint>,
}

impl Folder {
    /// Of the folder that was named, else of the shelf.
    fn read(words: &args::Kin, neck: &Neck) -> Result<Self, Failure> {
        let Some(path) = &words.folder else {
            let kept = shelf::open(&shelf::place(words.shelf.clone())?, Access::Read)?;
            let (taken, imprints) = shelf::relatives(&kept, neck)?.into_iter().unzip();
            return Ok(Self { taken, imprints });
        };
        let taken = read::folder(path)?;
        let imprints: Result<_, _> = taken.iter().map(|t| Imprint::explained(&t.riff, None, neck)).collect();
        Ok(Self { imprints: imprints?, taken })
    }

    fn name(&self, place: usize) -> String {
        self.taken.get(place).map_or_else(String::new, |t| t.riff.header().title.clone())
    }

    /// Everything but one file: which of [`Folder::taken`] it is, and what the measures need.
    fn riffs<'a>(
        &'a self,
        but: Option<&'a Path>,
    ) -> impl Iterator<Item = (usize, (String, Imprint, impl FnOnce() -> Option<Riff> + 'a))> {
        let same = move |t: &Taken| {
            but.and_then(|b| b.canonicalize().ok()).is_some_and(|b| t.path.canonicalize().ok() == Some(b))
        };
        self.taken.iter().zip(&self.imprints).enumerate().filter(move |(_, (t, _))| !same(t)).map(
            |(at, (t, imprint))| {
                (at, (t.riff.header().title.clone(), imprint.clone(), || Some(t.riff.clone())))
            },
        )
    }
}

pub(super) fn kin(words: &args::Kin) -> Result<(), Failure> {
    let neck = neck(&words.neck)?;
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
    let folder = Folder::read(words, &neck)?;
    if let Some(typed) = typed {
        let (places, riffs): (Vec<usize>, Vec<_>) = folder.riffs(None).unzip();
        let mut holders = kin::holders(&typed, riffs);
        let count = holders.len();
        holders.truncate(words.most);
        say_left_out(count, words.most);
        let rows: Vec<_> = holders.iter().map(|h| (h, &folder.taken[places[h.place]])).collect();
        let as_json = || super::json::text(&json::holders(&typed, &rows));
        return deliver(out, words.json, as_json, || text::holders(&typed, &rows));
    }
    let names = folder.imprints.iter().enumerate().map(|(i, imprint)| (folder.name(i), imprint.set()));
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
    let taken = read::take(of, &args::Reading::default())?;
    let recording = taken.kind == riffkin_formats::detect::Kind::Audio;
    let asked = Asked::new(taken.riff.clone(), asked_tonic, neck, words.snippet || recording)?;
    if asked.imprint.notes().is_empty() {
        return Err(Failure::Could(format!(
            "{}: no note sounds in it, so there is nothing to compare",
            of.display()
        )));
    }
    if asked.imprint.is_rounded() {
        notice("note: some note values are finer than what is compared; they count as the nearest");
    }
    let folder = Folder::read(words, neck)?;
    let by = match words.by {
        args::By::Degrees => Measure::Degrees,
        args::By::Hand => Measure::Hand,
        args::By::Intervals => Measure::Intervals,
        args::By::Rhythm => Measure::Rhythm,
    };
    let (places, riffs): (Vec<usize>, Vec<_>) = folder.riffs(Some(of)).unzip();
    let (relatives, count) = kin::relatives(&asked, riffs, by, words.most);
    say_left_out(count, words.most);
    let rows: Vec<_> = relatives.iter().map(|r| (r, &folder.taken[places[r.place]])).collect();
    let as_json = || super::json::text(&json::kin(&asked, of, by, &rows));
    deliver(words.out.as_deref(), words.json, as_json, || text::kin(&asked, &rows))
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

/// The kind of a file, for readers.
fn file(taken: &Taken) -> String {
    taken.path.display().to_string()
}
