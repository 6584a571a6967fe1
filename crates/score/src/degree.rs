//! Scale degrees against a root, and sets of them.

use std::fmt;
use std::str::FromStr;

use crate::interval::Interval;
use crate::pitch::PitchName;

/// What a note is against the root: a number from 1 to 7 and an alteration against the major scale.
///
/// Typed `b3`, `#4`; printed `♭3`, `♯4` ([`Degree::print`]).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Degree {
    number: u8,
    alter: i8,
}

impl Degree {
    /// The root.
    pub const ROOT: Self = Self { number: 1, alter: 0 };

    /// `number` 1 to 7, `alter` in semitones against the major scale, -3 to +3.
    pub fn new(number: u8, alter: i8) -> Option<Self> {
        ((1..=7).contains(&number) && (-3..=3).contains(&alter)).then_some(Self { number, alter })
    }

    /// The degree of a spelled note against a spelled tonic; `None` when the spelling is more than three
    /// semitones off the major scale's letter.
    pub fn between(tonic: PitchName, note: PitchName) -> Option<Self> {
        let interval = tonic.interval_to(note);
        let plain = [0, 2, 4, 5, 7, 9, 11][interval.steps().rem_euclid(7) as usize];
        let number = u8::try_from(interval.steps().rem_euclid(7) + 1).ok()?;
        // Letters decide the number; the alteration may reach over the octave (C to B♯ is ♯7).
        let off = interval.semitones() - plain;
        let off = if off > 6 { off - 12 } else { off };
        Self::new(number, i8::try_from(off).ok()?)
    }

    /// The usual name of a slot 0 to 11 when no spelling decides: `1 b2 2 b3 3 4 b5 5 b6 6 b7 7`.
    pub fn usual(slot: u8) -> Self {
        let (number, alter) = [
            (1, 0),
            (2, -1),
            (2, 0),
            (3, -1),
            (3, 0),
            (4, 0),
            (5, -1),
            (5, 0),
            (6, -1),
            (6, 0),
            (7, -1),
            (7, 0),
        ][usize::from(slot % 12)];
        Self { number, alter }
    }

    /// 1 to 7.
    pub fn number(self) -> u8 {
        self.number
    }

    /// Semitones against the major scale.
    pub fn alter(self) -> i8 {
        self.alter
    }

    /// Semitones above the root, 0 to 11.
    pub fn slot(self) -> u8 {
        let plain = [0, 2, 4, 5, 7, 9, 11][usize::from(self.number - 1)];
        (plain + i32::from(self.alter)).rem_euclid(12) as u8
    }

    /// The interval above the root, within the octave by letters.
    pub fn interval(self) -> Interval {
        let plain = [0, 2, 4, 5, 7, 9, 11][usize::from(self.number - 1)];
        Interval::from_steps(i32::from(self.number) - 1, plain + i32::from(self.alter))
    }

    /// The note of this degree above a tonic; `None` beyond double sharps and flats.
    pub fn of(self, tonic: PitchName) -> Option<PitchName> {
        tonic.plus(self.interval())
    }

    /// With `♭` and `♯`, for print.
    pub fn print(self) -> String {
        self.to_string().replace('b', "♭").replace('#', "♯")
    }
}

/// Typed form: `b3`.
impl fmt::Display for Degree {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for _ in 0..self.alter.unsigned_abs() {
            f.write_str(if self.alter > 0 { "#" } else { "b" })?;
        }
        write!(f, "{}", self.number)
    }
}

/// A text that is no degree.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no degree; write 1 to 7 with b or # before it, such as b3 or #4")]
pub struct NotADegree(pub String);

impl FromStr for Degree {
    type Err = NotADegree;
    fn from_str(text: &str) -> Result<Self, NotADegree> {
        let refuse = || NotADegree(text.to_owned());
        let signs = text.trim_start_matches(['b', '♭', '#', '♯']);
        let mut alter = 0i8;
        for sign in text[..text.len() - signs.len()].chars() {
            let sharp = matches!(sign, '#' | '♯');
            if (sharp && alter < 0) || (!sharp && alter > 0) || alter.abs() == 3 {
                return Err(refuse());
            }
            alter += if sharp { 1 } else { -1 };
        }
        Self::new(signs.parse().map_err(|_| refuse())?, alter).ok_or_else(refuse)
    }
}

/// A set of slots 0 to 11 above a root: the material of a riff, twelve bits.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct DegreeSet(u16);

impl DegreeSet {
    /// Nothing.
    pub const EMPTY: Self = Self(0);
    /// All twelve.
    pub const ALL: Self = Self(0x0fff);

    /// From bits, slot 0 lowest; bits above the twelfth are dropped.
    pub const fn from_bits(bits: u16) -> Self {
        Self(bits & 0x0fff)
    }

    /// From semitones above the root, taken round the octave.
    pub fn from_slots(slots: impl IntoIterator<Item = u8>) -> Self {
        Self(slots.into_iter().fold(0, |bits, slot| bits | 1 << (slot % 12)))
    }

