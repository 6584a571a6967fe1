//! Chord and scale: which scale a chord implies inside a key, and which are usual over a chord alone.

use crate::analysis::explain::Explanation;
use crate::analysis::harmony::{StandingChord, all_slots};
use crate::analysis::mode::parent;
use crate::analysis::verdict::{Verdict, compatible};
use crate::chord::{Chord, ChordKind};
use crate::degree::{Degree, DegreeSet};
use crate::key::{Key, Mode};
use crate::pitch::PitchName;

/// The scale of a chord inside a key: the key's notes from the chord's root, the chord's own tones put in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ImpliedScale {
    /// The modes of the key that lead to it.
    pub key_modes: Vec<Mode>,
    /// Its degrees upwards from the chord's root.
    pub degrees: Vec<Degree>,
    /// The scale that has exactly these degrees.
    pub named: Option<Mode>,
    /// The harmonic or melodic minor that has these notes, where no name of its own is.
    pub same_notes: Option<Key>,
    /// Notes that the chord puts in the place of the key's: its own, and the key's.
    pub altered: Vec<(PitchName, PitchName)>,
}

impl ImpliedScale {
    /// `D Dorian`; `the key's notes with F# for F (those of D melodic minor)`.
    pub fn words(&self, root: PitchName) -> String {
        if let Some(mode) = self.named {
            return format!("{} {mode}", root.print());
        }
        let swaps: Vec<String> = self
            .altered
            .iter()
            .map(|(own, of_key)| format!("{} for {}", own.print(), of_key.print()))
            .collect();
        let parent = self.same_notes.map_or_else(String::new, |key| format!(" (those of {})", key.print()));
        format!("the key's notes with {}{parent}", crate::analysis::verdict::listed(&swaps, "and"))
    }

    /// The degrees as slots above the chord's root.
    pub fn set(&self) -> DegreeSet {
        self.degrees.iter().copied().collect()
    }
}

/// The scale that a chord implies in a key of seven notes; scales of five or six are taken as the mode they are
/// written in.
///
/// The key's notes are counted from the chord's root, so that the chords of a major key get its modes (I major,
/// ii Dorian, iii Phrygian, IV Lydian, V Mixolydian, vi minor, vii Locrian) and V7 in minor the Phrygian
/// dominant (common practice, no source). `None` when the names become too remote.
pub fn implied(chord: Chord, tonic: PitchName, mode: Mode) -> Option<ImpliedScale> {
    let mode = if mode.degrees().len() == 7 { mode } else { parent(mode) };
    let of_key: Vec<PitchName> =
        mode.degrees().into_iter().map(|d| d.of(tonic)).collect::<Option<Vec<PitchName>>>()?;
    let tones = chord.kind.degrees();
    let mut degrees = Vec::with_capacity(7);
    let mut altered = Vec::new();
    for number in 1..=7u8 {
        let key_note = of_key.iter().find(|name| {
            let steps = chord.root.interval_to(**name).steps();
            steps == i32::from(number) - 1
        })?;
        let tone = tones.iter().find(|d| d.number() == number);
        let degree = match tone {
            Some(&tone) => tone,
            None => Degree::between(chord.root, *key_note)?,
        };
        let own = degree.of(chord.root)?;
        if own != *key_note {
            altered.push((own, *key_note));
        }
        degrees.push(degree);
    }
    let set: DegreeSet = degrees.iter().copied().collect();
    // A chord tone may land on its neighbour's pitch; then only the chord's own name stays.
    degrees.retain(|d| tones.contains(d) || !tones.iter().any(|t| t.slot() == d.slot()));
    let named = Mode::ALL.into_iter().find(|m| m.degrees() == degrees);
    let same_notes = [Mode::HarmonicMinor, Mode::MelodicMinor].into_iter().find_map(|parent| {
        let start = degrees.iter().find(|d| set.seen_from(d.slot()) == parent.set())?;
        Some(Key::new(start.of(chord.root)?, parent))
    });
    Some(ImpliedScale {
        key_modes: vec![mode],
        degrees,
        same_notes: same_notes.filter(|_| named.is_none()),
        named,
        altered,
    })
}

/// The scales that a chord implies in each of the modes that stay possible, each once.
pub fn implied_in(chord: Chord, tonic: PitchName, modes: &[Mode]) -> Vec<ImpliedScale> {
    let mut scales: Vec<ImpliedScale> = Vec::new();
    for &mode in modes {
        let Some(scale) = implied(chord, tonic, mode) else { continue };
        match scales.iter_mut().find(|s| s.degrees == scale.degrees) {
            Some(known) => known.key_modes.push(mode),
            None => scales.push(scale),
        }
    }
    scales
}

/// The seven-note modes that the key may be in: the one given or proved, else those that notes and chords
/// together leave, else the likeliest.
pub fn key_modes(found: &Explanation, chords: &[StandingChord]) -> Vec<Mode> {
    let Some((tonic, _)) = found.tonic else { return Vec::new() };
    let seven = |mode: Mode| mode.degrees().len() == 7;
    if let Some(mode) = found.verdict().mode().filter(|&m| seven(m)) {
        return vec![mode];
    }
    let narrowed = found.mode.as_ref().and_then(|m| m.with_chords.as_ref());
    for verdict in narrowed.into_iter().chain([found.verdict()]) {
        match verdict {
            Verdict::Decided(mode) if seven(*mode) => return vec![*mode],
            Verdict::Undecided { between, .. } => return between.clone(),
            _ => {}
        }
    }
    // A pentatonic or blues: the modes that hold its frame and the chords.
    if let Some(mode) = found.verdict().mode() {
        let frame = match mode {
            Mode::MinorBlues => Mode::MinorPentatonic.set(),
            Mode::MajorBlues => Mode::MajorPentatonic.set(),
            other => other.set(),
        };
        let with_chords = compatible(frame.union(all_slots(chords, tonic)));
        return if with_chords.is_empty() { compatible(frame) } else { with_chords };
    }
    let ranked = found.mode.iter().flat_map(|m| &m.ranked).map(|f| f.mode);
    ranked.into_iter().find(|&m| Mode::DIATONIC.contains(&m)).into_iter().collect()
}

/// The scales that players take over one chord that stands alone, the most usual first (common practice, no
/// source). A minor seventh alone leaves Dorian or natural minor open: the sixth must agree with what else
/// sounds.
pub fn usual(kind: ChordKind) -> &'static [Mode] {
    use ChordKind as K;
    use Mode as M;
    match kind {
        K::Major | K::MajorSeventh | K::MajorNinth | K::Sixth => &[M::Major, M::Lydian, M::MajorPentatonic],
        K::Minor | K::MinorSeventh | K::MinorNinth => {
            &[M::Dorian, M::Minor, M::MinorPentatonic, M::MinorBlues]
        }
        K::Seventh | K::Ninth => {
            &[M::Mixolydian, M::MinorPentatonic, M::MajorPentatonic, M::MinorBlues, M::MajorBlues]
        }
        K::SuspendedSecond | K::SuspendedFourth | K::SeventhSuspendedFourth => {
            &[M::Mixolydian, M::Dorian, M::MinorPentatonic]
        }
        K::MinorSixth => &[M::Dorian, M::MelodicMinor],
        K::MinorMajorSeventh => &[M::MelodicMinor, M::HarmonicMinor],
        K::HalfDiminished | K::Diminished => &[M::Locrian],
        K::Fifth => &[M::MinorPentatonic, M::MajorPentatonic],
        K::Augmented | K::DiminishedSeventh => &[],
    }
}
