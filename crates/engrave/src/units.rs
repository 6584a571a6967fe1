//! Lengths on paper. Everything in this crate is in millimetres, y grows downwards.

/// Millimetres in one PostScript point (1/72 inch; the inch is 25.4 mm exactly, ISO 80000-3).
pub const MM_PER_PT: f64 = 25.4 / 72.0;

/// A length of `points` PostScript points, in millimetres.
#[must_use]
pub fn pt(points: f64) -> f64 {
    points * MM_PER_PT
}

/// A place on the page in millimetres from the top left corner; y grows downwards.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// Millimetres to the right.
    pub x: f64,
    /// Millimetres down.
    pub y: f64,
}

impl Point {
    /// The point `x` millimetres right and `y` millimetres down.
    #[must_use]
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// This point moved by `dx`, `dy` millimetres.
    #[must_use]
    pub fn shifted(self, dx: f64, dy: f64) -> Self {
        Self { x: self.x + dx, y: self.y + dy }
    }
}

/// An upright rectangle in millimetres; `left <= right` and `top <= bottom` unless it is [`Rect::NOTHING`].
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rect {
    /// Least x.
    pub left: f64,
    /// Least y (the upper edge).
    pub top: f64,
    /// Greatest x.
    pub right: f64,
    /// Greatest y (the lower edge).
    pub bottom: f64,
}

impl Rect {
    /// The empty rectangle: it covers nothing, and joined to another gives that other.
    pub const NOTHING: Self =
        Self { left: f64::INFINITY, top: f64::INFINITY, right: f64::NEG_INFINITY, bottom: f64::NEG_INFINITY };

    /// The rectangle with these four edges.
    #[must_use]
    pub const fn new(left: f64, top: f64, right: f64, bottom: f64) -> Self {
        Self { left, top, right, bottom }
    }

    /// Width in millimetres; zero for [`Rect::NOTHING`].
    #[must_use]
    pub fn width(&self) -> f64 {
        (self.right - self.left).max(0.0)
    }

    /// Height in millimetres; zero for [`Rect::NOTHING`].
    #[must_use]
    pub fn height(&self) -> f64 {
        (self.bottom - self.top).max(0.0)
    }

    /// Whether it covers nothing.
    #[must_use]
    pub fn is_nothing(&self) -> bool {
        self.left > self.right || self.top > self.bottom
    }

    /// The smallest rectangle that covers both.
    #[must_use]
    pub fn join(self, other: Self) -> Self {
        Self {
            left: self.left.min(other.left),
            top: self.top.min(other.top),
            right: self.right.max(other.right),
            bottom: self.bottom.max(other.bottom),
        }
    }

    /// The same rectangle moved.
    #[must_use]
    pub fn shifted(self, dx: f64, dy: f64) -> Self {
        Self { left: self.left + dx, top: self.top + dy, right: self.right + dx, bottom: self.bottom + dy }
    }

    /// The same rectangle grown by `by` millimetres on every side (shrunk when negative).
    #[must_use]
    pub fn grown(self, by: f64) -> Self {
        Self { left: self.left - by, top: self.top - by, right: self.right + by, bottom: self.bottom + by }
    }

    /// Whether the two share more than an edge.
    #[must_use]
    pub fn overlaps(&self, other: &Self) -> bool {
        self.left < other.right
            && other.left < self.right
            && self.top < other.bottom
            && other.top < self.bottom
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seventy_two_points_are_an_inch() {
        assert!((pt(72.0) - 25.4).abs() < 1e-12);
    }

    #[test]
    fn nothing_joined_is_the_other() {
        let r = Rect::new(1.0, 2.0, 3.0, 4.0);
        assert_eq!(Rect::NOTHING.join(r), r);
        assert!(Rect::NOTHING.is_nothing());
        assert_eq!(Rect::NOTHING.width(), 0.0);
    }

    #[test]
    fn touching_edges_do_not_overlap() {
        let a = Rect::new(0.0, 0.0, 1.0, 1.0);
        assert!(!a.overlaps(&a.shifted(1.0, 0.0)));
        assert!(a.overlaps(&a.shifted(0.9, 0.0)));
    }
}
