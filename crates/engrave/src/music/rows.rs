//! The rows of text over and under the music: sizes, widths, shapes around a baseline at zero.

use super::bar::{Head, Slot};
use super::spacing::AXIS;
use crate::font::{Face, TextStyle, shape, smufl, symbol_bounds};
use crate::scene::{Anchor, Item};
use crate::units::Point;
use riffkin_score::meter::Meter;
use riffkin_score::note::Mark;
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::value::Shape;

/// Least white between two texts of a row.
pub(super) const WHITE: f64 = 0.7;

pub(super) const CHORD: TextStyle = TextStyle::new(Face::Bold, 2.5);
pub(super) const FRET: TextStyle = TextStyle::new(Face::Bold, 2.05);
pub(super) const DEGREE: TextStyle = TextStyle::new(Face::Roman, 2.1);
pub(super) const ROOT: TextStyle = TextStyle::new(Face::Bold, 2.1);
pub(super) const FINGER: TextStyle = TextStyle::new(Face::Italic, 1.7);
pub(super) const WORDS: TextStyle = TextStyle::new(Face::Roman, 2.1);
pub(super) const MARK: TextStyle = TextStyle::new(Face::Bold, 1.8);
pub(super) const SMALL: TextStyle = TextStyle::new(Face::Italic, 1.7);

fn width(text: &str, style: TextStyle) -> f64 {
    shape(text, style).width
}

/// Width of a slot's chord symbol; zero without one.
pub(super) fn chord_width(slot: &Slot) -> f64 {
    slot.chord.as_ref().map_or(0.0, |c| width(c, CHORD))
}

/// Width of a slot's fret number.
pub(super) fn tab_width(slot: &Slot) -> f64 {
    slot.head().and_then(Head::tab_text).map_or(0.0, |t| width(&t, FRET))
}

/// Width of a slot's degree name.
pub(super) fn degree_width(slot: &Slot) -> f64 {
    slot.head().and_then(|h| h.degree).map_or(0.0, |d| width(&d.print(), DEGREE))
}

/// Letters over a note for the way it is struck.
pub(super) fn struck(head: &Head) -> Option<&'static str> {
    let marks = head.note.marks;
    if !head.first {
        None
    } else if marks.has(Mark::Slap) {
        Some("S")
    } else if marks.has(Mark::Pop) {
        Some("P")
    } else {
        None
    }
}

/// Width of the letters over a note.
pub(super) fn mark_width(slot: &Slot) -> f64 {
    slot.head().and_then(struck).map_or(0.0, |t| width(t, MARK))
}

/// A text centred on a head's axis.
pub(super) fn centred(text: impl Into<String>, x: f64, style: TextStyle) -> Item {
    Item::text(text, Point::new(x + AXIS, 0.0), style, Anchor::Middle)
}

/// A text that begins at `x`.
pub(super) fn starting(text: impl Into<String>, x: f64, style: TextStyle) -> Item {
    Item::text(text, Point::new(x, 0.0), style, Anchor::Start)
}

/// Columns of digits that a meter takes.
pub(super) fn meter_columns(meter: Meter) -> f64 {
    if meter.beats() >= 10 || meter.unit() >= 10 { 2.0 } else { 1.0 }
}

/// Digits of a meter, centred on `x`, on the staff.
pub(super) fn meter_symbols(meter: Meter, x: f64) -> Vec<Item> {
    let mut out = Vec::new();
    for (number, y) in [(meter.beats(), -1.0), (meter.unit(), 1.0)] {
        let digits: Vec<char> =
            number.to_string().chars().filter_map(|c| c.to_digit(10)).map(smufl::time_sig_digit).collect();
        let total: f64 = digits.iter().map(|d| symbol_bounds(*d).right + 0.08).sum();
        let mut at = x - total / 2.0;
        for d in digits {
            out.push(Item::symbol(d, Point::new(at, y), 1.0));
            at += symbol_bounds(d).right + 0.08;
        }
    }
    out
}

/// `♩ = 96`, and the swing when it is not straight; begins at `x`.
pub(super) fn tempo_items(tempo: Tempo, feel: Option<Feel>, x: f64) -> Vec<Item> {
    let unit = tempo.unit();
    let symbol = match unit.shape() {
        Shape::Breve | Shape::Whole | Shape::Half => smufl::MET_NOTE_HALF_UP,
        Shape::Quarter => smufl::MET_NOTE_QUARTER_UP,
        Shape::Eighth => smufl::MET_NOTE_8TH_UP,
        _ => smufl::MET_NOTE_16TH_UP,
    };
    const SPACE: f64 = 0.72;
    let mut out = vec![Item::symbol(symbol, Point::new(x, 0.0), SPACE)];
    let mut at = x + symbol_bounds(symbol).right * SPACE + 0.15;
    for _ in 0..unit.dots() {
        out.push(Item::symbol(smufl::MET_AUGMENTATION_DOT, Point::new(at, 0.0), SPACE));
        at += 0.4;
    }
    let number = tempo.per_minute();
    let number = if number.fract() == 0.0 { format!("{number:.0}") } else { format!("{number:.1}") };
    let mut text = format!(" = {number}");
    if let Some(Feel::Swing(s)) = feel {
        let notes = if s.sixteenths() { "sixteenths" } else { "eighths" };
        text = format!("{text},  swung {notes} {} : {}", s.long(), s.short());
    }
    out.push(starting(text, at, WORDS));
    out
}
