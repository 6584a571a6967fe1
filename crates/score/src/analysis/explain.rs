//! A riff explained: its tonic, its mode, and what every note is.

use crate::analysis::harmony::{StandingChord, all_slots, standing};
use crate::analysis::heard::{Heard, heard, slot};
use crate::analysis::material::Material;
use crate::analysis::mode::{self, ModeReading};
use crate::analysis::model::{Observed, Weights};
use crate::analysis::spell::respell;
use crate::analysis::tonic::{self, Standing, TonicFinding};
use crate::analysis::verdict::Verdict;
use crate::chord::Chord;
use crate::degree::{Degree, DegreeSet};
use crate::interval::Interval;
use crate::key::{Key, Mode};
use crate::pitch::{Pitch, PitchName};
use crate::riff::{BarBeat, Riff};
use crate::time::Quarters;

/// How the tonic was chosen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum How {
    /// The teacher said so.
    Asked,
    /// The riff's own key says so.
    Written,
    /// It ranks first among the notes.
    Ranked,
}

impl How {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Asked => "you said so",
            Self::Written => "the riff says so",
            Self::Ranked => "it is the likeliest",
        }
    }
}

/// One note of the line, read against the tonic.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteReading {
    /// Its sounding pitch, spelled as the riff spells it.
    pub pitch: Pitch,
    /// True for a dead note: its pitch is only nominal, and it has no degree and no intervals.
    pub dead: bool,
    /// What it is against the tonic.
    pub degree: Option<Degree>,
    /// Its interval above the nearest tonic at or below it, less than an octave.
    pub above_root: Option<Interval>,
    /// The interval from the sounding note before it.
    pub from_previous: Option<Interval>,
    /// The chord that stands over it, and what the note is against that chord's root.
    pub over: Option<(Chord, Degree)>,
    /// Its bar and beat.
    pub place: BarBeat,
    /// Its start, in quarters from the first bar.
    pub onset: Quarters,
    /// Its length with its ties, in quarters.
    pub length: Quarters,
}

/// Everything found out about a riff.
#[derive(Clone, Debug, PartialEq)]
pub struct Explanation {
    /// What may be the tonic, the likeliest first.
    pub tonics: Vec<TonicFinding>,
    /// The tonic everything below is read against, and how it was chosen. `None` when nothing sounds and
    /// nothing is given.
    pub tonic: Option<(PitchName, How)>,
    /// What can be said about the mode; `None` without a tonic.
    pub mode: Option<ModeReading>,
    /// The degrees and how much each counts; empty without a tonic.
    pub material: Material,
    /// The degrees as the riff spells them, upwards from the tonic.
    pub degrees: Vec<Degree>,
    /// Every note of [`Riff::line`].
    pub notes: Vec<NoteReading>,
}

impl Explanation {
    /// The degrees heard, as slots.
    pub fn set(&self) -> DegreeSet {
        self.material.set
    }

    /// Tonics that come near the first: more than a third as likely. Empty when the tonic is clear or given.
    pub fn rivals(&self) -> &[TonicFinding] {
        match self.tonics.split_first() {
            Some((first, rest)) if matches!(self.tonic, Some((_, How::Ranked))) => {
                &rest[..rest.partition_point(|t| t.score * 3.0 > first.score)]
            }
            _ => &[],
        }
    }

    /// What is proved about the mode.
    pub fn verdict(&self) -> &Verdict {
        self.mode.as_ref().map_or(&Verdict::Nothing, |m| &m.verdict)
    }

    /// The tonic with the mode when that is given or decided: what to spell and engrave by.
    pub fn key(&self) -> Option<Key> {
        self.tonic.map(|(tonic, _)| Key { tonic, mode: self.verdict().mode() })
    }

