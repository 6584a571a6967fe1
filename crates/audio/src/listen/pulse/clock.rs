//! Beats at instants: the way between seconds and beats, and its smoothing.

/// Instants of consecutive beats, in seconds, rising; at least two.
#[derive(Clone, Debug, PartialEq)]
pub struct Clock {
    times: Vec<f64>,
    // Number of the first of them.
    first: i64,
}

/// One note taken for a place: which beat (with its fraction), and when it was heard.
#[derive(Clone, Copy, Debug)]
pub(super) struct Sighting {
    pub(super) beat: f64,
    pub(super) second: f64,
}

impl Clock {
    /// Even beats: beat 0 at `start` and one every `period` seconds.
    pub(super) fn even(start: f64, period: f64) -> Self {
        Self { times: vec![start, start + period], first: 0 }
    }

    /// Beats at these instants, the first of them numbered `first`; `None` unless they rise and are two or more.
    pub(super) fn new(times: Vec<f64>, first: i64) -> Option<Self> {
        let rising = times.windows(2).all(|w| w[1] > w[0]) && times.iter().all(|t| t.is_finite());
        (rising && times.len() > 1).then_some(Self { times, first })
    }

    /// The same beats, numbered so that what was `zero` is beat 0.
    #[must_use]
    pub(super) fn counted_from(&self, zero: i64) -> Self {
        Self { times: self.times.clone(), first: self.first - zero }
    }

    /// The same pulse shifted later by a part of a beat.
    pub(super) fn shifted(&self, part: f64) -> Option<Self> {
        let shifted = (0..self.times.len()).map(|k| self.second_at(self.first as f64 + k as f64 + part));
        Self::new(shifted.collect(), self.first)
    }

    /// Beats of so many of these, one of them `offset` beats after beat 0; over the same time, a little longer.
    pub(super) fn rated(&self, ratio: f64, offset: f64) -> Option<Self> {
        let (low, high) = (self.first as f64, (self.first + self.times.len() as i64 - 1) as f64);
        let (from, to) = (((low - offset) / ratio).floor() as i64, ((high - offset) / ratio).ceil() as i64);
        Self::new((from..=to).map(|k| self.second_at(offset + k as f64 * ratio)).collect(), from)
    }

    /// Position of an instant in beats; before the first and after the last known beat their tempo goes on.
    #[must_use]
    pub fn beats_at(&self, second: f64) -> f64 {
        let last = self.times.len() - 2;
        let k = self.times.partition_point(|t| *t <= second).saturating_sub(1).min(last);
        let (a, b) = (self.times[k], self.times[k + 1]);
        (self.first + k as i64) as f64 + (second - a) / (b - a)
    }

    /// The instant of a position in beats.
    #[must_use]
    pub fn second_at(&self, beat: f64) -> f64 {
        let last = self.times.len() - 2;
        let at = beat - self.first as f64;
        let k = (at.floor().max(0.0) as usize).min(last);
        let (a, b) = (self.times[k], self.times[k + 1]);
        a + (at - k as f64) * (b - a)
    }

    /// Numbered beats with their instants.
    pub fn beats(&self) -> impl Iterator<Item = (i64, f64)> {
        (self.first..).zip(self.times.iter().copied())
    }

    /// Length of a beat in seconds, the mean of the whole.
    #[must_use]
    pub fn beat_s(&self) -> f64 {
        let (first, last) = (self.times[0], self.times[self.times.len() - 1]);
        (last - first) / (self.times.len() - 1) as f64
    }

    /// What the changes of the beat's length cost as a random walk of the tempo, in nats.
    pub(super) fn unrest(&self, wander: f64) -> f64 {
        let allowed = wander * self.beat_s();
        self.times.windows(3).map(|w| 0.5 * ((w[2] - 2.0 * w[1] + w[0]) / allowed).powi(2)).sum()
    }

