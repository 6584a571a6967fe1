//! The likeliest course of beats under onsets, at tempi near one: exact, by dynamic programming.
//!
//! A state is an instant (on a grid of [`FRAME_S`]) at which a beat falls, with the length of the beat that starts
//! there. From each, the next beat comes one length later; the length may then change a little, which costs as a random
//! walk of the tempo does. The notes within a beat cost what the nearest plain parts of it ask. The best way through
//! (Viterbi) is the course with the least cost of all, whatever the tempo does on the way: a later note can still change
//! what was believed about an earlier beat. The state space is the one of bar-pointer models (Whiteley, Cemgil and
//! Godsill 2006) with the tempo changing at beats only (Krebs, Böck and Widmer 2015).

/// Distance between instants.
const FRAME_S: f64 = 0.010;
/// Ratio between neighbouring lengths of a beat.
const STEP: f64 = 1.015;
/// A note within this part of a beat before the next one is taken for the next.
const EARLY: f64 = 0.14;
/// Most a note can cost.
const MOST: f32 = 6.0;

/// Into what a beat falls.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Kind {
    /// Halves and quarters.
    Twos,
    /// Thirds and sixths.
    Threes,
}

/// What is known of the course.
#[derive(Clone, Copy, Debug)]
pub(super) struct Known {
    /// Shortest and longest beat, in seconds.
    pub(super) periods: (f64, f64),
    /// An instant at which a beat falls.
    pub(super) beat_at: Option<f64>,
    pub(super) kind: Kind,
    /// Standard deviation of onsets, in seconds.
    pub(super) spread_s: f64,
    /// Standard deviation of the change of a beat's length from beat to beat, as a part of it.
    pub(super) wander: f64,
}

/// A part of the beat (from, to; equal for a point) and what a note there costs.
type Part = (f32, f32, f32);
/// Sets of parts a beat may fall into, with the cost of each set.
const TWOS: [(f32, &[Part]); 3] = [
    (0.0, &[(0.0, 0.0, 0.0), (0.5, 0.5, 0.5), (0.25, 0.25, 1.6), (0.75, 0.75, 1.3)]),
    (1.5, &[(0.0, 0.0, 0.0), (1.0 / 3.0, 1.0 / 3.0, 0.9), (2.0 / 3.0, 2.0 / 3.0, 0.6)]),
    (0.4, &[(0.0, 0.0, 0.0), (0.53, 0.69, 0.9)]),
];
const THREES: [(f32, &[Part]); 1] = [(
    0.0,
    &[
        (0.0, 0.0, 0.0),
        (1.0 / 3.0, 1.0 / 3.0, 0.6),
        (2.0 / 3.0, 2.0 / 3.0, 0.5),
        (1.0 / 6.0, 1.0 / 6.0, 1.8),
        (0.5, 0.5, 1.6),
        (5.0 / 6.0, 5.0 / 6.0, 1.6),
    ],
)];
/// Cost of a beat on which no note starts, and of one in which none does.
const UNSTRUCK: f32 = 0.9;
const SILENT: f32 = 1.6;

/// Where a course begins.
const START: u32 = u32::MAX;

