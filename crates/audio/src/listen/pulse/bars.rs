//! Bar lines over beats: what speaks for a meter and for where its bars start.

use super::weights::{
    CHANGE, END, FIGURE, FIRST, KINDS, Kind, LONG, LOW, Level, STRUCK, STRUCK_ANY, WEIGHTS,
};

/// Ticks in a beat: halves, thirds, quarters and sixths are whole numbers of them.
pub(super) const TICKS: i64 = 24;

/// A note on its place.
#[derive(Clone, Copy, Debug)]
pub(super) struct Placed {
    /// Ticks from beat 0.
    pub(super) tick: i64,
    /// Ticks it sounds.
    pub(super) length: i64,
    /// Sounding MIDI number; `None` for a dead note.
    pub(super) midi: Option<u8>,
}

/// Evidence of every kind, in nats.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub(super) struct Evidence(pub(super) [f64; KINDS]);

impl Evidence {
    pub(super) fn add(&mut self, kind: Kind, nats: f64) {
        self.0[kind as usize] += nats;
    }

    /// All of it, weighed.
    pub(super) fn score(&self) -> f64 {
        self.0.iter().zip(WEIGHTS).map(|(nats, weight)| nats * weight).sum()
    }
}

/// Bars of so many beats, one of which starts at this beat.
#[derive(Clone, Copy, Debug)]
pub(super) struct Bars {
    pub(super) beats: i64,
    pub(super) start: i64,
}

impl Bars {
    fn level(self, tick: i64) -> Level {
        let at = (tick - self.start * TICKS).rem_euclid(self.beats * TICKS);
        if at == 0 {
            Level::Bar
        } else if at % TICKS != 0 {
            Level::Within
        } else if self.beats % 2 == 0 && at * 2 == self.beats * TICKS {
            Level::Middle
        } else {
            Level::Beat
        }
    }

    fn split(self, tick: i64) -> (i64, i64) {
        let from = tick - self.start * TICKS;
        (from.div_euclid(self.beats * TICKS), from.rem_euclid(self.beats * TICKS))
    }
}

/// What the notes, rising, say for these bars.
pub(super) fn evidence(notes: &[Placed], bars: Bars) -> Evidence {
    let mut all = Evidence::default();
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return all };
    all.add(Kind::Figures, figures(notes, bars));
    all.add(Kind::Strong, strong(notes, bars));
    all.add(Kind::Changes, changes(notes, bars));
    all.add(Kind::Low, low(notes, bars));
    all.add(Kind::Long, long(notes, bars));
    let bar = bars.beats * TICKS;
    let places = (bars.beats * 2) as f64;
    let (_, at) = bars.split(first.tick);
    let (on, before, other) = FIRST;
    let chance = match at {
        0 => on,
        at if at * 2 >= bar => before / (places / 2.0),
        _ => other / (places / 2.0),
    };
    all.add(Kind::First, chance.ln());
    let (_, at) = bars.split(last.tick);
    let (_, end) = bars.split(last.tick + last.length);
    let near_end = at > 0 && (end <= TICKS / 6 || bar - end <= TICKS / 2);
    let (on, to) = END;
    let chance = match (at == 0, near_end) {
        (true, _) => on,
        (_, true) => to,
        _ => 1.0 - on - to,
    };
    let chance = chance
        / if at == 0 {
            1.0
        } else if near_end {
            1.0
        } else {
            places
        };
    all.add(Kind::End, chance.ln());
    all
}

/// What is saved by telling a bar as a copy of an earlier one, on the same or on other notes.
fn figures(notes: &[Placed], bars: Bars) -> f64 {
    let mut told: Vec<(i64, Vec<(i64, Option<u8>)>)> = Vec::new();
    for note in notes {
        let (bar, at) = bars.split(note.tick);
        match told.last_mut() {
            Some(last) if last.0 == bar => last.1.push((at, note.midi)),
            _ => told.push((bar, vec![(at, note.midi)])),
        }
    }
    let mut saved = 0.0;
    for (i, bar) in told.iter().enumerate() {
        let earlier = &told[i.saturating_sub(8)..i];
        let best = earlier.iter().map(|e| copy(&e.1, &bar.1)).fold(0.0, f64::max);
        saved += best;
    }
    saved
}

