//! Where notes end: rests or just a short touch.

use super::beats::Beat;
use crate::time::Quarters;

/// One note whose onset is placed and whose end is not.
pub(super) struct Ending {
    /// Exact onset.
    pub(super) onset: Quarters,
    /// Onset as played, on the written clock.
    pub(super) struck: f64,
    /// End as played, on the written clock.
    pub(super) released: f64,
    /// Exact onset of the next note.
    pub(super) next: Option<Quarters>,
    /// Onset of the next note as played, on the written clock.
    pub(super) next_struck: Option<f64>,
}

/// How ends are read.
pub(super) struct Reader<'a> {
    pub(super) beats: &'a [Beat],
    pub(super) parts: &'a [u8],
    pub(super) spread: f64,
    /// A silence before the next note shorter than this part of the time between the two is closed.
    pub(super) close_gaps: f64,
}

/// Silences longer than this are never closed without weighing, in quarters.
const LONG_SILENCE: f64 = 0.375;
/// Ends are heard less exactly than onsets; standard deviation in quarters besides that of the onsets.
const END_SPREAD: f64 = 0.06;
/// What a rest costs, in nats: a line without it is plainer.
const REST_COST: f64 = 1.0;

impl Reader<'_> {
    /// True when the silence from the release to `until` is touch and no rest.
    pub(super) fn closes(&self, note: &Ending, until: f64) -> bool {
        let silence = until - note.released;
        let time = until - note.struck;
        silence <= 1e-9 || (silence < self.close_gaps * time && silence < LONG_SILENCE)
    }

    /// The exact end: the next onset when the silence is short, else the likeliest grid point.
    pub(super) fn end(&self, note: &Ending) -> Quarters {
        if let (Some(next), Some(next_struck)) = (note.next, note.next_struck)
            && self.closes(note, next_struck)
        {
            return next;
        }
        let spread = END_SPREAD.hypot(2.0 * self.spread);
        let around = self.beats.partition_point(|b| b.start.to_f64() <= note.released).saturating_sub(1);
        let mut best: Option<(f64, Quarters)> = None;
        let mut offer = |at: Quarters, prior: f64| {
            let off = (note.released - at.to_f64()) / spread;
            let cost = off * off / 2.0 + prior;
            if at > note.onset && best.is_none_or(|b| cost < b.0) {
                best = Some((cost, at));
            }
        };
        for b in around.saturating_sub(1)..(around + 2).min(self.beats.len()) {
            let beat = &self.beats[b];
            let grids = beat.grids(false);
            // Plain divisions, and those that the onsets of the beat have chosen.
            let chosen = grids.iter().find(|g| g.parts == self.parts[b]);
            for grid in grids[..3].iter().chain(chosen) {
                for k in 0..=grid.parts {
                    let at = beat.point(k, grid.parts);
                    if note.next.is_none_or(|next| at < next) {
                        let rest = if note.next.is_some() { REST_COST } else { 0.0 };
                        offer(at, grid.depth_cost(k) + rest);
                    }
                }
            }
        }
        if let Some(next) = note.next {
            offer(next, 0.0);
        }
        best.map_or_else(|| note.onset + self.shortest(around), |b| b.1)
    }

    // The smallest step of the grid of a beat, no longer than a sixteenth.
    fn shortest(&self, b: usize) -> Quarters {
        let step = self
            .beats
            .get(b)
            .and_then(|beat| beat.length.scaled(1, i64::from(self.parts.get(b).copied().unwrap_or(1))).ok());
        step.filter(|s| *s < Quarters::SIXTEENTH).unwrap_or(Quarters::SIXTEENTH)
    }
}