    /// The mode to write the riff in when one must be taken: the proved one, else the likeliest of those that
    /// stay possible, else the likeliest.
    pub fn likeliest_mode(&self) -> Option<Mode> {
        let reading = self.mode.as_ref()?;
        let possible = |mode: Mode| match &reading.verdict {
            Verdict::Undecided { between, .. } => between.contains(&mode),
            _ => true,
        };
        let ranked = || reading.ranked.iter().map(|f| f.mode);
        reading.verdict.mode().or_else(|| ranked().find(|&m| possible(m))).or_else(|| ranked().next())
    }

    /// A few sentences: the tonic and why, the mode or why not.
    pub fn words(&self) -> Vec<String> {
        let Some((tonic, how)) = self.tonic else {
            return vec!["no note sounds, so there is nothing to say about a key".to_owned()];
        };
        let mut words = vec![format!("1 is {}: {}", tonic.print(), how.words())];
        if how == How::Ranked
            && let Some(best) = self.tonics.first()
        {
            words[0] = format!(
                "1 is {} ({:.0} %): {}",
                tonic.print(),
                (best.score * 100.0).min(99.0),
                best.words(3)
            );
            words.extend(self.rivals().iter().map(|rival| {
                format!(
                    "it may also be {} ({:.0} %): {}",
                    rival.tonic.print(),
                    rival.score * 100.0,
                    rival.words(3)
                )
            }));
        }
        let Some(reading) = &self.mode else { return words };
        words.push(reading.verdict.words());
        let names = |degrees: &[Degree]| degrees.iter().map(|d| d.print()).collect::<Vec<_>>().join(", ");
        if let Some(named) = reading.named.filter(|&n| reading.verdict.mode() != Some(n)) {
            words.push(format!("its degrees are those of the {named}"));
        }
        if let Some(also) = reading.also {
            words.push(format!("it may also be a {also} that leaves out some of its degrees"));
        }
        if !reading.passing.is_empty() {
            words.push(format!("taken as passing: {}", names(&reading.passing)));
        }
        if !reading.against.is_empty() {
            words.push(format!("not in that mode, but heard: {}", names(&reading.against)));
        }
        if let Some(more) = &reading.with_chords {
            words.push(format!("with the chords: {}", more.words()));
        }
        words
    }
}

/// Explains a riff. `asked` is the teacher's own word for the tonic and wins over everything; next the riff's
/// own key; else the likeliest tonic is taken. The riff's own mode holds when its tonic is the one taken.
///
/// Names are taken as they stand: [`name_by_ear`] first when they come from MIDI numbers.
pub fn explain(riff: &Riff, asked: Option<PitchName>) -> Explanation {
    let notes = heard(riff);
    let seen = Observed::of(&notes);
    let chords = standing(riff);
    let written = riff.header().key;
    let given = match (asked, written) {
        (Some(tonic), _) => Some((tonic, How::Asked)),
        (None, Some(key)) => Some((key.tonic, How::Written)),
        (None, None) => None,
    };
    let durations: Vec<Standing> = chords.iter().map(|c| (c.chord, c.length)).collect();
    let tonics = tonic::rank(&notes, &seen, &durations, given.map(|(tonic, how)| (tonic, how.words())));
    let tonic = given.or_else(|| tonics.first().map(|t| (t.tonic, How::Ranked)));
    let Some((one, _)) = tonic else {
        return Explanation {
            tonics,
            tonic,
            mode: None,
            material: Material::default(),
            degrees: Vec::new(),
            notes: read_notes(riff, &notes, None, &chords),
        };
    };
    let given_mode = written.filter(|k| k.tonic.pitch_class() == one.pitch_class()).and_then(|k| k.mode);
    let mode = mode::read(&notes, &seen, one, given_mode, all_slots(&chords, one));
    let key = Key { tonic: one, mode: mode.verdict.mode() };
    let notes_read = read_notes(riff, &notes, Some(key), &chords);
    let mut degrees: Vec<Degree> = notes_read.iter().filter_map(|n| n.degree).collect();
    degrees.sort_by_key(|d| (d.slot(), *d));
    degrees.dedup();
    Explanation {
        tonics,
        tonic,
        mode: Some(mode),
        material: Material::of(&notes, one),
        degrees,
        notes: notes_read,
    }
}

