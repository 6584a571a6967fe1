//! What a reading of the beats costs before bars are laid over them: how exactly it fits, how plainly the beats are
//! divided, and at what pace even lines go.

use super::LEAST_SPREAD_S;
use super::bars::{Placed, TICKS};
use super::course::Kind;
use super::tracks::{Track, quarters};
use super::weights::{EVEN, LEFT_OUT, OWN_HABIT, PUMP, PUMPS, WALK, WALKS};
use riffkin_score::rhythm;
use std::collections::BTreeMap;

/// Minus the logarithm of the density of the onsets around their places, in nats, per second.
pub(super) fn timing(track: &Track) -> f64 {
    let scale = track.clock.beat_s() / quarters(track.kind);
    let spread = track.spread_s.max(LEAST_SPREAD_S);
    let squares: f64 = track.reading.notes.iter().map(|n| (n.late * scale / spread).powi(2).min(12.0)).sum();
    0.5 * squares + track.reading.notes.len() as f64 * (spread * (2.0 * std::f64::consts::PI).sqrt()).ln()
}

/// What speaks for the pace of a line of even notes; nats.
pub(super) fn pace(placed: &[Placed], kind: Kind) -> f64 {
    let mut gaps: BTreeMap<i64, usize> = BTreeMap::new();
    for pair in placed.windows(2) {
        *gaps.entry(pair[1].tick - pair[0].tick).or_default() += 1;
    }
    let Some((&gap, &count)) = gaps.iter().max_by_key(|g| *g.1) else { return 0.0 };
    let pairs = placed.len() as f64 - 1.0;
    if (count as f64) < EVEN * pairs {
        return 0.0;
    }
    let changes = placed.windows(2).filter(|w| w[0].midi != w[1].midi).count() as f64 / pairs;
    let division = TICKS / if kind == Kind::Twos { 2 } else { 3 };
    match () {
        () if changes >= WALKS && gap == TICKS => WALK,
        () if changes <= PUMPS && gap == division => PUMP.0,
        () if changes <= PUMPS && gap * 2 == division => PUMP.1,
        () => 0.0,
    }
}

/// What it costs to tell how every beat is divided, in nats: as the table of divisions has it at first, and more and
/// more as this line does it (a Pólya urn). `all` counts the notes that were heard.
pub(super) fn division(all: usize, placed: &[Placed], kind: Kind) -> f64 {
    let mut beats: Vec<(i64, u32)> = Vec::new();
    for note in placed {
        let (beat, slot) = (note.tick.div_euclid(TICKS), 1u32 << note.tick.rem_euclid(TICKS));
        match beats.last_mut() {
            Some(last) if last.0 == beat => last.1 |= slot,
            _ => {
                if let Some(last) = beats.last().copied() {
                    beats.extend((last.0 + 1..beat).take(64).map(|b| (b, 0)));
                }
                beats.push((beat, slot));
            }
        }
    }
    let mut seen: BTreeMap<u32, f64> = BTreeMap::new();
    let mut cost = (all - placed.len().min(all)) as f64 * LEFT_OUT;
    for (told, (_, slots)) in beats.iter().enumerate() {
        let count = seen.entry(*slots).or_default();
        let usual = usual_division(*slots, kind);
        cost -= ((OWN_HABIT * usual + *count) / (OWN_HABIT + told as f64)).ln();
        *count += 1.0;
    }
    cost
}

/// The chance of a beat divided so, from the quantiser's table.
fn usual_division(slots: u32, kind: Kind) -> f64 {
    let struck = |slot: i64| slots & (1 << slot) != 0;
    rhythm::divisions(kind == Kind::Threes)
        .map(|(chance, points)| {
            let step = TICKS / points.len() as i64;
            let on_grid = (0..TICKS).all(|s| s % step == 0 || !struck(s));
            let product: f64 =
                (0..).zip(points).map(|(k, p)| if struck(k * step) { *p } else { 1.0 - p }).product();
            if on_grid { chance * product } else { 0.0 }
        })
        .sum::<f64>()
        .max(1e-6)
}
