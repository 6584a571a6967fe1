//! Meters and where the beats lie.

use std::fmt;
use std::str::FromStr;

use crate::time::Quarters;

/// A meter such as 4/4, 6/8 or 7/8 felt as 2+2+3.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Meter {
    beats: u8,
    unit: u8,
    groups: [u8; 8],
}

/// A text that is no meter.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{0}' is no meter; write 4/4, 6/8 or 2+2+3/8: one to 32 beats, unit 1, 2, 4, 8, 16 or 32, at most eight groups"
)]
pub struct NotAMeter(pub String);

impl Meter {
    /// Common time.
    pub const FOUR_FOUR: Self = Self { beats: 4, unit: 4, groups: [1, 1, 1, 1, 0, 0, 0, 0] };

    /// `beats` 1 to 32 over a `unit` of 1, 2, 4, 8, 16 or 32, grouped the usual way: threes in 6/8, 9/8 and
    /// 12/8; 3+2 in fives and 2+2+3 in sevens over 8 or 16 (common practice, no source); else single beats.
    pub fn new(beats: u8, unit: u8) -> Option<Self> {
        let groups: Vec<u8> = match (beats, unit) {
            (b, u) if u >= 8 && b > 3 && b.is_multiple_of(3) && b <= 24 => vec![3; usize::from(b / 3)],
            (5, u) if u >= 8 => vec![3, 2],
            (7, u) if u >= 8 => vec![2, 2, 3],
            (3, u) if u >= 8 => vec![3],
            (b, u) if u >= 8 && b.is_multiple_of(2) && b <= 16 => vec![2; usize::from(b / 2)],
            (b, _) if b <= 8 => vec![1; usize::from(b)],
            (b, _) => {
                let mut twos = vec![4; usize::from(b / 4)];
                if b % 4 > 0 {
                    twos.push(b % 4);
                }
                twos
            }
        };
        Self::grouped(&groups, unit)
    }

    /// With the groups stated, one to eight of them.
    pub fn grouped(groups: &[u8], unit: u8) -> Option<Self> {
        let beats = groups.iter().try_fold(0u8, |sum, &g| sum.checked_add(g))?;
        let fits = (1..=8).contains(&groups.len())
            && groups.iter().all(|&g| g > 0)
            && (1..=32).contains(&beats)
            && matches!(unit, 1 | 2 | 4 | 8 | 16 | 32);
        let mut held = [0; 8];
        for (to, &from) in held.iter_mut().zip(groups) {
            *to = from;
        }
        fits.then_some(Self { beats, unit, groups: held })
    }

    /// The upper number.
    pub fn beats(self) -> u8 {
        self.beats
    }

    /// The lower number.
    pub fn unit(self) -> u8 {
        self.unit
    }

    /// Length of one unit (the lower number).
    pub fn unit_length(self) -> Quarters {
        Quarters::new(4, i64::from(self.unit)).unwrap_or(Quarters::QUARTER)
    }

    /// Length of a full bar.
    pub fn bar_length(self) -> Quarters {
        self.unit_length() * i64::from(self.beats)
    }

    /// Lengths of the groups that beams and accents follow.
    pub fn groups(self) -> Vec<Quarters> {
        self.groups.iter().take_while(|&&g| g > 0).map(|&g| self.unit_length() * i64::from(g)).collect()
    }

    /// The group sizes in units.
    pub fn group_sizes(&self) -> &[u8] {
        let n = self.groups.iter().take_while(|&&g| g > 0).count();
        &self.groups[..n]
    }

    /// True when the beat is three units (6/8, 9/8, 12/8).
    pub fn is_compound(self) -> bool {
        self.beats > 3 && self.group_sizes().iter().all(|&g| g == 3)
    }

    /// Length of one counted beat: three units in compound meters, else one unit.
    pub fn beat_length(self) -> Quarters {
        if self.is_compound() { self.unit_length() * 3 } else { self.unit_length() }
    }

