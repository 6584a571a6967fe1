//! Shapes of the tablature: one line per string, broken where a fret number stands.

use super::rows::{FRET, SMALL};
use super::spacing::AXIS;
use crate::font::shape;
use crate::font::smufl::defaults as d;
use crate::scene::{Anchor, Item};
use crate::units::Point;
use riffkin_fretboard::neck::Neck;

/// Distance of the lines, in staff spaces.
pub(super) const STEP: f64 = 1.5;

/// A tablature that is being filled; its first line lies at `top`.
pub(super) struct Tab {
    pub(super) top: f64,
    strings: u8,
    /// Where each line is broken.
    gaps: Vec<Vec<(f64, f64)>>,
}

impl Tab {
    pub(super) fn new(neck: &Neck, top: f64) -> Self {
        let strings = neck.string_count();
        Self { top, strings, gaps: vec![Vec::new(); usize::from(strings)] }
    }

    pub(super) fn y(&self, string: u8) -> f64 {
        self.top + STEP * f64::from(string.saturating_sub(1))
    }

    pub(super) fn bottom(&self) -> f64 {
        self.y(self.strings)
    }

    /// A fret number centred on the axis of the head whose left edge is `x`.
    pub(super) fn number(&mut self, text: &str, string: u8, x: f64) -> Item {
        let centre = x + AXIS;
        let half = shape(text, FRET).width / 2.0 + 0.12;
        if let Some(line) = self.gaps.get_mut(usize::from(string.saturating_sub(1))) {
            line.push((centre - half, centre + half));
        }
        // Figures of the text font are 0.61 em high; the line passes through their middle.
        let baseline = self.y(string) + 0.305 * FRET.size;
        Item::text(text, Point::new(centre, baseline), FRET, Anchor::Middle)
    }

    /// The lines from `left` to `right`, broken at the numbers.
    pub(super) fn lines(&mut self, left: f64, right: f64) -> Vec<Item> {
        let mut out = Vec::new();
        for string in 1..=self.strings {
            let y = self.y(string);
            let mut from = left;
            if let Some(gaps) = self.gaps.get_mut(usize::from(string - 1)) {
                gaps.sort_by(|a, b| a.0.total_cmp(&b.0));
                for (a, b) in gaps.iter() {
                    if *a > from {
                        out.push(Item::line(Point::new(from, y), Point::new(*a, y), d::STAFF_LINE_THICKNESS));
                    }
                    from = from.max(*b);
                }
            }
            if right > from {
                out.push(Item::line(Point::new(from, y), Point::new(right, y), d::STAFF_LINE_THICKNESS));
            }
        }
        out
    }

    /// The names of the open strings, ending at `right`.
    pub(super) fn names(&self, neck: &Neck, right: f64) -> Vec<Item> {
        neck.strings()
            .iter()
            .zip(1u8..)
            .map(|(pitch, string)| {
                let at = Point::new(right, self.y(string) + 0.3 * SMALL.size);
                Item::text(pitch.name().print(), at, SMALL, Anchor::End)
            })
            .collect()
    }
}
