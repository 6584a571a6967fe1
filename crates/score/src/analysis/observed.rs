//! What a riff shows of its tonic: the observations that the model of [`crate::analysis::model`] weighs.

use crate::analysis::heard::{Heard, Strength};

/// A place in the line that tells of the tonic. For each of them is recorded which pitch class stands there, and
/// the model has a weight for each of the twelve slots that it may be above a tonic.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Cue {
    /// The first note: 1.
    First,
    /// The first note on a bar line, or on the strongest place that is heard: 1.
    Downbeat,
    /// The last note: 1. This and the next four say nothing of a line that goes round to its end: a loop's last note
    /// leads back to the first.
    Last,
    /// The last note when it is held, at least half as long again as the middle one of all lengths: 1.
    LastHeld,
    /// The last note when it falls on a bar line: 1.
    LastOnBar,
    /// The last note of a long line: 0 up to 12 notes, 1 from 48 on, between them by the logarithm. Twelve notes
    /// may be anything's beginning; a long line has an end. A line in long notes is as long as its bars: each counts
    /// for [`NOTES_OF_A_BAR`] at least.
    LastOfMany,
    /// The last note when its bar, of two notes or more, was heard before: 1. Such an end may only lead back.
    LastReturns,
    /// The lowest note: 1.
    Lowest,
    /// What sounds longest in all: 1.
    Longest,
    /// The end of the first half, from four bars on: the longest note of the bar before the middle: 1.
    Half,
    /// The ends of every eighth bar but the last: the root of the share of each.
    EighthBars,
    /// The beginnings of a figure of whole bars that comes round again: the share of each.
    FigureStart,
}

impl Cue {
    /// Every cue.
    pub const ALL: [Self; 12] = [
        Self::First,
        Self::Downbeat,
        Self::Last,
        Self::LastHeld,
        Self::LastOnBar,
        Self::LastOfMany,
        Self::LastReturns,
        Self::Lowest,
        Self::Longest,
        Self::Half,
        Self::EighthBars,
        Self::FigureStart,
    ];
}

/// Number of cues.
pub const CUES: usize = Cue::ALL.len();

/// What was observed in a riff, by pitch class (C = 0).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Observed {
    /// What stands at each place, in the order of [`Cue::ALL`].
    pub cues: [[f64; 12]; CUES],
    /// The square root of each pitch class's share of the sounding time (a note heard little still tells), times
    /// [`reliance`] of the number of notes.
    pub profile: [f64; 12],
    /// 1 for a pitch class that is heard at all.
    pub heard: [f64; 12],
    /// `[from][to]`: the root of the share of each step between two different notes of which the second falls on a
    /// beat, times [`reliance`].
    pub moves: [[f64; 12]; 12],
    /// How many notes there are.
    pub notes: usize,
}

/// Notes that a bar counts for at least where the length of a line is asked: eight bars of a ground in whole notes
/// have an end as a tune of 16 notes has. Set by hand.
pub const NOTES_OF_A_BAR: f64 = 2.0;

/// How far shares of so many notes can be relied on, 0 to 1: the fourth root of `n / 64`, 1 from 64 notes on.
/// Set by hand.
pub fn reliance(notes: usize) -> f64 {
    (notes.min(64) as f64 / 64.0).powf(0.25)
}

impl Observed {
    /// Looks at the notes, in time order.
    pub fn of(notes: &[Heard]) -> Self {
        let mut seen = Self {
            cues: [[0.0; 12]; CUES],
            profile: [0.0; 12],
            heard: [0.0; 12],
            moves: [[0.0; 12]; 12],
            notes: notes.len(),
        };
        let (Some(first), Some(last)) = (notes.first(), notes.last()) else { return seen };
        let bars = Bars::of(notes);
        let mut set = |note: &Heard, cue: Cue, value: f64| {
            seen.cues[cue as usize][usize::from(note.pitch_class())] = value;
        };
        set(first, Cue::First, 1.0);
        let strongest = notes.iter().map(|n| n.strength).max();
        if let Some(note) = notes.iter().find(|n| Some(n.strength) == strongest) {
            set(note, Cue::Downbeat, 1.0);
        }
        let (starts, goes_round) = bars.figure();
        if !goes_round {
            set(last, Cue::Last, 1.0);
            let mut lengths: Vec<_> = notes.iter().map(|n| n.length).collect();
            lengths.sort_unstable();
            if last.length * 2 >= lengths[lengths.len() / 2] * 3 {
                set(last, Cue::LastHeld, 1.0);
            }
            if last.strength == Strength::Bar {
                set(last, Cue::LastOnBar, 1.0);
            }
            let long = (notes.len() as f64).max(bars.count() as f64 * NOTES_OF_A_BAR);
            set(last, Cue::LastOfMany, ((long / 12.0).log2() / 2.0).clamp(0.0, 1.0));
            if bars.last_returns() {
                set(last, Cue::LastReturns, 1.0);
            }
        }
        if let Some(low) = notes.iter().min_by_key(|n| n.pitch.midi()) {
            set(low, Cue::Lowest, 1.0);
        }
        if let Some(half) = bars.half() {
            set(half, Cue::Half, 1.0);
        }
        seen.cues[Cue::EighthBars as usize] = roots_of_shares(bars.eighths().map(Heard::pitch_class));
        let all = starts.len() as f64;
        for start in starts {
            seen.cues[Cue::FigureStart as usize][usize::from(start)] += 1.0 / all;
        }
        seen.weigh(notes);
        seen
    }

