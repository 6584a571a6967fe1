//! What speaks for and against a fit, in words.

use riffkin_score::Warning;
use riffkin_score::note::{Approach, Mark};

use super::Touch;
use super::choice::PASSAGE;
use super::cost::{Costs, mark_done};
use super::moment::Moment;
use super::spots::Spot;
use crate::neck::Neck;

/// Shifts named one by one; more are only counted.
const NAMED_SHIFTS: usize = 4;

/// The reasons of a way.
pub(super) fn reasons(neck: &Neck, costs: &Costs, moments: &[Moment], way: &[Spot]) -> Vec<String> {
    if way.is_empty() {
        return vec!["nothing but rests".to_owned()];
    }
    let shifts = shifts(moments, way);
    let mut reasons = vec![region(way, shifts.is_empty())];
    reasons.push(shift_words(&shifts));
    reasons.push(stretch_words(costs, moments, way));
    reasons.push(open_words(neck, costs, way));
    reasons
}

fn region(way: &[Spot], still: bool) -> String {
    let frets = || way.iter().filter(|s| s.holds()).map(|s| s.place.fret);
    let all = if still { "all " } else { "" };
    match (frets().min(), frets().max()) {
        (Some(low), Some(high)) if low == high => format!("{all}at fret {low}"),
        (Some(low), Some(high)) if still => format!("all within frets {low} to {high}"),
        (Some(low), Some(high)) => format!("between frets {low} and {high}"),
        _ => "no string is stopped".to_owned(),
    }
}

/// Each shift in words of where it happens.
fn shifts(moments: &[Moment], way: &[Spot]) -> Vec<(String, bool)> {
    let mut found = Vec::new();
    for (i, pair) in way.windows(2).enumerate() {
        let (from, to, moment) = (pair[0], pair[1], &moments[i + 1]);
        if from.position == to.position {
            continue;
        }
        let bar = moment.at.bar;
        let slide = matches!(moment.note.approach, Approach::Slide | Approach::SlidePlucked);
        found.push(match to.touch {
            Touch::Open => (format!("on the open string in bar {bar}"), true),
            Touch::Dead => (format!("on the dead note in bar {bar}"), true),
            _ if slide && mark_done(moment, from, to) => (format!("by the slide in bar {bar}"), false),
            _ if moment.after_rest => (format!("across the rest before {}", moment.at), true),
            _ => (format!("at {}", moment.at), false),
        });
    }
    found
}

fn shift_words(shifts: &[(String, bool)]) -> String {
    let named = shifts.iter().map(|s| s.0.as_str()).collect::<Vec<_>>();
    let easy = shifts.iter().filter(|s| s.1).count();
    match shifts.len() {
        0 => "no shift".to_owned(),
        1 => format!("one shift, {}", named.concat()),
        n if n <= NAMED_SHIFTS => format!("{n} shifts: {}", named.join("; ")),
        n => format!("{n} shifts, {easy} of them across rests, open strings or dead notes"),
    }
}

fn stretch_words(costs: &Costs, moments: &[Moment], way: &[Spot]) -> String {
    let mut count = 0;
    let mut widest: Option<(f64, &Moment, Spot)> = None;
    for (moment, &spot) in moments.iter().zip(way) {
        let excess = costs.excess_mm(spot);
        if excess > 0.0 {
            count += 1;
            if widest.is_none_or(|w| excess > w.0) {
                widest = Some((excess, moment, spot));
            }
        }
    }
    let Some((_, moment, spot)) = widest else { return "no stretch".to_owned() };
    let mm = costs.span_mm(spot);
    let span = format!("{mm:.0} mm (frets {} to {}) at {}", spot.position, spot.place.fret, moment.at);
    match count {
        1 => format!("one stretch of {span}"),
        n => format!("{n} stretches, the widest {span}"),
    }
}

fn open_words(neck: &Neck, costs: &Costs, way: &[Spot]) -> String {
    let open = |string: u8| way.iter().any(|s| s.touch == Touch::Open && s.place.string == string);
    let names: Vec<String> = (1..=neck.string_count())
        .rev()
        .filter(|&s| open(s))
        .filter_map(|s| neck.open(s))
        .map(|p| p.name().to_string())
        .collect();
    if names.is_empty() {
        return "no open string, so the shape can be moved".to_owned();
    }
    let strings = if names.len() == 1 { "string" } else { "strings" };
    let fixed = if costs.movable { ", so the shape cannot be moved" } else { "" };
    format!("open {strings} {}{fixed}", names.join(", "))
}

