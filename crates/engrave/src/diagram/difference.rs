//! Two scales on one neck: what they share, and the notes that tell them apart.
//!
//! Form says which is which, so that the picture reads in black and white: the root is a filled plate with square
//! corners, what both share is a thin open round, what only the first scale has stands on its tip in a heavy
//! diamond, what only the second has in a heavy hexagon. A bar joins two that lie a fret apart on one string. All
//! degrees are counted from the first scale's root, and the picture says so.

use super::neck::Board;
use super::strip::label;
use crate::font::{Face, TextStyle, shape};
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Scene};
use crate::units::{Point, Rect};
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::shapes::positions;
use riffkin_score::analysis::compare::Comparison;
use riffkin_score::degree::Degree;
use riffkin_score::note::Place;

/// What a picture of a difference shows.
#[derive(Clone, Copy, Debug)]
pub struct Difference<'a> {
    /// The two scales.
    pub comparison: &'a Comparison,
    /// The neck.
    pub neck: &'a Neck,
    /// First and last fret; open strings are shown when the first is 1.
    pub frets: (u8, u8),
}

/// To which of two scales a note belongs.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Belongs {
    Root,
    Both,
    SecondRoot,
    First,
    Second,
}

/// One marked place.
#[derive(Clone, Debug, PartialEq)]
struct Mark {
    place: Place,
    degree: Degree,
    label: String,
    belongs: Belongs,
}

impl Difference<'_> {
    fn frets(&self) -> (u8, u8) {
        let last = self.neck.frets().max(1);
        let low = self.frets.0.clamp(1, last);
        (low, self.frets.1.clamp(low, last))
    }

    fn marks(&self) -> Vec<Mark> {
        let c = self.comparison;
        let (low, high) = self.frets();
        let low = if low == 1 { 0 } else { low };
        let tonic = c.first.tonic;
        let second = c.second_degrees();
        let second_root = (c.second.tonic.pitch_class() + 12 - tonic.pitch_class()) % 12;
        let all: Vec<Degree> = [&c.both[..], &c.only_first, &c.only_second].concat();
        positions(self.neck, tonic, &all, low..=high)
            .into_iter()
            .map(|(place, degree)| {
                let belongs = match degree.slot() {
                    0 if !c.only_second.contains(&degree) => Belongs::Root,
                    slot if slot == second_root && c.first.tonic != c.second.tonic => Belongs::SecondRoot,
                    _ if c.only_first.contains(&degree) => Belongs::First,
                    _ if c.only_second.contains(&degree) => Belongs::Second,
                    _ => Belongs::Both,
                };
                let other = second.iter().find(|d| d.slot() == degree.slot() && **d != degree);
                // One place under two names bears both.
                let label = match other.filter(|_| belongs == Belongs::Both) {
                    Some(other) => format!("{}/{}", degree.print(), other.print()),
                    None => degree.print(),
                };
                Mark { place, degree, label, belongs }
            })
            .collect()
    }

    /// What the picture says, for those who cannot see it.
    fn description(&self, marks: &[Mark]) -> String {
        let c = self.comparison;
        let mut words: Vec<String> = c.words().iter().map(|w| sentence(w)).collect();
        words.push(self.counted_from());
        for (belongs, what) in [
            (Belongs::First, c.first.print()),
            (Belongs::Second, c.second.print()),
            (Belongs::Root, "Root".into()),
        ] {
            let at: Vec<String> = marks
                .iter()
                .filter(|m| m.belongs == belongs)
                .map(|m| {
                    let string =
                        self.neck.open(m.place.string).map_or_else(String::new, |p| p.name().print());
                    match m.place.fret {
                        0 => format!("open {string} string ({})", m.label),
                        fret => format!("{string} string fret {fret} ({})", m.label),
                    }
                })
                .collect();
            if !at.is_empty() {
                let only = if belongs == Belongs::Root { "" } else { "Only " };
                words.push(format!("{only}{what}: {}.", at.join(", ")));
            }
        }
        if self.neck.is_left_handed() {
            words.push("Drawn for the left-handed.".to_owned());
        }
        words.join(" ")
    }

    fn counted_from(&self) -> String {
        format!("Degrees counted from {}.", self.comparison.first.tonic.print())
    }
}

