//! Modes ranked for a tonic, with the evidence of every degree.

use crate::analysis::heard::Heard;
use crate::analysis::material::Material;
use crate::analysis::model::{MODES, Observed, Weights};
use crate::analysis::verdict::{self, Verdict, listed};
use crate::degree::{Degree, DegreeSet};
use crate::key::{Key, Mode};
use crate::pitch::PitchName;

/// How a mode stands against what is heard.
#[derive(Clone, Debug, PartialEq)]
pub struct ModeFinding {
    /// The mode.
    pub mode: Mode,
    /// Its share of the belief in all modes, 0 to 1; all findings add up to 1.
    pub score: f64,
    /// How much of the riff lies inside it, 0 to 1.
    pub share: f64,
    /// Degrees heard that it holds.
    pub supports: Vec<Degree>,
    /// Degrees heard that it does not hold, by their usual names.
    pub contradicts: Vec<Degree>,
    /// Degrees of it that are not heard.
    pub unheard: Vec<Degree>,
    /// Those of the unheard that would tell it from the other modes still possible.
    pub deciding: Vec<Degree>,
}

impl ModeFinding {
    /// The evidence in a sentence.
    pub fn words(&self) -> String {
        let names = |degrees: &[Degree]| {
            let names: Vec<String> = degrees.iter().map(|d| d.print()).collect();
            listed(&names, "and")
        };
        let mut words = if self.contradicts.is_empty() {
            format!("holds every degree heard ({})", names(&self.supports))
        } else {
            format!("does not hold {}", names(&self.contradicts))
        };
        if !self.deciding.is_empty() {
            words.push_str(&format!("; not heard, and would decide: {}", names(&self.deciding)));
        } else if !self.unheard.is_empty() {
            words.push_str(&format!("; not heard: {}", names(&self.unheard)));
        }
        words
    }
}

/// What can be said about the mode of a riff on a tonic.
#[derive(Clone, Debug, PartialEq)]
pub struct ModeReading {
    /// Every mode, the likeliest first.
    pub ranked: Vec<ModeFinding>,
    /// What is proved.
    pub verdict: Verdict,
    /// Degrees set aside as passing for that verdict.
    pub passing: Vec<Degree>,
    /// For a given mode: degrees heard that it does not hold.
    pub against: Vec<Degree>,
    /// The scale that has exactly the degrees heard.
    pub named: Option<Mode>,
    /// Another scale a player would think of, beside the one proved.
    pub also: Option<Mode>,
    /// What the notes and the chords over them prove together, when there are chords and they say more.
    pub with_chords: Option<Verdict>,
}

/// Reads the mode on a tonic. A `given` mode (the riff's own key) always wins and is shown as given.
/// `chords` are the degrees of the chords over the riff, empty without any.
pub fn read(
    notes: &[Heard],
    seen: &Observed,
    tonic: PitchName,
    given: Option<Mode>,
    chords: DegreeSet,
) -> ModeReading {
    let material = Material::of(notes, tonic);
    let (proved, aside) = verdict::of_material(&material);
    let passing: Vec<Degree> = aside.slots().map(Degree::usual).collect();
    let named = verdict::named(material.set);
    let possible: Vec<Mode> = match &proved {
        Verdict::Undecided { between, .. } => between.clone(),
        _ => Vec::new(),
    };
    let ranked = rank(&Weights::LEARNED, &material, seen, tonic, given, &possible);
    let with_chords = (!chords.is_empty() && given.is_none() && !material.set.is_empty())
        .then(|| verdict::of_set(material.set.without(aside).union(chords)))
        .filter(|v| *v != proved && matches!(v, Verdict::Decided(_) | Verdict::Undecided { .. }));
    // Diatonically only Locrian has a flat fifth under a minor third; a bass line that has it is oftener a
    // blues that leaves out its fifth.
    let also = (given.is_none() && proved == Verdict::Decided(Mode::Locrian))
        .then_some(Mode::MinorBlues)
        .filter(|blues| material.set.is_within(blues.set()));
    let (verdict, passing, against) = match given {
        Some(mode) => {
            let against = material.set.without(mode.set());
            (Verdict::Given(mode), Vec::new(), against.slots().map(Degree::usual).collect())
        }
        None => (proved, passing, Vec::new()),
    };
    ModeReading { ranked, verdict, passing, against, named, also, with_chords }
}

/// What a mode gains, in units of the logarithm of odds, by holding every degree heard. This and the next two
/// are set by hand: the data know only the seven diatonic modes.
pub const HOLDS_ALL: f64 = 2.0;
/// What a scale other than the seven gains when all of it is heard, and loses when none is.
pub const COMPLETE: f64 = 3.0;
/// Share of the belief that a given mode takes.
const GIVEN: f64 = 0.98;

/// How much less likely beforehand a scale is held than the diatonic mode it is written in.
fn rarity(mode: Mode) -> f64 {
    match mode {
        Mode::MajorPentatonic | Mode::MinorPentatonic => 1.5,
        Mode::MajorBlues | Mode::MinorBlues | Mode::HarmonicMinor => 2.5,
        Mode::MelodicMinor | Mode::PhrygianDominant => 4.0,
        _ => 0.0,
    }
}

