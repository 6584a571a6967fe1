//! Positioned shapes: what a page is before it becomes SVG or PDF.
//!
//! One scene serves both writers, so that the screen and the paper cannot differ. Groups carry what their shapes
//! mean: a heading, a figure with its words for those who cannot see it, or one event of the music with its bar
//! and onset (so that a cursor can follow the sound).

use crate::font::{Shaped, TextStyle, shape, symbol_bounds};
use crate::greys::Greys;
use crate::path::Path;
use crate::units::{Point, Rect};

/// A colour by its job. There are three: the look is black on paper with one accent.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Ink {
    /// Black on paper; the text colour on a screen.
    #[default]
    Black,
    /// The one accent. It never carries a meaning alone.
    Accent,
    /// The colour of the paper, for letters on filled plates and for what hides lines.
    Paper,
    /// A lighter black for fret lines and empty cells; at least 3 : 1 against paper (WCAG 2.2, 1.4.11).
    Faint,
}

/// Where a text hangs on its point.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Anchor {
    /// The point is the left end of the baseline.
    #[default]
    Start,
    /// The point is the middle of the baseline.
    Middle,
    /// The point is the right end of the baseline.
    End,
}

/// A run of text on one line.
#[derive(Clone, Debug, PartialEq)]
pub struct Text {
    /// The hanging point on the baseline.
    pub at: Point,
    /// The characters. Accidentals are U+266D, U+266E, U+266F.
    pub content: String,
    /// Font and size.
    pub style: TextStyle,
    /// Which end of the baseline `at` is.
    pub anchor: Anchor,
    /// Colour.
    pub ink: Ink,
}

impl Text {
    /// The set glyphs and the point where the line begins.
    #[must_use]
    pub fn set(&self) -> (Shaped, Point) {
        let shaped = shape(&self.content, self.style);
        let back = match self.anchor {
            Anchor::Start => 0.0,
            Anchor::Middle => shaped.width / 2.0,
            Anchor::End => shaped.width,
        };
        let start = self.at.shifted(-back, 0.0);
        (shaped, start)
    }
}

/// What the shapes of a group mean.
#[derive(Clone, Debug, Default, PartialEq)]
pub enum Role {
    /// Nothing of its own.
    #[default]
    Plain,
    /// A heading, level 1 to 6.
    Heading(u8),
    /// A paragraph of running text.
    Paragraph,
    /// A picture, music included, with words that stand for it.
    Figure {
        /// The words.
        alt: String,
    },
    /// A list; its children are [`Role::ListItem`]s.
    List,
    /// An entry of a list: a label and a body.
    ListItem,
    /// The number or bullet of an entry.
    Label,
    /// The content of an entry.
    Body,
    /// A table; its children are rows.
    Table,
    /// A table row; its children are cells.
    Row,
    /// A cell that heads its column.
    ColumnHead,
    /// A cell that heads its row.
    RowHead,
    /// Any other cell.
    Cell,
    /// Decoration, page number, running footer: nothing to read out.
    Artifact,
    /// One note or rest.
    Event {
        /// Bar number as printed; a pickup bar is 0.
        bar: u32,
        /// Onset from the start of the riff in quarters, in written order.
        at: f64,
        /// Length in quarters.
        length: f64,
    },
}

/// One shape or a group of shapes.
#[derive(Clone, Debug, PartialEq)]
pub enum Item {
    /// A straight line with flat ends.
    Line {
        /// One end.
        from: Point,
        /// The other end.
        to: Point,
        /// Thickness in millimetres.
        width: f64,
        /// Dash and gap in millimetres, or a full line.
        dash: Option<(f64, f64)>,
        /// Colour.
        ink: Ink,
    },
    /// A filled outline (non-zero rule).
    Fill {
        /// The outline.
        path: Path,
        /// Colour.
        ink: Ink,
    },
    /// A drawn outline.
    Stroke {
        /// The outline.
        path: Path,
        /// Thickness in millimetres.
        width: f64,
        /// Colour.
        ink: Ink,
    },
    /// A music symbol.
    Symbol {
        /// SMuFL code point, see [`crate::font::smufl`].
        symbol: char,
        /// Origin of the glyph.
        at: Point,
        /// Millimetres in one staff space at the wanted size.
        space: f64,
        /// Colour.
        ink: Ink,
    },
    /// A run of text.
    Text(Text),
    /// A raster of greys.
    Greys {
        /// Where it lies; its pixels are stretched to fill it.
        area: Rect,
        /// The raster.
        greys: Greys,
    },
    /// Shapes that belong together.
    Group {
        /// Their meaning.
        role: Role,
        /// The shapes, in reading order.
        items: Vec<Item>,
    },
}