/// Instants of the beats, from the one at or before the first onset to the one after the last. `onsets` rise and are
/// at least one. `None` when nothing fits.
pub(super) fn course(onsets: &[f64], known: &Known) -> Option<Vec<f64>> {
    let (&first, &last) = (onsets.first()?, onsets.last()?);
    let (shortest, longest) = known.periods;
    let count = ((longest / shortest).ln() / STEP.ln()).round().max(0.0) as usize + 1;
    let periods: Vec<f64> = (0..count).map(|j| shortest * STEP.powi(j as i32) / FRAME_S).collect();
    let origin = match known.beat_at {
        // Far enough before the first note and the known beat.
        Some(at) => at.min(first) - 2.0 * longest * STEP,
        None => first - longest * STEP,
    };
    let frames = ((last - origin) / FRAME_S).ceil() as usize + (1.2 * longest * STEP / FRAME_S) as usize + 2;
    if frames.saturating_mul(count) > 60_000_000 {
        return None;
    }
    let notes: Vec<f64> = onsets.iter().map(|t| (t - origin) / FRAME_S).collect();
    let (first, last) = (notes[0], notes[notes.len() - 1]);
    let parts: &[(f32, &[Part])] = if known.kind == Kind::Twos { &TWOS } else { &THREES };
    let spread = (known.spread_s / FRAME_S) as f32;

    let mut cost = vec![f32::INFINITY; frames * count];
    let mut back = vec![START; frames * count];
    for (j, &p) in periods.iter().enumerate() {
        let starts = match known.beat_at {
            None => (first - (1.0 - EARLY) * p).ceil().max(0.0)..=(first + EARLY * p).floor(),
            Some(at) => {
                let at = (at - origin) / FRAME_S;
                let earliest = first.min(at) - (1.0 - EARLY) * p;
                let start = (at - ((at - earliest) / p).floor() * p).round();
                start..=start
            }
        };
        let (mut t, end) = (*starts.start(), *starts.end());
        while t <= end {
            if let Some(c) = cost.get_mut(t as usize * count + j) {
                *c = 0.0;
            }
            t += 1.0;
        }
    }
    let walk: Vec<f32> = (0..4)
        .map(|d| {
            let change = d as f64 * STEP.ln() / known.wander;
            (0.5 * change * change) as f32
        })
        .collect();
    let mut best: Option<(f32, usize)> = None;
    let mut from = 0;
    for t in 0..frames {
        while from < notes.len() && notes[from] < t as f64 - 0.2 * periods[count - 1] {
            from += 1;
        }
        for (j, &p) in periods.iter().enumerate() {
            let here = cost[t * count + j];
            if !here.is_finite() {
                continue;
            }
            let open = t as f64 - EARLY * p;
            if open > last {
                if best.is_none_or(|b| here < b.0) {
                    best = Some((here, t * count + j));
                }
                continue;
            }
            let paid = here + inside(&notes[from..], t as f64, p, spread, parts);
            let exact = t as f64 + p;
            let low = exact.floor();
            for next in [low, low + 1.0] {
                let t2 = next as usize;
                if t2 >= frames {
                    continue;
                }
                let off = (next - exact) as f32;
                let paid = paid + 0.15 * off * off;
                for j2 in j.saturating_sub(3)..(j + 4).min(count) {
                    let total = paid + walk[j.abs_diff(j2)];
                    let state = t2 * count + j2;
                    if total < cost[state] {
                        cost[state] = total;
                        back[state] = (t * count + j) as u32;
                    }
                }
            }
        }
    }
    let (_, mut state) = best?;
    let mut beats = vec![origin + (state / count) as f64 * FRAME_S];
    while back[state] != START {
        state = back[state] as usize;
        beats.push(origin + (state / count) as f64 * FRAME_S);
    }
    beats.reverse();
    Some(beats)
}

/// What the notes within a beat cost.
fn inside(notes: &[f64], t: f64, p: f64, spread: f32, sets: &[(f32, &[Part])]) -> f32 {
    let (open, close) = (t - EARLY * p, t + (1.0 - EARLY) * p);
    let low = notes.iter().position(|n| *n >= open).unwrap_or(notes.len());
    let held = &notes[low..];
    let high = held.iter().position(|n| *n >= close).unwrap_or(held.len());
    if high == 0 {
        return SILENT;
    }
    let scale = p as f32 / spread;
    let mut best = f32::INFINITY;
    for &(set, parts) in sets {
        let mut sum = set;
        let mut struck = false;
        for note in &held[..high] {
            let at = ((note - t) / p) as f32;
            let (mut least, mut on) = (f32::INFINITY, false);
            for &(from, to, price) in parts {
                let z = (if at < from { from - at } else { (at - to).max(0.0) }) * scale;
                let paid = (0.5 * z * z).min(MOST) + price;
                if paid < least {
                    (least, on) = (paid, to == 0.0);
                }
            }
            sum += least;
            struck |= on;
        }
        best = best.min(sum + if struck { 0.0 } else { UNSTRUCK });
    }
    best
}
