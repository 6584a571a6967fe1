//! The neck diagram standing: the nut on top and the lowest string to the left, as an instrument stands before the one
//! who looks at it; mirrored for the left-handed. For narrow screens and columns.

use super::neck::{NeckDiagram, end_line, mark, shown};
use crate::font::{Face, TextStyle};
use crate::scene::{Anchor, Item, Scene};
use crate::units::Point;
use riffkin_score::note::Place;

/// How long a neck must be drawn, in millimetres, so that the marks on its narrowest shown fret are `mark` millimetres
/// wide; the room for names and open strings is in it for strings `gap` millimetres apart.
#[must_use]
pub fn length(diagram: &NeckDiagram<'_>, mark: f64, gap: f64) -> f64 {
    let (low, high) = diagram.window();
    let n = diagram.neck;
    let whole = n.span_mm(low - 1, high);
    let narrowest = n.span_mm(high - 1, high).max(0.001);
    whole / narrowest * mark / 0.92 + gap * 1.9
}

/// Draws a neck standing, `height` millimetres high in all, strings `gap` millimetres apart (6 to 8 is usual).
#[must_use]
pub fn upright_neck(diagram: &NeckDiagram<'_>, height: f64, gap: f64) -> Scene {
    let n = diagram.neck;
    let (low, high) = diagram.window();
    let strings = n.string_count();
    let nut = low == 1;
    let name_room = gap * 0.75;
    let open_room = if nut { gap } else { gap * 0.25 };
    let top = name_room + open_room;
    let bottom = (height - gap * 0.1).max(top + gap);
    let left = gap * 1.25;
    let right = left + gap * f64::from(strings.saturating_sub(1));
    let width = right + gap * 0.55;
    let mut scene = Scene::new(width, bottom + gap * 0.1);
    scene.title = format!("Neck, frets {low} to {high}");
    scene.description = diagram.words();
    let mirror = n.is_left_handed();
    let flip = |x: f64| if mirror { width - x } else { x };
    let (from, to) = (n.fret_mm(low - 1), n.fret_mm(high));
    let fret_y = |f: u8| top + (n.fret_mm(f) - from) / (to - from).max(0.001) * (bottom - top);
    let string_x = |s: u8| right - gap * f64::from(s.saturating_sub(1));
    let radius = (gap * 0.43).min((fret_y(high) - fret_y(high - 1)) * 0.46);

    for f in (low - 1)..=high {
        let y = fret_y(f);
        let (width, ink) = end_line(n, f, gap);
        let dash = (n.is_fretless() && f > 0).then_some((gap * 0.15, gap * 0.15));
        let (from, to) = (Point::new(flip(left), y), Point::new(flip(right), y));
        scene.items.push(Item::Line { from, to, width, dash, ink });
    }
    let name_style = TextStyle::new(Face::Italic, gap * 0.52);
    for s in 1..=strings {
        let x = flip(string_x(s));
        // Lower strings are thicker, as on the instrument.
        let thick = gap * (0.03 + 0.012 * f64::from(s));
        let start = if nut { top } else { top - open_room };
        scene.items.push(Item::line(Point::new(x, start), Point::new(x, bottom), thick));
        let name = n.open(s).map_or_else(String::new, |p| p.name().print());
        scene.items.push(Item::text(name, Point::new(x, gap * 0.55), name_style, Anchor::Middle));
    }
    let number_style = TextStyle::new(Face::Roman, gap * 0.5);
    let outer = if mirror { Anchor::Start } else { Anchor::End };
    for f in low..=high {
        let y = (fret_y(f - 1) + fret_y(f)) / 2.0 + number_style.size * 0.3;
        let at = Point::new(flip(left - gap * 0.6), y);
        scene.items.push(Item::text(f.to_string(), at, number_style, outer));
    }
    if n.capo() > 0 && nut {
        let style = TextStyle::new(Face::Roman, gap * 0.34);
        let at = Point::new(flip(left - gap * 0.25), top + style.size * 0.3);
        scene.items.push(Item::text(format!("capo {}", n.capo()), at, style, outer));
    }
    for m in shown(diagram) {
        let Place { string, fret } = m.place;
        let y = if fret == 0 { top - open_room * 0.52 } else { (fret_y(fret - 1) + fret_y(fret)) / 2.0 };
        mark(&mut scene.items, m, Point::new(flip(string_x(string)), y), radius);
    }
    scene
}

#[cfg(test)]
mod tests {
    use super::super::neck::{NeckMark, neck};
    use super::*;
    use crate::scene::Text;
    use riffkin_fretboard::neck::Neck;

    fn texts(scene: &Scene) -> Vec<(String, Point)> {
        let mut out = Vec::new();
        scene.visit(&mut |i| {
            if let Item::Text(Text { content, at, .. }) = i {
                out.push((content.clone(), *at));
            }
        });
        out
    }

    fn all(neck: &Neck) -> Vec<NeckMark> {
        let frets = 0..=neck.frets();
        frets
            .flat_map(|fret| (1..=neck.string_count()).map(move |string| Place { string, fret }))
            .map(|place| NeckMark { place, label: "♭3".into(), root: place.fret == 3, new: false })
            .collect()
    }

    #[test]
    fn the_lowest_string_stands_left_and_right_for_the_left_handed() {
        let right = Neck::named("five").expect("known");
        let left = right.clone().left_handed(true);
        let draw = |n: &Neck| upright_neck(&NeckDiagram { neck: n, marks: all(n), frets: None }, 200.0, 7.0);
        let (a, b) = (draw(&right), draw(&left));
        let names: Vec<(String, Point)> = texts(&a).into_iter().filter(|t| t.1.y < 5.0).collect();
        let order: Vec<&str> = {
            let mut sorted: Vec<&(String, Point)> = names.iter().collect();
            sorted.sort_by(|a, b| a.1.x.total_cmp(&b.1.x));
            sorted.iter().map(|t| t.0.as_str()).collect()
        };
        assert_eq!(order, ["B", "E", "A", "D", "G"]);
        for ((text, x), (other, y)) in texts(&a).iter().zip(texts(&b)) {
            assert_eq!(*text, other);
            assert!((x.x + y.x - a.width).abs() < 1e-9 && (x.y - y.y).abs() < 1e-9, "{text}");
        }
    }

    #[test]
    fn marks_keep_apart_on_every_neck_lying_and_standing() {
        for name in ["four", "five", "six", "six, left-handed", "four, capo 5", "tenor, fretless"] {
            let n = Neck::named(name).expect("known");
            let d = NeckDiagram { neck: &n, marks: all(&n), frets: Some((1, n.frets())) };
            for scene in [neck(&d, length(&d, 5.0, 7.0), 7.0), upright_neck(&d, length(&d, 5.0, 7.0), 7.0)] {
                let marks: Vec<_> =
                    scene.items.iter().filter(|i| matches!(i, Item::Fill { .. })).map(Item::bounds).collect();
                assert_eq!(
                    marks.len(),
                    usize::from(n.string_count()) * (usize::from(n.frets()) + 1),
                    "{name}"
                );
                for (i, a) in marks.iter().enumerate() {
                    assert!(a.width() > 4.5, "{name}: {}", a.width());
                    assert!(marks[i + 1..].iter().all(|b| !a.overlaps(b)), "{name}");
                }
                let b = scene.bounds();
                assert!(b.left >= 0.0 && b.right <= scene.width, "{name}: {b:?} {}", scene.width);
                assert!(b.top >= 0.0 && b.bottom <= scene.height, "{name}: {b:?} {}", scene.height);
            }
        }
    }
}
