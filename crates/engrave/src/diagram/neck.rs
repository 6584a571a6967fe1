//! The neck diagram: the strings as in tablature (highest on top), the nut to the left, to the right for the left-handed.
//!
//! Frets stand where they stand on the instrument, by the neck's own rule, scaled to the picture. The root is a
//! filled plate with square corners, other notes are open rounds, a new one has a doubled border. A neck without frets
//! has dashed lines for positions; a capo is a thick bar in the place of the nut.

use super::strip::label;
use crate::font::{Face, TextStyle};
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Scene};
use crate::units::{Point, Rect};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::Place;
use std::collections::BTreeMap;

/// One position that is marked.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NeckMark {
    /// String and fret.
    pub place: Place,
    /// What stands in it: a degree as printed.
    pub label: String,
    /// The root.
    pub root: bool,
    /// New on this rung: a doubled border.
    pub new: bool,
}

/// What a neck diagram shows.
#[derive(Clone, Debug, PartialEq)]
pub struct NeckDiagram<'a> {
    /// The neck.
    pub neck: &'a Neck,
    /// Its marked positions. Of several marks at one place the first counts; places off the neck are left out.
    pub marks: Vec<NeckMark>,
    /// First and last fret to show, or what the marks need, at least four frets.
    pub frets: Option<(u8, u8)>,
}

impl NeckDiagram<'_> {
    /// The frets shown: the first is at least 1.
    #[must_use]
    pub fn window(&self) -> (u8, u8) {
        let last = self.neck.frets().max(1);
        if let Some((a, b)) = self.frets {
            let a = a.clamp(1, last);
            return (a, b.clamp(a, last));
        }
        let stopped: Vec<u8> =
            self.marks.iter().map(|m| m.place.fret).filter(|&f| f > 0 && f <= last).collect();
        let low = stopped.iter().min().copied().unwrap_or(1);
        let high = stopped.iter().max().copied().unwrap_or(4);
        let open = self.marks.iter().any(|m| m.place.fret == 0);
        let low = if open || low <= 2 { 1 } else { low };
        let high = high.max(low.saturating_add(3)).min(last);
        (low.min(high.saturating_sub(3).max(1)), high)
    }

    /// The marked places in words.
    #[must_use]
    pub fn words(&self) -> String {
        let name = |s: u8| self.neck.open(s).map_or_else(String::new, |p| p.name().print());
        let mut parts: Vec<String> = Vec::new();
        for string in 1..=self.neck.string_count() {
            let mut at: Vec<&NeckMark> = self.marks.iter().filter(|m| m.place.string == string).collect();
            at.sort_by_key(|m| m.place.fret);
            at.dedup_by_key(|m| m.place.fret);
            if at.is_empty() {
                continue;
            }
            let notes: Vec<String> = at
                .iter()
                .map(|m| {
                    let fret =
                        if m.place.fret == 0 { "open".to_owned() } else { format!("fret {}", m.place.fret) };
                    let new = if m.new { " (new)" } else { "" };
                    format!("{fret} {}{new}", m.label)
                })
                .collect();
            parts.push(format!("{} string: {}", name(string), notes.join(", ")));
        }
        let capo = match self.neck.capo() {
            0 => String::new(),
            fret => format!(" With a capo at fret {fret}, from which frets are counted."),
        };
        let hand = if self.neck.is_left_handed() { " Drawn for the left-handed." } else { "" };
        let hand = format!("{capo}{hand}");
        if parts.is_empty() {
            format!("Nothing is marked.{hand}")
        } else {
            format!("{}.{hand}", parts.join("; "))
        }
    }
}

/// A bare neck on paper, and where its places lie.
pub(super) struct Board<'a> {
    neck: &'a Neck,
    // First and last fret shown.
    frets: (u8, u8),
    width: f64,
    gap: f64,
}

impl<'a> Board<'a> {
    /// `width` millimetres wide in all, strings `gap` millimetres apart.
    pub(super) fn new(neck: &'a Neck, frets: (u8, u8), width: f64, gap: f64) -> Self {
        Self { neck, frets, width, gap }
    }

    /// Half the size of a mark, which is no wider than the narrowest fret, the highest.
    pub(super) fn radius(&self) -> f64 {
        let high = self.frets.1;
        (self.gap * 0.43).min((self.fret_x(high) - self.fret_x(high - 1)) * 0.46)
    }

    fn nut(&self) -> bool {
        self.frets.0 == 1
    }

    fn name_room(&self) -> f64 {
        self.gap * 0.75
    }

    fn open_room(&self) -> f64 {
        if self.nut() { self.gap } else { self.gap * 0.25 }
    }

