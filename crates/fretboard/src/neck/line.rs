//! A neck on one line of text, as a teacher writes it: `G2 D2 A1 E1, 24 frets, 35 inch, left-handed`.

use std::fmt;

use riffkin_score::pitch::{Midi, Pitch, PitchName};

use super::presets::{Preset, preset};
use super::{INCH_MM, Neck, NeckError, lowered};

/// Frets where the line does not say (common practice, no source).
const USUAL_FRETS: u8 = 20;
/// Scale length in inches where the line does not say (common practice, no source).
const USUAL_INCHES: f64 = 34.0;
/// Longest line that is read, in bytes.
const LONGEST: usize = 400;

/// What may stand in a line beside the strings.
const PARTS: &str =
    "write 24 frets, 35 inch, 864 mm, fretless, capo 2, left-handed, half-down, whole-down or such as drop-d";

/// One part between commas.
struct Part<'a> {
    text: &'a str,
    /// Where it begins, in bytes.
    at: usize,
}

/// What the line says, part by part.
#[derive(Default)]
struct Said {
    preset: Option<Preset>,
    strings: Vec<Pitch>,
    frets: Option<u8>,
    scale_mm: Option<f64>,
    fretless: bool,
    left_handed: Option<bool>,
    capo: Option<u8>,
    /// The tuning was changed, so that a preset's name no longer says it.
    retuned: bool,
}

pub(super) fn read(line: &str) -> Result<Neck, NeckError> {
    let shown: String = line.trim().chars().take(80).collect();
    if let Some(only) = preset(&fold(line)) {
        return whole(Said { preset: Some(only), ..Said::default() });
    }
    // A single word that is no part of a line was meant as a name.
    let mut letters = line.trim().chars();
    let is_name = letters.next().is_some_and(char::is_alphabetic)
        && letters.all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | ' ' | '\''))
        && !line.split_whitespace().any(|w| w.parse::<Pitch>().is_ok())
        && !line.split_whitespace().all(|w| w.parse::<PitchName>().is_ok());
    if is_name || line.trim().is_empty() {
        return Err(NeckError::Unknown(shown));
    }
    let refuse = |(at, problem): (usize, String)| NeckError::Line {
        line: shown.clone(),
        at: line.trim_start().get(..at).map_or(1, |before| before.chars().count() + 1),
        problem,
    };
    if line.len() > LONGEST {
        return Err(refuse((0, format!("longer than {LONGEST} letters"))));
    }
    let mut said = Said::default();
    for part in parts(line.trim()) {
        said.part(&part).map_err(refuse)?;
    }
    whole(said).map_err(|error| match error {
        NeckError::Line { .. } => error,
        other => refuse((0, other.to_string())),
    })
}

/// Lower case, single blanks.
fn fold(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ").to_lowercase()
}

fn parts(line: &str) -> Vec<Part<'_>> {
    let mut at = 0;
    line.split([',', ';'])
        .map(|text| {
            let lead = text.len() - text.trim_start().len();
            let part = Part { text: text.trim(), at: at + lead };
            at += text.len() + 1;
            part
        })
        .collect()
}

/// A complaint with its place in bytes.
type Complaint = (usize, String);

impl Said {
    fn part(&mut self, part: &Part<'_>) -> Result<(), Complaint> {
        let complain = |problem: String| Err((part.at, problem));
        let text = fold(part.text);
        let has_strings = self.preset.is_some() || !self.strings.is_empty();
        if text.is_empty() {
            return complain(format!("nothing stands between two commas; {PARTS}"));
        }
        if !has_strings {
            self.preset = preset(&text);
            if let Some(preset) = &self.preset {
                self.strings = preset.open();
                return Ok(());
            }
        }
        if let Some(result) = self.tuning(&text) {
            return result.map_err(|problem| (part.at, problem));
        }
        if let Some(result) = self.measure(&text) {
            return result.map_err(|problem| (part.at, problem));
        }
        if part.text.starts_with(|c: char| ('A'..='G').contains(&c)) || preset(&text).is_some() {
            if has_strings {
                return complain("the strings are written a second time; keep one of them".to_owned());
            }
            return self.written_strings(part);
        }
        complain(format!("'{}' is nothing of a neck; {PARTS}", part.text))
    }

