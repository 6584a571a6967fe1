//! From written pitch elements to what sounds.

use riffkin_score::interval::Interval;
use riffkin_score::pitch::{Midi, Pitch, PitchName, Step};

use super::super::MusicXmlError;
use super::super::tree::Element;
use super::values::{Decimal, Where};

/// What a `transpose` element says: sounding is written plus this.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Transposition {
    /// The interval from written to sounding.
    pub(super) interval: Interval,
}

impl Default for Transposition {
    fn default() -> Self {
        Self::NONE
    }
}

impl Transposition {
    /// Written is sounding.
    pub(super) const NONE: Self = Self { interval: Interval::UNISON };

    /// Reads a `transpose` element.
    pub(super) fn read(element: Element<'_>, place: Where<'_>) -> Result<Self, MusicXmlError> {
        let number = |name: &str, wanted| -> Result<Option<i32>, MusicXmlError> {
            let Some(child) = element.child(name) else { return Ok(None) };
            let value = Decimal::parse(child.text()).map(|d| d.rounded().0);
            let value = value.and_then(|v| i32::try_from(v).ok()).filter(|v| v.abs() <= 120);
            value.map(Some).ok_or_else(|| place.bad(child, wanted))
        };
        let octaves = number("octave-change", "a number of octaves, such as -1")?.unwrap_or(0);
        let octaves = octaves.clamp(-10, 10);
        let semitones = number("chromatic", "a number of semitones")?.unwrap_or(0);
        let steps = number("diatonic", "a number of letter steps")?.unwrap_or_else(|| usual_steps(semitones));
        Ok(Self { interval: Interval::from_steps(steps + 7 * octaves, semitones + 12 * octaves) })
    }

    /// A chord's root or a tonic as it sounds.
    pub(super) fn name(self, written: PitchName) -> PitchName {
        written.plus(self.interval).unwrap_or_else(|| {
            let semitones = i32::from(written.pitch_class()) + self.interval.semitones();
            PitchName::simplest(semitones.rem_euclid(12) as u8)
        })
    }
}

/// Letter steps of a chromatic transposition when the file leaves them out: those of the simplest interval.
fn usual_steps(semitones: i32) -> i32 {
    let within = [0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6][semitones.unsigned_abs() as usize % 12];
    (within + 7 * (semitones.abs() / 12)) * semitones.signum()
}

/// A pitch as the file writes it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Written {
    step: Step,
    alter: i64,
    /// The alteration was not a whole number of semitones.
    pub(super) microtonal: bool,
    octave: i64,
}

impl Written {
    /// Reads a `pitch` element, or the display position of an `unpitched` one.
    pub(super) fn read(
        element: Element<'_>,
        names: [&'static str; 3],
        place: Where<'_>,
    ) -> Result<Self, MusicXmlError> {
        let [step_name, alter_name, octave_name] = names;
        let step = element.child(step_name).ok_or_else(|| place.missing(element, step_name))?;
        let octave = element.child(octave_name).ok_or_else(|| place.missing(element, octave_name))?;
        let mut letters = step.text().chars();
        let letter = match (letters.next(), letters.next()) {
            (Some(letter), None) => Step::from_letter(letter),
            _ => None,
        };
        let (alter, microtonal) = match element.child(alter_name) {
            None => (0, false),
            Some(alter) => Decimal::parse(alter.text())
                .map(Decimal::rounded)
                .filter(|(a, _)| a.abs() <= 12)
                .ok_or_else(|| place.bad(alter, "semitones up or down, such as -1"))?,
        };
        Ok(Self {
            step: letter.ok_or_else(|| place.bad(step, "a letter from A to G"))?,
            alter,
            microtonal,
            octave: octave
                .text()
                .parse()
                .ok()
                .filter(|o| (-2..=12).contains(o))
                .ok_or_else(|| place.bad(octave, "an octave from 0 to 9"))?,
        })
    }

    /// What sounds, and whether it had to be spelled anew; `None` outside MIDI 0 to 127.
    pub(super) fn sounding(self, by: Transposition) -> Option<(Pitch, bool)> {
        let diatonic = i64::from(self.step.index()) + 7 * self.octave + i64::from(by.interval.steps());
        let semitones = 12 * (self.octave + 1)
            + i64::from(self.step.semitones())
            + self.alter
            + i64::from(by.interval.semitones());
        let step = Step::from_index(i32::try_from(diatonic.rem_euclid(7)).ok()?);
        let octave = diatonic.div_euclid(7);
        let alter = semitones - 12 * (octave + 1) - i64::from(step.semitones());
        let spelled = i8::try_from(alter)
            .ok()
            .and_then(|alter| PitchName::new(step, alter))
            .and_then(|name| Pitch::new(name, i8::try_from(octave).ok()?));
        match spelled {
            Some(pitch) => Some((pitch, false)),
            None => {
                let midi = Midi::new(u8::try_from(semitones).ok()?)?;
                Some((Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12))?, true))
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::super::tree::Tree;
    use super::*;

    const HERE: Where<'_> = Where { part: "P1", measure: "1" };

    fn sounding(pitch: &str, transpose: &str) -> Option<(String, bool)> {
        let pitch = Tree::parse(&format!("<pitch>{pitch}</pitch>")).unwrap();
        let written = Written::read(pitch.root(), ["step", "alter", "octave"], HERE).unwrap();
        let by = Tree::parse(&format!("<transpose>{transpose}</transpose>")).unwrap();
        let by = Transposition::read(by.root(), HERE).unwrap();
        written.sounding(by).map(|(p, respelled)| (p.to_string(), respelled))
    }

    /// MusicXML 4.0, `transpose`: sounding is written plus chromatic plus twelve for each octave change.
    #[test]
    fn what_sounds() {
        let octave = "<chromatic>0</chromatic><octave-change>-1</octave-change>";
        let e3 = "<step>E</step><octave>2</octave>";
        assert_eq!(sounding(e3, octave), Some(("E1".into(), false)));
        assert_eq!(sounding(e3, ""), Some(("E2".into(), false)));
        // B flat instruments: a major second down, D becomes C.
        let second = "<diatonic>-1</diatonic><chromatic>-2</chromatic>";
        assert_eq!(sounding("<step>D</step><octave>3</octave>", second), Some(("C3".into(), false)));
        let second = "<chromatic>-2</chromatic>";
        let b = "<step>C</step><alter>-1</alter><octave>3</octave>";
        assert_eq!(sounding(b, second), Some(("Bbb2".into(), false)));
        let far = "<step>C</step><alter>-3</alter><octave>3</octave>";
        assert_eq!(sounding(far, ""), Some(("A2".into(), true)));
        assert_eq!(sounding("<step>C</step><octave>-2</octave>", ""), None);
    }
}
