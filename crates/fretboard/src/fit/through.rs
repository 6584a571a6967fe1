//! The ways through one occurrence of a figure, cheapest first, in the riff that it stands in.

use std::collections::BTreeMap;

use riffkin_score::note::Place;

use super::Touch;
use super::figures::Occurrence;
use super::search::{Search, cheapest};
use super::spots::Spot;

/// Most ways of one occurrence that are listed.
pub(super) const MOST_WAYS: usize = 256;

/// What must agree for two fingerings to be the same: place and finger, which a dead note does not have.
pub(super) type Label = Option<(Place, u8)>;

/// The label of a spot.
pub(super) fn label(spot: Spot) -> Label {
    (spot.touch != Touch::Dead).then_some((spot.place, spot.finger))
}

/// A beginning of a way through an occurrence: its labels, and the least cost for each spot of its last note.
struct Begun {
    labels: Vec<Label>,
    ends: Vec<(usize, f64)>,
    bound: f64,
}

/// The ways through an occurrence, cheapest first, with which its riff costs no more than `room` above its cheapest
/// fit; and how much above it any other way is at least.
pub(super) fn through(search: &Search<'_>, o: &Occurrence, room: f64) -> (Vec<Vec<Label>>, f64) {
    let least = search.cheapest().1;
    let before = search.until(o.from);
    let mut begun = vec![Begun { labels: Vec::new(), ends: Vec::new(), bound: least }];
    let mut ways = Vec::new();
    let mut steps = 0;
    while !begun.is_empty() {
        let (k, bound) = cheapest(begun.iter().map(|b| b.bound));
        if ways.len() >= MOST_WAYS || steps > 16 * MOST_WAYS {
            return (ways, bound - least);
        }
        let now = begun.swap_remove(k);
        let i = o.from + now.labels.len();
        if i == o.to {
            ways.push(now.labels);
            continue;
        }
        steps += 1;
        let mut by_label: BTreeMap<Label, Vec<(usize, f64)>> = BTreeMap::new();
        for (t, &spot) in search.spots[i].iter().enumerate() {
            let reach = if i == o.from {
                before[t]
            } else {
                now.ends.iter().map(|&(s, c)| c + search.step(i - 1, s, t)).fold(f64::INFINITY, f64::min)
            };
            if reach + search.rest[i][t] <= least + room {
                by_label.entry(label(spot)).or_default().push((t, reach + search.alone[i][t]));
            }
        }
        for (label, ends) in by_label {
            let ahead = |&(t, c): &(usize, f64)| c - search.alone[i][t] + search.rest[i][t];
            let bound = ends.iter().map(ahead).fold(f64::INFINITY, f64::min);
            begun.push(Begun { labels: [now.labels.as_slice(), &[label]].concat(), ends, bound });
        }
    }
    (ways, room)
}