    fn sides(&self) -> (f64, f64) {
        let left = self.name_room() + self.open_room();
        (left, (self.width - self.gap * 0.1).max(left + self.gap))
    }

    fn flip(&self, x: f64) -> f64 {
        if self.neck.is_left_handed() { self.width - x } else { x }
    }

    fn fret_x(&self, fret: u8) -> f64 {
        let (left, right) = self.sides();
        let mm = |f: u8| self.neck.fret_mm(f);
        let (from, to) = (mm(self.frets.0 - 1), mm(self.frets.1));
        left + (mm(fret) - from) / (to - from).max(0.001) * (right - left)
    }

    fn string_y(&self, string: u8) -> f64 {
        self.gap * 0.53 + self.gap * f64::from(string.saturating_sub(1))
    }

    /// The middle of a place; `None` when it is not shown.
    pub(super) fn at(&self, place: Place) -> Option<Point> {
        let (low, high) = self.frets;
        let shown = place.fret == 0 && self.nut() || (low..=high).contains(&place.fret);
        if !shown || place.string == 0 || place.string > self.neck.string_count() {
            return None;
        }
        let x = match place.fret {
            0 => self.sides().0 - self.open_room() * 0.52,
            fret => (self.fret_x(fret - 1) + self.fret_x(fret)) / 2.0,
        };
        Some(Point::new(self.flip(x), self.string_y(place.string)))
    }

    /// Frets, strings, their names and the fret numbers; the scene is as high as they need.
    pub(super) fn draw(&self) -> Scene {
        let (n, gap) = (self.neck, self.gap);
        let (low, high) = self.frets;
        let strings = n.string_count();
        let name_style = TextStyle::new(Face::Italic, gap * 0.52);
        let (left, right) = self.sides();
        let (top, bottom) = (self.string_y(1), self.string_y(strings));
        let height = bottom + gap * 1.18;
        let mut scene = Scene::new(self.width, height);
        scene.title = format!("Neck, frets {low} to {high}");
        for f in (low - 1)..=high {
            let x = self.flip(self.fret_x(f));
            let (w, ink) = end_line(n, f, gap);
            let dash = (n.is_fretless() && f > 0).then_some((gap * 0.15, gap * 0.15));
            scene.items.push(Item::Line {
                from: Point::new(x, top),
                to: Point::new(x, bottom),
                width: w,
                dash,
                ink,
            });
        }
        for s in 1..=strings {
            let y = self.string_y(s);
            // Lower strings are thicker, as on the instrument.
            let w = gap * (0.03 + 0.012 * f64::from(s));
            let start = if self.nut() { left } else { left - self.open_room() };
            scene.items.push(Item::line(Point::new(self.flip(start), y), Point::new(self.flip(right), y), w));
            let at = Point::new(self.flip(self.name_room() * 0.45), y + name_style.size * 0.3);
            let name = n.open(s).map_or_else(String::new, |p| p.name().print());
            scene.items.push(Item::text(name, at, name_style, Anchor::Middle));
        }
        let number_style = TextStyle::new(Face::Roman, gap * 0.5);
        for f in low..=high {
            let x = self.flip((self.fret_x(f - 1) + self.fret_x(f)) / 2.0);
            let at = Point::new(x, height - gap * 0.1);
            scene.items.push(Item::text(f.to_string(), at, number_style, Anchor::Middle));
        }
        if n.capo() > 0 && self.nut() {
            let at = Point::new(self.flip(left), height - gap * 0.17);
            let anchor = if n.is_left_handed() { Anchor::Start } else { Anchor::End };
            scene.items.push(Item::text(format!("capo {}", n.capo()), at, number_style, anchor));
        }
        scene
    }
}

/// Draws a neck `width` millimetres wide in all, strings `gap` millimetres apart (6 to 8 is usual).
#[must_use]
pub fn neck(diagram: &NeckDiagram<'_>, width: f64, gap: f64) -> Scene {
    let board = Board::new(diagram.neck, diagram.window(), width, gap);
    let mut scene = board.draw();
    scene.description = diagram.words();
    for m in shown(diagram) {
        if let Some(at) = board.at(m.place) {
            mark(&mut scene.items, m, at, board.radius());
        }
    }
    scene
}

/// Thickness and ink of a fret, the nut or the capo.
pub(super) fn end_line(neck: &Neck, fret: u8, gap: f64) -> (f64, Ink) {
    match (fret, neck.capo()) {
        (0, 0) => (gap * 0.16, Ink::Black),
        (0, _) => (gap * 0.24, Ink::Black),
        _ => (gap * 0.05, Ink::Faint),
    }
}

