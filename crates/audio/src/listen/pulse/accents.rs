//! What loudness and returning pitches say of bar lines: accents on strong points, and a line that comes home there.

use super::bars::{Bars, Placed};
use super::weights::{ACCENT, HABITS, HOME, Level};
use std::collections::BTreeMap;

/// What the notes' levels say for these bars; nats.
///
/// Each note's level is the line's own, plus an accent where the player's habit has one, plus what its pitch adds
/// (strings and frets sound differently loud), plus chance; accent, pitch and chance are normal. How much likelier the
/// levels are with a habit of accents than without one is then exact, whatever the accent's size (a linear model with
/// random effects: Searle, Casella and McCulloch 1992, *Variance Components*, from memory); the habits are weighed by how
/// common they are.
pub(super) fn accents(notes: &[Placed], bars: Bars) -> f64 {
    let heard: Vec<(f64, u8, Level)> = notes
        .iter()
        .filter_map(|n| Some((n.level_db?.clamp(-ACCENT.most, ACCENT.most), n.midi?, bars.level(n.tick))))
        .collect();
    // Levels all alike were not measured, or a machine plays.
    if heard.iter().all(|h| h.0 == heard[0].0) {
        return 0.0;
    }
    let levels: Vec<f64> = heard.iter().map(|h| h.0).collect();
    let pitches = Pitches::new(&heard);
    let ones = vec![1.0; heard.len()];
    let (all, level) = (pitches.product(&ones, &ones), pitches.product(&ones, &levels));
    let mut sum = 0.0;
    for (share, accented) in HABITS {
        let marks: Vec<f64> = heard.iter().map(|h| accented[h.2 as usize]).collect();
        let mean = pitches.product(&marks, &ones);
        let size = pitches.product(&marks, &marks) - mean * mean / all;
        let pull = pitches.product(&marks, &levels) - mean * level / all;
        let precision = 1.0 / (ACCENT.spread * ACCENT.spread);
        let gain = (pull + ACCENT.mean * precision).powi(2) / (size + precision)
            - ACCENT.mean * ACCENT.mean * precision;
        sum += share * (0.5 * gain - 0.5 * (1.0 + size / precision).ln()).exp();
    }
    let none = 1.0 - HABITS.iter().map(|h| h.0).sum::<f64>();
    (none + sum).ln()
}

/// Which notes share a pitch.
struct Pitches {
    of: Vec<usize>,
    /// Notes of each pitch.
    notes: Vec<f64>,
}

impl Pitches {
    fn new(heard: &[(f64, u8, Level)]) -> Self {
        let mut index: BTreeMap<u8, usize> = BTreeMap::new();
        let mut pitches = Self { of: Vec::with_capacity(heard.len()), notes: Vec::new() };
        for &(_, midi, _) in heard {
            let next = index.len();
            let k = *index.entry(midi).or_insert(next);
            if k == next {
                pitches.notes.push(0.0);
            }
            pitches.notes[k] += 1.0;
            pitches.of.push(k);
        }
        pitches
    }

    /// `aᵀ V⁻¹ b`, where V is the covariance of the levels.
    fn product(&self, a: &[f64], b: &[f64]) -> f64 {
        let mut sums = vec![(0.0, 0.0); self.notes.len()];
        let mut plain = 0.0;
        for ((a, b), k) in a.iter().zip(b).zip(&self.of) {
            plain += a * b;
            sums[*k].0 += a;
            sums[*k].1 += b;
        }
        let (chance, pitch) = (ACCENT.chance * ACCENT.chance, ACCENT.pitch * ACCENT.pitch);
        let shared: f64 =
            sums.iter().zip(&self.notes).map(|((a, b), n)| pitch / (chance + n * pitch) * a * b).sum();
        (plain - shared) / chance
    }
}

/// What is saved by telling that one pitch class is more often on bar lines than elsewhere; nats. Which one, and how
/// often, is left open (counts with a beta prior).
pub(super) fn home(notes: &[Placed], bars: Bars) -> f64 {
    let mut on_line = [0usize; 12];
    let mut elsewhere = [0usize; 12];
    for note in notes {
        let Some(midi) = note.midi else { continue };
        let count = if bars.level(note.tick) == Level::Bar { &mut on_line } else { &mut elsewhere };
        count[usize::from(midi % 12)] += 1;
    }
    let (lines, others) = (on_line.iter().sum::<usize>(), elsewhere.iter().sum::<usize>());
    let mut gains = Vec::with_capacity(12);
    for (there, here) in on_line.iter().zip(elsewhere) {
        if there + here > 0 {
            let apart = urn(*there, lines, HOME.0) + urn(here, others, HOME.1);
            gains.push((apart - urn(there + here, lines + others, HOME.1)).exp());
        }
    }
    if gains.is_empty() { 0.0 } else { (gains.iter().sum::<f64>() / gains.len() as f64).ln() }
}

