//! The graph of sets, ordered by inclusion (a Hasse diagram).

use super::layers::Layers;
use super::{Group, Style, holders, names, wrapped};
use crate::font::shape;
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item, Role, Scene};
use crate::units::{Point, Rect};
use riffkin_score::degree::DegreeSet;

/// A box with its lines of text.
struct Plate {
    number: String,
    lines: Vec<String>,
    width: f64,
    height: f64,
}

fn plate(number: usize, group: &Group, style: &Style) -> Plate {
    let number = number.to_string();
    let head = shape(&number, style.bold()).width + style.text * 0.7;
    let most = style.width * 0.45 - head - style.text;
    let lines = wrapped(&names(group.set), style.roman(), most);
    let text = lines.iter().map(|l| shape(l, style.roman()).width).fold(0.0, f64::max);
    #[allow(clippy::cast_precision_loss, reason = "a handful of lines")]
    let height = style.text * (1.2 * lines.len().max(1) as f64 + 0.6);
    Plate { number, lines, width: head + text + style.text, height }
}

impl Plate {
    /// The box with its middle at `x` and its upper edge at `y`; the number stands on a filled plate.
    fn draw(&self, x: f64, y: f64, style: &Style) -> Vec<Item> {
        let area = Rect::new(x - self.width / 2.0, y, x + self.width / 2.0, y + self.height);
        let head = shape(&self.number, style.bold()).width + style.text * 0.7;
        let plate = Rect::new(area.left, area.top, area.left + head, area.bottom);
        let line = style.text * 0.07;
        let mut items = vec![
            Item::Fill { path: Path::rectangle(area), ink: Ink::Paper },
            Item::Stroke { path: Path::rectangle(area.grown(-line / 2.0)), width: line, ink: Ink::Black },
            Item::fill(Path::rectangle(plate)),
        ];
        let first = area.top + style.text * 1.2;
        let at = Point::new((plate.left + plate.right) / 2.0, first);
        items.push(Item::Text(crate::scene::Text {
            at,
            content: self.number.clone(),
            style: style.bold(),
            anchor: Anchor::Middle,
            ink: Ink::Paper,
        }));
        let mut y = first;
        for text in &self.lines {
            let at = Point::new(plate.right + style.text * 0.5, y);
            items.push(Item::text(text.clone(), at, style.roman(), Anchor::Start));
            y += style.text * 1.2;
        }
        items
    }
}

/// Draws it from `top` on; gives where it ends.
pub(super) fn graph(scene: &mut Scene, groups: &[(usize, &Group)], top: f64, style: &Style) -> f64 {
    let sets: Vec<DegreeSet> = groups.iter().map(|g| g.1.set).collect();
    let plates: Vec<Plate> = groups.iter().map(|(n, g)| plate(*n, g, style)).collect();
    let gap = style.text * 0.8;
    // A row for each number of degrees, broken where it grows too wide: boxes of one row are never joined.
    let mut layers = Layers::default();
    let (mut row, mut used, mut degrees) = (0, 0.0, None);
    for (set, plate) in sets.iter().zip(&plates) {
        let fresh = degrees.is_some_and(|d| d != set.len());
        // Some room is left for the lines that pass.
        if fresh || (degrees.is_some() && used + gap + plate.width > style.width * 0.82) {
            row += 1;
            used = 0.0;
        }
        used += plate.width + if used > 0.0 { gap } else { 0.0 };
        degrees = Some(set.len());
        layers.add(row, plate.width);
    }
    let mut ways = Vec::new();
    for from in 0..sets.len() {
        for to in holders(&sets, from) {
            ways.push(layers.join(from, to, 0.0));
        }
    }
    layers.order();
    // Lines have a width of their own.
    let margin = style.text * 0.05;
    layers.place(style.width - 2.0 * margin, gap);
    for spot in &mut layers.spots {
        spot.x += margin;
    }
    let heights: Vec<f64> = (0..layers.rows.len())
        .map(|row| {
            let here = layers.spots.iter().zip(&plates).filter(|(s, _)| s.row == row);
            here.map(|(_, p)| p.height).fold(0.0, f64::max)
        })
        .collect();
    let between = style.text * 3.2;
    let tops: Vec<f64> = heights
        .iter()
        .scan(top, |y, h| {
            let here = *y;
            *y += h + between;
            Some(here)
        })
        .collect();
    let mut lines = Vec::new();
    for way in &ways {
        let mut points = Vec::new();
        for (i, &spot) in way.iter().enumerate() {
            let Some(s) = layers.spots.get(spot) else { continue };
            let (upper, height) = (tops[s.row], heights[s.row]);
            let own = plates.get(spot).map_or(height, |p| p.height);
            if i > 0 {
                points.push(Point::new(s.x, upper));
            }
            if i + 1 < way.len() {
                points.push(Point::new(s.x, upper + own));
            }
        }
        lines.extend(points.windows(2).map(|w| Item::line(w[0], w[1], style.text * 0.06)));
    }
    let mut items = lines;
    for (spot, plate) in layers.spots.iter().zip(&plates) {
        items.extend(plate.draw(spot.x, tops[spot.row], style));
    }
    let alt = super::words(&groups.iter().map(|g| g.1.clone()).collect::<Vec<_>>());
    scene.items.push(Item::group(Role::Figure { alt }, items));
    tops.last().zip(heights.last()).map_or(top, |(t, h)| t + h)
}
