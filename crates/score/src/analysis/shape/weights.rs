//! How strong a place in a bar is, as the theory of syncopation counts it.

use crate::meter::Meter;
use crate::time::Quarters;

/// Places finer than this many halvings of a unit all count as the weakest.
const DEEPEST: u8 = 8;

/// How many levels below the bar line a place in a bar lies: 0 the bar line, then one more for every division.
///
/// Each level divides what is above it, after Longuet-Higgins and Lee, "The rhythmic interpretation of
/// monophonic music", Music Perception 1(4), 1984 (from memory; their weight is this number below zero). In
/// 4/4 the half bar is 1, the other beats 2, eighths 3; in 6/8 the second group is 1, eighths 2. Groups of a
/// meter that does not divide evenly (5/4, 7/8) are one level.
pub fn depth(meter: Meter, offset: Quarters) -> u8 {
    let sizes = meter.group_sizes();
    let unit = meter.unit_length();
    let even = sizes.windows(2).all(|w| w[0] == w[1]);
    let count = sizes.len();
    if offset == Quarters::ZERO {
        return 0;
    }
    // Levels from the bar down to its groups: halves while the count of groups is even, then the rest at once.
    let mut parts = 1;
    let mut level = 0;
    if even {
        let mut left = count;
        let group = unit * i64::from(sizes.first().copied().unwrap_or(1));
        while left > 1 {
            let by = if left.is_multiple_of(2) { 2 } else { left };
            (parts, left, level) = (parts * by, left / by, level + 1);
            let step = group * left as i64;
            if offset.rest_of_steps(step) == Quarters::ZERO {
                return level;
            }
        }
    } else {
        level = 1;
        let mut start = Quarters::ZERO;
        for &size in sizes {
            if start == offset {
                return level;
            }
            start += unit * i64::from(size);
        }
    }
    // Inside its group: pairs first in groups of four, then units.
    let mut start = Quarters::ZERO;
    for &size in sizes {
        let length = unit * i64::from(size);
        if offset < start + length {
            let within = offset - start;
            if size > 1 {
                if size.is_multiple_of(4) {
                    level += 1;
                    if within.rest_of_steps(unit * 2) == Quarters::ZERO {
                        return level;
                    }
                }
                level += 1;
                if within.rest_of_steps(unit) == Quarters::ZERO {
                    return level;
                }
            }
            break;
        }
        start += length;
    }
    level.saturating_add(below_unit(offset.rest_of_steps(unit), unit))
}

/// Divisions of a unit: halves again and again, or thirds first.
fn below_unit(within: Quarters, unit: Quarters) -> u8 {
    for halvings in 1..=DEEPEST {
        let parts = 1i64 << halvings;
        let halves = unit.scaled(1, parts).ok();
        let thirds = unit.scaled(2, 3 * parts).ok();
        let fits = |step: Option<Quarters>| step.is_some_and(|s| within.rest_of_steps(s) == Quarters::ZERO);
        if fits(halves) || fits(thirds) {
            return halvings;
        }
    }
    DEEPEST + 1
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Longuet-Higgins and Lee 1984, as the later literature prints it for a bar of sixteen sixteenths:
    /// 0 -4 -3 -4 -2 -4 -3 -4 -1 -4 -3 -4 -2 -4 -3 -4 (from memory).
    #[test]
    fn sixteen_sixteenths() {
        let weights: Vec<u8> =
            (0..16).map(|i| depth(Meter::FOUR_FOUR, Quarters::new(i, 4).unwrap())).collect();
        assert_eq!(weights, [0, 4, 3, 4, 2, 4, 3, 4, 1, 4, 3, 4, 2, 4, 3, 4]);
    }

    #[test]
    fn other_meters() {
        let of = |meter: &str, per_quarter: i64| -> Vec<u8> {
            let meter: Meter = meter.parse().unwrap();
            let cells = meter.bar_length().scaled(per_quarter, 1).unwrap().whole_steps(Quarters::QUARTER);
            (0..cells).map(|i| depth(meter, Quarters::new(i, per_quarter).unwrap())).collect()
        };
        assert_eq!(of("3/4", 2), [0, 2, 1, 2, 1, 2]);
        assert_eq!(of("6/8", 4), [0, 3, 2, 3, 2, 3, 1, 3, 2, 3, 2, 3]);
        assert_eq!(of("12/8", 2), [0, 3, 3, 2, 3, 3, 1, 3, 3, 2, 3, 3]);
        assert_eq!(of("2/2", 1), [0, 2, 1, 2]);
        assert_eq!(of("7/8", 2), [0, 2, 1, 2, 1, 2, 2]);
        assert_eq!(of("4/4", 3), [0, 3, 3, 2, 3, 3, 1, 3, 3, 2, 3, 3]);
        assert_eq!(of("5/4", 1), [0, 1, 1, 1, 1]);
    }
}
