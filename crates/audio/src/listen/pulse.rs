//! The beat under a line of onsets: tempo, phase, and where every onset lies on it.
//!
//! A tempo and a phase are likely when the onsets fall near simple parts of the beat. Every tempo of a fine grid
//! is tried with each of the first onsets as a beat; an onset costs its squared distance from the part of the
//! beat it is taken for, in standard deviations, plus what that part costs for not being plainer (Cemgil, Desain
//! and Kappen 2000 weigh accuracy against simplicity in the same way); a beat on which nothing starts costs too.
//! Tempi far from 100 beats a minute cost more (preferred tempi lie around 600 ms; Fraisse 1982, from memory). The
//! winner is refined by least squares and then followed from note to note, so that drift does not add up. A tempo
//! and its double are told apart by these costs alone, which are set by hand: a stated tempo is safer.
//!
//! The road not taken is a beat tracker on the sound itself: a bass line alone has its pulse in its notes, and
//! half of all beats may be silent.

use riffkin_score::meter::Meter;

/// Beats a minute that are tried.
const TEMPI: (f64, f64) = (45.0, 210.0);
/// Ratio between neighbours of the tempi tried.
const STEP: f64 = 1.004;
/// The tempo that costs nothing, beats a minute.
const PREFERRED: f64 = 100.0;
/// How much one standard deviation of [`TEMPO_SPREAD`] away from it costs, in units of one onset's mean cost.
const TEMPO_WEIGHT: f64 = 0.4;
/// Standard deviation of tempo, in natural logarithms.
const TEMPO_SPREAD: f64 = 0.35;
/// Standard deviation of a played onset, in seconds.
const ONSET_S: f64 = 0.02;
/// Most an onset can cost: it may belong nowhere.
const MOST: f64 = 4.5;
/// Onsets the first estimate is made from.
const FIRST: usize = 24;
/// What a beat without an onset costs.
const EMPTY: f64 = 0.3;
/// Share of an onset's distance by which the beat is moved when it is followed, and the period stretched.
const FOLLOW: (f64, f64) = (0.25, 0.03);

/// The pulse of a line.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// Length of a beat in seconds, the middle of the whole line.
    pub beat_s: f64,
    /// Position of every onset in beats; the first beat at or before the first onset is 0.
    pub onsets: Vec<f64>,
    /// Root of the mean squared distance of the onsets from the parts of the beat they are taken for, in seconds.
    pub spread_s: f64,
    /// Beats at known instants (second, beat), rising: the way from seconds to beats.
    clock: Vec<(f64, f64)>,
}

impl Pulse {
    /// Position of an instant in beats.
    #[must_use]
    pub fn beats_at(&self, second: f64) -> f64 {
        let i = self.clock.partition_point(|c| c.0 <= second).saturating_sub(1);
        let (Some(&a), b) = (self.clock.get(i), self.clock.get(i + 1)) else { return second / self.beat_s };
        match b {
            Some(&b) if second >= a.0 && b.0 > a.0 => a.1 + (second - a.0) * (b.1 - a.1) / (b.0 - a.0),
            _ => a.1 + (second - a.0) / self.beat_s,
        }
    }
}

/// A part of the beat and what it costs to be taken for it.
struct Part {
    at: f64,
    cost: f64,
}

fn parts(meter: Meter) -> Vec<Part> {
    let part = |at, cost| Part { at, cost };
    let mut parts = vec![part(0.0, 0.0), part(1.0, 0.0), part(0.5, 0.15)];
    if meter.is_compound() {
        parts[2].cost = 1.0;
        parts.extend([1.0, 2.0].map(|n| part(n / 3.0, 0.15)));
        parts.extend([1.0, 5.0].map(|n| part(n / 6.0, 0.8)));
    } else {
        parts.extend([0.25, 0.75].map(|at| part(at, 0.8)));
        parts.extend([1.0, 2.0].map(|n| part(n / 3.0, 1.0)));
    }
    parts
}

