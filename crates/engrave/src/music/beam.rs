//! Beams: where they lie and which stubs they carry.

use crate::font::smufl::defaults as d;
use crate::path::Path;
use crate::scene::Item;
use crate::units::Point;

/// A stem that a beam must meet.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stem {
    /// Middle of the stem.
    pub(super) x: f64,
    /// Where it leaves the head.
    pub(super) y: f64,
    /// Beams that this note's value asks for.
    pub(super) flags: u8,
    /// Where a lone secondary beam points: towards the beat that it belongs to.
    pub(super) stub_left: bool,
}

/// A beam that lies: the far ends of the stems and the shapes of the beams.
#[derive(Clone, Debug, Default)]
pub(super) struct Beam {
    pub(super) ends: Vec<f64>,
    pub(super) shapes: Vec<Item>,
}

/// Usual and least stem length to the outer edge of the first beam (Gould, *Behind Bars*, 2011, chapter 1: an octave,
/// less under beams; quoted from memory).
const USUAL_STEM: f64 = 3.25;
const LEAST_STEM: f64 = 2.5;
/// Steepest beam: rise in all, and rise per staff space.
const MOST_RISE: f64 = 1.25;
const MOST_SLOPE: f64 = 0.18;
/// Length of a stub.
const STUB: f64 = 1.1;

/// Lays one beam over `stems` (two or more, from left to right).
pub(super) fn lay(stems: &[Stem], up: bool) -> Beam {
    let (Some(first), Some(last)) = (stems.first(), stems.last()) else { return Beam::default() };
    let run = (last.x - first.x).max(0.1);
    let rise = rise(stems, up, first.y, last.y, run);
    let line = |x: f64, base: f64| base + rise * (x - first.x) / run;
    let levels = f64::from(stems.iter().map(|s| s.flags).max().unwrap_or(1).max(1));
    let step = d::BEAM_THICKNESS + d::BEAM_SPACING;
    let least = LEAST_STEM + (levels - 1.0) * step;
    let usual = USUAL_STEM + (levels - 1.0) * step * 0.75;
    // The outer edge of the first beam, at the first stem; y grows downwards, so "further" is smaller for up.
    let sign = if up { -1.0 } else { 1.0 };
    let mut base = first.y + sign * usual;
    let nearer = |a: f64, b: f64| if up { a.min(b) } else { a.max(b) };
    base = nearer(base, last.y + sign * usual - rise);
    for s in stems {
        base = nearer(base, s.y + sign * least - (line(s.x, 0.0)));
    }
    // A beam of notes far from the staff reaches at least its middle line.
    let middle = nearer(base, 0.0);
    let at_last = nearer(middle + rise, 0.0);
    base = nearer(middle, at_last - rise);
    base = if up { (base * 4.0).floor() } else { (base * 4.0).ceil() } / 4.0;
    let ends: Vec<f64> = stems.iter().map(|s| line(s.x, base)).collect();
    let mut shapes = vec![bar(first.x, last.x, |x| line(x, base), up)];
    for level in 1..8u8 {
        let y = |x: f64| line(x, base) - sign * f64::from(level) * step;
        for (from, to) in runs(stems, level) {
            shapes.push(bar(from, to, y, up));
        }
    }
    Beam { ends, shapes }
}

/// How far the last stem's end lies below the first's: half the interval between the outer notes, within limits; flat
/// when an inner note is nearer to the beam than both outer ones.
fn rise(stems: &[Stem], up: bool, first: f64, last: f64, run: f64) -> f64 {
    let key = |y: f64| if up { y } else { -y };
    let inner = stems.get(1..stems.len().saturating_sub(1)).unwrap_or_default();
    let outer = key(first).min(key(last));
    if inner.iter().any(|s| key(s.y) < outer) {
        return 0.0;
    }
    let most = MOST_RISE.min(run * MOST_SLOPE);
    let wanted = ((last - first) * 0.5).clamp(-most, most);
    (wanted * 4.0).round() / 4.0
}

/// One beam as a slanted box from `from` to `to`; `y` is its outer edge.
fn bar(from: f64, to: f64, y: impl Fn(f64) -> f64, up: bool) -> Item {
    let thick = if up { d::BEAM_THICKNESS } else { -d::BEAM_THICKNESS };
    let half = d::STEM_THICKNESS / 2.0;
    let (a, b) = (from - half, to + half);
    Item::fill(Path::polygon(&[
        Point::new(a, y(a)),
        Point::new(b, y(b)),
        Point::new(b, y(b) + thick),
        Point::new(a, y(a) + thick),
    ]))
}

/// Stretches of the beam of this level: between neighbours that both ask for it, and stubs for those alone.
fn runs(stems: &[Stem], level: u8) -> Vec<(f64, f64)> {
    let mut out = Vec::new();
    let mut i = 0;
    while let Some(s) = stems.get(i) {
        if s.flags <= level {
            i += 1;
            continue;
        }
        let mut end = i;
        while stems.get(end + 1).is_some_and(|n| n.flags > level) {
            end += 1;
        }
        if let Some(e) = stems.get(end).filter(|_| end > i) {
            out.push((s.x, e.x));
        } else {
            let left = (s.stub_left && i > 0) || i + 1 == stems.len();
            out.push(if left { (s.x - STUB, s.x) } else { (s.x, s.x + STUB) });
        }
        i = end + 1;
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;

    fn stem(x: f64, y: f64, flags: u8) -> Stem {
        Stem { x, y, flags, stub_left: false }
    }

    #[test]
    fn every_stem_is_long_enough_and_ends_on_the_beam() {
        for up in [true, false] {
            let stems = [stem(0.0, 1.0, 1), stem(3.0, -1.0, 2), stem(5.0, 2.0, 2)];
            let b = lay(&stems, up);
            for (s, end) in stems.iter().zip(&b.ends) {
                let length = if up { s.y - end } else { end - s.y };
                assert!(length >= LEAST_STEM, "{length}");
            }
        }
    }

    #[test]
    fn rising_notes_give_a_gentle_rise() {
        let b = lay(&[stem(0.0, 2.0, 1), stem(3.0, 1.0, 1)], true);
        assert!(b.ends[1] < b.ends[0] && b.ends[0] - b.ends[1] <= MOST_RISE);
        let level = lay(&[stem(0.0, 1.0, 1), stem(3.0, 1.0, 1)], true);
        assert_eq!(level.ends[0], level.ends[1]);
        let hollow = lay(&[stem(0.0, 2.0, 1), stem(3.0, -1.0, 1), stem(6.0, 1.0, 1)], true);
        assert_eq!(hollow.ends[0], hollow.ends[2], "an inner note nearer to the beam makes it level");
    }

    #[test]
    fn a_dotted_pair_carries_one_stub() {
        let mut stems = [stem(0.0, 0.0, 1), stem(3.0, 0.0, 2)];
        stems[1].stub_left = true;
        assert_eq!(lay(&stems, true).shapes.len(), 2);
        assert_eq!(runs(&stems, 1), [(1.9, 3.0)]);
        assert_eq!(runs(&[stem(0.0, 0.0, 2), stem(3.0, 0.0, 1)], 1), [(0.0, 1.1)]);
    }
}
