//! Typed tablature: the lines of dashes and fret numbers that bassists send each other in mail.
//!
//! Strings and frets are certain, rhythm is not: it is guessed from the spacing, or taken from a count line
//! (`1 + 2 + 3 + 4 +`) above or below the lines, and a warning always says which. What is read and how it is
//! guessed stands in `docs/typed-tablature.md`.
//!
//! ```
//! use riffkin_formats::tab_text::{TabOptions, read};
//! let text = "\
//! G|-----------------|
//! D|-----------------|
//! A|-----5-3---------|
//! E|-3-3-----3-------|";
//! let (riff, warnings) = read(text, &TabOptions::default()).unwrap();
//! assert_eq!(riff.line()[2].note.pitch.to_string(), "D2");
//! assert!(warnings.iter().any(|w| w.message.contains("guessed from the spacing")));
//! ```

mod counts;
mod lines;
mod signs;
mod spacing;
mod system;
mod tuning;
mod values;

pub use crate::text_error::TextError as TabError;

use riffkin_score::Warning;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::Note;
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;

use crate::text_error::Source;
use lines::Text;
use signs::Found;
use spacing::Spacing;
use system::{Measure, System};
use tuning::Tuning;

/// What the text does not say.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TabOptions {
    /// The meter of every bar; 4/4 unless told otherwise.
    pub meter: Meter,
    /// The tempo; 120 quarters a minute unless told otherwise.
    pub tempo: Tempo,
    /// The key, if known: it decides how notes are spelled.
    pub key: Option<Key>,
}

impl Default for TabOptions {
    fn default() -> Self {
        Self { meter: Meter::FOUR_FOUR, tempo: Tempo::default(), key: None }
    }
}

/// Most lines of other text kept as remarks.
const MOST_REMARKS: usize = 50;

/// Reads typed tablature.
///
/// The riff's notes carry the string and fret that were typed. Time is linear in the length of the text.
///
/// # Errors
/// [`TabError`], with the line and column, when there are no lines of tablature, when they do not belong
/// together, or when a number cannot be a fret.
pub fn read(text: &str, options: &TabOptions) -> Result<(Riff, Vec<Warning>), TabError> {
    let source = Source(text);
    let Text { systems, words, mut warnings } = lines::read(source)?;
    let tuning = Tuning::read(source, &systems, &mut warnings)?;
    let mut reader = Reader { source, options, tuning: &tuning, bars: Vec::new(), warnings, counted: 0 };
    let mut carried = signs::Carried::default();
    let mut unknown = signs::Unknown::default();
    for system in &systems {
        reader.system(system, &mut carried, &mut unknown)?;
    }
    reader.warnings.extend(carried.left_over());
    reader.warnings.extend(unknown.warnings());
    reader.finish(words)
}

/// True when the text holds lines of tablature: one with a letter and a bar line, or three that stand together.
pub(crate) fn looks_like(text: &str) -> bool {
    lines::looks_like(text)
}

struct Reader<'a> {
    source: Source<'a>,
    options: &'a TabOptions,
    tuning: &'a Tuning,
    bars: Vec<Bar>,
    warnings: Vec<Warning>,
    /// Bars whose rhythm came from a count line.
    counted: usize,
}

/// A note with the place in its bar.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Timed {
    at: Quarters,
    note: Note,
}