/// The nearest reading of a position: the part of the beat and its cost.
fn read(parts: &[Part], position: f64, beat_s: f64) -> (f64, f64) {
    let (whole, within) = (position.floor(), position - position.floor());
    parts
        .iter()
        .map(|p| {
            let z = (within - p.at) * beat_s / ONSET_S;
            (whole + p.at, (0.5 * z * z).min(MOST) + p.cost)
        })
        .min_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap_or((position, MOST))
}

/// Finds the pulse under onsets (seconds, rising). `beat_s` states the length of a beat; it may then be off by 3 %.
///
/// `None` without an onset. One onset gives the stated or the preferred tempo.
#[must_use]
pub fn pulse(onsets: &[f64], meter: Meter, beat_s: Option<f64>) -> Option<Pulse> {
    let &start = onsets.first()?;
    let parts = parts(meter);
    let head = &onsets[..onsets.len().min(FIRST)];
    let (mut best, mut found) = (f64::INFINITY, (beat_s.unwrap_or(60.0 / PREFERRED), start));
    if onsets.len() > 1 {
        for period in periods(beat_s) {
            for &phase in head.iter().take(6) {
                let (period, phase) = refined(head, &parts, period, phase);
                let cost = cost(head, &parts, period, phase, beat_s.is_some());
                if cost < best {
                    (best, found) = (cost, (period, phase));
                }
            }
        }
    }
    Some(followed(onsets, &parts, found))
}

fn periods(stated: Option<f64>) -> Vec<f64> {
    let (low, high) = match stated {
        Some(s) => (s / 1.03, s * 1.03),
        None => (60.0 / TEMPI.1, 60.0 / TEMPI.0),
    };
    let count = ((high / low).ln() / STEP.ln()).ceil() as i32;
    (0..=count).map(|i| low * STEP.powi(i)).collect()
}

fn cost(onsets: &[f64], parts: &[Part], period: f64, phase: f64, stated: bool) -> f64 {
    let read: Vec<(f64, f64)> = onsets.iter().map(|t| read(parts, (t - phase) / period, period)).collect();
    let sum: f64 = read.iter().map(|r| r.1).sum();
    let mut struck: Vec<i64> = read.iter().filter(|r| r.0.fract() == 0.0).map(|r| r.0 as i64).collect();
    struck.dedup();
    let beats = match (read.first(), read.last()) {
        (Some(first), Some(last)) => (last.0.floor() - first.0.floor() + 1.0).max(1.0),
        _ => 1.0,
    };
    let empty = (beats - struck.len() as f64).max(0.0) * EMPTY;
    let off = (60.0 / period / PREFERRED).ln() / TEMPO_SPREAD;
    (sum + empty) / onsets.len() as f64 + if stated { 0.0 } else { TEMPO_WEIGHT * 0.5 * off * off }
}

/// Period and phase by least squares from the parts of the beat the onsets are taken for.
fn refined(onsets: &[f64], parts: &[Part], period: f64, phase: f64) -> (f64, f64) {
    let n = onsets.len() as f64;
    let read: Vec<f64> = onsets.iter().map(|t| read(parts, (t - phase) / period, period).0).collect();
    let mean_b = read.iter().sum::<f64>() / n;
    let mean_t = onsets.iter().sum::<f64>() / n;
    let (mut above, mut below) = (0.0, 0.0);
    for (b, t) in read.iter().zip(onsets) {
        above += (b - mean_b) * (t - mean_t);
        below += (b - mean_b) * (b - mean_b);
    }
    if below <= 0.0 {
        return (period, phase);
    }
    let slope = above / below;
    // A fit that runs away from its start has taken notes for the wrong parts.
    if (slope / period).ln().abs() > 0.01 {
        return (period, phase);
    }
    (slope, mean_t - slope * mean_b)
}

