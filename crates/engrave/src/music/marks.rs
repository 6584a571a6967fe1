//! Ties, slurs, slides, articulations, and the marks that span several notes.

use super::bar::Head;
use super::rows::{self, MARK, SMALL};
use super::spacing::AXIS;
use super::staff::HeadAt;
use super::tab::STEP;
use crate::font::smufl::{self, defaults as d};
use crate::font::symbol_bounds;
use crate::path::Path;
use crate::scene::{Anchor, Item};
use crate::units::{Point, Rect};
use riffkin_score::note::{Approach, Mark};

/// A head in its system.
#[derive(Clone, Debug)]
pub(super) struct Placed<'a> {
    pub(super) head: &'a Head,
    pub(super) at: HeadAt,
    /// Ink left of the head: accidental, ledger line, parenthesis.
    pub(super) left: f64,
    /// Where the next moment begins, or the bar ends.
    pub(super) until: f64,
    /// Line and half width of its fret number, the tablature's first line at zero.
    pub(super) tab: Option<(f64, f64)>,
}

impl Placed<'_> {
    fn axis(&self) -> f64 {
        self.at.x + AXIS
    }
    fn approach(&self) -> Approach {
        if self.head.first { self.head.note.approach } else { Approach::Plucked }
    }
}

/// The sickle between two points, its depth growing with its length.
fn arc(a: Point, b: Point, above: bool, tie: bool) -> Item {
    let length = (b.x - a.x).abs();
    let height = (0.35 + 0.09 * length).min(1.3);
    let (end, mid) = if tie {
        (d::TIE_ENDPOINT_THICKNESS, d::TIE_MIDPOINT_THICKNESS)
    } else {
        (d::SLUR_ENDPOINT_THICKNESS, d::SLUR_MIDPOINT_THICKNESS)
    };
    Item::fill(Path::sickle(a, b, if above { -height } else { height }, end, mid))
}

/// From head to head on the staff, or to an edge of the system when one of the two is on another line.
fn staff_arc(
    from: Option<&Placed<'_>>,
    to: Option<&Placed<'_>>,
    edges: (f64, f64),
    tie: bool,
) -> Option<Item> {
    let up = |p: Option<&Placed<'_>>| p.map(|p| p.at.up);
    let above = !(up(from).unwrap_or(true) && up(to).unwrap_or(true));
    let lift = if above { -0.72 } else { 0.72 };
    let clear = |p: &Placed<'_>| if p.at.up == above { 0.3 } else { 0.0 };
    let y = from.or(to)?.at.y;
    let a = match from {
        Some(p) if clear(p) > 0.0 => Point::new(p.at.x + p.at.width + 0.15, p.at.y + lift),
        Some(p) => Point::new(p.at.x + p.at.width * 0.7, p.at.y + lift),
        None => Point::new(edges.0, y + lift),
    };
    let b = match to {
        Some(p) => Point::new(p.at.x + p.at.width * 0.3 - if above { 0.0 } else { clear(p) }, p.at.y + lift),
        None => Point::new(edges.1, y + lift),
    };
    (b.x > a.x + 0.2).then(|| arc(a, b, above, tie))
}

/// Everything that joins neighbours on the staff; `next` is the first head of the next system.
pub(super) fn joins(heads: &[Placed<'_>], edges: (f64, f64), next: Option<&Head>) -> Vec<Item> {
    let mut out = Vec::new();
    for (i, p) in heads.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|k| heads.get(k));
        if !p.head.first {
            out.extend(staff_arc(before, Some(p), (edges.0.max(p.at.x - 2.2), edges.1), true));
        }
        match (p.approach(), p.head.follows) {
            (Approach::Plucked, _) => {}
            (kind, false) => lead_in(&mut out, kind, p),
            (kind, true) => {
                let slides = matches!(kind, Approach::Slide | Approach::SlidePlucked);
                if kind != Approach::SlidePlucked {
                    let joined = staff_arc(before, Some(p), (edges.0.max(p.at.x - 2.2), edges.1), false);
                    out.extend(joined);
                }
                if slides {
                    out.push(slide_line(before, p, edges.0));
                }
            }
        }
    }
    if let (Some(last), Some(next)) = (heads.last(), next) {
        let leaves = !next.first
            || (next.follows
                && matches!(next.note.approach, Approach::Hammer | Approach::Pull | Approach::Slide));
        if leaves {
            out.extend(staff_arc(Some(last), None, edges, !next.first));
        }
    }
    out
}