    /// Counted beats in a bar.
    pub fn counted_beats(self) -> u8 {
        if self.is_compound() { self.beats / 3 } else { self.beats }
    }
}

/// `4/4`; `3+2+2/8` when the groups are not the usual ones; `3/4 in one` when the whole bar is one group.
impl fmt::Display for Meter {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if Self::new(self.beats, self.unit) == Some(*self) {
            return write!(f, "{}/{}", self.beats, self.unit);
        }
        if let [beats] = self.group_sizes() {
            return write!(f, "{beats}/{} in one", self.unit);
        }
        let groups: Vec<String> = self.group_sizes().iter().map(u8::to_string).collect();
        write!(f, "{}/{}", groups.join("+"), self.unit)
    }
}

impl FromStr for Meter {
    type Err = NotAMeter;
    fn from_str(text: &str) -> Result<Self, NotAMeter> {
        let given = text;
        let refuse = || NotAMeter(given.to_owned());
        let (text, in_one) = match text.trim().strip_suffix(" in one") {
            Some(text) => (text, true),
            None => (text, false),
        };
        let (above, below) = text.trim().split_once('/').ok_or_else(refuse)?;
        let unit = below.trim().parse().map_err(|_| refuse())?;
        let groups: Vec<u8> =
            above.split('+').map(|g| g.trim().parse()).collect::<Result<_, _>>().map_err(|_| refuse())?;
        match groups.as_slice() {
            groups if in_one => Self::grouped(
                &[groups.iter().try_fold(0u8, |n, &g| n.checked_add(g)).ok_or_else(refuse)?],
                unit,
            ),
            [beats] => Self::new(*beats, unit),
            groups => Self::grouped(groups, unit),
        }
        .ok_or_else(refuse)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Simple and compound meters: common practice, any theory primer.
    #[test]
    fn bars_and_beats() {
        for (text, bar, beat, counted, compound) in [
            ("4/4", "4", "1", 4, false),
            ("3/4", "3", "1", 3, false),
            ("2/2", "4", "2", 2, false),
            ("6/8", "3", "3/2", 2, true),
            ("9/8", "9/2", "3/2", 3, true),
            ("12/8", "6", "3/2", 4, true),
            ("3/8", "3/2", "1/2", 3, false),
            ("5/4", "5", "1", 5, false),
            ("7/8", "7/2", "1/2", 7, false),
            ("15/16", "15/4", "3/4", 5, true),
        ] {
            let meter: Meter = text.parse().unwrap();
            assert_eq!(meter.bar_length().to_string(), bar, "{text}");
            assert_eq!(meter.beat_length().to_string(), beat, "{text}");
            assert_eq!((meter.counted_beats(), meter.is_compound()), (counted, compound), "{text}");
            let groups: Quarters = meter.groups().into_iter().sum();
            assert_eq!(groups, meter.bar_length(), "{text}");
        }
        assert_eq!("7/8".parse::<Meter>().unwrap().group_sizes(), [2, 2, 3]);
        assert_eq!("3+2+2/8".parse::<Meter>().unwrap().group_sizes(), [3, 2, 2]);
    }

    #[test]
    fn every_meter_reads_back_as_printed() {
        for unit in [1, 2, 4, 8, 16, 32] {
            for beats in 1..=32 {
                let usual = Meter::new(beats, unit).unwrap();
                let in_one = Meter::grouped(&[beats], unit).unwrap();
                let two = Meter::grouped(&[beats, 1], unit);
                for meter in [Some(usual), Some(in_one), two].into_iter().flatten() {
                    assert_eq!(meter.to_string().parse::<Meter>().unwrap(), meter, "{meter}");
                }
            }
        }
        for bad in ["", "4", "0/4", "4/3", "4/4 in two", "255+255/4 in one", "33/4"] {
            assert!(bad.parse::<Meter>().is_err(), "{bad}");
        }
    }
}
