//! One line of music: places, shapes, rows, in the order in which they must avoid each other.

use super::accidentals::signature_symbols;
use super::bar::{BarPlan, Bars, Head};
use super::marks::{self, Placed, TAB_GAP};
use super::rows::{self, DEGREE, FINGER, ROOT, SMALL};
use super::skyline::{Skyline, row_above, row_below};
use super::spacing::{self, EndLine, REPEAT_DOTS, Spring};
use super::staff::{self, upright};
use super::tab::Tab;
use super::{Layout, Part, System, words};
use crate::font::smufl::{self, defaults as d};
use crate::font::{shape, symbol_bounds};
use crate::scene::{Anchor, Item, Role, Scene};
use crate::units::{Point, Rect};
use riffkin_score::Warning;
use std::ops::Range;

/// What stands before the first bar of every system.
pub(super) struct Prefix {
    /// Room for the names of the strings, left of the lines.
    gutter: f64,
    signature: i32,
}

const CLEF_AT: f64 = 0.6;
const AFTER_CLEF: f64 = 0.9;
const SIGNATURE_STEP: f64 = 1.0;

impl Prefix {
    pub(super) fn new(part: &Part<'_>, signature: i32) -> Self {
        let names = part.neck.map_or(0.0, |n| {
            n.strings().iter().map(|p| shape(&p.name().print(), SMALL).width).fold(0.0, f64::max) + 0.5
        });
        Self { gutter: names, signature }
    }

    /// Width up to the first bar's own lead.
    pub(super) fn width(&self) -> f64 {
        let n = f64::from(self.signature.unsigned_abs().min(7));
        let clef = symbol_bounds(smufl::F_CLEF).right;
        let signature = if n > 0.0 { n * SIGNATURE_STEP + 0.8 } else { 0.0 };
        self.gutter + CLEF_AT + clef + AFTER_CLEF + signature - 0.5
    }

    fn draw(&self) -> Vec<Item> {
        let mut out = vec![staff::clef(self.gutter + CLEF_AT)];
        let mut x = self.gutter + CLEF_AT + symbol_bounds(smufl::F_CLEF).right + AFTER_CLEF;
        for (symbol, position) in signature_symbols(self.signature) {
            out.push(Item::symbol(symbol, Point::new(x, -f64::from(position) / 2.0), 1.0));
            x += SIGNATURE_STEP;
        }
        out
    }
}

/// Places of one bar.
struct BarAt {
    /// Where the bar begins: the right edge of the line before it.
    left: f64,
    xs: Vec<f64>,
    /// Left edge of its closing bar line.
    end: f64,
    line: EndLine,
    /// The bar before ended with a repeat, whose thick line serves this bar's too.
    shares_line: bool,
}

/// Draws the bars `range` as one system.
pub(super) fn draw(
    part: &Part<'_>,
    layout: &Layout,
    bars: &Bars<'_>,
    prefix: &Prefix,
    range: Range<usize>,
    stretch: bool,
    warnings: &mut Vec<Warning>,
) -> System {
    let plans = bars.list.get(range.clone()).unwrap_or_default();
    let last_of_all = range.end == bars.list.len();
    let springs: Vec<Vec<Spring>> = plans.iter().map(spacing::springs).collect();
    let end_of = |k: usize| -> Option<EndLine> {
        let plan = plans.get(k)?;
        Some(EndLine::of(plan, plans.get(k + 1), last_of_all && k + 1 == plans.len()))
    };
    let before = |k: usize| k.checked_sub(1).and_then(end_of);
    let line_of = |k: usize| end_of(k).unwrap_or(EndLine::Plain);
    let fixed = prefix.width()
        + plans
            .iter()
            .enumerate()
            .map(|(k, p)| spacing::lead(p, before(k)) + line_of(k).width())
            .sum::<f64>();
    let least: f64 = springs.iter().flatten().map(|s| s.least).sum();
    let mut room = layout.width / layout.space;
    let mut space = layout.space;
    if fixed + least > room {
        let shrink = room / (fixed + least);
        space *= shrink;
        room = fixed + least;
        let number = plans.first().map_or(0, |p| p.number);
        let message =
            format!("the bar is too full for the line; it is drawn at {:.0} percent", shrink * 100.0);
        warnings.push(Warning::at(format!("bar {number}"), message));
    }
    let all: Vec<Spring> = springs.iter().flatten().copied().collect();
    let natural: f64 = all.iter().map(|s| s.at(1.0)).sum();
    let full = fixed + natural;
    // A last line that is more than two thirds full looks better full; a short one keeps a natural pace.
    let fill = stretch || full > room || full > room * 0.67;
    let factor = if fill { spacing::stretch_to(&all, room - fixed) } else { 1.15 };

    let mut places = Vec::with_capacity(plans.len());
    let mut x = prefix.width();
    for (k, (plan, springs)) in plans.iter().zip(&springs).enumerate() {
        let left = x;
        x += spacing::lead(plan, before(k));
        let mut xs = Vec::with_capacity(springs.len());
        for s in springs {
            xs.push(x);
            x += s.at(factor);
        }
        let line = line_of(k);
        places.push(BarAt { left, xs, end: x, line, shares_line: before(k) == Some(EndLine::Repeat) });
        x += line.width();
    }
    let right = x;
    let mut out = Drawing::new(part, layout, bars, prefix, plans, &places, (right, room.max(right)));
    out.staff_and_tab(range.end);
    out.rows_below();
    out.rows_above();
    out.finish(space, room)
}

