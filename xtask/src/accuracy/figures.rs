//! The figures of one listener on one variant of a set.

use super::confidence::{Calibration, Claim, judge};
use super::kinds::{Kind, kinds, slices};
use super::matching::{Rule, Score, matched};
use super::notes::Sounded;
use super::sets::Piece;
use std::collections::BTreeMap;

/// The measures, in the order of the table.
pub(super) const RULES: [(Rule, &str); 4] = [
    (Rule::Onset, "onset + pitch"),
    (Rule::OnsetAndOffset, "onset + pitch + offset"),
    (Rule::AnyOctave, "onset + pitch, any octave"),
    (Rule::OnsetOnly, "onset only"),
];

/// What was found out about one variant of a set, file by file.
#[derive(Clone, Debug, Default)]
pub(super) struct Figures {
    /// Each file's name and its scores in the order of [`RULES`].
    pub(super) files: Vec<(String, [Score; RULES.len()])>,
    pub(super) reference_notes: usize,
    pub(super) estimated_notes: usize,
    pub(super) kinds: BTreeMap<Kind, usize>,
    pub(super) slices: BTreeMap<&'static str, (usize, usize)>,
    /// Heard minus true onset of every hit, in seconds.
    onset_errors: Vec<f64>,
    claims: Vec<Claim>,
    /// CPU seconds used and seconds of sound heard; `None` where it could not be measured.
    pub(super) cpu: Option<(f64, f64)>,
    /// Peak memory in bytes.
    pub(super) peak_bytes: Option<u64>,
}

impl Figures {
    /// Adds what was heard in one file, and says for each heard note whether it is right.
    pub(super) fn add(&mut self, piece: &Piece, heard: &[Sounded]) -> Vec<bool> {
        let reference = &piece.reference;
        let pairs = RULES.map(|(rule, _)| matched(reference, heard, rule));
        let scores = [0, 1, 2, 3].map(|k| Score::of(pairs[k].len(), heard.len(), reference.len()));
        self.files.push((piece.name.clone(), scores));
        self.reference_notes += reference.len();
        self.estimated_notes += heard.len();
        let hits = &pairs[0];
        for (kind, count) in kinds(reference, heard, hits, &piece.beyond) {
            *self.kinds.entry(kind).or_insert(0) += count;
        }
        for (name, (found, there)) in slices(reference, hits, &piece.beyond) {
            let sum = self.slices.entry(name).or_insert((0, 0));
            *sum = (sum.0 + found, sum.1 + there);
        }
        self.onset_errors.extend(hits.iter().map(|&(i, j)| heard[j].onset - reference[i].onset));
        let mut right = vec![false; heard.len()];
        for &(_, j) in hits {
            right[j] = true;
        }
        let claims = heard.iter().zip(&right);
        self.claims.extend(
            claims.filter_map(|(note, &right)| note.confidence.map(|confidence| Claim { confidence, right })),
        );
        right
    }

    /// Adds what hearing one file took.
    pub(super) fn add_cost(&mut self, cpu_s: Option<f64>, seconds: f64, peak_bytes: Option<u64>) {
        if let Some(cpu_s) = cpu_s {
            let (cpu, sound) = self.cpu.unwrap_or((0.0, 0.0));
            self.cpu = Some((cpu + cpu_s, sound + seconds));
        }
        self.peak_bytes = self.peak_bytes.max(peak_bytes);
    }

    /// The mean over the files of each measure.
    pub(super) fn means(&self) -> [Score; RULES.len()] {
        let count = self.files.len().max(1) as f64;
        let mean = |k: usize, part: fn(&Score) -> f64| {
            self.files.iter().map(|(_, scores)| part(&scores[k])).sum::<f64>() / count
        };
        [0, 1, 2, 3].map(|k| Score {
            precision: mean(k, |score| score.precision),
            recall: mean(k, |score| score.recall),
            f1: mean(k, |score| score.f1),
        })
    }

    /// CPU seconds per second of sound.
    pub(super) fn cpu_per_s(&self) -> Option<f64> {
        self.cpu.map(|(cpu, seconds)| cpu / seconds.max(1e-9))
    }

    /// Mean and standard deviation of heard minus true onset, in seconds.
    pub(super) fn onset_bias(&self) -> Option<(f64, f64)> {
        let count = self.onset_errors.len() as f64;
        if count == 0.0 {
            return None;
        }
        let mean = self.onset_errors.iter().sum::<f64>() / count;
        let squares: f64 = self.onset_errors.iter().map(|error| (error - mean).powi(2)).sum();
        Some((mean, (squares / count).sqrt()))
    }

    /// How good the confidences are; `None` when none were given.
    pub(super) fn calibration(&self) -> Option<Calibration> {
        judge(&self.claims)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn piece(notes: &[(f64, f64, f64)]) -> Piece {
        let reference = notes
            .iter()
            .map(|&(onset, offset, midi)| Sounded { onset, offset, midi, confidence: None })
            .collect();
        Piece { name: "a".to_owned(), reference, beyond: Default::default() }
    }

    #[test]
    fn means_are_over_files_and_onset_errors_over_hits() {
        let mut figures = Figures::default();
        let one = piece(&[(1.0, 2.0, 40.0)]);
        let heard = Sounded { onset: 1.02, offset: 2.0, midi: 40.0, confidence: Some(0.9) };
        assert_eq!(figures.add(&one, &[heard]), [true]);
        assert_eq!(figures.add(&one, &[]), [false; 0]);
        assert_eq!(figures.means()[0].f1, 0.5);
        let (bias, spread) = figures.onset_bias().unwrap();
        assert!((bias - 0.02).abs() < 1e-9 && spread < 1e-9);
        assert_eq!(figures.calibration().unwrap().wrong, 0);
        figures.add_cost(Some(0.5), 10.0, Some(7));
        figures.add_cost(Some(0.5), 10.0, Some(5));
        assert_eq!((figures.cpu_per_s(), figures.peak_bytes), (Some(0.05), Some(7)));
    }
}
