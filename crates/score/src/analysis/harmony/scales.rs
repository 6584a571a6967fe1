//! Scales that fit a riff: what each holds of it, lacks and adds.

use crate::analysis::explain::Explanation;
use crate::analysis::harmony::{StandingChord, all_slots};
use crate::analysis::verdict::{Verdict, listed, ordinal};
use crate::chord::Chord;
use crate::degree::{Degree, DegreeSet};
use crate::key::{Key, Mode};
use crate::pitch::PitchName;

/// A scale on the tonic against what the riff is made of.
#[derive(Clone, Debug, PartialEq)]
pub struct ScaleFit {
    /// The scale.
    pub mode: Mode,
    /// Degrees heard that it holds.
    pub holds: Vec<Degree>,
    /// Degrees heard that it lacks.
    pub lacks: Vec<Degree>,
    /// Degrees it would add to the riff's.
    pub adds: Vec<Degree>,
    /// How much of the riff lies inside it, 0 to 1, by length, place and stress.
    pub share: f64,
    /// Tones of the riff's chords that it lacks.
    pub lacks_of_chords: Vec<Degree>,
    /// Degrees it would add that go against the key's own (a 6 where the key has b6).
    pub against_key: Vec<Degree>,
    /// The major key with the same notes, for the seven diatonic modes other than major.
    pub same_notes: Option<Key>,
}

/// Share of the riff from which a scale that leaves something out is still worth showing. By hand.
const NEARLY_ALL: f64 = 0.95;

impl ScaleFit {
    /// True when it holds all that is heard and all that the chords have, and goes against nothing.
    pub fn is_clean(&self) -> bool {
        self.lacks.is_empty() && self.lacks_of_chords.is_empty() && self.against_key.is_empty()
    }

    /// What it holds, lacks and adds, in words.
    pub fn words(&self) -> String {
        let names = |degrees: &[Degree]| {
            let names: Vec<String> = degrees.iter().map(|d| d.print()).collect();
            listed(&names, "and")
        };
        let mut parts = vec![match (self.lacks.is_empty(), self.holds.is_empty()) {
            (true, _) => "holds every degree".to_owned(),
            (false, true) => "holds none of it".to_owned(),
            (false, false) => format!(
                "holds {} ({:.0} %), lacks {}",
                names(&self.holds),
                self.share * 100.0,
                names(&self.lacks)
            ),
        }];
        parts.push(match self.adds.as_slice() {
            [] => "adds nothing".to_owned(),
            adds => format!("adds {}", names(adds)),
        });
        if !self.lacks_of_chords.is_empty() {
            parts.push(format!("lacks {} that the chords have", names(&self.lacks_of_chords)));
        }
        if !self.against_key.is_empty() {
            let goes = if self.against_key.len() == 1 { "goes" } else { "go" };
            parts.push(format!("its {} {goes} against the key", names(&self.against_key)));
        }
        if let Some(key) = self.same_notes {
            parts.push(format!("the notes of {}", key.print()));
        }
        parts.join("; ")
    }
}

/// Every scale on the tonic, the best first; empty without a tonic or a sounding note.
///
/// The order, by hand: what leaves out least of the riff; then of its chords; then what goes least against a
/// key that is given or proved; then what adds least; then the likelier by [`crate::analysis::mode`].
pub fn scales_that_fit(found: &Explanation, chords: &[StandingChord]) -> Vec<ScaleFit> {
    let (Some((tonic, _)), Some(reading)) = (found.tonic, &found.mode) else { return Vec::new() };
    let heard = found.material.set;
    if heard.is_empty() {
        return Vec::new();
    }
    let of_chords = all_slots(chords, tonic);
    let key = found.verdict().mode();
    let heard_name =
        |slot: u8| found.degrees.iter().copied().find(|d| d.slot() == slot).unwrap_or(Degree::usual(slot));
    let mut fits: Vec<ScaleFit> = reading
        .ranked
        .iter()
        .map(|finding| {
            let mode = finding.mode;
            let set = mode.set();
            let (holds, adds) = mode.degrees().into_iter().partition(|d| heard.contains(d.slot()));
            ScaleFit {
                mode,
                holds,
                lacks: heard.without(set).slots().map(heard_name).collect(),
                share: found.material.share_within(set),
                lacks_of_chords: of_chords.without(set).without(heard).slots().map(Degree::usual).collect(),
                against_key: key.map(|key| against(&adds, mode, key)).unwrap_or_default(),
                adds,
                same_notes: relative_major(tonic, mode),
            }
        })
        .collect();
    // The sort is stable, so that the likelier mode stays in front of its equals.
    fits.sort_by(|a, b| {
        (b.share.total_cmp(&a.share))
            .then(a.lacks_of_chords.len().cmp(&b.lacks_of_chords.len()))
            .then(a.against_key.len().cmp(&b.against_key.len()))
            .then(a.adds.len().cmp(&b.adds.len()))
    });
    fits
}