    /// Open strings one by one, from either side.
    fn written_strings(&mut self, part: &Part<'_>) -> Result<(), Complaint> {
        let mut places = Vec::new();
        let mut from = 0;
        for word in part.text.split_whitespace() {
            let at = part.text.get(from..).and_then(|rest| rest.find(word)).unwrap_or(0) + from;
            from = at + word.len();
            let at = part.at + at;
            let pitch: Pitch = word.parse().map_err(|_| (at, no_string(word)))?;
            if let Some(&(before, _)) = places.last()
                && self.falls_short(before, pitch)
            {
                let words = format!(
                    "the string {pitch} does not go on from {before} the way the strings before it do"
                );
                return Err((at, format!("{words}; write them from the highest to the lowest")));
            }
            places.push((pitch, at));
            self.strings.push(pitch);
        }
        if self.strings.len() > 12 {
            return Err((part.at, NeckError::Strings(self.strings.len()).to_string()));
        }
        if let [first, .., last] = self.strings[..]
            && first.midi() < last.midi()
        {
            self.strings.reverse();
        }
        Ok(())
    }

    /// True when a string lies on the wrong side of the one before it.
    fn falls_short(&self, before: Pitch, pitch: Pitch) -> bool {
        let (a, b) = match self.strings[..] {
            [a, b, ..] => (a, b),
            _ => (before, pitch),
        };
        a.midi().cmp(&b.midi()) != before.midi().cmp(&pitch.midi()) || before.midi() == pitch.midi()
    }

    /// A change of the tuning: all strings lower, or the lowest.
    fn tuning(&mut self, text: &str) -> Option<Result<(), String>> {
        let (down, note) = match text {
            "half-down" => (1, None),
            "whole-down" => (2, None),
            _ => {
                let note = text.strip_prefix("drop-").or_else(|| text.strip_prefix("drop "))?;
                (0, Some(note))
            }
        };
        if self.strings.is_empty() {
            return Some(Err("the strings come first; write them, or a name such as five".to_owned()));
        }
        self.retuned = true;
        let lowered = match note {
            None => self.strings.iter().map(|&p| lowered(p, down)).collect(),
            Some(note) => self.dropped(note)?,
        };
        Some(match lowered {
            Some(strings) => {
                self.strings = strings;
                Ok(())
            }
            None => Err("that is lower than anything sounds".to_owned()),
        })
    }

    /// The strings with the lowest one down to a note; `None` when the word names no note.
    fn dropped(&self, note: &str) -> Option<Option<Vec<Pitch>>> {
        let mut letters = note.chars();
        let name: PitchName =
            format!("{}{}", letters.next()?.to_ascii_uppercase(), letters.as_str()).parse().ok()?;
        let mut strings = self.strings.clone();
        let low = strings.pop()?;
        let down = (low.midi().number() + 12 - name.pitch_class()) % 12;
        let midi = low.midi().number().checked_sub(if down == 0 { 12 } else { down }).and_then(Midi::new);
        Some(midi.and_then(|m| Pitch::from_midi(m, name)).map(|p| {
            strings.push(p);
            strings
        }))
    }