fn copy(from: &[(i64, Option<u8>)], to: &[(i64, Option<u8>)]) -> f64 {
    let mut common = Vec::with_capacity(to.len());
    let mut k = 0;
    for &(at, midi) in to {
        while k < from.len() && from[k].0 < at {
            k += 1;
        }
        if k < from.len() && from[k].0 == at {
            common.push((from[k].1, midi));
        }
    }
    let shifts: Vec<i16> =
        common.iter().filter_map(|(a, b)| Some(i16::from((*b)?) - i16::from((*a)?))).collect();
    let same = |shift: i16| shifts.iter().filter(|s| **s == shift).count() as f64;
    let moved = shifts.iter().map(|s| same(*s)).fold(0.0, f64::max) * FIGURE.pitch - FIGURE.transposed;
    let pitched = (same(0) * FIGURE.pitch).max(moved);
    let wrong = from.len() + to.len() - 2 * common.len();
    common.len() as f64 * FIGURE.place + pitched - wrong as f64 * FIGURE.wrong - FIGURE.copied
}

fn strong(notes: &[Placed], bars: Bars) -> f64 {
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return 0.0 };
    let beat = |tick: i64| tick.div_euclid(TICKS);
    let mut struck = notes.iter().filter(|n| n.tick.rem_euclid(TICKS) == 0).map(|n| beat(n.tick)).peekable();
    let mut sum = 0.0;
    for b in beat(first.tick)..=beat(last.tick) {
        let level = bars.level(b * TICKS) as usize;
        let there = struck.next_if(|s| *s == b).is_some();
        let (chance, any) =
            if there { (STRUCK[level], STRUCK_ANY) } else { (1.0 - STRUCK[level], 1.0 - STRUCK_ANY) };
        sum += (chance / any).ln();
    }
    sum
}

fn changes(notes: &[Placed], bars: Bars) -> f64 {
    let pairs: Vec<(bool, Level)> =
        notes.windows(2).filter_map(|w| Some((w[0].midi? != w[1].midi?, bars.level(w[1].tick)))).collect();
    let changed = pairs.iter().filter(|p| p.0).count() as f64;
    let usual = (changed + 1.0) / (pairs.len() as f64 + 2.0);
    let odds = (usual / (1.0 - usual)).ln();
    let chance = |level: Level| 1.0 / (1.0 + (-(odds + CHANGE[level as usize])).exp());
    pairs
        .iter()
        .map(|&(changed, level)| {
            if changed { (chance(level) / usual).ln() } else { ((1.0 - chance(level)) / (1.0 - usual)).ln() }
        })
        .sum()
}

fn low(notes: &[Placed], bars: Bars) -> f64 {
    let pitched: Vec<(f64, Level)> =
        notes.iter().filter_map(|n| Some((f64::from(n.midi?), bars.level(n.tick)))).collect();
    let count = pitched.len().max(1) as f64;
    let mean = pitched.iter().map(|p| p.0).sum::<f64>() / count;
    let spread = (pitched.iter().map(|p| (p.0 - mean).powi(2)).sum::<f64>() / count).sqrt().max(2.0);
    pitched.iter().map(|&(midi, level)| LOW[level as usize] * ((mean - midi) / spread).clamp(-1.5, 1.5)).sum()
}

fn long(notes: &[Placed], bars: Bars) -> f64 {
    let mut gaps: Vec<i64> = notes.windows(2).map(|w| (w[1].tick - w[0].tick).max(1)).collect();
    let found: Vec<(i64, Level)> =
        gaps.iter().copied().zip(notes.iter().map(|n| bars.level(n.tick))).collect();
    gaps.sort_unstable();
    let middle = gaps.get(gaps.len() / 2).copied().unwrap_or(1) as f64;
    found.iter().map(|&(gap, level)| LONG[level as usize] * (gap as f64 / middle).ln().clamp(-1.0, 1.0)).sum()
}
