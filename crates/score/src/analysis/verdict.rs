//! What a set of degrees can and cannot prove about its mode.
//!
//! The seven diatonic modes on one tonic are asked which of them hold every degree heard. One: it is decided.
//! Several: it is undecided, and the degrees on which they differ would decide. None: the minor blues, the
//! harmonic and melodic minor and the Phrygian dominant are asked, and what fits nothing is called by what it
//! is, mixed thirds, blues or chromatic; no mode is forced on it ([`of_set`]).
//!
//! A riff also has weights: a minor with its raised seventh beside the natural one, or a mode with a light
//! chromatic note in passing, is read as such, and what was set aside is said ([`of_material`]).

use crate::analysis::material::Material;
use crate::degree::{Degree, DegreeSet};
use crate::key::Mode;

/// A share of the riff below which a chromatic note may be set aside as passing. Set by hand.
pub const PASSING_SHARE: f64 = 0.06;

/// With more steps than this to decide between, a sentence names the modes only.
const MANY: usize = 3;

/// What can be said about the mode.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Verdict {
    /// No note sounds.
    Nothing,
    /// The riff's own key says so.
    Given(Mode),
    /// Only this one holds what is heard.
    Decided(Mode),
    /// Several hold what is heard.
    Undecided {
        /// Those modes, in the order of [`Mode::DIATONIC`].
        between: Vec<Mode>,
        /// What would decide, by scale step, each with what it would say.
        deciding: Vec<Deciding>,
    },
    /// None holds what is heard.
    Chromatic(Colour),
}

/// One step of the scale that is not heard and would tell modes apart.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Deciding {
    /// The step, 2 to 7.
    pub number: u8,
    /// Its forms, each with the modes it would leave.
    pub answers: Vec<(Degree, Vec<Mode>)>,
}

/// Material outside the modes, by what stands out in it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Colour {
    /// Within the minor blues; or `b3` and `b5` beside a fourth or fifth without a major third or seventh: the
    /// minor blues with more.
    MinorBlues,
    /// `b3` and `3` in a major blues.
    MajorBlues,
    /// `b3` and `3` otherwise.
    MixedThirds,
    /// Anything else.
    Chromatic,
}

impl Colour {
    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::MinorBlues => "minor blues",
            Self::MajorBlues => "major blues",
            Self::MixedThirds => "mixed thirds",
            Self::Chromatic => "chromatic",
        }
    }

    /// The blues scale it is, when it is one.
    pub fn mode(self) -> Option<Mode> {
        match self {
            Self::MinorBlues => Some(Mode::MinorBlues),
            Self::MajorBlues => Some(Mode::MajorBlues),
            Self::MixedThirds | Self::Chromatic => None,
        }
    }
}

impl Verdict {
    /// The mode, when there is one to name: given, decided, or a blues scale.
    pub fn mode(&self) -> Option<Mode> {
        match self {
            Self::Given(mode) | Self::Decided(mode) => Some(*mode),
            Self::Chromatic(colour) => colour.mode(),
            Self::Nothing | Self::Undecided { .. } => None,
        }
    }

    /// The scale steps that would decide, empty unless undecided.
    pub fn deciding(&self) -> &[Deciding] {
        match self {
            Self::Undecided { deciding, .. } => deciding,
            _ => &[],
        }
    }

