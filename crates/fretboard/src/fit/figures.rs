//! Figures that come again: bars with the same notes.

use std::collections::BTreeMap;

use riffkin_score::note::{Approach, Mark, Place};
use riffkin_score::riff::{BarBeat, Riff};
use riffkin_score::time::Quarters;

/// The least number of notes that make a figure.
const FIGURE: usize = 3;

/// One occurrence of a figure: the notes `from..to` of a riff's line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Occurrence {
    /// Index of the riff.
    pub riff: usize,
    /// Where its first note stands.
    pub at: BarBeat,
    /// Its first note in the riff's line.
    pub from: usize,
    /// The note after its last.
    pub to: usize,
}

/// All that makes two bars one figure: for each note its distance from the bar line, its length, pitch, approach,
/// marks, bend, and what is written of place and finger.
type Content = Vec<(Quarters, Quarters, u8, Approach, Vec<Mark>, u8, Option<Place>, Option<u8>)>;

/// The figures of some riffs that occur more than once, in the order in which they first come.
pub(super) fn figures(riffs: &[&Riff]) -> Vec<Vec<Occurrence>> {
    let mut order: Vec<Vec<Occurrence>> = Vec::new();
    let mut known: BTreeMap<Content, usize> = BTreeMap::new();
    for (index, riff) in riffs.iter().enumerate() {
        let line = riff.line();
        let mut from = 0;
        while let Some(first) = line.get(from) {
            let to = line.iter().skip(from).position(|n| n.bar != first.bar).map_or(line.len(), |n| from + n);
            let start = riff.bar_start(first.bar);
            let notes = line.get(from..to).unwrap_or_default();
            if notes.len() >= FIGURE {
                let content: Content = notes
                    .iter()
                    .map(|n| {
                        let marks = n.note.marks.iter().collect();
                        let midi = n.note.pitch.midi().number();
                        let approach = n.note.approach;
                        let (place, finger) = (n.note.place, n.note.finger);
                        (n.onset - start, n.length, midi, approach, marks, n.note.bend, place, finger)
                    })
                    .collect();
                let occurrence = Occurrence { riff: index, at: riff.place_of(first.onset), from, to };
                match known.get(&content) {
                    Some(&figure) => order[figure].push(occurrence),
                    None => {
                        known.insert(content, order.len());
                        order.push(vec![occurrence]);
                    }
                }
            }
            from = to;
        }
    }
    order.retain(|figure| figure.len() > 1);
    order
}