/// With a capital at the start and a stop at the end.
fn sentence(words: &str) -> String {
    let mut letters = words.chars();
    let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
    format!("{first}{}.", letters.as_str())
}

/// Draws the difference `width` millimetres wide, strings `gap` millimetres apart (7 to 9 is usual), with a line of
/// words above and the forms explained below.
#[must_use]
pub fn difference(what: &Difference<'_>, width: f64, gap: f64) -> Scene {
    // Drawn without its margin, then moved into it.
    let (whole, margin) = (width, gap * 0.25);
    let width = whole - 2.0 * margin;
    let c = what.comparison;
    let marks = what.marks();
    let board = Board::new(what.neck, what.frets(), width, gap);
    let radius = board.radius();
    let head = gap * 1.35;
    let mut picture = board.draw();
    let neck_height = picture.height;
    for (a, b) in pairs(&marks) {
        if let (Some(from), Some(to)) = (board.at(a), board.at(b)) {
            picture.items.push(Item::line(from, to, radius * 0.36));
        }
    }
    for m in &marks {
        if let Some(at) = board.at(m.place) {
            draw(&mut picture.items, m.belongs, &m.label, at, radius);
        }
    }
    let mut scene = Scene::new(whole, 0.0);
    scene.title = format!("{} and {}", c.first.print(), c.second.print());
    scene.description = what.description(&marks);
    let title = TextStyle::new(Face::Bold, fitted(&scene.title, Face::Bold, gap * 0.68, width));
    scene.items.push(Item::text(scene.title.clone(), Point::new(0.0, gap * 0.75), title, Anchor::Start));
    scene.items.extend(picture.items.into_iter().map(|i| i.shifted(0.0, head)));
    let mut y = head + neck_height + gap * 0.95;
    for (belongs, label, words) in legend(what, &marks) {
        let style = TextStyle::new(Face::Roman, fitted(&words, Face::Roman, gap * 0.5, width - gap * 1.2));
        draw(&mut scene.items, belongs, &label, Point::new(radius, y), radius * 0.82);
        scene.items.push(Item::text(
            words,
            Point::new(gap * 1.2, y + style.size * 0.31),
            style,
            Anchor::Start,
        ));
        y += gap * 0.95;
    }
    let note = TextStyle::new(Face::Italic, gap * 0.46);
    scene.items.push(Item::text(what.counted_from(), Point::new(0.0, y), note, Anchor::Start));
    scene.items = scene.items.into_iter().map(|item| item.shifted(margin, 0.0)).collect();
    scene.height = y + gap * 0.3;
    scene
}

/// The size at which words fit a width, at most `wanted`.
fn fitted(words: &str, face: Face, wanted: f64, width: f64) -> f64 {
    let wide = shape(words, TextStyle::new(face, wanted)).width;
    if wide > width { wanted * width / wide } else { wanted }
}

/// Differing notes a fret apart on one string.
fn pairs(marks: &[Mark]) -> Vec<(Place, Place)> {
    let of = |belongs: Belongs| marks.iter().filter(move |m| m.belongs == belongs);
    of(Belongs::First)
        .flat_map(|a| of(Belongs::Second).map(move |b| (a, b)))
        .filter(|(a, b)| {
            a.place.string == b.place.string
                && a.place.fret.abs_diff(b.place.fret) == 1
                && a.place.fret.min(b.place.fret) > 0
                && a.degree.number() == b.degree.number()
        })
        .map(|(a, b)| (a.place, b.place))
        .collect()
}

