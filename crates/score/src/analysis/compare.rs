//! Two scales side by side: what they share, and the notes that tell them apart.
//!
//! All degrees are counted from the first scale's tonic, also those of a second scale on another tonic, so that
//! a page shows one way of counting.

use crate::analysis::mode::difference;
use crate::analysis::two_names::{NameInKeys, names_in_keys};
use crate::analysis::verdict::listed;
use crate::degree::{Degree, DegreeSet};
use crate::key::{Key, Mode};
use crate::pitch::PitchName;

/// Two scales, note by note, upwards from the first tonic.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Comparison {
    /// The first scale.
    pub first: Key,
    /// The second scale.
    pub second: Key,
    /// Notes that both have, by the first scale's names.
    pub both: Vec<Degree>,
    /// Notes that only the first has.
    pub only_first: Vec<Degree>,
    /// Notes that only the second has.
    pub only_second: Vec<Degree>,
    /// Notes that both have under different names.
    pub two_names: Vec<NameInKeys>,
    modes: (Mode, Mode),
}

/// Why two keys cannot be compared.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{0} names no scale; write a tonic and a mode, such as G Dorian")]
pub struct NoScale(pub Key);

/// Holds two scales against each other.
///
/// # Errors
/// [`NoScale`] for a key without a mode.
pub fn compare(first: Key, second: Key) -> Result<Comparison, NoScale> {
    let modes = (first.mode.ok_or(NoScale(first))?, second.mode.ok_or(NoScale(second))?);
    let own = modes.0.degrees();
    let others = from_first(first.tonic, second.tonic, modes.1);
    let has = |degrees: &[Degree], slot: u8| degrees.iter().any(|d| d.slot() == slot);
    let (both, only_first) = own.iter().partition(|d| has(&others, d.slot()));
    let only_second = others.into_iter().filter(|d| !has(&own, d.slot())).collect();
    Ok(Comparison {
        first,
        second,
        both,
        only_first,
        only_second,
        two_names: names_in_keys(first, second),
        modes,
    })
}

/// The degrees of a scale on another tonic, counted from this one, upwards.
fn from_first(one: PitchName, tonic: PitchName, mode: Mode) -> Vec<Degree> {
    let up = (tonic.pitch_class() + 12 - one.pitch_class()) % 12;
    let mut degrees: Vec<Degree> = mode
        .degrees()
        .into_iter()
        .map(|d| {
            let named = d.of(tonic).and_then(|note| Degree::between(one, note));
            let slot = (d.slot() + up) % 12;
            named.filter(|n| n.alter().abs() <= 1 && n.slot() == slot).unwrap_or(Degree::usual(slot))
        })
        .collect();
    degrees.sort_by_key(|d| d.slot());
    degrees
}

impl Comparison {
    /// The second scale's notes counted from the first tonic, under the second scale's names.
    pub fn second_degrees(&self) -> Vec<Degree> {
        from_first(self.first.tonic, self.second.tonic, self.modes.1)
    }

    /// Pairs a semitone apart on one letter, first scale's first: `6` and `b6`.
    pub fn moved(&self) -> Vec<(Degree, Degree)> {
        let near = |a: &Degree, b: &Degree| a.number() == b.number() && a.alter().abs_diff(b.alter()) == 1;
        self.only_first
            .iter()
            .filter_map(|a| Some((*a, *self.only_second.iter().find(|b| near(a, b))?)))
            .collect()
    }

    /// True when one note tells them apart: each has at most one that the other lacks, and they differ.
    pub fn by_one_note(&self) -> bool {
        let (a, b) = (self.only_first.len(), self.only_second.len());
        a <= 1 && b <= 1 && a + b > 0
    }

    /// What tells them apart: `G Dorian has 6 (E) where G minor has ♭6 (E♭)`, and how many notes that is.
    pub fn words(&self) -> Vec<String> {
        let mut words = Vec::new();
        let (first, second) = (self.first.print(), self.second.print());
        if self.first.tonic == self.second.tonic {
            let (a, b) = self.modes;
            words.push(difference(a, b).words(a, b, Some(self.first.tonic)));
        } else {
            words.push(match (self.only_first.is_empty(), self.only_second.is_empty()) {
                (true, true) => format!("{first} and {second} hold the same notes"),
                (false, true) => {
                    format!("{first} adds {} to {second}", self.notes(&self.only_first))
                }
                (true, false) => {
                    format!("{second} adds {} to {first}", self.notes(&self.only_second))
                }
                (false, false) => format!(
                    "{first} has {}, {second} has {}",
                    self.notes(&self.only_first),
                    self.notes(&self.only_second)
                ),
            });
        }
        if self.by_one_note() {
            words.push("one note tells them apart; all others are shared".to_owned());
        } else if !self.only_first.is_empty() || !self.only_second.is_empty() {
            words.push(format!("they share {}", self.notes(&self.both)));
        }
        words.extend(self.two_names.iter().map(|n| n.words(self.first, self.second)));
        words
    }

    fn notes(&self, degrees: &[Degree]) -> String {
        let names: Vec<String> = degrees
            .iter()
            .map(|d| match d.of(self.first.tonic) {
                Some(note) => format!("{} ({})", d.print(), note.print()),
                None => d.print(),
            })
            .collect();
        listed(&names, "and")
    }

    /// What a riff says between the two. `heard` are its degrees above the first tonic.
    pub fn of_riff(&self, heard: DegreeSet) -> String {
        let has = |degrees: &[Degree]| -> Vec<Degree> {
            degrees.iter().copied().filter(|d| heard.contains(d.slot())).collect()
        };
        let (a, b) = (has(&self.only_first), has(&self.only_second));
        match (a.is_empty(), b.is_empty()) {
            _ if self.only_first.is_empty() && self.only_second.is_empty() => {
                "no riff can tell them apart by its notes".to_owned()
            }
            (true, true) => {
                "the riff has none of the notes in which they differ, so it does not tell them apart"
                    .to_owned()
            }
            (false, true) => format!("the riff has {}: {}", self.notes(&a), self.first.print()),
            (true, false) => format!("the riff has {}: {}", self.notes(&b), self.second.print()),
            (false, false) => {
                format!(
                    "the riff has {} as well as {}: it is wholly in neither",
                    self.notes(&a),
                    self.notes(&b)
                )
            }
        }
    }
}
