//! Tonics ranked, each with what speaks for it.

use crate::analysis::heard::{Heard, slot, spelled_in};
use crate::analysis::model::{Cue, MODES, Observed, Weights, probabilities};
use crate::chord::Chord;
use crate::degree::DegreeSet;
use crate::key::Mode;
use crate::pitch::PitchName;
use crate::time::Quarters;

/// A chord and how long it stands.
pub type Standing = (Chord, Quarters);

/// A reason for a tonic.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// In words: `it is the last note, and held`.
    pub words: String,
    /// How much it counts, in units of the logarithm of odds; below zero it speaks against.
    pub weight: f64,
}

/// A note that may be the tonic.
#[derive(Clone, Debug, PartialEq)]
pub struct TonicFinding {
    /// The note, spelled as the riff spells it.
    pub tonic: PitchName,
    /// Its probability, 0 to 1; all findings add up to 1.
    pub score: f64,
    /// What speaks for it and against it, the weightiest first.
    pub reasons: Vec<Reason>,
}

impl TonicFinding {
    /// The reasons for it in one sentence, at most `most` of them.
    pub fn words(&self, most: usize) -> String {
        let reasons: Vec<&str> =
            self.reasons.iter().filter(|r| r.weight > 0.0).take(most).map(|r| r.words.as_str()).collect();
        if reasons.is_empty() { "little speaks for it".to_owned() } else { reasons.join("; ") }
    }
}

/// Weight of the share of the time that chords on a root stand. By hand, no data.
pub const CHORD_SHARE: f64 = 3.0;
/// Weight of a root for standing under all of the riff (a vamp on one chord). By hand, no data.
pub const CHORD_VAMP: f64 = 2.0;
/// Weight of the first chord's root, and half of it for the last chord's. By hand, no data.
pub const CHORD_FIRST: f64 = 1.0;
/// Weight shown for a tonic that was said, by the riff or the teacher: more than all other reasons can come to.
pub const SAID: f64 = 100.0;
/// Share of the belief that a tonic given by the riff or by the teacher takes.
const GIVEN: f64 = 0.98;

/// Ranks all twelve notes as tonics, the likeliest first; empty when nothing sounds and nothing is given.
///
/// `given` is the riff's own or the teacher's word, with how to say so; it takes 98 % of the belief, and the
/// rest is shared out as the notes would have it, so that a riff at odds with its key is seen to be.
pub fn rank(
    notes: &[Heard],
    seen: &Observed,
    chords: &[Standing],
    given: Option<(PitchName, &str)>,
) -> Vec<TonicFinding> {
    if notes.is_empty() {
        return given
            .map(|(tonic, words)| TonicFinding {
                tonic,
                score: 1.0,
                reasons: vec![Reason { words: words.to_owned(), weight: SAID }],
            })
            .into_iter()
            .collect();
    }
    let mut evidence = Weights::LEARNED.evidence(seen);
    for (tonic, row) in (0..12u8).zip(&mut evidence) {
        let more: f64 = chord_reasons(chords, tonic).iter().map(|r| r.weight).sum();
        row.iter_mut().for_each(|e| *e += more);
    }
    let probabilities = probabilities(&evidence).map(|row| row.iter().sum::<f64>());
    let mean =
        notes.iter().map(|n| f64::from(n.pitch.name().line_of_fifths())).sum::<f64>() / notes.len() as f64;
    let mut findings: Vec<TonicFinding> = (0..12u8)
        .zip(probabilities)
        .map(|(pitch_class, own)| {
            let said = given.filter(|(tonic, _)| tonic.pitch_class() == pitch_class);
            let tonic = said
                .map(|(tonic, _)| tonic)
                .or_else(|| spelled_in(notes, pitch_class))
                .unwrap_or_else(|| near(pitch_class, mean));
            let mut reasons = reasons(seen, pitch_class);
            reasons.extend(chord_reasons(chords, pitch_class));
            reasons.sort_by(|a, b| b.weight.abs().total_cmp(&a.weight.abs()));
            let score = match (given, said) {
                (None, _) => own,
                (Some(_), None) => (1.0 - GIVEN) * own,
                (Some(_), Some((_, words))) => {
                    reasons.insert(0, Reason { words: words.to_owned(), weight: SAID });
                    GIVEN + (1.0 - GIVEN) * own
                }
            };
            TonicFinding { tonic, score, reasons }
        })
        .collect();
    findings.sort_by(|a, b| b.score.total_cmp(&a.score));
    findings
}

