//! Chord symbols and numerals.

use std::fmt;
use std::str::FromStr;

use crate::degree::{Degree, DegreeSet};
use crate::pitch::PitchName;

/// The kind of a chord over its root.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the chords' own names")]
pub enum ChordKind {
    Major,
    Minor,
    Diminished,
    Augmented,
    Fifth,
    SuspendedSecond,
    SuspendedFourth,
    Sixth,
    MinorSixth,
    Seventh,
    MajorSeventh,
    MinorSeventh,
    HalfDiminished,
    DiminishedSeventh,
    MinorMajorSeventh,
    SeventhSuspendedFourth,
    Ninth,
    MajorNinth,
    MinorNinth,
}

impl ChordKind {
    /// Every kind.
    pub const ALL: [Self; 19] = [
        Self::Major,
        Self::Minor,
        Self::Diminished,
        Self::Augmented,
        Self::Fifth,
        Self::SuspendedSecond,
        Self::SuspendedFourth,
        Self::Sixth,
        Self::MinorSixth,
        Self::Seventh,
        Self::MajorSeventh,
        Self::MinorSeventh,
        Self::HalfDiminished,
        Self::DiminishedSeventh,
        Self::MinorMajorSeventh,
        Self::SeventhSuspendedFourth,
        Self::Ninth,
        Self::MajorNinth,
        Self::MinorNinth,
    ];

    /// What is typed after the root: `m7`, `maj7`, nothing for major.
    pub fn suffix(self) -> &'static str {
        match self {
            Self::Major => "",
            Self::Minor => "m",
            Self::Diminished => "dim",
            Self::Augmented => "aug",
            Self::Fifth => "5",
            Self::SuspendedSecond => "sus2",
            Self::SuspendedFourth => "sus4",
            Self::Sixth => "6",
            Self::MinorSixth => "m6",
            Self::Seventh => "7",
            Self::MajorSeventh => "maj7",
            Self::MinorSeventh => "m7",
            Self::HalfDiminished => "m7b5",
            Self::DiminishedSeventh => "dim7",
            Self::MinorMajorSeventh => "mmaj7",
            Self::SeventhSuspendedFourth => "7sus4",
            Self::Ninth => "9",
            Self::MajorNinth => "maj9",
            Self::MinorNinth => "m9",
        }
    }

    /// The `kind` of MusicXML 4.0 (data type `kind-value`).
    pub fn musicxml(self) -> &'static str {
        match self {
            Self::Major => "major",
            Self::Minor => "minor",
            Self::Diminished => "diminished",
            Self::Augmented => "augmented",
            Self::Fifth => "power",
            Self::SuspendedSecond => "suspended-second",
            Self::SuspendedFourth | Self::SeventhSuspendedFourth => "suspended-fourth",
            Self::Sixth => "major-sixth",
            Self::MinorSixth => "minor-sixth",
            Self::Seventh => "dominant",
            Self::MajorSeventh => "major-seventh",
            Self::MinorSeventh => "minor-seventh",
            Self::HalfDiminished => "half-diminished",
            Self::DiminishedSeventh => "diminished-seventh",
            Self::MinorMajorSeventh => "major-minor",
            Self::Ninth => "dominant-ninth",
            Self::MajorNinth => "major-ninth",
            Self::MinorNinth => "minor-ninth",
        }
    }

    /// Its degrees over the root, spelled.
    pub fn degrees(self) -> Vec<Degree> {
        let text = match self {
            Self::Major => "1 3 5",
            Self::Minor => "1 b3 5",
            Self::Diminished => "1 b3 b5",
            Self::Augmented => "1 3 #5",
            Self::Fifth => "1 5",
            Self::SuspendedSecond => "1 2 5",
            Self::SuspendedFourth => "1 4 5",
            Self::Sixth => "1 3 5 6",
            Self::MinorSixth => "1 b3 5 6",
            Self::Seventh => "1 3 5 b7",
            Self::MajorSeventh => "1 3 5 7",
            Self::MinorSeventh => "1 b3 5 b7",
            Self::HalfDiminished => "1 b3 b5 b7",
            Self::DiminishedSeventh => "1 b3 b5 bb7",
            Self::MinorMajorSeventh => "1 b3 5 7",
            Self::SeventhSuspendedFourth => "1 4 5 b7",
            Self::Ninth => "1 3 5 b7 2",
            Self::MajorNinth => "1 3 5 7 2",
            Self::MinorNinth => "1 b3 5 b7 2",
        };
        text.split(' ').filter_map(|d| d.parse().ok()).collect()
    }

    /// Its degrees as slots over the root.
    pub fn set(self) -> DegreeSet {
        self.degrees().into_iter().collect()
    }

    fn from_suffix(text: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|k| k.suffix() == text).or(match text {
            "maj" | "M" => Some(Self::Major),
            "min" | "-" => Some(Self::Minor),
            "o" | "°" => Some(Self::Diminished),
            "+" => Some(Self::Augmented),
            "M7" | "Maj7" => Some(Self::MajorSeventh),
            "min7" | "-7" => Some(Self::MinorSeventh),
            "ø" | "ø7" | "m7♭5" => Some(Self::HalfDiminished),
            "o7" | "°7" => Some(Self::DiminishedSeventh),
            "sus" => Some(Self::SuspendedFourth),
            _ => None,
        })
    }

    fn has_minor_third(self) -> bool {
        self.set().contains(3)
    }
}

/// A chord symbol: root, kind, and the bass note when it is not the root.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Chord {
    /// The root.
    pub root: PitchName,
    /// What stands on it.
    pub kind: ChordKind,
    /// The bass note after the stroke, as in `D/F#`.
    pub bass: Option<PitchName>,
}

