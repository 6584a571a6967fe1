//! A neck: strings, tuning, frets, scale length, handedness.

use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch, PitchName};

/// An instrument as the hand meets it.
#[derive(Clone, Debug, PartialEq)]
pub struct Neck {
    name: String,
    strings: Vec<Pitch>,
    lowest: Pitch,
    frets: u8,
    scale_mm: f64,
    left_handed: bool,
    fretless: bool,
}

/// Why strings and frets do not make a neck.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum NeckError {
    /// Too few or too many strings.
    #[error("a neck has 1 to 12 strings, not {0}")]
    Strings(usize),
    /// Strings not from high to low.
    #[error(
        "string {string} ({pitch}) sounds no lower than the string above it; list the strings from the highest to the lowest"
    )]
    Order {
        /// The string, 1 the highest.
        string: u8,
        /// Its open pitch.
        pitch: Pitch,
    },
    /// Frets out of range.
    #[error("a neck has 1 to 36 frets, not {0}")]
    Frets(u8),
    /// Scale length out of range.
    #[error("a scale length lies between 300 and 1200 mm, not {0}")]
    Scale(f64),
    /// No neck of that name.
    #[error(
        "there is no neck called '{0}'; known are four, five, six, drop-d, half-down, whole-down, bead, short"
    )]
    Unknown(String),
}

/// One inch in millimetres (exact, international yard of 1959).
const INCH_MM: f64 = 25.4;

impl Neck {
    /// `strings` are the sounding open pitches from the highest string (number 1) to the lowest; `scale_mm`
    /// is the distance from nut to saddle.
    ///
    /// # Errors
    /// [`NeckError`] when something is out of range.
    pub fn new(name: &str, strings: Vec<Pitch>, frets: u8, scale_mm: f64) -> Result<Self, NeckError> {
        let lowest = match strings.last() {
            Some(&lowest) if strings.len() <= 12 => lowest,
            _ => return Err(NeckError::Strings(strings.len())),
        };
        for (i, pair) in strings.windows(2).enumerate() {
            if pair[1].midi() >= pair[0].midi() {
                return Err(NeckError::Order { string: i as u8 + 2, pitch: pair[1] });
            }
        }
        if !(1..=36).contains(&frets) {
            return Err(NeckError::Frets(frets));
        }
        if !(300.0..=1200.0).contains(&scale_mm) {
            return Err(NeckError::Scale(scale_mm));
        }
        Ok(Self {
            name: name.to_owned(),
            strings,
            lowest,
            frets,
            scale_mm,
            left_handed: false,
            fretless: false,
        })
    }

    /// A neck by its usual name: `four`, `five`, `six` (fourths, low B and high C added), `drop-d`,
    /// `half-down`, `whole-down`, `bead`, `short` (30 inch); 34 inch scale and 20 frets, six strings 24
    /// (common practice, no source).
    ///
    /// # Errors
    /// [`NeckError::Unknown`].
    pub fn named(name: &str) -> Result<Self, NeckError> {
        let (strings, frets, inches) = match name {
            "four" => ("G2 D2 A1 E1", 20, 34.0),
            "five" => ("G2 D2 A1 E1 B0", 20, 34.0),
            "six" => ("C3 G2 D2 A1 E1 B0", 24, 34.0),
            "drop-d" => ("G2 D2 A1 D1", 20, 34.0),
            "half-down" => ("Gb2 Db2 Ab1 Eb1", 20, 34.0),
            "whole-down" => ("F2 C2 G1 D1", 20, 34.0),
            "bead" => ("D2 A1 E1 B0", 20, 34.0),
            "short" => ("G2 D2 A1 E1", 20, 30.0),
            other => return Err(NeckError::Unknown(other.to_owned())),
        };
        let strings = strings.split(' ').filter_map(|p| p.parse().ok()).collect();
        Self::new(name, strings, frets, inches * INCH_MM)
    }

    /// The names that [`Neck::named`] knows.
    pub const NAMES: [&str; 8] =
        ["four", "five", "six", "drop-d", "half-down", "whole-down", "bead", "short"];

    /// The same neck for the other hand. Diagrams are mirrored; tablature is not.
    #[must_use]
    pub fn left_handed(self, left: bool) -> Self {
        Self { left_handed: left, ..self }
    }

    /// The same neck without frets.
    #[must_use]
    pub fn fretless(self, fretless: bool) -> Self {
        Self { fretless, ..self }
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Open pitches, string 1 (highest) first.
    pub fn strings(&self) -> &[Pitch] {
        &self.strings
    }

    /// How many strings.
    pub fn string_count(&self) -> u8 {
        self.strings.len() as u8
    }

    /// The last fret.
    pub fn frets(&self) -> u8 {
        self.frets
    }

    /// Nut to saddle in millimetres.
    pub fn scale_mm(&self) -> f64 {
        self.scale_mm
    }

    /// True for a left-handed player.
    pub fn is_left_handed(&self) -> bool {
        self.left_handed
    }

    /// True without frets.
    pub fn is_fretless(&self) -> bool {
        self.fretless
    }

    /// Open pitch of a string, 1 the highest.
    pub fn open(&self, string: u8) -> Option<Pitch> {
        self.strings.get(usize::from(string).checked_sub(1)?).copied()
    }

    /// What sounds at a place; `None` off the neck.
    pub fn sounding(&self, place: Place) -> Option<Midi> {
        let open = self.open(place.string)?.midi().number();
        if place.fret > self.frets { None } else { Midi::new(open.checked_add(place.fret)?) }
    }

    /// Every place where a pitch sounds, from the highest string down.
    pub fn places(&self, midi: Midi) -> Vec<Place> {
        (1..=self.string_count())
            .filter_map(|string| {
                let open = self.open(string)?.midi().number();
                let fret = midi.number().checked_sub(open)?;
                (fret <= self.frets).then_some(Place { string, fret })
            })
            .collect()
    }

    /// Lowest and highest sounding MIDI numbers.
    pub fn range(&self) -> (u8, u8) {
        let open = || self.strings.iter().map(|p| p.midi().number());
        (open().min().unwrap_or(0), open().max().unwrap_or(0).saturating_add(self.frets).min(127))
    }

    /// The lowest pitch, an open string.
    pub fn lowest(&self) -> Pitch {
        self.lowest
    }

    /// The highest pitch, on the last fret; spelled the simplest way.
    pub fn highest(&self) -> Pitch {
        let highest = Midi::new(self.range().1);
        highest
            .and_then(|m| Pitch::from_midi(m, PitchName::simplest(m.number() % 12)))
            .unwrap_or_else(|| self.lowest())
    }

    /// Distance of a fret from the nut in millimetres: `L · (1 - 2^(-n/12))`, the equal-tempered rule.
    pub fn fret_mm(&self, fret: u8) -> f64 {
        self.scale_mm * (1.0 - (-f64::from(fret) / 12.0).exp2())
    }

    /// From one fret to another in millimetres: what a hand has to span.
    pub fn span_mm(&self, from: u8, to: u8) -> f64 {
        (self.fret_mm(to) - self.fret_mm(from)).abs()
    }
}
