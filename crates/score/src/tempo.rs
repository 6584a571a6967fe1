//! Tempo, the one way from musical time to seconds, and swing.

use crate::time::Quarters;
use crate::value::{NoteValue, Shape};

/// A metronome mark: so many of a note value in a minute.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Tempo {
    thousandths: u32,
    unit: NoteValue,
}

impl Tempo {
    /// `per_minute` from 5 to 1000, kept to a thousandth; `None` otherwise.
    pub fn new(per_minute: f64, unit: NoteValue) -> Option<Self> {
        ((5.0..=1000.0).contains(&per_minute) && unit.tuplet().is_none())
            .then(|| Self { thousandths: (per_minute * 1000.0).round() as u32, unit })
    }

    /// Quarter notes in a minute.
    pub fn quarters(per_minute: f64) -> Option<Self> {
        Self::new(per_minute, NoteValue::plain(Shape::Quarter))
    }

    /// How many of the unit in a minute.
    pub fn per_minute(self) -> f64 {
        f64::from(self.thousandths) / 1000.0
    }

    /// The note value counted.
    pub fn unit(self) -> NoteValue {
        self.unit
    }

    /// Seconds that one quarter note lasts.
    pub fn seconds_per_quarter(self) -> f64 {
        60.0 / (self.per_minute() * self.unit.length().to_f64())
    }
}

impl Default for Tempo {
    /// 120 quarters a minute, the default of Standard MIDI Files 1.0.
    fn default() -> Self {
        Self { thousandths: 120_000, unit: NoteValue::plain(Shape::Quarter) }
    }
}

/// Tempo over time: the only way from quarters to seconds and back.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    // (from this position, at this second, tempo); never empty, starts at zero, strictly rising.
    changes: Vec<(Quarters, f64, Tempo)>,
}

impl TempoMap {
    /// A tempo from the start and later changes; changes at or before an earlier one replace it.
    pub fn new(start: Tempo, later: impl IntoIterator<Item = (Quarters, Tempo)>) -> Self {
        let mut changes = vec![(Quarters::ZERO, 0.0, start)];
        for (at, tempo) in later {
            while changes.len() > 1 && changes.last().is_some_and(|&(last, _, _)| last >= at) {
                changes.pop();
            }
            match changes.last_mut() {
                Some(last) if last.0 >= at => last.2 = tempo,
                Some(&mut (last, second, before)) => {
                    changes.push((at, second + (at - last).to_f64() * before.seconds_per_quarter(), tempo));
                }
                None => {}
            }
        }
        Self { changes }
    }

    /// Seconds at a position; before zero the first tempo holds.
    pub fn seconds(&self, at: Quarters) -> f64 {
        self.seconds_at(at.to_f64())
    }

    /// Seconds at a position given as a floating-point count of quarters.
    pub fn seconds_at(&self, quarters: f64) -> f64 {
        let i = self.changes.partition_point(|c| c.0.to_f64() <= quarters).saturating_sub(1);
        let (from, second, tempo) = self.changes[i];
        second + (quarters - from.to_f64()) * tempo.seconds_per_quarter()
    }

    /// The position, in quarters, at a second.
    pub fn quarters_at(&self, second: f64) -> f64 {
        let i = self.changes.partition_point(|c| c.1 <= second).saturating_sub(1);
        let (from, at, tempo) = self.changes[i];
        from.to_f64() + (second - at) / tempo.seconds_per_quarter()
    }

    /// Every tempo with the position from which it holds.
    pub fn changes(&self) -> impl Iterator<Item = (Quarters, Tempo)> {
        self.changes.iter().map(|&(at, _, tempo)| (at, tempo))
    }
}

/// Even, or with the first of each pair of notes held longer.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
pub enum Feel {
    /// As written.
    #[default]
    Straight,
    /// Swung.
    Swing(Swing),
}

/// Which notes swing, and how far.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Swing {
    sixteenths: bool,
    long: u8,
    short: u8,
}

impl Swing {
    /// Triplet swing of eighths: 2 to 1.
    pub const TRIPLET: Self = Self { sixteenths: false, long: 2, short: 1 };

    /// `long : short` with both 1 to 20 and `long >= short`, at most 4 to 1; of eighths or sixteenths.
    pub fn new(long: u8, short: u8, sixteenths: bool) -> Option<Self> {
        ((1..=20).contains(&long)
            && (1..=20).contains(&short)
            && long >= short
            && long <= short.saturating_mul(4))
        .then_some(Self { sixteenths, long, short })
    }

    /// Parts of the first note.
    pub fn long(self) -> u8 {
        self.long
    }

    /// Parts of the second note.
    pub fn short(self) -> u8 {
        self.short
    }

    /// True when sixteenths swing rather than eighths.
    pub fn sixteenths(self) -> bool {
        self.sixteenths
    }
}

impl Feel {
    /// Where a written position (in quarters) is played: the off-beat moves to `long/(long+short)` of the
    /// pair, everything between in proportion.
    pub fn played(self, written: f64) -> f64 {
        let Self::Swing(swing) = self else { return written };
        let pair = if swing.sixteenths { 0.5 } else { 1.0 };
        let turn = f64::from(swing.long) / f64::from(swing.long + swing.short);
        let start = (written / pair).floor() * pair;
        let within = (written - start) / pair;
        let moved =
            if within < 0.5 { within * 2.0 * turn } else { turn + (within - 0.5) * 2.0 * (1.0 - turn) };
        start + moved * pair
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn seconds_and_back_across_a_change() {
        let map = TempoMap::new(
            Tempo::quarters(120.0).unwrap(),
            [(Quarters::whole_quarters(4), Tempo::quarters(60.0).unwrap())],
        );
        assert_eq!(map.seconds(Quarters::whole_quarters(6)), 4.0);
        assert_eq!(map.quarters_at(4.0), 6.0);
        assert_eq!(map.seconds(-Quarters::QUARTER), -0.5);
    }

    /// Off-beat at r/(1+r) of the beat: straight .5, triplet .6667, 60/40 .6 (arithmetic of the ratio).
    #[test]
    fn swing_places_the_off_beat() {
        assert_eq!(Feel::Straight.played(0.5), 0.5);
        assert!((Feel::Swing(Swing::TRIPLET).played(1.5) - 1.0 - 2.0 / 3.0).abs() < 1e-12);
        assert!((Feel::Swing(Swing::new(3, 2, false).unwrap()).played(0.5) - 0.6).abs() < 1e-12);
        assert_eq!(Feel::Swing(Swing::TRIPLET).played(2.0), 2.0);
    }
}
