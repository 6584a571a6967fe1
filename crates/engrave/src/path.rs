//! Outlines: straight and curved segments in millimetres.

use crate::units::{Point, Rect};

/// One segment of an outline. Coordinates are absolute, in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Segment {
    /// Lift the pen and put it down here.
    Move(Point),
    /// A straight line to here.
    Line(Point),
    /// A cubic Bézier curve: two control points, then the end.
    Cubic(Point, Point, Point),
    /// A straight line back to the last [`Segment::Move`].
    Close,
}

/// An outline of one or more pieces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Path {
    /// The segments in drawing order. A path begins with [`Segment::Move`].
    pub segments: Vec<Segment>,
}

/// Control point distance, in radii, for a quarter circle as one cubic: `4/3 · (√2 − 1)`.
/// The radial error is 0.027 percent (T. Goldapp, 1991, "Approximation of circular arcs by cubic polynomials";
/// quoted from memory).
const QUARTER_CIRCLE: f64 = 0.552_284_749_830_793_4;

impl Path {
    /// An outline without segments.
    #[must_use]
    pub const fn new() -> Self {
        Self { segments: Vec::new() }
    }

    /// Lifts the pen and starts a new piece at `to`.
    #[must_use]
    pub fn move_to(mut self, x: f64, y: f64) -> Self {
        self.segments.push(Segment::Move(Point::new(x, y)));
        self
    }

    /// Draws a straight line.
    #[must_use]
    pub fn line_to(mut self, x: f64, y: f64) -> Self {
        self.segments.push(Segment::Line(Point::new(x, y)));
        self
    }

    /// Draws a cubic curve by two control points to an end.
    #[must_use]
    pub fn cubic_to(mut self, a: Point, b: Point, end: Point) -> Self {
        self.segments.push(Segment::Cubic(a, b, end));
        self
    }

    /// Closes the current piece.
    #[must_use]
    pub fn close(mut self) -> Self {
        self.segments.push(Segment::Close);
        self
    }

    /// A rectangle.
    #[must_use]
    pub fn rectangle(r: Rect) -> Self {
        Self::new()
            .move_to(r.left, r.top)
            .line_to(r.right, r.top)
            .line_to(r.right, r.bottom)
            .line_to(r.left, r.bottom)
            .close()
    }

    /// A closed polygon through `points`.
    #[must_use]
    pub fn polygon(points: &[Point]) -> Self {
        let mut path = Self::new();
        for (i, p) in points.iter().enumerate() {
            path = if i == 0 { path.move_to(p.x, p.y) } else { path.line_to(p.x, p.y) };
        }
        path.close()
    }

    /// An ellipse with half axes `rx`, `ry`.
    #[must_use]
    pub fn ellipse(c: Point, rx: f64, ry: f64) -> Self {
        let (kx, ky) = (rx * QUARTER_CIRCLE, ry * QUARTER_CIRCLE);
        let p = |dx: f64, dy: f64| c.shifted(dx, dy);
        Self::new()
            .move_to(c.x + rx, c.y)
            .cubic_to(p(rx, ky), p(kx, ry), p(0.0, ry))
            .cubic_to(p(-kx, ry), p(-rx, ky), p(-rx, 0.0))
            .cubic_to(p(-rx, -ky), p(-kx, -ry), p(0.0, -ry))
            .cubic_to(p(kx, -ry), p(rx, -ky), p(rx, 0.0))
            .close()
    }

    /// The sickle of a tie or slur: from `a` to `b`, bulging by `height` (negative is upwards), `mid` thick in
    /// the middle and `end` thick at its points.
    #[must_use]
    pub fn sickle(a: Point, b: Point, height: f64, end: f64, mid: f64) -> Self {
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        let at = |t: f64, h: f64| Point::new(a.x + dx * t, a.y + dy * t + h);
        // A cubic whose inner control points lie 4/3 of the wanted height away passes through that height.
        let outer = (height + mid.copysign(height) * 0.5) * 4.0 / 3.0;
        let inner = (height - mid.copysign(height) * 0.5) * 4.0 / 3.0;
        let e = end * 0.5;
        let side = if height < 0.0 { -1.0 } else { 1.0 };
        Self::new()
            .move_to(a.x, a.y + e * side)
            .cubic_to(at(0.25, outer), at(0.75, outer), b.shifted(0.0, e * side))
            .line_to(b.x, b.y - e * side)
            .cubic_to(at(0.75, inner), at(0.25, inner), a.shifted(0.0, -e * side))
            .close()
    }

    /// The smallest rectangle that covers all end and control points (never smaller than the shape).
    #[must_use]
    pub fn bounds(&self) -> Rect {
        let mut r = Rect::NOTHING;
        let mut add = |p: &Point| r = r.join(Rect::new(p.x, p.y, p.x, p.y));
        for s in &self.segments {
            match s {
                Segment::Move(p) | Segment::Line(p) => add(p),
                Segment::Cubic(a, b, c) => {
                    add(a);
                    add(b);
                    add(c);
                }
                Segment::Close => {}
            }
        }
        r
    }

    /// The same outline moved.
    #[must_use]
    pub fn shifted(&self, dx: f64, dy: f64) -> Self {
        self.map(|p| p.shifted(dx, dy))
    }

    /// Every point replaced by `f` of it.
    #[must_use]
    pub fn map(&self, f: impl Fn(Point) -> Point) -> Self {
        let segments = self
            .segments
            .iter()
            .map(|s| match *s {
                Segment::Move(p) => Segment::Move(f(p)),
                Segment::Line(p) => Segment::Line(f(p)),
                Segment::Cubic(a, b, c) => Segment::Cubic(f(a), f(b), f(c)),
                Segment::Close => Segment::Close,
            })
            .collect();
        Self { segments }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_circle_bulges_to_its_radius() {
        // Point at t = 1/2 of the first quarter lies at distance r from the centre, within 0.03 percent.
        let path = Path::ellipse(Point::new(0.0, 0.0), 1.0, 1.0);
        let Segment::Cubic(a, b, c) = path.segments[1] else { panic!("second segment is a curve") };
        let mid = |p0: f64, p1: f64, p2: f64, p3: f64| (p0 + 3.0 * p1 + 3.0 * p2 + p3) / 8.0;
        let (x, y) = (mid(1.0, a.x, b.x, c.x), mid(0.0, a.y, b.y, c.y));
        assert!(((x * x + y * y).sqrt() - 1.0).abs() < 3e-4);
    }

    #[test]
    fn a_sickle_reaches_its_height() {
        let path = Path::sickle(Point::new(0.0, 0.0), Point::new(8.0, 0.0), -2.0, 0.1, 0.2);
        let Segment::Cubic(a, b, c) = path.segments[1] else { panic!("second segment is a curve") };
        let y = (path_start(&path).y + 3.0 * a.y + 3.0 * b.y + c.y) / 8.0;
        assert!((y + 2.1).abs() < 0.03, "outer edge is half the thickness beyond the height: {y}");
    }

    fn path_start(path: &Path) -> Point {
        match path.segments[0] {
            Segment::Move(p) => p,
            _ => panic!("starts with a move"),
        }
    }
}
