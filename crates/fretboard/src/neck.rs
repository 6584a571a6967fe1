//! A neck: strings, tuning, frets, scale length, capo, handedness.

mod line;
mod presets;

use riffkin_score::interval::Interval;
use riffkin_score::note::Place;
use riffkin_score::pitch::{Midi, Pitch, PitchName};

/// An instrument as the hand meets it.
///
/// With a capo everything counts from it (common practice, no source): the open strings sound at the capo, fret 1
/// is the first one above it, nothing lies below. What is left is a neck with a shorter string, `L · 2^(-c/12)`.
#[derive(Clone, Debug, PartialEq)]
pub struct Neck {
    name: String,
    /// The preset that strings, and all that is not said otherwise, come from.
    preset: Option<&'static str>,
    /// Open strings without the capo, highest first.
    tuned: Vec<Pitch>,
    /// Open strings at the capo.
    strings: Vec<Pitch>,
    lowest: Pitch,
    /// Frets on the board, those below the capo too.
    board_frets: u8,
    scale_mm: f64,
    capo: u8,
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
    #[error("a neck has 1 to 36 frets, not {0}; a neck without frets is 'fretless'")]
    Frets(u8),
    /// Scale length out of range.
    #[error("a scale length lies between 300 and 1200 mm (11.8 and 47.2 inch), not {0} mm")]
    Scale(f64),
    /// A capo where nothing is left to play.
    #[error("a capo at fret {fret} leaves no fret to play of {frets}; put it lower")]
    Capo {
        /// Where it was to be.
        fret: u8,
        /// Frets on the board.
        frets: u8,
    },
    /// No neck of that name.
    #[error(
        "there is no neck called '{0}'; known are {known}; or write one out, such as 'G2 D2 A1 E1, 24 frets, 35 inch'",
        known = Neck::NAMES.join(", ")
    )]
    Unknown(String),
    /// A part of a neck that was written out.
    #[error("in the neck '{line}', at character {at}: {problem}")]
    Line {
        /// The whole text.
        line: String,
        /// Where the part begins, in characters from 1.
        at: usize,
        /// What is wrong there and what to write.
        problem: String,
    },
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
            preset: None,
            tuned: strings.clone(),
            strings,
            lowest,
            board_frets: frets,
            scale_mm,
            capo: 0,
            left_handed: false,
            fretless: false,
        })
    }

    /// A neck by its usual name ([`Neck::NAMES`]: 34 inch scale and 20 frets, six strings 24; `short` 30 inch;
    /// common practice, no source), or written out on one line: `G2 D2 A1 E1, 24 frets, 35 inch, left-handed`.
    ///
    /// Parts are set apart by commas. The first are the open strings with their octaves (E1 is the open E of a
    /// four-string bass), from either side, or a usual name; then in any order what differs: `24 frets`,
    /// `35 inch` or `864 mm`, `fretless`, `capo 2`, `left-handed`, and of a usual name also `half-down`,
    /// `whole-down` and such as `drop-a` for the lowest string. [`Neck`]'s `Display` prints the same line back.
    ///
    /// # Errors
    /// [`NeckError::Unknown`] for a name, [`NeckError::Line`] with the place for a line that is off.
    pub fn named(text: &str) -> Result<Self, NeckError> {
        line::read(text)
    }

    /// The usual names that [`Neck::named`] knows.
    pub const NAMES: [&str; 10] = presets::NAMES;

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

    /// The same neck under another name, such as the owner's.
    #[must_use]
    pub fn called(self, name: &str) -> Self {
        Self { name: name.to_owned(), ..self }
    }

    /// The same neck with a capo at a fret counted from the nut; 0 takes it off.
    ///
    /// # Errors
    /// [`NeckError::Capo`] when no fret is left to play.
    pub fn with_capo(self, fret: u8) -> Result<Self, NeckError> {
        let refuse = NeckError::Capo { fret, frets: self.board_frets };
        if fret >= self.board_frets {
            return Err(refuse);
        }
        let raised = |p: &Pitch| if fret == 0 { Some(*p) } else { raised(*p, fret) };
        let Some(strings) = self.tuned.iter().map(raised).collect::<Option<Vec<_>>>() else {
            return Err(refuse);
        };
        let lowest = strings.last().copied().unwrap_or(self.lowest);
        Ok(Self { strings, lowest, capo: fret, ..self })
    }

    /// The same instrument tuned to other open strings, highest first; a capo stays where it is.
    ///
    /// # Errors
    /// As [`Neck::new`].
    pub fn retuned(&self, strings: Vec<Pitch>) -> Result<Self, NeckError> {
        let tuned = Self::new("", strings, self.board_frets, self.scale_mm)?
            .left_handed(self.left_handed)
            .fretless(self.fretless)
            .with_capo(self.capo)?;
        let tuned = Self { preset: presets::of_strings(&tuned.tuned), ..tuned };
        let name = tuned.to_string();
        Ok(tuned.called(&name))
    }

    /// Its name.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Open pitches as they sound (at the capo, if there is one), string 1 (highest) first.
    pub fn strings(&self) -> &[Pitch] {
        &self.strings
    }

    /// How many strings.
    pub fn string_count(&self) -> u8 {
        self.strings.len() as u8
    }

    /// Open pitches without a capo, string 1 (highest) first.
    pub fn tuned(&self) -> &[Pitch] {
        &self.tuned
    }

    /// The fret at which a capo lies, counted from the nut; 0 for none.
    pub fn capo(&self) -> u8 {
        self.capo
    }

    /// The last fret, counted from the capo if there is one; at least 1.
    pub fn frets(&self) -> u8 {
        self.board_frets - self.capo
    }

    /// Frets on the board, those below a capo too.
    pub fn board_frets(&self) -> u8 {
        self.board_frets
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
        if place.fret > self.frets() { None } else { Midi::new(open.checked_add(place.fret)?) }
    }

    /// Every place where a pitch sounds, from the highest string down.
    pub fn places(&self, midi: Midi) -> Vec<Place> {
        (1..=self.string_count())
            .filter_map(|string| {
                let open = self.open(string)?.midi().number();
                let fret = midi.number().checked_sub(open)?;
                (fret <= self.frets()).then_some(Place { string, fret })
            })
            .collect()
    }

    /// Lowest and highest sounding MIDI numbers.
    pub fn range(&self) -> (u8, u8) {
        let open = || self.strings.iter().map(|p| p.midi().number());
        (open().min().unwrap_or(0), open().max().unwrap_or(0).saturating_add(self.frets()).min(127))
    }

    /// The lowest pitch, an open string.
    pub fn lowest(&self) -> Pitch {
        self.lowest
    }

    /// The highest pitch, on the last fret; spelled the simplest way.
    pub fn highest(&self) -> Pitch {
        Midi::new(self.range().1).map_or_else(|| self.lowest(), Pitch::simplest)
    }

    /// Distance of a fret from the nut, or from the capo, in millimetres: `L · (1 - 2^(-n/12))`, the equal-tempered
    /// rule, `L` the length of string that an open string sounds with.
    pub fn fret_mm(&self, fret: u8) -> f64 {
        let sounding_mm = match self.capo {
            0 => self.scale_mm,
            capo => self.scale_mm * (-f64::from(capo) / 12.0).exp2(),
        };
        sounding_mm * (1.0 - (-f64::from(fret) / 12.0).exp2())
    }

    /// From one fret to another in millimetres: what a hand has to span.
    pub fn span_mm(&self, from: u8, to: u8) -> f64 {
        (self.fret_mm(to) - self.fret_mm(from)).abs()
    }
}

/// So many semitones higher, spelled by the interval that keeps strings in fourths fourths; under the simplest name
/// where that would take a double sharp or flat.
fn raised(pitch: Pitch, semitones: u8) -> Option<Pitch> {
    let midi = Midi::new(pitch.midi().number().checked_add(semitones)?)?;
    let (octaves, within) = (i32::from(semitones / 12), usize::from(semitones % 12));
    let steps = [0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6][within] + 7 * octaves;
    let named = pitch.plus(Interval::from_steps(steps, i32::from(semitones)));
    Some(named.filter(|p| p.name().line_of_fifths().abs() <= 8).unwrap_or_else(|| Pitch::simplest(midi)))
}

/// A string a semitone or a whole tone lower: E flat for E, D for E, but never C flat or F flat.
pub(crate) fn lowered(pitch: Pitch, semitones: u8) -> Option<Pitch> {
    let midi = Midi::new(pitch.midi().number().checked_sub(semitones)?)?;
    let flat = PitchName::new(pitch.name().step(), pitch.name().alter() - 1)
        .filter(|n| semitones == 1 && n.line_of_fifths() >= -6);
    Some(flat.and_then(|name| Pitch::from_midi(midi, name)).unwrap_or_else(|| Pitch::simplest(midi)))
}
