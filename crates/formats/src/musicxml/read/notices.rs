//! What was left out, changed or guessed: gathered by kind, so that a thousand like cases make one warning.

use std::collections::BTreeMap;

use riffkin_score::Warning;
use riffkin_score::meter::Meter;
use riffkin_score::time::Quarters;

/// Most kinds of warning kept apart.
const MOST: usize = 300;

/// The start of a text of the file, short enough to quote.
pub(super) fn short(text: &str) -> String {
    let mut short: String = text.chars().take(30).collect();
    if short.len() < text.len() {
        short.push('…');
    }
    short
}

/// Warnings in the making.
#[derive(Clone, Debug, Default)]
pub(super) struct Notices {
    list: Vec<(String, String, usize)>,
    known: BTreeMap<String, usize>,
    more: usize,
}

impl Notices {
    /// Notes one case; only the first of a kind keeps its place, the others are counted.
    pub(super) fn add(&mut self, place: &str, message: impl Into<String>) {
        let message = message.into();
        if let Some(&i) = self.known.get(&message) {
            self.list[i].2 += 1;
        } else if self.list.len() >= MOST {
            self.more += 1;
        } else {
            self.known.insert(message.clone(), self.list.len());
            self.list.push((place.to_owned(), message, 1));
        }
    }

    /// Adds all of `other` behind these.
    pub(super) fn append(&mut self, other: Self) {
        for (place, message, count) in other.list {
            self.add(&place, message.clone());
            if let Some(&i) = self.known.get(&message) {
                self.list[i].2 += count - 1;
            }
        }
        self.more += other.more;
    }

    /// The warnings, in the order in which they came up.
    pub(super) fn into_warnings(self) -> Vec<Warning> {
        let one = |(place, message, count): (String, String, usize)| match count {
            1 => Warning::at(place, message),
            n => Warning::at(place, format!("{message} ({n} times in all, here first)")),
        };
        let mut warnings: Vec<Warning> = self.list.into_iter().map(one).collect();
        if self.more > 0 {
            warnings.push(Warning::whole(format!("and {} more of other kinds", self.more)));
        }
        warnings
    }
}

/// A place in a measure, as people say it: `bar 3, beat 2 1/2`.
pub(super) fn spot(measure: &str, meter: Meter, at: Quarters) -> String {
    let (n, d) = meter.beat_length().fraction();
    let beat = at.scaled(d, n).unwrap_or(at) + Quarters::QUARTER;
    let (n, d) = beat.fraction();
    match (n.div_euclid(d), n.rem_euclid(d)) {
        (whole, 0) => format!("bar {measure}, beat {whole}"),
        (whole, part) => format!("bar {measure}, beat {whole} {part}/{d}"),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn like_cases_are_counted_and_keep_the_first_place() {
        let mut notices = Notices::default();
        notices.add("bar 1", "a grace note is left out");
        notices.add("bar 2", "other");
        notices.add("bar 3", "a grace note is left out");
        let texts: Vec<String> = notices.into_warnings().iter().map(ToString::to_string).collect();
        assert_eq!(texts, ["bar 1: a grace note is left out (2 times in all, here first)", "bar 2: other"]);
    }

    #[test]
    fn beats_are_the_counted_ones() {
        let three_eighths = Quarters::EIGHTH * 3;
        assert_eq!(spot("7", "6/8".parse().unwrap(), three_eighths), "bar 7, beat 2");
        assert_eq!(spot("X1", Meter::FOUR_FOUR, three_eighths), "bar X1, beat 2 1/2");
    }
}