/// What sets a way apart from the first one: where it leaves it, and what it has more or less of.
pub(super) fn apart(
    costs: &Costs,
    moments: &[Moment],
    first: &[Spot],
    way: &[Spot],
    start: usize,
) -> Vec<String> {
    let mut words = Vec::new();
    let around = |way: &[Spot]| {
        let mut frets: Vec<u8> =
            way.iter().skip(start).take(PASSAGE).filter(|s| s.holds()).map(|s| s.place.fret).collect();
        frets.sort_unstable();
        match frets.get(frets.len() / 2) {
            Some(fret) => format!("around fret {fret}"),
            None => "on open strings".to_owned(),
        }
    };
    if let Some(moment) = moments.get(start) {
        let from = if start == 0 { String::new() } else { format!("from {} ", moment.at) };
        words.push(format!("{from}{} instead of {}", around(way), around(first)));
    }
    let count = |way: &[Spot]| shifts(moments, way).len();
    match (count(first), count(way)) {
        (a, b) if a == b => {}
        (_, 0) => words.push("no shift".to_owned()),
        (a, 1) => {
            let named = shifts(moments, way).into_iter().map(|s| s.0).collect::<String>();
            words.push(format!(
                "one shift instead of {}, {named}",
                if a == 0 { "none".into() } else { a.to_string() }
            ));
        }
        (0, b) => words.push(format!("{b} shifts instead of none")),
        (a, b) => words.push(format!("{b} shifts instead of {a}")),
    }
    let widest = |way: &[Spot]| {
        let reach = way.iter().filter(|s| s.holds()).map(|&s| (costs.span_mm(s), s.place.fret - s.position));
        reach.max_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((0.0, 0))
    };
    let stretched = |way: &[Spot]| way.iter().any(|&s| costs.excess_mm(s) > 0.0);
    let (a, b) = (widest(first), widest(way));
    match (stretched(first), stretched(way)) {
        (true, false) => words.push(format!("no stretch over {} frets", b.1 + 1)),
        (_, true) if (a.0 - b.0).abs() >= 1.0 => {
            words.push(format!("the widest reach {:.0} mm instead of {:.0} mm", b.0, a.0));
        }
        _ => {}
    }
    let opens = |way: &[Spot]| way.iter().filter(|s| s.touch == Touch::Open).count();
    match (opens(first), opens(way)) {
        (a, b) if a == b => {}
        (_, 0) => words.push("no open string, so it moves to any key".to_owned()),
        (0, 1) => words.push("one open string, so it stays in its key".to_owned()),
        (0, b) => words.push(format!("{b} open strings, so it stays in its key")),
        (a, b) => words.push(format!("{b} open strings instead of {a}")),
    }
    let changes = |way: &[Spot]| way.windows(2).filter(|w| w[0].place.string != w[1].place.string).count();
    match (changes(first), changes(way)) {
        (a, b) if a.abs_diff(b) < 2 => {}
        (a, b) => words.push(format!("{b} changes of string instead of {a}")),
    }
    words
}

/// Marks that the hand cannot do where the notes lie.
pub(super) fn broken_marks(moments: &[Moment], way: &[Spot]) -> Vec<Warning> {
    let mut warnings = Vec::new();
    for (i, (moment, &spot)) in moments.iter().zip(way).enumerate() {
        let before = i.checked_sub(1).and_then(|b| way.get(b));
        let (mark, why) = match moment.note.approach {
            Approach::Plucked => ("", ""),
            Approach::Hammer => {
                ("hammer-on", "it does not go up one string to a higher finger in one position")
            }
            Approach::Pull => {
                ("pull-off", "it does not go down one string to a lower finger in one position")
            }
            Approach::Slide | Approach::SlidePlucked => {
                ("slide", "it cannot stay on one string with one finger")
            }
        };
        match before {
            Some(&before) if !mark_done(moment, before, spot) => {
                warnings.push(Warning::at(moment.at, format!("the {mark} cannot be done there: {why}")));
            }
            None if !mark.is_empty() => {
                warnings.push(Warning::at(moment.at, format!("the {mark} has no note before it")));
            }
            _ => {}
        }
        if spot.touch == Touch::Open && moment.note.bend > 0 {
            warnings.push(Warning::at(moment.at, "an open string cannot be bent"));
        }
        if spot.touch == Touch::Open && moment.note.marks.has(Mark::Vibrato) {
            warnings.push(Warning::at(moment.at, "an open string takes no vibrato"));
        }
    }
    warnings
}