impl Item {
    /// A full black line.
    #[must_use]
    pub const fn line(from: Point, to: Point, width: f64) -> Self {
        Self::Line { from, to, width, dash: None, ink: Ink::Black }
    }

    /// A music symbol in black.
    #[must_use]
    pub const fn symbol(symbol: char, at: Point, space: f64) -> Self {
        Self::Symbol { symbol, at, space, ink: Ink::Black }
    }

    /// A run of text in black.
    #[must_use]
    pub fn text(content: impl Into<String>, at: Point, style: TextStyle, anchor: Anchor) -> Self {
        Self::Text(Text { at, content: content.into(), style, anchor, ink: Ink::Black })
    }

    /// A group.
    #[must_use]
    pub const fn group(role: Role, items: Vec<Self>) -> Self {
        Self::Group { role, items }
    }

    /// A black filled outline.
    #[must_use]
    pub const fn fill(path: Path) -> Self {
        Self::Fill { path, ink: Ink::Black }
    }

    /// The same shape moved.
    #[must_use]
    pub fn shifted(self, dx: f64, dy: f64) -> Self {
        match self {
            Self::Line { from, to, width, dash, ink } => {
                Self::Line { from: from.shifted(dx, dy), to: to.shifted(dx, dy), width, dash, ink }
            }
            Self::Fill { path, ink } => Self::Fill { path: path.shifted(dx, dy), ink },
            Self::Stroke { path, width, ink } => Self::Stroke { path: path.shifted(dx, dy), width, ink },
            Self::Symbol { symbol, at, space, ink } => {
                Self::Symbol { symbol, at: at.shifted(dx, dy), space, ink }
            }
            Self::Text(t) => Self::Text(Text { at: t.at.shifted(dx, dy), ..t }),
            Self::Greys { area, greys } => Self::Greys { area: area.shifted(dx, dy), greys },
            Self::Group { role, items } => {
                Self::Group { role, items: items.into_iter().map(|i| i.shifted(dx, dy)).collect() }
            }
        }
    }

    /// The same shape `k` times as large, seen from the origin.
    #[must_use]
    pub fn scaled(self, k: f64) -> Self {
        let p = |p: Point| Point::new(p.x * k, p.y * k);
        match self {
            Self::Line { from, to, width, dash, ink } => Self::Line {
                from: p(from),
                to: p(to),
                width: width * k,
                dash: dash.map(|(on, off)| (on * k, off * k)),
                ink,
            },
            Self::Fill { path, ink } => Self::Fill { path: path.map(p), ink },
            Self::Stroke { path, width, ink } => Self::Stroke { path: path.map(p), width: width * k, ink },
            Self::Symbol { symbol, at, space, ink } => {
                Self::Symbol { symbol, at: p(at), space: space * k, ink }
            }
            Self::Text(t) => {
                let style = TextStyle { size: t.style.size * k, ..t.style };
                Self::Text(Text { at: p(t.at), style, ..t })
            }
            Self::Greys { area: a, greys } => {
                Self::Greys { area: Rect::new(a.left * k, a.top * k, a.right * k, a.bottom * k), greys }
            }
            Self::Group { role, items } => {
                Self::Group { role, items: items.into_iter().map(|i| i.scaled(k)).collect() }
            }
        }
    }

