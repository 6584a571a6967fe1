//! What a line does in its other bars: figures come again, so a place that bars like this one use is likely here too.

use super::beats::BarAt;
use super::weights::{ALIKE, BARS_AROUND, USUAL_BARS};
use crate::time::Quarters;

/// Where notes start in every bar, as first read.
#[derive(Clone, Debug)]
pub(super) struct Habits {
    // For every bar the places in it, rising.
    places: Vec<Vec<Quarters>>,
    // For every bar the others it may be like, with how much each counts.
    alike: Vec<Vec<(usize, f64)>>,
}

impl Habits {
    /// From places on the clock of the bars. `None` when there are too few bars to learn from.
    pub(super) fn of(bars: &[BarAt], read: &[Option<Quarters>]) -> Option<Self> {
        let mut places: Vec<Vec<Quarters>> = vec![Vec::new(); bars.len()];
        for at in read.iter().flatten() {
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
        Some(Self { places, alike })
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

/// The part of their places that two bars share, 0 to 1.
fn likeness(a: &[Quarters], b: &[Quarters]) -> f64 {
    let common = a.iter().filter(|at| b.binary_search(at).is_ok()).count();
    2.0 * common as f64 / (a.len() + b.len()).max(1) as f64
}
