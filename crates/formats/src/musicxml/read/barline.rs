//! Bar lines: repeats and endings.

use super::super::MusicXmlError;
use super::super::tree::Element;
use super::note::plural;
use super::part::Walk;

/// What the bar lines of a measure say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Barlines {
    /// A repeat starts here.
    pub(super) repeat_start: bool,
    /// A repeat starts in the next measure.
    pub(super) repeat_start_next: bool,
    /// A repeat ends here; with the number of times, when given.
    pub(super) repeat_end: Option<Option<u8>>,
    /// A repeat ends with the measure before.
    pub(super) repeat_end_before: Option<Option<u8>>,
    /// An ending bracket starts here, for these passes.
    pub(super) ending_start: Option<Vec<u8>>,
    /// An ending bracket stops here.
    pub(super) ending_stop: bool,
}

/// Reads a `barline` element.
pub(super) fn read<'t>(walk: &mut Walk<'t>, element: Element<'t>) -> Result<(), MusicXmlError> {
    let left = element.attribute("location") == Some("left");
    if element.attribute("location") == Some("middle") {
        walk.notice("bar lines inside a bar are left out");
        return Ok(());
    }
    let mut bars = walk.current().map(|m| m.bars.clone()).unwrap_or_default();
    for child in element.children() {
        match child.name() {
            "repeat" => {
                let times = match child.attribute("times") {
                    None => None,
                    Some(text) => Some(
                        text.trim()
                            .parse::<u32>()
                            .map_err(|_| walk.place().bad_attribute(child, text, "a number of times"))?,
                    ),
                };
                let times = times.map(|t| match t {
                    2..=99 => t as u8,
                    other => {
                        walk.notice(format!("a repeat played {other} times is read as 2 to 99 times"));
                        other.clamp(2, 99) as u8
                    }
                });
                match (child.attribute("direction"), left) {
                    (Some("forward"), true) => bars.repeat_start = true,
                    (Some("forward"), false) => bars.repeat_start_next = true,
                    (Some("backward"), false) => bars.repeat_end = Some(times),
                    (Some("backward"), true) => bars.repeat_end_before = Some(times),
                    (other, _) => {
                        let found = other.unwrap_or_default();
                        return Err(walk.place().bad_attribute(child, found, "forward or backward"));
                    }
                }
            }
            "ending" => match child.attribute("type") {
                Some("start") => {
                    let text = child.attribute("number").unwrap_or_default();
                    let passes = passes(text);
                    if passes.is_empty() {
                        walk.notice("an ending without a number is read as the next in order");
                    }
                    bars.ending_start = Some(passes);
                }
                Some("stop" | "discontinue") => bars.ending_stop = true,
                other => {
                    let found = other.unwrap_or_default();
                    return Err(walk.place().bad_attribute(child, found, "start, stop or discontinue"));
                }
            },
            // How a bar line looks is not music.
            "bar-style" | "footnote" | "level" => {}
            "segno" | "coda" => walk.notice("jumps (segno, coda, D.C., D.S., Fine) are not followed"),
            other => walk.notice(format!("{} on bar lines are left out", plural(other))),
        }
    }
    if let Some(measure) = walk.current() {
        measure.bars = bars;
    }
    Ok(())
}

/// The passes of an ending: every number from 1 to 99 in the text, rising.
fn passes(text: &str) -> Vec<u8> {
    let mut passes: Vec<u8> = text
        .split(|c: char| !c.is_ascii_digit())
        .filter_map(|n| n.parse().ok())
        .filter(|n| (1..=99).contains(n))
        .collect();
    passes.sort_unstable();
    passes.dedup();
    passes
}

/// Repeats and endings of a whole part, one measure each: start, end, passes.
pub(super) fn resolve(bars: &[&Barlines]) -> Vec<(bool, Option<u8>, Vec<u8>)> {
    let mut out: Vec<(bool, Option<u8>, Vec<u8>)> = vec![(false, None, Vec::new()); bars.len()];
    let mut last = 0u8;
    let mut i = 0;
    while i < bars.len() {
        let Some(passes) = &bars[i].ending_start else {
            last = 0;
            i += 1;
            continue;
        };
        let passes = if passes.is_empty() { vec![last.saturating_add(1).min(99)] } else { passes.clone() };
        last = passes.last().copied().unwrap_or(last);
        let end = bracket_end(bars, i);
        for bar in &mut out[i..end] {
            bar.2.clone_from(&passes);
        }
        i = end;
    }
    for (i, bar) in bars.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|k| bars.get(k));
        out[i].0 = bar.repeat_start || before.is_some_and(|b| b.repeat_start_next);
        let after = bars.get(i + 1);
        let end = bar.repeat_end.or(after.and_then(|b| b.repeat_end_before));
        let more = after.is_some_and(|b| b.ending_start.is_some());
        out[i].1 = end.map(|times| times.unwrap_or_else(|| usual_times(&out[i].2, more)));
    }
    out
}

/// The measure after the bracket that starts at `start`: past its stop or, when nothing stops it, past the end
/// of its repeat; one measure long when there is neither.
fn bracket_end(bars: &[&Barlines], start: usize) -> usize {
    let next = (start + 1..bars.len()).find(|&i| bars[i].ending_start.is_some()).unwrap_or(bars.len());
    let within = bars.get(start..next).unwrap_or_default();
    let stop = within.iter().position(|b| b.ending_stop);
    let repeat = || within.iter().position(|b| b.repeat_end.is_some());
    start + stop.or_else(repeat).map_or(1, |i| i + 1)
}

/// How often a passage is played when the file does not say: twice, or as often as its endings need.
fn usual_times(passes: &[u8], more_endings: bool) -> u8 {
    let needed = passes.last().copied().unwrap_or(1).saturating_add(u8::from(more_endings));
    needed.clamp(2, 99)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn passes_are_found_in_any_text() {
        assert_eq!(passes("1, 2"), [1, 2]);
        assert_eq!(passes("2.,1."), [1, 2]);
        assert_eq!(passes(""), Vec::<u8>::new());
        assert_eq!(passes("0 100 300"), Vec::<u8>::new());
    }

    #[test]
    fn a_bracket_over_two_bars_and_the_times_it_needs() {
        let bar = |start: Option<&[u8]>, stop, end: Option<Option<u8>>| Barlines {
            ending_start: start.map(<[u8]>::to_vec),
            ending_stop: stop,
            repeat_end: end,
            ..Barlines::default()
        };
        let bars = [
            bar(None, false, None),
            bar(Some(&[1, 2]), false, None),
            bar(None, true, Some(None)),
            bar(Some(&[]), true, None),
        ];
        let found = resolve(&bars.iter().collect::<Vec<_>>());
        assert_eq!(found[1], (false, None, vec![1, 2]));
        assert_eq!(found[2], (false, Some(3), vec![1, 2]));
        assert_eq!(found[3], (false, None, vec![3]));
    }
}
