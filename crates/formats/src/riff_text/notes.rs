//! One word of the notes: a degree, a name, a place, a tie; and the marks in parentheses after it.

use riffkin_fretboard::neck::Neck;
use riffkin_score::degree::Degree;
use riffkin_score::key::Key;
use riffkin_score::note::{Approach, Marks, Note, Place};
use riffkin_score::pitch::{Pitch, PitchName};

use super::words;
use crate::text_error::shown;

/// A problem and what to do about it, for the caller to give a place.
pub(super) type Complaint = (String, String);

fn complain<T>(problem: impl Into<String>, advice: impl Into<String>) -> Result<T, Complaint> {
    Err((problem.into(), advice.into()))
}

/// What words are read against.
pub(super) struct Ground {
    pub(super) key: Option<Key>,
    pub(super) neck: Option<Neck>,
    home: Option<Pitch>,
}

impl Ground {
    pub(super) fn new(key: Option<Key>, neck: Option<Neck>) -> Self {
        Self { key, neck, home: key.and_then(|k| words::home(k.tonic)) }
    }

    /// Reads a note word. `before` is the head that a leading `=` would hold.
    pub(super) fn read(
        &self,
        word: &str,
        before: Option<Note>,
        warnings: &mut Vec<String>,
    ) -> Result<Note, Complaint> {
        let (held, rest) = match word.strip_prefix('=') {
            Some(rest) => (Some(before), rest),
            None => (None, word),
        };
        let before = match held {
            Some(None) => {
                return complain(
                    "= has no note before it to hold",
                    "write = directly after a note, over a bar line if need be; for silence write r",
                );
            }
            Some(before) => before,
            None => None,
        };
        if let (Some(before), "") = (before, rest) {
            return Ok(Note { place: before.place, ..Note::plain(before.pitch) });
        }
        let (sound, place) = match rest.split_once('@') {
            Some((sound, place)) => (sound, Some(read_place(place)?)),
            None => (rest, None),
        };
        let pitch = if sound.is_empty() { None } else { Some(self.pitch(sound)?) };
        let note = self.placed(pitch, place, warnings)?;
        match before {
            Some(before) if before.pitch.midi() != note.pitch.midi() => complain(
                format!("= ties {} to {}, another pitch", before.pitch, note.pitch),
                "write = alone to hold the note, or leave the = out",
            ),
            _ => Ok(note),
        }
    }

    fn pitch(&self, text: &str) -> Result<Pitch, Complaint> {
        match text.chars().next() {
            Some('A'..='G') => text.parse().map_err(|_| {
                (
                    format!("{} is no note name", shown(text)),
                    "write a letter, # or b, and the sounding octave, such as Bb1 (the lowest string of a four-string is E1)".to_owned(),
                )
            }),
            Some('b' | '#' | '♭' | '♯' | '0'..='9') => self.degree(text),
            Some('a' | 'c'..='g') => complain(
                format!("{} is no note", shown(text)),
                "note names are capital letters with an octave, such as A1; degrees are numbers, such as b3",
            ),
            Some('x') if text.len() > 1 => complain(
                format!("{} is no note", shown(text)),
                "how often a repeat is played stands directly after :| , such as ':| x3'",
            ),
            _ => complain(
                format!("{} is no note, rest or length", shown(text)),
                "write a degree (b3), a note name (Bb1), a place (@3:7), r for a rest, = to hold, or a length (w h q e s t z y)",
            ),
        }
    }

