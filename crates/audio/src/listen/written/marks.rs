//! How heard notes are played: hammer-ons, pull-offs, slides and dead notes.

use super::plain;
use crate::listen::{HeardNote, Manner};
use riffkin_score::note::{Approach, Mark, Note};
use riffkin_score::rhythm::Played;

/// Most semitones one hand hammers on or pulls off without moving (common practice, no source).
const REACH: u8 = 3;
/// Most semitones of a slide that is still written as one.
const FARTHEST: u8 = 12;
/// A joined note follows the end of the one before it within this time, in seconds.
const JOIN_S: f64 = 0.08;
/// A dead note is written no longer than this, in quarters.
const DEAD: f64 = 1.0;

/// The note to write for one that was heard; `short` when it was cut though its value goes on.
pub(super) fn note(notes: &[HeardNote], index: usize, short: bool) -> Note {
    let Some(heard) = notes.get(index) else { return Note::plain(plain(0)) };
    let mut note = Note::plain(plain(heard.midi));
    match heard.manner {
        Manner::Struck if short => note.marks = note.marks.with(Mark::Staccato),
        Manner::Struck => {}
        Manner::Dead => note.marks = note.marks.with(Mark::Dead),
        Manner::Joined => {
            let before = index.checked_sub(1).and_then(|i| notes.get(i));
            if let Some(before) = before.filter(|b| b.manner != Manner::Dead) {
                let joined = heard.onset_s - before.offset_s < JOIN_S;
                note.approach = match (joined, before.midi.abs_diff(heard.midi)) {
                    (false, _) | (_, 0) => Approach::Plucked,
                    (_, ..=REACH) if heard.midi > before.midi => Approach::Hammer,
                    (_, ..=REACH) => Approach::Pull,
                    (_, ..=FARTHEST) => Approach::Slide,
                    _ => Approach::Plucked,
                };
            }
        }
    }
    note
}

/// A dead note has no length of its own: it is written up to the next note.
pub(super) fn dead_notes_held(notes: &[HeardNote], mut played: Vec<Played>) -> Vec<Played> {
    for i in 0..played.len() {
        if notes.get(i).is_some_and(|n| n.manner == Manner::Dead) {
            let next = played.get(i + 1).map_or(f64::INFINITY, |n| n.onset);
            let room = next - played[i].onset;
            played[i].length = if room > 0.0 { room.min(DEAD) } else { played[i].length };
        }
    }
    played
}

#[cfg(test)]
mod tests {
    use super::*;

    fn heard(line: &[(f64, f64, u8, Manner)]) -> Vec<HeardNote> {
        line.iter()
            .map(|&(onset_s, offset_s, midi, manner)| HeardNote {
                onset_s,
                offset_s,
                midi,
                confidence: 0.9,
                cents: 0.0,
                manner,
                level_db: 0.0,
            })
            .collect()
    }

    #[test]
    fn joined_notes_are_hammered_pulled_or_slid() {
        use Manner::{Dead, Joined, Struck};
        let notes = heard(&[
            (0.0, 0.5, 40, Struck),
            (0.5, 1.0, 42, Joined),
            (1.0, 1.5, 40, Joined),
            (1.5, 2.0, 47, Joined),
            (2.5, 3.0, 45, Joined),
            (3.0, 3.1, 45, Dead),
            (3.5, 4.0, 47, Joined),
        ]);
        let approaches: Vec<Approach> = (0..notes.len()).map(|i| note(&notes, i, false).approach).collect();
        use Approach::{Hammer, Plucked, Pull, Slide};
        // The last but two came after half a second of silence, the last after a note without pitch.
        assert_eq!(approaches, [Plucked, Hammer, Pull, Slide, Plucked, Plucked, Plucked]);
        assert!(note(&notes, 5, true).marks.has(Mark::Dead) && note(&notes, 4, false).marks.is_empty());
    }
}
