//! Stretches: a riff as one pitch class after another, each with the time until the next, on a grid of twelfths
//! of a quarter note. It is what alignment compares.

use riffkin_score::riff::{BarBeat, Riff};

use crate::imprint::{Imprint, TICKS_PER_QUARTER};

/// Grid steps in a quarter note: a sixteenth has 3, an eighth triplet 4.
pub const GRID: u32 = 12;
/// Longest stretch, in grid steps; a longer one counts as this long (more than 21 quarters).
pub const LONGEST: u8 = 255;
/// Most stretches that are compared; what follows in a longer riff is left out ([`Stretches::is_cut`]).
pub const MOST: usize = 256;

/// One pitch class sounding, whatever the octave and however often it is struck.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Stretch {
    /// Semitones above the tonic, 0 to 11; above the first note when there is no tonic.
    pub slot: u8,
    /// Grid steps from its onset to the next stretch; for the last one to the end of its last note. At least 1.
    pub length: u8,
}

/// The stretches of a riff and where each begins in it.
///
/// What is lost: octaves, how often a note is struck again, rests (a note lasts until the next one),
/// everything finer than a grid step (of two notes whose onsets fall on one step the earlier is dropped), and
/// whatever follows the first [`MOST`] stretches.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Stretches {
    line: Vec<Stretch>,
    notes: Vec<usize>,
    end: usize,
    cut: bool,
}

impl Stretches {
    /// Of an imprint.
    pub fn of(imprint: &Imprint) -> Self {
        let notes = imprint.notes();
        let Some(first) = notes.first() else { return Self::default() };
        let one = imprint.tonic().unwrap_or(first.midi % 12);
        let mut made = Self::default();
        for (i, note) in notes.iter().enumerate() {
            let end = notes.get(i + 1).map_or(note.onset + note.length, |next| next.onset);
            let length = on_grid(end) - on_grid(note.onset);
            // The last note may be shorter than half a step: it is heard nevertheless.
            let length = if i + 1 == notes.len() { length.max(1) } else { length };
            if length > 0 {
                made.push(i, crate::imprint::slot(note.midi, one), length);
            }
        }
        made
    }

    /// From pitch classes and lengths in grid steps, such as a query; neighbours of one pitch class are joined,
    /// lengths of nothing are dropped.
    pub fn from_pairs(pairs: impl IntoIterator<Item = (u8, u32)>) -> Self {
        let mut made = Self::default();
        for (i, (slot, length)) in pairs.into_iter().enumerate() {
            if length > 0 {
                made.push(i, slot % 12, length);
            }
        }
        made
    }

    fn push(&mut self, note: usize, slot: u8, length: u32) {
        let most = u32::from(LONGEST);
        let full = self.line.len() == MOST;
        match self.line.last_mut() {
            Some(last) if last.slot == slot => {
                last.length = (u32::from(last.length) + length).min(most) as u8;
            }
            _ if full => {
                self.cut = true;
                return;
            }
            _ => {
                self.line.push(Stretch { slot, length: length.min(most) as u8 });
                self.notes.push(note);
            }
        }
        self.end = note + 1;
    }

    /// The stretches in order.
    pub fn line(&self) -> &[Stretch] {
        &self.line
    }

    /// True when the riff has more than [`MOST`] stretches.
    pub fn is_cut(&self) -> bool {
        self.cut
    }

    /// Index in [`Imprint::notes`] of the note with which a stretch begins; past the last stretch, of the note
    /// after it.
    pub fn note(&self, stretch: usize) -> usize {
        self.notes.get(stretch).copied().unwrap_or(self.end)
    }

    /// Grid steps in all.
    pub fn total(&self) -> u32 {
        self.line.iter().map(|s| u32::from(s.length)).sum()
    }

    /// The same at another pace: every length times `num / den`, rounded, at least 1.
    #[must_use]
    pub fn paced(&self, num: u32, den: u32) -> Self {
        let den = den.max(1);
        let mut at = 0;
        let mut made = Self { line: Vec::with_capacity(self.line.len()), ..self.clone() };
        for s in &self.line {
            let end = at + u32::from(s.length);
            // Ends are rounded, so that errors do not add up.
            let scaled = |x: u32| (u64::from(x) * u64::from(num) + u64::from(den) / 2) / u64::from(den);
            let length = scaled(end).saturating_sub(scaled(at)).clamp(1, u64::from(LONGEST)) as u8;
            made.line.push(Stretch { length, ..*s });
            at = end;
        }
        made
    }
}

/// A tick on the grid, the nearest.
fn on_grid(ticks: u32) -> u32 {
    let step = TICKS_PER_QUARTER / GRID;
    (ticks + step / 2) / step
}

/// Where a note of an imprint stands in its riff. `None` for no such note.
pub fn place(riff: &Riff, note: usize) -> Option<BarBeat> {
    riff.line().into_iter().filter(|n| !n.is_dead()).nth(note).map(|n| riff.place_of(n.onset))
}

/// Bars in which notes of an imprint lie, as people count them: first and last. `None` for no notes.
pub fn bars(riff: &Riff, notes: std::ops::Range<usize>) -> Option<(u32, u32)> {
    let line: Vec<_> = riff.line().into_iter().filter(|n| !n.is_dead()).collect();
    let part = line.get(notes.start..notes.end.min(line.len()))?;
    let (first, last) = (part.first()?, part.last()?);
    Some((riff.bar_number(first.bar), riff.bar_number(last.bar)))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::imprint::Trace;

    fn imprint(notes: &[(u8, u32, u32)]) -> Imprint {
        let step = TICKS_PER_QUARTER / GRID;
        let trace = |&(midi, on, len): &(u8, u32, u32)| Trace { midi, onset: on * step, length: len * step };
        Imprint::new(notes.iter().map(trace).collect(), Some(7), 0, None).unwrap()
    }

    #[test]
    fn octaves_and_struck_again_are_one_stretch() {
        let s = Stretches::of(&imprint(&[(31, 0, 3), (31, 3, 3), (43, 6, 6), (34, 12, 6), (31, 24, 2)]));
        let line: Vec<(u8, u8)> = s.line().iter().map(|s| (s.slot, s.length)).collect();
        assert_eq!(line, [(0, 12), (3, 12), (0, 2)]);
        assert_eq!((s.note(0), s.note(1), s.note(2), s.note(3)), (0, 3, 4, 5));
    }

    #[test]
    fn paces_keep_the_whole() {
        let s = Stretches::from_pairs([(0, 3), (3, 3), (5, 3), (7, 3)]);
        assert_eq!(s.paced(1, 2).total(), 6);
        assert_eq!(s.paced(2, 1).total(), 24);
        assert_eq!(s.paced(1, 1), s);
    }
}
