//! Notes: pitch, marks, place; and chords.

use super::Maker;
use crate::chord::{Chord, ChordKind};
use crate::key::Key;
use crate::note::{Approach, Event, Mark, Note, Place};
use crate::pitch::{Midi, Pitch, PitchName};
use crate::value::NoteValue;

impl Maker {
    pub(super) fn chord(&mut self) -> Chord {
        let kind = self.dice.pick(&ChordKind::ALL, ChordKind::Major);
        let root = self.name_of(self.dice.0 as u8 % 12);
        let bass = self.dice.percent(20).then(|| {
            let slot = self.dice.below(12) as u8;
            self.name_of(slot)
        });
        Chord { root, kind, bass: bass.filter(|b| *b != root) }
    }

    /// A pitch class spelled the way the key spells it; anyhow in the wild.
    fn name_of(&mut self, pitch_class: u8) -> PitchName {
        if self.recipe.wild && self.dice.percent(30) {
            let plain = PitchName::simplest(pitch_class).line_of_fifths();
            let by = self.dice.pick(&[-12, 12], 12);
            return PitchName::from_line_of_fifths(plain + by)
                .unwrap_or_else(|| PitchName::simplest(pitch_class));
        }
        self.key
            .and_then(|key| {
                let slot = (pitch_class + 12 - key.tonic.pitch_class()) % 12;
                key.degree_of_slot(slot).of(key.tonic)
            })
            .unwrap_or_else(|| PitchName::simplest(pitch_class))
    }

    fn pitch(&mut self) -> Option<Pitch> {
        let (low, high) = (i32::from(self.recipe.range.0), i32::from(self.recipe.range.1.min(127)));
        let low = match self.open.last() {
            Some(&open) if !self.recipe.wild => low.max(i32::from(open)),
            _ => low,
        };
        let leap = match self.dice.below(8) {
            0 => self.dice.between(-12, 12),
            1 => 0,
            _ => self.dice.between(-5, 5),
        };
        let mut wanted = if self.recipe.wild && self.dice.percent(10) {
            self.dice.between(low, high)
        } else {
            (self.last + leap).clamp(low, high.max(low))
        };
        // Mostly inside the scale.
        if let Some(Key { tonic, mode: Some(mode) }) = self.key
            && self.dice.percent(80)
        {
            let slot = |midi: i32| (midi - i32::from(tonic.pitch_class())).rem_euclid(12) as u8;
            while !mode.set().contains(slot(wanted)) && wanted < high {
                wanted += 1;
            }
        }
        self.last = wanted;
        self.spell(Midi::new(u8::try_from(wanted).ok()?)?)
    }

    pub(super) fn spell(&mut self, midi: Midi) -> Option<Pitch> {
        let name = self.name_of(midi.number() % 12);
        Pitch::from_midi(midi, name)
            .or_else(|| Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12)))
    }

    pub(super) fn event(&mut self, value: NoteValue) -> Event {
        let pitch = if self.dice.percent(12) { None } else { self.pitch() };
        let Some(pitch) = pitch else {
            self.before = None;
            return Event::rest(value);
        };
        let mut note = Note::plain(pitch);
        if self.recipe.marks {
            self.mark(&mut note);
        }
        if self.recipe.places && self.dice.percent(40) {
            self.place(&mut note);
        }
        self.before = Some(note);
        Event::note(value, note)
    }

    fn mark(&mut self, note: &mut Note) {
        let rise = self.before.map(|b| b.pitch.interval_to(note.pitch).semitones());
        note.approach = match (self.dice.below(5), rise) {
            (0, Some(1..=4)) => Approach::Hammer,
            (0, Some(-4..=-1)) => Approach::Pull,
            (1, Some(n)) if n != 0 && n.abs() <= 12 => {
                self.dice.pick(&[Approach::Slide, Approach::SlidePlucked], Approach::Slide)
            }
            (2, _) if self.recipe.wild => {
                self.dice.pick(&[Approach::Hammer, Approach::Pull, Approach::Slide], Approach::Pull)
            }
            _ => Approach::Plucked,
        };
        while self.dice.percent(15) {
            note.marks = note.marks.with(self.dice.pick(&Mark::ALL, Mark::Accent));
        }
        if self.dice.percent(5) && (self.recipe.wild || !note.marks.has(Mark::Dead)) {
            note.bend = self.dice.between(1, if self.recipe.wild { 8 } else { 4 }) as u8;
        }
    }

    fn place(&mut self, note: &mut Note) {
        if self.recipe.wild && self.dice.percent(10) {
            note.place =
                Some(Place { string: self.dice.between(1, 12) as u8, fret: self.dice.between(0, 36) as u8 });
            note.finger = self.dice.percent(50).then(|| self.dice.between(0, 4) as u8);
            return;
        }
        // A harmonic sounds elsewhere than where it is touched, so only the wild ones have a place.
        if note.marks.has(Mark::Harmonic) && !self.recipe.wild {
            return;
        }
        let midi = note.pitch.midi().number();
        let places: Vec<Place> = (1u8..)
            .zip(self.open)
            .filter_map(|(string, &open)| Some(Place { string, fret: midi.checked_sub(open)? }))
            .filter(|place| place.fret <= 20)
            .collect();
        let Some(&place) = places.get(self.dice.below(places.len())) else { return };
        note.place = self.dice.percent(85).then_some(place);
        let finger = if place.fret == 0 { 0 } else { self.dice.between(1, 4) as u8 };
        note.finger = self.dice.percent(50).then_some(finger);
    }
}
