//! Which heard note stands for which true one: note matching as the package `mir_eval` 0.8.2 defines it
//! (`mir_eval.transcription`; Raffel et al., "mir_eval: a transparent implementation of common MIR metrics",
//! ISMIR 2014).
//!
//! Onsets may differ by 50 ms, pitches by 50 cents, offsets by 50 ms or a fifth of the true length, whichever is
//! more; distances in time are rounded to 0.1 ms (halves to even) before they are compared, and what is exactly
//! at a limit counts. A maximum matching decides: no note stands for two. Checked against the package on saved
//! triples, `tests/hearing/triples.json`.

use super::notes::Sounded;
use std::collections::VecDeque;

/// Farthest onset, in seconds.
pub(super) const ONSET_S: f64 = 0.05;
/// Least tolerance of an offset, in seconds.
const OFFSET_S: f64 = 0.05;
/// Tolerance of an offset as a share of the true note.
const OFFSET_SHARE: f64 = 0.2;
/// Farthest pitch, in cents.
const CENTS: f64 = 50.0;

/// What must agree.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Rule {
    /// Onset and pitch.
    Onset,
    /// Onset, pitch and offset.
    OnsetAndOffset,
    /// Onset, and pitch but for whole octaves.
    AnyOctave,
    /// Onset alone.
    OnsetOnly,
}

/// Precision, recall and their harmonic mean.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Score {
    pub(super) precision: f64,
    pub(super) recall: f64,
    pub(super) f1: f64,
}

impl Score {
    /// Of `hits` among `estimated` and `reference` notes; all 0 where either list is empty.
    pub(super) fn of(hits: usize, estimated: usize, reference: usize) -> Self {
        if estimated == 0 || reference == 0 {
            return Self::default();
        }
        let precision = hits as f64 / estimated as f64;
        let recall = hits as f64 / reference as f64;
        let sum = precision + recall;
        Self { precision, recall, f1: if sum > 0.0 { 2.0 * precision * recall / sum } else { 0.0 } }
    }
}

/// Pairs (index of the true note, index of the heard note), by true note: as many as there can be, near onsets
/// before far ones where there is a choice.
pub(super) fn matched(reference: &[Sounded], estimated: &[Sounded], rule: Rule) -> Vec<(usize, usize)> {
    let mut edges = Vec::new();
    for (i, truth) in reference.iter().enumerate() {
        for (j, heard) in estimated.iter().enumerate() {
            if agrees(truth, heard, rule) {
                edges.push(((truth.onset - heard.onset).abs(), i, j));
            }
        }
    }
    edges.sort_by(|a, b| a.partial_cmp(b).unwrap_or(std::cmp::Ordering::Equal));
    let mut graph = Graph::new(reference.len(), estimated.len());
    for (_, i, j) in edges {
        graph.join(i, j);
    }
    graph.grow();
    let pairs = graph.partner_of_left.iter().enumerate();
    pairs.filter_map(|(i, partner)| partner.map(|j| (i, j))).collect()
}

/// Rounded to 0.1 ms, halves to even.
fn rounded(seconds: f64) -> f64 {
    (seconds * 1e4).round_ties_even() / 1e4
}

fn agrees(truth: &Sounded, heard: &Sounded, rule: Rule) -> bool {
    if rounded((truth.onset - heard.onset).abs()) > ONSET_S {
        return false;
    }
    let cents = (1200.0 * (truth.hertz().log2() - heard.hertz().log2())).abs();
    match rule {
        Rule::OnsetOnly => true,
        Rule::Onset => cents <= CENTS,
        Rule::AnyOctave => {
            let within = (truth.midi - heard.midi).abs() % 12.0;
            within.min(12.0 - within) <= CENTS / 100.0
        }
        Rule::OnsetAndOffset => {
            let tolerance = (OFFSET_SHARE * truth.length()).max(OFFSET_S);
            cents <= CENTS && rounded((truth.offset - heard.offset).abs()) <= tolerance
        }
    }
}

/// A bipartite graph with a matching that grows by augmenting paths (Berge 1957).
struct Graph {
    neighbours: Vec<Vec<usize>>,
    partner_of_left: Vec<Option<usize>>,
    partner_of_right: Vec<Option<usize>>,
}

