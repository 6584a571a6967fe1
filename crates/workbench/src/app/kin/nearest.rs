//! The nearest kin among very many riffs: their imprints are shown one by one, and only what is needed to tell
//! the nearest is kept.

use std::collections::{BTreeMap, BinaryHeap};

use riffkin_kin::align::Extent;
use riffkin_kin::degrees::Degrees;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::index::Index;
use riffkin_kin::kinship::{SNIPPET_PACES, share};
use riffkin_kin::stretches::Stretches;
use riffkin_kin::{hand, rhythm};

use super::{Asked, Measure};

/// The nearer, the smaller; what cannot be compared comes last.
type Rank = (u64, u64);
/// The rank of what cannot be compared.
const LAST: Rank = (u64::MAX, 0);

/// Looks for the nearest by one measure; of equals the first by name counts, then by place.
pub struct Nearest<'a> {
    asked: &'a Asked,
    most: usize,
    count: usize,
    best: BinaryHeap<(Rank, String, u64)>,
    way: Way,
}

/// What one measure needs.
enum Way {
    Degrees,
    Hand(Option<hand::Sought>),
    Intervals(Box<Tunes>),
    Rhythm(Option<rhythm::Sought>),
}

/// All intervals and rhythms, by a running number, with names and places.
#[derive(Default)]
struct Tunes {
    index: Index,
    names: String,
    ends: Vec<usize>,
    places: Vec<u64>,
}

impl Tunes {
    fn name(&self, number: u64) -> &str {
        let number = number as usize;
        let from = number.checked_sub(1).and_then(|n| self.ends.get(n)).copied().unwrap_or(0);
        let to = self.ends.get(number).copied().unwrap_or(0);
        self.names.get(from..to).unwrap_or_default()
    }
}

impl<'a> Nearest<'a> {
    /// The `most` nearest of a riff.
    pub fn new(asked: &'a Asked, by: Measure, most: usize) -> Self {
        let imprint = &asked.imprint;
        let way = match by {
            Measure::Degrees => Way::Degrees,
            Measure::Hand => Way::Hand(imprint.hand().cloned().map(hand::Sought::new)),
            Measure::Intervals => Way::Intervals(Box::default()),
            Measure::Rhythm => Way::Rhythm(rhythm::Sought::new(imprint)),
        };
        Self { asked, most, count: 0, best: BinaryHeap::new(), way }
    }

    /// Shows a riff. No two have one place.
    pub fn offer(&mut self, place: u64, name: &str, imprint: &Imprint) {
        self.count += 1;
        let full = self.best.len() >= self.most;
        let limit = self.best.peek().filter(|_| full).map_or(LAST, |(rank, ..)| *rank);
        let rank = match &mut self.way {
            Way::Degrees => {
                let degrees = Degrees::between(self.asked.imprint.set(), imprint.set());
                (degrees.steps_apart() as u64, u64::from(degrees.shared.is_empty()))
            }
            Way::Hand(sought) => match (sought, imprint.hand()) {
                (Some(sought), Some(there)) => {
                    let (same, run) = sought.compare(there);
                    (u64::from(!same), u64::MAX - run as u64)
                }
                _ => LAST,
            },
            Way::Rhythm(sought) => {
                let found = sought.as_mut().and_then(|sought| sought.within(imprint, limit.0));
                found.map_or(LAST, |(cost, pace)| (cost, u64::from(pace != (1, 1))))
            }
            Way::Intervals(_) if imprint.notes().is_empty() => LAST,
            Way::Intervals(tunes) => {
                tunes.index.append(tunes.places.len() as u64, imprint);
                tunes.names.push_str(name);
                tunes.ends.push(tunes.names.len());
                tunes.places.push(place);
                return;
            }
        };
        self.keep(rank, name, place);
    }

    fn keep(&mut self, rank: Rank, name: &str, place: u64) {
        if self.best.len() >= self.most
            && self.best.peek().is_none_or(|(r, n, p)| (rank, name, place) >= (*r, n.as_str(), *p))
        {
            return;
        }
        self.best.push((rank, name.to_owned(), place));
        if self.best.len() > self.most {
            self.best.pop();
        }
    }

    /// The places of the nearest, the nearest first, and how many riffs there were in all.
    pub fn found(mut self) -> (Vec<u64>, usize) {
        if let Way::Intervals(tunes) = std::mem::replace(&mut self.way, Way::Degrees) {
            for (number, rank) in self.tunes(&tunes) {
                let place = tunes.places.get(number as usize).copied().unwrap_or_default();
                self.keep(rank, tunes.name(number), place);
            }
        }
        (self.best.into_sorted_vec().into_iter().map(|(_, _, place)| place).collect(), self.count)
    }

