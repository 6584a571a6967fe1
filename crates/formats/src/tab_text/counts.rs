//! A line that counts: `1 + 2 + 3 + 4 +`, `1 e + a 2 e + a`, `1 & 2 &`.

use riffkin_score::Warning;
use riffkin_score::meter::Meter;
use riffkin_score::time::Quarters;

use super::lines::Cell;
use super::signs::Found;
use super::system::{Measure, System};

/// One count: where it stands and when it falls.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Count {
    /// Which run from 1 upwards it belongs to.
    run: usize,
    /// Column on the screen.
    column: usize,
    /// From the bar line.
    time: Quarters,
}

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Sign {
    Number(u8),
    E,
    And,
    A,
}

/// The signs with their columns; `None` when something else stands on the line.
fn signs(cells: &[Cell]) -> Option<Vec<(usize, Sign)>> {
    let mut out: Vec<(usize, Sign)> = Vec::new();
    let mut i = 0;
    while let Some(&Cell { c, column, .. }) = cells.get(i) {
        let from = i;
        let word = |text: &str| {
            text.chars().enumerate().all(|(k, t)| cells.get(from + k).is_some_and(|cell| cell.c == t))
        };
        i += 1;
        let sign = match c {
            ' ' | '|' | '-' | ':' => continue,
            '0'..='9' => {
                let mut number = c.to_digit(10)?;
                while let Some(digit) = cells.get(i).and_then(|cell| cell.c.to_digit(10)) {
                    number = number.checked_mul(10)?.checked_add(digit)?;
                    i += 1;
                }
                Sign::Number(u8::try_from(number).ok()?)
            }
            '+' | '&' => Sign::And,
            'a' if word("and") => {
                i += 2;
                Sign::And
            }
            'n' => Sign::And,
            'e' => Sign::E,
            'a' => Sign::A,
            _ => return None,
        };
        out.push((column, sign));
    }
    Some(out)
}

/// True for a line that counts from 1 upwards and holds nothing else.
pub(super) fn looks_like(cells: &[Cell]) -> bool {
    let dashes = cells.iter().any(|c| c.c == '-');
    let Some(signs) = signs(cells) else { return false };
    let mut last = 0;
    let mut ands = false;
    let mut numbers = 0;
    for (_, sign) in &signs {
        match sign {
            Sign::Number(n) if *n == 1 || (*n == last + 1 && *n <= 16 && last > 0) => {
                last = *n;
                numbers += 1;
            }
            Sign::Number(_) => return false,
            _ if last == 0 => return false,
            Sign::And => ands = true,
            _ => {}
        }
    }
    ands || (numbers >= 3 && !dashes)
}

/// The counts of a system's count lines.
pub(super) fn read(system: &System, meter: Meter, warnings: &mut Vec<Warning>) -> Vec<Count> {
    let mut out = Vec::new();
    let mut run = 0;
    for cells in &system.counts {
        let signs = signs(cells).unwrap_or_default();
        let most = signs.iter().filter_map(|s| if let Sign::Number(n) = s.1 { Some(n) } else { None }).max();
        let beat = match most {
            Some(n) if n <= meter.counted_beats() => meter.beat_length(),
            Some(n) if n <= meter.beats() => meter.unit_length(),
            _ => {
                let line = system.rows.first().map_or(0, |r| r.number);
                warnings.push(Warning::at(
                    format!("line {line}"),
                    format!("the count line next to it counts further than {meter}; it was not used"),
                ));
                continue;
            }
        };
        // The sign of each beat's number and those up to the next number.
        let mut i = 0;
        while let Some(&(column, Sign::Number(number))) = signs.get(i) {
            run += usize::from(number == 1);
            let inside: Vec<(usize, Sign)> = signs
                .get(i + 1..)
                .unwrap_or(&[])
                .iter()
                .copied()
                .take_while(|s| !matches!(s.1, Sign::Number(_)))
                .collect();
            let next = signs.get(i + 1 + inside.len()).map(|s| s.0);
            let start = beat * i64::from(number.saturating_sub(1));
            out.push(Count { run, column, time: start });
            let thirds = is_in_thirds(column, &inside, next);
            out.extend(inside.iter().filter_map(|&(column, sign)| {
                let (n, d) = match (sign, thirds) {
                    (Sign::And, true) => (1, 3),
                    (Sign::A, true) => (2, 3),
                    (Sign::E, _) => (1, 4),
                    (Sign::And, false) => (1, 2),
                    (Sign::A, false) => (3, 4),
                    (Sign::Number(_), _) => return None,
                };
                Some(Count { run, column, time: start + beat.scaled(n, d).ok()? })
            }));
            i += 1 + inside.len();
        }
    }
    out
}