/// Logarithm of the probability of `hits` among `all`, in one order, when the chance has a beta distribution.
fn urn(hits: usize, all: usize, (a, b): (f64, f64)) -> f64 {
    let rising = |from: f64, count: usize| (0..count).map(|i| (from + i as f64).ln()).sum::<f64>();
    rising(a, hits) + rising(b, all - hits) - rising(a + b, all)
}

#[cfg(test)]
mod tests {
    use super::super::bars::TICKS;
    use super::*;

    fn eighths(level: impl Fn(usize) -> f64, midi: impl Fn(usize) -> u8) -> Vec<Placed> {
        (0..32)
            .map(|i| Placed {
                tick: i as i64 * TICKS / 2,
                length: TICKS / 2,
                midi: Some(midi(i)),
                level_db: Some(level(i)),
            })
            .collect()
    }

    fn best(of: impl Fn(Bars) -> f64) -> (i64, i64) {
        let bars = [2, 3, 4].into_iter().flat_map(|beats| (0..beats).map(move |start| Bars { beats, start }));
        bars.max_by(|a, b| of(*a).total_cmp(&of(*b))).map(|b| (b.beats, b.start)).unwrap()
    }

    /// Against the same density from the covariance matrix itself, factored (Cholesky).
    #[test]
    fn products_are_those_of_the_whole_covariance() {
        let heard: Vec<(f64, u8, Level)> =
            [(1.0, 40), (-0.5, 43), (2.0, 40), (0.3, 40), (-1.2, 43), (0.8, 45)]
                .iter()
                .map(|&(l, m)| (l, m, Level::Beat))
                .collect();
        let n = heard.len();
        let mut lower = vec![vec![0.0f64; n]; n];
        for i in 0..n {
            for j in 0..=i {
                let mut v = if heard[i].1 == heard[j].1 { ACCENT.pitch.powi(2) } else { 0.0 };
                v += if i == j { ACCENT.chance.powi(2) } else { 0.0 };
                v -= (0..j).map(|k| lower[i][k] * lower[j][k]).sum::<f64>();
                lower[i][j] = if i == j { v.sqrt() } else { v / lower[j][j] };
            }
        }
        let solved = |x: &[f64]| {
            let mut z = vec![0.0; n];
            for i in 0..n {
                z[i] = (x[i] - (0..i).map(|k| lower[i][k] * z[k]).sum::<f64>()) / lower[i][i];
            }
            z
        };
        let a: Vec<f64> = heard.iter().map(|h| h.0).collect();
        let b = [1.0, 0.0, 0.0, 1.0, 0.0, 1.0];
        let whole: f64 = solved(&a).iter().zip(solved(&b)).map(|(x, y)| x * y).sum();
        assert!((Pitches::new(&heard).product(&a, &b) - whole).abs() < 1e-12);
    }

    #[test]
    fn accents_every_three_beats_speak_for_bars_of_three() {
        let three = eighths(|i| if i % 6 == 2 { 3.0 } else { 0.0 }, |_| 40);
        assert_eq!(best(|bars| accents(&three, bars)), (3, 1));
        let four = Bars { beats: 4, start: 0 };
        let elsewhere = eighths(|i| if i % 4 == 3 { 3.0 } else { 0.0 }, |_| 40);
        assert!(accents(&elsewhere, four) < 0.0, "accents off the beat speak against it");
        assert_eq!(accents(&eighths(|_| 0.0, |_| 40), four), 0.0);
        let unknown: Vec<Placed> = three.iter().map(|p| Placed { level_db: None, ..*p }).collect();
        assert_eq!(accents(&unknown, four), 0.0);
    }

    #[test]
    fn a_pitch_that_is_loud_by_itself_is_hardly_an_accent() {
        let bars = Bars { beats: 4, start: 0 };
        let loud = |i: usize| if i.is_multiple_of(8) { 3.0 } else { 0.0 };
        let one_pitch = accents(&eighths(loud, |_| 40), bars);
        let own_pitch = accents(&eighths(loud, |i| if i.is_multiple_of(8) { 28 } else { 40 }), bars);
        assert!(own_pitch < 0.5 * one_pitch, "{own_pitch} against {one_pitch}");
    }

    #[test]
    fn a_line_comes_home_on_bar_lines() {
        let line = eighths(|_| 0.0, |i| if i % 6 == 4 { 33 } else { 36 + (i * 5 % 7) as u8 });
        assert_eq!(best(|bars| home(&line, bars)), (3, 2));
        assert_eq!(home(&[], Bars { beats: 4, start: 0 }), 0.0);
    }
}