impl Graph {
    fn new(left: usize, right: usize) -> Self {
        Self {
            neighbours: vec![Vec::new(); left],
            partner_of_left: vec![None; left],
            partner_of_right: vec![None; right],
        }
    }

    /// Adds an edge and takes it into the matching when both ends are free.
    fn join(&mut self, left: usize, right: usize) {
        self.neighbours[left].push(right);
        if self.partner_of_left[left].is_none() && self.partner_of_right[right].is_none() {
            self.partner_of_left[left] = Some(right);
            self.partner_of_right[right] = Some(left);
        }
    }

    /// Makes the matching a largest one.
    fn grow(&mut self) {
        for left in 0..self.neighbours.len() {
            if self.partner_of_left[left].is_none() {
                self.augment(left);
            }
        }
    }

    /// Looks for an alternating path from a free vertex on the left to a free one on the right and flips it.
    fn augment(&mut self, start: usize) {
        let mut reached_from: Vec<Option<usize>> = vec![None; self.partner_of_right.len()];
        let mut queue = VecDeque::from([start]);
        while let Some(left) = queue.pop_front() {
            for &right in &self.neighbours[left] {
                if reached_from[right].is_some() {
                    continue;
                }
                reached_from[right] = Some(left);
                match self.partner_of_right[right] {
                    Some(next) => queue.push_back(next),
                    None => return self.flip(right, &reached_from),
                }
            }
        }
    }

    fn flip(&mut self, end: usize, reached_from: &[Option<usize>]) {
        let mut right = Some(end);
        while let Some(at) = right {
            let Some(left) = reached_from[at] else { return };
            right = self.partner_of_left[left].replace(at);
            self.partner_of_right[at] = Some(left);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(onset: f64, offset: f64, midi: f64) -> Sounded {
        Sounded { onset, offset, midi, confidence: None }
    }

    fn hits(reference: &[Sounded], estimated: &[Sounded], rule: Rule) -> usize {
        matched(reference, estimated, rule).len()
    }

    #[test]
    fn fifty_milliseconds_count_and_a_tenth_more_does_not() {
        let truth = [note(1.0, 2.0, 40.0)];
        assert_eq!(hits(&truth, &[note(1.05, 2.0, 40.0)], Rule::Onset), 1);
        assert_eq!(hits(&truth, &[note(1.05004, 2.0, 40.0)], Rule::Onset), 1);
        assert_eq!(hits(&truth, &[note(1.0501, 2.0, 40.0)], Rule::Onset), 0);
    }

    #[test]
    fn what_must_agree_is_as_the_rule_says() {
        let truth = [note(1.0, 2.0, 40.0)];
        let heard = [note(1.01, 2.3, 52.0)];
        assert_eq!(hits(&truth, &heard, Rule::Onset), 0);
        assert_eq!(hits(&truth, &heard, Rule::AnyOctave), 1);
        assert_eq!(hits(&truth, &[note(1.0, 2.2, 40.0)], Rule::OnsetAndOffset), 1);
        assert_eq!(hits(&truth, &[note(1.0, 2.21, 40.0)], Rule::OnsetAndOffset), 0);
        assert_eq!(hits(&truth, &[note(1.0, 2.0, 43.0)], Rule::OnsetOnly), 1);
    }

    #[test]
    fn the_nearest_pairs_first_would_leave_one_out_so_a_path_is_flipped() {
        // The second heard note is nearest to the first true one, but only it can stand for the second.
        let truth = [note(1.00, 1.1, 40.0), note(1.06, 1.2, 40.0)];
        let heard = [note(0.96, 1.1, 40.0), note(1.015, 1.2, 40.0)];
        assert_eq!(matched(&truth, &heard, Rule::Onset), [(0, 0), (1, 1)]);
    }

    #[test]
    fn nothing_heard_or_nothing_there_scores_nought() {
        assert_eq!(Score::of(0, 0, 3), Score::default());
        assert_eq!(Score::of(0, 3, 0), Score::default());
        assert!((Score::of(1, 2, 1).f1 - 2.0 / 3.0).abs() < 1e-12);
    }
}
