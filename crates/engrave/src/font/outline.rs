//! Glyph outlines out of the fonts.

use super::Face;
use crate::path::Path;
use crate::units::{Point, Rect};
use std::collections::BTreeMap;
use std::sync::LazyLock;
use ttf_parser::{GlyphId, OutlineBuilder};

struct Pen {
    path: Path,
    scale: f64,
    at: Point,
    last: Point,
}

impl Pen {
    fn point(&self, x: f32, y: f32) -> Point {
        Point::new(self.at.x + f64::from(x) * self.scale, self.at.y - f64::from(y) * self.scale)
    }
}

impl OutlineBuilder for Pen {
    fn move_to(&mut self, x: f32, y: f32) {
        self.last = self.point(x, y);
        self.path.segments.push(crate::path::Segment::Move(self.last));
    }
    fn line_to(&mut self, x: f32, y: f32) {
        self.last = self.point(x, y);
        self.path.segments.push(crate::path::Segment::Line(self.last));
    }
    fn quad_to(&mut self, x1: f32, y1: f32, x: f32, y: f32) {
        // A quadratic curve is the cubic whose control points lie two thirds of the way to its own.
        let (c, end) = (self.point(x1, y1), self.point(x, y));
        let toward = |p: Point| Point::new(p.x + (c.x - p.x) * 2.0 / 3.0, p.y + (c.y - p.y) * 2.0 / 3.0);
        self.path.segments.push(crate::path::Segment::Cubic(toward(self.last), toward(end), end));
        self.last = end;
    }
    fn curve_to(&mut self, x1: f32, y1: f32, x2: f32, y2: f32, x: f32, y: f32) {
        let (a, b, end) = (self.point(x1, y1), self.point(x2, y2), self.point(x, y));
        self.path.segments.push(crate::path::Segment::Cubic(a, b, end));
        self.last = end;
    }
    fn close(&mut self) {
        self.path.segments.push(crate::path::Segment::Close);
    }
}

/// The outline of glyph number `glyph` of `face` with its origin at `at` and an em of `em` millimetres.
/// Empty for a space or an unknown glyph.
#[must_use]
pub fn glyph_outline(face: Face, glyph: u16, at: Point, em: f64) -> Path {
    let Some(loaded) = face.loaded() else { return Path::new() };
    let mut pen = Pen { path: Path::new(), scale: em / loaded.per_em, at, last: at };
    loaded.face.outline_glyph(GlyphId(glyph), &mut pen);
    pen.path
}

/// The outline of a music symbol by its SMuFL code point, origin at `at`, for a staff whose lines lie `space`
/// millimetres apart. SMuFL: one em is four staff spaces. Empty when the font lacks the symbol.
#[must_use]
pub fn symbol_outline(symbol: char, at: Point, space: f64) -> Path {
    let glyph = Face::Music.loaded().and_then(|f| f.face.glyph_index(symbol));
    glyph.map_or_else(Path::new, |g| glyph_outline(Face::Music, g.0, at, space * 4.0))
}

/// Code points whose boxes are measured once: repeats to digits, noteheads, dots, flags, accidentals, articulations,
/// rests, tuplet digits, vibrato, metronome notes.
const MEASURED: [(u32, u32); 14] = [
    (0xE044, 0xE044),
    (0xE062, 0xE062),
    (0xE080, 0xE089),
    (0xE0A0, 0xE0A9),
    (0xE0D8, 0xE0DB),
    (0xE0F5, 0xE0F6),
    (0xE1E7, 0xE1E7),
    (0xE240, 0xE249),
    (0xE260, 0xE264),
    (0xE4A0, 0xE4A3),
    (0xE4E2, 0xE4EA),
    (0xE880, 0xE889),
    (0xEADE, 0xEADE),
    (0xECA2, 0xECB7),
];

/// The box of a music symbol around its origin, in staff spaces, y down. [`Rect::NOTHING`] when the font lacks it.
#[must_use]
pub fn symbol_bounds(symbol: char) -> Rect {
    static BOXES: LazyLock<BTreeMap<char, Rect>> = LazyLock::new(|| {
        let all = MEASURED.iter().flat_map(|(a, b)| *a..=*b).filter_map(char::from_u32);
        all.map(|c| (c, measure(c))).collect()
    });
    BOXES.get(&symbol).copied().unwrap_or_else(|| measure(symbol))
}

fn measure(symbol: char) -> Rect {
    let Some(loaded) = Face::Music.loaded() else { return Rect::NOTHING };
    let Some(b) = loaded.face.glyph_index(symbol).and_then(|g| loaded.face.glyph_bounding_box(g)) else {
        return Rect::NOTHING;
    };
    let s = 4.0 / loaded.per_em;
    let [left, bottom, right, top] = [b.x_min, b.y_min, b.x_max, b.y_max].map(|v| f64::from(v) * s);
    Rect::new(left, -top, right, -bottom)
}
