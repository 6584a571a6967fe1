//! Texts that Riffkin writes into text events, for what MIDI itself cannot say.
//!
//! Each begins with `riffkin ` and holds one thing: `riffkin key: D Dorian`. `docs/midi.md` lists them. Other
//! programs show or ignore them.

use riffkin_score::note::{Approach, Mark, Marks, Note, Place};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::tempo::{Feel, Swing};
use riffkin_score::time::Quarters;

/// What stands with a note beyond its pitch and time.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct NoteText {
    pub(super) name: Option<PitchName>,
    pub(super) approach: Approach,
    pub(super) marks: Marks,
    pub(super) bend: u8,
    pub(super) place: Option<Place>,
    pub(super) finger: Option<u8>,
    /// Onset and length, when the ticks do not hold them exactly.
    pub(super) exact: Option<(Quarters, Quarters)>,
}

const APPROACHES: [(Approach, &str); 4] = [
    (Approach::Hammer, "hammer-on"),
    (Approach::Pull, "pull-off"),
    (Approach::Slide, "slide"),
    (Approach::SlidePlucked, "slide-plucked"),
];

impl NoteText {
    /// Of a note whose name the reader would guess as `guess`.
    pub(super) fn of(note: &Note, guess: PitchName, exact: Option<(Quarters, Quarters)>) -> Self {
        Self {
            name: Some(note.pitch.name()).filter(|n| *n != guess),
            approach: note.approach,
            marks: note.marks,
            bend: note.bend,
            place: note.place,
            finger: note.finger,
            exact,
        }
    }

    /// The note it describes.
    pub(super) fn note(&self, midi: Midi, guess: PitchName) -> Option<Note> {
        let pitch = self.name.and_then(|name| Pitch::from_midi(midi, name)).or_else(|| named(midi, guess))?;
        Some(Note {
            approach: self.approach,
            marks: self.marks,
            bend: self.bend.min(8),
            place: self.place.filter(|p| (1..=12).contains(&p.string) && p.fret <= 36),
            finger: self.finger.filter(|f| *f <= 4),
            ..Note::plain(pitch)
        })
    }

    /// As written; `None` when there is nothing to say.
    pub(super) fn write(&self) -> Option<String> {
        let mut words = Vec::new();
        if let Some(name) = self.name {
            words.push(format!("name {name}"));
        }
        words.extend(APPROACHES.iter().filter(|a| a.0 == self.approach).map(|a| a.1.to_owned()));
        words.extend(self.marks.iter().map(|m| m.name().to_owned()));
        if self.bend > 0 {
            words.push(format!("bend {}", self.bend));
        }
        if let Some(place) = self.place {
            words.push(format!("string {}", place.string));
            words.push(format!("fret {}", place.fret));
        }
        if let Some(finger) = self.finger {
            words.push(format!("finger {finger}"));
        }
        if let Some((onset, length)) = self.exact {
            words.push(format!("at {onset}"));
            words.push(format!("for {length}"));
        }
        (!words.is_empty()).then(|| words.join(" "))
    }

    /// Reads what [`NoteText::write`] wrote; `Err` with the first word not understood.
    pub(super) fn read(text: &str) -> Result<Self, String> {
        let mut read = Self::default();
        let (mut string, mut fret, mut at, mut length) = (None, None, None, None);
        let mut words = text.split_whitespace();
        while let Some(word) = words.next() {
            if let Some((approach, _)) = APPROACHES.iter().find(|a| a.1 == word) {
                read.approach = *approach;
                continue;
            }
            if let Some(mark) = Mark::ALL.into_iter().find(|m| m.name() == word) {
                read.marks = read.marks.with(mark);
                continue;
            }
            let refuse = || word.to_owned();
            let value = words.next().ok_or_else(refuse)?;
            match word {
                "name" => read.name = Some(value.parse().map_err(|_| refuse())?),
                "bend" => read.bend = value.parse().map_err(|_| refuse())?,
                "string" => string = Some(value.parse().map_err(|_| refuse())?),
                "fret" => fret = Some(value.parse().map_err(|_| refuse())?),
                "finger" => read.finger = Some(value.parse().map_err(|_| refuse())?),
                "at" => at = Some(value.parse().map_err(|_| refuse())?),
                "for" => length = Some(value.parse().map_err(|_| refuse())?),
                _ => return Err(refuse()),
            }
        }
        read.place = string.zip(fret).map(|(string, fret)| Place { string, fret });
        read.exact = at.zip(length);
        Ok(read)
    }
}

/// A MIDI number under a name, or under its simplest when the name is of another pitch.
pub(super) fn named(midi: Midi, name: PitchName) -> Option<Pitch> {
    Pitch::from_midi(midi, name).or_else(|| Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12)))
}

/// `straight`, `swing 2:1 eighths`.
pub(super) fn feel_words(feel: Feel) -> String {
    match feel {
        Feel::Straight => "straight".to_owned(),
        Feel::Swing(swing) => {
            let of = if swing.sixteenths() { "sixteenths" } else { "eighths" };
            format!("swing {}:{} {of}", swing.long(), swing.short())
        }
    }
}

/// Reads [`feel_words`].
pub(super) fn feel_of(words: &str) -> Option<Feel> {
    let mut words = words.split_whitespace();
    match (words.next()?, words.next(), words.next()) {
        ("straight", None, None) => Some(Feel::Straight),
        ("swing", Some(ratio), Some(of)) => {
            let (long, short) = ratio.split_once(':')?;
            let sixteenths = match of {
                "eighths" => false,
                "sixteenths" => true,
                _ => return None,
            };
            Swing::new(long.parse().ok()?, short.parse().ok()?, sixteenths).map(Feel::Swing)
        }
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_note_says_all_it_has_and_reads_it_back() {
        let text = NoteText {
            name: "Cb".parse().ok(),
            approach: Approach::SlidePlucked,
            marks: [Mark::Accent, Mark::PalmMute].into_iter().collect(),
            bend: 3,
            place: Some(Place { string: 4, fret: 7 }),
            finger: Some(2),
            exact: Quarters::new(1, 7).ok().zip(Quarters::new(2, 7).ok()),
        };
        let written = text.write().unwrap();
        assert_eq!(
            written,
            "name Cb slide-plucked accent palm-mute bend 3 string 4 fret 7 finger 2 at 1/7 for 2/7"
        );
        assert_eq!(NoteText::read(&written).unwrap(), text);
        assert_eq!(NoteText::default().write(), None);
        assert_eq!(NoteText::read("string 4 wobble 3"), Err("wobble".to_owned()));
    }
}