impl Reader<'_> {
    fn system(
        &mut self,
        system: &System,
        carried: &mut signs::Carried,
        unknown: &mut signs::Unknown,
    ) -> Result<(), TabError> {
        let mut measures = system::measures(self.source, system, &mut self.warnings)?;
        if self.bars.len() + measures.len() > Riff::MAX_BARS {
            let at = system.at();
            return Err(self.source.error(
                at,
                format!("more than {} bars", Riff::MAX_BARS),
                "split the text into several riffs",
            ));
        }
        let mut found = Vec::with_capacity(measures.len());
        for measure in &measures {
            let mut hand = signs::Hand {
                source: self.source,
                tuning: self.tuning,
                key: self.options.key,
                carried,
                unknown,
                warnings: &mut self.warnings,
            };
            let notes = signs::read(&mut hand, measure)?;
            found.push(notes);
        }
        if let ([measure], [notes]) = (measures.as_slice(), found.as_slice())
            && let Some(cut) = spacing::cut_long(self.options.meter, measure, notes)
        {
            self.warnings.push(Warning::at(
                format!("line {}", measure.first_line()),
                format!("a long system without bar lines; it was cut into {} bars by its spacing", cut.len()),
            ));
            (measures, found) = cut.into_iter().unzip();
        }
        let counts = counts::read(system, self.options.meter, &mut self.warnings);
        let spacing = Spacing::choose(self.options.meter, self.bars.is_empty(), &measures, &found);
        for (i, (measure, notes)) in measures.iter().zip(&found).enumerate() {
            self.bar(&spacing, i, measure, notes, &counts)?;
        }
        Ok(())
    }

    fn bar(
        &mut self,
        spacing: &Spacing,
        i: usize,
        measure: &Measure,
        notes: &[Found],
        counts: &[counts::Count],
    ) -> Result<(), TabError> {
        let (length, is_pickup) = spacing.length(i);
        let number = self.bars.len() + usize::from(!self.starts_with_pickup(is_pickup));
        let here = format!("bar {number}");
        let full = self.options.meter.bar_length();
        let mut times = None;
        if !is_pickup && let Some(counted) = counts::times(counts, measure, notes, full) {
            self.counted += 1;
            times = Some(counted);
        }
        let (times, clean) = match times {
            Some(times) => (times, true),
            None => match spacing.times(i) {
                Some(times) => times,
                None => {
                    return Err(self.source.error(
                        notes.first().map_or(0, |f| f.at),
                        format!("{} notes in a bar of {}", notes.len(), self.options.meter),
                        "write bar lines, or name another meter",
                    ));
                }
            },
        };
        if !clean {
            self.warnings.push(Warning::at(
                &here,
                format!(
                    "the spacing on line {} fits no plain rhythm; notes were moved to the nearest sixteenths",
                    measure.first_line()
                ),
            ));
        }
        let timed = self.one_at_a_time(&here, &times, notes);
        let mut bar = Bar::new(self.options.meter, values::events(&timed, length, self.options.meter));
        if is_pickup {
            bar.short = true;
            self.warnings.push(Warning::at(
                &here,
                format!("narrower than the other bars: read as a pickup of {length} quarter notes"),
            ));
        }
        bar.repeat_start = measure.repeat_start;
        bar.repeat_end = measure.repeat_end;
        self.bars.push(bar);
        Ok(())
    }

    fn starts_with_pickup(&self, this: bool) -> bool {
        self.bars.first().map_or(this, |b| b.short)
    }

    /// Of notes at the same time the lowest stays.
    fn one_at_a_time(&mut self, here: &str, times: &[Quarters], notes: &[Found]) -> Vec<Timed> {
        let mut timed: Vec<Timed> = Vec::with_capacity(notes.len());
        for (&at, found) in times.iter().zip(notes) {
            let new = Timed { at, note: found.note };
            match timed.last_mut() {
                Some(last) if last.at == at => {
                    let (keep, drop) = if new.note.pitch.midi() < last.note.pitch.midi() {
                        (new, *last)
                    } else {
                        (*last, new)
                    };
                    self.warnings.push(Warning::at(
                        here,
                        format!(
                            "two notes at once ({} and {}) on line {}; the lower one was kept",
                            keep.note.pitch, drop.note.pitch, found.line
                        ),
                    ));
                    *last = keep;
                }
                _ => timed.push(new),
            }
        }
        timed
    }

    fn finish(mut self, words: Vec<lines::Words>) -> Result<(Riff, Vec<Warning>), TabError> {
        let any = self.bars.iter().flat_map(|b| &b.events).any(|e| e.note.is_some());
        if !any {
            return Err(self.source.error(
                0,
                "there is no fret number on any line",
                "write frets as numbers, such as A|---5-7---|",
            ));
        }
        let guessed = self.bars.len() - self.counted;
        if self.counted > 0 {
            self.warnings.push(Warning::whole(format!(
                "rhythm of {} bars taken from the count line; how long each note lasts was guessed: until the next",
                self.counted
            )));
        }
        if guessed > 0 {
            self.warnings.push(Warning::whole(format!(
                "rhythm of {guessed} bars guessed from the spacing, in {}; check it by ear",
                self.options.meter
            )));
        }
        let mut header = Header {
            key: self.options.key,
            tempo: self.options.tempo,
            neck: self.tuning.name().map(str::to_owned),
            ..Header::default()
        };
        self.words(&mut header, words);
        let source = self.source;
        let riff = Riff::new(header, self.bars)
            .map_err(|why| source.error(0, why.to_string(), "split or correct the bar it names"))?;
        Ok((riff, self.warnings))
    }

    /// Text above the first system is the title, other text is kept as remarks.
    fn words(&mut self, header: &mut Header, words: Vec<lines::Words>) {
        header.remarks.extend(self.tuning.remark());
        let more = words.len().saturating_sub(MOST_REMARKS);
        for (i, line) in words.into_iter().take(MOST_REMARKS).enumerate() {
            let place = format!("line {}", line.number);
            if i == 0 && line.before_all {
                self.warnings.push(Warning::at(place, "taken as the title"));
                header.title = line.text;
            } else {
                self.warnings.push(Warning::at(place, "no tablature; kept as a remark"));
                header.remarks.push(line.text);
            }
        }
        if more > 0 {
            self.warnings.push(Warning::whole(format!("{more} more lines of text were left out")));
        }
    }
}
