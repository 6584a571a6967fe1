//! Material: which degrees a riff is made of, and how much each of them counts.

use crate::analysis::heard::{Heard, Strength};
use crate::degree::DegreeSet;
use crate::pitch::PitchName;
use crate::time::Quarters;

/// How often and how long one slot is heard.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct SlotWeight {
    /// Notes.
    pub notes: usize,
    /// Their lengths together, in quarters.
    pub duration: Quarters,
    /// Notes on a bar line.
    pub downbeats: usize,
    /// Stressed notes.
    pub accents: usize,
    /// Its share of the whole by [`Heard::weight`], 0 to 1; the twelve add up to 1 unless nothing sounds.
    pub share: f64,
}

/// The degrees of a riff against a tonic.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Material {
    /// The slots heard.
    pub set: DegreeSet,
    /// Each slot, semitones above the tonic.
    pub slots: [SlotWeight; 12],
}

impl Material {
    /// What the notes are against a tonic.
    pub fn of(notes: &[Heard], tonic: PitchName) -> Self {
        let mut material = Self::default();
        let mut total = 0.0;
        for note in notes {
            let slot = note.slot_above(tonic.pitch_class());
            material.set = material.set.with(slot);
            let sum = &mut material.slots[usize::from(slot)];
            sum.notes += 1;
            sum.duration += note.length;
            sum.downbeats += usize::from(note.strength == Strength::Bar);
            sum.accents += usize::from(note.accent);
            sum.share += note.weight();
            total += note.weight();
        }
        if total > 0.0 {
            for slot in &mut material.slots {
                slot.share /= total;
            }
        }
        material
    }

    /// The weight of a slot, semitones above the tonic.
    pub fn slot(&self, slot: u8) -> SlotWeight {
        self.slots[usize::from(slot % 12)]
    }

    /// The share of the riff that lies inside a set, 0 to 1.
    pub fn share_within(&self, set: DegreeSet) -> f64 {
        set.slots().map(|s| self.slot(s).share).sum()
    }

    /// Notes in all.
    pub fn notes(&self) -> usize {
        self.slots.iter().map(|s| s.notes).sum()
    }
}