    fn degree(&self, text: &str) -> Result<Pitch, Complaint> {
        let body = text.trim_end_matches(['+', '-']);
        let signs = text.get(body.len()..).unwrap_or("");
        let degree: Degree = body.parse().map_err(|_| {
            (
                format!("{} is no degree", shown(text)),
                "degrees go from 1 to 7 with b or # before them, an octave up is 1+, an octave down 1-"
                    .to_owned(),
            )
        })?;
        if signs.contains('+') && signs.contains('-') {
            return complain(format!("{} goes up and down at once", shown(text)), "write only + or only -");
        }
        let octaves = i8::try_from(signs.len()).unwrap_or(i8::MAX);
        let octaves = if signs.starts_with('-') { -octaves } else { octaves };
        let Some(home) = self.home else {
            return complain(
                format!("the degree {} without a key", shown(text)),
                "add a line such as 'key: D minor' above the notes, or write note names such as D2",
            );
        };
        words::pitch_of_degree(home, degree, octaves).ok_or_else(|| {
            (
                format!("{} above {home} cannot be written or lies outside MIDI 0 to 127", shown(text)),
                "use fewer octave signs or a plainer spelling".to_owned(),
            )
        })
    }

    fn placed(
        &self,
        pitch: Option<Pitch>,
        place: Option<Wish>,
        warnings: &mut Vec<String>,
    ) -> Result<Note, Complaint> {
        let Some(wish) = place else {
            return match pitch {
                Some(pitch) => Ok(Note::plain(pitch)),
                None => complain("an empty note", "write a degree, a note name or a place"),
            };
        };
        let Wish { place, finger, unchecked } = wish;
        let open = self.neck.as_ref().map(|neck| (neck, neck.open(place.string)));
        let at = format!("@{}:{}", place.string, place.fret);
        if let Some((neck, Some(_))) = open
            && place.fret > neck.frets()
            && !unchecked
        {
            warnings.push(format!(
                "{at} lies past the last fret ({}) of the neck '{}'",
                neck.frets(),
                neck.name()
            ));
        }
        let sounding = open.and_then(|(_, open)| open).map(|open| open.midi().number() + place.fret);
        let pitch = match (pitch, open) {
            (Some(pitch), _) if unchecked => pitch,
            (None, _) if unchecked => {
                return complain(
                    format!("{at}! says that the place does not sound the note, but there is no note"),
                    "write a degree or a note name before the @, or leave the ! out",
                );
            }
            // The neck is not known (a warning has said so): the place is taken on trust.
            (Some(pitch), None) => pitch,
            (None, None) => {
                return complain(
                    format!("{at} on a neck that is not known"),
                    format!(
                        "name one in the header: {}; or write a note before the @",
                        Neck::NAMES.join(", ")
                    ),
                );
            }
            (_, Some((neck, None))) => {
                return complain(
                    format!("{at}: the neck '{}' has {} strings", neck.name(), neck.string_count()),
                    "count strings from the highest, 1; or name another neck in the header",
                );
            }
            (Some(pitch), Some(_)) if sounding == Some(pitch.midi().number()) => pitch,
            (Some(pitch), Some((neck, _))) => {
                let there = sounding.and_then(|midi| self.name(midi)).map(|p| p.to_string());
                return complain(
                    format!(
                        "{at} sounds {} on the neck '{}', and the note is {pitch}",
                        there.as_deref().unwrap_or("nothing"),
                        neck.name()
                    ),
                    "correct one of them; for a harmonic or another tuning write ! after the place",
                );
            }
            (None, Some(_)) => match sounding.and_then(|midi| self.name(midi)) {
                Some(pitch) => pitch,
                None => return complain(format!("{at} sounds nothing"), "write a fret from 0 to 36"),
            },
        };
        Ok(Note { place: Some(place), finger, ..Note::plain(pitch) })
    }

    /// A sounding number under the name the key gives it, else the simplest.
    fn name(&self, midi: u8) -> Option<Pitch> {
        let midi = riffkin_score::pitch::Midi::new(midi)?;
        let class = midi.number() % 12;
        self.key
            .and_then(|key| {
                let slot = (class + 12 - key.tonic.pitch_class()) % 12;
                Pitch::from_midi(midi, key.degree_of_slot(slot).of(key.tonic)?)
            })
            .or_else(|| Pitch::from_midi(midi, PitchName::simplest(class)))
    }
}

/// What stands after the `@`.
struct Wish {
    place: Place,
    finger: Option<u8>,
    unchecked: bool,
}