    /// The box of its ink (control points included for outlines).
    #[must_use]
    pub fn bounds(&self) -> Rect {
        match self {
            Self::Line { from, to, width, .. } => {
                Rect::new(from.x.min(to.x), from.y.min(to.y), from.x.max(to.x), from.y.max(to.y))
                    .grown(width / 2.0)
            }
            Self::Fill { path, .. } => path.bounds(),
            Self::Stroke { path, width, .. } => path.bounds().grown(width / 2.0),
            Self::Symbol { symbol, at, space, .. } => {
                let b = symbol_bounds(*symbol);
                if b.is_nothing() {
                    return b;
                }
                Rect::new(b.left * space, b.top * space, b.right * space, b.bottom * space)
                    .shifted(at.x, at.y)
            }
            Self::Text(t) => {
                let (shaped, start) = t.set();
                let ink = shaped.ink();
                if ink.is_nothing() { ink } else { ink.shifted(start.x, start.y) }
            }
            Self::Greys { area, .. } => *area,
            Self::Group { items, .. } => items.iter().fold(Rect::NOTHING, |r, i| r.join(i.bounds())),
        }
    }
}

/// A picture with a size: a system of music, a diagram, a whole page.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Scene {
    /// Width in millimetres.
    pub width: f64,
    /// Height in millimetres.
    pub height: f64,
    /// The shapes, in reading order.
    pub items: Vec<Item>,
    /// A short name.
    pub title: String,
    /// Words for those who cannot see it.
    pub description: String,
}

impl Scene {
    /// An empty scene of `width` by `height` millimetres.
    #[must_use]
    pub fn new(width: f64, height: f64) -> Self {
        Self { width, height, ..Self::default() }
    }

    /// The box of all ink.
    #[must_use]
    pub fn bounds(&self) -> Rect {
        self.items.iter().fold(Rect::NOTHING, |r, i| r.join(i.bounds()))
    }

    /// The shapes moved to `at`, as one group.
    #[must_use]
    pub fn placed(self, at: Point, role: Role) -> Item {
        Item::group(role, self.items.into_iter().map(|i| i.shifted(at.x, at.y)).collect())
    }

    /// Characters in its texts that no font here can draw, each once.
    #[must_use]
    pub fn missing_characters(&self) -> Vec<char> {
        let mut out = Vec::new();
        self.visit(&mut |item| {
            if let Item::Text(t) = item {
                for c in t.set().0.missing {
                    if !out.contains(&c) {
                        out.push(c);
                    }
                }
            }
        });
        out
    }

    /// Calls `see` for every item, groups before their contents.
    pub fn visit<'a>(&'a self, see: &mut impl FnMut(&'a Item)) {
        fn walk<'a>(items: &'a [Item], see: &mut impl FnMut(&'a Item)) {
            for item in items {
                see(item);
                if let Item::Group { items, .. } = item {
                    walk(items, see);
                }
            }
        }
        walk(&self.items, see);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::{Face, smufl};

    #[test]
    fn bounds_follow_a_shift() {
        let item = Item::group(
            Role::Plain,
            vec![
                Item::symbol(smufl::NOTEHEAD_BLACK, Point::new(1.0, 1.0), 2.0),
                Item::text("G", Point::new(0.0, 0.0), TextStyle::new(Face::Bold, 4.0), Anchor::Middle),
            ],
        );
        let before = item.bounds();
        let after = item.shifted(3.0, -2.0).bounds();
        assert!((after.left - before.left - 3.0).abs() < 1e-9);
        assert!((after.bottom - before.bottom + 2.0).abs() < 1e-9);
    }

    #[test]
    fn a_notehead_is_one_space_high() {
        let b = Item::symbol(smufl::NOTEHEAD_BLACK, Point::default(), 1.75).bounds();
        assert!((b.height() - 1.75).abs() < 1e-9);
        assert!((b.width() - 1.18 * 1.75).abs() < 1e-9);
    }

    #[test]
    fn anchors_hang_the_text() {
        let mk = |a| Item::text("HH", Point::new(10.0, 0.0), TextStyle::new(Face::Roman, 4.0), a).bounds();
        let (s, m, e) = (mk(Anchor::Start), mk(Anchor::Middle), mk(Anchor::End));
        assert!(s.left >= 10.0 && e.right <= 10.0);
        assert!(((m.left + m.right) / 2.0 - 10.0).abs() < 0.05);
    }
}