/// `1 + a` evenly spaced counts thirds; with the + half-way to the next number it counts quarters.
fn is_in_thirds(number: usize, inside: &[(usize, Sign)], next: Option<usize>) -> bool {
    let [(and, Sign::And), (a, Sign::A)] = *inside else { return false };
    let first = and.saturating_sub(number);
    let beat = next.unwrap_or(a + first).saturating_sub(number);
    (first * 3).abs_diff(beat) < (first * 2).abs_diff(beat)
}

/// Columns by which a count line may be off: writers leave out the letter and bar line before it.
const SHIFT: usize = 3;

/// Moves a run sideways to where the most notes stand exactly under a count; the least move wins.
fn shift(run: &mut [Count], notes: &[Found]) {
    let hits = |by: i64| {
        notes.iter().filter(|f| run.iter().any(|c| c.column as i64 + by == f.screen as i64)).count()
    };
    let moves = (0..=SHIFT as i64).flat_map(|by| [by, -by]);
    let best = moves.fold((0, hits(0)), |best, by| if hits(by) > best.1 { (by, hits(by)) } else { best });
    for count in run {
        count.column = usize::try_from(count.column as i64 + best.0).unwrap_or(0);
    }
}

/// When the notes of a bar start, by the run of counts that stands over or under it; `None` when there is none
/// or the notes do not agree with it.
pub(super) fn times(
    counts: &[Count],
    measure: &Measure,
    notes: &[Found],
    full: Quarters,
) -> Option<Vec<Quarters>> {
    let (left, right) = measure.columns()?;
    let first =
        counts.iter().find(|c| c.time == Quarters::ZERO && c.column + 2 >= left && c.column < right)?;
    let mut run: Vec<Count> =
        counts.iter().filter(|c| c.run == first.run && c.time < full).copied().collect();
    if run.len() < 2 || run.windows(2).any(|w| w[0].column >= w[1].column || w[0].time >= w[1].time) {
        return None;
    }
    shift(&mut run, notes);
    run.push(Count { run: first.run, column: right.max(run.last()?.column + 1), time: full });
    let mut times = Vec::with_capacity(notes.len());
    let mut last: Option<(usize, Quarters)> = None;
    for found in notes {
        let time = time_at(&run, found.screen)?;
        if time >= full || last.is_some_and(|(column, before)| column != found.column && before >= time) {
            return None;
        }
        last = Some((found.column, time));
        times.push(time);
    }
    Some(times)
}

/// The count a column stands at, or within one column of; else in proportion, on the nearest sixteenth.
fn time_at(run: &[Count], column: usize) -> Option<Quarters> {
    let counts = run.get(..run.len().checked_sub(1)?)?;
    let nearest = counts.iter().min_by_key(|c| c.column.abs_diff(column))?;
    if nearest.column.abs_diff(column) <= 1 {
        return Some(nearest.time);
    }
    let after = run.partition_point(|c| c.column <= column);
    let (from, to) = (run.get(after.checked_sub(1)?)?, run.get(after)?);
    let share = (column - from.column) as f64 / (to.column - from.column) as f64;
    let quarters = from.time.to_f64() + share * (to.time - from.time).to_f64();
    Some(Quarters::SIXTEENTH * (quarters * 4.0).round() as i64)
}