    /// Frets, scale length, capo, hand.
    fn measure(&mut self, text: &str) -> Option<Result<(), String>> {
        let twice = |is: bool, what: &str| {
            if is { Err(format!("{what} is said twice; keep one of them")) } else { Ok(()) }
        };
        match text {
            "fretless" => {
                let done = twice(self.fretless, "fretless");
                self.fretless = true;
                return Some(done);
            }
            "no frets" | "without frets" => {
                return Some(Err("a neck without frets is written 'fretless'".to_owned()));
            }
            "left-handed" | "left handed" | "right-handed" | "right handed" => {
                let done = twice(self.left_handed.is_some(), "the hand");
                self.left_handed = Some(text.starts_with("left"));
                return Some(done);
            }
            _ => {}
        }
        if let Some(fret) = text.strip_prefix("capo") {
            let fret = fret.trim_start().trim_start_matches("at ").trim_start_matches("fret ");
            let done = twice(self.capo.is_some(), "the capo");
            let Ok(fret) = fret.parse() else {
                return Some(Err("write the capo with its fret, such as capo 2".to_owned()));
            };
            self.capo = Some(fret);
            return Some(done);
        }
        let cut = text.find(|c: char| !(c.is_ascii_digit() || c == '.')).unwrap_or(text.len());
        let (number, unit) = text.split_at(cut);
        if number.is_empty() {
            return None;
        }
        let unit = unit.trim();
        Some(match unit {
            "fret" | "frets" | "position" | "positions" => {
                let done = twice(self.frets.is_some(), "the number of frets");
                match number.parse::<u8>() {
                    Ok(frets) if (1..=36).contains(&frets) => {
                        self.frets = Some(frets);
                        done
                    }
                    Ok(frets) => Err(NeckError::Frets(frets).to_string()),
                    Err(_) => Err(format!("{number} is no number of frets; a neck has 1 to 36")),
                }
            }
            "inch" | "inches" | "in" | "\"" | "″" | "mm" | "millimetres" | "cm" => {
                let done = twice(self.scale_mm.is_some(), "the scale length");
                let factor = match unit {
                    "mm" | "millimetres" => 1.0,
                    "cm" => 10.0,
                    _ => INCH_MM,
                };
                match number.parse::<f64>() {
                    Ok(length) if (300.0..=1200.0).contains(&(length * factor)) => {
                        self.scale_mm = Some(length * factor);
                        done
                    }
                    Ok(length) => Err(NeckError::Scale(length * factor).to_string()),
                    Err(_) => Err(format!("{number} is no length; write such as 34 inch")),
                }
            }
            "" => Err(format!("{number} of what? {PARTS}")),
            _ => return None,
        })
    }
}

fn no_string(word: &str) -> String {
    match word.parse::<PitchName>() {
        Ok(name) => {
            format!(
                "the string {name} needs its octave; the open strings of a four-string bass are G2 D2 A1 E1"
            )
        }
        Err(_) => {
            format!("'{word}' names no open string; write such as G2 D2 A1 E1, with Eb1 or F#1 as needed")
        }
    }
}

fn whole(said: Said) -> Result<Neck, NeckError> {
    let (strings, frets, inches) = match &said.preset {
        Some(preset) => {
            let strings = if said.strings.is_empty() { preset.open() } else { said.strings };
            (strings, preset.frets, preset.inches)
        }
        None => (said.strings, USUAL_FRETS, USUAL_INCHES),
    };
    let scale_mm = said.scale_mm.unwrap_or(inches * INCH_MM);
    let neck = Neck::new("", strings, said.frets.unwrap_or(frets), scale_mm)?
        .left_handed(said.left_handed.unwrap_or(false))
        .fretless(said.fretless)
        .with_capo(said.capo.unwrap_or(0))?;
    let neck = Neck { preset: said.preset.filter(|_| !said.retuned).map(|p| p.name), ..neck };
    let name = neck.to_string();
    Ok(neck.called(&name))
}

/// The line that [`Neck::named`] reads: the usual name and what differs, or everything written out.
impl fmt::Display for Neck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let usual = self.preset.and_then(preset);
        match &usual {
            Some(preset) => f.write_str(preset.name)?,
            None => {
                let strings: Vec<String> = self.tuned.iter().map(Pitch::to_string).collect();
                f.write_str(&strings.join(" "))?;
            }
        }
        if usual.as_ref().is_none_or(|p| p.frets != self.board_frets) {
            let what = if self.fretless { "position" } else { "fret" };
            let many = if self.board_frets == 1 { "" } else { "s" };
            write!(f, ", {} {what}{many}", self.board_frets)?;
        }
        if usual.as_ref().is_none_or(|p| p.inches * INCH_MM != self.scale_mm) {
            write!(f, ", {}", length(self.scale_mm))?;
        }
        if self.fretless {
            f.write_str(", fretless")?;
        }
        if self.capo > 0 {
            write!(f, ", capo {}", self.capo)?;
        }
        if self.left_handed { f.write_str(", left-handed") } else { Ok(()) }
    }
}

/// In inches where that is a short number, else in millimetres.
fn length(mm: f64) -> String {
    let inches = (mm / INCH_MM * 1000.0).round() / 1000.0;
    if inches * INCH_MM == mm { format!("{inches} inch") } else { format!("{mm} mm") }
}
