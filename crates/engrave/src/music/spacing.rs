//! How wide things are: springs between the moments of a bar, line breaks, stretching.
//!
//! A note's room grows with the root of its length: each doubling gives 1.41 times as much. Engravers' tables use
//! ratios from 1.4 to 1.6 (common practice, no source); the root is exact on every machine.

use super::bar::{BarPlan, Slot};
use super::rows;
use super::system::Prefix;
use crate::font::smufl::defaults as d;
use crate::font::{smufl, symbol_bounds};
use std::ops::Range;

/// Room of a quarter note, in staff spaces.
const QUARTER_ROOM: f64 = 3.7;
/// Least white between the ink of two neighbours.
const LEAST_WHITE: f64 = 0.4;
/// White after a bar line.
const AFTER_BAR_LINE: f64 = 1.0;
/// Least white before a bar line.
const BEFORE_BAR_LINE: f64 = 0.8;
/// From a head's left edge to the axis on which fret and degree are centred: half a black head.
pub(super) const AXIS: f64 = 0.59;

/// The distance from one moment to the next: never below `least`, else `ideal` times the stretch of the line.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Spring {
    pub(super) least: f64,
    pub(super) ideal: f64,
}

impl Spring {
    pub(super) fn at(self, stretch: f64) -> f64 {
        self.least.max(self.ideal * stretch)
    }
}

/// Springs of a bar: from each slot to the next, the last to the bar line.
pub(super) fn springs(plan: &BarPlan<'_>) -> Vec<Spring> {
    let slots = &plan.slots;
    let mut out: Vec<Spring> = slots
        .iter()
        .enumerate()
        .map(|(i, slot)| {
            let ideal = QUARTER_ROOM * slot.room.to_f64().max(0.0).sqrt();
            let least = match slots.get(i + 1) {
                Some(next) if next.sign.is_some() || slot.sign.is_some() => {
                    slot.right + LEAST_WHITE + next.left
                }
                Some(_) => 0.1,
                None => slot.right.max(symbol_bounds(smufl::NOTEHEAD_BLACK).right) + BEFORE_BAR_LINE,
            };
            Spring { least, ideal }
        })
        .collect();
    let centred = |width: &dyn Fn(&Slot) -> f64, out: &mut Vec<Spring>| {
        let carriers: Vec<(usize, f64)> =
            slots.iter().enumerate().map(|(i, s)| (i, width(s))).filter(|(_, w)| *w > 0.0).collect();
        for pair in carriers.windows(2) {
            if let [(i, a), (j, b)] = pair {
                rod(out, *i..*j, (a + b) / 2.0 + rows::WHITE);
            }
        }
        if let Some((i, w)) = carriers.last() {
            rod(out, *i..slots.len(), AXIS + w / 2.0 + rows::WHITE);
        }
    };
    centred(&rows::tab_width, &mut out);
    centred(&rows::degree_width, &mut out);
    centred(&rows::mark_width, &mut out);
    let chords: Vec<usize> =
        (0..slots.len()).filter(|&i| slots.get(i).is_some_and(|s| s.chord.is_some())).collect();
    for (k, &i) in chords.iter().enumerate() {
        let width = slots.get(i).map_or(0.0, rows::chord_width);
        rod(&mut out, i..chords.get(k + 1).copied().unwrap_or(slots.len()), width + rows::WHITE);
    }
    out
}

/// Makes the springs of `range` at least `length` long together, each in proportion to its ideal.
fn rod(springs: &mut [Spring], range: Range<usize>, length: f64) {
    let Some(part) = springs.get_mut(range) else { return };
    let have: f64 = part.iter().map(|s| s.least).sum();
    let missing = length - have;
    if missing <= 0.0 || part.is_empty() {
        return;
    }
    let ideal: f64 = part.iter().map(|s| s.ideal.max(0.01)).sum();
    for s in part {
        s.least += missing * s.ideal.max(0.01) / ideal;
    }
}

/// The line after a bar.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum EndLine {
    /// None: the next bar begins with the sign of a repeat, which is line enough.
    Open,
    Plain,
    Final,
    Repeat,
}

impl EndLine {
    /// The line after `plan`; `next` is the bar that follows on the same line of music.
    pub(super) fn of(plan: &BarPlan<'_>, next: Option<&BarPlan<'_>>, last: bool) -> Self {
        if plan.bar.repeat_end.is_some() {
            Self::Repeat
        } else if last {
            Self::Final
        } else if next.is_some_and(|n| n.bar.repeat_start) {
            Self::Open
        } else {
            Self::Plain
        }
    }

    /// Its width, dots included.
    pub(super) fn width(self) -> f64 {
        let heavy = d::THIN_BARLINE_THICKNESS + d::BARLINE_SEPARATION + d::THICK_BARLINE_THICKNESS;
        match self {
            Self::Open => 0.0,
            Self::Plain => d::THIN_BARLINE_THICKNESS,
            Self::Final => heavy,
            Self::Repeat => heavy + REPEAT_DOTS,
        }
    }
}

/// Room of the two dots of a repeat sign with the white beside them.
pub(super) const REPEAT_DOTS: f64 = 0.4 + 0.3;

/// Width of the sign that starts a repeat, thick line first.
pub(super) fn start_repeat_width() -> f64 {
    EndLine::Repeat.width()
}

