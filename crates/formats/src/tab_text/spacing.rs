//! Rhythm from spacing: columns inside a bar are proportional to time.
//!
//! How far the first beat stands from the bar line (`lead`) and how many columns are missing or too many at the
//! end (`tail`) is a habit of the writer, so it is chosen once for a system. Then each bar takes the plainest
//! grid that its columns fit: whole beats, halves, quarters, thirds of beats, and so on. A fit is exact, or
//! within the half column that typing cannot help, or within one column; exact fits win over plain grids.

use riffkin_score::meter::Meter;
use riffkin_score::time::Quarters;

use super::signs::Found;
use super::system::Measure;

/// The chosen reading of a system's columns.
pub(super) struct Spacing {
    meter: Meter,
    lead: usize,
    tail: i32,
    bars: Vec<BarSpace>,
}

struct BarSpace {
    width: usize,
    length: Quarters,
    pickup: bool,
    /// Where this bar's first beat may stand as well as at the system's lead, and what that costs.
    own_lead: Option<(usize, f64)>,
    /// Of each note.
    columns: Vec<usize>,
}

impl BarSpace {
    /// `without` are columns that take no time.
    fn new(meter: Meter, measure: &Measure, notes: &[Found], without: &[usize]) -> Self {
        let squeeze = |column: usize| column - without.partition_point(|&w| w < column);
        let columns: Vec<usize> = notes.iter().map(|f| squeeze(f.column)).collect();
        // Repeat signs take columns of their own, so behind them the habit does not hold.
        let fee = if measure.repeat_start { 0.0 } else { OWN_LEAD };
        Self {
            width: measure.width - without.len().min(measure.width),
            length: meter.bar_length(),
            pickup: false,
            own_lead: columns.first().filter(|&&c| c <= 3).map(|&c| (c, fee)),
            columns,
        }
    }

    fn total(&self, lead: usize, tail: i32) -> f64 {
        (self.width as f64 - lead as f64 + f64::from(tail)).max(1.0)
    }
}

/// A grid that fits: columns times `slots / total`, rounded.
#[derive(Clone, Copy)]
struct Fit {
    slot: Quarters,
    lead: usize,
    cost: f64,
}

/// How far off the columns may be: columns, parts of a slot, and what that costs against a plainer grid.
const TOLERANCES: [(f64, f64, f64); 3] = [(0.01, 0.01, 0.0), (0.5, 0.34, 4.0), (1.0, 0.4, 8.0)];
/// Cost of a first beat elsewhere than in the other bars of the system.
const OWN_LEAD: f64 = 1.5;
/// Cost of leaving second digits out, for each bar.
const SQUEEZED: f64 = 0.5;
/// Cost of a bar that fits nothing.
const NO_FIT: f64 = 30.0;

impl Spacing {
    /// Chooses lead and tail for a system; `first` when it opens the text, where a narrow bar is a pickup.
    pub(super) fn choose(meter: Meter, first: bool, measures: &[Measure], found: &[Vec<Found>]) -> Self {
        let as_typed = |m: &Measure, notes: &[Found]| BarSpace::new(meter, m, notes, &[]);
        // Where frets of two digits push the rest aside, their second digit takes no time.
        let squeezed = |m: &Measure, notes: &[Found]| {
            let mut wide: Vec<usize> = notes.iter().filter(|f| f.wide).map(|f| f.column + 1).collect();
            wide.dedup();
            BarSpace::new(meter, m, notes, &wide)
        };
        let read = |space: &dyn Fn(&Measure, &[Found]) -> BarSpace| {
            Self::best(meter, first, measures.iter().zip(found).map(|(m, notes)| space(m, notes)).collect())
        };
        let plain = read(&as_typed);
        if found.iter().flatten().all(|f| !f.wide) {
            return plain.0;
        }
        let other = read(&squeezed);
        if other.1 + SQUEEZED * (measures.len() as f64) < plain.1 { other.0 } else { plain.0 }
    }

