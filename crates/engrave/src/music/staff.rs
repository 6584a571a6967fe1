//! Shapes of the staff: lines, clef, signature, heads, rests, stems, flags, beams, tuplets.

use super::bar::{ACCIDENTAL_GAP, BarPlan, DOT_GAP, DOT_STEP, Head, Rest, Sign};
use super::beam::{self, Stem};
use super::spacing::AXIS;
use crate::font::smufl::{self, defaults as d};
use crate::font::symbol_bounds;
use crate::path::Path;
use crate::scene::Item;
use crate::units::{Point, Rect};
use riffkin_score::time::Quarters;

/// The five lines from `left` to `right`.
pub(super) fn lines(left: f64, right: f64) -> Vec<Item> {
    (-2..=2)
        .map(|i| {
            let y = f64::from(i);
            Item::line(Point::new(left, y), Point::new(right, y), d::STAFF_LINE_THICKNESS)
        })
        .collect()
}

/// Bass clef: its dots embrace the F line, one space above the middle.
pub(super) fn clef(x: f64) -> Item {
    Item::symbol(smufl::F_CLEF, Point::new(x, -1.0), 1.0)
}

/// Where a head stands, once bars have places.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct HeadAt {
    /// Left edge of the head.
    pub(super) x: f64,
    /// Its middle.
    pub(super) y: f64,
    pub(super) width: f64,
    pub(super) up: bool,
    /// Far end of the stem, or the head's middle without one.
    pub(super) stem_end: f64,
}

/// Shapes per slot, shapes that belong to several, and where heads ended up.
#[derive(Default)]
pub(super) struct BarShapes {
    pub(super) per_slot: Vec<Vec<Item>>,
    pub(super) shared: Vec<Item>,
    pub(super) heads: Vec<Option<HeadAt>>,
    /// Box of each tuplet's notes, and whether its number goes above.
    pub(super) tuplets: Vec<(Rect, bool)>,
}

/// Everything that one bar puts on the staff; `xs` are the slots' places, `middle` that of a whole-bar rest.
pub(super) fn bar(plan: &BarPlan<'_>, xs: &[f64], middle: f64) -> BarShapes {
    let mut out = BarShapes { per_slot: vec![Vec::new(); plan.slots.len()], ..BarShapes::default() };
    out.heads = vec![None; plan.slots.len()];
    for (i, slot) in plan.slots.iter().enumerate() {
        let x = xs.get(i).copied().unwrap_or_default();
        let Some(cell) = out.per_slot.get_mut(i) else { continue };
        match &slot.sign {
            Some((Sign::Head(h), _)) => {
                let up = h.position < 0;
                draw_head(cell, h, x);
                let at = HeadAt { x, y: y_of(h), width: h.width(), up, stem_end: y_of(h) };
                if let Some(place) = out.heads.get_mut(i) {
                    *place = Some(at);
                }
            }
            Some((Sign::Rest(r), _)) => draw_rest(cell, *r, if r.whole_bar { middle } else { x }),
            None => {}
        }
    }
    stems(plan, &mut out);
    tuplets(plan, &mut out);
    out
}

pub(super) fn y_of(h: &Head) -> f64 {
    -f64::from(h.position) / 2.0
}

fn draw_head(out: &mut Vec<Item>, h: &Head, x: f64) {
    let y = y_of(h);
    let w = h.width();
    let mut left = x;
    for k in 3..=(h.position.abs() / 2).min(60) {
        let line_y = f64::from(if h.position > 0 { -k } else { k });
        let (a, b) = (x - d::LEGER_LINE_EXTENSION, x + w + d::LEGER_LINE_EXTENSION);
        out.push(Item::line(Point::new(a, line_y), Point::new(b, line_y), d::LEGER_LINE_THICKNESS));
        left = a;
    }
    if h.ghost() {
        out.push(Item::symbol(smufl::NOTEHEAD_PARENTHESIS_LEFT, Point::new(x - 0.42, y), 1.0));
        out.push(Item::symbol(smufl::NOTEHEAD_PARENTHESIS_RIGHT, Point::new(x + w + 0.12, y), 1.0));
        left = left.min(x - 0.42);
    }
    if let Some(a) = h.accidental {
        let width = symbol_bounds(a).width();
        out.push(Item::symbol(a, Point::new(left - ACCIDENTAL_GAP - width, y), 1.0));
    }
    out.push(Item::symbol(h.symbol, Point::new(x, y), 1.0));
    let right = if h.ghost() { x + w + 0.45 } else { x + w };
    // A dot beside a note on a line stands in the space above it.
    draw_dots(out, h.dots, right, if h.position.rem_euclid(2) == 0 { y - 0.5 } else { y });
}

