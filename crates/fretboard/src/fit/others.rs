//! Other choices, exact: the cheapest way that is another choice than all those before it.
//!
//! The line is gone through from the front. Beside the spot a state holds, for each earlier choice, how far the
//! way differs from it ([`Away`]); of two states at one spot, one that costs no less and differs no more can be
//! forgotten. The cost of every rest of the line is known exactly from the backward pass, so that states which
//! cannot come out below a limit are passed over, and a way that is another choice already goes on the cheapest
//! way at once. The limit starts a little above the last choice's cost and is widened until something is found:
//! what is found below a limit is the cheapest of all.

use super::choice::{Away, Passages};
use super::search::{EVEN, Search};

/// Most choices that are ever looked for.
pub(super) const MOST_CHOICES: usize = 16;

/// Most states weighed for one choice before the search gives up; a riff of a few bars takes thousands.
const MOST_STATES: usize = 4_000_000;

/// How far above the last choice the search looks at first, in units of cost.
const FIRST_LIMIT: f64 = 2.0;

type Differs = [u8; MOST_CHOICES];

#[derive(Clone, Copy)]
struct State {
    spot: u32,
    before: u32,
    cost: f64,
    differs: Differs,
}

/// What a search for the next choice came to.
pub(super) enum Next {
    /// Another choice, as indices into the spots.
    Way(Vec<usize>, f64),
    /// There is none.
    None,
    /// Too much to weigh.
    GaveUp,
}

/// The cheapest way that is another choice than all `found`, of which the last cost `least`.
pub(super) fn next_choice(
    search: &Search<'_>,
    passages: &Passages,
    found: &[Vec<usize>],
    least: f64,
) -> Next {
    if passages.is_empty() || found.len() >= MOST_CHOICES {
        return Next::None;
    }
    let mut weighed = 0;
    let mut room = FIRST_LIMIT;
    loop {
        let mut round = Round {
            search,
            passages,
            found,
            limit: least + room,
            best: None,
            cut: false,
            layers: Vec::new(),
        };
        if !round.run(&mut weighed) {
            return Next::GaveUp;
        }
        match (round.best, round.cut) {
            (Some((cost, i, at)), _) => {
                let way = way_to(search, &round.layers, i, at);
                return Next::Way(way, cost);
            }
            (None, false) => return Next::None,
            (None, true) => room *= 2.0,
        }
    }
}

struct Round<'a> {
    search: &'a Search<'a>,
    passages: &'a Passages,
    found: &'a [Vec<usize>],
    /// Costs beyond this are passed over; it falls to the best found.
    limit: f64,
    /// Cost, note and state of the best way found.
    best: Option<(f64, usize, usize)>,
    cut: bool,
    /// For each note the states that were kept.
    layers: Vec<Vec<State>>,
}

impl Round<'_> {
    /// Goes through the line; `false` when there is too much to weigh.
    fn run(&mut self, weighed: &mut usize) -> bool {
        let spots = self.search.spots;
        for i in 0..spots.len() {
            let mut layer: Vec<State> = Vec::new();
            // For each spot where its states lie in the layer: they are made spot by spot.
            if i == 0 {
                for s in 0..spots[0].len() {
                    let start = layer.len();
                    self.arrive(&mut layer, start, i, s, 0.0, 0, [0; MOST_CHOICES]);
                }
            } else {
                let before = std::mem::take(&mut self.layers[i - 1]);
                let groups = groups(&before);
                for t in 0..spots[i].len() {
                    let start = layer.len();
                    for group in &groups {
                        let Some(first) = before.get(group.start) else { continue };
                        let step = self.search.step(i - 1, first.spot as usize, t);
                        if !step.is_finite() {
                            continue;
                        }
                        for (b, state) in before.iter().enumerate().take(group.end).skip(group.start) {
                            let differs = state.differs;
                            self.arrive(&mut layer, start, i, t, state.cost + step, b as u32, differs);
                        }
                        *weighed += group.len();
                    }
                }
                self.layers[i - 1] = before;
            }
            if *weighed > MOST_STATES {
                return false;
            }
            self.layers.push(layer);
        }
        true
    }

    /// Keeps a state that can still come out below the limit.
    #[allow(clippy::too_many_arguments, reason = "the parts of one state, on the innermost path")]
    fn arrive(
        &mut self,
        layer: &mut Vec<State>,
        start: usize,
        i: usize,
        s: usize,
        cost: f64,
        before: u32,
        mut differs: Differs,
    ) {
        let total = cost + self.search.rest[i][s];
        if total.is_nan() || total >= self.limit - EVEN {
            self.cut = true;
            return;
        }
        let string = self.search.spots[i][s].place.string;
        let mut done = true;
        for (d, way) in differs.iter_mut().zip(self.found) {
            let elsewhere = self.search.spots[i][way[i]].place.string != string;
            *d = self.passages.after(i, Away(*d), elsewhere).0;
            done &= Away(*d) == Away::DONE;
        }
        let cost = cost + self.search.alone[i][s];
        let kept = layer.get_mut(start..).unwrap_or_default();
        let no_better =
            |a: &State| a.cost <= cost + EVEN && a.differs.iter().zip(&differs).all(|(a, b)| a >= b);
        if kept.iter().any(no_better) {
            return;
        }
        let state = State { spot: s as u32, before, cost, differs };
        // A state that the new one makes useless gives it its place.
        let useless = |a: &&mut State| cost <= a.cost && a.differs.iter().zip(&differs).all(|(a, b)| a <= b);
        let at = match kept.iter_mut().enumerate().find(|(_, a)| useless(a)) {
            Some((k, old)) if self.best.is_none_or(|b| (b.1, b.2) != (i, start + k)) => {
                *old = state;
                start + k
            }
            _ => {
                layer.push(state);
                layer.len() - 1
            }
        };
        if done {
            // From here on the cheapest way is the best there is.
            self.limit = total;
            self.best = Some((total, i, at));
        }
    }
}

/// Ranges of states at one spot.
fn groups(states: &[State]) -> Vec<std::ops::Range<usize>> {
    let mut groups: Vec<std::ops::Range<usize>> = Vec::new();
    for (k, state) in states.iter().enumerate() {
        match groups.last_mut() {
            Some(group) if states.get(group.start).is_some_and(|f| f.spot == state.spot) => group.end = k + 1,
            _ => groups.push(k..k + 1),
        }
    }
    groups
}

fn way_to(search: &Search<'_>, layers: &[Vec<State>], i: usize, at: usize) -> Vec<usize> {
    let mut way = Vec::with_capacity(search.spots.len());
    let (mut layer, mut k) = (i, at);
    while let Some(state) = layers.get(layer).and_then(|l| l.get(k)) {
        way.push(state.spot as usize);
        k = state.before as usize;
        match layer.checked_sub(1) {
            Some(before) => layer = before,
            None => break,
        }
    }
    way.reverse();
    let last = way.pop().unwrap_or(0);
    search.follow(way, last)
}
