//! `riffkin neck`: what a neck is, and what lies where on it.

pub(super) mod args;
pub(super) mod json;
mod map;
pub(super) mod offers;
mod picture;
mod text;

use std::ops::RangeInclusive;

use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::Map;
use riffkin_score::note::Place;

use super::{Failure, deliver, output, say};

/// What was asked for, read and checked.
struct Shown {
    neck: Neck,
    /// Frets that are looked at; 0 the open strings.
    frets: RangeInclusive<u8>,
    /// `None` when nothing but the neck itself was asked for.
    map: Option<Map>,
    /// Frets at which a hand can play the whole scale without moving.
    positions: Vec<u8>,
    /// The roots of a progression in order, by the least travel.
    way: Vec<Place>,
}

pub(super) fn run(words: &args::Neck) -> Result<(), Failure> {
    let Some(name) = &words.neck else {
        let map = words.scale.as_ref().or(words.chord.as_ref()).or(words.from.as_ref());
        if let Some(asked) = map.or(words.numerals.as_ref()).or(words.degrees.as_ref()) {
            let advice = "name the neck first, such as riffkin neck four";
            return Err(Failure::Words(format!("on which neck is '{asked}' to lie? {advice}")));
        }
        let own = super::read::own_necks();
        let as_json = || super::json::text(&json::names(&own));
        return deliver(words.out.as_deref(), words.json, as_json, || text::names(&own));
    };
    let neck = super::neck(name)?;
    let shown = map::read(neck, words)?;
    let ending = words.out.as_ref().and_then(|o| o.extension()).unwrap_or_default();
    if let (Some(out), true) = (&words.out, ending.eq_ignore_ascii_case("svg")) {
        let picture = picture::svg(&shown, words.upright, words.names);
        output::write_whole(out, picture.as_bytes())?;
        return if words.json { say(&super::json::text(&json::neck(&shown))) } else { Ok(()) };
    }
    if let Some(out) = words.out.as_ref().filter(|out| !super::is_report(out)) {
        return Err(Failure::Words(format!("{}: a neck is written as .svg, .txt or .json", out.display())));
    }
    let as_json = || super::json::text(&json::neck(&shown));
    deliver(words.out.as_deref(), words.json, as_json, || text::neck(&shown))
}