fn followed(onsets: &[f64], parts: &[Part], (period, phase): (f64, f64)) -> Pulse {
    let first = onsets.first().copied().unwrap_or(phase);
    let zero = read(parts, (first - phase) / period, period).0.floor();
    let (mut period_now, mut at, mut beat) = (period, phase + zero * period, 0.0);
    let mut clock = vec![(at, 0.0)];
    let mut positions = Vec::with_capacity(onsets.len());
    let (mut squares, mut periods) = (0.0, Vec::with_capacity(onsets.len()));
    for &t in onsets {
        let position = beat + (t - at) / period_now;
        let (read, cost) = read(parts, position, period_now);
        let late = (position - read) * period_now;
        squares += late * late;
        positions.push(position);
        if cost < MOST && read > beat {
            // The grid's own time for this part, moved a little towards the player.
            let expected = at + (read - beat) * period_now;
            at = expected + FOLLOW.0 * late;
            period_now *= 1.0 + FOLLOW.1 * late / (read - beat).max(1.0) / period_now;
            beat = read;
            clock.push((at, beat));
        }
        periods.push(period_now);
    }
    periods.sort_by(f64::total_cmp);
    let beat_s = periods.get(periods.len() / 2).copied().unwrap_or(period);
    Pulse { beat_s, onsets: positions, spread_s: (squares / onsets.len().max(1) as f64).sqrt(), clock }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Onsets of a line in beats, played at a tempo with a fixed, made-up unevenness of up to 12 ms.
    fn played(beats: &[f64], per_minute: f64) -> Vec<f64> {
        beats
            .iter()
            .enumerate()
            .map(|(i, b)| 0.31 + b * 60.0 / per_minute + 0.012 * ((i * 7 % 5) as f64 / 2.0 - 1.0))
            .collect()
    }

    const LINES: [&[f64]; 4] = [
        &[0.0, 1.0, 1.5, 2.0, 3.0, 4.0, 4.5, 5.0, 5.5, 6.0, 7.0, 8.0, 9.0, 9.5, 10.0, 11.0],
        &[0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 4.5, 5.0, 5.5, 6.0, 6.5, 7.0, 7.5],
        &[0.0, 0.75, 1.0, 2.0, 2.75, 3.0, 4.0, 4.75, 5.0, 5.5, 6.0, 7.0, 8.0, 8.75, 9.0, 10.0],
        &[0.0, 1.0, 2.0, 3.0, 4.0, 4.0 + 1.0 / 3.0, 4.0 + 2.0 / 3.0, 5.0, 6.0, 7.0, 8.0, 9.0],
    ];

    #[test]
    fn tempo_and_places_of_plain_lines() {
        for line in LINES {
            for tempo in [76.0, 96.0, 120.0] {
                let pulse = pulse(&played(line, tempo), Meter::FOUR_FOUR, None).unwrap();
                let found = 60.0 / pulse.beat_s;
                assert!((found / tempo - 1.0).abs() < 0.02, "{tempo} found as {found} in {line:?}");
                for (want, got) in line.iter().zip(&pulse.onsets) {
                    assert!((want - got).abs() < 0.06, "{want} became {got} at {tempo}");
                }
            }
        }
    }

    #[test]
    fn a_slow_drift_is_followed() {
        let mut at = 0.0;
        let onsets: Vec<f64> = (0..64)
            .map(|i| {
                let now = at;
                at += 0.3 * (1.0 + 0.05 * f64::from(i) / 64.0);
                now
            })
            .collect();
        let pulse = pulse(&onsets, Meter::FOUR_FOUR, Some(0.6)).unwrap();
        let last = pulse.onsets.last().unwrap();
        assert!((last - 31.5).abs() < 0.1, "the last of 64 eighths came to beat {last}");
    }

    #[test]
    fn few_onsets_still_have_a_pulse() {
        assert_eq!(pulse(&[], Meter::FOUR_FOUR, None), None);
        assert_eq!(pulse(&[1.0], Meter::FOUR_FOUR, None).unwrap().onsets, [0.0]);
        let two = pulse(&[1.0, 1.6], Meter::FOUR_FOUR, None).unwrap();
        assert!((two.beats_at(1.6) - 1.0).abs() < 0.05);
        assert!(two.beats_at(0.4) < 0.0);
    }
}