    /// Shares of time, and of the steps onto beats.
    fn weigh(&mut self, notes: &[Heard]) {
        let sure = reliance(notes.len());
        let mut sounding = [0.0; 12];
        for note in notes {
            sounding[usize::from(note.pitch_class())] += note.length.to_f64().max(0.0);
            self.heard[usize::from(note.pitch_class())] = 1.0;
        }
        let total: f64 = sounding.iter().sum();
        let most = sounding.iter().copied().fold(0.0, f64::max);
        if total > 0.0 {
            self.profile = sounding.map(|time| (time / total).sqrt() * sure);
            if let Some(longest) = sounding.iter().position(|&time| time >= most) {
                self.cues[Cue::Longest as usize][longest] = 1.0;
            }
        }
        let mut count = 0.0;
        for pair in notes.windows(2) {
            let [from, to] = [pair[0].pitch_class(), pair[1].pitch_class()].map(usize::from);
            if from != to && pair[1].strength >= Strength::Beat {
                self.moves[from][to] += 1.0;
                count += 1.0;
            }
        }
        if count > 0.0 {
            self.moves = self.moves.map(|row| row.map(|n| (n / count).sqrt() * sure));
        }
    }
}

fn roots_of_shares(pitch_classes: impl Iterator<Item = u8>) -> [f64; 12] {
    let mut counts = [0.0; 12];
    pitch_classes.for_each(|pc| counts[usize::from(pc)] += 1.0);
    let all: f64 = counts.iter().sum();
    counts.map(|n| if all > 0.0 { (n / all).sqrt() } else { 0.0 })
}

/// The line by bars.
struct Bars<'a> {
    /// The bars in which a note starts, each with its number from the first whole bar on; a pickup has -1.
    bars: Vec<(i64, &'a [Heard])>,
}

impl<'a> Bars<'a> {
    fn of(notes: &'a [Heard]) -> Self {
        let number = |note: &Heard| i64::try_from(note.bar).unwrap_or(i64::MAX);
        let pickup = notes.first().is_some_and(|n| n.strength != Strength::Bar);
        let base = notes.first().map_or(0, number).saturating_add(i64::from(pickup));
        let bars = notes.chunk_by(|a, b| a.bar == b.bar).map(|bar| (number(&bar[0]) - base, bar)).collect();
        Self { bars }
    }

    fn count(&self) -> i64 {
        self.bars.last().map_or(0, |b| b.0 + 1)
    }

    /// The longest note, the latest of equals, of the last bar with notes among so many bars; `None` when that is
    /// the last bar of all.
    fn end_of(&self, bars: i64) -> Option<&'a Heard> {
        let at = self.bars.partition_point(|b| b.0 < bars).checked_sub(1)?;
        if at + 1 == self.bars.len() {
            return None;
        }
        self.bars[at].1.iter().max_by_key(|n| n.length)
    }

    fn half(&self) -> Option<&'a Heard> {
        (self.count() >= 4).then(|| self.end_of(self.count() / 2)).flatten()
    }

    fn eighths(&self) -> impl Iterator<Item = &'a Heard> {
        // No more than there are bars with notes in them, however long the rests.
        (1..=self.count() / 8).take(self.bars.len()).filter_map(|i| self.end_of(8 * i))
    }

    /// True when the last bar has two notes or more, and an earlier one the same in the same order.
    fn last_returns(&self) -> bool {
        let Some(((_, last), before)) = self.bars.split_last() else { return false };
        last.len() > 1
            && before.iter().any(|(_, bar)| {
                bar.len() == last.len()
                    && bar.iter().map(Heard::pitch_class).eq(last.iter().map(Heard::pitch_class))
            })
    }

    /// Where a figure of whole bars comes round again: the pitch class that each of its rounds begins on. The
    /// figure is the shortest number of bars after which most bars equal (in rhythm and pitch class) the bar that
    /// many before; empty when none comes round. And whether it goes round to the very end.
    fn figure(&self) -> (Vec<u8>, bool) {
        let whole = self.bars.partition_point(|b| b.0 < 0);
        let bars: Vec<&[Heard]> = self.bars[whole..].iter().map(|b| b.1).collect();
        let same = |a: &[Heard], b: &[Heard]| {
            a.len() == b.len()
                && a.iter().zip(b).all(|(x, y)| {
                    x.pitch_class() == y.pitch_class()
                        && x.length == y.length
                        && x.onset - a[0].onset == y.onset - b[0].onset
                })
        };
        let period = (1..=bars.len() / 2).take(8).find(|&p| {
            let equal = (p..bars.len()).filter(|&i| same(bars[i], bars[i - p])).count();
            2 * equal > bars.len() - p
        });
        let Some(period) = period else { return (Vec::new(), false) };
        let starts = bars.iter().step_by(period).map(|b| b[0].pitch_class()).collect();
        let end = bars.len() - 1;
        (starts, same(bars[end], bars[end - period]))
    }
}
