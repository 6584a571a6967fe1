//! Chords that fit a line: one under the whole of it as a vamp, and one for each bar.
//!
//! A bass line seldom spells a chord out. What it does say is weighed here: how much of it, by length, place and
//! stress, are tones of the chord; whether the notes on the beats are; whether the chord's root opens the bars;
//! whether a strong or long note rubs a semitone above a tone of the chord; how much of the chord the line never
//! has, and whether that goes against its key; whether the line has another third. A vamp is oftenest on the tonic. All weights are by hand (common practice, no source); see the
//! module `weigh`.

use crate::analysis::explain::Explanation;
use crate::analysis::harmony::reading::tone_name;
use crate::analysis::harmony::weigh::{Judge, classes};
use crate::analysis::harmony::{StandingChord, key_modes, standing};
use crate::analysis::heard::{Heard, heard};
use crate::analysis::verdict::listed;
use crate::chord::{Chord, ChordKind};
use crate::degree::{Degree, DegreeSet};
use crate::key::Key;
use crate::pitch::PitchName;
use crate::riff::Riff;

/// The kinds that are tried on every root: triads, sevenths, sixths, suspensions and the power chord.
pub const KINDS: [ChordKind; 16] = [
    ChordKind::Major,
    ChordKind::Minor,
    ChordKind::Diminished,
    ChordKind::Augmented,
    ChordKind::Fifth,
    ChordKind::SuspendedSecond,
    ChordKind::SuspendedFourth,
    ChordKind::Sixth,
    ChordKind::MinorSixth,
    ChordKind::Seventh,
    ChordKind::MajorSeventh,
    ChordKind::MinorSeventh,
    ChordKind::HalfDiminished,
    ChordKind::DiminishedSeventh,
    ChordKind::MinorMajorSeventh,
    ChordKind::SeventhSuspendedFourth,
];

/// How the root of a chord stands in the bass over the bars of a stretch.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct RootInBass {
    /// Bars whose first note is the root, on the bar line.
    pub opens: usize,
    /// Other bars that have it on a beat.
    pub on_beat: usize,
    /// Other bars that have it at all.
    pub between: usize,
    /// Bars with notes.
    pub bars: usize,
}

impl RootInBass {
    /// 1 when it opens every bar, 0 when it is never there.
    pub(super) fn score(self) -> f64 {
        let bars = self.bars.max(1) as f64;
        (self.opens as f64 + 0.5 * self.on_beat as f64 + 0.25 * self.between as f64) / bars
    }
}

/// A chord against a stretch of the line.
#[derive(Clone, Debug, PartialEq)]
pub struct ChordFit {
    /// The chord.
    pub chord: Chord,
    /// Its numeral against the tonic.
    pub numeral: Option<String>,
    /// The sum of what speaks for it less what speaks against it; comparable within one stretch only.
    pub score: f64,
    /// How much of the stretch are its tones, 0 to 1, by length, place and stress.
    pub share: f64,
    /// How many of the notes on beats and bar lines are its tones, of how many.
    pub on_beats: (usize, usize),
    /// Its root in the bass.
    pub root: RootInBass,
    /// Its tones that the stretch has.
    pub tones: Vec<Degree>,
    /// Its tones that the stretch lacks.
    pub unheard: Vec<Degree>,
    /// Notes of the stretch that it does not have, from its root upwards.
    pub others: Vec<PitchName>,
    /// Those of them that rub: strong or long, a semitone above one of its tones; with that tone.
    pub rubs: Vec<(PitchName, Degree)>,
    /// The tone on which the longest note lies, when that is one of its tones.
    pub longest: Option<Degree>,
    /// True when it stands on the 1 of the key.
    pub on_tonic: bool,
    /// True when the riff itself writes it there.
    pub written: bool,
}