fn letter(kind: Approach) -> Option<&'static str> {
    match kind {
        Approach::Hammer => Some("h"),
        Approach::Pull => Some("p"),
        _ => None,
    }
}

/// Moves a text up until it touches nothing that is taken, then takes its place.
fn clear(item: Item, taken: &mut Vec<Rect>) -> Item {
    let mut item = item;
    for _ in 0..taken.len() {
        let b = item.bounds().grown(0.1);
        let Some(hit) = taken.iter().find(|t| t.overlaps(&b)) else { break };
        let up = b.bottom - hit.top + 0.02;
        item = item.shifted(0.0, -up);
    }
    taken.push(item.bounds());
    item
}

/// White under a letter, with room for the tail of a p.
fn letter_lift(letter: &str) -> f64 {
    if letter == "p" { 0.15 + 0.24 * SMALL.size } else { 0.15 }
}

/// A slide out of nowhere: a short line. A hammer-on out of nowhere has only its letter.
fn lead_in(out: &mut Vec<Item>, kind: Approach, p: &Placed<'_>) {
    if matches!(kind, Approach::Slide | Approach::SlidePlucked) {
        let x = p.at.x - p.left - 0.2;
        let (a, b) = (Point::new(x - 1.2, p.at.y + 0.6), Point::new(x, p.at.y + 0.1));
        out.push(Item::line(a, b, d::STEM_THICKNESS));
    }
}

fn slide_line(before: Option<&Placed<'_>>, p: &Placed<'_>, edge: f64) -> Item {
    let to = Point::new(p.at.x - p.left - 0.2, p.at.y);
    let from = before.map_or(Point::new(edge.max(to.x - 2.2), p.at.y + 0.4), |b| {
        Point::new(b.at.x + b.at.width + 0.2, b.at.y)
    });
    // A level slide (a slide within one staff position) still has to look like one.
    let tilt = if (from.y - to.y).abs() < 0.1 { 0.25 } else { 0.0 };
    Item::line(from.shifted(0.0, tilt), to.shifted(0.0, -tilt), d::STEM_THICKNESS)
}

/// The same joins on the tablature, its first line at zero; one list of shapes per join.
pub(super) fn tab_joins(heads: &[Placed<'_>], edge: f64) -> Vec<Vec<Item>> {
    let mut out = Vec::new();
    // Letters keep clear of the numbers and of each other.
    let mut taken: Vec<Rect> = heads
        .iter()
        .filter_map(|p| p.tab.map(|(y, half)| (p.axis(), y, half)))
        .map(|(x, y, half)| Rect::new(x - half, y - 0.75, x + half, y + 0.75))
        .collect();
    for p in heads {
        if let (Some((y, half)), true) = (p.tab, p.head.first && p.head.note.bend > 0) {
            let arrow = bend(p, y, half);
            let text = bend_text(p.head.note.bend);
            let at = Point::new(p.axis() + half + BEND_REACH, -1.25);
            let text = clear(Item::text(text, at, SMALL, Anchor::Middle), &mut taken);
            taken.extend(arrow.iter().map(Item::bounds));
            out.push(arrow);
            out.push(vec![text]);
        }
    }
    for (i, p) in heads.iter().enumerate() {
        let Some((y, half)) = p.tab else { continue };
        let kind = p.approach();
        if kind == Approach::Plucked {
            continue;
        }
        let before = i.checked_sub(1).and_then(|k| heads.get(k)).filter(|_| p.head.follows);
        let start = before.and_then(|b| number_of(heads, b, i)).map(|(b, (y, half))| (b.axis(), y, half));
        let mut items = Vec::new();
        let (from, from_y, from_half) = start.unwrap_or(((p.axis() - half - 2.2).max(edge), y, 0.0));
        if kind != Approach::SlidePlucked && p.head.follows {
            let top = from_y.min(y) - 0.8;
            let (a, b) = (Point::new(from, top), Point::new(p.axis(), top));
            let sickle = arc(a, b, true, false);
            let peak = sickle.bounds().top;
            items.push(sickle);
            if let Some(text) = letter(kind) {
                let at = Point::new((from + p.axis()) / 2.0, peak - letter_lift(text));
                items.push(clear(Item::text(text, at, SMALL, Anchor::Middle), &mut taken));
            }
        } else if let Some(text) = letter(kind) {
            let at = Point::new(p.axis(), y - 0.8 - letter_lift(text));
            items.push(clear(Item::text(text, at, SMALL, Anchor::Middle), &mut taken));
        }
        if matches!(kind, Approach::Slide | Approach::SlidePlucked) {
            let (mut a, mut b) =
                (Point::new(from + from_half + 0.15, from_y), Point::new(p.axis() - half - 0.15, y));
            if (from_y - y).abs() < 0.1 {
                let rising = before.is_none_or(|q| q.head.note.pitch.midi() <= p.head.note.pitch.midi());
                let tilt = if rising { 0.4 } else { -0.4 };
                a = a.shifted(0.0, tilt);
                b = b.shifted(0.0, -tilt);
            }
            items.push(Item::line(a, b, d::STEM_THICKNESS));
        }
        out.push(items);
    }
    out
}

/// The fret number from which a join starts: that of the note before, whose own may stand at the first of tied heads.
fn number_of<'p, 'a>(
    heads: &'p [Placed<'a>],
    before: &'p Placed<'a>,
    i: usize,
) -> Option<(&'p Placed<'a>, (f64, f64))> {
    if let Some(t) = before.tab {
        return Some((before, t));
    }
    let line = before.head.line;
    heads.get(..i)?.iter().rev().take_while(|p| p.head.line == line).find_map(|p| p.tab.map(|t| (p, t)))
}

