//! The weighing of chords against a stretch of the line.

use crate::analysis::harmony::chords::{ChordFit, KINDS, RootInBass};
use crate::analysis::heard::{Heard, Strength};
use crate::chord::{Chord, ChordKind};
use crate::degree::{Degree, DegreeSet};
use crate::key::Key;
use crate::pitch::PitchName;
use crate::time::Quarters;

/// Score of a chord that holds all of the line.
const INSIDE: f64 = 4.0;
/// Score when all notes on beats are its tones.
const ON_BEATS: f64 = 2.0;
/// Score when its root opens every bar.
const ROOT_OPENS: f64 = 2.0;
/// Score of a vamp on the tonic.
const ON_TONIC: f64 = 1.0;
/// What is taken off when all of the line rubs.
const RUBS: f64 = 2.0;
/// What is taken off for each of its tones that the stretch does not have.
const UNHEARD: f64 = 0.15;
/// What more is taken off for each tone that the riff has nowhere.
const NOWHERE: f64 = 0.2;
/// What is taken off for each tone, not heard, that no mode of the key has.
const FOREIGN: f64 = 2.0;
/// What is taken off a suspended chord when the line has a third, and a chord with one third for the other alone.
const OTHER_THIRD: f64 = 1.0;
/// What is taken off a sixth chord when the line has a seventh.
const OTHER_SEVENTH: f64 = 0.4;

/// How usual a kind is.
fn usual(kind: ChordKind) -> f64 {
    match kind {
        ChordKind::Major | ChordKind::Minor => 0.6,
        ChordKind::Seventh | ChordKind::MajorSeventh | ChordKind::MinorSeventh => 0.3,
        ChordKind::HalfDiminished | ChordKind::Diminished | ChordKind::Fifth => 0.1,
        ChordKind::MinorMajorSeventh | ChordKind::Augmented | ChordKind::DiminishedSeventh => -0.4,
        _ => 0.0,
    }
}

/// What the line has in the place of a tone of the chord, all as slots above the root: the stretch, and where
/// that has no third half as much for the riff.
fn contradicts(kind: ChordKind, chord: DegreeSet, stretch: DegreeSet, riff: DegreeSet) -> f64 {
    let thirds = DegreeSet::from_slots([3, 4]);
    let own = chord.shared(thirds);
    let against = |line: DegreeSet| {
        let heard = line.shared(thirds);
        // A power chord leaves the third open; a suspended second or fourth stands in its place.
        kind != ChordKind::Fifth && !heard.is_empty() && heard.shared(own).is_empty()
    };
    let third = match stretch.shared(thirds).is_empty() {
        false if against(stretch) => OTHER_THIRD,
        true if against(riff) => OTHER_THIRD / 2.0,
        _ => 0.0,
    };
    let sixth = matches!(kind, ChordKind::Sixth | ChordKind::MinorSixth);
    let seventh = stretch.contains(10) || stretch.contains(11);
    third + if sixth && seventh { OTHER_SEVENTH } else { 0.0 }
}

/// The pitch classes of notes.
pub(super) fn classes(notes: &[Heard]) -> DegreeSet {
    notes.iter().fold(DegreeSet::EMPTY, |set, n| set.with(n.pitch_class()))
}

/// What all stretches of one riff are weighed by.
pub(super) struct Judge {
    pub(super) kinds: [(ChordKind, DegreeSet); KINDS.len()],
    // The root's name for each pitch class.
    pub(super) roots: [PitchName; 12],
    // Pitch classes that some mode of the key has.
    pub(super) in_key: DegreeSet,
    // Pitch classes of the whole riff.
    pub(super) heard: DegreeSet,
    pub(super) key: Key,
}

/// A stretch by pitch class.
#[derive(Default)]
struct Stretch {
    set: DegreeSet,
    weight: [f64; 12],
    // Weight of strong or long notes.
    heavy: [f64; 12],
    on_beat: [usize; 12],
    total: f64,
    longest: Option<(Quarters, u8)>,
    root: [RootInBass; 12],
}

/// Length from which a note between the beats is heavy all the same.
const LONG: Quarters = Quarters::QUARTER;

impl Stretch {
    fn of(notes: &[Heard]) -> Self {
        let mut stretch = Self { set: classes(notes), ..Self::default() };
        for note in notes {
            let pc = usize::from(note.pitch_class());
            let weight = note.weight();
            stretch.total += weight;
            stretch.weight[pc] += weight;
            if note.strength > Strength::Off || note.length >= LONG {
                stretch.heavy[pc] += weight;
            }
            stretch.on_beat[pc] += usize::from(note.strength > Strength::Off);
            if stretch.longest.is_none_or(|l| note.length > l.0) {
                stretch.longest = Some((note.length, note.pitch_class()));
            }
        }
        for bar in notes.chunk_by(|a, b| a.bar == b.bar) {
            let opening = bar.first().filter(|n| n.strength == Strength::Bar).map(|n| n.pitch_class());
            let beats = classes_where(bar, |n| n.strength > Strength::Off);
            let all = classes(bar);
            for (pc, root) in (0..12u8).zip(&mut stretch.root) {
                root.bars += 1;
                if opening == Some(pc) {
                    root.opens += 1;
                } else if beats.contains(pc) {
                    root.on_beat += 1;
                } else if all.contains(pc) {
                    root.between += 1;
                }
            }
        }
        stretch
    }