/// Those worth showing, in their order: every scale that holds all of the riff or nearly, unless it also goes
/// against the key; and others that do not, until there are three. At most `most`. One that lacks something is
/// never shown when that is the 5 of the riff, or when it adds another form of a degree that the riff has (a 3
/// beside its b3): nobody would play it there.
pub fn worth_showing(fits: &[ScaleFit], most: usize) -> Vec<&ScaleFit> {
    let mut shown: Vec<&ScaleFit> = Vec::new();
    let odd = |fit: &ScaleFit| {
        let again = |d: &Degree| fit.holds.iter().any(|h| h.number() == d.number());
        !fit.lacks.is_empty() && (fit.lacks.iter().any(|d| d.slot() == 7) || fit.adds.iter().any(again))
    };
    for fit in fits.iter().filter(|fit| !odd(fit)) {
        let near = fit.share >= NEARLY_ALL && (fit.lacks.is_empty() || fit.against_key.is_empty());
        if shown.len() < most && (near || (shown.len() < 3 && fit.against_key.is_empty())) {
            shown.push(fit);
        }
    }
    shown
}

/// Degrees that stand where the key has another of the same number, and does so alone.
fn against(adds: &[Degree], mode: Mode, key: Mode) -> Vec<Degree> {
    let own = mode.degrees();
    let wrong = |d: &&Degree| {
        let same = key.degrees().into_iter().find(|k| k.number() == d.number());
        !key.set().contains(d.slot()) && same.is_some_and(|k| !own.contains(&k))
    };
    adds.iter().filter(wrong).copied().collect()
}

/// The major key that has the same notes as a diatonic mode on a tonic.
pub fn relative_major(tonic: PitchName, mode: Mode) -> Option<Key> {
    if mode == Mode::Major || !Mode::DIATONIC.contains(&mode) {
        return None;
    }
    let start = mode.degrees().into_iter().find(|d| mode.set().seen_from(d.slot()) == Mode::Major.set())?;
    Some(Key::new(start.of(tonic)?, Mode::Major))
}

/// A step of the scale that the riff leaves open, and what its chords say about it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OpenStep {
    /// The step, 2 to 7.
    pub number: u8,
    /// Its forms, each with the chords that hold it.
    pub forms: Vec<(Degree, Vec<Chord>)>,
}

impl OpenStep {
    /// The form that the chords ask for; `None` when none does, or more than one.
    pub fn decided(&self) -> Option<Degree> {
        let mut held = self.forms.iter().filter(|(_, chords)| !chords.is_empty());
        match (held.next(), held.next()) {
            (Some((degree, _)), None) => Some(*degree),
            _ => None,
        }
    }

    /// `a fill's 6th must be 6: C7 has it`; what to do when no chord has one.
    pub fn words(&self) -> String {
        let named = |chords: &[Chord]| {
            let names: Vec<String> = chords.iter().map(|c| c.print()).collect();
            listed(&names, "and")
        };
        let step = ordinal(self.number);
        let held: Vec<&(Degree, Vec<Chord>)> = self.forms.iter().filter(|f| !f.1.is_empty()).collect();
        let forms: Vec<String> = self.forms.iter().map(|f| f.0.print()).collect();
        match held.as_slice() {
            [] => format!(
                "nothing decides the {step} ({}): a fill does without it, or agrees with what else sounds",
                listed(&forms, "or")
            ),
            [(degree, chords)] => {
                let has = if chords.len() == 1 { "has" } else { "have" };
                format!("a fill's {step} is {}: {} {has} it", degree.print(), named(chords))
            }
            several => {
                let each: Vec<String> = several
                    .iter()
                    .map(|(degree, chords)| format!("{} over {}", degree.print(), named(chords)))
                    .collect();
                format!("a fill's {step} goes with the chord: {}", listed(&each, "and"))
            }
        }
    }
}

/// The steps on which the modes that stay possible differ, with what the chords say: a fill over a minor
/// seventh vamp must take the sixth of its chords (common practice, no source).
pub fn open_steps(found: &Explanation, chords: &[StandingChord]) -> Vec<OpenStep> {
    let (Verdict::Undecided { deciding, .. }, Some((tonic, _))) = (found.verdict(), found.tonic) else {
        return Vec::new();
    };
    let mut each: Vec<Chord> = Vec::new();
    for standing in chords {
        if !each.contains(&standing.chord) {
            each.push(standing.chord);
        }
    }
    let holding = |degree: Degree| -> Vec<Chord> {
        let has = |c: &Chord| -> bool {
            let slots: DegreeSet = super::chord_slots(*c, tonic);
            slots.contains(degree.slot())
        };
        each.iter().copied().filter(has).collect()
    };
    deciding
        .iter()
        .map(|step| OpenStep {
            number: step.number,
            forms: step.answers.iter().map(|(degree, _)| (*degree, holding(*degree))).collect(),
        })
        .collect()
}
