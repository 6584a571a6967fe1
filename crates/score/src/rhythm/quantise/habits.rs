//! What a line does elsewhere: figures come again, so a place that bars like this one use is likely here too, and a
//! line that falls into triplets or sixteenths in many of its beats is likely to do so in this one.

use super::beats::{BarAt, Beat, Grid};
use super::viterbi::Reading;
use super::weights::{ALIKE, BARS_AROUND, USUAL_BARS, USUAL_BEATS};
use crate::time::Quarters;

/// Where notes start in every bar, as first read.
#[derive(Clone, Debug)]
pub(super) struct Habits {
    // For every bar the places in it, rising.
    places: Vec<Vec<Quarters>>,
    // For every bar the others it may be like, with how much each counts.
    alike: Vec<Vec<(usize, f64)>>,
    // Beats with notes that were divided into so many parts, of two and of three.
    divided: [[f64; MOST_PARTS + 1]; 2],
}

/// Most parts of a beat that are counted.
const MOST_PARTS: usize = 16;

impl Habits {
    /// From places on the clock of the bars. `None` when there are too few bars to learn from.
    pub(super) fn of(bars: &[BarAt], beats: &[Beat], reading: &Reading) -> Option<Self> {
        let mut places: Vec<Vec<Quarters>> = vec![Vec::new(); bars.len()];
        for at in reading.places.iter().flatten() {
            let bar = bars.partition_point(|b| b.start <= *at).saturating_sub(1);
            if let (Some(held), Some(bar)) = (places.get_mut(bar), bars.get(bar)) {
                held.push(*at - bar.start);
            }
        }
        if places.iter().filter(|p| !p.is_empty()).count() < 3 {
            return None;
        }
        let alike = (0..bars.len())
            .map(|b| {
                let around = b.saturating_sub(BARS_AROUND)..(b + BARS_AROUND + 1).min(bars.len());
                around
                    .filter(|&o| o != b && bars[o].meter == bars[b].meter)
                    .map(|o| (o, likeness(&places[b], &places[o]).powi(ALIKE)))
                    .filter(|(_, weight)| *weight > 0.02)
                    .collect()
            })
            .collect();
        Some(Self { places, alike, divided: divided(beats, reading) })
    }

    /// What it costs more to divide a beat by a grid than it usually does, in nats: the line's own beats count beside
    /// [`USUAL_BEATS`] usual ones (the mean of a Dirichlet distribution).
    pub(super) fn grid_cost(&self, beat: &Beat, grid: &Grid) -> f64 {
        let counts = &self.divided[usize::from(beat.is_ternary())];
        let count = counts.get(usize::from(grid.parts)).copied().unwrap_or(0.0);
        let all: f64 = counts.iter().sum();
        let usual = beat.usual_share(grid);
        ((USUAL_BEATS + all) * usual / (USUAL_BEATS * usual + count)).ln()
    }

    /// The chance of a note `at` so far into a bar: what is usual there counts as much as [`USUAL_BARS`] bars like this.
    pub(super) fn chance(&self, bar: usize, at: Quarters, usual: f64) -> f64 {
        let (mut there, mut all) = (USUAL_BARS * usual, USUAL_BARS);
        for &(other, weight) in self.alike.get(bar).into_iter().flatten() {
            all += weight;
            if self.places.get(other).is_some_and(|p| p.binary_search(&at).is_ok()) {
                there += weight;
            }
        }
        (there / all).clamp(0.01, 0.99)
    }
}

/// How often beats that hold notes were divided into so many parts.
fn divided(beats: &[Beat], reading: &Reading) -> [[f64; MOST_PARTS + 1]; 2] {
    let mut counts = [[0.0; MOST_PARTS + 1]; 2];
    let mut last = None;
    for at in reading.places.iter().flatten() {
        let b = beats.partition_point(|b| b.start <= *at).saturating_sub(1);
        let (Some(beat), Some(parts)) = (beats.get(b), reading.parts.get(b)) else { continue };
        if last != Some(b)
            && let Some(count) = counts[usize::from(beat.is_ternary())].get_mut(usize::from(*parts))
        {
            *count += 1.0;
        }
        last = Some(b);
    }
    counts
}

/// The part of their places that two bars share, 0 to 1.
fn likeness(a: &[Quarters], b: &[Quarters]) -> f64 {
    let common = a.iter().filter(|at| b.binary_search(at).is_ok()).count();
    2.0 * common as f64 / (a.len() + b.len()).max(1) as f64
}
