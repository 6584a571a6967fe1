//! Pitch as a musician spells it: step, alteration, octave.

use std::fmt;
use std::str::FromStr;

use crate::interval::Interval;

/// A letter of the musical alphabet.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the seven letters name themselves")]
pub enum Step {
    C,
    D,
    E,
    F,
    G,
    A,
    B,
}

impl Step {
    /// The seven letters upwards from C.
    pub const ALL: [Self; 7] = [Self::C, Self::D, Self::E, Self::F, Self::G, Self::A, Self::B];

    /// Semitones above C of the unaltered letter.
    pub fn semitones(self) -> i32 {
        [0, 2, 4, 5, 7, 9, 11][self as usize]
    }

    /// Position from C = 0 to B = 6.
    pub fn index(self) -> i32 {
        self as i32
    }

    /// The letter `index` places above C, counted round.
    pub fn from_index(index: i32) -> Self {
        Self::ALL[index.rem_euclid(7) as usize]
    }

    /// The letter as printed.
    pub fn letter(self) -> char {
        ['C', 'D', 'E', 'F', 'G', 'A', 'B'][self as usize]
    }

    /// Reads a capital letter A to G.
    pub fn from_letter(letter: char) -> Option<Self> {
        Self::ALL.into_iter().find(|s| s.letter() == letter)
    }
}

/// A pitch class as spelled: a letter and an alteration from double flat (-2) to double sharp (+2).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct PitchName {
    step: Step,
    alter: i8,
}

impl PitchName {
    /// `alter` in semitones, from -2 to +2; `None` beyond a double sharp or flat.
    pub fn new(step: Step, alter: i8) -> Option<Self> {
        (-2..=2).contains(&alter).then_some(Self { step, alter })
    }

    /// The unaltered letter.
    pub const fn natural(step: Step) -> Self {
        Self { step, alter: 0 }
    }

    /// The letter.
    pub fn step(self) -> Step {
        self.step
    }

    /// Semitones of alteration, sharps above zero.
    pub fn alter(self) -> i8 {
        self.alter
    }

    /// Pitch class, C = 0 to B = 11.
    pub fn pitch_class(self) -> u8 {
        (self.step.semitones() + i32::from(self.alter)).rem_euclid(12) as u8
    }

    /// Place on the line of fifths with C = 0, G = 1, F = -1, F♯ = 6, B♭ = -2
    /// (Temperley, The Cognition of Basic Musical Structures, 2001, ch. 5).
    pub fn line_of_fifths(self) -> i32 {
        [0, 2, 4, -1, 1, 3, 5][self.step as usize] + 7 * i32::from(self.alter)
    }

    /// The name at a place on the line of fifths; `None` beyond double sharps and flats (-15 to +19).
    pub fn from_line_of_fifths(place: i32) -> Option<Self> {
        let step = [Step::F, Step::C, Step::G, Step::D, Step::A, Step::E, Step::B]
            [(place + 1).rem_euclid(7) as usize];
        Self::new(step, i8::try_from((place + 1).div_euclid(7)).ok()?)
    }

    /// The simplest spelling of a pitch class, flats on the black keys except F♯.
    pub fn simplest(pitch_class: u8) -> Self {
        let place = [0, -5, 2, -3, 4, -1, 6, 1, -4, 3, -2, 5][usize::from(pitch_class % 12)];
        Self::from_line_of_fifths(place).unwrap_or(Self::natural(Step::C))
    }

    /// The interval class upwards from `self` to `other`, within one octave.
    pub fn interval_to(self, other: Self) -> Interval {
        let steps = (other.step.index() - self.step.index()).rem_euclid(7);
        let low = self.step.semitones() + i32::from(self.alter);
        let high = other.step.semitones()
            + i32::from(other.alter)
            + if other.step.index() < self.step.index() { 12 } else { 0 };
        Interval::from_steps(steps, high - low)
    }

    /// The name an interval above; `None` beyond double sharps and flats.
    pub fn plus(self, interval: Interval) -> Option<Self> {
        Self::from_line_of_fifths(self.line_of_fifths() + interval.fifths())
    }

