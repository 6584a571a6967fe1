//! Where a hand could come to harm. No medical advice: common cautions of the trade, each at its place.

use riffkin_score::Warning;

use super::cost::{Costs, LOW_FRETS};
use super::moment::Moment;
use super::spots::Spot;

/// A passage of this length without a rest or a moment with no string held is said to be unrelieved, in seconds. Our
/// choice, no source.
const UNRELIEVED_S: f64 = 20.0;

/// What to beware of: wide stretches on the low frets, long passages in which the hand is never free.
pub(super) fn cautions(costs: &Costs, moments: &[Moment], way: &[Spot]) -> Vec<Warning> {
    let mut cautions = low_stretches(costs, moments, way);
    cautions.extend(unrelieved(moments, way));
    cautions
}

/// The low stretches, each span once.
fn low_stretches(costs: &Costs, moments: &[Moment], way: &[Spot]) -> Vec<Warning> {
    let mut spans: Vec<(u8, u8, &Moment, usize)> = Vec::new();
    for (moment, &spot) in moments.iter().zip(way) {
        if spot.position + costs.capo > LOW_FRETS || costs.excess_mm(spot) <= 0.0 {
            continue;
        }
        match spans.iter_mut().find(|s| (s.0, s.1) == (spot.position, spot.place.fret)) {
            Some(span) => span.3 += 1,
            None => spans.push((spot.position, spot.place.fret, moment, 1)),
        }
    }
    spans
        .into_iter()
        .map(|(from, to, moment, count)| {
            let mm = costs.between_mm(from, to);
            let times = if count > 1 { format!(", {count} times in all") } else { String::new() };
            Warning::at(
                moment.at,
                format!("from fret {from} to fret {to} the hand spans {mm:.0} mm{times}; shift instead, or move the riff up the neck"),
            )
        })
        .collect()
}

/// Passages in which no rest, open string or dead note frees the hand for long.
fn unrelieved(moments: &[Moment], way: &[Spot]) -> Vec<Warning> {
    let mut cautions = Vec::new();
    let mut start = 0;
    for i in 0..=way.len() {
        let relieved = match (moments.get(i), way.get(i)) {
            (Some(moment), Some(spot)) => moment.after_rest || !spot.holds(),
            _ => true,
        };
        if !relieved {
            continue;
        }
        if let (Some(first), Some(last)) = (moments.get(start), i.checked_sub(1).and_then(|l| moments.get(l)))
        {
            let seconds = last.onset_s + last.lasts_s - first.onset_s;
            if i > start && seconds >= UNRELIEVED_S {
                cautions.push(Warning::at(
                    first.at,
                    format!(
                        "from here to {} no rest and no open string relieves the hand for {seconds:.0} s; keep it loose, take breaks, and stop when it hurts",
                        last.at
                    ),
                ));
            }
        }
        // A note that is held after a rest begins the next passage; one that is not held relieves it.
        start = if way.get(i).is_some_and(|s| s.holds()) { i } else { i + 1 };
    }
    cautions
}