    /// The nearest by intervals and rhythm with their ranks: those of the whole, or those of a snippet at every
    /// pace, of which one riff may be found at several.
    fn tunes(&self, tunes: &Tunes) -> BTreeMap<u64, Rank> {
        let query = Stretches::of(&self.asked.imprint);
        let (paces, extent) = match self.asked.snippet {
            true => (SNIPPET_PACES.as_slice(), Extent::Part),
            false => (&SNIPPET_PACES[..1], Extent::Whole),
        };
        let mut found: BTreeMap<u64, Rank> = BTreeMap::new();
        for &(num, den) in paces {
            let paced = if (num, den) == (1, 1) { query.clone() } else { query.paced(num, den) };
            let seeking = tunes.index.nearest_in_order(&paced, extent, self.most, |n| tunes.name(n));
            for hit in seeking.hits {
                let rank = (share(hit.cost, paced.total()), u64::from(hit.higher));
                let best = found.entry(hit.number).or_insert(rank);
                *best = rank.min(*best);
            }
        }
        found
    }
}

#[cfg(test)]
mod tests {
    use super::super::Relative;
    use super::*;
    use riffkin_formats::riff_text;
    use riffkin_fretboard::neck::Neck;
    use riffkin_score::riff::Riff;

    /// Invented riffs of few notes, so that many are alike.
    fn riffs() -> Vec<Riff> {
        let figures =
            ["q 1 b3 4 5", "q 1 b3 e 4 b3 q 1", "e 1 1 b3 4 h 5", "h 1 q 5 b7", "w r", "e 1 3 q 4 h 5"];
        let text = |i: usize| {
            let (a, b) = (figures[i % 6], figures[i / 6 % 5]);
            let key = ["G minor", "C minor", "D major", "E minor"][i % 4];
            format!(
                "riff: {} {}\nkey: {key}\n| {a} | {b} |\n",
                ["Wet Rope", "Net Mender", "Deep Hold"][i % 3],
                i % 2
            )
        };
        (0..60).map(|i| riff_text::parse(&text(i)).unwrap().0).collect()
    }

    /// What comparing everything by every measure gives, for every measure.
    #[test]
    fn the_nearest_are_those_of_comparing_all() {
        let neck = Neck::named("four").unwrap();
        let riffs = riffs();
        let imprints: Vec<Imprint> =
            riffs.iter().map(|riff| Imprint::explained(riff, None, &neck).unwrap()).collect();
        for (of, snippet) in [(1, false), (8, false), (13, true), (40, true)] {
            let asked = Asked::new(riffs[of].clone(), None, &neck, snippet).unwrap();
            for by in [Measure::Degrees, Measure::Hand, Measure::Intervals, Measure::Rhythm] {
                let mut all: Vec<(Rank, String, u64)> = (0..)
                    .zip(riffs.iter().zip(&imprints))
                    .map(|(place, (riff, imprint))| {
                        let relative = Relative::of(&asked, String::new(), riff, imprint);
                        (rank(&relative, by), relative.name, place)
                    })
                    .collect();
                all.sort();
                for most in [1, 4, 23, 100] {
                    let mut nearest = Nearest::new(&asked, by, most);
                    for (place, (riff, imprint)) in (0..).zip(riffs.iter().zip(&imprints)) {
                        nearest.offer(place, &riff.header().title, imprint);
                    }
                    let expected: Vec<u64> = all.iter().take(most).map(|(.., place)| *place).collect();
                    assert_eq!(nearest.found(), (expected, 60), "{of} by {by:?}, {most}");
                }
            }
        }
    }

    fn rank(relative: &Relative, by: Measure) -> Rank {
        let kinship = &relative.kinship;
        let rank = match by {
            Measure::Degrees => {
                let degrees = kinship.degrees;
                Some((degrees.steps_apart() as u64, u64::from(degrees.shared.is_empty())))
            }
            Measure::Hand => {
                kinship.hand.as_ref().map(|hand| (u64::from(!hand.same), u64::MAX - hand.run() as u64))
            }
            Measure::Intervals => relative.tune().map(|tune| (tune.share(), u64::from(tune.higher))),
            Measure::Rhythm => {
                kinship.rhythm.as_ref().map(|rhythm| (rhythm.cost, u64::from(rhythm.pace != (1, 1))))
            }
        };
        rank.unwrap_or(LAST)
    }
}
