//! The same figure fingered the same way, within a riff and over all the riffs of a lesson.
//!
//! For each figure that comes again one way is chosen, and what is minimised is the cost of all riffs plus a price for
//! each occurrence that is fingered otherwise. With the ways of the figures given, each riff is one pass of dynamic
//! programming that also knows whether the figure it is in has been followed so far. The ways themselves are found by
//! branch and bound: a way that the best solution follows somewhere cannot, at that occurrence, be further above the
//! cheapest fit of its riff than the best solution known is above the cheapest fits of all; those ways are listed,
//! cheapest first, and tried, the cost with some figures left free being a lower bound. Lists and trials have an end
//! ([`super::through::MOST_WAYS`], [`MOST_TRIALS`]); where it is met the answer says that it may not be the best.

use std::collections::{BTreeMap, BTreeSet};

use riffkin_score::Warning;
use riffkin_score::riff::Riff;

use super::figures::{Occurrence, figures};
use super::line::Line;
use super::search::{EVEN, Search, cheapest};
use super::spots::Spot;
use super::through::{Label, label, through};
use super::{Fit, FitError, empty};
use crate::hand::Hand;
use crate::neck::Neck;
use crate::wishes::Wish;

/// What an occurrence that is fingered otherwise costs, unless somebody says another price: about two shifts in
/// eighth notes at 120. Our choice, no source.
pub const USUAL_PRICE: f64 = 4.0;

/// Most passes over riffs.
const MOST_TRIALS: usize = 10_000;

/// Riffs fitted together.
#[derive(Clone, Debug, PartialEq)]
pub struct Alike {
    /// One for each riff, in order. Among their warnings is where a figure is fingered otherwise, and why.
    pub fits: Vec<Fit>,
    /// The figures that come again.
    pub figures: Vec<Figure>,
    /// True when nothing better can exist; false when there was too much to try.
    pub exact: bool,
}

/// A figure that comes again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Figure {
    /// Where it comes.
    pub occurrences: Vec<Occurrence>,
    /// For each of them, true when it is fingered in the figure's way.
    pub same: Vec<bool>,
}

/// Fits riffs so that bars with the same notes (pitches, rhythm, marks; three notes or more) are fingered the same
/// way, in one riff and from riff to riff, unless that costs more than `price` for an occurrence.
///
/// # Errors
/// The index of the first riff that does not lie on the neck, and why.
pub fn alike(riffs: &[&Riff], neck: &Neck, hand: &Hand, price: f64) -> Result<Alike, (usize, FitError)> {
    let lines: Vec<Line<'_>> = riffs
        .iter()
        .enumerate()
        .map(|(i, riff)| Line::new(riff, neck, hand, &[]).map_err(|e| (i, e)))
        .collect::<Result<_, _>>()?;
    Ok(together(riffs, &lines, price))
}

/// [`alike`] for one riff, every wish granted.
///
/// # Errors
/// As [`super::wished`].
pub fn alike_wished(
    riff: &Riff,
    neck: &Neck,
    hand: &Hand,
    wishes: &[Wish],
    price: f64,
) -> Result<Alike, FitError> {
    Ok(together(&[riff], &[Line::new(riff, neck, hand, wishes)?], price))
}

