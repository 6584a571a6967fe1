//! Which lines are tablature, which count beats, and which are words.

use riffkin_score::Warning;
use riffkin_score::riff::Riff;

use super::counts;
use super::system::System;
use crate::text_error::{Source, TextError};

/// One character of a line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Cell {
    /// The character; every dash is `-`.
    pub(super) c: char,
    /// Column on the screen, from 0, tabs filled to the next eighth column.
    pub(super) column: usize,
    /// Byte offset in the text.
    pub(super) at: usize,
}

/// A line of tablature.
#[derive(Clone, Debug)]
pub(super) struct Row {
    pub(super) number: usize,
    /// Byte offset of the label, or of the first sign.
    pub(super) at: usize,
    /// What stands before the first bar line or dash.
    pub(super) label: String,
    /// The signs, from the first bar line or dash on.
    pub(super) cells: Vec<Cell>,
    /// What stands after the last bar line.
    pub(super) trailing: String,
    /// A label and a bar line: surely tablature, even on its own.
    pub(super) certain: bool,
}

/// A line of words.
#[derive(Clone, Debug)]
pub(super) struct Words {
    pub(super) number: usize,
    pub(super) text: String,
    /// Above every system.
    pub(super) before_all: bool,
}

/// What a text holds.
pub(super) struct Text {
    pub(super) systems: Vec<System>,
    pub(super) words: Vec<Words>,
    pub(super) warnings: Vec<Warning>,
}

enum Line {
    Blank,
    Row(Row),
    Count(Vec<Cell>),
    Words(String),
}

/// Sorts the lines.
pub(super) fn read(source: Source<'_>) -> Result<Text, TextError> {
    let mut lines = Vec::new();
    let mut tabs = None;
    let mut at = 0;
    while let Some(rest) = source.0.get(at..).filter(|rest| !rest.is_empty()) {
        let length = rest.find(['\n', '\r']).unwrap_or(rest.len());
        let line = rest.get(..length).unwrap_or(rest);
        let number = lines.len() + 1;
        let line_kind = classify(line, at, number);
        if line.contains('\t') && matches!(line_kind, Line::Row(_)) {
            tabs.get_or_insert(number);
        }
        lines.push(line_kind);
        at += length + if rest.get(length..).is_some_and(|r| r.starts_with("\r\n")) { 2 } else { 1 };
    }
    let mut text = Text { systems: Vec::new(), words: Vec::new(), warnings: Vec::new() };
    text.warnings.extend(tabs.map(|number| {
        Warning::at(format!("line {number}"), "tab characters were filled to every eighth column")
    }));
    gather(source, lines, &mut text)?;
    if text.systems.is_empty() {
        let at = text
            .words
            .first()
            .map_or(0, |_| source.0.find(|c: char| !c.is_whitespace() && c != '\u{feff}').unwrap_or(0));
        return Err(source.error(
            at,
            "there are no lines of tablature",
            "write four to six lines such as G|-----5-7-|, one for each string",
        ));
    }
    Ok(text)
}

/// True for a text with a line that is surely tablature, or three neighbouring ones that may be.
pub(super) fn looks_like(text: &str) -> bool {
    let mut neighbours = 0;
    text.split(['\n', '\r']).any(|line| match classify(line, 0, 0) {
        Line::Row(row) => {
            neighbours += 1;
            (row.certain && super::tuning::read_label(&row.label).is_some()) || neighbours >= 3
        }
        Line::Blank => false,
        _ => {
            neighbours = 0;
            false
        }
    })
}

/// Puts neighbouring rows together into systems.
fn gather(source: Source<'_>, lines: Vec<Line>, text: &mut Text) -> Result<(), TextError> {
    let mut rows: Vec<Row> = Vec::new();
    let mut above: Option<Vec<Cell>> = None;
    let mut doubtful: Vec<(usize, Row)> = Vec::new();
    let mut lines = lines.into_iter().enumerate().peekable();
    while let Some((i, line)) = lines.next() {
        match line {
            Line::Row(row) => {
                rows.push(row);
                if matches!(lines.peek(), Some((_, Line::Row(_)))) {
                    continue;
                }
                let below = lines.next_if(|(_, l)| matches!(l, Line::Count(_)));
                let below =
                    below.and_then(|(_, l)| if let Line::Count(cells) = l { Some(cells) } else { None });
                let mut group = std::mem::take(&mut rows);
                // A rule of dashes above or below lines with letters is none of them.
                if group.iter().any(|r| r.certain) {
                    let rule = |r: &Row| r.label.is_empty() && r.cells.iter().all(|c| c.c == '-');
                    while let Some(row) = group.pop_if(|r| rule(r)) {
                        doubtful.push((text.systems.len() + 1, row));
                    }
                    while group.first().is_some_and(rule) {
                        doubtful.push((text.systems.len(), group.remove(0)));
                    }
                }
                if group.len() < 4 && !group.iter().all(|r| r.certain) {
                    doubtful.extend(group.into_iter().map(|row| (text.systems.len(), row)));
                } else {
                    text.systems.extend(System::split(source, group, above.take(), below)?);
                }
                if text.systems.len() > Riff::MAX_BARS {
                    let at = text.systems.last().map_or(0, System::at);
                    return Err(source.error(
                        at,
                        format!("more than {} bars", Riff::MAX_BARS),
                        "split the text into several riffs",
                    ));
                }
                above = None;
            }
            Line::Count(cells) => {
                if matches!(lines.peek(), Some((_, Line::Row(_)))) {
                    above = Some(cells);
                } else {
                    text.words.push(Words {
                        number: i + 1,
                        text: cells.iter().map(|c| c.c).collect::<String>().trim().to_owned(),
                        before_all: text.systems.is_empty(),
                    });
                }
            }
            Line::Words(words) => {
                text.words.push(Words { number: i + 1, text: words, before_all: text.systems.is_empty() });
            }
            Line::Blank => {}
        }
    }
    // A rule of dashes between paragraphs is no tablature; but where there is nothing else, it was meant as such.
    if let (Some((_, row)), true) = (doubtful.first(), text.systems.is_empty()) {
        return Err(source.error(
            row.at,
            format!(
                "{} line of tablature on its own",
                if doubtful.len() == 1 { "a" } else { "fewer than four lines, or each" }
            ),
            "write four to six lines one under the other, or letters before the lines: G|-----5-7-|",
        ));
    }
    for (before, row) in doubtful {
        let signs: String = row.cells.iter().map(|c| c.c).collect();
        text.words.push(Words {
            number: row.number,
            text: format!("{} {signs}", row.label).trim().to_owned(),
            before_all: before == 0,
        });
    }
    text.words.sort_by_key(|w| w.number);
    Ok(())
}

