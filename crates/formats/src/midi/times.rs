//! Ticks to exact times: given back as written when the file is ours, found out when it is not.

use riffkin_score::meter::Meter;
use riffkin_score::rhythm::swing::{played_in_bar, written_in_bar};
use riffkin_score::rhythm::{FeelWanted, Grids, Options, Played, QuantiseError, Quantised, Spread, quantise};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::Feel;
use riffkin_score::time::Quarters;

/// From ticks back to the exact times that were written: both sides of the round trip use it.
pub(super) struct Recovery {
    // Start of every bar, how far into its meter it starts, and how far it goes, in exact quarters.
    bars: Vec<(Quarters, Quarters, Quarters)>,
    feel: Feel,
    grid: i64,
    ticks: i64,
}

impl Recovery {
    /// For bars given as (length, length of the meter), the first of which may be a pickup.
    pub(super) fn new(
        lengths: impl IntoIterator<Item = (Quarters, Quarters)>,
        feel: Feel,
        grid: i64,
        ticks: i64,
    ) -> Self {
        let mut at = Quarters::ZERO;
        let mut bars = Vec::new();
        for (length, full) in lengths {
            let lead = if bars.is_empty() { full - length } else { Quarters::ZERO };
            bars.push((at, lead, lead + length));
            at += length;
        }
        // The end is a bar line too.
        bars.push((at, Quarters::ZERO, Quarters::ZERO));
        Self { bars, feel, grid: grid.max(1), ticks: ticks.max(1) }
    }

    /// For the bars of a riff in the order they are played.
    pub(super) fn of_riff(riff: &Riff, feel: Feel, grid: i64, ticks: i64) -> Self {
        let bars = riff.bars();
        Self::new(
            riff.order().into_iter().map(|i| (bars[i].length(), bars[i].meter.bar_length())),
            feel,
            grid,
            ticks,
        )
    }

    /// The exact time of a tick counted from the start of the riff: the nearest point of the grid.
    pub(super) fn at(&self, tick: i64) -> Option<Quarters> {
        let played = tick as f64 / self.ticks as f64;
        let (start, lead, end) = self.bar(played);
        if self.feel == Feel::Straight {
            let (tick, grid, ticks) = (i128::from(tick), i128::from(self.grid), i128::from(self.ticks));
            let point = (tick * grid * 2 + ticks).div_euclid(ticks * 2);
            return Quarters::new(i64::try_from(point).ok()?, self.grid).ok();
        }
        let origin = (start - lead).to_f64();
        let written = origin + written_in_bar(self.feel, played - origin, end.to_f64());
        Quarters::new((written * self.grid as f64).round() as i64, self.grid).ok()
    }

    /// The tick at which something written at `at` is played.
    pub(super) fn tick(&self, at: Quarters) -> i64 {
        let written = at.to_f64();
        let (start, lead, end) = self.bar(written);
        let origin = (start - lead).to_f64();
        let played = origin + played_in_bar(self.feel, written - origin, end.to_f64());
        (played * self.ticks as f64).round() as i64
    }

    fn bar(&self, at: f64) -> (Quarters, Quarters, Quarters) {
        let i = self.bars.partition_point(|b| b.0.to_f64() <= at + 1e-9).saturating_sub(1);
        self.bars.get(i).copied().unwrap_or((Quarters::ZERO, Quarters::ZERO, Quarters::WHOLE))
    }
}

/// How the times of a foreign file were found.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// Every onset lies on the tick of its exact time.
    OnTheGrid,
    /// They were played; the rhythm is the likeliest.
    Played,
}

/// What is known of a foreign line before its times are made exact.
pub(super) struct Foreign<'a> {
    pub(super) played: &'a [Played],
    pub(super) meter: Meter,
    pub(super) changes: &'a [(Quarters, Meter)],
    pub(super) downbeat: f64,
    pub(super) feel: Option<Feel>,
    /// Ticks in a quarter; infinite when the file does not count in quarters.
    pub(super) ticks: f64,
}

impl Foreign<'_> {
    fn options(&self, grids: Grids, spread: Spread) -> Options {
        Options {
            changes: self.changes.to_vec(),
            downbeat: self.downbeat,
            spread,
            grids,
            feel: self.feel.map_or(FeelWanted::Detected, FeelWanted::Known),
            ..Options::new(self.meter)
        }
    }

    /// On the grid if it can be, played otherwise.
    pub(super) fn find(&self) -> Result<(Quantised, Found), QuantiseError> {
        // Half a tick and what the floating point adds.
        let near = 0.51 / self.ticks + 1e-9;
        let rich = self.ticks >= 96.0;
        for grids in [Grids::Usual, Grids::Rich] {
            if !self.may_lie_on(near) || (grids == Grids::Rich && !rich) {
                continue;
            }
            let mut found = quantise(self.played, &self.options(grids, Spread::Known(EXACT_SPREAD)))?;
            if found.notes.len() == self.played.len() && found.worst.is_none_or(|w| w.1 <= near) {
                self.ends(&mut found, near);
                return Ok((found, Found::OnTheGrid));
            }
        }
        let found = quantise(self.played, &self.options(Grids::Usual, Spread::Measured))?;
        Ok((found, Found::Played))
    }

    // A first look, so that the search is spared for files that were clearly played: every grid of the search and
    // every swing of it lies on one of these divisions.
    fn may_lie_on(&self, near: f64) -> bool {
        self.played.iter().all(|n| {
            let at = n.onset - self.downbeat;
            [16.0, 12.0, 10.0, 14.0].iter().any(|d| ((at * d).round() / d - at).abs() <= near)
        })
    }

    /// The likeliest plain rhythm, whatever the ticks say.
    pub(super) fn plain(&self) -> Result<Quantised, QuantiseError> {
        quantise(self.played, &self.options(Grids::Usual, Spread::Measured))
    }

    // When nearly all notes also end on a plain division, their ends are meant as they stand.
    fn ends(&self, found: &mut Quantised, near: f64) {
        if found.feel != Feel::Straight || found.notes.is_empty() {
            return;
        }
        let start = found.starts;
        let ends: Vec<Option<Quarters>> = found
            .notes
            .iter()
            .map(|n| {
                let end = self.played[n.played].onset + self.played[n.played].length - start;
                DIVISIONS.iter().find_map(|&parts| {
                    let k = (end * parts as f64).round();
                    ((k / parts as f64 - end).abs() <= near)
                        .then(|| Quarters::new(k as i64, parts).ok())
                        .flatten()
                })
            })
            .collect();
        if ends.iter().flatten().count() * 20 < ends.len() * 19 {
            return;
        }
        let onsets: Vec<Quarters> = found.notes.iter().map(|n| n.onset).collect();
        for (i, (note, end)) in found.notes.iter_mut().zip(ends).enumerate() {
            if let Some(end) = end.filter(|end| *end > note.onset) {
                note.length = onsets.get(i + 1).map_or(end, |&next| end.min(next)) - note.onset;
            }
        }
    }
}

/// Spread with which exact onsets are looked for, in quarters.
const EXACT_SPREAD: f64 = 0.004;
/// Parts of a quarter in which a note may end on purpose.
const DIVISIONS: [i64; 6] = [1, 2, 4, 3, 6, 8];
