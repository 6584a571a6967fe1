//! Bar lines over beats: what speaks for a meter and for where its bars start.

use super::accents::{accents, home};
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
    /// How loud it was struck, in decibels above the middle note; `None` when that is unknown.
    pub(super) level_db: Option<f64>,
}

/// Evidence of every kind, in nats, not yet weighed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Evidence(pub(super) [f64; KINDS]);

impl Evidence {
    /// What a kind of evidence says; only differences between readings of the same notes mean something.
    #[must_use]
    pub fn of(&self, kind: Kind) -> f64 {
        self.0[kind as usize]
    }

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
    pub(super) fn level(self, tick: i64) -> Level {
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
    let (lines, beats) = struck(notes, bars);
    all.add(Kind::Lines, lines);
    all.add(Kind::Strong, beats);
    all.add(Kind::Changes, changes(notes, bars));
    all.add(Kind::Low, low(notes, bars));
    all.add(Kind::Long, long(notes, bars));
    all.add(Kind::Accents, accents(notes, bars));
    all.add(Kind::Home, home(notes, bars));
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
    let chance = if at == 0 || near_end { chance } else { chance / places };
    all.add(Kind::End, chance.ln());
    all
}

/// What is saved by telling the line as copies of itself: every beat may repeat what was played a beat, half a bar, one,
/// two or four bars before. To begin, to stop or to change is likely on a bar line and unlikely elsewhere. So figures that return speak for bars as long as they are, and for bar lines where
/// they begin; the best way to tell it all is found exactly.
fn figures(notes: &[Placed], bars: Bars) -> f64 {
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return 0.0 };
    let beat = |n: &Placed| n.tick.div_euclid(TICKS);
    let (from, to) = (beat(first), beat(last));
    let lags = FIGURE.lags.map(|(back, price)| {
        let beats = back * bars.beats as f64;
        (if beats.fract() == 0.0 { (beats as i64).max(1) } else { 0 }, price)
    });
    // Nothing is copied at index 0.
    let mut best = [f64::NEG_INFINITY; FIGURE.lags.len() + 1];
    best[0] = 0.0;
    let mut low = 0;
    for b in from..=to {
        while low < notes.len() && beat(&notes[low]) < b {
            low += 1;
        }
        let high = low + notes[low..].iter().take_while(|n| beat(n) == b).count();
        let on_line = (b - bars.start).rem_euclid(bars.beats) == 0;
        let (turn, on) = if on_line { FIGURE.on_line } else { FIGURE.within };
        let most = best.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let mut next = [0.0; FIGURE.lags.len() + 1];
        next[0] = (best[0] - on).max(most - turn);
        for (k, &(lag, price)) in lags.iter().enumerate() {
            let copied = lag >= 1 && b - lag >= from && (k == 0 || lag > 1);
            let gain = if copied { copy(notes, low, high, b, lag) } else { f64::NEG_INFINITY };
            next[k + 1] = (best[k + 1] - on).max(most - turn - price) + gain;
        }
        best = next;
    }
    best.iter().copied().fold(f64::NEG_INFINITY, f64::max)
}

/// What is saved by telling the notes of a beat, from index `low` to `high`, as a copy of an earlier one.
fn copy(notes: &[Placed], low: usize, high: usize, beat: i64, lag: i64) -> f64 {
    let start = notes.partition_point(|n| n.tick < (beat - lag) * TICKS);
    let end = notes.partition_point(|n| n.tick < (beat - lag + 1) * TICKS);
    let (mut i, mut k, mut gain) = (low, start, 0.0);
    let step = |i: usize| {
        let before = notes[i.checked_sub(1)?].midi?;
        Some(i16::from(notes[i].midi?) - i16::from(before))
    };
    while i < high || k < end {
        let here = if i < high { notes[i].tick } else { i64::MAX };
        let there = if k < end { notes[k].tick + lag * TICKS } else { i64::MAX };
        if here != there {
            gain -= FIGURE.wrong;
        } else if notes[i].midi == notes[k].midi {
            gain += FIGURE.place + FIGURE.pitch;
        } else if step(i).is_some() && step(i) == step(k) {
            gain += FIGURE.place + FIGURE.step;
        } else {
            gain += FIGURE.place - FIGURE.other;
        }
        i += usize::from(here <= there);
        k += usize::from(there <= here);
    }
    gain
}

/// What notes and their absence say on bar lines, and on the other beats.
fn struck(notes: &[Placed], bars: Bars) -> (f64, f64) {
    let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return (0.0, 0.0) };
    let beat = |tick: i64| tick.div_euclid(TICKS);
    let mut struck = notes.iter().filter(|n| n.tick.rem_euclid(TICKS) == 0).map(|n| beat(n.tick)).peekable();
    let (mut lines, mut beats) = (0.0, 0.0);
    for b in beat(first.tick)..=beat(last.tick) {
        let level = bars.level(b * TICKS);
        let chance = STRUCK[level as usize];
        let there = struck.next_if(|s| *s == b).is_some();
        let (chance, any) = if there { (chance, STRUCK_ANY) } else { (1.0 - chance, 1.0 - STRUCK_ANY) };
        *(if level == Level::Bar { &mut lines } else { &mut beats }) += (chance / any).ln();
    }
    (lines, beats)
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

/// Gain of a value in standard deviations when a level's mean lies at `mean` and the whole line's at 0.
fn shifted(value: f64, mean: f64) -> f64 {
    value * mean - 0.5 * mean * mean
}

fn low(notes: &[Placed], bars: Bars) -> f64 {
    let pitched: Vec<(f64, Level)> =
        notes.iter().filter_map(|n| Some((f64::from(n.midi?), bars.level(n.tick)))).collect();
    let count = pitched.len().max(1) as f64;
    let mean = pitched.iter().map(|p| p.0).sum::<f64>() / count;
    let spread = (pitched.iter().map(|p| (p.0 - mean).powi(2)).sum::<f64>() / count).sqrt().max(2.0);
    pitched
        .iter()
        .map(|&(midi, level)| shifted(((midi - mean) / spread).clamp(-2.0, 2.0), LOW[level as usize]))
        .sum()
}

fn long(notes: &[Placed], bars: Bars) -> f64 {
    let gaps: Vec<f64> = notes.windows(2).map(|w| ((w[1].tick - w[0].tick).max(1) as f64).ln()).collect();
    let count = gaps.len().max(1) as f64;
    let mean = gaps.iter().sum::<f64>() / count;
    let spread = (gaps.iter().map(|g| (g - mean).powi(2)).sum::<f64>() / count).sqrt().max(0.2);
    gaps.iter()
        .zip(notes)
        .map(|(gap, n)| shifted(((gap - mean) / spread).clamp(-2.0, 2.0), LONG[bars.level(n.tick) as usize]))
        .sum()
}