/// Dashes of every kind that mail programs and keyboards make.
fn plain(c: char) -> char {
    match c {
        '\u{2010}'..='\u{2015}'
        | '\u{2212}'
        | '\u{2500}'
        | '\u{2501}'
        | '\u{ad}'
        | '\u{fe58}'
        | '\u{fe63}'
        | '\u{ff0d}'
        | '_'
        | '\u{af}'
        | '.'
        | '\u{b7}'
        | '\u{2026}' => '-',
        '¦' | '│' | '┃' | '∣' | '\u{2016}' => '|',
        '’' | '\u{a0}' => ' ',
        other => other,
    }
}

fn cells(line: &str, at: usize) -> Vec<Cell> {
    let mut column = 0;
    let mut out = Vec::with_capacity(line.len());
    for (i, c) in line.char_indices() {
        if c == '\u{feff}' {
            continue;
        }
        let width = if c == '\t' { 8 - column % 8 } else { 1 };
        for k in 0..width {
            let c = if c.is_whitespace() { ' ' } else { plain(c) };
            out.push(Cell { c, column: column + k, at: at + i });
        }
        column += width;
    }
    out
}

fn classify(line: &str, at: usize, number: usize) -> Line {
    let cells = cells(line, at);
    let Some(first) = cells.iter().position(|c| c.c != ' ') else { return Line::Blank };
    if counts::looks_like(&cells) {
        return Line::Count(cells);
    }
    match row(&cells, first, number) {
        Some(row) => Line::Row(row),
        None => Line::Words(line.trim_matches(|c: char| c.is_whitespace() || c == '\u{feff}').to_owned()),
    }
}

/// Signs that stand on a line of tablature.
fn is_sign(c: char) -> bool {
    c.is_ascii_digit() || "-|hpHP/\\~xX()<>[]{}brsSvtT^*=:o ".contains(c)
}

fn row(cells: &[Cell], first: usize, number: usize) -> Option<Row> {
    // The label: up to three signs before the first bar line, colon or dash.
    let start = cells.iter().position(|c| matches!(c.c, '|' | '-' | ':'))?;
    let label: String = cells.get(first..start.max(first))?.iter().map(|c| c.c).collect();
    let label = label.trim().to_owned();
    if label.chars().count() > 3 || label.contains(' ') {
        return None;
    }
    let line_follows = cells.get(start).is_some_and(|c| matches!(c.c, '|' | ':'));
    // Without a bar line only a note name is a label; a number there is a fret.
    let is_letter = super::tuning::read_label(&label).is_some();
    let start = if line_follows || label.is_empty() || is_letter {
        start
    } else if label.chars().all(is_sign)
        && label.starts_with(|c: char| c.is_ascii_digit() || "x(".contains(c))
    {
        first
    } else {
        return None;
    };
    let label = if start == first { String::new() } else { label };
    let mut signs = cells.get(start..)?.to_vec();
    if let Some(colon) = signs.first_mut().filter(|c| c.c == ':' && !label.is_empty()) {
        colon.c = '|';
    }
    let mut trailing = String::new();
    if let Some(last) = signs.iter().rposition(|c| c.c == '|').filter(|&last| last > 0) {
        let after = signs.get(last + 1..).unwrap_or(&[]);
        // A blank after the last bar line ends the tablature, and so do words.
        if !after.is_empty() && !after.iter().any(|c| c.c == '-') {
            trailing = after.iter().map(|c| c.c).collect::<String>().trim().to_owned();
            signs.truncate(last + 1);
        }
    }
    while signs.last().is_some_and(|c| c.c == ' ') {
        signs.pop();
    }
    let dashes = signs.iter().filter(|c| c.c == '-').count();
    let full = signs.iter().filter(|c| c.c != ' ').count();
    let strange = signs.iter().filter(|c| !is_sign(c.c)).count();
    let certain =
        line_follows && !label.is_empty() && (dashes > 0 || (is_letter && strange == 0 && full > 1));
    let many = dashes >= 3 && dashes * 3 >= full;
    if strange * 8 > full || !(certain || many || (line_follows && dashes > 0)) {
        return None;
    }
    let at = cells.get(first).map_or(0, |c| c.at);
    Some(Row { number, at, label, cells: signs, trailing, certain })
}