    /// A label for lists: a mode's name, `undecided`, `mixed thirds`, `chromatic` or `nothing`.
    pub fn label(&self) -> &'static str {
        match self {
            Self::Nothing => "nothing",
            Self::Given(mode) | Self::Decided(mode) => mode.name(),
            Self::Undecided { .. } => "undecided",
            Self::Chromatic(colour) => colour.name(),
        }
    }

    /// In a sentence.
    pub fn words(&self) -> String {
        match self {
            Self::Nothing => "no note sounds, so there is nothing to say about a mode".to_owned(),
            Self::Given(mode) => format!("{mode}: the riff says so"),
            Self::Decided(mode) => format!("{mode}: no other mode holds these degrees"),
            Self::Undecided { between, deciding } => {
                let names: Vec<&str> = between.iter().map(|m| m.name()).collect();
                if deciding.len() > MANY {
                    return format!(
                        "undecided, for too few degrees are heard: {} all fit",
                        listed(&names, "and")
                    );
                }
                let steps: Vec<String> = deciding.iter().map(Deciding::words).collect();
                format!("undecided between {}: {}", listed(&names, "and"), steps.join("; "))
            }
            Self::Chromatic(Colour::Chromatic) => {
                "chromatic: no scale known here holds these degrees".to_owned()
            }
            Self::Chromatic(Colour::MixedThirds) => {
                "mixed thirds: the minor and the major third are both heard, so no one mode is named"
                    .to_owned()
            }
            Self::Chromatic(colour) => {
                format!("{}: none of the seven modes holds these degrees", colour.name())
            }
        }
    }
}

impl Deciding {
    /// `the 6th would decide (6 for Dorian, ♭6 for minor)`.
    pub fn words(&self) -> String {
        let answers: Vec<String> = self
            .answers
            .iter()
            .map(|(degree, modes)| {
                let names: Vec<&str> = modes.iter().map(|m| m.name()).collect();
                format!("{} for {}", degree.print(), listed(&names, "or"))
            })
            .collect();
        format!("the {} would decide ({})", ordinal(self.number), answers.join(", "))
    }
}

/// `2nd`, `3rd`, `4th` …
pub fn ordinal(number: u8) -> String {
    let ending = match number {
        1 => "st",
        2 => "nd",
        3 => "rd",
        _ => "th",
    };
    format!("{number}{ending}")
}

/// `a, b and c`.
pub(crate) fn listed<S: AsRef<str>>(items: &[S], last: &str) -> String {
    match items {
        [] => String::new(),
        [one] => one.as_ref().to_owned(),
        [most @ .., end] => {
            let most: Vec<&str> = most.iter().map(AsRef::as_ref).collect();
            format!("{} {last} {}", most.join(", "), end.as_ref())
        }
    }
}

/// The diatonic modes that hold every degree of a set, brightest first.
pub fn compatible(set: DegreeSet) -> Vec<Mode> {
    Mode::DIATONIC.into_iter().filter(|mode| set.is_within(mode.set())).collect()
}

/// The scale that has exactly these degrees, such as the minor pentatonic. It names the material, and decides
/// nothing about the mode.
pub fn named(set: DegreeSet) -> Option<Mode> {
    Mode::ALL.into_iter().find(|mode| mode.set() == set)
}

/// The steps on which modes differ, of those not heard in any form.
pub fn deciding(between: &[Mode]) -> Vec<Deciding> {
    (2..=7u8)
        .filter_map(|number| {
            let mut answers: Vec<(Degree, Vec<Mode>)> = Vec::new();
            for &mode in between {
                for degree in mode.degrees().into_iter().filter(|d| d.number() == number) {
                    match answers.iter_mut().find(|(d, _)| *d == degree) {
                        Some((_, modes)) => modes.push(mode),
                        None => answers.push((degree, vec![mode])),
                    }
                }
            }
            (answers.len() > 1).then_some(Deciding { number, answers })
        })
        .collect()
}

fn among(mut between: Vec<Mode>) -> Option<Verdict> {
    match between.len() {
        0 => None,
        1 => between.pop().map(Verdict::Decided),
        _ => Some(Verdict::Undecided { deciding: deciding(&between), between }),
    }
}

