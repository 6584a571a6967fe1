//! The ladder: an order for riffs in which every rung adds as little new material as can be.
//!
//! What a class knows is a set of degrees, twelve bits; learning a riff unites that set with the riff's
//! material. The sets that can come up are therefore at most 4,096 however many riffs there are, and the best
//! order is a shortest path over them, found exactly. (Sorting by "fewest new degrees next" is the road not
//! taken: it can choose a first step that makes a later one large.)
//!
//! # What an order costs
//!
//! Every order ends with the same degrees known, so counting new degrees tells no two orders apart. A rung
//! costs the *square* of the number of degrees that are new on it ([`rung_cost`]), and an order the sum of its
//! rungs: four new sounds at once cost 16, one at a time 4. Rungs that need nothing new cost nothing and come
//! as soon as they can be played. Among orders of equal cost the one that starts more gently is taken (fewer
//! new degrees on the first rung that has any, then on the next, and so on), then at each step the riff with
//! fewer degrees, then the one that stands first in the input. The square is our choice, no source.

use riffkin_score::degree::{Degree, DegreeSet};

/// Sets of degrees there are.
const SETS: usize = 1 << 12;

/// Riffs in teaching order.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Ladder {
    /// One rung for every riff.
    pub rungs: Vec<Rung>,
    /// What was known before the first rung.
    pub known: DegreeSet,
    /// The sum of [`rung_cost`] over the rungs; no order has less.
    pub cost: u32,
}

/// One riff of a ladder.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Rung {
    /// Index of the riff in the input.
    pub riff: usize,
    /// The degrees that are new on this rung; empty when it needs nothing new.
    pub new: DegreeSet,
}

/// A wanted degree that is not known yet, and which riffs would bring it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Missing {
    /// The wanted degree, by its usual name.
    pub degree: Degree,
    /// Riffs that hold it, each with what else is new on it; fewest other degrees first, then input order.
    /// Empty when no riff holds it.
    pub riffs: Vec<(usize, DegreeSet)>,
}

/// What a rung with `new` new degrees costs: `new²`.
pub fn rung_cost(new: usize) -> u32 {
    u32::try_from(new.saturating_mul(new)).unwrap_or(u32::MAX)
}

/// The best order to reach everything from a set of known degrees.
#[derive(Clone, Copy)]
struct Path {
    cost: u32,
    // New degrees of each step that has any, four bits each from the top, so that a smaller number is a
    // gentler start.
    steps: u64,
    // The degrees the first step adds; empty at the end.
    first: DegreeSet,
}

/// The exact best order for riffs of these materials, when `known` is known beforehand.
///
/// Takes time in the number of riffs and at most `4096 · 4096` steps beside it.
pub fn ladder(materials: &[DegreeSet], known: DegreeSet) -> Ladder {
    let mut by_ease: Vec<usize> = (0..materials.len()).collect();
    by_ease.sort_by_key(|&i| (materials[i].len(), i));
    // Only the first riff of each material matters for the path.
    let mut seen = [false; SETS];
    let distinct: Vec<DegreeSet> = by_ease
        .iter()
        .map(|&i| materials[i])
        .filter(|set| !std::mem::replace(&mut seen[usize::from(set.bits())], true))
        .collect();

    let paths = paths(&distinct, known);
    let mut rungs = Vec::with_capacity(materials.len());
    let mut waiting = by_ease;
    let mut have = known;
    let play_what_fits = |waiting: &mut Vec<usize>, have: DegreeSet, rungs: &mut Vec<Rung>| {
        waiting.retain(|&riff| {
            let fits = materials[riff].is_within(have);
            if fits {
                rungs.push(Rung { riff, new: DegreeSet::EMPTY });
            }
            !fits
        });
    };
    play_what_fits(&mut waiting, have, &mut rungs);
    while let Some(path) = paths[usize::from(have.bits())].filter(|p| !p.first.is_empty()) {
        let Some(at) = waiting.iter().position(|&i| materials[i].without(have) == path.first) else { break };
        rungs.push(Rung { riff: waiting.remove(at), new: path.first });
        have = have.union(path.first);
        play_what_fits(&mut waiting, have, &mut rungs);
    }
    let cost = rungs.iter().map(|r| rung_cost(r.new.len())).sum();
    Ladder { rungs, known, cost }
}

