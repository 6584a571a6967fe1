//! Weights from corrected fits.
//!
//! Radisavljevic and Driessen ("Path difference learning for guitar fingering problem", ICMC 2004) move the weights
//! down the gradient of the difference in cost between a teacher's path and the cheapest one. We do so with a
//! margin, which makes it the structured support vector machine (Taskar, Guestrin and Koller, "Max-margin Markov
//! networks", 2003; subgradient: Ratliff, Bagnell and Zinkevich, "(Online) subgradient methods for structured
//! prediction", 2007): the teacher's fit shall cost less than every other by as much as the two differ. What is
//! minimised is convex but for what the teacher leaves open (the hand's position), and includes the squared distance
//! of the weights from the usual ones, each measured in its usual size. Weights stay zero or more. Steps, their
//! number and their order are fixed, so that the same corrections give the same taste.

use riffkin_score::riff::{Riff, RiffError};

use crate::fit::{Fit, FitError, Line, Spot, fit};
use crate::hand::{Effort, Hand, Weights};
use crate::neck::Neck;

/// A riff with the places, and the fingers if they matter, that the teacher wants, written beside its notes.
#[derive(Clone, Copy, Debug)]
pub struct Corrected<'a> {
    /// The riff.
    pub riff: &'a Riff,
    /// The neck it is for.
    pub neck: &'a Neck,
}

/// What was learned.
#[derive(Clone, Debug, PartialEq)]
pub struct Learned {
    /// The taste.
    pub taste: Weights,
    /// How well the usual weights give what the teacher wrote.
    pub before: Agreement,
    /// How well the learned ones do.
    pub after: Agreement,
}

/// How far fits agree with what is written.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Agreement {
    /// Notes that have a place written.
    pub notes: usize,
    /// Those that came out at the place.
    pub places: usize,
    /// Notes that have a finger written, too.
    pub fingered: usize,
    /// Those that came out at the place with the finger.
    pub fingers: usize,
}

impl Agreement {
    /// Share of places that agree, 0 to 1; 1 when nothing is written.
    pub fn of_places(self) -> f64 {
        share(self.places, self.notes)
    }

    /// Share of places and fingers that agree, 0 to 1; 1 when no finger is written.
    pub fn of_fingers(self) -> f64 {
        share(self.fingers, self.fingered)
    }
}

fn share(part: usize, whole: usize) -> f64 {
    if whole == 0 { 1.0 } else { part as f64 / whole as f64 }
}

const EFFORTS: usize = Effort::ALL.len();

/// Rounds over all corrected riffs.
const ROUNDS: usize = 400;

/// The first step; it shrinks with the square root of the round.
const STEP: f64 = 2.0;

/// What a note at another place must cost more in the teacher's eyes; with another finger a quarter of it.
const MARGIN: f64 = 0.05;

/// How dear it is to leave the usual weights: as if so many notes asked for them, each by the distance. It counts
/// less the more is corrected.
const LOYALTY: f64 = 0.6;