    /// The beats that notes seen at these places speak for, from the first to the last.
    ///
    /// Minus the logarithm of the probability that is made least: the squared distance of every note from its place,
    /// over the variance `spread_s²`, plus the squared change of the beat's length from beat to beat, over
    /// `(wander · beat)²`. That is the smoothing of a random walk of the tempo (a Kalman smoother; Cemgil, Kappen,
    /// Desain and Honing 2000 track tempo with the filter of the same model), looking forward and back; solved
    /// exactly, as the equations have five diagonals. Notes farther off than 2.5 standard deviations count less and
    /// less (Huber).
    pub(super) fn smoothed(&self, seen: &[Sighting], spread_s: f64, wander: f64) -> Option<Self> {
        let low = seen.iter().map(|s| s.beat.floor()).fold(f64::INFINITY, f64::min);
        let high = seen.iter().map(|s| s.beat.floor() + 1.0).fold(f64::NEG_INFINITY, f64::max);
        if !(low.is_finite() && high.is_finite()) || high - low > 1e6 {
            return None;
        }
        let count = ((high - low) as usize + 1).max(2);
        let first = low as i64;
        let mut now: Vec<f64> = (0..count).map(|k| self.second_at(low + k as f64)).collect();
        let bend = 1.0 / (wander * self.beat_s()).powi(2);
        for _ in 0..2 {
            // Upper half of the symmetric equations, by rows: the diagonal and the two right of it.
            let mut rows = vec![[1e-3, 0.0, 0.0]; count];
            let mut right: Vec<f64> = now.iter().map(|t| 1e-3 * t).collect();
            for s in seen {
                let k = ((s.beat - low) as usize).min(count - 2);
                let part = s.beat - low - k as f64;
                let off = (s.second - (now[k] * (1.0 - part) + now[k + 1] * part)).abs() / spread_s;
                let weight = if off > 2.5 { 2.5 / off } else { 1.0 } / (spread_s * spread_s);
                rows[k][0] += weight * (1.0 - part) * (1.0 - part);
                rows[k][1] += weight * (1.0 - part) * part;
                rows[k + 1][0] += weight * part * part;
                right[k] += weight * (1.0 - part) * s.second;
                right[k + 1] += weight * part * s.second;
            }
            for k in 0..count - 2 {
                for (i, a) in [1.0, -2.0, 1.0].into_iter().enumerate() {
                    for (j, b) in [1.0, -2.0, 1.0].into_iter().enumerate().skip(i) {
                        rows[k + i][j - i] += bend * a * b;
                    }
                }
            }
            now = solve(rows, right);
        }
        Self::new(now, first)
    }
}

/// Solves a symmetric positive definite system of five diagonals (Cholesky, LDLᵀ).
fn solve(mut rows: Vec<[f64; 3]>, mut right: Vec<f64>) -> Vec<f64> {
    let n = rows.len();
    for k in 0..n {
        let [d, a, b] = rows[k];
        for (i, f) in [(1, a / d), (2, b / d)] {
            if k + i < n {
                right[k + i] -= f * right[k];
                rows[k + i][0] -= f * rows[k][i];
                if i == 1 && k + 2 < n {
                    rows[k + 1][1] -= f * rows[k][2];
                }
            }
        }
    }
    for k in (0..n).rev() {
        let mut x = right[k];
        for i in 1..3 {
            if k + i < n {
                x -= rows[k][i] * right[k + i];
            }
        }
        right[k] = x / rows[k][0];
    }
    right
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn there_and_back() {
        let clock = Clock::new(vec![1.0, 1.5, 2.1, 2.6], -1).unwrap();
        for beat in [-2.3, -1.0, -0.25, 0.0, 0.7, 1.5, 2.0, 3.4] {
            assert!((clock.beats_at(clock.second_at(beat)) - beat).abs() < 1e-12, "{beat}");
        }
        assert_eq!(clock.second_at(0.0), 1.5);
        assert_eq!(clock.counted_from(1).second_at(0.0), 2.1);
        assert!(Clock::new(vec![1.0, 1.0], 0).is_none() && Clock::new(vec![1.0], 0).is_none());
    }

    /// Against the same equations solved whole (Gauss).
    #[test]
    fn five_diagonals_are_solved_as_the_whole_system_is() {
        let n = 7;
        let rows: Vec<[f64; 3]> = (0..n).map(|k| [9.0 + k as f64, -2.0 - 0.3 * k as f64, 1.0]).collect();
        let right: Vec<f64> = (0..n).map(|k| (k * k) as f64 - 3.0).collect();
        let mut full = vec![vec![0.0; n + 1]; n];
        for k in 0..n {
            for i in 0..3.min(n - k) {
                full[k][k + i] = rows[k][i];
                full[k + i][k] = rows[k][i];
            }
            full[k][n] = right[k];
        }
        for k in 0..n {
            let pivot = full[k].clone();
            for row in &mut full[k + 1..] {
                let f = row[k] / pivot[k];
                for (a, b) in row.iter_mut().zip(&pivot) {
                    *a -= f * b;
                }
            }
        }
        let mut whole = vec![0.0; n];
        for k in (0..n).rev() {
            let known: f64 = (k + 1..n).map(|c| full[k][c] * whole[c]).sum();
            whole[k] = (full[k][n] - known) / full[k][k];
        }
        for (a, b) in solve(rows, right).iter().zip(&whole) {
            assert!((a - b).abs() < 1e-9, "{a} {b}");
        }
    }

    #[test]
    fn a_tempo_that_rises_by_five_percent_is_followed_both_ways() {
        let true_second = |beat: f64| 0.6 * (beat - 0.05 * beat * beat / 128.0);
        let seen: Vec<Sighting> = (0..128)
            .map(|i| {
                let beat = f64::from(i) / 2.0;
                let jitter = 0.015 * (f64::from(i * 7 % 5) / 2.0 - 1.0);
                Sighting { beat, second: true_second(beat) + jitter }
            })
            .collect();
        let clock = Clock::even(0.0, 0.6).smoothed(&seen, 0.015, 0.005).unwrap();
        for beat in 0..64 {
            let off = clock.second_at(f64::from(beat)) - true_second(f64::from(beat));
            assert!(off.abs() < 0.012, "beat {beat} is {:.1} ms off", off * 1e3);
        }
    }
}
