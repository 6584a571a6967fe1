//! Two names for one fret: where they meet, and why each is right.
//!
//! A name says what a note does (the rules: `docs/spelling.md`). So one fret may bear two on one page: B and C♭,
//! C♯ and D♭. Each is explained by its degree.

use std::collections::BTreeMap;

use crate::analysis::explain::Explanation;
use crate::analysis::verdict::listed;
use crate::degree::Degree;
use crate::key::{Key, Mode};
use crate::pitch::PitchName;
use crate::riff::BarBeat;

/// One of the names of a fret in a riff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct NameInUse {
    /// The name.
    pub name: PitchName,
    /// What it is against the tonic; `None` without a tonic.
    pub degree: Option<Degree>,
    /// Where it stands.
    pub places: Vec<BarBeat>,
    /// Why it is called so.
    pub why: String,
}

/// Names of a riff that sound the same: one fret on each string.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TwoNames {
    /// The names, in the order in which the riff has them; two or more.
    pub names: Vec<NameInUse>,
}

impl TwoNames {
    /// `C# and Db are one fret: C# is #4, on its way up to 5; Db is b5, on its way down to 4`.
    pub fn words(&self) -> String {
        let names: Vec<String> = self.names.iter().map(|n| n.name.print()).collect();
        let whys: Vec<String> = self
            .names
            .iter()
            .map(|n| {
                let place = n.places.first().map_or_else(String::new, |p| format!(" ({p})"));
                format!("{}{place} {}", n.name.print(), n.why)
            })
            .collect();
        format!("{} are one fret: {}", listed(&names, "and"), whys.join("; "))
    }
}

/// Every fret that a riff calls by more than one name, from the tonic upwards.
pub fn two_names(found: &Explanation) -> Vec<TwoNames> {
    let tonic = found.tonic.map(|t| t.0);
    let mode = found.verdict().mode();
    let sounding: Vec<_> = found.notes.iter().filter(|n| !n.dead).collect();
    let mut classes: BTreeMap<u8, Vec<NameInUse>> = BTreeMap::new();
    for (i, note) in sounding.iter().enumerate() {
        let name = note.pitch.name();
        let above = (name.pitch_class() + 12 - tonic.map_or(0, PitchName::pitch_class)) % 12;
        let names = classes.entry(above).or_default();
        if let Some(known) = names.iter_mut().find(|n| n.name == name) {
            known.places.push(note.place);
            continue;
        }
        let after = sounding
            .get(i + 1..)
            .and_then(|rest| rest.iter().find(|n| n.pitch.name().pitch_class() != name.pitch_class()));
        let letters = tonic.and_then(|t| Degree::between(t, name));
        let next = tonic.zip(after).and_then(|(t, n)| Degree::between(t, n.pitch.name()));
        let why = match (letters, tonic) {
            (Some(degree), Some(tonic)) => why(degree, mode, next, tonic),
            _ => "as it is written".to_owned(),
        };
        names.push(NameInUse { name, degree: letters, places: vec![note.place], why });
    }
    classes.into_values().filter(|names| names.len() > 1).map(|names| TwoNames { names }).collect()
}

/// Why a degree bears its own letter: by the mode, else by where it goes.
fn why(degree: Degree, mode: Option<Mode>, next: Option<Degree>, tonic: PitchName) -> String {
    let step = crate::analysis::verdict::ordinal(degree.number());
    if let Some(mode) = mode.filter(|m| m.degrees().contains(&degree)) {
        if (mode, degree.slot()) == (Mode::MinorBlues, 6) || (mode, degree.slot()) == (Mode::MajorBlues, 3) {
            return format!("is {}, the blue note of {} {mode}", degree.print(), tonic.print());
        }
        return format!("is {}, the {step} of {} {mode}", degree.print(), tonic.print());
    }
    // The half step that the sign promises: a raised note leads up, a lowered one down.
    let slot = |d: Degree| i32::from(d.slot());
    let by = next.map(|n| (slot(n) - slot(degree)).rem_euclid(12));
    match (degree.alter().signum(), by, next) {
        (1, Some(1), Some(next)) => {
            format!("is {}, raised on its way up to {}", degree.print(), next.print())
        }
        (-1, Some(11), Some(next)) => {
            format!("is {}, lowered on its way down to {}", degree.print(), next.print())
        }
        (1, ..) => format!("is {}, a raised {step}", degree.print()),
        (-1, ..) => format!("is {}, a lowered {step}", degree.print()),
        _ => format!("is {}, the {step}", degree.print()),
    }
}

/// One sounding note that two keys call by different names.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct NameInKeys {
    /// Its name in the first key, and what it is there.
    pub first: (PitchName, Degree),
    /// Its name in the second key, and what it is there.
    pub second: (PitchName, Degree),
}

impl NameInKeys {
    /// `C# is #4 of G Lydian, Db is b5 of G Locrian: one fret, two names`.
    pub fn words(&self, first: Key, second: Key) -> String {
        let one = |(name, degree): (PitchName, Degree), key: Key| {
            format!("{} is {} of {}", name.print(), degree.print(), key.print())
        };
        format!("{}, {}: one fret, two names", one(self.first, first), one(self.second, second))
    }
}

/// The notes that both keys have under different names, from the first tonic upwards. Empty unless both have a
/// mode.
pub fn names_in_keys(first: Key, second: Key) -> Vec<NameInKeys> {
    let notes = |key: Key| -> Vec<(PitchName, Degree)> {
        let degrees = key.mode.map(Mode::degrees).unwrap_or_default();
        degrees.into_iter().filter_map(|d| Some((d.of(key.tonic)?, d))).collect()
    };
    let others = notes(second);
    notes(first)
        .into_iter()
        .filter_map(|own| {
            let other = others.iter().find(|o| o.0.pitch_class() == own.0.pitch_class())?;
            (other.0 != own.0).then_some(NameInKeys { first: own, second: *other })
        })
        .collect()
}