    /// With `♯` and `♭`, for print.
    pub fn print(self) -> String {
        self.to_string().replace('#', "♯").replace('b', "♭")
    }
}

/// Typed form: `F#`, `Bb`, `Cbb`.
impl fmt::Display for PitchName {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.step.letter())?;
        for _ in 0..self.alter.unsigned_abs() {
            f.write_str(if self.alter > 0 { "#" } else { "b" })?;
        }
        Ok(())
    }
}

/// A text that names no pitch.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' names no note; write a capital letter A to G, then # or b as needed, such as F# or Bb")]
pub struct NotAPitch(pub String);

impl FromStr for PitchName {
    type Err = NotAPitch;
    fn from_str(text: &str) -> Result<Self, NotAPitch> {
        let refuse = || NotAPitch(text.to_owned());
        let mut chars = text.chars();
        let step = chars.next().and_then(Step::from_letter).ok_or_else(refuse)?;
        let mut alter = 0i8;
        for c in chars {
            alter = match c {
                '#' | '♯' if (0..2).contains(&alter) => alter + 1,
                'b' | '♭' if (-1..=0).contains(&alter) => alter - 1,
                _ => return Err(refuse()),
            };
        }
        Self::new(step, alter).ok_or_else(refuse)
    }
}

/// A MIDI note number, 0 to 127; 69 is the A of 440 Hz (General MIDI; ISO 16:1975 for the hertz).
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Midi(u8);

impl Midi {
    /// `None` above 127.
    pub fn new(number: u8) -> Option<Self> {
        (number <= 127).then_some(Self(number))
    }

    /// The nearest number in range: 127 for anything above.
    pub const fn saturating(number: u8) -> Self {
        Self(if number > 127 { 127 } else { number })
    }

    /// The number.
    pub fn number(self) -> u8 {
        self.0
    }

    /// Hertz in equal temperament: `reference · 2^((m - 69)/12)`, `reference` usually 440.
    pub fn hertz(self, reference: f64) -> f64 {
        reference * ((f64::from(self.0) - 69.0) / 12.0).exp2()
    }
}

/// A sounding pitch: what the air does. Octave 4 starts at middle C (MIDI 60), so the lowest string of a
/// four-string bass is E1 (MIDI 28).
///
/// Bass is written an octave higher: [`Pitch::written`] and [`WrittenPitch::sounding`] are the only way across.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Pitch {
    name: PitchName,
    octave: i8,
}

impl Pitch {
    /// With `♭` and `♯`, for print: `B♭1`.
    pub fn print(self) -> String {
        format!("{}{}", self.name.print(), self.octave)
    }

    /// `None` when the pitch lies outside MIDI 0 to 127.
    pub fn new(name: PitchName, octave: i8) -> Option<Self> {
        let pitch = Self { name, octave };
        (0..=127).contains(&pitch.semitones_from_c_minus_1()).then_some(pitch)
    }

    /// The spelled name without octave.
    pub fn name(self) -> PitchName {
        self.name
    }

    /// The octave; it changes between B and C.
    pub fn octave(self) -> i8 {
        self.octave
    }

    fn semitones_from_c_minus_1(self) -> i32 {
        (i32::from(self.octave) + 1) * 12 + self.name.step.semitones() + i32::from(self.name.alter)
    }

    /// The sounding MIDI number.
    pub fn midi(self) -> Midi {
        Midi(self.semitones_from_c_minus_1().clamp(0, 127) as u8)
    }

    /// The pitch of this MIDI number under the given name; `None` when the name is of another pitch class.
    pub fn from_midi(midi: Midi, name: PitchName) -> Option<Self> {
        let natural = i32::from(midi.0) - i32::from(name.alter) - name.step.semitones();
        if natural.rem_euclid(12) != 0 {
            return None;
        }
        Self::new(name, i8::try_from(natural.div_euclid(12) - 1).ok()?)
    }

