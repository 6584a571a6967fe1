//! What is already taken above and below the staff.

use crate::scene::Item;
use crate::units::Rect;

/// Boxes of ink that later rows must clear.
#[derive(Clone, Debug, Default)]
pub(super) struct Skyline {
    boxes: Vec<Rect>,
}

impl Skyline {
    pub(super) fn add(&mut self, r: Rect) {
        if !r.is_nothing() {
            self.boxes.push(r);
        }
    }

    pub(super) fn add_items(&mut self, items: &[Item]) {
        for item in items {
            match item {
                Item::Group { items, .. } => self.add_items(items),
                other => self.add(other.bounds()),
            }
        }
    }

    /// The highest ink between two abscissas, or `floor` when there is none higher.
    pub(super) fn top(&self, left: f64, right: f64, floor: f64) -> f64 {
        self.over(left, right).map(|b| b.top).fold(floor, f64::min)
    }

    /// The lowest ink between two abscissas, or `ceiling` when there is none lower.
    pub(super) fn bottom(&self, left: f64, right: f64, ceiling: f64) -> f64 {
        self.over(left, right).map(|b| b.bottom).fold(ceiling, f64::max)
    }

    fn over(&self, left: f64, right: f64) -> impl Iterator<Item = &Rect> {
        self.boxes.iter().filter(move |b| b.left < right && left < b.right)
    }
}

/// Puts a row of things on one line above everything in the skyline: each item comes with its shapes drawn around a
/// baseline at zero. Gives the shapes in place and the baseline.
pub(super) fn row_above(
    skyline: &mut Skyline,
    row: Vec<Vec<Item>>,
    floor: f64,
    white: f64,
    side: f64,
) -> (Vec<Vec<Item>>, f64) {
    let mut baseline = floor - white;
    for items in &row {
        let b = bounds(items);
        if !b.is_nothing() {
            let top = skyline.top(b.left - side, b.right + side, floor);
            baseline = baseline.min(top - white - b.bottom);
        }
    }
    place(skyline, row, baseline)
}

/// The same below.
pub(super) fn row_below(
    skyline: &mut Skyline,
    row: Vec<Vec<Item>>,
    ceiling: f64,
    white: f64,
    side: f64,
) -> (Vec<Vec<Item>>, f64) {
    let mut baseline = ceiling + white;
    for items in &row {
        let b = bounds(items);
        if !b.is_nothing() {
            let bottom = skyline.bottom(b.left - side, b.right + side, ceiling);
            baseline = baseline.max(bottom + white - b.top);
        }
    }
    place(skyline, row, baseline)
}

fn place(skyline: &mut Skyline, row: Vec<Vec<Item>>, baseline: f64) -> (Vec<Vec<Item>>, f64) {
    let mut out = Vec::with_capacity(row.len());
    for items in row {
        let items: Vec<Item> = items.into_iter().map(|i| i.shifted(0.0, baseline)).collect();
        skyline.add_items(&items);
        out.push(items);
    }
    (out, baseline)
}

pub(super) fn bounds(items: &[Item]) -> Rect {
    items.iter().fold(Rect::NOTHING, |r, i| r.join(i.bounds()))
}
