//! Kin: what riffs share, wherever they come from.
//!
//! A riff is fed in as a name, an imprint, and a way to read the riff itself that is only taken for those that
//! are shown. So a folder that was read whole and a shelf that keeps imprints are asked in the same way; a very
//! large shelf asks `riffkin_kin::index` first and feeds in what that finds.

use riffkin_fretboard::hand_shape::HandShape;
use riffkin_fretboard::neck::Neck;
use riffkin_kin::degrees::Degrees;
use riffkin_kin::hand::Hands;
use riffkin_kin::imprint::{Imprint, ImprintError};
use riffkin_kin::kinship::{Kinship, Tune};
use riffkin_kin::sought::Sought;
use riffkin_kin::stretches;
use riffkin_score::degree::DegreeSet;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::{BarBeat, Riff};

/// The measure by which kin are put in order.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Measure {
    /// Shared degrees.
    Degrees,
    /// Hand shape.
    Hand,
    /// Intervals and rhythm together.
    Intervals,
    /// Rhythm alone.
    Rhythm,
}

/// A riff that kin are asked of.
#[derive(Clone, Debug)]
pub struct Asked {
    /// The riff.
    pub riff: Riff,
    /// Its imprint.
    pub imprint: Imprint,
    /// It is a snippet, to be looked for inside others at any pace.
    pub snippet: bool,
}

impl Asked {
    /// Explained, and fitted to a neck for its hand shape.
    ///
    /// # Errors
    /// [`ImprintError`] for a riff that is too long.
    pub fn new(
        riff: Riff,
        tonic: Option<PitchName>,
        neck: &Neck,
        snippet: bool,
    ) -> Result<Self, ImprintError> {
        Ok(Self { imprint: Imprint::explained(&riff, tonic, neck)?, riff, snippet })
    }
}

/// A riff that was compared.
#[derive(Clone, Debug)]
pub struct Relative {
    /// Its name.
    pub name: String,
    /// Its place among what was fed in.
    pub place: usize,
    /// Its degrees.
    pub set: DegreeSet,
    /// It is the same riff, maybe in another key or octave.
    pub same_riff: bool,
    /// Every measure.
    pub kinship: Kinship,
    /// Where the snippet was found in it, when a snippet was asked about.
    pub inside: Option<Tune>,
    /// The bars that agree in intervals and rhythm, in words.
    pub places: Vec<String>,
}

impl Relative {
    /// The alignment that counts: of the whole, or of the snippet inside.
    pub fn tune(&self) -> Option<&Tune> {
        self.inside.as_ref().or(self.kinship.tune.as_ref())
    }

    /// The nearer, the smaller, by one measure; what cannot be compared comes last.
    fn rank(&self, by: Measure) -> (u64, u64) {
        // Of what lasts differently, the share of difference counts.
        let share = |cost: u64, whole: u64| cost * 1_000_000 / whole.max(1);
        match by {
            Measure::Degrees => {
                let degrees = self.kinship.degrees;
                (degrees.steps_apart() as u64, u64::from(self.kinship_is_apart()))
            }
            Measure::Hand => self
                .kinship
                .hand
                .as_ref()
                .map_or((2, 0), |hand| (u64::from(!hand.same), u64::MAX - hand.run() as u64)),
            Measure::Intervals => self.tune().map_or((u64::MAX, 0), |tune| {
                (share(u64::from(tune.cost), u64::from(tune.totals.0)), u64::from(tune.higher))
            }),
            Measure::Rhythm => self.kinship.rhythm.as_ref().map_or((u64::MAX, 0), |rhythm| {
                (share(rhythm.cost, rhythm.span), u64::from(rhythm.pace != (1, 1)))
            }),
        }
    }

    fn kinship_is_apart(&self) -> bool {
        self.kinship.degrees.shared.is_empty()
    }
}

/// The nearest kin of a riff, the nearest first, ties by name; and how many there are in all.
pub fn relatives<R: FnOnce() -> Option<Riff>>(
    asked: &Asked,
    riffs: impl IntoIterator<Item = (String, Imprint, R)>,
    by: Measure,
    most: usize,
) -> (Vec<Relative>, usize) {
    let mut all: Vec<(Relative, R)> = Vec::new();
    for (place, (name, imprint, riff)) in riffs.into_iter().enumerate() {
        let relative = Relative {
            name,
            place,
            set: imprint.set(),
            same_riff: asked.imprint.likeness().is_some_and(|l| imprint.likeness() == Some(l)),
            kinship: Kinship::between(&asked.imprint, &imprint),
            inside: if asked.snippet { Tune::inside(&asked.imprint, &imprint) } else { None },
            places: Vec::new(),
        };
        all.push((relative, riff));
    }
    let count = all.len();
    all.sort_by(|(a, _), (b, _)| (a.rank(by), &a.name, a.place).cmp(&(b.rank(by), &b.name, b.place)));
    all.truncate(most);
    let shown = all.into_iter().map(|(mut relative, riff)| {
        if let (Some(tune), Some(riff)) = (relative.tune(), riff()) {
            relative.places = tune.places(&asked.riff, &riff);
        }
        relative
    });
    (shown.collect(), count)
}