/// From the right edge of a fret number to the tip of its bend's arrow.
const BEND_REACH: f64 = 1.15;

/// A bend: an arrow from the number up over the lines.
fn bend(p: &Placed<'_>, y: f64, half: f64) -> Vec<Item> {
    let (a, top) = (p.axis() + half + 0.15, -1.0);
    let tip = Point::new(p.axis() + half + BEND_REACH, top);
    let curve = Path::new().move_to(a, y).cubic_to(
        Point::new(a + 0.7, y),
        Point::new(tip.x, y - 0.4),
        Point::new(tip.x, top + 0.5),
    );
    let head = Path::polygon(&[tip, tip.shifted(0.32, 0.6), tip.shifted(-0.32, 0.6)]);
    vec![
        Item::Stroke { path: curve, width: d::STEM_THICKNESS, ink: crate::scene::Ink::Black },
        Item::fill(head),
    ]
}

/// A bend in whole steps of the scale of players: a quarter tone is ¼ step, two semitones are `1`.
pub(super) fn bend_text(quarter_tones: u8) -> String {
    let (whole, rest) = (quarter_tones / 4, quarter_tones % 4);
    let part = ["", "¼", "½", "¾"][usize::from(rest)];
    if whole == 0 { part.to_owned() } else { format!("{whole}{part}") }
}

/// Staccato and accent at a head, on the side away from the stem.
pub(super) fn articulations(p: &Placed<'_>) -> Vec<Item> {
    let mut out = Vec::new();
    if !p.head.first {
        return out;
    }
    let marks = p.head.note.marks;
    let above = !p.at.up;
    let sign = if above { -1.0 } else { 1.0 };
    let mut edge = p.at.y + sign * 0.5;
    let axis = p.at.x + p.at.width / 2.0;
    let mut put = |symbol: char, origin: f64| {
        let b = symbol_bounds(symbol);
        out.push(Item::symbol(symbol, Point::new(axis - (b.left + b.right) / 2.0, origin), 1.0));
    };
    if marks.has(Mark::Staccato) {
        // Inside the staff a dot stands in the middle of a space.
        let on_line = p.head.position.rem_euclid(2) == 0;
        let centre = p.at.y + sign * if on_line { 1.5 } else { 1.0 };
        let symbol = if above { smufl::STACCATO_ABOVE } else { smufl::STACCATO_BELOW };
        let b = symbol_bounds(symbol);
        put(symbol, centre - (b.top + b.bottom) / 2.0);
        edge = centre + sign * 0.2;
    }
    if marks.has(Mark::Accent) {
        let outside = if above { edge.min(-2.0) } else { edge.max(2.0) };
        put(if above { smufl::ACCENT_ABOVE } else { smufl::ACCENT_BELOW }, outside + sign * 0.35);
    }
    out
}