    /// The pitch of this MIDI number under its simplest name ([`PitchName::simplest`]).
    pub fn simplest(midi: Midi) -> Self {
        // None of the simplest names crosses the octave (no C♭, no B♯), so the octave is that of the number.
        Self { name: PitchName::simplest(midi.0 % 12), octave: (midi.0 / 12) as i8 - 1 }
    }

    /// Diatonic place: 7 to the octave, C0 = 0. The staff position, and the letter part of intervals.
    pub fn diatonic(self) -> i32 {
        i32::from(self.octave) * 7 + self.name.step.index()
    }

    /// The signed interval from `self` to `other`.
    pub fn interval_to(self, other: Self) -> Interval {
        Interval::from_steps(
            other.diatonic() - self.diatonic(),
            i32::from(other.midi().0) - i32::from(self.midi().0),
        )
    }

    /// The pitch a signed interval away; `None` out of range or beyond double sharps and flats.
    pub fn plus(self, interval: Interval) -> Option<Self> {
        let diatonic = self.diatonic() + interval.steps();
        let step = Step::from_index(diatonic);
        let octave = i8::try_from(diatonic.div_euclid(7)).ok()?;
        let natural = Self { name: PitchName::natural(step), octave };
        let wanted = self.semitones_from_c_minus_1() + interval.semitones();
        let alter = i8::try_from(wanted - natural.semitones_from_c_minus_1()).ok()?;
        Self::new(PitchName::new(step, alter)?, octave)
    }

    /// Moved by whole octaves; `None` out of range.
    pub fn octaves(self, up: i8) -> Option<Self> {
        Self::new(self.name, self.octave.checked_add(up)?)
    }

    /// The pitch as bass players write it: an octave above what sounds (common practice; MusicXML 4.0
    /// `transpose` with `octave-change` -1 says the same).
    pub fn written(self) -> WrittenPitch {
        WrittenPitch(Self { name: self.name, octave: self.octave.saturating_add(1) })
    }
}

/// Typed form of the sounding pitch: `Bb1`.
impl fmt::Display for Pitch {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{}", self.name, self.octave)
    }
}

impl FromStr for Pitch {
    type Err = NotAPitch;
    fn from_str(text: &str) -> Result<Self, NotAPitch> {
        let refuse = || NotAPitch(text.to_owned());
        let cut = text.find(|c: char| c == '-' || c.is_ascii_digit()).ok_or_else(refuse)?;
        let (name, octave) = text.split_at(cut);
        Self::new(name.parse()?, octave.parse().map_err(|_| refuse())?).ok_or_else(refuse)
    }
}

/// A pitch as it stands on the bass staff, an octave above its sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct WrittenPitch(Pitch);

impl WrittenPitch {
    /// A written name and octave; `None` when its sound lies outside MIDI 0 to 127.
    pub fn new(name: PitchName, octave: i8) -> Option<Self> {
        Pitch::new(name, octave.checked_sub(1)?).map(Pitch::written)
    }

    /// The written name.
    pub fn name(self) -> PitchName {
        self.0.name
    }

    /// The written octave.
    pub fn octave(self) -> i8 {
        self.0.octave
    }

    /// Diatonic place of the written note: 7 to the octave, C0 = 0. The bass clef's middle line D3 is 22.
    pub fn diatonic(self) -> i32 {
        self.0.diatonic()
    }

