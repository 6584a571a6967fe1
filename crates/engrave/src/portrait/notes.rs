//! The notes over the sound: bars, crosses, links and names.

use super::system::System;
use super::{Form, HeardBar};
use crate::font::{Face, TextStyle, shape};
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Text};
use crate::units::{Point, Rect};

/// Thickness of a bar's outline, and of the paper around it that sets it off from the greys.
const OUTLINE: f64 = 0.32;
/// The paper's.
const HALO: f64 = 0.95;
/// Dash and gap of a doubtful bar's outline.
const DASH: (f64, f64) = (0.9, 0.7);
/// Half the size of a dead note's cross.
const CROSS: f64 = 1.05;
/// Size of the names.
const NAME: f64 = 2.9;
/// Height of a name's plate, in ems.
const PLATE: f64 = 0.82;
/// A name further away than this many plates would not be seen as the bar's.
const FURTHEST: u8 = 4;

/// The notes of a system.
pub(super) fn notes(system: &System, notes: &[HeardBar]) -> Vec<Item> {
    let shown = |n: &HeardBar| n.from_s < system.to_s && n.to_s > system.from_s && n.to_s >= n.from_s;
    let mut items = Vec::new();
    let mut taken: Vec<Rect> = notes.iter().filter(|n| shown(n)).map(|n| place(system, n)).collect();
    let mut before: Option<&HeardBar> = None;
    for note in notes {
        if shown(note) {
            let area = place(system, note);
            if let Some(before) = before.filter(|_| note.form == Form::Joined && system.shows(note.from_s)) {
                let bow = link(system, before, note);
                // Names keep off the bow; a control point of its curve lies above what is seen.
                let seen = bow.iter().fold(Rect::NOTHING, |r, i| r.join(i.bounds())).grown(-0.5);
                taken.push(Rect { top: seen.top + 0.5, ..seen });
                items.extend(bow);
            }
            items.extend(shape_of(system, note, area));
        }
        before = Some(note);
    }
    let mut before: Option<&HeardBar> = None;
    for note in notes {
        if shown(note) {
            items.extend(name(system, note, before, &mut taken));
        }
        before = Some(note);
    }
    // The word only where the names have left room; the question mark at the name says it everywhere.
    for note in notes.iter().filter(|n| n.doubtful && shown(n) && n.from_s >= system.from_s) {
        items.extend(label(system, place(system, note), "doubtful", Face::Italic, 1, true, &mut taken));
    }
    items
}

/// Where a note lies: its bar, or its cross.
fn place(system: &System, note: &HeardBar) -> Rect {
    let y = system.y(note.midi);
    if note.form == Form::Dead {
        let x = system.x(note.from_s);
        return Rect::new(x, y, x, y).grown(CROSS);
    }
    let (left, right) = (system.x(note.from_s.max(system.from_s)), system.x(note.to_s.min(system.to_s)));
    let half = 0.5 * system.semitone;
    Rect::new(left, y - half, right.max(left + 0.6), y + half)
}

fn shape_of(system: &System, note: &HeardBar, area: Rect) -> Vec<Item> {
    if note.form == Form::Dead {
        return if system.shows(note.from_s) { cross(area, note.doubtful) } else { Vec::new() };
    }
    bar(area, note.doubtful, (note.from_s < system.from_s, note.to_s > system.to_s))
}

/// An outlined bar; `open` says whether it goes on beyond its left or right end.
fn bar(r: Rect, doubtful: bool, open: (bool, bool)) -> Vec<Item> {
    let corner = |x: f64, y: f64| Point::new(x, y);
    let (tl, tr) = (corner(r.left, r.top), corner(r.right, r.top));
    let (bl, br) = (corner(r.left, r.bottom), corner(r.right, r.bottom));
    let whole = Path::rectangle(r);
    let mut items = vec![Item::Stroke { path: whole.clone(), width: HALO, ink: Ink::Paper }];
    if !doubtful && open == (false, false) {
        items.push(Item::Stroke { path: whole, width: OUTLINE, ink: Ink::Accent });
        return items;
    }
    let edges = [(true, tl, tr), (true, bl, br), (!open.0, tl, bl), (!open.1, tr, br)];
    let dash = doubtful.then_some(DASH);
    items.extend(edges.into_iter().filter(|e| e.0).map(|(_, from, to)| Item::Line {
        from,
        to,
        width: OUTLINE,
        dash,
        ink: Ink::Accent,
    }));
    items
}

fn cross(r: Rect, doubtful: bool) -> Vec<Item> {
    let lines = [
        (Point::new(r.left, r.top), Point::new(r.right, r.bottom)),
        (Point::new(r.left, r.bottom), Point::new(r.right, r.top)),
    ];
    let line = |(from, to), width, dash, ink| Item::Line { from, to, width, dash, ink };
    let halo = lines.map(|l| line(l, 1.3, None, Ink::Paper));
    let dash = doubtful.then_some((0.55, 0.45));
    halo.into_iter().chain(lines.map(|l| line(l, 0.55, dash, Ink::Accent))).collect()
}