fn together(riffs: &[&Riff], lines: &[Line<'_>], price: f64) -> Alike {
    let searches: Vec<Search<'_>> = lines.iter().map(|l| l.search(None)).collect();
    let mut table = Table {
        free: searches.iter().map(|s| s.cheapest().1).collect(),
        searches,
        figures: figures(riffs),
        price: price.max(0.0),
        trials: 0,
        exact: true,
        known: BTreeMap::new(),
    };
    let chosen = table.choose();
    let mut ways: Vec<Vec<Spot>> = Vec::with_capacity(lines.len());
    for (r, line) in lines.iter().enumerate() {
        ways.push(line.spots_of(&table.pass(r, &chosen, None).1));
    }
    let mut fits: Vec<Fit> = lines
        .iter()
        .zip(&ways)
        .map(|(line, way)| if way.is_empty() { empty() } else { line.describe(way) })
        .collect();
    let mut found = Vec::new();
    for (f, occurrences) in table.figures.clone().into_iter().enumerate() {
        let Some(wanted) = chosen.get(f).and_then(Option::as_ref) else { continue };
        let follows = |o: &Occurrence| {
            let way = ways.get(o.riff).and_then(|w| w.get(o.from..o.to)).unwrap_or_default();
            way.iter().zip(wanted).all(|(&s, &l)| label(s) == l)
        };
        let same: Vec<bool> = occurrences.iter().map(follows).collect();
        let model = occurrences.iter().zip(&same).find(|(_, s)| **s).map(|(o, _)| *o);
        for (o, _) in occurrences.iter().zip(&same).filter(|(_, same)| !**same) {
            let (now, _) = table.pass(o.riff, &chosen, None);
            let (forced, _) = table.pass(o.riff, &chosen, Some(o));
            let more = forced - (now - table.price);
            let title = model.filter(|m| m.riff != o.riff).and_then(|m| riffs.get(m.riff));
            let other = match (model, title) {
                (Some(m), Some(riff)) => format!("{} of '{}'", m.at, riff.header().title),
                (Some(m), None) => m.at.to_string(),
                (None, _) => "elsewhere".to_owned(),
            };
            let why = if more.is_finite() {
                format!("the same way would cost {more:.1} more, and sameness may cost {:.1}", table.price)
            } else {
                "the wishes leave no same way there".to_owned()
            };
            let words = format!("fingered otherwise than the same figure at {other}: {why}");
            if let Some(fit) = fits.get_mut(o.riff) {
                fit.warnings.push(Warning::at(o.at, words));
            }
        }
        found.push(Figure { occurrences, same });
    }
    Alike { fits, figures: found, exact: table.exact }
}

struct Table<'a> {
    searches: Vec<Search<'a>>,
    figures: Vec<Vec<Occurrence>>,
    /// The cost of each riff's cheapest fit.
    free: Vec<f64>,
    price: f64,
    trials: usize,
    exact: bool,
    /// What riffs cost with the ways of their figures, as far as it was asked for.
    known: BTreeMap<Asked, f64>,
}

/// A riff and the ways of the figures in it.
type Asked = (usize, Vec<(usize, Vec<Label>)>);

/// Ways of a figure, each with the least that all can cost with it.
type List = (usize, Vec<(f64, Vec<Label>)>);

/// The way of each figure; `None` while it is left free.
type Chosen = Vec<Option<Vec<Label>>>;