    fn best(meter: Meter, first: bool, mut bars: Vec<BarSpace>) -> (Self, f64) {
        let earliest = bars.iter().filter_map(|bar| bar.columns.first()).min().copied();
        let (most, wanted) = match earliest {
            Some(column) if column <= 3 => (column, column),
            Some(_) => (2, 1),
            None => (0, 0),
        };
        if first {
            mark_pickup(meter, wanted, &mut bars);
        }
        let mut chosen = Self { meter, lead: wanted, tail: 0, bars };
        let mut least = f64::INFINITY;
        for lead in 0..=most {
            for tail in [0, 1, 2, 3, 4, -1] {
                let cost = chosen.cost(lead, tail, wanted);
                if cost < least - 1e-9 {
                    least = cost;
                    (chosen.lead, chosen.tail) = (lead, tail);
                }
            }
        }
        (chosen, least)
    }

    fn cost(&self, lead: usize, tail: i32, wanted: usize) -> f64 {
        let habit = 2.0 * lead.abs_diff(wanted) as f64 + 0.75 * f64::from(tail.abs());
        let bars = self.bars.iter().filter(|bar| !bar.columns.is_empty());
        bars.map(|bar| habit + self.fit(bar, lead, tail).map_or(NO_FIT, |fit| fit.cost)).sum()
    }

