//! One `note` element.

use riffkin_score::note::{Mark, Marks};
use riffkin_score::pitch::Pitch;
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::super::MusicXmlError;
use super::super::marks::{POP, SLAP};
use super::super::tree::Element;
use super::notices::short;
use super::values::{Decimal, Where};

/// A line between notes: where it starts and stops.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Ends {
    /// One starts at this note.
    pub(super) start: bool,
    /// One stops at this note.
    pub(super) stop: bool,
}

impl Ends {
    fn add(&mut self, element: Element<'_>) {
        match element.attribute("type") {
            Some("start") => self.start = true,
            Some("stop") => self.stop = true,
            _ => {}
        }
    }
}

/// How a note is played, as far as a riff can hold it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Playing {
    /// Marks, vibrato excepted.
    pub(super) marks: Marks,
    /// Quarter tones upwards.
    pub(super) bend: u8,
    /// From 1, the highest.
    pub(super) string: Option<u8>,
    /// From 0.
    pub(super) fret: Option<u8>,
    /// 0 open, 1 to 4.
    pub(super) finger: Option<u8>,
    /// Hammer-ons.
    pub(super) hammer: Ends,
    /// Pull-offs.
    pub(super) pull: Ends,
    /// Slides and glissandi.
    pub(super) slide: Ends,
    /// Slurs.
    pub(super) slur: Ends,
    /// Wavy lines without a trill.
    pub(super) wave: Ends,
}

/// A note or rest of the file, still with its place in the measure.
#[derive(Clone, Debug)]
pub(super) struct RawNote<'t> {
    /// Distance from the bar line.
    pub(super) at: Quarters,
    /// How long.
    pub(super) length: Quarters,
    /// The value it is written with, when that is as long.
    pub(super) value: Option<NoteValue>,
    /// What sounds; `None` for a rest.
    pub(super) pitch: Option<Pitch>,
    /// A rest for the whole measure, however long it says it is.
    pub(super) whole_measure: bool,
    /// Tied to the next.
    pub(super) tied: bool,
    /// The staff, from 1.
    pub(super) staff: u16,
    /// The voice's name.
    pub(super) voice: &'t str,
    /// How it is played.
    pub(super) playing: Playing,
}

/// Reads marks, fingering and lines. What a riff cannot hold goes to `left_out` by name.
pub(super) fn playing(
    note: Element<'_>,
    place: Where<'_>,
    left_out: &mut impl FnMut(String),
) -> Result<Playing, MusicXmlError> {
    let mut playing = Playing::default();
    if let Some(head) = note.child("notehead") {
        if head.attribute("parentheses") == Some("yes") {
            playing.mark(Mark::Ghost);
        }
        match head.text() {
            "x" | "cross" => playing.mark(Mark::Dead),
            "" | "normal" => {}
            other => left_out(format!("the notehead '{}' is read as a plain one", short(other))),
        }
    }
    for play in note.all("play") {
        if play.text_of("mute") == Some("palm") {
            playing.mark(Mark::PalmMute);
        }
    }
    if note.has("lyric") {
        left_out("lyrics are left out".to_owned());
    }
    for group in note.all("notations").flat_map(Element::children) {
        match group.name() {
            "tied" if group.attribute("type") == Some("let-ring") => playing.mark(Mark::LetRing),
            "tied" | "tuplet" => {}
            "slur" => playing.slur.add(group),
            "slide" | "glissando" => playing.slide.add(group),
            "ornaments" => playing.ornaments(group, left_out),
            "technical" => {
                for element in group.children() {
                    playing.technical(element, place, left_out)?;
                }
            }
            "articulations" => playing.articulations(group, left_out),
            other => left_out(format!("{} are left out", plural(other))),
        }
    }
    Ok(playing)
}

/// The name of an element as a plural in words.
pub(super) fn plural(element: &str) -> String {
    let words = short(&element.replace('-', " "));
    if words.ends_with('s') { words } else { format!("{words}s") }
}

impl Playing {
    fn mark(&mut self, mark: Mark) {
        self.marks = self.marks.with(mark);
    }

    fn ornaments(&mut self, group: Element<'_>, left_out: &mut impl FnMut(String)) {
        let trill = group.has("trill-mark");
        for element in group.children() {
            match element.name() {
                "wavy-line" if !trill => self.wave.add(element),
                "wavy-line" | "accidental-mark" => {}
                other => left_out(format!("{} are left out", plural(other))),
            }
        }
    }

