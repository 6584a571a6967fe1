//! Lines that stand together, and the bars they share.

use riffkin_score::Warning;

use super::lines::{Cell, Row};
use crate::text_error::{Source, TextError, shown};

/// Rows one under the other, with the count lines next to them.
pub(super) struct System {
    pub(super) rows: Vec<Row>,
    pub(super) counts: Vec<Vec<Cell>>,
}

impl System {
    /// Byte offset of its first line.
    pub(super) fn at(&self) -> usize {
        self.rows.first().map_or(0, |r| r.at)
    }

    /// Makes one system of neighbouring rows, or several when their letters repeat.
    pub(super) fn split(
        source: Source<'_>,
        rows: Vec<Row>,
        above: Option<Vec<Cell>>,
        below: Option<Vec<Cell>>,
    ) -> Result<Vec<Self>, TextError> {
        let n = rows.len();
        let repeats = |size: usize| {
            n.is_multiple_of(size)
                && rows.iter().enumerate().all(|(i, row)| {
                    rows.get(i % size).is_some_and(|r| r.label.eq_ignore_ascii_case(&row.label))
                })
        };
        let size = if n <= 6 { Some(n) } else { (4..=6).find(|&size| repeats(size)) };
        let Some(size) = size else {
            return Err(source.error(
                rows.first().map_or(0, |r| r.at),
                format!("{n} lines of tablature one under the other"),
                "put a blank line between systems of four to six lines",
            ));
        };
        let mut systems: Vec<Self> = Vec::new();
        let mut rows = rows.into_iter().peekable();
        while rows.peek().is_some() {
            systems.push(Self { rows: rows.by_ref().take(size).collect(), counts: Vec::new() });
        }
        if let (Some(system), Some(above)) = (systems.first_mut(), above) {
            system.counts.push(above);
        }
        if let (Some(system), Some(below)) = (systems.last_mut(), below) {
            system.counts.push(below);
        }
        Ok(systems)
    }
}

/// One bar: for each row its signs between two bar lines.
pub(super) struct Measure {
    pub(super) rows: Vec<Vec<Cell>>,
    /// Line number of each row.
    pub(super) numbers: Vec<usize>,
    /// Signs of the longest row.
    pub(super) width: usize,
    pub(super) repeat_start: bool,
    pub(super) repeat_end: Option<u8>,
}

impl Measure {
    /// Line number of its top row.
    pub(super) fn first_line(&self) -> usize {
        self.numbers.first().copied().unwrap_or(0)
    }

    /// Screen columns of its first sign and of the bar line after it.
    pub(super) fn columns(&self) -> Option<(usize, usize)> {
        let first = self.rows.iter().find_map(|r| r.first())?.column;
        Some((first, first + self.width))
    }
}

/// Cuts a system at its bar lines.
pub(super) fn measures(
    source: Source<'_>,
    system: &System,
    warnings: &mut Vec<Warning>,
) -> Result<Vec<Measure>, TextError> {
    let cut: Vec<Vec<&[Cell]>> = system.rows.iter().map(|row| segments(&row.cells)).collect();
    let count = most_common(&cut);
    for (row, segments) in system.rows.iter().zip(&cut) {
        if segments.len() != count {
            return Err(source.error(
                row.at,
                format!("{} on this line, and {} on the others", bars(segments.len()), bars(count)),
                "put the bar lines of all strings under one another",
            ));
        }
    }
    let mut out = Vec::with_capacity(count);
    for i in 0..count {
        let rows: Vec<Vec<Cell>> =
            cut.iter().map(|row| row.get(i).map(|s| s.to_vec()).unwrap_or_default()).collect();
        let width = rows.iter().map(Vec::len).max().unwrap_or(0);
        let mut measure = Measure {
            rows,
            numbers: system.rows.iter().map(|r| r.number).collect(),
            width,
            repeat_start: false,
            repeat_end: None,
        };
        for (row, number) in measure.rows.iter().zip(&measure.numbers) {
            if row.len() < width {
                warnings.push(Warning::at(
                    format!("line {number}"),
                    format!(
                        "the bar from column {} is {} signs shorter than on the other lines; it was read from its left",
                        row.first().map_or(0, |c| c.column + 1),
                        width - row.len()
                    ),
                ));
            }
        }
        take_repeat_signs(&mut measure);
        out.push(measure);
    }
    trailing(system, &mut out, warnings);
    Ok(out)
}

fn bars(n: usize) -> String {
    if n == 1 { "1 bar".to_owned() } else { format!("{n} bars") }
}

fn most_common(cut: &[Vec<&[Cell]>]) -> usize {
    let counts = cut.iter().map(Vec::len);
    counts.max_by_key(|&n| (cut.iter().filter(|row| row.len() == n).count(), n)).unwrap_or(0)
}

/// What stands between bar lines; double lines make no bar.
fn segments(cells: &[Cell]) -> Vec<&[Cell]> {
    cells
        .split(|c| c.c == '|')
        .filter(|s| s.iter().any(|c| c.c != ' '))
        .filter(|s| !is_sign_only(s))
        .collect()
}

/// `:` or `*` alone between two lines, as in `|*|`.
fn is_sign_only(cells: &[Cell]) -> bool {
    cells.iter().all(|c| matches!(c.c, ':' | '*' | 'o'))
}

/// Dots of a repeat stand next to the bar line on some of the rows; their column is taken out.
fn take_repeat_signs(measure: &mut Measure) {
    let dot = |c: Option<&Cell>| c.is_some_and(|c| matches!(c.c, ':' | '*' | 'o'));
    if measure.rows.iter().any(|r| r.len() == measure.width && dot(r.last())) {
        measure.repeat_end = Some(2);
        let width = measure.width;
        for row in &mut measure.rows {
            if row.len() == width {
                row.pop();
            }
        }
        measure.width = width.saturating_sub(1);
    }
    if measure.rows.iter().any(|r| dot(r.first())) {
        measure.repeat_start = true;
        for row in &mut measure.rows {
            if !row.is_empty() {
                row.remove(0);
            }
        }
        measure.width = measure.width.saturating_sub(1);
    }
}

/// `x3` after the last bar line; other words there are left out.
fn trailing(system: &System, measures: &mut [Measure], warnings: &mut Vec<Warning>) {
    for row in system.rows.iter().filter(|r| !r.trailing.is_empty()) {
        let place = format!("line {}", row.number);
        let Some(times) = times(&row.trailing) else {
            warnings.push(Warning::at(
                place,
                format!("{} after the last bar line was left out", shown(&row.trailing)),
            ));
            continue;
        };
        let repeated = measures.iter().any(|m| m.repeat_start || m.repeat_end.is_some());
        if let Some(last) = measures.last_mut().filter(|m| m.repeat_end.is_some() || !repeated) {
            last.repeat_end = Some(times);
        }
        if !repeated && let Some(first) = measures.first_mut() {
            first.repeat_start = true;
            warnings.push(Warning::at(place, format!("the bars of this system are played {times} times")));
        }
    }
}

fn times(text: &str) -> Option<u8> {
    let bare = text.trim_matches(['(', ')', ' ']);
    let bare = bare.strip_suffix("times").unwrap_or(bare);
    let digits = bare.trim_matches(['x', 'X', ' ', '×']);
    digits
        .parse()
        .ok()
        .filter(|n| (2..=99).contains(n) && bare.len() > digits.len() || text.ends_with("times"))
}