    fn fit(&self, bar: &BarSpace, lead: usize, tail: i32) -> Option<Fit> {
        let habit = self.fit_at(bar, lead, tail);
        let own = bar.own_lead.filter(|own| own.0 != lead).and_then(|(own, fee)| {
            let fit = self.fit_at(bar, own, tail)?;
            Some(Fit { cost: fit.cost + fee, ..fit })
        });
        [habit, own].into_iter().flatten().min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    fn fit_at(&self, bar: &BarSpace, lead: usize, tail: i32) -> Option<Fit> {
        let total = bar.total(lead, tail);
        grids(self.meter)
            .filter_map(|(slot, rank)| {
                let slots = bar.length.to_f64() / slot.to_f64();
                // The worst column decides which tolerance the grid needs.
                let mut worst = 0f64;
                let mut last: Option<(usize, f64)> = None;
                for &column in &bar.columns {
                    let exact = (column as f64 - lead as f64) * slots / total;
                    let near = exact.round();
                    let apart = last.is_none_or(|(before, slot)| before == column || near > slot);
                    if !apart || near < 0.0 || near > slots - 1e-6 {
                        return None;
                    }
                    worst = worst.max((exact - near).abs());
                    last = Some((column, near));
                }
                let fee = TOLERANCES.iter().find_map(|&(columns, part, fee)| {
                    (worst <= part.min(columns * slots / total) + 1e-9).then_some(fee)
                })?;
                Some(Fit { slot, lead, cost: fee + rank })
            })
            .min_by(|a, b| a.cost.total_cmp(&b.cost))
    }

    /// Length of a bar, and whether it is a pickup.
    pub(super) fn length(&self, i: usize) -> (Quarters, bool) {
        self.bars.get(i).map_or((self.meter.bar_length(), false), |b| (b.length, b.pickup))
    }

    /// Where each note starts, and whether the columns fit a plain rhythm. `None` when there are more notes
    /// than the shortest values can tell apart.
    pub(super) fn times(&self, i: usize) -> Option<(Vec<Quarters>, bool)> {
        let bar = self.bars.get(i)?;
        if let Some(fit) = self.fit(bar, self.lead, self.tail) {
            let total = bar.total(fit.lead, self.tail);
            let slots = bar.length.to_f64() / fit.slot.to_f64();
            let at = |&c: &usize| fit.slot * ((c as f64 - fit.lead as f64) * slots / total).round() as i64;
            return Some((bar.columns.iter().map(at).collect(), true));
        }
        let total = bar.total(self.lead, self.tail);
        let mut columns = bar.columns.clone();
        columns.dedup();
        let slot = [4, 2, 1]
            .into_iter()
            .filter_map(|n| Quarters::new(n, 16).ok())
            .chain(Quarters::new(1, 32))
            .find(|&slot| bar.length.whole_steps(slot) >= columns.len() as i64)?;
        let slots = bar.length.whole_steps(slot);
        // Nearest slots, then pushed apart from the left, then back from the right where the bar ends.
        let mut places: Vec<i64> = columns
            .iter()
            .map(|&c| ((c as f64 - self.lead as f64) * slots as f64 / total).round().max(0.0) as i64)
            .collect();
        for k in 1..places.len() {
            places[k] = places[k].max(places[k - 1] + 1);
        }
        let mut most = slots - 1;
        for place in places.iter_mut().rev() {
            *place = (*place).min(most);
            most = *place - 1;
        }
        let time = |&column: &usize| {
            let k = columns.partition_point(|&c| c < column);
            slot * places.get(k).copied().unwrap_or(0)
        };
        Some((bar.columns.iter().map(time).collect(), false))
    }
}

/// Grids with their rank, plainest first: parts of a beat.
fn grids(meter: Meter) -> impl Iterator<Item = (Quarters, f64)> {
    let parts: [(i64, f64); 6] = if meter.is_compound() {
        [(1, 0.0), (3, 1.0), (6, 2.0), (2, 4.0), (12, 6.0), (4, 6.5)]
    } else {
        [(1, 0.0), (2, 1.0), (4, 2.0), (3, 3.0), (8, 6.0), (6, 6.5)]
    };
    let shortest = Quarters::new(1, 32).unwrap_or(Quarters::SIXTEENTH);
    parts.into_iter().filter_map(move |(part, rank)| {
        let slot = meter.beat_length().scaled(1, part).ok()?;
        (slot >= shortest).then_some((slot, rank))
    })
}

/// The first bar is a pickup when it is much narrower than the others, and those are alike.
fn mark_pickup(meter: Meter, lead: usize, bars: &mut [BarSpace]) {
    let Some((first, rest)) = bars.split_first_mut() else { return };
    // The last bar may be cut short, so it is not asked.
    let inner = if rest.len() > 2 { rest.split_last().map_or(&*rest, |(_, inner)| inner) } else { rest };
    let mut widths: Vec<usize> = inner.iter().map(|b| b.width).collect();
    widths.sort_unstable();
    let (Some(&low), Some(&high), Some(&middle)) =
        (widths.first(), widths.last(), widths.get(widths.len() / 2))
    else {
        return;
    };
    let alike = high * 4 <= low * 5;
    if widths.len() < 2 || !alike || first.width * 5 > middle * 4 {
        return;
    }
    let share = (first.width.saturating_sub(lead) as f64) / (middle.saturating_sub(lead).max(1) as f64);
    let step = meter.unit_length().min(Quarters::EIGHTH);
    let steps = (meter.bar_length().to_f64() * share / step.to_f64()).round().max(1.0) as i64;
    let length = step * steps;
    if length < meter.bar_length() {
        first.length = length;
        first.pickup = true;
    }
}

/// Without bar lines a long system is cut into bars: the common measure of its distances is taken as an eighth
/// note, or a sixteenth where notes stand in neighbouring columns. `None` when it is short enough for one bar.
pub(super) fn cut_long(
    meter: Meter,
    measure: &Measure,
    notes: &[Found],
) -> Option<Vec<(Measure, Vec<Found>)>> {
    let first = notes.first()?.column;
    let mut columns: Vec<usize> = notes.iter().map(|f| f.column).collect();
    columns.dedup();
    if columns.len() <= 16 && measure.width <= 48 {
        return None;
    }
    let step = columns.iter().fold(0, |step, &c| gcd(step, c - first));
    let value = match step {
        0 => return None,
        1 => Quarters::SIXTEENTH,
        _ => Quarters::EIGHTH,
    };
    let per_bar = usize::try_from(meter.bar_length().whole_steps(value)).ok()?.checked_mul(step)?;
    let lead = if first <= 3 { first } else { first % step };
    let count = (measure.width.saturating_sub(lead)).div_ceil(per_bar.max(1));
    if count < 2 || value * (per_bar / step) as i64 != meter.bar_length() {
        return None;
    }
    // Dashes after the last bar that holds a note are its tail.
    let last = columns.last().map_or(0, |&c| (c - lead) / per_bar);
    let mut out: Vec<(Measure, Vec<Found>)> = Vec::with_capacity(count);
    for _ in 0..=last {
        let bar = Measure {
            rows: Vec::new(),
            numbers: measure.numbers.clone(),
            width: per_bar,
            repeat_start: false,
            repeat_end: None,
        };
        out.push((bar, Vec::new()));
    }
    for found in notes {
        let column = found.column - lead;
        if let Some((_, notes)) = out.get_mut(column / per_bar) {
            notes.push(Found { column: column % per_bar, ..*found });
        }
    }
    if let Some((first, _)) = out.first_mut() {
        first.repeat_start = measure.repeat_start;
    }
    if let Some((last, _)) = out.last_mut() {
        last.repeat_end = measure.repeat_end;
    }
    Some(out)
}

fn gcd(mut a: usize, mut b: usize) -> usize {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}