impl Chord {
    /// The chord as a numeral in a key with this tonic: `i7`, `bVII`, `V7/3`. Lower case for a minor third.
    /// `None` when its spelling is too remote.
    pub fn numeral(self, tonic: PitchName) -> Option<String> {
        let degree = Degree::between(tonic, self.root)?;
        let roman = ["I", "II", "III", "IV", "V", "VI", "VII"][usize::from(degree.number() - 1)];
        let signs: String = degree.to_string().chars().filter(|c| !c.is_ascii_digit()).collect();
        let minor = self.kind.has_minor_third();
        let roman = if minor { roman.to_lowercase() } else { roman.to_owned() };
        let suffix = self.kind.suffix();
        let suffix = if minor && suffix.starts_with('m') && !suffix.starts_with("maj") {
            &suffix[1..]
        } else {
            suffix
        };
        let bass = match self.bass {
            Some(bass) => format!("/{}", Degree::between(self.root, bass)?),
            None => String::new(),
        };
        Some(format!("{signs}{roman}{suffix}{bass}"))
    }

    /// Reads a numeral such as `i7`, `IV7`, `bVII` or `V/3` in a key with this tonic.
    ///
    /// # Errors
    /// [`NotAChord`] when the text is no numeral or the root would need more than two sharps or flats.
    pub fn from_numeral(text: &str, tonic: PitchName) -> Result<Self, NotAChord> {
        let refuse = || NotAChord(text.to_owned());
        let (body, bass) = match text.split_once('/') {
            Some((body, bass)) => (body, Some(bass)),
            None => (text, None),
        };
        let unsigned = body.trim_start_matches(['b', '#', '♭', '♯']);
        let signs = &body[..body.len() - unsigned.len()];
        let roman_len = unsigned.find(|c: char| !"IVXivx".contains(c)).unwrap_or(unsigned.len());
        let (roman, suffix) = unsigned.split_at(roman_len);
        let number = ["I", "II", "III", "IV", "V", "VI", "VII"]
            .iter()
            .position(|r| *r == roman.to_uppercase())
            .ok_or_else(refuse)?
            + 1;
        let minor = roman.chars().all(char::is_lowercase);
        if !minor && !roman.chars().all(char::is_uppercase) {
            return Err(refuse());
        }
        let degree: Degree = format!("{signs}{number}").parse().map_err(|_| refuse())?;
        let root = degree.of(tonic).ok_or_else(refuse)?;
        let kind = if minor {
            ChordKind::from_suffix(&format!("m{suffix}"))
                .filter(|k| k.has_minor_third())
                .or_else(|| ChordKind::from_suffix(suffix).filter(|k| k.has_minor_third()))
        } else {
            ChordKind::from_suffix(suffix)
        }
        .ok_or_else(refuse)?;
        let bass = match bass {
            Some(bass) => Some(bass.parse::<Degree>().ok().and_then(|d| d.of(root)).ok_or_else(refuse)?),
            None => None,
        };
        Ok(Self { root, kind, bass })
    }

    /// With `♭` and `♯`, for print.
    pub fn print(self) -> String {
        let bass = self.bass.map(|b| format!("/{}", b.print())).unwrap_or_default();
        format!("{}{}{bass}", self.root.print(), self.kind.suffix().replace('b', "♭"))
    }
}

/// A text that is no chord.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is no chord; write a symbol such as Dm7, G7 or D/F#, or a numeral such as i7, IV7 or bVII")]
pub struct NotAChord(pub String);

/// Typed form: `Dm7`, `D/F#`.
impl fmt::Display for Chord {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.root, self.kind.suffix())?;
        match self.bass {
            Some(bass) => write!(f, "/{bass}"),
            None => Ok(()),
        }
    }
}

impl FromStr for Chord {
    type Err = NotAChord;
    fn from_str(text: &str) -> Result<Self, NotAChord> {
        let refuse = || NotAChord(text.to_owned());
        let (body, bass) = match text.split_once('/') {
            Some((body, bass)) => (body, Some(bass.parse().map_err(|_| refuse())?)),
            None => (text, None),
        };
        let mut chars = body.char_indices();
        chars.next().ok_or_else(refuse)?;
        let cut = chars.find(|(_, c)| !"#b♯♭".contains(*c)).map_or(body.len(), |(i, _)| i);
        let (root, suffix) = body.split_at(cut);
        Ok(Self {
            root: root.parse().map_err(|_| refuse())?,
            kind: ChordKind::from_suffix(suffix).ok_or_else(refuse)?,
            bass,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Common practice: G C E minor D in G is 1 4 6 5; D over F♯ has its third in the bass.
    #[test]
    fn symbols_and_numerals_agree() {
        let g: PitchName = "G".parse().unwrap();
        for (symbol, numeral) in [
            ("G", "I"),
            ("C", "IV"),
            ("Em", "vi"),
            ("D", "V"),
            ("D/F#", "V/3"),
            ("Am7b5", "ii7b5"),
            ("F7", "bVII7"),
            ("Gmaj7", "Imaj7"),
            ("F#dim", "viidim"),
        ] {
            let chord: Chord = symbol.parse().unwrap();
            assert_eq!(chord.numeral(g).unwrap(), numeral);
            assert_eq!(Chord::from_numeral(numeral, g).unwrap(), chord, "{numeral}");
        }
    }

    #[test]
    fn every_kind_reads_back() {
        for kind in ChordKind::ALL {
            for bass in [None, Some("Bb".parse().unwrap())] {
                let chord = Chord { root: "Eb".parse().unwrap(), kind, bass };
                assert_eq!(chord.to_string().parse::<Chord>().unwrap(), chord);
            }
        }
        for bad in ["", "H7", "Gx", "G/", "g7", "♯"] {
            assert!(bad.parse::<Chord>().is_err(), "{bad}");
        }
    }
}
