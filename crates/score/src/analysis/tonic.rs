//! Tonics ranked, each with what speaks for it.

use crate::analysis::heard::{Heard, slot, spelled_in};
use crate::analysis::model::{CUES, Cue, MODES, Observed, Weights, probabilities};
use crate::analysis::verdict::listed;
use crate::chord::Chord;
use crate::degree::{Degree, DegreeSet};
use crate::key::{Key, Mode};
use crate::pitch::PitchName;
use crate::time::Quarters;

/// A chord and how long it stands.
pub type Standing = (Chord, Quarters);

/// A reason for a tonic.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// In words: `it is the last note`.
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
/// Weight of the minor blues beside the minor, where all notes lie in it. By hand, no data.
pub const BLUES: f64 = 1.0;
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
    let probabilities = beliefs(&Weights::LEARNED, seen, chords);
    let mean =
        notes.iter().map(|n| f64::from(n.pitch.name().line_of_fifths())).sum::<f64>() / notes.len() as f64;
    let said_by_notes = Said::of(seen);
    let mut findings: Vec<TonicFinding> = (0..12u8)
        .zip(probabilities)
        .map(|(pitch_class, own)| {
            let said = given.filter(|(tonic, _)| tonic.pitch_class() == pitch_class);
            let tonic = said
                .map(|(tonic, _)| tonic)
                .or_else(|| spelled_in(notes, pitch_class))
                .unwrap_or_else(|| near(pitch_class, mean));
            let mut reasons = said_by_notes.reasons(pitch_class, tonic);
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

/// The probability of each pitch class as tonic: the sum over the seven modes, and over the minor blues where all
/// notes lie in it and its flat fifth is among them (the tunes that the weights come from know no blues, so it is
/// weighed as a minor with one note more, and [`BLUES`]).
pub fn beliefs(weights: &Weights, seen: &Observed, chords: &[Standing]) -> [f64; 12] {
    let minor = MODES.iter().position(|&m| m == Mode::Minor).unwrap_or_default();
    let mut evidence = weights.evidence(seen);
    for (tonic, row) in (0..12u8).zip(&mut evidence) {
        let more: f64 = chord_reasons(chords, tonic).iter().map(|r| r.weight).sum();
        let heard = heard_on(seen, tonic);
        if heard.contains(6) && heard.is_within(Mode::MinorBlues.set()) {
            let gained = weights.of_profile(seen, tonic, Mode::MinorBlues.set())
                - weights.of_profile(seen, tonic, Mode::Minor.set());
            row[minor] = ln_of_sum(row[minor], row[minor] + gained + BLUES);
        }
        row.iter_mut().for_each(|e| *e += more);
    }
    probabilities(&evidence).map(|row| row.iter().sum())
}

/// `ln(exp(a) + exp(b))`, safe for large values.
fn ln_of_sum(a: f64, b: f64) -> f64 {
    let most = a.max(b);
    most + ((a - most).exp() + (b - most).exp()).ln()
}

/// The slots heard above a tonic.
fn heard_on(seen: &Observed, tonic: u8) -> DegreeSet {
    let heard = (0..12u8).filter(|&pc| seen.heard[usize::from(pc)] > 0.0);
    DegreeSet::from_slots(heard.map(|pc| slot(pc, tonic)))
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

/// A place tells of a tonic that does not stand there only from this weight on, in words.
const WORTH_SAYING: f64 = 0.3;

/// What the notes say of all twelve tonics: each reason weighed against its mean over them.
struct Said<'a> {
    seen: &'a Observed,
    cues: [[f64; 12]; CUES],
    moves: [f64; 12],
    scales: [(Mode, f64); 12],
}

impl<'a> Said<'a> {
    fn of(seen: &'a Observed) -> Self {
        let weights = &Weights::LEARNED;
        let tonics: [u8; 12] = std::array::from_fn(|t| t as u8);
        let scale = |tonic| {
            MODES
                .into_iter()
                .zip(weights.mode)
                .map(|(mode, prior)| (mode, prior + weights.of_profile(seen, tonic, mode.set())))
                .max_by(|a, b| a.1.total_cmp(&b.1))
                .unwrap_or((Mode::Major, 0.0))
        };
        let mut scales = tonics.map(scale);
        let mean = scales.iter().map(|s| s.1).sum::<f64>() / 12.0;
        scales.iter_mut().for_each(|s| s.1 -= mean);
        Self {
            seen,
            cues: Cue::ALL.map(|cue| centred(tonics.map(|t| weights.of_cue(seen, t, cue)))),
            moves: centred(tonics.map(|t| weights.of_moves(seen, t))),
            scales,
        }
    }

    fn reasons(&self, tonic: u8, name: PitchName) -> Vec<Reason> {
        let at = usize::from(tonic);
        let mut reasons: Vec<Reason> = Vec::new();
        for (cue, weights) in Cue::ALL.into_iter().zip(self.cues) {
            let Some(words) = self.cue_words(cue, tonic, weights[at]) else { continue };
            // The same words twice are one reason: that a line ends on a note, and that it is a long one.
            match reasons.iter_mut().find(|r| r.words == words) {
                Some(known) => known.weight += weights[at],
                None => reasons.push(Reason { words, weight: weights[at] }),
            }
        }
        reasons.extend(self.move_words(tonic).map(|words| Reason { words, weight: self.moves[at] }));
        reasons.push(self.scale_reason(tonic, name));
        reasons
    }

    /// `it is the last note`, or `the last note is its 5`; `None` where there is nothing to say.
    fn cue_words(&self, cue: Cue, tonic: u8, weight: f64) -> Option<String> {
        let values = &self.seen.cues[cue as usize];
        let own = values[usize::from(tonic)];
        let several = matches!(cue, Cue::EighthBars | Cue::FigureStart);
        if own > 0.0 {
            let words = match cue {
                Cue::First => "it is the first note",
                Cue::Downbeat => "the first bar line falls on it",
                Cue::Last | Cue::LastOfMany => "it is the last note",
                Cue::LastHeld => "the last note is held on it",
                Cue::LastOnBar => "the last bar line falls on it",
                Cue::LastReturns => "the bar that ends on it returns",
                Cue::Lowest => "it is the lowest note",
                Cue::Longest => "it sounds longest in all",
                Cue::Half => "the first half ends on it",
                Cue::EighthBars => "eight bars end on it",
                Cue::FigureStart => "the repeated figure begins on it",
            };
            let part = match cue {
                Cue::EighthBars => own * own,
                _ => own,
            };
            let share = if several { format!(" ({:.0} %)", part * 100.0) } else { String::new() };
            return Some(format!("{words}{share}"));
        }
        if several || weight.abs() < WORTH_SAYING {
            return None;
        }
        let stands = (0..12u8).find(|&pc| values[usize::from(pc)] > 0.0)?;
        let degree = Degree::usual(slot(stands, tonic)).print();
        Some(match cue {
            Cue::First => format!("the first note is its {degree}"),
            Cue::Downbeat => format!("the first bar line falls on its {degree}"),
            Cue::Last | Cue::LastOfMany => format!("the last note is its {degree}"),
            Cue::LastHeld => format!("the last note is held on its {degree}"),
            Cue::LastOnBar => format!("the last bar line falls on its {degree}"),
            Cue::LastReturns => format!("the bar that ends on its {degree} returns"),
            Cue::Lowest => format!("the lowest note is its {degree}"),
            Cue::Longest => format!("its {degree} sounds longest in all"),
            Cue::Half => format!("the first half ends on its {degree}"),
            Cue::EighthBars | Cue::FigureStart => return None,
        })
    }

    /// The step onto a beat that says most in the sense of all of them.
    fn move_words(&self, tonic: u8) -> Option<String> {
        let sum = self.moves[usize::from(tonic)];
        if sum.abs() < WORTH_SAYING {
            return None;
        }
        let moves = &Weights::LEARNED.moves;
        let pairs = (0..12u8).flat_map(|from| (0..12u8).map(move |to| (from, to)));
        let (from, to, _) = pairs
            .map(|(from, to)| {
                let (a, b) = (slot(from, tonic), slot(to, tonic));
                let weight = moves[usize::from(a)][usize::from(b)];
                (a, b, self.seen.moves[usize::from(from)][usize::from(to)] * weight * sum.signum())
            })
            .max_by(|a, b| a.2.total_cmp(&b.2))
            .filter(|best| best.2 > 0.0)?;
        Some(format!(
            "steps onto the beat such as {} to {}",
            Degree::usual(from).print(),
            Degree::usual(to).print()
        ))
    }

    /// How well the notes fit the best mode on a tonic.
    fn scale_reason(&self, tonic: u8, name: PitchName) -> Reason {
        let (mode, weight) = self.scales[usize::from(tonic)];
        let outside = heard_on(self.seen, tonic).without(mode.set());
        let key = Key::new(name, mode).print();
        let degrees: Vec<String> = outside.slots().map(|slot| Degree::usual(slot).print()).collect();
        let words = if heard_on(self.seen, tonic).len() < 3 {
            "its few notes fit a scale on it".to_owned()
        } else if outside.is_empty() {
            format!("all notes lie in {key}")
        } else if weight > 0.0 {
            format!("most notes lie in {key} (not {})", listed(&degrees, "and"))
        } else {
            format!("no scale on it holds the notes well ({key} lacks {})", listed(&degrees, "and"))
        };
        Reason { words, weight }
    }
}

/// The same with their mean taken off.
fn centred(values: [f64; 12]) -> [f64; 12] {
    let mean = values.iter().sum::<f64>() / 12.0;
    values.map(|v| v - mean)
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
        say(format!("the chord {} stands under all of it", first.0.print()), CHORD_SHARE + CHORD_VAMP);
    } else if share > 0.0 {
        say(format!("its chord stands {:.0} % of the time", share * 100.0), CHORD_SHARE * share);
    }
    if on_it(&first.0) && share < 1.0 {
        say(format!("the first chord is {}", first.0.print()), CHORD_FIRST);
    }
    if on_it(&last.0) && share < 1.0 {
        say(format!("the last chord is {}", last.0.print()), CHORD_FIRST / 2.0);
    }
    reasons
}
