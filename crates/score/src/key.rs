//! Keys: a tonic and, once known, a mode.

use std::fmt;
use std::str::FromStr;

use crate::degree::{Degree, DegreeSet};
use crate::pitch::PitchName;

/// A scale a riff can be in.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the modes' own names")]
pub enum Mode {
    Major,
    Dorian,
    Phrygian,
    Lydian,
    Mixolydian,
    Minor,
    Locrian,
    HarmonicMinor,
    MelodicMinor,
    PhrygianDominant,
    MajorPentatonic,
    MinorPentatonic,
    MajorBlues,
    MinorBlues,
}

impl Mode {
    /// Every mode.
    pub const ALL: [Self; 14] = [
        Self::Major,
        Self::Dorian,
        Self::Phrygian,
        Self::Lydian,
        Self::Mixolydian,
        Self::Minor,
        Self::Locrian,
        Self::HarmonicMinor,
        Self::MelodicMinor,
        Self::PhrygianDominant,
        Self::MajorPentatonic,
        Self::MinorPentatonic,
        Self::MajorBlues,
        Self::MinorBlues,
    ];

    /// The seven modes of the diatonic scale, from brightest to darkest.
    pub const DIATONIC: [Self; 7] = [
        Self::Lydian,
        Self::Major,
        Self::Mixolydian,
        Self::Dorian,
        Self::Minor,
        Self::Phrygian,
        Self::Locrian,
    ];

    /// The name in words; `minor` is the natural minor (Aeolian), `major` the Ionian.
    pub fn name(self) -> &'static str {
        match self {
            Self::Major => "major",
            Self::Dorian => "Dorian",
            Self::Phrygian => "Phrygian",
            Self::Lydian => "Lydian",
            Self::Mixolydian => "Mixolydian",
            Self::Minor => "minor",
            Self::Locrian => "Locrian",
            Self::HarmonicMinor => "harmonic minor",
            Self::MelodicMinor => "melodic minor",
            Self::PhrygianDominant => "Phrygian dominant",
            Self::MajorPentatonic => "major pentatonic",
            Self::MinorPentatonic => "minor pentatonic",
            Self::MajorBlues => "major blues",
            Self::MinorBlues => "minor blues",
        }
    }

    /// The degrees in order, spelled.
    pub fn degrees(self) -> Vec<Degree> {
        let text = match self {
            Self::Major => "1 2 3 4 5 6 7",
            Self::Dorian => "1 2 b3 4 5 6 b7",
            Self::Phrygian => "1 b2 b3 4 5 b6 b7",
            Self::Lydian => "1 2 3 #4 5 6 7",
            Self::Mixolydian => "1 2 3 4 5 6 b7",
            Self::Minor => "1 2 b3 4 5 b6 b7",
            Self::Locrian => "1 b2 b3 4 b5 b6 b7",
            Self::HarmonicMinor => "1 2 b3 4 5 b6 7",
            Self::MelodicMinor => "1 2 b3 4 5 6 7",
            Self::PhrygianDominant => "1 b2 3 4 5 b6 b7",
            Self::MajorPentatonic => "1 2 3 5 6",
            Self::MinorPentatonic => "1 b3 4 5 b7",
            Self::MajorBlues => "1 2 b3 3 5 6",
            Self::MinorBlues => "1 b3 4 b5 5 b7",
        };
        text.split(' ').filter_map(|d| d.parse().ok()).collect()
    }

    /// The degrees as a set of slots.
    pub const fn set(self) -> DegreeSet {
        // One bit for each semitone, the tonic last; a test holds them against the degrees.
        DegreeSet::from_bits(match self {
            Self::Major => 0b10101_0110101,
            Self::Dorian => 0b01101_0101101,
            Self::Phrygian => 0b01011_0101011,
            Self::Lydian => 0b10101_1010101,
            Self::Mixolydian => 0b01101_0110101,
            Self::Minor => 0b01011_0101101,
            Self::Locrian => 0b01010_1101011,
            Self::HarmonicMinor => 0b10011_0101101,
            Self::MelodicMinor => 0b10101_0101101,
            Self::PhrygianDominant => 0b01011_0110011,
            Self::MajorPentatonic => 0b00101_0010101,
            Self::MinorPentatonic => 0b01001_0101001,
            Self::MajorBlues => 0b00101_0011101,
            Self::MinorBlues => 0b01001_1101001,
        })
    }

    /// Sharps more than the major key on the same tonic has (flats below zero): Dorian -2, Lydian +1.
    /// Scales without a signature of their own take that of the diatonic mode they are written in.
    pub fn signature_offset(self) -> i32 {
        match self {
            Self::Lydian => 1,
            Self::Major | Self::MajorPentatonic | Self::MajorBlues => 0,
            Self::Mixolydian => -1,
            Self::Dorian => -2,
            Self::Minor
            | Self::HarmonicMinor
            | Self::MelodicMinor
            | Self::MinorPentatonic
            | Self::MinorBlues => -3,
            Self::Phrygian | Self::PhrygianDominant => -4,
            Self::Locrian => -5,
        }
    }

    /// True when the third above the tonic is minor only.
    pub fn is_minor(self) -> bool {
        self.set().contains(3) && !self.set().contains(4)
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.name())
    }
}

/// A text that names no mode or key.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no key; write a tonic and, if known, a mode, such as G, G minor or D Dorian")]
pub struct NotAKey(pub String);

