//! How strong each point of a bar is, and how a stretch of it is cut into plain values.
//!
//! Level 0 is the bar line; a higher level is a weaker point. In 4/4 the middle of the bar is level 1, the
//! beats 2, their halves 3 and so on; in 6/8 the second dotted quarter is level 1, the eighths 2.
//!
//! The rules for notes and rests are common practice as E. Gould sets it out (Behind Bars, 2011, on grouping
//! of values and rests; from memory): show the middle of a bar of four, let no value hide a stronger beat than
//! it starts or ends on, allow the syncopations that every reader knows at sight, and let rests show the beats.

use crate::meter::Meter;
use crate::time::Quarters;
use crate::value::NoteValue;

/// The strong and weak points of a bar, or of the inside of a tuplet.
pub(super) struct Levels {
    // Bar line, parts of the bar, groups and units, with their levels, rising; the end of the bar is the last.
    points: Vec<(Quarters, u8)>,
    // Lengths of a half, quarter, eighth … of a unit.
    halvings: Vec<Quarters>,
    // Level of the groups.
    groups: u8,
    // True when a group is one unit, so that a syncopation may cross its start.
    simple: bool,
    // The middle of a bar of four groups, which only a value of two groups may cross.
    middle: Option<Quarters>,
    // Starts and lengths of groups of three units.
    threes: Vec<(Quarters, Quarters)>,
}

/// Deepest halving of a unit that is looked at: 1/1024 of it.
const HALVINGS: i64 = 10;

impl Levels {
    /// Of a full bar of a meter.
    pub(super) fn of_meter(meter: Meter) -> Self {
        Self::of_groups(meter.group_sizes(), meter.unit_length())
    }

    /// Of `units` equal units that belong to one group each: the inside of a tuplet, in written lengths.
    pub(super) fn of_units(units: u8, unit: Quarters) -> Self {
        let mut levels = Self::of_groups(&vec![1; usize::from(units)], unit);
        levels.middle = None;
        levels
    }

    fn of_groups(sizes: &[u8], unit: Quarters) -> Self {
        let count = sizes.len();
        let even = sizes.windows(2).all(|w| w[0] == w[1]);
        // Bars of four, six and eight equal groups have a middle; bars of eight have quarters too.
        let (halves, quarters) = (even && count >= 4 && count.is_multiple_of(2), even && count == 8);
        let groups = 1 + u8::from(halves) + u8::from(quarters);
        let mut points = Vec::new();
        let mut threes = Vec::new();
        let mut at = Quarters::ZERO;
        for (i, &size) in sizes.iter().enumerate() {
            let level = match i {
                0 => 0,
                _ if halves && 2 * i == count => 1,
                _ if quarters && 4 * i % count == 0 => 2,
                _ => groups,
            };
            points.push((at, level));
            if size == 3 {
                threes.push((at, unit * 3));
            }
            for k in 1..size {
                // Inside a group of four the second pair is stronger than the single units.
                let pair = size % 4 == 0 && k % 2 == 0;
                points.push((at + unit * i64::from(k), groups + if pair { 1 } else { 2 }));
            }
            at += unit * i64::from(size);
        }
        points.push((at, 0));
        Self {
            middle: (halves && count == 4).then(|| points_of(&points, 1)).flatten(),
            points,
            halvings: (1..=HALVINGS).filter_map(|k| unit.scaled(1, 1 << k).ok()).collect(),
            groups,
            simple: sizes.iter().all(|&s| s == 1),
            threes,
        }
    }

    /// The level of a point; points off the last halving are the weakest.
    pub(super) fn level(&self, at: Quarters) -> u8 {
        if let Ok(i) = self.points.binary_search_by_key(&at, |p| p.0) {
            return self.points[i].1;
        }
        let halving = self.halvings.iter().position(|&step| at.rest_of_steps(step) == Quarters::ZERO);
        self.groups + 3 + halving.unwrap_or(self.halvings.len()) as u8
    }

    /// The strongest points strictly inside, with their level.
    fn strongest_inside(&self, from: Quarters, to: Quarters) -> Option<(u8, Vec<Quarters>)> {
        let low = self.points.partition_point(|p| p.0 <= from);
        let high = self.points.partition_point(|p| p.0 < to);
        if low < high {
            let inside = &self.points[low..high];
            let level = inside.iter().map(|p| p.1).min()?;
            return Some((level, inside.iter().filter(|p| p.1 == level).map(|p| p.0).collect()));
        }
        // Of the longest halving that has a point inside, there is only one inside.
        self.halvings.iter().find_map(|&step| {
            let first = step * (from.whole_steps(step) + 1);
            (first < to).then(|| (self.level(first), vec![first]))
        })
    }

