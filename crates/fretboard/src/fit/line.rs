//! A line ready to be fitted: its notes in seconds, every way to play each, and what each way costs.

use riffkin_score::Warning;
use riffkin_score::riff::Riff;

use super::choice::Passages;
use super::cost::{Amounts, Costs};
use super::moment::{Moment, moments};
use super::others::{Next, next_choice};
use super::search::Search;
use super::spots::{Finder, Spot};
use super::{Fit, FitError, FittedNote, empty, strain, words};
use crate::hand::{Effort, Hand};
use crate::neck::Neck;
use crate::wishes::Wish;

/// A line with every way to play each note.
pub(crate) struct Line<'a> {
    pub(super) neck: &'a Neck,
    pub(super) costs: Costs,
    pub(super) moments: Vec<Moment>,
    pub(super) spots: Vec<Vec<Spot>>,
    warnings: Vec<Warning>,
}

impl<'a> Line<'a> {
    pub(crate) fn new(riff: &Riff, neck: &'a Neck, hand: &Hand, wishes: &[Wish]) -> Result<Self, FitError> {
        let moments = moments(riff);
        if let Some(&idle) = wishes.iter().find(|w| !moments.iter().any(|m| w.over.holds(m.at))) {
            return Err(FitError::NoNote(idle));
        }
        let mut costs = Costs::new(neck, hand, true);
        let mut finder = Finder {
            neck,
            hand,
            fret_mm: &costs.fret_mm,
            wishes,
            warnings: Vec::new(),
            conflicts: Vec::new(),
            fixed: false,
        };
        let spots = finder.find(&moments)?;
        let (warnings, fixed) = (finder.warnings, finder.fixed);
        // A note that is open wherever it is played fixes the shape anyway; other open strings fix nothing more.
        costs.movable = !fixed;
        Ok(Self { neck, costs, moments, spots, warnings })
    }

    /// Every way to play each note.
    pub(crate) fn spots(&self) -> &[Vec<Spot>] {
        &self.spots
    }

    /// Counts open strings as another line of the same notes does, of which more may be left open.
    pub(crate) fn as_movable_as(&mut self, other: &Self) {
        self.costs.movable = other.costs.movable;
    }

    /// Weighs efforts otherwise from now on.
    pub(crate) fn weigh(&mut self, weights: [f64; Effort::ALL.len()]) {
        self.costs.weights = weights;
    }

    /// The efforts of the cheapest way, in the order of [`Effort::ALL`]; `extra` is added to what spots cost.
    pub(crate) fn efforts_of_cheapest(&self, extra: Option<&[Vec<f64>]>) -> [f64; Effort::ALL.len()] {
        let (way, _) = self.search(extra).cheapest();
        self.amounts(&self.spots_of(&way)).0
    }

    /// The search for its cheapest ways.
    pub(super) fn search(&self, extra: Option<&[Vec<f64>]>) -> Search<'_> {
        Search::new(&self.costs, &self.moments, &self.spots, extra)
    }

    /// Up to `count` choices, easiest first.
    pub(super) fn choices(&self, count: usize) -> Vec<Fit> {
        if count == 0 {
            return Vec::new();
        }
        if self.moments.is_empty() {
            return vec![empty()];
        }
        let search = self.search(None);
        let (first, mut least) = search.cheapest();
        let bars: Vec<usize> = self.moments.iter().map(|m| m.bar).collect();
        let passages = Passages::of(&self.spots, &bars);
        let mut found = vec![first];
        let mut gave_up = false;
        while found.len() < count {
            match next_choice(&search, &passages, &found, least) {
                Next::Way(way, cost) => {
                    least = cost;
                    found.push(way);
                }
                Next::None => break,
                Next::GaveUp => {
                    gave_up = true;
                    break;
                }
            }
        }
        let ways: Vec<Vec<Spot>> = found.iter().map(|way| self.spots_of(way)).collect();
        let mut fits: Vec<Fit> = ways.iter().map(|way| self.describe(way)).collect();
        if let Some(first) = ways.first() {
            for (fit, way) in fits.iter_mut().zip(&ways).skip(1) {
                let start = passages.first_difference(first, way).unwrap_or(0);
                fit.apart = words::apart(&self.costs, &self.moments, first, way, start);
            }
        }
        if gave_up && let Some(last) = fits.last_mut() {
            let more = "the line offers too many ways to weigh them all; further choices were not looked for";
            last.warnings.push(Warning::whole(more));
        }
        fits
    }

    /// The spots of a way.
    pub(super) fn spots_of(&self, way: &[usize]) -> Vec<Spot> {
        way.iter().zip(&self.spots).filter_map(|(&s, spots)| spots.get(s).copied()).collect()
    }

    /// The efforts of a way.
    pub(super) fn amounts(&self, way: &[Spot]) -> Amounts {
        let mut amounts = Amounts::default();
        for (i, (moment, &spot)) in self.moments.iter().zip(way).enumerate() {
            self.costs.note(moment, spot, &mut amounts);
            if let Some(b) = i.checked_sub(1) {
                self.costs.step(way[b], moment, spot, &mut amounts);
                self.costs.repeat(&self.moments[b], way[b], moment, spot, &mut amounts);
            }
        }
        amounts
    }

    /// A way as a fit, with its reasons.
    pub(super) fn describe(&self, way: &[Spot]) -> Fit {
        let (costs, moments) = (&self.costs, &self.moments);
        let efforts: Vec<(Effort, f64)> =
            Effort::ALL.into_iter().zip(self.amounts(way).0).filter(|&(_, amount)| amount > 0.0).collect();
        let mut warnings = self.warnings.clone();
        warnings.extend(words::broken_marks(moments, way));
        Fit {
            cost: efforts.iter().map(|&(effort, amount)| amount * costs.weights[effort as usize]).sum(),
            notes: moments
                .iter()
                .zip(way)
                .enumerate()
                .map(|(line, (moment, spot))| FittedNote {
                    line,
                    at: moment.at,
                    place: spot.place,
                    finger: spot.finger,
                    position: spot.position,
                    touch: spot.touch,
                })
                .collect(),
            efforts,
            reasons: words::reasons(self.neck, costs, moments, way),
            apart: Vec::new(),
            cautions: strain::cautions(costs, moments, way),
            warnings,
        }
    }
}