impl FromStr for Mode {
    type Err = NotAKey;
    fn from_str(text: &str) -> Result<Self, NotAKey> {
        let wanted = text.trim().to_lowercase();
        let wanted = match wanted.as_str() {
            "ionian" => "major",
            "aeolian" | "natural minor" => "minor",
            other => other,
        };
        Self::ALL
            .into_iter()
            .find(|m| m.name().eq_ignore_ascii_case(wanted))
            .ok_or_else(|| NotAKey(text.to_owned()))
    }
}

/// A tonic, and a mode unless that is undecided.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Key {
    /// The note called 1.
    pub tonic: PitchName,
    /// The scale; `None` when it is not decided.
    pub mode: Option<Mode>,
}

impl Key {
    /// A key with a known mode.
    pub const fn new(tonic: PitchName, mode: Mode) -> Self {
        Self { tonic, mode: Some(mode) }
    }

    /// Sharps in the signature, flats below zero. While the mode is undecided the signature stays open, 0:
    /// any other would claim a scale. Not limited: see [`Key::is_practical`].
    pub fn signature(self) -> i32 {
        self.mode.map_or(0, |mode| self.tonic.line_of_fifths() + mode.signature_offset())
    }

    /// With `♭` and `♯` in the tonic, for print.
    pub fn print(self) -> String {
        let tonic = self.tonic.print();
        self.mode.map_or_else(|| tonic.clone(), |mode| format!("{tonic} {mode}"))
    }

    /// True when the signature has at most seven sharps or flats.
    pub fn is_practical(self) -> bool {
        self.signature().abs() <= 7
    }

    /// The same key on the tonic spelling with the fewest sharps or flats; a tie keeps the spelling given.
    pub fn simplest(self) -> Self {
        let place = self.tonic.line_of_fifths();
        [place, place - 12, place + 12]
            .into_iter()
            .filter_map(PitchName::from_line_of_fifths)
            .map(|tonic| Self { tonic, ..self })
            .min_by_key(|key| key.signature().abs())
            .unwrap_or(self)
    }

    /// The name of a slot (semitones above the tonic) in this key: the mode's own spelling for its degrees,
    /// else the usual degree name.
    pub fn degree_of_slot(self, slot: u8) -> Degree {
        self.mode
            .into_iter()
            .flat_map(Mode::degrees)
            .find(|d| d.slot() == slot % 12)
            .unwrap_or(Degree::usual(slot))
    }
}

impl fmt::Display for Key {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.mode {
            Some(mode) => write!(f, "{} {mode}", self.tonic),
            None => write!(f, "{}", self.tonic),
        }
    }
}

impl FromStr for Key {
    type Err = NotAKey;
    fn from_str(text: &str) -> Result<Self, NotAKey> {
        let refuse = || NotAKey(text.to_owned());
        let text = text.trim();
        let (tonic, mode) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let tonic = tonic.parse().map_err(|_| refuse())?;
        let mode = match mode.trim() {
            "" => None,
            mode => Some(mode.parse().map_err(|_| refuse())?),
        };
        Ok(Self { tonic, mode })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sets_are_those_of_the_degrees() {
        for mode in Mode::ALL {
            let from_degrees: DegreeSet = mode.degrees().into_iter().collect();
            assert_eq!(mode.set(), from_degrees, "{mode}");
            assert_eq!(mode.set().len(), mode.degrees().len(), "{mode}");
            assert!(mode.set().contains(0));
        }
    }

    #[test]
    fn every_key_reads_back() {
        for tonic in (-15..=19).filter_map(PitchName::from_line_of_fifths) {
            for mode in Mode::ALL.map(Some).into_iter().chain([None]) {
                let key = Key { tonic, mode };
                assert_eq!(key.to_string().parse(), Ok(key));
                let simplest = key.simplest();
                assert_eq!(simplest.tonic.pitch_class(), tonic.pitch_class());
                assert!(simplest.signature().abs() <= key.signature().abs());
            }
        }
        assert_eq!("A Aeolian".parse(), Ok(Key::new("A".parse().unwrap(), Mode::Minor)));
        assert_eq!("C ionian".parse(), Ok(Key::new("C".parse().unwrap(), Mode::Major)));
        assert_eq!(" G  natural minor ".parse(), Ok(Key::new("G".parse().unwrap(), Mode::Minor)));
        for bad in ["", "minor", "H major", "g minor", "G m", "G minor minor", "G sharp minor"] {
            assert!(bad.parse::<Key>().is_err(), "{bad}");
        }
    }

    #[test]
    fn slots_are_named_as_the_mode_names_them() {
        let name = |key: &str, slot| key.parse::<Key>().unwrap().degree_of_slot(slot).to_string();
        assert_eq!(name("G Lydian", 6), "#4");
        assert_eq!(name("G Locrian", 6), "b5");
        assert_eq!(name("G minor", 6), "b5");
        assert_eq!(name("G", 10), "b7");
        assert_eq!(name("G major", 23), "7");
    }

    #[test]
    fn modes_with_a_minor_third_only() {
        let minor: Vec<&str> = Mode::ALL.into_iter().filter(|m| m.is_minor()).map(Mode::name).collect();
        let expected =
            "Dorian, Phrygian, minor, Locrian, harmonic minor, melodic minor, minor pentatonic, minor blues";
        assert_eq!(minor.join(", "), expected);
    }
}