/// The forms that occur, with what they mean.
fn legend(what: &Difference<'_>, marks: &[Mark]) -> Vec<(Belongs, String, String)> {
    let c = what.comparison;
    let (first, second) = (c.first.print(), c.second.print());
    let tonic = c.first.tonic;
    let listed = |belongs: Belongs| {
        let mut names: Vec<(u8, String)> = marks
            .iter()
            .filter(|m| m.belongs == belongs)
            .map(|m| {
                let mut notes: Vec<String> = m.degree.of(tonic).map(|n| n.print()).into_iter().collect();
                let two = c.two_names.iter().find(|n| Some(n.first.0) == m.degree.of(tonic));
                notes.extend(two.map(|n| n.second.0.print()));
                (m.degree.slot(), format!("{} ({})", m.label.replace('/', " or "), notes.join(" or ")))
            })
            .collect();
        names.sort();
        names.dedup();
        names.into_iter().map(|n| n.1).collect::<Vec<_>>().join(", ")
    };
    let label = |belongs: Belongs| {
        let mut names: Vec<&Mark> = marks.iter().filter(|m| m.belongs == belongs).collect();
        names.sort_by_key(|m| m.degree.slot());
        names.first().map(|m| m.label.clone())
    };
    let words = |belongs: Belongs| match belongs {
        Belongs::Root if c.first.tonic == c.second.tonic => format!("root {} of both", tonic.print()),
        Belongs::Root => format!("root {} of {first}", tonic.print()),
        Belongs::SecondRoot => format!("root {} of {second}", c.second.tonic.print()),
        Belongs::First => format!("only {first}: {}", listed(belongs)),
        Belongs::Second => format!("only {second}: {}", listed(belongs)),
        Belongs::Both => format!("both: {}", listed(belongs)),
    };
    [Belongs::Root, Belongs::SecondRoot, Belongs::First, Belongs::Second, Belongs::Both]
        .into_iter()
        .filter_map(|belongs| Some((belongs, label(belongs)?, words(belongs))))
        .collect()
}

/// One mark in the form of what it belongs to.
fn draw(out: &mut Vec<Item>, belongs: Belongs, name: &str, c: Point, radius: f64) {
    let thin = radius * 0.13;
    let heavy = radius * 0.26;
    let square = |r: f64| Rect::new(c.x - r, c.y - r, c.x + r, c.y + r);
    let outlined = |path: &dyn Fn(f64) -> Path, radius: f64, width: f64| {
        [
            Item::Fill { path: path(radius), ink: Ink::Paper },
            Item::Stroke { path: path(radius - width / 2.0), width, ink: Ink::Black },
        ]
    };
    let (items, room, share): (Vec<Item>, f64, f64) = match belongs {
        Belongs::Root => (vec![Item::fill(Path::rectangle(square(radius * 0.94)))], radius, 0.58),
        Belongs::SecondRoot => {
            let path = |r: f64| Path::rectangle(square(r));
            (outlined(&path, radius * 0.94, heavy).into(), radius * 0.8, 0.62)
        }
        Belongs::Both => {
            let path = |r: f64| Path::ellipse(c, r, r);
            (outlined(&path, radius, thin).into(), radius * 0.9, 0.6)
        }
        Belongs::First => {
            // On its tip, and as large as the strings leave room for.
            let path = |r: f64| corners(c, r, 4, 0.0);
            (outlined(&path, radius * 1.12, heavy).into(), radius * 0.66, 0.76)
        }
        Belongs::Second => {
            let path = |r: f64| corners(c, r, 6, 0.5);
            (outlined(&path, radius * 1.1, heavy).into(), radius * 0.78, 0.66)
        }
    };
    out.extend(items);
    let ink = if belongs == Belongs::Root { Ink::Paper } else { Ink::Black };
    out.push(label(name, square(room), ink, share));
}

/// A regular figure of `count` corners; `turn` in steps from corner to corner, 0 with a corner on top.
fn corners(c: Point, radius: f64, count: u32, turn: f64) -> Path {
    let points: Vec<Point> = (0..count)
        .map(|k| (f64::from(k) + turn) / f64::from(count) * std::f64::consts::TAU)
        .map(|angle| Point::new(c.x + radius * angle.sin(), c.y - radius * angle.cos()))
        .collect();
    Path::polygon(&points)
}
