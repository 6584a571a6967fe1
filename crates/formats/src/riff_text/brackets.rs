//! What stands in brackets between the notes: chords, meters, tempi, pickups.

use riffkin_score::chord::Chord;
use riffkin_score::time::Quarters;

use super::bars::Reader;
use super::words;
use crate::text_error::{TextError, shown};

impl<'a> Reader<'a> {
    pub(super) fn chord(&mut self, at: usize, text: &str) -> Result<(), TextError> {
        let (name, offset) = self.split_offset(at, text)?;
        let chord = if let Ok(chord) = name.parse::<Chord>() {
            chord
        } else if let Some(key) = self.ground.key {
            Chord::from_numeral(name, key.tonic).or_else(|_| self.no_chord(at, name, ""))?
        } else {
            self.no_chord(at, name, " (numerals need a key in the header)")?
        };
        let offset = offset.unwrap_or(self.open.length);
        self.open.chords.push((offset, chord, at));
        Ok(())
    }

    fn no_chord<T>(&self, at: usize, name: &str, more: &str) -> Result<T, TextError> {
        self.fail(
            at,
            format!("{} is no chord", shown(&format!("<{name}>"))),
            format!(
                "write a symbol such as <Dm7>, <G7> or <D/F#>, or a numeral such as <i7> or <bVII>{more}"
            ),
        )
    }

    /// `Dm7 @3/2`: what, and quarters from the bar line.
    fn split_offset(&self, at: usize, text: &'a str) -> Result<(&'a str, Option<Quarters>), TextError> {
        let Some((name, offset)) = text.split_once('@') else { return Ok((text.trim(), None)) };
        match offset.trim().parse::<Quarters>() {
            Ok(offset) if offset >= Quarters::ZERO => Ok((name.trim(), Some(offset))),
            _ => self.fail(
                at,
                format!("{} is no distance from the bar line", shown(offset.trim())),
                "write quarter notes, such as @2 or @3/2",
            ),
        }
    }

    pub(super) fn square(&mut self, at: usize, text: &'a str) -> Result<(), TextError> {
        let (text, offset) = self.split_offset(at, text)?;
        let (word, value) = text.split_once(char::is_whitespace).unwrap_or((text, ""));
        let value = value.trim();
        let at_start = self.open.events.is_empty();
        match word {
            "tempo" => {
                let Some(tempo) = words::read_tempo(value) else {
                    return self.fail(
                        at,
                        format!("{} is no tempo", shown(value)),
                        "write beats in a minute from 5 to 1000, such as [tempo 96] or [tempo dotted quarter = 60]",
                    );
                };
                let offset = offset.unwrap_or(self.open.length);
                self.open.tempi.push((offset, tempo, at));
            }
            "meter" | "pickup" | "short" if !at_start || offset.is_some() => {
                return self.fail(
                    at,
                    format!("[{word}] inside a bar"),
                    "write it before the first note of the bar",
                );
            }
            "meter" => match value.parse() {
                Ok(meter) => self.open.meter = meter,
                Err(_) => {
                    return self.fail(
                        at,
                        format!("{} is no meter", shown(value)),
                        "write one such as [meter 3/4], [meter 6/8] or [meter 2+2+3/8]",
                    );
                }
            },
            "pickup" if !self.bars.is_empty() => {
                return self.fail(
                    at,
                    "[pickup] after the first bar",
                    "only the first bar is a pickup; for a later bar that is not full write [short]",
                );
            }
            "pickup" | "short" if value.is_empty() => self.open.short = true,
            _ => {
                return self.fail(
                    at,
                    format!("{} is not known", shown(&format!("[{text}]"))),
                    "known are [meter 3/4], [tempo 96], [pickup] and [short]",
                );
            }
        }
        Ok(())
    }
}