    /// The bits, slot 0 lowest.
    pub fn bits(self) -> u16 {
        self.0
    }

    /// True when the slot is in the set.
    pub fn contains(self, slot: u8) -> bool {
        self.0 & (1 << (slot % 12)) != 0
    }

    /// This set and one slot more.
    pub fn with(self, slot: u8) -> Self {
        Self(self.0 | 1 << (slot % 12))
    }

    /// Both sets together.
    pub fn union(self, other: Self) -> Self {
        Self(self.0 | other.0)
    }

    /// What is in both.
    pub fn shared(self, other: Self) -> Self {
        Self(self.0 & other.0)
    }

    /// What is here and not there.
    pub fn without(self, other: Self) -> Self {
        Self(self.0 & !other.0)
    }

    /// True when everything here is also there.
    pub fn is_within(self, other: Self) -> bool {
        self.0 & !other.0 == 0
    }

    /// How many slots.
    pub fn len(self) -> usize {
        self.0.count_ones() as usize
    }

    /// True for no slots.
    pub fn is_empty(self) -> bool {
        self.0 == 0
    }

    /// The slots upwards from the root.
    pub fn slots(self) -> impl Iterator<Item = u8> {
        (0..12).filter(move |&slot| self.contains(slot))
    }

    /// The same notes seen from a root `semitones` above this one.
    pub fn seen_from(self, semitones: u8) -> Self {
        let by = u32::from(semitones % 12);
        Self(((self.0 >> by) | (self.0 << (12 - by))) & 0x0fff)
    }
}

impl FromIterator<Degree> for DegreeSet {
    fn from_iter<I: IntoIterator<Item = Degree>>(degrees: I) -> Self {
        Self::from_slots(degrees.into_iter().map(Degree::slot))
    }
}

/// Usual names with blanks: `1 b3 4 5 b7`.
impl fmt::Display for DegreeSet {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (i, slot) in self.slots().enumerate() {
            if i > 0 {
                f.write_str(" ")?;
            }
            write!(f, "{}", Degree::usual(slot))?;
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_degree_of_every_tonic_and_back() {
        for tonic in (-8..=10).filter_map(PitchName::from_line_of_fifths) {
            for number in 1..=7 {
                for alter in -1..=1 {
                    let degree = Degree::new(number, alter).unwrap();
                    let Some(note) = degree.of(tonic) else { continue };
                    assert_eq!(Degree::between(tonic, note), Some(degree), "{degree} of {tonic}");
                    assert_eq!((tonic.pitch_class() + degree.slot()) % 12, note.pitch_class());
                    assert_eq!(degree.to_string().parse(), Ok(degree));
                    assert_eq!(degree.print().parse(), Ok(degree));
                }
            }
        }
    }

    /// The typed names of the twelve slots: common practice, no source.
    #[test]
    fn usual_names() {
        let names: Vec<String> = (0..12).map(|s| Degree::usual(s).to_string()).collect();
        assert_eq!(names.join(" "), "1 b2 2 b3 3 4 b5 5 b6 6 b7 7");
        assert!((0..12).all(|s| Degree::usual(s).slot() == s && Degree::usual(s + 12) == Degree::usual(s)));
        let slot = |text: &str| text.parse::<Degree>().unwrap().slot();
        assert_eq!((slot("#4"), slot("b5"), slot("b1"), slot("#7"), slot("bb7")), (6, 6, 11, 0, 9));
    }

    #[test]
    fn what_is_no_degree_is_refused() {
        for bad in ["", "0", "8", "b", "#b3", "b#3", "bbbb7", "3b", "11", "-1", "x"] {
            assert!(bad.parse::<Degree>().is_err(), "{bad}");
        }
    }

    #[test]
    fn sets() {
        let pentatonic = DegreeSet::from_slots([0, 3, 5, 7, 10]);
        assert_eq!(pentatonic.to_string(), "1 b3 4 5 b7");
        assert_eq!((pentatonic.len(), pentatonic.bits()), (5, 0b0100_1010_1001));
        assert_eq!(pentatonic.slots().collect::<Vec<_>>(), [0, 3, 5, 7, 10]);
        // Seen from its third degree it is a major pentatonic.
        assert_eq!(pentatonic.seen_from(3).to_string(), "1 2 3 5 6");
        for bits in 0..4096 {
            let set = DegreeSet::from_bits(bits);
            assert_eq!((0..12).fold(set, |s, _| s.seen_from(1)), set);
            assert_eq!(set.union(DegreeSet::ALL.without(set)), DegreeSet::ALL);
            assert!(set.shared(DegreeSet::ALL.without(set)).is_empty());
            assert!(set.is_within(set.with(4)) && set.slots().all(|s| set.contains(s)));
        }
        assert_eq!(DegreeSet::from_bits(0xffff), DegreeSet::ALL);
        assert_eq!(DegreeSet::EMPTY.to_string(), "");
    }
}