/// The marks inside the window, of several at one place the first.
pub(super) fn shown<'a>(diagram: &'a NeckDiagram<'_>) -> Vec<&'a NeckMark> {
    let (low, high) = diagram.window();
    let mut seen: BTreeMap<(u8, u8), &NeckMark> = BTreeMap::new();
    for m in &diagram.marks {
        let Place { string, fret } = m.place;
        let inside = fret == 0 && low == 1 || (low..=high).contains(&fret);
        if inside && (1..=diagram.neck.string_count()).contains(&string) {
            seen.entry((string, fret)).or_insert(m);
        }
    }
    seen.into_values().collect()
}

pub(super) fn mark(out: &mut Vec<Item>, m: &NeckMark, c: Point, radius: f64) {
    let line = radius * 0.13;
    let area = Rect::new(c.x - radius, c.y - radius, c.x + radius, c.y + radius);
    if m.root {
        if m.new {
            out.push(Item::Fill { path: Path::rectangle(area), ink: Ink::Paper });
            out.push(Item::Stroke {
                path: Path::rectangle(area.grown(-line / 2.0)),
                width: line,
                ink: Ink::Black,
            });
        }
        let plate = area.grown(if m.new { -radius * 0.26 } else { -radius * 0.06 });
        out.push(Item::fill(Path::rectangle(plate)));
        out.push(label(&m.label, area, Ink::Paper, 0.58));
        return;
    }
    out.push(Item::Fill { path: Path::ellipse(c, radius, radius), ink: Ink::Paper });
    let ring = |r: f64| Item::Stroke { path: Path::ellipse(c, r, r), width: line, ink: Ink::Black };
    out.push(ring(radius - line / 2.0));
    if m.new {
        out.push(ring(radius * 0.76));
    }
    let text = label(
        &m.label,
        area.grown(-radius * if m.new { 0.28 } else { 0.1 }),
        Ink::Black,
        if m.new { 0.66 } else { 0.6 },
    );
    out.push(text);
}

/// The label as text, for tests.
#[cfg(test)]
fn texts(scene: &Scene) -> Vec<(String, f64)> {
    let mut out = Vec::new();
    scene.visit(&mut |i| {
        if let Item::Text(crate::scene::Text { content, at, .. }) = i {
            out.push((content.clone(), at.x));
        }
    });
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn marks() -> Vec<NeckMark> {
        let m = |string, fret, label: &str, root| NeckMark {
            place: Place { string, fret },
            label: label.into(),
            root,
            new: false,
        };
        vec![m(4, 3, "1", true), m(4, 6, "♭3", false), m(3, 3, "4", false), m(2, 3, "♭7", false)]
    }

    #[test]
    fn the_window_holds_all_marks_and_at_least_four_frets() {
        let four = Neck::named("four").expect("known");
        let d = NeckDiagram { neck: &four, marks: marks(), frets: None };
        assert_eq!(d.window(), (3, 6));
        let none = NeckDiagram { neck: &four, marks: Vec::new(), frets: None };
        assert_eq!(none.window(), (1, 4));
        let high = NeckDiagram { neck: &four, marks: Vec::new(), frets: Some((19, 40)) };
        assert_eq!(high.window(), (19, 20));
        let mut top = marks();
        top.truncate(1);
        top[0].place.fret = 20;
        assert_eq!(NeckDiagram { neck: &four, marks: top, frets: None }.window(), (17, 20));
    }

    #[test]
    fn the_left_handed_neck_is_the_mirror_image() {
        let right = Neck::named("four").expect("known");
        let left = right.clone().left_handed(true);
        let draw = |n: &Neck| texts(&neck(&NeckDiagram { neck: n, marks: marks(), frets: None }, 80.0, 7.0));
        for ((a, x), (b, y)) in draw(&right).iter().zip(draw(&left)) {
            assert_eq!(*a, b);
            assert!((x + y - 80.0).abs() < 1e-9, "{a}");
        }
    }

    /// Fret n lies at L(1 - 2^(-n/12)): from 3 to 6 the spaces shrink by 2^(-1/12) = 0.9439 each.
    #[test]
    fn frets_stand_as_on_the_instrument() {
        let four = Neck::named("four").expect("known");
        let scene = neck(&NeckDiagram { neck: &four, marks: marks(), frets: None }, 80.0, 7.0);
        let xs: Vec<f64> = scene
            .items
            .iter()
            .filter_map(|i| match i {
                Item::Line { from, to, .. } if from.x == to.x => Some(from.x),
                _ => None,
            })
            .collect();
        assert_eq!(xs.len(), 5);
        for w in xs.windows(3) {
            let ratio = (w[2] - w[1]) / (w[1] - w[0]);
            assert!((ratio - 0.943_874).abs() < 1e-5, "{ratio}");
        }
    }
}