/// The key to name notes by when nothing else is known: the likeliest tonic under its simplest name, with its
/// likeliest mode. `None` when nothing sounds.
pub fn likeliest_key(notes: &[Heard], chords: &[Standing]) -> Option<Key> {
    let seen = Observed::of(notes);
    let tonic = tonic::rank(notes, &seen, chords, None).first()?.tonic;
    let material = Material::of(notes, tonic);
    let ranked = mode::rank(&Weights::LEARNED, &material, &seen, tonic, None, &[]);
    let mode = ranked.into_iter().map(|f| f.mode).find(|m| Mode::DIATONIC.contains(m));
    Some(Key { tonic, mode }.simplest())
}

/// A riff whose note names mean nothing (from MIDI numbers, or from sound), named by its own key, else by the
/// likeliest. The header stays as it is: a guess at a key is not written into the riff.
pub fn name_by_ear(riff: &Riff) -> Riff {
    let durations: Vec<Standing> = standing(riff).iter().map(|c| (c.chord, c.length)).collect();
    let key = riff.header().key.or_else(|| likeliest_key(&heard(riff), &durations));
    respell(riff, key)
}

/// The degree of a name against a root, by its letters; by its slot where the letters are remote.
fn degree_of(name: PitchName, key: Key) -> Degree {
    Degree::between(key.tonic, name)
        .filter(|d| is_spoken(*d) || key.mode.is_some_and(|m| m.degrees().contains(d)))
        .unwrap_or_else(|| key.degree_of_slot(slot(name.pitch_class(), key.tonic.pitch_class())))
}

/// True for degrees that are said of bass lines: one sign at most, and no `b1`, `#3`, `b4` or `#7`.
fn is_spoken(degree: Degree) -> bool {
    let odd = matches!((degree.number(), degree.alter()), (1 | 4, -1) | (3 | 7, 1));
    degree.alter().abs() <= 1 && !odd
}

/// The degree of a name against a chord's root: by its letters where they are spoken or the chord's own, by its
/// slot otherwise.
pub fn degree_over(name: PitchName, chord: Chord) -> Degree {
    match Degree::between(chord.root, name) {
        Some(degree) if is_spoken(degree) || chord.kind.degrees().contains(&degree) => degree,
        _ => Degree::usual(slot(name.pitch_class(), chord.root.pitch_class())),
    }
}

fn read_notes(riff: &Riff, notes: &[Heard], key: Option<Key>, chords: &[StandingChord]) -> Vec<NoteReading> {
    let mut sounding = notes.iter().peekable();
    let mut previous: Option<Pitch> = None;
    let mut standing = chords.iter().peekable();
    let mut over: Option<Chord> = None;
    riff.line()
        .into_iter()
        .enumerate()
        .map(|(line, note)| {
            while let Some(next) = standing.next_if(|c| c.from <= note.onset) {
                over = Some(next.chord);
            }
            let dead = sounding.next_if(|h| h.line == line).is_none();
            let pitch = note.note.pitch;
            let name = pitch.name();
            let live = key.filter(|_| !dead);
            let from_previous = previous.filter(|_| !dead).map(|p| p.interval_to(pitch));
            if !dead {
                previous = Some(pitch);
            }
            NoteReading {
                pitch,
                dead,
                degree: live.map(|key| degree_of(name, key)),
                above_root: live.map(|key| degree_of(name, key).interval()),
                from_previous,
                over: over.filter(|_| !dead).map(|chord| (chord, degree_over(name, chord))),
                place: riff.bar_beat(note.bar, note.onset - riff.bar_start(note.bar)),
                onset: note.onset,
                length: note.length,
            }
        })
        .collect()
}