/// The tie-like link from the note before, over both.
fn link(system: &System, before: &HeardBar, note: &HeardBar) -> Vec<Item> {
    let (a, b) = (place(system, before), place(system, note));
    let from = Point::new((a.right - (0.3 * a.width()).clamp(0.6, 3.0)).max(system.area.left), a.top - 0.3);
    let to = Point::new(b.left + (0.3 * b.width()).clamp(0.6, 3.0), b.top - 0.3);
    let path = arc(from, to);
    vec![
        Item::Stroke { path: path.clone(), width: 1.1, ink: Ink::Paper },
        Item::Stroke { path, width: 0.45, ink: Ink::Accent },
    ]
}

/// A bow over two points.
fn arc(from: Point, to: Point) -> Path {
    let top = from.y.min(to.y) - 2.6;
    let part = 0.25 * (to.x - from.x);
    Path::new().move_to(from.x, from.y).cubic_to(
        Point::new(from.x + part, top),
        Point::new(to.x - part, top),
        to,
    )
}

/// The name of a note, with a question mark when it is doubtful.
fn name(system: &System, note: &HeardBar, before: Option<&HeardBar>, taken: &mut Vec<Rect>) -> Vec<Item> {
    let goes_on = note.from_s < system.from_s;
    let known = if note.form == Form::Dead { "" } else { &note.name };
    let words = match (goes_on, note.doubtful) {
        (true, _) if known.is_empty() => return Vec::new(),
        (true, _) => format!("({known})"),
        (false, true) => format!("{known}?"),
        (false, false) => known.to_owned(),
    };
    if words.is_empty() {
        return Vec::new();
    }
    // A note struck again in a crowd is known by the bar before it.
    let again = before.is_some_and(|b| b.midi == note.midi && note.from_s - b.to_s < 0.5);
    let may_miss = again && !goes_on && !note.doubtful;
    let furthest = if may_miss { 1 } else { FURTHEST };
    label(system, place(system, note), &words, Face::Bold, furthest, may_miss, taken)
}

/// Words near a bar where they cover nothing; the nearest free place above or below it. Where none is free the words are
/// left out when they `may_miss`, else they go above, whatever is there.
fn label(
    system: &System,
    area: Rect,
    words: &str,
    face: Face,
    furthest: u8,
    may_miss: bool,
    taken: &mut Vec<Rect>,
) -> Vec<Item> {
    let style = TextStyle::new(face, NAME);
    let wide = shape(words, style).width + 0.5;
    let high = PLATE * NAME;
    let left = area.left.min(system.area.right - wide).max(system.area.left);
    let mut free = None;
    for step in 0..furthest {
        let away = 0.35 + f64::from(step) * high;
        let above = Rect::new(left, area.top - away - high, left + wide, area.top - away);
        let below = Rect::new(left, area.bottom + away, left + wide, area.bottom + away + high);
        free = [above, below].into_iter().find(|r| {
            r.top > system.area.top && r.bottom < system.area.bottom && !taken.iter().any(|t| t.overlaps(r))
        });
        if free.is_some() {
            break;
        }
    }
    let nearest = Rect::new(left, area.top - 0.35 - high, left + wide, area.top - 0.35);
    let Some(plate) = free.or((!may_miss).then_some(nearest)) else { return Vec::new() };
    taken.push(plate);
    let at = Point::new(plate.left + 0.25, plate.bottom - 0.09 * NAME);
    vec![
        Item::Fill { path: Path::rectangle(plate.grown(-0.1)), ink: Ink::Paper },
        Item::Text(Text { at, content: words.to_owned(), style, anchor: Anchor::Start, ink: Ink::Black }),
    ]
}

/// What the forms mean, in one line from a point on its baseline.
pub(super) fn key(at: Point) -> Vec<Item> {
    const SIZE: f64 = 3.2;
    let mut items = Vec::new();
    let mut x = at.x;
    let bar_at = |x: f64| Rect::new(x, at.y - 1.9, x + 7.0, at.y);
    let say = |items: &mut Vec<Item>, from: f64, words: &str| {
        let style = TextStyle::new(Face::Roman, SIZE);
        items.push(Item::text(words, Point::new(from, at.y), style, Anchor::Start));
        from + shape(words, style).width + 5.0
    };
    items.extend(bar(bar_at(x), false, (false, false)));
    x = say(&mut items, x + 8.2, "a note");
    items.extend(bar(bar_at(x), true, (false, false)));
    x = say(&mut items, x + 8.2, "doubtful: listen again");
    items.extend(cross(Rect::new(x + 1.0, at.y - 1.0, x + 1.0, at.y - 1.0).grown(CROSS), false));
    x = say(&mut items, x + 3.4, "a dead note");
    let (from, to) = (Point::new(x, at.y - 0.4), Point::new(x + 7.0, at.y - 0.4));
    items.push(Item::Stroke { path: arc(from, to), width: 0.45, ink: Ink::Accent });
    x = say(&mut items, x + 8.2, "joined without a new attack");
    let (from, to) = (Point::new(x, at.y - 1.0), Point::new(x + 7.0, at.y - 1.0));
    items.push(Item::Line { from, to, width: 0.2, dash: Some((0.4, 1.2)), ink: Ink::Faint });
    say(&mut items, x + 8.2, "open strings E A D G");
    items
}