/// What a set proves, every degree of it taken at its word.
pub fn of_set(set: DegreeSet) -> Verdict {
    if set.is_empty() {
        return Verdict::Nothing;
    }
    if let Some(verdict) = among(compatible(set)) {
        return verdict;
    }
    if set.is_within(Mode::MinorBlues.set()) {
        return Verdict::Chromatic(Colour::MinorBlues);
    }
    let altered = [Mode::HarmonicMinor, Mode::MelodicMinor, Mode::PhrygianDominant];
    if let Some(verdict) = among(altered.into_iter().filter(|m| set.is_within(m.set())).collect()) {
        return verdict;
    }
    Verdict::Chromatic(colour(set))
}

/// A minor with its seventh in both forms, or sixth and seventh: that minor, and what was raised. Common
/// practice in minor: the leading note, and the sixth raised on the way to it.
fn with_raised_steps(set: DegreeSet) -> Option<(Mode, DegreeSet)> {
    let raised_seventh = DegreeSet::from_slots([11]);
    let raised = DegreeSet::from_slots([9, 11]);
    if !set.contains(3) || set.contains(4) || !set.contains(11) {
        return None;
    }
    [raised_seventh, raised].into_iter().filter(|r| r.is_within(set)).find_map(|r| {
        match compatible(set.without(r)).as_slice() {
            [mode] if set.contains(10) => Some((*mode, r)),
            _ => None,
        }
    })
}

fn colour(set: DegreeSet) -> Colour {
    let both_thirds = set.contains(3) && set.contains(4);
    if both_thirds {
        if set.is_within(Mode::MajorBlues.set()) && set.len() >= 5 {
            Colour::MajorBlues
        } else {
            Colour::MixedThirds
        }
    } else if set.contains(3) && set.contains(6) && (set.contains(7) || set.contains(5)) && !set.contains(11)
    {
        Colour::MinorBlues
    } else {
        Colour::Chromatic
    }
}

/// What the material proves, and which degrees were set aside to say so.
///
/// Only where no diatonic mode and no blues holds the whole set is anything set aside: first the raised
/// seventh, or sixth and seventh, of a minor that has the natural seventh as well; then chromatic notes in
/// passing, those under [`PASSING_SHARE`] of the riff and never on a bar line, as few of them as will do.
pub fn of_material(material: &Material) -> (Verdict, DegreeSet) {
    let whole = of_set(material.set);
    let told = match &whole {
        Verdict::Chromatic(_) => material.set.is_within(Mode::MinorBlues.set()),
        // A flat second or sixth alone does not make a Phrygian dominant; it may be passing.
        Verdict::Decided(Mode::PhrygianDominant) => material.set.contains(1) && material.set.contains(4),
        _ => true,
    };
    if told {
        return (whole, DegreeSet::EMPTY);
    }
    if let Some((mode, raised)) = with_raised_steps(material.set) {
        return (Verdict::Decided(mode), raised);
    }
    let light: Vec<u8> = material
        .set
        .slots()
        .filter(|&slot| {
            let weight = material.slot(slot);
            slot != 0 && weight.downbeats == 0 && weight.share < PASSING_SHARE
        })
        .collect();
    // At most eleven light slots, so at most 2,047 ways to set some aside.
    let mut ways: Vec<DegreeSet> = (1..1u16 << light.len())
        .map(|bits| {
            let chosen = light.iter().enumerate().filter(|(i, _)| bits >> i & 1 == 1);
            DegreeSet::from_slots(chosen.map(|(_, &slot)| slot))
        })
        .collect();
    let share = |set: DegreeSet| material.share_within(set);
    ways.sort_by(|a, b| a.len().cmp(&b.len()).then(share(*a).total_cmp(&share(*b))));
    ways.into_iter()
        .map(|aside| (of_set(material.set.without(aside)), aside))
        .find(|(verdict, _)| is_diatonic(verdict))
        .unwrap_or((whole, DegreeSet::EMPTY))
}

fn is_diatonic(verdict: &Verdict) -> bool {
    match verdict {
        Verdict::Decided(mode) => Mode::DIATONIC.contains(mode),
        Verdict::Undecided { between, .. } => between.iter().all(|m| Mode::DIATONIC.contains(m)),
        _ => false,
    }
}
