//! Homework: new lines made of a lesson's own riffs, with the answers set apart.

use riffkin_fretboard::adapt;
use riffkin_fretboard::neck::Neck;
use riffkin_score::analysis::verdict;
use riffkin_score::interval::Interval;
use riffkin_score::note::{Approach, Event, Note};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::transpose;

use crate::plan::{Member, Plan};

/// One line to find the root, the degrees and the scale of.
#[derive(Clone, Debug)]
pub struct Piece {
    /// Index in [`Plan::members`] of the riff it was made from.
    pub from: usize,
    /// With its key: the answer.
    pub open: Riff,
    /// Nothing but notes and rhythm: the question.
    pub hidden: Riff,
}

/// Most pieces in one lesson.
pub const MOST: usize = 2;
/// Longest riff that is set, in bars.
const LONGEST: usize = 8;
/// Fewest degrees that can be asked for.
const FEWEST: usize = 3;

/// Short riffs from the middle and the end of the ladder, played backwards and moved to other keys, so that no line
/// of the lesson gives the answer away. Only riffs whose notes alone
/// decide or name their scale are set.
pub fn pieces(plan: &Plan, neck: &Neck) -> Vec<Piece> {
    let suits = |m: &Member| {
        let scale = verdict::of_set(m.material).mode().or(verdict::named(m.material));
        scale.is_some() && m.material.len() >= FEWEST && m.riff.bars().len() <= LONGEST
    };
    let fit: Vec<usize> = (0..plan.members.len()).filter(|&i| suits(&plan.members[i])).collect();
    // A major third and a fourth: keys that are not the lesson's and not each other's.
    let moves = [Interval::from_steps(2, 4), Interval::from_steps(3, 5)];
    let mut pieces: Vec<Piece> = Vec::new();
    for (pick, by) in [fit.len() / 2, fit.len().saturating_sub(1)].into_iter().zip(moves) {
        let Some(&from) = fit.get(pick) else { continue };
        if pieces.iter().all(|p| p.from != from) {
            pieces.extend(piece(plan, from, by, neck));
        }
    }
    pieces
}

fn piece(plan: &Plan, from: usize, by: Interval, neck: &Neck) -> Option<Piece> {
    let turned = backwards(&plan.members.get(from)?.riff)?;
    let (moved, _) = transpose::transpose(&turned, by).ok()?;
    // The simplest of the two names of the new tonic.
    let key = moved.header().key?;
    let way = transpose::nearest(key.tonic, key.simplest().tonic);
    let (moved, _) = transpose::transpose(&moved, way).ok()?;
    let (open, _) = adapt::adapted(&moved, neck);
    let bare = Header { tempo: open.header().tempo, feel: open.header().feel, ..Header::default() };
    let hidden = open.with_header(bare);
    Some(Piece { from, open, hidden })
}

/// The line from its last note to its first: the same notes and values, none of the slurs, chords and repeats that
/// belong to one direction. `None` only if the bars cannot stand that way round.
pub fn backwards(riff: &Riff) -> Option<Riff> {
    let events: Vec<Event> = riff.bars().iter().flat_map(|b| b.events.iter().copied()).collect();
    let turned: Vec<Event> = (0..events.len())
        .rev()
        .map(|i| {
            // A tie joins the same two heads, seen from the other side.
            let tied = i.checked_sub(1).and_then(|before| events[before].note).is_some_and(|n| n.tied);
            let note = events[i].note.map(|n| Note {
                tied,
                approach: Approach::Plucked,
                bend: 0,
                place: None,
                finger: None,
                ..n
            });
            Event { note, ..events[i] }
        })
        .collect();
    let mut rest = turned.into_iter();
    let bars = riff
        .bars()
        .iter()
        .rev()
        .map(|bar| Bar {
            short: bar.short,
            ..Bar::new(bar.meter, rest.by_ref().take(bar.events.len()).collect())
        })
        .collect();
    Riff::new(riff.header().clone(), bars).ok()
}

#[cfg(test)]
mod tests {
    use super::*;
    use riffkin_score::random;

    #[test]
    fn twice_backwards_gives_the_same_notes() {
        for seed in 0..60 {
            let riff = random::riff(seed, 6);
            let notes = |r: &Riff| r.line().iter().map(|n| (n.length, n.note.pitch)).collect::<Vec<_>>();
            let once = backwards(&riff).unwrap();
            let turned: Vec<_> = notes(&once).into_iter().rev().collect();
            assert_eq!(turned, notes(&riff), "seed {seed}");
            assert_eq!(notes(&backwards(&once).unwrap()), notes(&riff), "seed {seed}");
        }
    }
}
