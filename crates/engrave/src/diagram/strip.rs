//! The degree strip: twelve cells in semitone order from the root.
//!
//! A cell of the riff is filled and carries its degree's name; a cell that is new has a doubled border: an outer line,
//! a white ring, then the fill. So new and old differ by form, in black and white, at any size.

use crate::font::{Face, TextStyle, shape};
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Scene, Text};
use crate::units::{Point, Rect};
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::key::Key;

/// What a strip shows.
#[derive(Clone, Debug, PartialEq)]
pub struct Strip {
    /// The slots that the riff has.
    pub filled: DegreeSet,
    /// Those of them that are new; slots that are not filled count as new only when they are in `filled` too.
    pub new: DegreeSet,
    /// Degree names by slot, as printed (`♭3`).
    pub names: [String; 12],
}

impl Strip {
    /// A strip with the usual names.
    #[must_use]
    pub fn new(filled: DegreeSet) -> Self {
        Self { filled, new: DegreeSet::EMPTY, names: std::array::from_fn(|i| usual(i).print()) }
    }

    /// The same with these slots new.
    #[must_use]
    pub fn with_new(self, new: DegreeSet) -> Self {
        Self { new, ..self }
    }

    /// The same with the names that a key gives the slots.
    #[must_use]
    pub fn in_key(self, key: Key) -> Self {
        Self { names: std::array::from_fn(|i| key.degree_of_slot(slot_number(i)).print()), ..self }
    }

    /// The same with these degrees' own names (the b5 or #4 as the riff spells it).
    #[must_use]
    pub fn named(mut self, degrees: impl IntoIterator<Item = Degree>) -> Self {
        for d in degrees {
            if let Some(name) = self.names.get_mut(usize::from(d.slot())) {
                *name = d.print();
            }
        }
        self
    }

    /// The strip in words.
    #[must_use]
    pub fn words(&self) -> String {
        let list = |set: DegreeSet| {
            let names: Vec<&str> =
                set.slots().filter_map(|s| self.names.get(usize::from(s))).map(String::as_str).collect();
            names.join(" ")
        };
        if self.filled.is_empty() {
            return "Degrees: none.".to_owned();
        }
        let new = self.new.shared(self.filled);
        let news = if new.is_empty() { String::new() } else { format!(" New: {}.", list(new)) };
        format!("Degrees: {}.{news}", list(self.filled))
    }
}

fn slot_number(i: usize) -> u8 {
    u8::try_from(i).unwrap_or(0)
}

fn usual(i: usize) -> Degree {
    Degree::usual(slot_number(i))
}

/// Draws a strip whose cells are `cell` millimetres wide and high (6 to 8 is usual); twelve cells wide.
#[must_use]
pub fn strip(strip: &Strip, cell: f64) -> Scene {
    let line = cell * 0.045;
    let mut scene = Scene::new(cell * 12.0 + line, cell + line);
    scene.title = "Degree strip".to_owned();
    scene.description = strip.words();
    let half = line / 2.0;
    let square = |i: usize, shrink: f64| {
        #[allow(clippy::cast_precision_loss, reason = "0 to 11")]
        let left = half + cell * i as f64;
        Rect::new(left, half, left + cell, half + cell).grown(-shrink)
    };
    for i in 0..12 {
        scene.items.push(Item::Stroke {
            path: Path::rectangle(square(i, 0.0)),
            width: line,
            ink: Ink::Faint,
        });
    }
    for (i, name) in strip.names.iter().enumerate() {
        if !strip.filled.contains(slot_number(i)) {
            continue;
        }
        let new = strip.new.contains(slot_number(i));
        if new {
            let border = Path::rectangle(square(i, 0.0));
            scene.items.push(Item::Stroke { path: border, width: line, ink: Ink::Black });
        }
        // Neighbours stay countable: a little paper shows around every plate.
        let plate = square(i, cell * if new { 0.15 } else { 0.045 });
        scene.items.push(Item::fill(Path::rectangle(plate)));
        scene.items.push(label(name, plate, Ink::Paper, 0.62));
    }
    scene
}

/// A name in the middle of a box, at `share` of its height, smaller where it would touch the sides.
pub(super) fn label(name: &str, area: Rect, ink: Ink, share: f64) -> Item {
    let wanted = area.height() * share;
    let width = shape(name, TextStyle::new(Face::Bold, wanted)).width;
    let room = area.width() * 0.86;
    let size = if width > room { wanted * room / width } else { wanted };
    let style = TextStyle::new(Face::Bold, size);
    // Figures are 0.61 em high.
    let baseline = (area.top + area.bottom) / 2.0 + 0.305 * size;
    let at = Point::new((area.left + area.right) / 2.0, baseline);
    Item::Text(Text { at, content: name.to_owned(), style, anchor: Anchor::Middle, ink })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn minor_blues() -> Strip {
        let set: DegreeSet =
            ["1", "b3", "4", "b5", "5", "b7"].iter().filter_map(|d| d.parse::<Degree>().ok()).collect();
        Strip::new(set).with_new(DegreeSet::from_slots([6]))
    }

    #[test]
    fn words_say_what_is_seen() {
        assert_eq!(minor_blues().words(), "Degrees: 1 ♭3 4 ♭5 5 ♭7. New: ♭5.");
        let sharp = minor_blues().named(["#4".parse().expect("a degree")]);
        assert!(sharp.words().contains("♯4"));
        assert_eq!(Strip::new(DegreeSet::EMPTY).words(), "Degrees: none.");
    }

    #[test]
    fn twelve_cells_and_a_doubled_border_for_the_new_one() {
        let scene = strip(&minor_blues(), 7.0);
        let strokes = scene.items.iter().filter(|i| matches!(i, Item::Stroke { .. })).count();
        assert_eq!(strokes, 12 + 1, "twelve outlines and the border of the new cell");
        let plates: Vec<f64> = scene
            .items
            .iter()
            .filter(|i| matches!(i, Item::Fill { .. }))
            .map(|i| i.bounds().width())
            .collect();
        assert_eq!(plates.len(), 6);
        assert_eq!(plates.iter().filter(|w| **w < 5.5).count(), 1, "one plate stands inside a ring");
        let b = scene.bounds();
        assert!(b.left >= 0.0 && b.right <= scene.width + 1e-9 && b.bottom <= scene.height + 1e-9);
    }

    #[test]
    fn names_never_leave_their_cell() {
        let mut s = Strip::new(DegreeSet::ALL);
        s.names[3] = "♭♭♭3".into();
        let scene = strip(&s, 6.0);
        for item in scene.items.iter().filter(|i| matches!(i, Item::Text(_))) {
            assert!(item.bounds().width() < 6.0);
        }
    }
}
