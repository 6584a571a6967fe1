//! Kin: what riffs share, wherever they come from.
//!
//! Riffs are known by their places, a number each. All of them are looked at by their imprints, once; only those
//! that are shown are read and compared by every measure. So a folder that was read whole and a shelf that keeps
//! imprints are asked in the same way, and give the same.

mod nearest;

pub use nearest::Nearest;

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
    /// Its file, or its number on the shelf.
    pub file: String,
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
    /// The bars where the hand moves in the same way the longest, in words.
    pub hand_place: Option<String>,
    /// The bars of one rhythm, in words.
    pub rhythm_places: Vec<String>,
}

impl Relative {
    /// By every measure.
    pub fn of(asked: &Asked, file: String, riff: &Riff, imprint: &Imprint) -> Self {
        let mut made = Self {
            name: riff.header().title.clone(),
            file,
            set: imprint.set(),
            same_riff: asked.imprint.likeness().is_some_and(|l| imprint.likeness() == Some(l)),
            kinship: Kinship::between(&asked.imprint, imprint),
            inside: if asked.snippet { Tune::inside(&asked.imprint, imprint) } else { None },
            places: Vec::new(),
            hand_place: None,
            rhythm_places: riffkin_kin::rhythm::bars_alike(&asked.riff, riff),
        };
        made.hand_place = made.kinship.hand.as_ref().and_then(|hand| hand.place(&asked.riff, riff));
        made.places = made.tune().map(|tune| tune.places(&asked.riff, riff)).unwrap_or_default();
        made
    }

    /// The alignment that counts: of the whole, or of the snippet inside.
    pub fn tune(&self) -> Option<&Tune> {
        self.inside.as_ref().or(self.kinship.tune.as_ref())
    }
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
    /// What was typed against what it has: degrees, or notes where notes were typed; nothing for a hand shape.
    pub degrees: Option<Degrees>,
    // Notes of the imprint at which it begins, and how much higher.
    found: Vec<(usize, u8)>,
}

impl Holder {
    /// `None` when it does not hold it.
    pub fn of(typed: &Typed, imprint: &Imprint) -> Option<Self> {
        let found: Vec<(usize, u8)> = match typed {
            Typed::InOrder(sought) => {
                sought.in_order(imprint).into_iter().map(|f| (f.notes.start, f.higher)).collect()
            }
            Typed::AnyOrder(sought) if sought.in_any_order(imprint) => vec![(0, 0)],
            Typed::AnyOrder(_) => Vec::new(),
            Typed::Hand(shape) => {
                let hands = imprint.hand().map(|there| Hands::between(shape, there));
                let all = hands.filter(|h| !shape.is_empty() && h.run().max(1) == shape.len());
                all.map(|h| (sounding_before(imprint, h.there.start), 0)).into_iter().collect()
            }
        };
        if found.is_empty() {
            return None;
        }
        let degrees = match typed {
            Typed::InOrder(sought) | Typed::AnyOrder(sought) => {
                Some(Degrees::between(sought.set(), in_the_same_terms(sought, imprint)))
            }
            Typed::Hand(_) => None,
        };
        Some(Self { degrees, found })
    }

    /// Where it begins in its riff, and how many semitones higher than it was typed.
    pub fn places(&self, riff: &Riff) -> Vec<(BarBeat, u8)> {
        let place = |&(note, higher): &(usize, u8)| Some((stretches::place(riff, note)?, higher));
        self.found.iter().filter_map(place).collect()
    }
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