struct Drawing<'a, 'b> {
    part: &'a Part<'b>,
    layout: &'a Layout,
    bars: &'a Bars<'b>,
    prefix: &'a Prefix,
    plans: &'a [BarPlan<'b>],
    places: &'a [BarAt],
    right: f64,
    /// Right end of the line, music or not.
    limit: f64,
    skyline: Skyline,
    /// Shapes per bar and slot.
    cells: Vec<Vec<Vec<Item>>>,
    heads: Vec<Placed<'a>>,
    above: Vec<Item>,
    frame: Vec<Item>,
    shared: Vec<Item>,
    bottom: f64,
}

impl<'a, 'b> Drawing<'a, 'b> {
    fn new(
        part: &'a Part<'b>,
        layout: &'a Layout,
        bars: &'a Bars<'b>,
        prefix: &'a Prefix,
        plans: &'a [BarPlan<'b>],
        places: &'a [BarAt],
        (right, limit): (f64, f64),
    ) -> Self {
        Self {
            part,
            layout,
            bars,
            prefix,
            plans,
            places,
            right,
            limit,
            skyline: Skyline::default(),
            cells: Vec::new(),
            heads: Vec::new(),
            above: Vec::new(),
            frame: Vec::new(),
            shared: Vec::new(),
            bottom: 2.0,
        }
    }

    fn edges(&self) -> (f64, f64) {
        (self.prefix.width() - 0.4, self.right - 0.6)
    }

    /// Staff, then the tablature below whatever hangs from it.
    fn staff_and_tab(&mut self, next_bar: usize) {
        let gutter = self.prefix.gutter;
        self.skyline.add(Rect::new(gutter, -2.0, self.right, 2.0));
        self.frame.extend(staff::lines(gutter, self.right));
        self.frame.extend(self.prefix.draw());
        let mut tab = self.part.neck.map(|n| Tab::new(n, 0.0));
        let mut numbers: Vec<(usize, usize, Item)> = Vec::new();
        for (b, (plan, place)) in self.plans.iter().zip(self.places).enumerate() {
            self.meter_and_lines(plan, place);
            let middle = (place.left + place.end) / 2.0;
            let shapes = staff::bar(plan, &place.xs, middle);
            for (s, slot) in plan.slots.iter().enumerate() {
                let (Some(head), Some(at)) = (slot.head(), shapes.heads.get(s).copied().flatten()) else {
                    continue;
                };
                let until = place.xs.get(s + 1).copied().unwrap_or(place.end);
                let mut placed = Placed { head, at, left: slot.left, until, tab: None };
                if let (Some(tab), Some(text), Some(f)) = (tab.as_mut(), head.tab_text(), head.fingered) {
                    let half = shape(&text, rows::FRET).width / 2.0;
                    placed.tab = Some((tab.y(f.place.string), half));
                    numbers.push((b, s, tab.number(&text, f.place.string, at.x)));
                }
                self.heads.push(placed);
            }
            self.shared.extend(shapes.shared);
            self.cells.push(shapes.per_slot);
        }
        let next = self.bars.list.get(next_bar).and_then(|p| first_head(p));
        self.shared.extend(marks::joins(&self.heads, self.edges(), next));
        for p in &self.heads {
            self.shared.extend(marks::articulations(p));
        }
        let all: Vec<Item> = self.cells.iter().flatten().flatten().cloned().collect();
        self.skyline.add_items(&all);
        self.skyline.add_items(&self.shared.clone());
        self.skyline.add_items(&self.prefix.draw());
        if let (Some(tab), Some(neck)) = (tab, self.part.neck) {
            self.place_tab(tab, neck, numbers);
        } else {
            self.bottom = 2.0;
        }
    }

    fn place_tab(
        &mut self,
        mut tab: Tab,
        neck: &riffkin_fretboard::neck::Neck,
        numbers: Vec<(usize, usize, Item)>,
    ) {
        let gutter = self.prefix.gutter;
        let joins = marks::tab_joins(&self.heads, self.edges().0);
        let mut offset = 2.0 + TAB_GAP;
        let frame = Rect::new(gutter, 0.0, self.right, 0.0);
        offset = offset.max(self.skyline.bottom(frame.left, frame.right, 2.0) + 1.0);
        for items in &joins {
            let b = super::skyline::bounds(items);
            if !b.is_nothing() {
                offset = offset.max(self.skyline.bottom(b.left, b.right, 2.0) + 0.5 - b.top);
            }
        }
        for (b, s, number) in numbers {
            if let Some(cell) = self.cells.get_mut(b).and_then(|c| c.get_mut(s)) {
                cell.push(number.shifted(0.0, offset));
            }
        }
        let mut frame: Vec<Item> = tab.lines(gutter, self.right);
        frame.extend(tab.names(neck, gutter - 0.4));
        for place in self.places {
            bar_line(&mut frame, place, tab.top, tab.bottom());
        }
        for (plan, place) in self.plans.iter().zip(self.places) {
            if plan.bar.repeat_start {
                start_repeat(
                    &mut frame,
                    place,
                    start_repeat_at(plan, place, self.first(plan)),
                    tab.top,
                    tab.bottom(),
                );
            }
        }
        for items in joins {
            frame.extend(items);
        }
        let frame: Vec<Item> = frame.into_iter().map(|i| i.shifted(0.0, offset)).collect();
        self.skyline.add_items(&frame);
        self.frame.extend(frame);
        tab.top += offset;
        self.bottom = tab.bottom();
        self.frame.push(upright(gutter - d::THIN_BARLINE_THICKNESS, gutter, -2.0, self.bottom));
    }

    fn first(&self, plan: &BarPlan<'_>) -> bool {
        self.plans.first().is_some_and(|p| p.start == plan.start)
    }

    fn meter_and_lines(&mut self, plan: &BarPlan<'_>, place: &BarAt) {
        let first = self.first(plan);
        let mut x = place.left;
        if plan.bar.repeat_start {
            start_repeat(&mut self.frame, place, start_repeat_at(plan, place, first), -2.0, 2.0);
            if !first {
                x += spacing::start_repeat_width()
                    - if place.shares_line { spacing::SHARED_LINE } else { 0.0 };
            }
        }
        if plan.shows_meter {
            let middle = x + spacing::meter_width(plan) / 2.0 + if first { -0.1 } else { 0.1 };
            self.frame.extend(rows::meter_symbols(plan.bar.meter, middle));
        }
        bar_line(&mut self.frame, place, -2.0, 2.0);
    }

    /// Degrees and fingers.
    fn rows_below(&mut self) {
        let mut degrees = Vec::new();
        let mut fingers = Vec::new();
        for (b, plan) in self.plans.iter().enumerate() {
            for (s, slot) in plan.slots.iter().enumerate() {
                let Some(h) = slot.head().filter(|h| h.first) else { continue };
                let x = self.places.get(b).and_then(|p| p.xs.get(s)).copied().unwrap_or_default();
                if let Some(degree) = h.degree {
                    let style = if degree.slot() == 0 { ROOT } else { DEGREE };
                    degrees.push(((b, s), vec![rows::centred(degree.print(), x, style)]));
                }
                if let Some(f) = h.fingered.and_then(|f| f.finger).filter(|_| self.layout.fingers) {
                    fingers.push(((b, s), vec![rows::centred(f.to_string(), x, FINGER)]));
                }
            }
        }
        for (row, white) in [(degrees, 1.0), (fingers, 0.7)] {
            if row.is_empty() {
                continue;
            }
            let (keys, items): (Vec<_>, Vec<_>) = row.into_iter().unzip();
            let (items, _) = row_below(&mut self.skyline, items, self.bottom, white, 50.0);
            for ((b, s), items) in keys.into_iter().zip(items) {
                self.bottom = self.bottom.max(super::skyline::bounds(&items).bottom);
                if let Some(cell) = self.cells.get_mut(b).and_then(|c| c.get_mut(s)) {
                    cell.extend(items);
                }
            }
        }
    }

    /// Bar number, marks, chords, endings, tempo.
    fn rows_above(&mut self) {
        if let Some(number) = self.plans.first().map(|p| p.number).filter(|&n| n > 1) {
            let text =
                Item::text(number.to_string(), Point::new(self.prefix.gutter, 0.0), SMALL, Anchor::Start);
            self.row(vec![vec![text]], 0.5, 0.0);
        }
        let (letters, spans) = marks::row(&self.heads, self.part.neck.is_some());
        self.row(letters, 0.6, 0.2);
        self.row(spans, 0.6, 0.2);
        let mut chords = Vec::new();
        let mut tempi = Vec::new();
        for (plan, place) in self.plans.iter().zip(self.places) {
            for (slot, &x) in plan.slots.iter().zip(&place.xs) {
                if let Some(c) = &slot.chord {
                    chords.push(vec![rows::starting(c.clone(), x, rows::CHORD)]);
                }
                if let Some(t) = slot.tempo {
                    let start = plan.start + slot.at == riffkin_score::time::Quarters::ZERO;
                    let x = if start { self.prefix.gutter } else { x };
                    let feel = start.then(|| self.part.riff.header().feel);
                    tempi.push(rows::tempo_items(t, feel, x));
                }
            }
        }
        self.row(chords, 0.9, 0.2);
        let endings = self.endings();
        self.row(endings, 0.7, 0.0);
        self.row(tempi, 1.0, 0.4);
    }

    /// Puts a row above all that is there. What would leave the line at its right end moves left; what would touch its
    /// neighbour goes to a row of its own above.
    fn row(&mut self, row: Vec<Vec<Item>>, white: f64, side: f64) {
        let mut layers: Vec<(f64, Vec<Vec<Item>>)> = Vec::new();
        for items in row {
            let b = super::skyline::bounds(&items);
            let over = (b.right - self.limit).clamp(0.0, (b.left - self.prefix.gutter).max(0.0));
            let items: Vec<Item> = items.into_iter().map(|i| i.shifted(-over, 0.0)).collect();
            let (left, right) = (b.left - over, b.right - over);
            match layers.iter_mut().find(|(end, _)| *end + side <= left + 1e-6) {
                Some((end, layer)) => {
                    *end = right;
                    layer.push(items);
                }
                None => layers.push((right, vec![items])),
            }
        }
        for (_, layer) in layers {
            let (items, _) = row_above(&mut self.skyline, layer, -2.0, white, side);
            self.above.extend(items.into_iter().flatten());
        }
    }

    /// Brackets over first and second endings; open to the right where the ending goes on.
    fn endings(&self) -> Vec<Vec<Item>> {
        let mut out = Vec::new();
        let w = d::REPEAT_ENDING_LINE_THICKNESS;
        let (top, low) = (-2.2, 0.0);
        let mut open: Option<(f64, bool, String)> = None;
        let count = self.plans.len();
        for (k, (plan, place)) in self.plans.iter().zip(self.places).enumerate() {
            if plan.bar.endings.is_empty() {
                continue;
            }
            let numbers: Vec<String> = plan.bar.endings.iter().map(|n| format!("{n}.")).collect();
            if plan.ending_starts || open.is_none() {
                open = Some((place.left + 0.15, plan.ending_starts, numbers.join(" ")));
            }
            if plan.ending_ends || k + 1 == count {
                let Some((left, begins, text)) = open.take() else { continue };
                let right = place.end + place.line.width() - 0.15;
                let mut items = vec![Item::line(Point::new(left, top), Point::new(right, top), w)];
                if begins {
                    items.push(Item::line(Point::new(left, top - w / 2.0), Point::new(left, low), w));
                    items.push(Item::text(text, Point::new(left + 0.5, -0.35), rows::WORDS, Anchor::Start));
                }
                if plan.ending_ends && plan.bar.repeat_end.is_some() {
                    items.push(Item::line(Point::new(right, top - w / 2.0), Point::new(right, low), w));
                }
                out.push(items);
            }
        }
        out
    }

    fn finish(self, space: f64, room: f64) -> System {
        let mut items = vec![Item::group(Role::Plain, self.above)];
        items.push(Item::group(Role::Plain, self.frame));
        for (plan, cells) in self.plans.iter().zip(self.cells) {
            for (slot, cell) in plan.slots.iter().zip(cells) {
                let Some((_, value)) = &slot.sign else { continue };
                let role = Role::Event {
                    bar: plan.number,
                    at: (plan.start + slot.at).to_f64(),
                    length: value.length().to_f64(),
                };
                items.push(Item::group(role, cell));
            }
        }
        items.push(Item::group(Role::Plain, self.shared));
        let bounds = super::skyline::bounds(&items);
        let (top, bottom) = (bounds.top.min(-3.0), bounds.bottom.max(3.0));
        let mut scene = Scene::new(room * space, (bottom - top) * space);
        scene.items = items.into_iter().map(|i| i.shifted(0.0, -top).scaled(space)).collect();
        scene.title.clone_from(&self.part.riff.header().title);
        scene.description = words::bars(self.part, self.plans);
        System {
            scene,
            first_bar: self.plans.first().map_or(0, |p| p.number),
            last_bar: self.plans.last().map_or(0, |p| p.number),
        }
    }
}