fn draw_dots(out: &mut Vec<Item>, dots: u8, right: f64, y: f64) {
    for i in 0..dots {
        let x = right + DOT_GAP + DOT_STEP * f64::from(i);
        out.push(Item::symbol(smufl::AUGMENTATION_DOT, Point::new(x, y), 1.0));
    }
}

fn draw_rest(out: &mut Vec<Item>, r: Rest, x: f64) {
    let b = symbol_bounds(r.symbol);
    // A whole rest hangs from the fourth line; all others are drawn from the middle line.
    let y = if r.symbol == smufl::REST_WHOLE { -1.0 } else { 0.0 };
    let x = if r.whole_bar { x - b.width() / 2.0 } else { x };
    out.push(Item::symbol(r.symbol, Point::new(x, y), 1.0));
    draw_dots(out, r.dots, x + b.right, -0.5);
}

/// Direction, stems, flags and beams.
fn stems(plan: &BarPlan<'_>, out: &mut BarShapes) {
    let mut beamed = vec![false; plan.slots.len()];
    for group in &plan.beams {
        let heads: Vec<(usize, &Head)> =
            group.iter().filter_map(|&i| plan.slots.get(i).and_then(|s| s.head()).map(|h| (i, h))).collect();
        // The note farthest from the middle line decides; on a tie the stems go down.
        let low = heads.iter().map(|(_, h)| h.position).min().unwrap_or(0);
        let high = heads.iter().map(|(_, h)| h.position).max().unwrap_or(0);
        let up = -low > high;
        let list: Vec<Stem> = heads
            .iter()
            .map(|(i, h)| {
                let at = out.heads.get(*i).copied().flatten();
                let (x, y) = stem_root(h, at.map_or(0.0, |a| a.x), up);
                let onset = plan.slots.get(*i).map_or(Quarters::ZERO, |s| s.at);
                Stem { x, y, flags: h.flags, stub_left: stub_left(onset, h) }
            })
            .collect();
        let laid = beam::lay(&list, up);
        for (((i, _), stem), end) in heads.iter().zip(&list).zip(&laid.ends) {
            if let Some(b) = beamed.get_mut(*i) {
                *b = true;
            }
            push_stem(out, *i, stem.x, stem.y, *end, up);
        }
        out.shared.extend(laid.shapes);
    }
    for (i, slot) in plan.slots.iter().enumerate() {
        let Some(h) = slot.head().filter(|h| h.stemmed) else { continue };
        if beamed.get(i).copied().unwrap_or(true) {
            continue;
        }
        let Some(at) = out.heads.get(i).copied().flatten() else { continue };
        let up = h.position < 0;
        let (x, y) = stem_root(h, at.x, up);
        let length = 3.5 + 0.75 * f64::from(h.flags.saturating_sub(2));
        // Stems of notes beyond the ledger lines reach the middle line.
        let end = if up { (at.y - length).min(0.0) } else { (at.y + length).max(0.0) };
        push_stem(out, i, x, y, end, up);
        if let Some(flag) = flag(h.flags, up)
            && let Some(cell) = out.per_slot.get_mut(i)
        {
            cell.push(Item::symbol(flag, Point::new(x - d::STEM_THICKNESS / 2.0, end), 1.0));
        }
    }
}

/// Middle of the stem and where it leaves the head.
fn stem_root(h: &Head, x: f64, up: bool) -> (f64, f64) {
    let (ax, ay) = smufl::stem_anchor(h.symbol, up);
    let half = d::STEM_THICKNESS / 2.0;
    (x + ax + if up { -half } else { half }, y_of(h) - ay)
}