fn read_place(text: &str) -> Result<Wish, Complaint> {
    let (numbers, unchecked) = match text.strip_suffix('!') {
        Some(numbers) => (numbers, true),
        None => (text, false),
    };
    let mut parts = numbers.split(':');
    let mut part = |low: u8, high: u8| {
        parts.next().map(|p| {
            let plain = !p.is_empty() && p.len() <= 2 && p.chars().all(|c| c.is_ascii_digit());
            p.parse::<u8>().ok().filter(|n| plain && (low..=high).contains(n))
        })
    };
    let found = (part(1, 12), part(0, 36), part(0, 4), part(0, 0));
    match found {
        (Some(Some(string)), Some(Some(fret)), finger @ (None | Some(Some(_))), None) => {
            Ok(Wish { place: Place { string, fret }, finger: finger.flatten(), unchecked })
        }
        _ => complain(
            format!("{} is no place", shown(&format!("@{text}"))),
            "write string and fret, and a finger if you like: @3:7 or @3:7:4 (string 1 to 12 from the highest, fret 0 to 36, finger 0 to 4)",
        ),
    }
}

/// Puts the words of a parenthesis on a note.
pub(super) fn read_marks(note: &mut Note, text: &str) -> Result<(), (usize, Complaint)> {
    let mut any = false;
    let mut at = 0;
    for word in text.split(char::is_whitespace) {
        if !word.is_empty() {
            any = true;
            read_mark(note, word).map_err(|complaint| (at, complaint))?;
        }
        // Blanks may be wider than a byte.
        at += word.len();
        at += text.get(at..).and_then(|rest| rest.chars().next()).map_or(0, char::len_utf8);
    }
    if any {
        Ok(())
    } else {
        Err((0, ("empty parentheses".to_owned(), "write marks between them, such as (accent)".to_owned())))
    }
}

fn read_mark(note: &mut Note, word: &str) -> Result<(), Complaint> {
    if let Some(approach) = words::read_approach(word) {
        if note.approach != Approach::Plucked {
            return complain(
                format!("{} on a note that is reached another way already", shown(word)),
                "keep one of hammer, pull, slide and slide-plucked",
            );
        }
        note.approach = approach;
    } else if let Some(mark) = words::read_mark(word) {
        if note.marks.has(mark) {
            return complain(format!("{} twice on one note", shown(word)), "take one out");
        }
        note.marks = note.marks.with(mark);
    } else if let Some(text) = word.strip_prefix("bend:") {
        if note.bend != 0 {
            return complain("two bends on one note", "take one out");
        }
        note.bend = match words::read_bend(text) {
            Some(bend) => bend,
            None => {
                return complain(
                    format!("{} is no bend", shown(word)),
                    "write semitones, halves allowed: bend:1/2, bend:1, bend:3/2, up to bend:4",
                );
            }
        };
    } else if let Some(text) = word.strip_prefix("finger:") {
        if note.finger.is_some() {
            return complain("two fingers for one note", "take one out");
        }
        note.finger = match text {
            "0" => Some(0),
            "1" => Some(1),
            "2" => Some(2),
            "3" => Some(3),
            "4" => Some(4),
            _ => {
                return complain(
                    format!("{} is no finger", shown(word)),
                    "write finger:1 to finger:4, or finger:0 for an open string",
                );
            }
        };
    } else {
        let marks: Vec<&str> = riffkin_score::note::Mark::ALL.into_iter().map(|m| m.name()).collect();
        return complain(
            format!("{} is no mark", shown(word)),
            format!("known are hammer, pull, slide, slide-plucked, {}, bend:1/2, finger:1", marks.join(", ")),
        );
    }
    Ok(())
}

/// True when the note has nothing but its pitch, place and tie.
pub(super) fn is_bare(note: &Note) -> bool {
    note.approach == Approach::Plucked && note.marks == Marks::NONE && note.bend == 0 && note.finger.is_none()
}