fn first_head<'p>(plan: &'p BarPlan<'_>) -> Option<&'p Head> {
    plan.slots.iter().find(|s| s.sign.is_some()).and_then(|s| s.head())
}

/// Left edge of the sign that starts a repeat: after the meter at the start of a system, before it elsewhere.
fn start_repeat_at(plan: &BarPlan<'_>, place: &BarAt, first: bool) -> f64 {
    place.left + if first && plan.shows_meter { spacing::meter_width(plan) } else { 0.0 }
}

fn bar_line(out: &mut Vec<Item>, place: &BarAt, top: f64, bottom: f64) {
    let mut x = place.end;
    match place.line {
        EndLine::Open => {}
        EndLine::Plain => out.push(upright(x, x + d::THIN_BARLINE_THICKNESS, top, bottom)),
        EndLine::Final | EndLine::Repeat => {
            if place.line == EndLine::Repeat {
                repeat_dots(out, x, (top + bottom) / 2.0);
                x += REPEAT_DOTS;
            }
            out.push(upright(x, x + d::THIN_BARLINE_THICKNESS, top, bottom));
            x += d::THIN_BARLINE_THICKNESS + d::BARLINE_SEPARATION;
            out.push(upright(x, x + d::THICK_BARLINE_THICKNESS, top, bottom));
        }
    }
}

fn start_repeat(out: &mut Vec<Item>, place: &BarAt, left: f64, top: f64, bottom: f64) {
    let mut x = left;
    if !place.shares_line {
        out.push(upright(x, x + d::THICK_BARLINE_THICKNESS, top, bottom));
        x += d::THICK_BARLINE_THICKNESS;
    }
    x += d::BARLINE_SEPARATION;
    out.push(upright(x, x + d::THIN_BARLINE_THICKNESS, top, bottom));
    x += d::THIN_BARLINE_THICKNESS + d::BARLINE_SEPARATION - 0.1;
    repeat_dots(out, x, (top + bottom) / 2.0);
}

fn repeat_dots(out: &mut Vec<Item>, x: f64, middle: f64) {
    for dy in [-0.5, 0.5] {
        out.push(Item::symbol(smufl::REPEAT_DOT, Point::new(x, middle + dy), 1.0));
    }
}
