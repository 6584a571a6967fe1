//! Where in a bar tuplets stand, and which.

use std::collections::BTreeMap;

use super::levels::Levels;
use crate::time::Quarters;
use crate::value::{Shape, Tuplet};

/// A complete tuplet: everything between its ends is written in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    pub(super) from: Quarters,
    pub(super) to: Quarters,
    pub(super) tuplet: Tuplet,
    // Equal parts, and the written length of one.
    pub(super) parts: u8,
    pub(super) unit: Quarters,
    // On a place of its own in the bar, and its parts split once at most.
    well: bool,
}

impl Cell {
    /// From a point of the bar to the written lengths inside, which are longer than they sound.
    pub(super) fn inside(&self, at: Quarters) -> Option<Quarters> {
        (at - self.from).scaled(i64::from(self.tuplet.actual()), i64::from(self.tuplet.normal())).ok()
    }
}

/// True for a point that halvings of a quarter note reach.
pub(super) fn is_plain(at: Quarters) -> bool {
    at.fraction().1 & (at.fraction().1 - 1) == 0
}

/// Lays tuplets over every point of a bar that plain values do not reach, at the least cost: complete groups on
/// the beats, few notes to a group, no note cut. `bar` is the full length of the bar and `points` its note and
/// rest boundaries, rising, without the bar line.
///
/// `None` when some point cannot be reached by a single tuplet of up to 15.
pub(super) fn lay(levels: &Levels, bar: Quarters, points: &[Quarters]) -> Option<Vec<Cell>> {
    let odd: Vec<Quarters> = points.iter().copied().filter(|&p| !is_plain(p)).collect();
    if odd.is_empty() {
        return Some(Vec::new());
    }
    // Groups on the beats first, those that start or end with a note when they do not serve well, any when
    // nothing else is left.
    let beats = lay_on(levels, bar, points, &odd, Starts::Beats, f64::INFINITY);
    if beats.as_ref().is_some_and(|(_, cells)| cells.iter().all(|c| c.well)) {
        return beats.map(|b| b.1);
    }
    let most = beats.as_ref().map_or(f64::INFINITY, |b| b.0);
    lay_on(levels, bar, points, &odd, Starts::Notes, most)
        .or(beats)
        .or_else(|| lay_on(levels, bar, points, &odd, Starts::Anywhere, f64::INFINITY))
        .map(|b| b.1)
}

// Where groups may start.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Starts {
    Beats,
    Notes,
    Anywhere,
}

impl Starts {
    // Starts of groups of this length that hold the target inside.
    fn of(self, points: &[Quarters], target: Quarters, length: Quarters, dotted: bool) -> Vec<Quarters> {
        let step = match (self, dotted) {
            (Self::Anywhere, _) => Quarters::new(1, if length < Quarters::EIGHTH { 32 } else { 16 }),
            (_, false) => length.scaled(1, 2),
            (_, true) => length.scaled(1, 3),
        };
        let Ok(step) = step else { return Vec::new() };
        let mut starts = Vec::new();
        let mut from = step * (target - length).whole_steps(step) + step;
        while from < target {
            starts.push(from);
            from += step;
        }
        if self == Self::Notes {
            let low = points.partition_point(|&p| p <= target - length);
            let high = points.partition_point(|&p| p < target + length);
            let around = points[low..high].iter().copied().filter(|&p| is_plain(p));
            starts.extend(around.map(|p| if p < target { p } else { p - length }));
        }
        starts
    }
}

/// What a tuplet costs at least.
const CELL_COST: f64 = 10.0;
const SHORTEST: Shape = Shape::HundredTwentyEighth;

// Lengths tried, in sixteenths of a quarter note.
const LENGTHS: [i64; 10] = [16, 8, 32, 24, 4, 64, 12, 48, 2, 96];