/// Width of a printed meter with the white around it.
pub(super) fn meter_width(plan: &BarPlan<'_>) -> f64 {
    rows::meter_columns(plan.bar.meter) * 1.75 + 0.7
}

/// What a repeat sign saves when the one before it has already drawn the thick line.
pub(super) const SHARED_LINE: f64 = d::THICK_BARLINE_THICKNESS;

/// From the bar line (or the end of clef and signature) to the first head's left edge. `before` is what stands at the end
/// of the bar before on the same line of music.
pub(super) fn lead(plan: &BarPlan<'_>, before: Option<EndLine>) -> f64 {
    let mut w = 0.0;
    if plan.bar.repeat_start {
        w += start_repeat_width();
        if before == Some(EndLine::Repeat) {
            w -= SHARED_LINE;
        }
    }
    if plan.shows_meter {
        w += meter_width(plan);
    }
    let first = plan.slots.first().map_or(0.0, |s| s.left);
    w + AFTER_BAR_LINE.max(first + 0.6)
}

/// What a line of bars asks for: width that cannot stretch, least and ideal width of the rest.
#[derive(Clone, Copy, Debug, Default)]
struct Ask {
    fixed: f64,
    least: f64,
    ideal: f64,
}

/// Breaks the bars into lines of `room` staff spaces so that the lines are as evenly filled as can be: least sum of
/// squared stretch over all lines, by dynamic programming. Every line holds at least one bar.
pub(super) fn break_lines(bars: &[BarPlan<'_>], prefix: &Prefix, room: f64) -> Vec<Range<usize>> {
    let asks: Vec<Ask> = bars
        .iter()
        .enumerate()
        .map(|(i, plan)| {
            let springs = springs(plan);
            Ask {
                // Without regard to neighbours: never less than what is drawn.
                fixed: lead(plan, None) + EndLine::of(plan, None, i + 1 == bars.len()).width(),
                least: springs.iter().map(|s| s.least).sum(),
                ideal: springs.iter().map(|s| s.at(1.0)).sum(),
            }
        })
        .collect();
    // best[j]: least cost of setting the first j bars in whole lines, and where the last of those lines begins.
    let mut best: Vec<(f64, usize)> = vec![(0.0, 0)];
    for j in 1..=bars.len() {
        let mut found = (f64::INFINITY, j - 1);
        let mut sum = Ask { fixed: prefix.width(), ..Ask::default() };
        for i in (0..j).rev() {
            if let Some(a) = asks.get(i) {
                sum = Ask {
                    fixed: sum.fixed + a.fixed,
                    least: sum.least + a.least,
                    ideal: sum.ideal + a.ideal,
                };
            }
            let alone = i + 1 == j;
            if !alone && sum.fixed + sum.least > room {
                break;
            }
            let before = best.get(i).map_or(f64::INFINITY, |b| b.0);
            let cost = before + line_cost(sum, room, j == bars.len());
            if cost < found.0 || alone {
                found = (cost, i);
            }
        }
        best.push(found);
    }
    let mut lines = Vec::new();
    let mut j = bars.len();
    while j > 0 {
        let i = best.get(j).map_or(j - 1, |b| b.1).min(j - 1);
        lines.push(i..j);
        j = i;
    }
    lines.reverse();
    lines
}

/// Squared stretch; pressing together counts fifty-fold, since it is what makes music hard to read; an unfilled last
/// line counts a third.
fn line_cost(ask: Ask, room: f64, last: bool) -> f64 {
    let stretch = (room - ask.fixed) / ask.ideal.max(0.1) - 1.0;
    let square = stretch * stretch;
    let each = 0.05;
    if stretch < 0.0 {
        50.0 * square + each
    } else if last {
        square.min(4.0) / 3.0 + each
    } else {
        square.min(100.0) + each
    }
}

/// The factor by which ideal lengths must be multiplied so that `springs` fill `room`; the least lengths hold.
pub(super) fn stretch_to(springs: &[Spring], room: f64) -> f64 {
    let total = |k: f64| springs.iter().map(|s| s.at(k)).sum::<f64>();
    let (mut low, mut high) = (0.0, 1.0);
    while total(high) < room && high < 1e4 {
        high *= 2.0;
    }
    for _ in 0..60 {
        let mid = (low + high) / 2.0;
        if total(mid) < room { low = mid } else { high = mid }
    }
    high
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn springs_fill_the_line_and_keep_their_least() {
        let springs = [
            Spring { least: 3.0, ideal: 1.0 },
            Spring { least: 1.0, ideal: 4.0 },
            Spring { least: 1.0, ideal: 2.0 },
        ];
        for room in [6.0, 10.0, 50.0] {
            let k = stretch_to(&springs, room);
            let got: f64 = springs.iter().map(|s| s.at(k)).sum();
            assert!((got - room).abs() < 1e-6, "{room}: {got}");
            assert!(springs.iter().all(|s| s.at(k) >= s.least));
        }
    }

    #[test]
    fn a_rod_spreads_what_is_missing() {
        let mut s = [Spring { least: 1.0, ideal: 1.0 }, Spring { least: 1.0, ideal: 3.0 }];
        rod(&mut s, 0..2, 6.0);
        assert_eq!((s[0].least, s[1].least), (2.0, 4.0));
        rod(&mut s, 0..2, 3.0);
        assert_eq!((s[0].least, s[1].least), (2.0, 4.0), "nothing is ever shortened");
        rod(&mut s, 5..9, 3.0);
    }
}