/// The best path from every set that can be reached. Sets only grow, and a larger set is a larger number, so
/// one pass upwards finds those reached and one pass downwards their paths.
fn paths(distinct: &[DegreeSet], known: DegreeSet) -> Vec<Option<Path>> {
    let mut reached = vec![false; SETS];
    reached[usize::from(known.bits())] = true;
    for state in 0..SETS {
        if reached[state] {
            for material in distinct {
                reached[state | usize::from(material.bits())] = true;
            }
        }
    }
    let mut paths: Vec<Option<Path>> = vec![None; SETS];
    for state in (0..SETS).rev().filter(|&s| reached[s]) {
        let have = DegreeSet::from_bits(state as u16);
        let mut best: Option<Path> = None;
        // From easiest to hardest, and only a strictly better path replaces an earlier one.
        for &material in distinct {
            let first = material.without(have);
            if first.is_empty() {
                continue;
            }
            let Some(rest) = paths[usize::from(have.union(material).bits())] else { continue };
            let cost = rest.cost + rung_cost(first.len());
            let steps = ((first.len() as u64) << 60) | (rest.steps >> 4);
            if best.is_none_or(|b| (cost, steps) < (b.cost, b.steps)) {
                best = Some(Path { cost, steps, first });
            }
        }
        paths[state] = Some(best.unwrap_or(Path { cost: 0, steps: 0, first: DegreeSet::EMPTY }));
    }
    paths
}

/// What is still missing for the wanted degrees when `known` is known: for each one that is not, the riffs
/// that would bring it.
pub fn missing_for(wanted: DegreeSet, materials: &[DegreeSet], known: DegreeSet) -> Vec<Missing> {
    wanted
        .without(known)
        .slots()
        .map(|slot| {
            let this = DegreeSet::EMPTY.with(slot);
            let mut riffs: Vec<(usize, DegreeSet)> = materials
                .iter()
                .enumerate()
                .filter(|(_, material)| material.contains(slot))
                .map(|(riff, material)| (riff, material.without(known).without(this)))
                .collect();
            riffs.sort_by_key(|&(riff, others)| (others.len(), riff));
            Missing { degree: Degree::usual(slot), riffs }
        })
        .collect()
}

impl Ladder {
    /// Indices of the riffs in teaching order.
    pub fn order(&self) -> Vec<usize> {
        self.rungs.iter().map(|r| r.riff).collect()
    }

    /// Everything known after the last rung.
    pub fn reached(&self) -> DegreeSet {
        self.rungs.iter().fold(self.known, |known, rung| known.union(rung.new))
    }

    /// The rungs in groups: each group begins with a rung that adds something (the first may not) and holds
    /// the rungs after it that need nothing new.
    pub fn groups(&self) -> Vec<&[Rung]> {
        let mut starts: Vec<usize> =
            (0..self.rungs.len()).filter(|&i| !self.rungs[i].new.is_empty()).collect();
        if starts.first() != Some(&0) && !self.rungs.is_empty() {
            starts.insert(0, 0);
        }
        let ends = starts.iter().skip(1).copied().chain([self.rungs.len()]);
        starts.iter().zip(ends).map(|(&from, to)| &self.rungs[from..to]).collect()
    }

    /// The rung on which a slot (semitones above the root) is new; `None` when it never is.
    pub fn rung_of(&self, slot: u8) -> Option<usize> {
        self.rungs.iter().position(|r| r.new.contains(slot))
    }
}
