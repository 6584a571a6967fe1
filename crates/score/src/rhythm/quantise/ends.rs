//! Where notes end: rests or just a short touch.

use super::beats::Beat;
use super::weights::{END_SPREAD, LONG_SILENCE, MOST_RESTS, RESTS, ROUNDS, SHORT, TOUCHES};
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

/// What the ends became.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Ended {
    pub(super) end: Quarters,
    /// Cut short by the player though the value goes on: staccato.
    pub(super) short: bool,
}

impl Reader<'_> {
    /// True when the silence from the release to `until` is touch and no rest.
    pub(super) fn closes(&self, note: &Ending, until: f64) -> bool {
        let silence = until - note.released;
        let time = until - note.struck;
        silence <= 1e-9 || (silence < self.close_gaps * time && silence < LONG_SILENCE)
    }

    /// The exact ends of all notes together.
    ///
    /// How long a note is held says as much about the hand as about the value, and the hand is the same all through a
    /// line: how often it holds notes, lets go early or cuts them to about half, and how often it rests, is estimated from
    /// the line itself (expectation and maximisation over the touches of [`TOUCHES`], starting from what is usual there),
    /// and every end is then the likeliest one under that. A line all of short notes is so read as staccato, and one short
    /// note among held ones as a shorter value and a rest.
    pub(super) fn ends(&self, notes: &[Ending]) -> Vec<Ended> {
        let choices: Vec<Vec<Choice>> = notes.iter().map(|n| self.choices(n)).collect();
        let usual_touch: f64 = TOUCHES.iter().map(|t| t.count).sum();
        let mut touch = TOUCHES.map(|t| t.count / usual_touch);
        let mut rests = RESTS.0 / (RESTS.0 + RESTS.1);
        for _ in 0..ROUNDS {
            let mut counted = TOUCHES.map(|t| t.count);
            let mut rested = RESTS.0;
            let mut open = RESTS.0 + RESTS.1;
            for choices in &choices {
                let all: f64 = choices.iter().map(|c| c.chance(&touch, rests)).sum();
                if all <= 0.0 {
                    continue;
                }
                open += 1.0;
                for choice in choices {
                    let own = choice.prior(rests) / all;
                    for (sum, (weight, likely)) in counted.iter_mut().zip(touch.iter().zip(choice.likely)) {
                        *sum += own * weight * likely;
                    }
                    rested += if choice.rest { choice.chance(&touch, rests) / all } else { 0.0 };
                }
            }
            let sum: f64 = counted.iter().sum();
            touch = counted.map(|c| c / sum);
            rests = (rested / open).min(MOST_RESTS);
        }
        notes
            .iter()
            .zip(&choices)
            .map(|(note, choices)| {
                let best =
                    choices.iter().max_by(|a, b| a.chance(&touch, rests).total_cmp(&b.chance(&touch, rests)));
                let Some(best) = best else {
                    return Ended { end: note.onset + self.shortest(note), short: false };
                };
                let cut = touch[SHORT] * best.likely[SHORT];
                let held: f64 = (0..SHORT).map(|t| touch[t] * best.likely[t]).sum();
                Ended { end: best.end, short: !best.sure && cut > held }
            })
            .collect()
    }

    /// The ends a note may have.
    fn choices(&self, note: &Ending) -> Vec<Choice> {
        let sounds = (note.released - note.struck).max(1e-3);
        let choice = |end: Quarters, rest: bool, prior: f64| {
            let value = (end - note.onset).to_f64();
            // A note may run into the next one, but not beyond a rest.
            let sounds = if rest { sounds } else { sounds.min(value) };
            let likely = TOUCHES.map(|t| {
                let spread = (t.spread * value).hypot(END_SPREAD).hypot(self.spread);
                let off = (sounds - t.held * value) / spread;
                (-0.5 * off * off).exp() / spread
            });
            Choice { end, rest, sure: false, prior, likely }
        };
        if let (Some(next), Some(next_struck)) = (note.next, note.next_struck)
            && self.closes(note, next_struck)
        {
            return vec![Choice { sure: true, ..choice(next, false, 1.0) }];
        }
        let around = self.beats.partition_point(|b| b.start.to_f64() <= note.released).saturating_sub(1);
        let mut found: Vec<Choice> = Vec::new();
        for b in around.saturating_sub(1)..(around + 2).min(self.beats.len()) {
            let beat = &self.beats[b];
            let grids = beat.grids(false);
            // Plain divisions, and those that the onsets of the beat have chosen.
            let chosen = grids.iter().find(|g| g.parts == self.parts[b]);
            for grid in grids[..3].iter().chain(chosen) {
                for k in 0..=grid.parts {
                    let at = beat.point(k, grid.parts);
                    if at > note.onset
                        && note.next.is_none_or(|next| at < next)
                        && found.iter().all(|c| c.end != at)
                    {
                        found.push(choice(at, true, (-grid.depth_cost(k)).exp()));
                    }
                }
            }
        }
        if let Some(next) = note.next {
            found.push(choice(next, false, 1.0));
        }
        found
    }

    // The smallest step of the grid of a beat, no longer than a sixteenth.
    fn shortest(&self, note: &Ending) -> Quarters {
        let b = self.beats.partition_point(|b| b.start.to_f64() <= note.released).saturating_sub(1);
        let step = self
            .beats
            .get(b)
            .and_then(|beat| beat.length.scaled(1, i64::from(self.parts.get(b).copied().unwrap_or(1))).ok());
        step.filter(|s| *s < Quarters::SIXTEENTH).unwrap_or(Quarters::SIXTEENTH)
    }
}

/// One end a note may have.
struct Choice {
    end: Quarters,
    /// A rest follows.
    rest: bool,
    /// There was no choice.
    sure: bool,
    /// How plain an end it is, 0 to 1; 1 for the next note.
    prior: f64,
    /// How likely the sounding length is under each touch.
    likely: [f64; TOUCHES.len()],
}

impl Choice {
    fn prior(&self, rests: f64) -> f64 {
        self.prior * if self.rest { rests } else { 1.0 - rests }
    }

    fn chance(&self, touch: &[f64; TOUCHES.len()], rests: f64) -> f64 {
        self.prior(rests) * touch.iter().zip(self.likely).map(|(t, l)| t * l).sum::<f64>()
    }
}