impl ChordFit {
    /// The evidence in a sentence. Tones are called by their place in the chord, not by degree.
    pub fn words(&self) -> String {
        let tones = |degrees: &[Degree]| {
            let names: Vec<&str> = degrees.iter().map(|d| tone_name(d.number())).collect();
            listed(&names, "and")
        };
        let notes = |names: &[PitchName]| listed(&names.iter().map(|n| n.print()).collect::<Vec<_>>(), "and");
        let mut parts = Vec::new();
        parts.push(if self.others.is_empty() {
            format!("every note is a chord tone ({})", tones(&self.tones))
        } else {
            format!("holds {:.0} % of the line: {}", (self.share * 100.0).min(99.0), tones(&self.tones))
        });
        let RootInBass { opens, on_beat, between, bars } = self.root;
        parts.push(match (opens, on_beat + between) {
            (n, _) if n == bars && bars > 1 => "its root opens every bar".to_owned(),
            (n, _) if n == bars => "its root comes first".to_owned(),
            (0, 0) => "its root is not in the bass".to_owned(),
            (0, _) => "its root comes later".to_owned(),
            (n, _) => format!("its root opens {n} of {bars} bars"),
        });
        if self.on_tonic && bars > 1 {
            parts.push("its root is the 1".to_owned());
        }
        match self.on_beats {
            (_, 0) => {}
            (n, all) if n == all && !self.others.is_empty() => {
                parts.push("every note on the beat is a chord tone".to_owned());
            }
            (_, _) if self.others.is_empty() => {}
            (n, all) => parts.push(format!("{n} of {all} notes on the beat are chord tones")),
        }
        if let Some(longest) = self.longest.filter(|d| d.number() != 1) {
            parts.push(format!("the longest note is its {}", tone_name(longest.number())));
        }
        if !self.others.is_empty() {
            parts.push(format!("not in the chord: {}", notes(&self.others)));
        }
        for (name, tone) in &self.rubs {
            parts.push(format!("{} rubs against its {}", name.print(), tone_name(tone.number())));
        }
        if !self.unheard.is_empty() {
            parts.push(format!("the line leaves out its {}", tones(&self.unheard)));
        }
        parts.join("; ")
    }
}

/// The chords of one bar.
#[derive(Clone, Debug, PartialEq)]
pub struct BarChords {
    /// The bar's number; a pickup is 0.
    pub bar: u32,
    /// Chords for it, the best first; empty when no note begins in it.
    pub fits: Vec<ChordFit>,
}

/// The chords that fit a riff.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct ChordsThatFit {
    /// One chord under the whole, the best first.
    pub vamp: Vec<ChordFit>,
    /// One chord for each bar.
    pub bars: Vec<BarChords>,
}

/// How much is listed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Most {
    /// Vamps.
    pub vamps: usize,
    /// Chords for each bar; one that is written there is listed after them when it is none of them.
    pub per_bar: usize,
}

impl Default for Most {
    fn default() -> Self {
        Self { vamps: 5, per_bar: 3 }
    }
}

/// The chords that fit a riff, by its notes alone; chords that are written in it are marked where they occur.
/// `found` is its [`crate::analysis::explain::explain`]. Empty when nothing sounds.
pub fn chords_that_fit(riff: &Riff, found: &Explanation, most: Most) -> ChordsThatFit {
    let notes = heard(riff);
    let chords = standing(riff);
    let Some((tonic, _)) = found.tonic.filter(|_| !notes.is_empty()) else {
        return ChordsThatFit::default();
    };
    let in_key = key_modes(found, &chords)
        .iter()
        .map(|m| m.set())
        .fold(found.material.set, DegreeSet::union)
        .seen_from((12 - tonic.pitch_class()) % 12);
    let key = Key { tonic, mode: found.verdict().mode().or_else(|| found.likeliest_mode()) };
    let judge = Judge {
        kinds: KINDS.map(|kind| (kind, kind.set())),
        roots: std::array::from_fn(|pc| root_name(found, &notes, key, pc as u8)),
        in_key,
        heard: classes(&notes),
        key,
    };
    let everywhere = |chord: &StandingChord| chord.chord;
    let written: Vec<Chord> = chords.iter().map(everywhere).collect();
    let sole = written.first().copied().filter(|first| written.iter().all(|c| c == first));
    let vamp = judge.rank(&notes, true, &sole.into_iter().collect::<Vec<_>>(), most.vamps);
    let bars = riff
        .bars()
        .iter()
        .enumerate()
        .map(|(i, _)| {
            let (start, end) = (riff.bar_start(i), riff.bar_start(i + 1));
            let from = notes.partition_point(|n| n.onset < start);
            let to = notes.partition_point(|n| n.onset < end);
            // Chords follow one another without gaps.
            let (first, last) =
                (chords.partition_point(|c| c.end() <= start), chords.partition_point(|c| c.from < end));
            let over: Vec<Chord> =
                chords.get(first..last).unwrap_or_default().iter().map(everywhere).collect();
            let fits = notes.get(from..to).map(|bar| judge.rank(bar, false, &over, most.per_bar));
            BarChords { bar: riff.bar_number(i), fits: fits.unwrap_or_default() }
        })
        .collect();
    ChordsThatFit { vamp, bars }
}

/// The name of a root: as the riff spells it, else as the key does.
fn root_name(found: &Explanation, notes: &[Heard], key: Key, pitch_class: u8) -> PitchName {
    let slot = (pitch_class + 12 - key.tonic.pitch_class()) % 12;
    let own = found.degrees.iter().find(|d| d.slot() == slot).and_then(|d| d.of(key.tonic));
    own.or_else(|| crate::analysis::heard::spelled_in(notes, pitch_class))
        .or_else(|| key.degree_of_slot(slot).of(key.tonic))
        .unwrap_or(PitchName::simplest(pitch_class))
}