/// The name of a pitch class nearest to a place on the line of fifths, of those with one sign at most.
fn near(pitch_class: u8, place: f64) -> PitchName {
    (-8..=12)
        .filter_map(PitchName::from_line_of_fifths)
        .filter(|n| n.pitch_class() == pitch_class)
        .min_by(|a, b| {
            let far = |n: &PitchName| (f64::from(n.line_of_fifths()) - place).abs();
            far(a).total_cmp(&far(b))
        })
        .unwrap_or(PitchName::simplest(pitch_class))
}

fn reasons(seen: &Observed, tonic: u8) -> Vec<Reason> {
    let weights = &Weights::LEARNED;
    let values = seen.cues[usize::from(tonic)];
    let percent = |share: f64| format!("{:.0} %", share * 100.0);
    let mut reasons: Vec<Reason> = Cue::ALL
        .into_iter()
        .zip(values)
        .filter(|&(_, value)| value > 0.0)
        .map(|(cue, value)| {
            let words = match cue {
                Cue::First => "it is the first note".to_owned(),
                Cue::FirstDownbeat => "the first bar line falls on it".to_owned(),
                Cue::Last => "it is the last note".to_owned(),
                Cue::LastHeld => "the last note is held on it".to_owned(),
                Cue::LastFromFifth => "the end comes to it from its fifth".to_owned(),
                Cue::Lowest => "it is the lowest note".to_owned(),
                Cue::Longest => "it sounds longest in all".to_owned(),
                Cue::FifthHeard => "its fifth is heard".to_owned(),
                Cue::FigureStart => format!("the repeated figure begins on it ({})", percent(value)),
            };
            Reason { words, weight: weights.cues[cue as usize] * value }
        })
        .collect();
    reasons.push(scale_reason(seen, tonic));
    reasons
}

/// How well the notes fit the best mode on a tonic, against the mean over all tonics.
fn scale_reason(seen: &Observed, tonic: u8) -> Reason {
    let weights = &Weights::LEARNED;
    let best = |t: u8| {
        MODES
            .into_iter()
            .zip(weights.mode)
            .map(|(mode, prior)| (mode, prior + weights.of_profile(seen, t, mode.set())))
            .max_by(|a, b| a.1.total_cmp(&b.1))
            .unwrap_or((Mode::Major, 0.0))
    };
    let (mode, fit) = best(tonic);
    let mean = (0..12).map(|t| best(t).1).sum::<f64>() / 12.0;
    let heard = DegreeSet::from_slots(
        (0..12u8).filter(|&pc| seen.profile[usize::from(pc)] > 0.0).map(|pc| slot(pc, tonic)),
    );
    let outside = heard.without(mode.set());
    let words = if outside.is_empty() {
        format!("all notes lie in {mode} on it")
    } else if fit > mean {
        format!("most notes lie in {mode} on it (not {outside})")
    } else {
        format!("no mode on it holds the notes well ({mode} lacks {outside})")
    };
    Reason { words, weight: fit - mean }
}

fn chord_reasons(chords: &[Standing], tonic: u8) -> Vec<Reason> {
    let total: f64 = chords.iter().map(|c| c.1.to_f64()).sum();
    let (Some(first), Some(last)) = (chords.first(), chords.last()) else { return Vec::new() };
    let on_it = |chord: &Chord| chord.root.pitch_class() == tonic;
    let mut reasons = Vec::new();
    let mut say = |words: String, weight: f64| reasons.push(Reason { words, weight });
    let own: f64 = chords.iter().filter(|c| on_it(&c.0)).map(|c| c.1.to_f64()).sum();
    let share = if total > 0.0 { own / total } else { 0.0 };
    if share >= 1.0 {
        say(format!("the chord {} stands under all of it", first.0), CHORD_SHARE + CHORD_VAMP);
    } else if share > 0.0 {
        say(format!("its chord stands {:.0} % of the time", share * 100.0), CHORD_SHARE * share);
    }
    if on_it(&first.0) && share < 1.0 {
        say(format!("the first chord is {}", first.0), CHORD_FIRST);
    }
    if on_it(&last.0) && share < 1.0 {
        say(format!("the last chord is {}", last.0), CHORD_FIRST / 2.0);
    }
    reasons
}
