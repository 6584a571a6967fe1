//! Which string a line stands for.

use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::key::Key;
use riffkin_score::pitch::{Midi, Pitch, PitchName};

use super::lines::Row;
use super::system::System;
use crate::text_error::{Source, TextError, shown};

/// Semitones that a string may be tuned away from the usual one of its place.
const FAR: u8 = 4;

/// The strings of the tablature.
pub(super) struct Tuning {
    /// Open pitches, highest first.
    strings: Vec<Pitch>,
    /// A neck of [`Neck::NAMES`].
    name: Option<&'static str>,
    /// For each line of a system from the top: its string, from 0.
    rows: Vec<usize>,
}

impl Tuning {
    /// Finds the tuning from the letters, and checks that every system has the same lines.
    pub(super) fn read(
        source: Source<'_>,
        systems: &[System],
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, TextError> {
        let lettered = systems.iter().find(|s| s.rows.iter().any(|r| is_letter(&r.label)));
        let Some(first) = systems.first() else {
            return Err(source.error(0, "there are no lines of tablature", "write four to six of them"));
        };
        let tuning = match lettered {
            Some(system) => Self::from_letters(source, &system.rows, warnings)?,
            None => Self::from_count(source, first, warnings)?,
        };
        for system in systems {
            tuning.check(source, system, lettered)?;
        }
        Ok(tuning)
    }

    fn check(&self, source: Source<'_>, system: &System, lettered: Option<&System>) -> Result<(), TextError> {
        if system.rows.len() != self.rows.len() {
            return Err(source.error(
                system.at(),
                format!("{} lines here, and {} in the other systems", system.rows.len(), self.rows.len()),
                "write every string in every system",
            ));
        }
        let Some(lettered) = lettered else { return Ok(()) };
        for (row, other) in system.rows.iter().zip(&lettered.rows) {
            let (this, that) = (read_label(&row.label), read_label(&other.label));
            if is_letter(&row.label) && this.map(|l| l.0) != that.map(|l| l.0) {
                return Err(source.error(
                    row.at,
                    format!(
                        "the line {} stands where line {} has {}",
                        shown(&row.label),
                        other.number,
                        shown(&other.label)
                    ),
                    "keep the strings in the same order and tuning throughout",
                ));
            }
        }
        Ok(())
    }

    fn from_count(
        source: Source<'_>,
        system: &System,
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, TextError> {
        let (name, letters) = match system.rows.len() {
            4 => ("four", "G D A E"),
            5 => ("five", "G D A E B"),
            6 => ("six", "C G D A E B"),
            n => {
                return Err(source.error(
                    system.at(),
                    format!("{n} lines one under the other"),
                    "a system has four to six lines; put a blank line between systems, or letters before the lines",
                ));
            }
        };
        warnings.push(Warning::at(
            format!("line {}", system.rows.first().map_or(0, |r| r.number)),
            format!("no tuning letters: the lines were taken as {letters} from the top"),
        ));
        let strings = Neck::named(name).map(|n| n.strings().to_vec()).unwrap_or_default();
        Ok(Self { rows: (0..strings.len()).collect(), strings, name: Some(name) })
    }

    fn from_letters(
        source: Source<'_>,
        rows: &[Row],
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, TextError> {
        let mut letters = Vec::with_capacity(rows.len());
        for row in rows {
            match read_label(&row.label) {
                Some(label) => letters.push(label),
                None => {
                    let what = if row.label.is_empty() {
                        "a line without a letter among lines with letters".to_owned()
                    } else {
                        format!("{} names no string", shown(&row.label))
                    };
                    return Err(source.error(
                        row.at,
                        what,
                        "write the open string before each line, such as G, D, A, E, B, Eb or F#",
                    ));
                }
            }
        }
        let classes: Vec<u8> = letters.iter().map(|l| l.0.pitch_class()).collect();
        let upward: Vec<u8> = classes.iter().rev().copied().collect();
        let line = || format!("line {}", rows.first().map_or(0, |r| r.number));
        let tuning = if let Some(tuning) = Self::known(&classes, false) {
            tuning
        } else if let Some(tuning) = Self::known(&upward, true) {
            warnings.push(Warning::at(
                line(),
                "the lowest string is on top: the lines were read the other way up",
            ));
            tuning
        } else if let Some(tuning) = Self::part_of_four(&classes) {
            warnings
                .push(Warning::at(line(), "not every string has a line; the others were taken as silent"));
            tuning
        } else {
            Self::guessed(source, rows, &letters, warnings)?
        };
        for (row, (&string, (_, octave))) in rows.iter().zip(tuning.rows.iter().zip(&letters)) {
            let open = tuning.strings.get(string).copied();
            if let (Some(octave), Some(open)) = (*octave, open)
                && octave != open.octave()
            {
                warnings.push(Warning::at(
                    format!("line {}", row.number),
                    format!("{} was taken as the string sounding {open}", row.label),
                ));
            }
        }
        Ok(tuning)
    }

    fn known(classes: &[u8], upside_down: bool) -> Option<Self> {
        Neck::NAMES.into_iter().find_map(|name| {
            let neck = Neck::named(name).ok()?;
            let same = neck.strings().iter().map(|p| p.name().pitch_class()).eq(classes.iter().copied());
            let count = classes.len();
            let rows = if upside_down { (0..count).rev().collect() } else { (0..count).collect() };
            same.then(|| Self { strings: neck.strings().to_vec(), name: Some(name), rows })
        })
    }

    /// Some strings of a four-string neck, from the top down.
    fn part_of_four(classes: &[u8]) -> Option<Self> {
        let neck = Neck::named("four").ok()?;
        let of_string = |class: u8| neck.strings().iter().position(|p| p.name().pitch_class() == class);
        let rows: Vec<usize> = classes.iter().map(|&c| of_string(c)).collect::<Option<_>>()?;
        let falling = rows.windows(2).all(|w| w[0] < w[1]);
        (falling && rows.len() < 4).then(|| Self {
            strings: neck.strings().to_vec(),
            name: Some("four"),
            rows,
        })
    }

    /// A tuning that has no name: each string in the octave nearest to the usual string of its place.
    fn guessed(
        source: Source<'_>,
        rows: &[Row],
        letters: &[(PitchName, Option<i8>)],
        warnings: &mut Vec<Warning>,
    ) -> Result<Self, TextError> {
        let first = rows.first().map_or(0, |r| r.at);
        let usual = match rows.len() {
            4 => "four",
            5 => "five",
            6 => "six",
            n => {
                return Err(source.error(
                    first,
                    format!("{n} lines with letters that are no part of G D A E"),
                    "write four to six lines, one for each string from the highest down",
                ));
            }
        };
        let neck = Neck::named(usual).map(|n| n.strings().to_vec()).unwrap_or_default();
        let mut strings: Vec<Pitch> = Vec::with_capacity(rows.len());
        for ((&(name, _), usual), row) in letters.iter().zip(neck).zip(rows) {
            let near = (0..=127u8)
                .filter_map(Midi::new)
                .filter(|m| m.number() % 12 == name.pitch_class())
                .min_by_key(|m| (i32::from(m.number()) - i32::from(usual.midi().number())).abs())
                .and_then(|m| Pitch::from_midi(m, name));
            let far = near.is_none_or(|p| p.midi().number().abs_diff(usual.midi().number()) > FAR);
            if far {
                return Err(source.error(
                    row.at,
                    format!("the string {} is far from the usual {usual} of its place", shown(&row.label)),
                    "write the strings from the highest down, one line for each",
                ));
            }
            match near {
                Some(pitch) if strings.last().is_none_or(|s| s.midi() > pitch.midi()) => strings.push(pitch),
                _ => {
                    return Err(source.error(
                        row.at,
                        format!("the string {} is no lower than the one above it", shown(&row.label)),
                        "write the strings from the highest down",
                    ));
                }
            }
        }
        let all = strings.iter().map(Pitch::to_string).collect::<Vec<_>>().join(" ");
        warnings.push(Warning::at(
            format!("line {}", rows.first().map_or(0, |r| r.number)),
            format!(
                "a tuning without a name: the strings were taken to sound {all}; the pitches are kept, strings and frets are not"
            ),
        ));
        Ok(Self { rows: (0..strings.len()).collect(), strings, name: None })
    }

    /// The neck's name; `None` for a tuning that has none.
    pub(super) fn name(&self) -> Option<&'static str> {
        self.name
    }

    /// What is said about a tuning without a name.
    pub(super) fn remark(&self) -> Option<String> {
        let all = || self.strings.iter().map(Pitch::to_string).collect::<Vec<_>>().join(" ");
        self.name.is_none().then(|| format!("strings from the highest: {}", all()))
    }

    /// The string number of a line of the system, from 1.
    pub(super) fn string(&self, row: usize) -> u8 {
        self.rows.get(row).and_then(|&s| u8::try_from(s + 1).ok()).unwrap_or(1)
    }

    /// The sounding number `semitones` above an open string, 1 the highest.
    pub(super) fn midi(&self, string: u8, semitones: u8) -> Option<Midi> {
        let open = self.strings.get(usize::from(string).checked_sub(1)?)?;
        Midi::new(open.midi().number().checked_add(semitones)?)
    }
}

/// The name a key gives a sounding number, else the simplest.
pub(super) fn spelled(midi: Midi, key: Option<Key>) -> Option<Pitch> {
    let class = midi.number() % 12;
    key.and_then(|key| {
        let slot = (class + 12 - key.tonic.pitch_class()) % 12;
        Pitch::from_midi(midi, key.degree_of_slot(slot).of(key.tonic)?)
    })
    .or_else(|| Pitch::from_midi(midi, PitchName::simplest(class)))
}

/// A label that is meant as a letter; a number from 1 counts the strings and says nothing of the tuning.
fn is_letter(label: &str) -> bool {
    !label.is_empty() && !label.chars().all(|c| c.is_ascii_digit())
}

/// A label such as `G`, `e`, `Bb` or `E1`: the name, and the octave when it is there.
pub(super) fn read_label(label: &str) -> Option<(PitchName, Option<i8>)> {
    let mut chars = label.chars();
    let letter = chars.next()?.to_ascii_uppercase();
    let rest = chars.as_str();
    let signs = rest.trim_end_matches(|c: char| c.is_ascii_digit());
    let octave = rest.get(signs.len()..).filter(|o| !o.is_empty());
    let name = format!("{letter}{signs}").parse().ok()?;
    match octave {
        None => Some((name, None)),
        Some(octave) => Some((name, Some(octave.parse().ok()?))),
    }
}