    fn sum<T: Copy + std::iter::Sum>(of: &[T; 12], set: DegreeSet) -> T {
        // Chords have three or four of the twelve; only those are visited.
        std::iter::successors(Some(set.bits()), |bits| Some(bits & bits.wrapping_sub(1)))
            .take_while(|&bits| bits != 0)
            .filter_map(|bits| of.get(bits.trailing_zeros() as usize).copied())
            .sum()
    }
}

fn classes_where(notes: &[Heard], wanted: impl Fn(&Heard) -> bool) -> DegreeSet {
    notes.iter().filter(|n| wanted(n)).fold(DegreeSet::EMPTY, |set, n| set.with(n.pitch_class()))
}

impl Judge {
    /// The best chords for some notes, at most `most`, and after them the best of those written there. A `vamp` stands
    /// under the whole riff.
    pub(super) fn rank(&self, notes: &[Heard], vamp: bool, written: &[Chord], most: usize) -> Vec<ChordFit> {
        if notes.is_empty() {
            return Vec::new();
        }
        let stretch = Stretch::of(notes);
        let mut scored: Vec<(f64, u8, ChordKind, DegreeSet)> = (0..12u8)
            .flat_map(|root| self.kinds.iter().map(move |&(kind, set)| (root, kind, set)))
            .map(|(root, kind, set)| {
                let set = set.seen_from((12 - root) % 12);
                let home = vamp && root == self.key.tonic.pitch_class();
                let own = if home { ON_TONIC } else { 0.0 };
                (self.score(&stretch, root, kind, set) + own, root, kind, set)
            })
            .collect();
        scored.sort_by(|a, b| b.0.total_cmp(&a.0));
        let is_written = |root: u8, kind: ChordKind| {
            written.iter().any(|w| w.kind == kind && w.root.pitch_class() == root)
        };
        let rest = scored.split_off(most.min(scored.len()));
        if !scored.iter().any(|s| is_written(s.1, s.2)) {
            scored.extend(rest.into_iter().find(|s| is_written(s.1, s.2)));
        }
        scored
            .into_iter()
            .map(|(score, root, kind, set)| self.describe(&stretch, score, root, kind, set, written))
            .collect()
    }

    /// `set` are the chord's pitch classes.
    fn score(&self, stretch: &Stretch, root: u8, kind: ChordKind, set: DegreeSet) -> f64 {
        let total = stretch.total.max(1e-9);
        let beats: usize = stretch.on_beat.iter().sum();
        let inside = Stretch::sum(&stretch.weight, set) / total;
        let on_beats = match beats {
            0 => inside,
            _ => Stretch::sum(&stretch.on_beat, set) as f64 / beats as f64,
        };
        let rubbing = set.seen_from(11).without(set);
        let unheard = set.without(stretch.set);
        let nowhere = set.without(self.heard);
        INSIDE * inside + ON_BEATS * on_beats + ROOT_OPENS * stretch.root[usize::from(root)].score()
            - RUBS * Stretch::sum(&stretch.heavy, rubbing) / total
            - UNHEARD * unheard.len() as f64
            - NOWHERE * nowhere.len() as f64
            - FOREIGN * nowhere.without(self.in_key).len() as f64
            - contradicts(kind, set.seen_from(root), stretch.set.seen_from(root), self.heard.seen_from(root))
            + usual(kind)
    }

    fn describe(
        &self,
        stretch: &Stretch,
        score: f64,
        root: u8,
        kind: ChordKind,
        set: DegreeSet,
        written: &[Chord],
    ) -> ChordFit {
        let chord = Chord { root: self.roots[usize::from(root)], kind, bass: None };
        let class = |d: &Degree| (root + d.slot()) % 12;
        let degrees = kind.degrees();
        let (tones, unheard) = degrees.iter().partition::<Vec<Degree>, _>(|d| stretch.set.contains(class(d)));
        let others: Vec<u8> = (0..12)
            .map(|above| (root + above) % 12)
            .filter(|&pc| stretch.set.without(set).contains(pc))
            .collect();
        let name = |pc: u8| self.roots[usize::from(pc)];
        let rubs = others
            .iter()
            .filter(|&&pc| stretch.heavy[usize::from(pc)] > 0.0)
            .filter_map(|&pc| {
                let below = degrees.iter().find(|d| class(d) == (pc + 11) % 12)?;
                Some((name(pc), *below))
            })
            .collect();
        let longest = stretch.longest.and_then(|(_, pc)| degrees.iter().copied().find(|d| class(d) == pc));
        ChordFit {
            numeral: chord.numeral(self.key.tonic),
            score,
            share: Stretch::sum(&stretch.weight, set) / stretch.total.max(1e-9),
            on_beats: (Stretch::sum(&stretch.on_beat, set), stretch.on_beat.iter().sum()),
            root: stretch.root[usize::from(root)],
            tones,
            unheard,
            others: others.into_iter().map(name).collect(),
            rubs,
            longest,
            on_tonic: root == self.key.tonic.pitch_class(),
            written: written.iter().any(|w| w.kind == kind && w.root.pitch_class() == root),
            chord,
        }
    }
}