    fn articulations(&mut self, group: Element<'_>, left_out: &mut impl FnMut(String)) {
        for element in group.children() {
            match element.name() {
                "accent" => self.mark(Mark::Accent),
                "staccato" => self.mark(Mark::Staccato),
                "strong-accent" => {
                    self.mark(Mark::Accent);
                    left_out("strong accents are read as accents".to_owned());
                }
                "staccatissimo" => {
                    self.mark(Mark::Staccato);
                    left_out("staccatissimo is read as staccato".to_owned());
                }
                other => left_out(format!("{} are left out", plural(other))),
            }
        }
    }

    fn technical(
        &mut self,
        element: Element<'_>,
        place: Where<'_>,
        left_out: &mut impl FnMut(String),
    ) -> Result<(), MusicXmlError> {
        match element.name() {
            "string" => {
                let string = element.text().parse::<u8>();
                let string = string.map_err(|_| place.bad(element, "a string, 1 the highest"))?;
                if (1..=12).contains(&string) {
                    self.string = Some(string);
                } else {
                    left_out(format!("string {string} is not one of 1 to 12 and is left out"));
                }
            }
            "fret" => {
                let fret = element.text().parse::<u8>();
                let fret = fret.map_err(|_| place.bad(element, "a fret, 0 the open string"))?;
                if fret <= 36 {
                    self.fret = Some(fret);
                } else {
                    left_out(format!("fret {fret} is beyond the 36th and is left out"));
                }
            }
            "fingering" => match element.text().parse::<u8>() {
                Ok(finger @ 0..=4) => {
                    if self.finger.is_none() {
                        self.finger = Some(finger);
                    }
                }
                _ if element.text().is_empty() => {}
                _ => left_out(format!(
                    "fingering '{}' is none of 0 to 4 and is left out",
                    short(element.text())
                )),
            },
            "open-string" => {
                if self.finger.is_none() {
                    self.finger = Some(0);
                }
            }
            "hammer-on" => self.hammer.add(element),
            "pull-off" => self.pull.add(element),
            "bend" => self.bend(element, place, left_out)?,
            "harmonic" => {
                self.mark(Mark::Harmonic);
                if element.has("artificial") {
                    left_out("artificial harmonics are read as natural ones".to_owned());
                }
            }
            "snap-pizzicato" => self.mark(Mark::Pop),
            "other-technical" => match element.text().to_lowercase().replace(['-', '_', '.'], " ").trim() {
                SLAP | "thumb" => self.mark(Mark::Slap),
                POP | "popped" => self.mark(Mark::Pop),
                "palm mute" | "pm" | "p m" => self.mark(Mark::PalmMute),
                "let ring" => self.mark(Mark::LetRing),
                "dead" | "dead note" => self.mark(Mark::Dead),
                "ghost" | "ghost note" => self.mark(Mark::Ghost),
                "vibrato" => self.mark(Mark::Vibrato),
                _ => left_out(format!("the marking '{}' is left out", short(element.text()))),
            },
            other => left_out(format!("{} are left out", plural(other))),
        }
        Ok(())
    }

    fn bend(
        &mut self,
        element: Element<'_>,
        place: Where<'_>,
        left_out: &mut impl FnMut(String),
    ) -> Result<(), MusicXmlError> {
        let Some(alter) = element.child("bend-alter") else {
            return Err(place.missing(element, "bend-alter"));
        };
        let semitones =
            Decimal::parse(alter.text()).ok_or_else(|| place.bad(alter, "semitones, such as 0.5 or 1"))?;
        if element.has("release") || semitones.num < 0 {
            left_out("the release of a bend is left out".to_owned());
            return Ok(());
        }
        if element.has("pre-bend") {
            left_out("bends before the note are read as bends".to_owned());
        }
        let (quarter_tones, rounded) = Decimal { num: semitones.num * 2, ..semitones }.rounded();
        if rounded || quarter_tones > 8 {
            left_out(format!("a bend of {} semitones is read as the nearest up to 4", short(alter.text())));
        }
        self.bend = self.bend.max(u8::try_from(quarter_tones.min(8)).unwrap_or(0));
        Ok(())
    }
}