    /// True when nothing inside is as strong as either end: the stretch fills a place of its own.
    pub(super) fn is_slot(&self, from: Quarters, to: Quarters) -> bool {
        let ends = self.level(from).max(self.level(to));
        self.strongest_inside(from, to).is_none_or(|(inside, _)| inside > ends)
    }

    /// The one value that may stand for this stretch, if any may.
    fn one_value(&self, from: Quarters, to: Quarters, rest: bool) -> Option<NoteValue> {
        let value = NoteValue::of_length(to - from).filter(|v| v.dots() <= 1)?;
        let Some((inside, points)) = self.strongest_inside(from, to) else { return Some(value) };
        let (start, end) = (self.level(from), self.level(to));
        if rest {
            // Rests show the beats; the first two of three may share one.
            let two_of_three = self
                .threes
                .iter()
                .any(|&(at, length)| at == from && (to - from) * 3 == length * 2 && value.dots() == 0);
            return (inside > start.max(end) || two_of_three).then_some(value);
        }
        if inside <= self.groups && !self.simple {
            // No hiding the start of a group of several units, but whole groups may be put together.
            let whole_groups = start <= self.groups && end <= self.groups;
            let centred = points.len() == 1 && points.first().copied() == self.middle;
            return (whole_groups && (start <= inside || end <= inside || centred)).then_some(value);
        }
        if start <= inside || end <= inside {
            return Some(value);
        }
        // Syncopations: a value as long on either side of the point it hides.
        let centred = points.len() == 1 && points.iter().all(|&m| m - from == to - m) && start == end;
        let crosses = points.first().copied();
        let known = if crosses.is_some() && crosses == self.middle {
            start == self.groups
        } else {
            value.dots() == 0
                && (inside > self.groups && start == self.next_level(inside)
                    || inside == self.groups && self.simple && start == self.groups + 3)
        };
        (centred && known).then_some(value)
    }

    // The level right below a level that stands inside a group.
    fn next_level(&self, level: u8) -> u8 {
        if level == self.groups + 2 { self.groups + 3 } else { level + 1 }
    }

    /// Cuts a stretch into values: as few as the rules allow, of even length where there is a choice, longer
    /// first. `None` when it ends on points that no value reaches.
    pub(super) fn values(&self, from: Quarters, to: Quarters, rest: bool) -> Option<Vec<NoteValue>> {
        if from >= to {
            return Some(Vec::new());
        }
        if let Some(value) = self.one_value(from, to, rest) {
            return Some(vec![value]);
        }
        let (_, inside) = self.strongest_inside(from, to)?;
        let mut cuts = vec![from];
        cuts.extend(inside);
        cuts.push(to);
        // best[i]: the cheapest way from cut i to the end.
        let mut best: Vec<Option<(usize, f64, Vec<NoteValue>)>> = vec![None; cuts.len()];
        if let Some(end) = best.last_mut() {
            *end = Some((0, 0.0, Vec::new()));
        }
        for i in (0..cuts.len() - 1).rev() {
            for j in (i + 1)..cuts.len() {
                let Some((count, squares, tail)) = best[j].clone() else { continue };
                let part = match self.one_value(cuts[i], cuts[j], rest) {
                    Some(value) => Some(vec![value]),
                    None if j == i + 1 => self.values(cuts[i], cuts[j], rest),
                    None => None,
                };
                let Some(mut part) = part else { continue };
                let count = count + part.len();
                let squares = squares + part.iter().map(|v| v.length().to_f64().powi(2)).sum::<f64>();
                // A later j is a longer first value, so it wins a tie.
                if best[i].as_ref().is_none_or(|b| count < b.0 || (count == b.0 && squares <= b.1 + 1e-9)) {
                    part.extend(tail);
                    best[i] = Some((count, squares, part));
                }
            }
        }
        best.into_iter().next().flatten().map(|b| b.2)
    }
}

fn points_of(points: &[(Quarters, u8)], level: u8) -> Option<Quarters> {
    points.iter().find(|p| p.1 == level).map(|p| p.0)
}