impl Table<'_> {
    /// The ways of the figures at the least cost of all.
    fn choose(&mut self) -> Chosen {
        let mut chosen: Chosen = vec![None; self.figures.len()];
        // A first solution: the ways of the cheapest fits where all agree, else the best of the few that occur there.
        let free: Vec<Vec<usize>> = self.searches.iter().map(|s| s.cheapest().0).collect();
        let mut open: Vec<usize> = Vec::new();
        for f in 0..self.figures.len() {
            let mut labels: Vec<Vec<Label>> =
                self.figures[f].iter().map(|o| self.labels(o, &free[o.riff])).collect();
            labels.dedup();
            if labels.len() == 1 {
                chosen[f] = labels.pop();
            } else {
                let best = labels
                    .into_iter()
                    .map(|l| (self.with(&chosen, f, &l), l))
                    .min_by(|a, b| a.0.total_cmp(&b.0));
                chosen[f] = best.map(|b| b.1);
                open.push(f);
            }
        }
        if open.is_empty() {
            return chosen;
        }
        let free_cost: f64 = self.free.iter().sum();
        let mut best = (self.total(&chosen), chosen.clone());
        // Where one figure goes another way, those of the same riffs may follow.
        let all = self.concerned(open);
        let mut lists: Vec<List> = Vec::new();
        let mut unlisted = f64::INFINITY;
        for &f in &all {
            let (ways, beyond) = self.ways_of(f, best.0 - free_cost + EVEN);
            unlisted = unlisted.min(free_cost + beyond);
            let mut tried: Vec<(f64, Vec<Label>)> = Vec::new();
            let nothing: Chosen = vec![None; self.figures.len()];
            for way in ways {
                if self.trials > MOST_TRIALS {
                    self.exact = false;
                    break;
                }
                let total = self.with(&best.1.clone(), f, &way);
                if total < best.0 - EVEN {
                    best.0 = total;
                    best.1[f] = Some(way.clone());
                }
                let bound = self.with(&nothing, f, &way);
                if bound < best.0 - EVEN || best.1[f].as_ref() == Some(&way) {
                    tried.push((bound, way));
                }
            }
            tried.sort_by(|a, b| a.0.total_cmp(&b.0));
            lists.push((f, tried));
        }
        // Figures with few ways first.
        lists.sort_by_key(|l| (l.1.len(), l.0));
        let mut start = best.1.clone();
        for &f in &all {
            start[f] = None;
        }
        self.branch(&lists, start, &mut best);
        self.exact &= unlisted >= best.0 - EVEN;
        best.1
    }

    fn branch(&mut self, lists: &[List], chosen: Chosen, best: &mut (f64, Chosen)) {
        let Some(((f, ways), others)) = lists.split_first() else {
            let total = self.total(&chosen);
            if total < best.0 - EVEN {
                *best = (total, chosen);
            }
            return;
        };
        for (alone, way) in ways {
            if *alone >= best.0 - EVEN && best.1[*f].as_ref() != Some(way) {
                continue;
            }
            if self.trials > MOST_TRIALS {
                self.exact = false;
                return;
            }
            let mut next = chosen.clone();
            next[*f] = Some(way.clone());
            if self.total(&next) < best.0 - EVEN {
                self.branch(others, next, best);
            }
        }
    }

    /// Some figures, and all that are tied to them by riffs that they share.
    fn concerned(&self, mut figures: Vec<usize>) -> Vec<usize> {
        let riffs = |f: usize| self.figures[f].iter().map(|o| o.riff);
        let mut k = 0;
        while let Some(&f) = figures.get(k) {
            let tied = |g: &usize| !figures.contains(g) && riffs(*g).any(|r| riffs(f).any(|q| q == r));
            let more: Vec<usize> = (0..self.figures.len()).filter(tied).collect();
            figures.extend(more);
            k += 1;
        }
        figures.sort_unstable();
        figures
    }

    fn labels(&self, o: &Occurrence, way: &[usize]) -> Vec<Label> {
        let spots = self.searches[o.riff].spots;
        (o.from..o.to).map(|i| label(spots[i][way[i]])).collect()
    }

    /// The cost of all riffs with one figure more chosen.
    fn with(&mut self, chosen: &Chosen, f: usize, way: &[Label]) -> f64 {
        let mut next = chosen.clone();
        next[f] = Some(way.to_vec());
        self.total(&next)
    }

    /// The cost of all riffs, and the price of all that differ.
    fn total(&mut self, chosen: &Chosen) -> f64 {
        let mut sum = 0.0;
        for r in 0..self.searches.len() {
            let concerned = self.figures.iter().zip(chosen).enumerate().filter_map(|(f, (figure, way))| {
                let way = way.as_ref().filter(|_| figure.iter().any(|o| o.riff == r))?;
                Some((f, way.clone()))
            });
            let key = (r, concerned.collect::<Vec<_>>());
            sum += if key.1.is_empty() {
                self.free[r]
            } else if let Some(&known) = self.known.get(&key) {
                known
            } else {
                let cost = self.pass(r, chosen, None).0;
                self.known.insert(key, cost);
                cost
            };
        }
        sum
    }

    /// The cheapest way through a riff, and its cost with the price of what differs; an occurrence that is `forced`
    /// may not differ.
    fn pass(&mut self, r: usize, chosen: &Chosen, forced: Option<&Occurrence>) -> (f64, Vec<usize>) {
        self.trials += 1;
        let search = &self.searches[r];
        let n = search.spots.len();
        let mut wanted: Vec<Option<(&Label, bool, bool)>> = vec![None; n];
        let mut prices = vec![self.price; n];
        for (figure, way) in self.figures.iter().zip(chosen) {
            let Some(way) = way else { continue };
            for o in figure.iter().filter(|o| o.riff == r) {
                for (i, label) in (o.from..o.to).zip(way) {
                    wanted[i] = Some((label, i == o.from, i + 1 == o.to));
                    if forced == Some(o) {
                        prices[i] = f64::INFINITY;
                    }
                }
            }
        }
        // State 0: the figure has been followed so far, or there is none; 1: it has been left.
        let after = |i: usize, s: usize, before: usize| match wanted[i] {
            None => 0,
            Some((wanted, first, _)) => {
                usize::from((before == 1 && !first) || label(search.spots[i][s]) != *wanted)
            }
        };
        // From the last note backwards, as the search for the cheapest way goes, so that of equal ways the same is found:
        // for each spot and state the least cost from there on, and the next note's spot.
        let mut next: Vec<Vec<[u32; 2]>> = search.spots.iter().map(|s| vec![[0; 2]; s.len()]).collect();
        let mut ahead: Vec<[f64; 2]> = Vec::new();
        for i in (0..n).rev() {
            let mut here = vec![[f64::INFINITY; 2]; search.spots[i].len()];
            for (s, cell) in here.iter_mut().enumerate() {
                let (open, last) = wanted[i].map_or((false, false), |(_, first, last)| (!first, last));
                for state in 0..2 {
                    // A state that no way is in here.
                    if after(i, s, 0) != state && !(open && state == 1) {
                        continue;
                    }
                    let rest = if i + 1 == n {
                        0.0
                    } else {
                        let (t, rest) = cheapest(ahead.iter().enumerate().map(|(t, costs)| {
                            let cost = costs[after(i + 1, t, state)];
                            if cost.is_finite() { cost + search.step(i, s, t) } else { f64::INFINITY }
                        }));
                        next[i][s][state] = t as u32;
                        rest
                    };
                    // The figure is over: who left its way pays.
                    let price = if last && state == 1 { prices[i] } else { 0.0 };
                    cell[state] = search.alone[i][s] + price + rest;
                }
            }
            ahead = here;
        }
        if n == 0 {
            return (0.0, Vec::new());
        }
        let (mut s, cost) = cheapest(ahead.iter().enumerate().map(|(s, costs)| costs[after(0, s, 0)]));
        let (mut way, mut state) = (Vec::with_capacity(n), 0);
        for (i, next) in next.iter().enumerate() {
            way.push(s);
            state = after(i, s, state);
            s = next[s][state] as usize;
        }
        (cost, way)
    }

    /// Ways of a figure that at some occurrence cost the riff no more than `room` above its cheapest fit; and how
    /// much above the cheapest fits a solution must be that has another way for it.
    fn ways_of(&self, f: usize, room: f64) -> (Vec<Vec<Label>>, f64) {
        let mut seen: BTreeSet<Vec<Label>> = BTreeSet::new();
        let mut beyond: Vec<(usize, f64)> = Vec::new();
        for o in &self.figures[f] {
            let (ways, least) = through(&self.searches[o.riff], o, room);
            seen.extend(ways);
            beyond.push((o.riff, least));
        }
        // A way that is listed nowhere is followed at one occurrence alone, or at two at least.
        let others = (beyond.len() - 1) as f64 * self.price;
        let mut bound = f64::INFINITY;
        for (k, &(r, a)) in beyond.iter().enumerate() {
            bound = bound.min(a + others);
            for &(other, b) in beyond.iter().skip(k + 1) {
                bound = bound.min(if other == r { a.max(b) } else { a + b });
            }
        }
        (seen.into_iter().collect(), bound)
    }
}