/// What may be typed to look for.
#[derive(Clone, Debug)]
pub enum Typed {
    /// Degrees or notes, one after another.
    InOrder(Sought),
    /// Degrees or notes, in whatever order.
    AnyOrder(Sought),
    /// A movement of the hand.
    Hand(HandShape),
}

/// A riff that holds what was typed.
#[derive(Clone, Debug)]
pub struct Holder {
    /// Its name.
    pub name: String,
    /// Its place among what was fed in.
    pub place: usize,
    /// What was typed against what it has: degrees, or notes where notes were typed; nothing for a hand shape.
    pub degrees: Option<Degrees>,
    /// Where it begins, and how many semitones higher than it was typed.
    pub found: Vec<(BarBeat, u8)>,
}

/// The riffs that hold what was typed, in the order in which they were fed in.
pub fn holders<R: FnOnce() -> Option<Riff>>(
    typed: &Typed,
    riffs: impl IntoIterator<Item = (String, Imprint, R)>,
) -> Vec<Holder> {
    let mut holders = Vec::new();
    for (place, (name, imprint, riff)) in riffs.into_iter().enumerate() {
        // Notes of the imprint at which it begins, and how much higher.
        let found: Vec<(usize, u8)> = match typed {
            Typed::InOrder(sought) => {
                sought.in_order(&imprint).into_iter().map(|f| (f.notes.start, f.higher)).collect()
            }
            Typed::AnyOrder(sought) if sought.in_any_order(&imprint) => vec![(0, 0)],
            Typed::AnyOrder(_) => Vec::new(),
            Typed::Hand(shape) => {
                let hands = imprint.hand().map(|there| Hands::between(shape, there));
                let all = hands.filter(|h| !shape.is_empty() && h.run().max(1) == shape.len());
                all.map(|h| (sounding_before(&imprint, h.there.start), 0)).into_iter().collect()
            }
        };
        if found.is_empty() {
            continue;
        }
        let degrees = match typed {
            Typed::InOrder(sought) | Typed::AnyOrder(sought) => {
                Some(Degrees::between(sought.set(), in_the_same_terms(sought, &imprint)))
            }
            Typed::Hand(_) => None,
        };
        let riff = riff();
        let places = found
            .iter()
            .filter_map(|&(note, higher)| Some((stretches::place(riff.as_ref()?, note)?, higher)));
        holders.push(Holder { name, place, degrees, found: places.collect() });
    }
    holders
}

/// Degrees for degrees, notes from C on for notes.
fn in_the_same_terms(sought: &Sought, imprint: &Imprint) -> DegreeSet {
    match sought.kind() {
        riffkin_kin::sought::Kind::Degrees => imprint.set(),
        riffkin_kin::sought::Kind::Notes => {
            DegreeSet::from_slots(imprint.notes().iter().map(|n| n.midi % 12))
        }
    }
}

/// Hand steps count dead notes, imprints do not.
fn sounding_before(imprint: &Imprint, step: usize) -> usize {
    let steps = imprint.hand().map(HandShape::steps).unwrap_or_default();
    let dead = |s: &&riffkin_fretboard::hand_shape::Step| s.held == riffkin_fretboard::hand_shape::Held::Dead;
    step - steps.iter().take(step).filter(dead).count()
}

/// Riffs of one set of degrees.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Family {
    /// The set.
    pub set: DegreeSet,
    /// Their names, sorted.
    pub riffs: Vec<String>,
}

/// Riffs grouped by equal sets: small sets first, so that a set stands below those that it holds; of one size
/// the sets with the most riffs first.
pub fn families(riffs: impl IntoIterator<Item = (String, DegreeSet)>) -> Vec<Family> {
    let mut by_set: std::collections::BTreeMap<DegreeSet, Vec<String>> = std::collections::BTreeMap::new();
    for (name, set) in riffs {
        by_set.entry(set).or_default().push(name);
    }
    let mut families: Vec<Family> = by_set
        .into_iter()
        .map(|(set, mut riffs)| {
            riffs.sort();
            Family { set, riffs }
        })
        .collect();
    families.sort_by_key(|f| (f.set.len(), std::cmp::Reverse(f.riffs.len()), f.set));
    families
}
