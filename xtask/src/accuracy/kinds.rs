//! What kind of error each unmatched note is, and which notes are found how often.

use super::matching::ONSET_S;
use super::notes::Sounded;
use std::collections::BTreeMap;

/// Right pitch but this far off still counts as the same note come late or early, in seconds.
const LATE_S: f64 = 0.15;
/// A true note shorter than this that is missed is missed for being short, in seconds.
const SHORT_S: f64 = 0.12;
/// A true note this soon after one of the same pitch is a re-strike, in seconds.
const RESTRIKE_S: f64 = 0.25;

/// Kinds of error, in the order of the table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    OctaveUp,
    OctaveDown,
    Semitone,
    OtherPitch,
    Early,
    Late,
    RestrikeMerged,
    JoinedMissed,
    ShortMissed,
    Missed,
    Split,
    GhostOctave,
    DeadTaken,
    Extra,
}

impl Kind {
    /// In the words of the table.
    pub(super) fn words(self) -> &'static str {
        match self {
            Self::OctaveUp => "an octave (or two) too high",
            Self::OctaveDown => "an octave (or two) too low",
            Self::Semitone => "a semitone off",
            Self::OtherPitch => "another pitch",
            Self::Early => "50 to 150 ms early",
            Self::Late => "50 to 150 ms late",
            Self::RestrikeMerged => "re-strike merged with the note before",
            Self::JoinedMissed => "hammer-on, pull-off or slide missed",
            Self::ShortMissed => "missed, shorter than 120 ms",
            Self::Missed => "missed",
            Self::Split => "one note split in two",
            Self::GhostOctave => "extra note, an octave of one that sounds",
            Self::DeadTaken => "dead note taken for a note",
            Self::Extra => "extra note",
        }
    }
}

/// The truth about a file beyond its notes; empty where a set does not tell.
#[derive(Clone, Debug, Default)]
pub(super) struct Beyond {
    /// The dead notes.
    pub(super) dead: Vec<Sounded>,
    /// For each true note how it begins: `struck`, `hammer` or `slide`; empty or as long as the notes.
    pub(super) manners: Vec<String>,
}

impl Beyond {
    fn joined(&self, note: usize) -> bool {
        self.manners.get(note).is_some_and(|manner| manner != "struck")
    }
}

/// Counts the kinds. `pairs` are the hits by onset and pitch.
pub(super) fn kinds(
    reference: &[Sounded],
    estimated: &[Sounded],
    pairs: &[(usize, usize)],
    beyond: &Beyond,
) -> BTreeMap<Kind, usize> {
    let mut hit = vec![false; reference.len()];
    let mut used = vec![false; estimated.len()];
    for &(i, j) in pairs {
        hit[i] = true;
        used[j] = true;
    }
    let mut counts = BTreeMap::new();
    for (i, truth) in reference.iter().enumerate().filter(|(i, _)| !hit[*i]) {
        let nearest = |reach: f64, same: bool, used: &[bool]| {
            let free = estimated.iter().enumerate().filter(|(j, heard)| {
                !used[*j]
                    && (heard.onset - truth.onset).abs() <= reach
                    && (!same || (heard.midi - truth.midi).abs() <= 0.5)
            });
            let distance = |heard: &Sounded| (heard.onset - truth.onset).abs();
            free.min_by(|a, b| distance(a.1).total_cmp(&distance(b.1))).map(|(j, _)| j)
        };
        let kind = if let Some(j) = nearest(ONSET_S, false, &used) {
            used[j] = true;
            wrong_pitch(estimated[j].midi - truth.midi)
        } else if let Some(j) = nearest(LATE_S, true, &used) {
            used[j] = true;
            if estimated[j].onset > truth.onset { Kind::Late } else { Kind::Early }
        } else if beyond.joined(i) {
            Kind::JoinedMissed
        } else if is_restrike(reference, i) {
            Kind::RestrikeMerged
        } else if truth.length() < SHORT_S {
            Kind::ShortMissed
        } else {
            Kind::Missed
        };
        *counts.entry(kind).or_insert(0) += 1;
    }
    for (_, heard) in estimated.iter().enumerate().filter(|(j, _)| !used[*j]) {
        *counts.entry(needless(reference, heard, beyond)).or_insert(0) += 1;
    }
    counts
}

fn wrong_pitch(semitones: f64) -> Kind {
    match semitones.round() as i64 {
        12 | 24 => Kind::OctaveUp,
        -12 | -24 => Kind::OctaveDown,
        1 | -1 => Kind::Semitone,
        _ => Kind::OtherPitch,
    }
}

/// Whether the note before has the same pitch and ends just before this one.
fn is_restrike(reference: &[Sounded], i: usize) -> bool {
    i.checked_sub(1).is_some_and(|before| {
        let (before, this) = (reference[before], reference[i]);
        same_pitch(&before, &this) && this.onset - before.offset < RESTRIKE_S
    })
}

fn same_pitch(a: &Sounded, b: &Sounded) -> bool {
    (a.midi - b.midi).abs() < 0.5
}

fn needless(reference: &[Sounded], heard: &Sounded, beyond: &Beyond) -> Kind {
    if beyond.dead.iter().any(|dead| (dead.onset - heard.onset).abs() <= ONSET_S) {
        return Kind::DeadTaken;
    }
    let steps: Vec<i64> = reference
        .iter()
        .filter(|truth| truth.onset - ONSET_S <= heard.onset && heard.onset <= truth.offset + 0.1)
        .map(|truth| (heard.midi - truth.midi).round() as i64)
        .collect();
    if steps.contains(&0) {
        Kind::Split
    } else if steps.iter().any(|step| step % 12 == 0) {
        Kind::GhostOctave
    } else {
        Kind::Extra
    }
}