/// Learns how much each effort weighs for a teacher from corrected riffs. The hand is the one they were corrected
/// for; its own taste does not matter, and open strings are learned only from a hand that does not refuse them.
/// Without corrections the usual weights come out. Takes some tens of milliseconds for each riff.
///
/// # Errors
/// [`FitError::OffNeck`] when a riff does not lie on its neck.
pub fn learn(corrected: &[Corrected<'_>], hand: &Hand) -> Result<Learned, FitError> {
    let usual = hand.clone().with_weights(Weights::default());
    let before = agreement(corrected, &usual)?;
    let lessons: Vec<Lesson<'_>> =
        corrected.iter().map(|c| Lesson::new(c, &usual)).collect::<Result<_, _>>()?;
    let notes: usize = lessons.iter().map(|l| l.target.len()).sum();
    if notes == 0 {
        return Ok(Learned { taste: Weights::default(), before, after: before });
    }
    let scale = Effort::ALL.map(Effort::usual_weight);
    let mut size = [1.0; EFFORTS];
    let mut mean = [0.0; EFFORTS];
    let mut lessons = lessons;
    for round in 0..ROUNDS {
        let weights: [f64; EFFORTS] = std::array::from_fn(|e| size[e] * scale[e]);
        let mut slope = [0.0; EFFORTS];
        for lesson in &mut lessons {
            lesson.add_slope(&weights, &usual, &mut slope);
        }
        let step = STEP / (1.0 + round as f64).sqrt();
        for e in 0..EFFORTS {
            let slope = (slope[e] * scale[e] + LOYALTY * (size[e] - 1.0)) / notes as f64;
            size[e] = (size[e] - step * slope).max(0.0);
        }
        if 2 * round >= ROUNDS {
            for (mean, size) in mean.iter_mut().zip(size) {
                *mean += size / (ROUNDS - ROUNDS / 2) as f64;
            }
        }
    }
    let mut taste = Weights::default();
    for (e, effort) in Effort::ALL.into_iter().enumerate() {
        // Four decimals are enough, and the same on every machine.
        let weight = (mean[e] * scale[e] * 1e4).round() / 1e4;
        taste = taste.with(effort, weight.clamp(0.0, Weights::LIMIT)).unwrap_or(taste);
    }
    let after = agreement(corrected, &usual.with_weights(taste))?;
    Ok(Learned { taste, before, after })
}

/// How far the fits of a hand agree with what is written in riffs, the riffs being fitted as if nothing were.
///
/// # Errors
/// [`FitError::OffNeck`] when a riff does not lie on its neck.
pub fn agreement(corrected: &[Corrected<'_>], hand: &Hand) -> Result<Agreement, FitError> {
    let mut sum = Agreement::default();
    for c in corrected {
        let Ok(bare) = bare(c.riff) else { continue };
        let Fit { notes, .. } = fit(&bare, c.neck, hand)?;
        for (note, wanted) in notes.iter().zip(c.riff.line()) {
            let Some(place) = wanted.note.place.filter(|_| !wanted.is_dead()) else { continue };
            let there = note.place == place;
            sum.notes += 1;
            sum.places += usize::from(there);
            if let Some(finger) = wanted.note.finger {
                sum.fingered += 1;
                sum.fingers += usize::from(there && note.finger == finger);
            }
        }
    }
    Ok(sum)
}

/// A riff without the places and fingers written in it.
fn bare(riff: &Riff) -> Result<Riff, RiffError> {
    let (header, mut bars) = riff.clone().into_parts();
    for note in bars.iter_mut().flat_map(|b| &mut b.events).filter_map(|e| e.note.as_mut()) {
        (note.place, note.finger) = (None, None);
    }
    Riff::new(header, bars)
}

/// One corrected riff: all its ways, and those that the teacher allows.
struct Lesson<'a> {
    free: Line<'a>,
    taught: Line<'a>,
    /// For each note, what the teacher wants: string, fret and finger as far as written.
    target: Vec<(Option<riffkin_score::note::Place>, Option<u8>)>,
    /// What each spot of a free note gains for differing from it, below zero.
    gain: Vec<Vec<f64>>,
}

impl<'a> Lesson<'a> {
    fn new(corrected: &Corrected<'a>, hand: &Hand) -> Result<Self, FitError> {
        let plain = bare(corrected.riff).unwrap_or_else(|_| corrected.riff.clone());
        let free = Line::new(&plain, corrected.neck, hand, &[])?;
        let mut taught = Line::new(corrected.riff, corrected.neck, hand, &[])?;
        taught.as_movable_as(&free);
        let target: Vec<_> = corrected
            .riff
            .line()
            .iter()
            .map(|n| if n.is_dead() { (None, None) } else { (n.note.place, n.note.finger) })
            .collect();
        let gain = free
            .spots()
            .iter()
            .zip(&target)
            .map(|(spots, &(place, finger))| {
                let other = |s: &Spot| match (place, finger) {
                    (Some(place), _) if s.place != place => -MARGIN,
                    (_, Some(finger)) if s.finger != finger => -MARGIN / 4.0,
                    _ => 0.0,
                };
                spots.iter().map(other).collect()
            })
            .collect();
        Ok(Self { free, taught, target, gain })
    }

    /// Adds by how much the teacher's fit has more of each effort than the fit that comes nearest to costing less.
    fn add_slope(&mut self, weights: &[f64; EFFORTS], hand: &Hand, slope: &mut [f64; EFFORTS]) {
        let weights: [f64; EFFORTS] = std::array::from_fn(|e| weights[e] * hand.factor(Effort::ALL[e]));
        self.free.weigh(weights);
        self.taught.weigh(weights);
        let taught = self.taught.efforts_of_cheapest(None);
        let rival = self.free.efforts_of_cheapest(Some(&self.gain));
        for (e, slope) in slope.iter_mut().enumerate() {
            *slope += (taught[e] - rival[e]) * hand.factor(Effort::ALL[e]);
        }
    }
}