/// Every mode with its evidence, the likeliest first. The seven diatonic modes are weighed by the learned
/// model, each other scale by the same weights with the prior of its [`parent`] less its rarity.
/// `possible` are the modes between which it is undecided, for what would decide.
pub fn rank(
    weights: &Weights,
    material: &Material,
    seen: &Observed,
    tonic: PitchName,
    given: Option<Mode>,
    possible: &[Mode],
) -> Vec<ModeFinding> {
    let prior = |mode: Mode| MODES.iter().zip(weights.mode).find(|(m, _)| **m == mode).map(|(_, w)| w);
    let evidence = |mode: Mode| {
        let scale = mode.set();
        let holds = if material.set.is_within(scale) { HOLDS_ALL } else { 0.0 };
        let heard = material.set.shared(scale).len() as f64 / scale.len() as f64;
        let beforehand = match prior(mode) {
            Some(prior) => prior,
            None => prior(parent(mode)).unwrap_or_default() - rarity(mode) + COMPLETE * (2.0 * heard - 1.0),
        };
        weights.of_profile(seen, tonic.pitch_class(), scale) + beforehand + holds
    };
    let evidence: Vec<f64> = Mode::ALL.into_iter().map(evidence).collect();
    let most = evidence.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let raised: Vec<f64> = evidence.iter().map(|e| (e - most).exp()).collect();
    let sum: f64 = raised.iter().sum();
    let mut findings: Vec<ModeFinding> = Mode::ALL
        .into_iter()
        .zip(raised)
        .map(|(mode, raised)| {
            let degrees = mode.degrees();
            let (supports, unheard) =
                degrees.into_iter().partition::<Vec<_>, _>(|d| material.set.contains(d.slot()));
            let deciding = unheard
                .iter()
                .copied()
                .filter(|d| possible.contains(&mode) && possible.iter().any(|p| !p.set().contains(d.slot())))
                .collect();
            let own = raised / sum;
            let score = match given {
                Some(given) => (1.0 - GIVEN) * own + if given == mode { GIVEN } else { 0.0 },
                None => own,
            };
            ModeFinding {
                mode,
                score,
                share: material.share_within(mode.set()),
                supports,
                contradicts: material.set.without(mode.set()).slots().map(Degree::usual).collect(),
                unheard,
                deciding,
            }
        })
        .collect();
    findings.sort_by(|a, b| b.score.total_cmp(&a.score));
    findings
}

/// The diatonic mode a scale is written in.
pub fn parent(mode: Mode) -> Mode {
    match mode {
        Mode::HarmonicMinor | Mode::MelodicMinor | Mode::MinorPentatonic | Mode::MinorBlues => Mode::Minor,
        Mode::PhrygianDominant => Mode::Phrygian,
        Mode::MajorPentatonic | Mode::MajorBlues => Mode::Major,
        diatonic => diatonic,
    }
}

/// What tells two scales on one tonic apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ScaleDifference {
    /// Degrees only the first has.
    pub only_first: Vec<Degree>,
    /// Degrees only the second has.
    pub only_second: Vec<Degree>,
}

/// The degrees in which two scales differ.
pub fn difference(first: Mode, second: Mode) -> ScaleDifference {
    let only = |one: Mode, other: Mode| {
        one.degrees().into_iter().filter(|d| !other.set().contains(d.slot())).collect()
    };
    ScaleDifference { only_first: only(first, second), only_second: only(second, first) }
}

/// The one note that tells two scales apart: `None` unless each has at most one degree that the other lacks,
/// and they differ.
pub fn one_note_difference(first: Mode, second: Mode) -> Option<ScaleDifference> {
    let difference = difference(first, second);
    let (a, b) = (difference.only_first.len(), difference.only_second.len());
    (a <= 1 && b <= 1 && a + b > 0).then_some(difference)
}

impl ScaleDifference {
    /// In words, with the notes when a tonic is given: `G Dorian has 6 (E) where G minor has ♭6 (E♭)`.
    pub fn words(&self, first: Mode, second: Mode, tonic: Option<PitchName>) -> String {
        let name =
            |mode: Mode| Key { tonic: tonic.unwrap_or(PitchName::simplest(0)), mode: Some(mode) }.print();
        let scale = |mode: Mode| if tonic.is_some() { name(mode) } else { mode.to_string() };
        let notes = |degrees: &[Degree]| {
            let names: Vec<String> = degrees
                .iter()
                .map(|d| match tonic.and_then(|t| d.of(t)) {
                    Some(note) => format!("{} ({})", d.print(), note.print()),
                    None => d.print(),
                })
                .collect();
            listed(&names, "and")
        };
        match (self.only_first.is_empty(), self.only_second.is_empty()) {
            (true, true) => format!("{} and {} hold the same notes", scale(first), scale(second)),
            (false, true) => {
                format!("{} adds {} to {}", scale(first), notes(&self.only_first), scale(second))
            }
            (true, false) => {
                format!("{} adds {} to {}", scale(second), notes(&self.only_second), scale(first))
            }
            (false, false) => format!(
                "{} has {} where {} has {}",
                scale(first),
                notes(&self.only_first),
                scale(second),
                notes(&self.only_second)
            ),
        }
    }
}
