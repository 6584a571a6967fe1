//! The table: a row for each set.

use super::{Group, Style, shortened, wrapped};
use crate::diagram::{Strip, strip};
use crate::scene::{Anchor, Item, Role, Scene};
use crate::units::{Point, pt};
use riffkin_score::Warning;

/// Draws it from `top` on; gives where it ends.
pub(super) fn table(
    scene: &mut Scene,
    groups: &[Group],
    top: f64,
    style: &Style,
    left_out: &mut Vec<Warning>,
) -> f64 {
    let mut y = top;
    let mut rows = Vec::new();
    for (i, group) in groups.iter().enumerate() {
        let (shown, more) = shortened(&group.riffs);
        if !more.is_empty() {
            left_out
                .push(Warning::at(format!("row {}", i + 1), format!("{more} riffs are not named").trim()));
        }
        rows.push(Item::line(Point::new(0.0, y), Point::new(style.width, y), pt(0.4)));
        let text = format!("{}{more}", shown.join(", "));
        let (row, height) = if style.stacked {
            stacked(i + 1, group, &text, style)
        } else {
            beside(i + 1, group, &text, style)
        };
        rows.push(row.shifted(0.0, y));
        y += height;
    }
    scene.items.push(Item::group(Role::Table, rows));
    y
}

fn number(n: usize, baseline: f64, style: &Style) -> Item {
    let at = Point::new(style.text * 1.4, baseline);
    Item::group(Role::RowHead, vec![Item::text(n.to_string(), at, style.bold(), Anchor::End)])
}

fn figure(group: &Group, cell: f64, at: Point) -> (Item, f64) {
    let picture = strip(&Strip::new(group.set), cell);
    let (alt, height) = (picture.description.clone(), picture.height);
    (Item::group(Role::Cell, vec![picture.placed(at, Role::Figure { alt })]), height)
}

fn lines(text: &str, left: f64, first: f64, room: f64, style: &Style) -> (Item, f64) {
    let leading = style.text * 1.2;
    let mut y = first;
    let mut items = Vec::new();
    for line in wrapped(text, style.roman(), room) {
        items.push(Item::text(line, Point::new(left, y), style.roman(), Anchor::Start));
        y += leading;
    }
    (Item::group(Role::Cell, items), y - leading)
}

/// Number, strip, names from left to right.
fn beside(n: usize, group: &Group, names: &str, style: &Style) -> (Item, f64) {
    let cell = style.text * 1.75;
    let left = style.text * 2.0;
    let pad = style.text * 0.4;
    let (picture, height) = figure(group, cell, Point::new(left, pad));
    let baseline = pad + cell / 2.0 + style.text * 0.31;
    let text_left = left + cell * 12.0 + style.text;
    let (names, last) = lines(names, text_left, baseline, style.width - text_left, style);
    let bottom = (pad + height).max(last + style.text * 0.3) + pad;
    (Item::group(Role::Row, vec![number(n, baseline, style), picture, names]), bottom)
}

/// Number and names, and the strip below them over the whole width.
fn stacked(n: usize, group: &Group, names: &str, style: &Style) -> (Item, f64) {
    let left = style.text * 2.0;
    let pad = style.text * 0.4;
    let baseline = pad + style.text;
    let (names, last) = lines(names, left, baseline, style.width - left, style);
    let top = last + style.text * 0.6;
    let cell = (style.width - left) / 12.1;
    let (picture, height) = figure(group, cell, Point::new(left, top));
    (Item::group(Role::Row, vec![number(n, baseline, style), names, picture]), top + height + pad)
}