/// What the row of marks over the staff holds, each around a baseline at zero: letters for slap and pop, spans of palm
/// muting and ringing, vibrato; and what the tablature would show if there were one: letters of hammer-ons and pull-offs,
/// and bends.
pub(super) fn row(heads: &[Placed<'_>], has_tab: bool) -> (Vec<Vec<Item>>, Vec<Vec<Item>>) {
    let mut letters = Vec::new();
    let mut spans = Vec::new();
    for (i, p) in heads.iter().enumerate() {
        if let Some(text) = letter(p.approach()).filter(|_| !has_tab) {
            let before = i.checked_sub(1).and_then(|k| heads.get(k)).filter(|_| p.head.follows);
            let x = before.map_or(p.at.x, |b| (b.at.x + p.at.x) / 2.0);
            letters.push(vec![rows::centred(text, x, SMALL)]);
        }
        if let Some(text) = rows::struck(p.head) {
            letters.push(vec![rows::centred(text, p.at.x, MARK)]);
        }
        let marks = p.head.note.marks;
        if p.head.first && marks.has(Mark::Vibrato) {
            spans.push(wiggle(p));
        }
        if p.head.first && p.head.note.bend > 0 && !has_tab {
            let text = format!("bend {}", bend_text(p.head.note.bend));
            letters.push(vec![rows::starting(text, p.at.x, SMALL)]);
        }
    }
    for (mark, text) in [(Mark::PalmMute, "P.M."), (Mark::LetRing, "let ring")] {
        let mut i = 0;
        while let Some(p) = heads.get(i) {
            if !p.head.note.marks.has(mark) {
                i += 1;
                continue;
            }
            let mut end = i;
            while heads.get(end + 1).is_some_and(|n| n.head.note.marks.has(mark) && n.head.follows) {
                end += 1;
            }
            spans.push(span(text, p, heads.get(end).unwrap_or(p)));
            i = end + 1;
        }
    }
    (letters, spans)
}

fn span(text: &str, from: &Placed<'_>, to: &Placed<'_>) -> Vec<Item> {
    let label = rows::starting(text, from.at.x, SMALL);
    let right = label.bounds().right + 0.4;
    let end = (to.until - 0.5).max(to.at.x + to.at.width);
    let y = -0.3 * SMALL.size;
    let mut out = vec![label];
    if end > right + 0.8 {
        out.push(Item::Line {
            from: Point::new(right, y),
            to: Point::new(end, y),
            width: d::STEM_THICKNESS,
            dash: Some((0.6, 0.5)),
            ink: crate::scene::Ink::Black,
        });
        out.push(Item::line(Point::new(end, y - 0.06), Point::new(end, y + 0.6), d::STEM_THICKNESS));
    }
    out
}

fn wiggle(p: &Placed<'_>) -> Vec<Item> {
    let b = symbol_bounds(smufl::WIGGLE_VIBRATO);
    let step = b.width().max(0.3);
    let room = (p.until - p.at.x - 0.6).max(2.0);
    let n = (room / step).floor().clamp(2.0, 40.0) as u32;
    (0..n)
        .map(|i| {
            let x = p.at.x + step * f64::from(i) - b.left;
            Item::symbol(smufl::WIGGLE_VIBRATO, Point::new(x, 0.0), 1.0)
        })
        .collect()
}

/// Least distance of the tablature's first line from the staff's lowest, in staff spaces.
pub(super) const TAB_GAP: f64 = 2.0 * STEP;

#[cfg(test)]
mod tests {
    use super::bend_text;

    #[test]
    fn bends_read_in_steps() {
        let all: Vec<String> = (0..=8).map(bend_text).collect();
        assert_eq!(all, ["", "¼", "½", "¾", "1", "1¼", "1½", "1¾", "2"]);
    }
}