/// Bands of pitch: name, lowest MIDI number, first MIDI number above.
const BANDS: [(&str, f64, f64); 6] = [
    ("B0-D#1", 0.0, 28.0),
    ("E1-G#1", 28.0, 33.0),
    ("A1-C#2", 33.0, 38.0),
    ("D2-F#2", 38.0, 43.0),
    ("G2-G3", 43.0, 56.0),
    ("G#3-G4", 56.0, 128.0),
];

/// The slices, in the order of the table.
pub(super) const SLICES: [&str; 12] = [
    "B0-D#1",
    "E1-G#1",
    "A1-C#2",
    "D2-F#2",
    "G2-G3",
    "G#3-G4",
    "under 100 ms",
    "100-200 ms",
    "longer",
    "re-struck",
    "hammered",
    "slid",
];

/// For each slice the notes found and the notes there are.
pub(super) fn slices(
    reference: &[Sounded],
    pairs: &[(usize, usize)],
    beyond: &Beyond,
) -> BTreeMap<&'static str, (usize, usize)> {
    let mut hit = vec![false; reference.len()];
    for &(i, _) in pairs {
        hit[i] = true;
    }
    let mut counts = BTreeMap::new();
    for (i, note) in reference.iter().enumerate() {
        let band = BANDS.iter().find(|(_, low, above)| (*low..*above).contains(&note.midi.round()));
        let length = match note.length() {
            short if short < 0.1 => "under 100 ms",
            middling if middling < 0.2 => "100-200 ms",
            _ => "longer",
        };
        let again = i.checked_sub(1).is_some_and(|before| same_pitch(&reference[before], note));
        let manner = match beyond.manners.get(i).map(String::as_str) {
            Some("hammer") => Some("hammered"),
            Some("slide") => Some("slid"),
            _ => None,
        };
        let names = [band.map(|(name, _, _)| *name), Some(length), again.then_some("re-struck"), manner];
        for name in names.into_iter().flatten() {
            let (found, there) = counts.entry(name).or_insert((0, 0));
            *found += usize::from(hit[i]);
            *there += 1;
        }
    }
    counts
}

#[cfg(test)]
mod tests {
    use super::super::matching::{Rule, matched};
    use super::*;

    fn notes(list: &[(f64, f64, f64)]) -> Vec<Sounded> {
        list.iter().map(|&(onset, offset, midi)| Sounded { onset, offset, midi, confidence: None }).collect()
    }

    fn counted(reference: &[Sounded], estimated: &[Sounded], beyond: &Beyond) -> Vec<(Kind, usize)> {
        let pairs = matched(reference, estimated, Rule::Onset);
        kinds(reference, estimated, &pairs, beyond).into_iter().collect()
    }

    #[test]
    fn each_error_gets_the_name_of_what_went_wrong() {
        let truth = notes(&[
            (0.0, 0.4, 40.0),
            (0.5, 0.9, 40.0),
            (1.0, 1.08, 43.0),
            (2.0, 2.5, 33.0),
            (3.0, 3.5, 30.0),
        ]);
        let heard = notes(&[
            (0.0, 0.9, 40.0),  // found
            (0.25, 0.3, 40.0), // split of it; the re-strike at 0.5 is merged
            (2.0, 2.5, 45.0),  // an octave too high
            (3.08, 3.5, 30.0), // late
            (4.5, 4.6, 50.0),  // extra
        ]);
        assert_eq!(
            counted(&truth, &heard, &Beyond::default()),
            [
                (Kind::OctaveUp, 1),
                (Kind::Late, 1),
                (Kind::RestrikeMerged, 1),
                (Kind::ShortMissed, 1),
                (Kind::Split, 1),
                (Kind::Extra, 1)
            ]
        );
    }

    #[test]
    fn a_dead_note_taken_for_a_note_is_not_just_extra() {
        let truth = notes(&[(0.0, 0.4, 40.0), (1.0, 1.4, 42.0)]);
        let beyond = Beyond {
            dead: notes(&[(0.6, 0.65, 40.0)]),
            manners: vec!["struck".to_owned(), "slide".to_owned()],
        };
        let heard = notes(&[(0.0, 0.4, 40.0), (0.61, 0.7, 33.0)]);
        assert_eq!(counted(&truth, &heard, &beyond), [(Kind::JoinedMissed, 1), (Kind::DeadTaken, 1)]);
    }

    #[test]
    fn slices_count_what_is_found_of_what_there_is() {
        let truth = notes(&[(0.0, 0.05, 23.0), (0.1, 0.25, 23.0), (1.0, 2.0, 60.0)]);
        let counts = slices(&truth, &[(0, 0), (2, 1)], &Beyond::default());
        assert_eq!(counts["B0-D#1"], (1, 2));
        assert_eq!(counts["G#3-G4"], (1, 1));
        assert_eq!(counts["re-struck"], (0, 1));
        assert_eq!(counts["under 100 ms"], (1, 1));
        assert_eq!(counts["100-200 ms"], (0, 1));
        assert!(counts.keys().all(|name| SLICES.contains(name)));
    }
}