    /// What sounds: an octave lower.
    pub fn sounding(self) -> Pitch {
        Pitch { name: self.0.name, octave: self.0.octave.saturating_sub(1) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pitch(text: &str) -> Pitch {
        text.parse().unwrap()
    }

    /// Open strings and their hertz at A4 = 440 (ISO 16:1975), `440 · 2^((m - 69)/12)`.
    #[test]
    fn open_strings() {
        for (text, midi, hertz) in [
            ("B0", 23, 30.8677),
            ("C1", 24, 32.7032),
            ("D1", 26, 36.7081),
            ("Eb1", 27, 38.8909),
            ("E1", 28, 41.2034),
            ("A1", 33, 55.0),
            ("D2", 38, 73.4162),
            ("G2", 43, 97.9989),
            ("C3", 48, 130.8128),
        ] {
            let found = pitch(text).midi();
            assert_eq!(found.number(), midi, "{text}");
            assert!((found.hertz(440.0) - hertz).abs() < 1e-4, "{text}: {}", found.hertz(440.0));
        }
        for (reference, hertz) in [(415.0, 38.862), (432.0, 40.454), (442.0, 41.391)] {
            assert!((pitch("E1").midi().hertz(reference) - hertz).abs() < 1e-3);
        }
        assert_eq!((pitch("C4").midi().number(), pitch("A4").midi().number()), (60, 69));
    }

    /// Written an octave above sounding: common practice; MIDI 28 is written E2.
    #[test]
    fn written_and_sounding() {
        let written = pitch("E1").written();
        assert_eq!((written.name().to_string().as_str(), written.octave()), ("E", 2));
        assert_eq!(written.sounding(), pitch("E1"));
        assert_eq!(WrittenPitch::new("E".parse().unwrap(), 2), Some(written));
        // The middle line of the bass clef is D3.
        assert_eq!(pitch("D2").written().diatonic(), 22);
    }

    #[test]
    fn letters_may_cross_the_octave() {
        assert_eq!(pitch("Cb2").midi(), pitch("B1").midi());
        assert_eq!(pitch("B#1").midi(), pitch("C2").midi());
        assert_eq!(pitch("Cbb0").midi().number(), 10);
    }

    #[test]
    fn every_number_under_every_name_and_back() {
        for number in 0..=127 {
            let midi = Midi::new(number).unwrap();
            assert_eq!(Pitch::simplest(midi).midi(), midi);
            let mut names = 0;
            for name in (-15..=19).filter_map(PitchName::from_line_of_fifths) {
                let found = Pitch::from_midi(midi, name);
                assert_eq!(found.is_some(), name.pitch_class() == number % 12);
                if let Some(found) = found {
                    names += 1;
                    assert_eq!((found.midi(), found.name()), (midi, name));
                    assert_eq!(found.to_string().parse(), Ok(found));
                }
            }
            // The note between G and A has two names with at most two signs, every other three.
            assert_eq!(names, if number % 12 == 8 { 2 } else { 3 });
        }
        assert!(Midi::new(128).is_none());
    }

    #[test]
    fn intervals_lead_where_they_should() {
        let names = || (-8..=10).filter_map(PitchName::from_line_of_fifths);
        for (a, b) in names().flat_map(|a| names().map(move |b| (a, b))) {
            let (low, high) = (Pitch::new(a, 2).unwrap(), Pitch::new(b, 3).unwrap());
            let way = low.interval_to(high);
            assert_eq!(low.plus(way), Some(high));
            assert_eq!(high.plus(way.inverse()), Some(low));
            assert_eq!(a.plus(way), Some(b), "the line of fifths agrees with letters and semitones");
            assert_eq!(way.semitones(), i32::from(high.midi().number()) - i32::from(low.midi().number()));
            assert_eq!(a.interval_to(b).fifths(), b.line_of_fifths() - a.line_of_fifths());
        }
    }

    #[test]
    fn the_ends_of_the_range() {
        assert!(Pitch::new("Cb".parse().unwrap(), -1).is_none());
        assert!(pitch("G9").plus(Interval::from_steps(0, 1)).is_none());
        assert!(pitch("C-1").octaves(-1).is_none() && pitch("C4").octaves(127).is_none());
        assert_eq!(pitch("C-1").midi().number(), 0);
        for bad in ["", "H2", "c2", "C", "2", "C#b2", "C###2", "C2x", "C--2", "C99", "Cb-1", "♭2"] {
            assert!(bad.parse::<Pitch>().is_err(), "{bad}");
        }
        assert_eq!("B♭1".parse::<Pitch>().unwrap(), pitch("Bb1"));
        assert_eq!(pitch("Bb1").name().print(), "B♭");
    }
}