fn push_stem(out: &mut BarShapes, i: usize, x: f64, from: f64, to: f64, up: bool) {
    if let Some(cell) = out.per_slot.get_mut(i) {
        cell.push(Item::line(Point::new(x, from), Point::new(x, to), d::STEM_THICKNESS));
    }
    if let Some(Some(at)) = out.heads.get_mut(i) {
        at.up = up;
        at.stem_end = to;
    }
}

/// A lone short note points back when it ends its double value, forward when it begins it.
fn stub_left(onset: Quarters, h: &Head) -> bool {
    let mut unit = Quarters::QUARTER;
    for _ in 0..h.flags {
        unit = unit.scaled(1, 2).unwrap_or(unit);
    }
    onset.rest_of_steps(unit * 2) != Quarters::ZERO
}

fn flag(flags: u8, up: bool) -> Option<char> {
    Some(match (flags, up) {
        (0, _) => return None,
        (1, true) => smufl::FLAG_8TH_UP,
        (1, false) => smufl::FLAG_8TH_DOWN,
        (2, true) => smufl::FLAG_16TH_UP,
        (2, false) => smufl::FLAG_16TH_DOWN,
        (3, true) => smufl::FLAG_32ND_UP,
        (3, false) => smufl::FLAG_32ND_DOWN,
        (4, true) => smufl::FLAG_64TH_UP,
        (4, false) => smufl::FLAG_64TH_DOWN,
        (_, true) => smufl::FLAG_128TH_UP,
        (_, false) => smufl::FLAG_128TH_DOWN,
    })
}

/// Numbers and brackets of tuplets, on the side of most stems.
fn tuplets(plan: &BarPlan<'_>, out: &mut BarShapes) {
    for (slots, group) in &plan.tuplets {
        let mut area = Rect::NOTHING;
        let mut ups = 0i32;
        let mut axis = (f64::INFINITY, f64::NEG_INFINITY);
        for i in slots.clone() {
            if let Some(cell) = out.per_slot.get(i) {
                area = area.join(super::skyline::bounds(cell));
            }
            if let Some(Some(h)) = out.heads.get(i) {
                ups += if h.up { 1 } else { -1 };
                let x = if group.bracket { h.x + AXIS } else { h.x + if h.up { h.width } else { 0.0 } };
                axis = (axis.0.min(x), axis.1.max(x));
            }
        }
        if area.is_nothing() {
            continue;
        }
        let above = ups >= 0;
        if axis.0 > axis.1 {
            axis = (area.left, area.right);
        }
        let digits: Vec<char> = group
            .number
            .to_string()
            .chars()
            .filter_map(|c| c.to_digit(10))
            .map(smufl::tuplet_digit)
            .collect();
        const SIZE: f64 = 0.9;
        let width: f64 = digits.iter().map(|c| symbol_bounds(*c).right * SIZE).sum();
        let middle = (axis.0 + axis.1) / 2.0;
        let height = symbol_bounds(smufl::TUPLET_0).height() * SIZE;
        // Beams are not in the slots' boxes: half a space more clears a slanted one.
        let base = if above { area.top.min(-2.0) - 0.75 } else { area.bottom.max(2.0) + 0.75 + height };
        let mut x = middle - width / 2.0;
        for c in digits {
            out.shared.push(Item::symbol(c, Point::new(x, base), SIZE));
            x += symbol_bounds(c).right * SIZE;
        }
        if group.bracket {
            bracket(out, (area.left, area.right), middle, width / 2.0 + 0.35, base - height / 2.0, above);
        }
        out.tuplets.push((area, above));
    }
}

fn bracket(out: &mut BarShapes, (left, right): (f64, f64), middle: f64, half: f64, y: f64, above: bool) {
    let hook = if above { 0.7 } else { -0.7 };
    let w = d::TUPLET_BRACKET_THICKNESS;
    let pieces = [(left, middle - half, left), (middle + half, right, right)];
    for (a, b, end) in pieces {
        if b > a {
            out.shared.push(Item::line(Point::new(a, y), Point::new(b, y), w));
        }
        out.shared.push(Item::line(Point::new(end, y - w / 2.0), Point::new(end, y + hook), w));
    }
}

/// A filled upright bar, for bar lines.
pub(super) fn upright(left: f64, right: f64, top: f64, bottom: f64) -> Item {
    Item::fill(Path::rectangle(Rect::new(left, top, right, bottom)))
}