fn lay_on(
    levels: &Levels,
    bar: Quarters,
    points: &[Quarters],
    odd: &[Quarters],
    starts: Starts,
    most: f64,
) -> Option<(f64, Vec<Cell>)> {
    let mut most = most;
    // For each end of cells the least cost, and the last cell of the way there with the end before it.
    let mut open: BTreeMap<Quarters, (f64, Option<(Quarters, Cell)>)> = BTreeMap::new();
    let mut closed: BTreeMap<Quarters, (Quarters, Cell)> = BTreeMap::new();
    let mut done = None;
    open.insert(Quarters::ZERO, (0.0, None));
    while let Some((end, (cost, last))) = open.pop_first() {
        if let Some(last) = last {
            closed.insert(end, last);
        }
        let Some(&target) = odd.get(odd.partition_point(|&p| p <= end)) else {
            if cost < most {
                most = cost;
                done = Some(end);
            }
            continue;
        };
        if cost + CELL_COST >= most {
            continue;
        }
        for sixteenths in LENGTHS {
            let Ok(length) = Quarters::new(sixteenths, 16) else { continue };
            let dotted = sixteenths % 3 == 0;
            for from in starts.of(points, target, length, dotted) {
                if from >= end
                    && from + length <= bar
                    && let Some((cell, more)) = cell_at(levels, points, from, length, dotted)
                {
                    let total = cost + more;
                    if open.get(&cell.to).is_none_or(|o| total < o.0) {
                        open.insert(cell.to, (total, Some((end, cell))));
                    }
                }
            }
        }
    }
    let mut at = done?;
    let mut cells = Vec::new();
    while let Some(&(before, cell)) = closed.get(&at) {
        cells.push(cell);
        at = before;
    }
    cells.reverse();
    Some((most, cells))
}

// The simplest tuplet over this stretch that reaches every point inside, and its cost.
fn cell_at(
    levels: &Levels,
    points: &[Quarters],
    from: Quarters,
    length: Quarters,
    dotted: bool,
) -> Option<(Cell, f64)> {
    let to = from + length;
    let low = points.partition_point(|&p| p <= from);
    let high = points.partition_point(|&p| p < to);
    let (length_num, length_den) = length.fraction();
    // Denominator of every point as a part of the stretch: an odd number of parts, halved so many times.
    let (mut parts, mut halved) = (1i64, 0u32);
    for &point in &points[low..high] {
        let (num, den) = (point - from).fraction();
        let part_den = {
            let (n, d) = (i128::from(num) * i128::from(length_den), i128::from(den) * i128::from(length_num));
            i64::try_from(d / gcd(n, d)).ok()?
        };
        let twos = part_den.trailing_zeros();
        parts = lcm(parts, part_den >> twos)?;
        halved = halved.max(twos);
    }
    if parts < 3 || halved > 4 || (dotted && parts % 3 == 0) {
        return None;
    }
    // A part is split in even sixths when every one of them is: six in the time of four.
    let count = high - low + 1;
    if parts == 3 && halved == 1 && count == 6 {
        parts = 6;
        halved = 0;
    }
    let parts = u8::try_from(parts).ok()?;
    let normal = match (dotted, parts) {
        (false, 3) => 2,
        (false, 4..=7) => 4,
        (false, _) => 8,
        (true, ..=5) => 3,
        (true, 6..=11) => 6,
        (true, _) => 12,
    };
    let tuplet = Tuplet::new(parts, normal)?;
    let unit = length.scaled(1, i64::from(normal)).ok()?;
    // Nothing shorter than the shortest shape.
    if unit.scaled(1, 1 << halved).ok()? < SHORTEST.length() {
        return None;
    }
    let rarity = match parts {
        3 => 0.0,
        6 => 1.0,
        5 => 4.0,
        7 | 9 => 6.0,
        _ => 10.0,
    };
    let beat = length.to_f64() / if dotted { 1.5 } else { 1.0 };
    let starts_on_point = from == Quarters::ZERO || points.binary_search(&from).is_ok();
    let ends_on_point = points.binary_search(&to).is_ok();
    let slot = levels.is_slot(from, to);
    let cost = CELL_COST
        + rarity
        + f64::from(halved * halved) * 2.0
        + 1.5 * beat.log2().abs()
        + if slot { 0.0 } else { 8.0 }
        + if starts_on_point { 0.0 } else { 3.0 }
        + if ends_on_point { 0.0 } else { 3.0 };
    Some((Cell { from, to, tuplet, parts, unit, well: slot && halved <= 1 }, cost))
}

fn gcd(mut a: i128, mut b: i128) -> i128 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a.abs().max(1)
}

fn lcm(a: i64, b: i64) -> Option<i64> {
    let both = a / i64::try_from(gcd(i128::from(a), i128::from(b))).ok()? * b;
    (both <= 15).then_some(both)
}
