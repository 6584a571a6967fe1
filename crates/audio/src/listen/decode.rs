//! From evidence to notes: the likeliest course of silence and notes through the whole clip.
//!
//! A hidden semi-Markov model over silence, one state for each pitch and one for a dead note, solved exactly (Viterbi).
//! A note is entered through an attack and holds for at least `SHORTEST_S`; every frame of it is paid by the front
//! end's salience of its pitch; it is left for silence or for any note's attack, its own included, so that a string
//! struck again is a path like any other. Another pitch may also follow without an attack, at a cost: a hammer-on, a
//! pull-off or a slide. A dead note is an attack with no pitch after it. Onset and pitch are decided together, which is
//! what a peak picker followed by a pitch tracker cannot do. Costs are natural logarithms of probability ratios against
//! silence.

use super::evidence::{Evidence, Frame, LOWEST_MIDI, PITCHES};
use std::collections::VecDeque;

/// Shortest note, in seconds.
const SHORTEST_S: f64 = 0.050;
/// Neighbouring frames hear mostly the same sound; this is the share of a frame's evidence that is new, for each
/// second between frames.
const FRESH_PER_S: f32 = 52.0;
/// Cost of a new pitch without an attack (hammer-on, pull-off, slide), or of a note that comes out of nothing.
const UNSTRUCK: f32 = -7.0;
/// Cost of a struck note, whatever its attack: keeps noises from becoming notes.
const STRUCK: f32 = -0.5;
/// Evidence against any note in a frame that is below the noise floor.
const INAUDIBLE: f32 = -2.0;
/// Cost of falling silent.
const RELEASED: f32 = -1.0;
/// Cost of a dead note beside a pitched one: fewer notes are dead than not.
const DEADENED: f32 = -1.5;
/// Log odds of an attack below which a change of pitch is taken for a hammer-on, a pull-off or a slide: the change alone
/// stirs the sound a little.
const CLEARLY_STRUCK: f32 = 1.0;
/// One state for each pitch, and the last for dead notes.
const STATES: usize = PITCHES + 1;

/// One stretch of one pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// First frame.
    pub start: usize,
    /// First frame after it.
    pub end: usize,
    /// Which pitch, counted from [`LOWEST_MIDI`]; `None` for a dead note.
    pub pitch: Option<usize>,
    /// Log odds of its attack; the cost of an unstruck note where there was none.
    pub onset: f32,
    /// Whether it follows a note of another pitch without an attack.
    pub joined: bool,
}

impl Span {
    /// Sounding MIDI number of a note that has a pitch.
    #[must_use]
    pub fn midi(&self) -> Option<u8> {
        self.pitch.map(|p| LOWEST_MIDI + p as u8)
    }
}

/// What a frame pays a state for sounding.
fn paid(frame: &Frame, state: usize, fresh: f32) -> f64 {
    let heard = frame.salience.get(state).copied().unwrap_or(frame.unpitched);
    f64::from(fresh * if frame.audible { heard } else { heard.min(INAUDIBLE) })
}

/// What entering a state through an attack costs.
fn attack(frame: &Frame, state: usize) -> f32 {
    STRUCK + frame.onset.get(state).copied().unwrap_or_else(|| frame.struck() + DEADENED)
}

/// What entering a state without an attack costs; a dead note is nothing but its attack.
fn unstruck(state: usize) -> f32 {
    if state < PITCHES { UNSTRUCK } else { f32::MIN }
}

/// Where a state was entered from.
const SILENCE: u8 = u8::MAX;

/// The likeliest notes.
#[must_use]
pub fn decode(evidence: &Evidence) -> Vec<Span> {
    let frames = evidence.frames.len();
    let shortest = ((SHORTEST_S / evidence.hop.value()).round() as usize).max(1);
    if frames <= shortest {
        return Vec::new();
    }
    let fresh = (FRESH_PER_S * evidence.hop.value() as f32).min(1.0);
    let mut course = Course { shortest, steps: Vec::with_capacity(frames) };
    // Best scores of being silent and of being in each note past its shortest length, at the frame before.
    let (mut quiet, mut sounding) = (0f64, [f64::MIN; STATES]);
    // For the last `shortest` frames: the score of entering each note there, less the running sum of its evidence.
    let mut entries: VecDeque<[f64; STATES]> = VecDeque::with_capacity(shortest + 1);
    let mut sums = [0f64; STATES];
    for frame in &evidence.frames {
        let (loudest, score) = best(&sounding);
        let mut step = Step { silenced: SILENCE, struck: [false; STATES], from: [SILENCE; STATES] };
        let mut entry = [0f64; STATES];
        for p in 0..STATES {
            // From silence or any note through an attack; from silence or another note without one.
            let struck = f64::from(attack(frame, p));
            let free = struck.max(f64::from(unstruck(p)));
            let mut value = quiet + free;
            let joined = if usize::from(loudest) == p { struck } else { free };
            if score + joined > value {
                (step.from[p], value) = (loudest, score + joined);
            }
            entry[p] = value - sums[p];
        }
        entries.push_back(entry);
        let begun = if entries.len() >= shortest { entries.pop_front() } else { None };
        for p in 0..STATES {
            let paid = paid(frame, p, fresh);
            sums[p] += paid;
            sounding[p] += paid;
            if let Some(begun) = &begun
                && begun[p] + sums[p] > sounding[p]
            {
                (sounding[p], step.struck[p]) = (begun[p] + sums[p], true);
            }
        }
        if score + f64::from(RELEASED) > quiet {
            (quiet, step.silenced) = (score + f64::from(RELEASED), loudest);
        }
        course.steps.push(step);
    }
    let (last, score) = best(&sounding);
    course.trace(evidence, if score > quiet { last } else { SILENCE })
}

/// The best pitch and its score.
fn best(scores: &[f64; STATES]) -> (u8, f64) {
    scores.iter().enumerate().fold(
        (SILENCE, f64::MIN),
        |(which, most), (p, s)| {
            if *s > most { (p as u8, *s) } else { (which, most) }
        },
    )
}

/// What was decided at one frame.
struct Step {
    /// The note that fell silent here, or [`SILENCE`] where it was silent before.
    silenced: u8,
    /// For each note: whether its shortest length has just ended here.
    struck: [bool; STATES],
    /// For each note: what came before, if it starts here.
    from: [u8; STATES],
}

/// All decisions, to be followed back from the end.
struct Course {
    shortest: usize,
    steps: Vec<Step>,
}

impl Course {
    /// The notes of the path that ends in `state`.
    fn trace(&self, evidence: &Evidence, mut state: u8) -> Vec<Span> {
        let mut spans = Vec::new();
        let mut end = self.steps.len();
        // The number of frames that are still to be explained.
        let mut left = self.steps.len();
        while left > 0 {
            let step = &self.steps[left - 1];
            if state == SILENCE {
                state = step.silenced;
                left -= 1;
                end = left;
            } else if step.struck[usize::from(state)] && left >= self.shortest {
                let (start, place) = (left - self.shortest, usize::from(state));
                state = self.steps[start].from[place];
                let struck = evidence.frames.get(start).map_or(f32::MIN, |f| attack(f, place) - STRUCK);
                let pitch = (place < PITCHES).then_some(place);
                let onset = struck.max(UNSTRUCK);
                let other = state != SILENCE && state != place as u8 && usize::from(state) < PITCHES;
                spans.push(Span { start, end, pitch, onset, joined: other && onset < CLEARLY_STRUCK });
                (left, end) = (start, start);
            } else {
                left -= 1;
            }
        }
        spans.reverse();
        spans
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::Seconds;
    use crate::listen::evidence::Frame;

    /// Frames of 10 ms: silence, then stretches of (frames, pitch), with attacks of these odds at these frames.
    fn evidence(stretches: &[(usize, Option<usize>)], attacks: &[(usize, f32)]) -> Evidence {
        let mut frames = Vec::new();
        for (length, pitch) in stretches {
            let mut salience = [-0.8; PITCHES];
            if let Some(pitch) = pitch {
                salience[*pitch] = 1.3;
            }
            let frame = Frame {
                salience,
                cents: [0; PITCHES],
                onset: [-30.0; PITCHES],
                attack_s: 0.0,
                level_db: [if pitch.is_some() { -20.0 } else { -90.0 }; PITCHES],
                unpitched: -3.0,
                audible: pitch.is_some(),
            };
            frames.extend(std::iter::repeat_n(frame, *length));
        }
        for (k, odds) in attacks {
            frames[*k].onset = [*odds; PITCHES];
        }
        Evidence { hop: Seconds::saturating(0.01), delay: Seconds::ZERO, frames }
    }

    fn spans(evidence: &Evidence) -> Vec<(usize, usize, usize)> {
        decode(evidence).iter().filter_map(|s| Some((s.start, s.end, s.pitch?))).collect()
    }

    #[test]
    fn two_struck_notes_with_a_rest_between() {
        let heard = evidence(
            &[(10, None), (20, Some(5)), (10, None), (20, Some(8)), (10, None)],
            &[(10, 2.0), (40, 2.0)],
        );
        assert_eq!(spans(&heard), [(10, 30, 5), (40, 60, 8)]);
    }

    #[test]
    fn a_likely_attack_within_a_pitch_is_a_second_note_and_an_unlikely_one_is_not() {
        let line = [(10, None), (40, Some(5)), (10, None)];
        assert_eq!(spans(&evidence(&line, &[(10, 2.0), (30, 2.0)])), [(10, 30, 5), (30, 50, 5)]);
        assert_eq!(spans(&evidence(&line, &[(10, 2.0), (30, -2.0)])), [(10, 50, 5)]);
    }

    #[test]
    fn a_pitch_may_change_without_an_attack_if_it_stays_changed() {
        assert_eq!(
            spans(&evidence(&[(10, None), (30, Some(5)), (30, Some(7)), (10, None)], &[(10, 2.0)])),
            [(10, 40, 5), (40, 70, 7)]
        );
        let glitch = [(10, None), (30, Some(5)), (3, Some(7)), (30, Some(5)), (10, None)];
        assert_eq!(spans(&evidence(&glitch, &[(10, 2.0)])), [(10, 73, 5)]);
    }

    #[test]
    fn an_attack_with_noise_after_it_is_a_dead_note() {
        let mut heard =
            evidence(&[(20, None), (12, None), (20, Some(5)), (10, None)], &[(20, 2.0), (32, 2.0)]);
        for frame in &mut heard.frames[20..30] {
            (frame.audible, frame.unpitched) = (true, 1.0);
        }
        let found: Vec<_> = decode(&heard).iter().map(|s| (s.start, s.pitch)).collect();
        assert_eq!(found, [(20, None), (32, Some(5))]);
    }

    #[test]
    fn an_attack_without_a_pitch_is_no_note() {
        assert_eq!(spans(&evidence(&[(50, None)], &[(10, 2.0), (20, 2.0)])), []);
        assert_eq!(decode(&evidence(&[], &[])), []);
        assert_eq!(decode(&evidence(&[(2, Some(1))], &[])), []);
    }

    /// Best score of the frames from `at` on when `state` sounded before: one more silent frame, or a note of any
    /// length allowed, and then the rest.
    fn best_path(
        frames: usize,
        at: usize,
        state: Option<usize>,
        paid: &dyn Fn(usize, usize) -> f32,
        onset: &dyn Fn(usize) -> f32,
    ) -> f32 {
        if at == frames {
            return 0.0;
        }
        let released = if state.is_some() { RELEASED } else { 0.0 };
        let mut best = released + best_path(frames, at + 1, None, paid, onset);
        for p in 0..2 {
            let attack = onset(at) + STRUCK;
            let mut score = if state == Some(p) { attack } else { attack.max(UNSTRUCK) };
            for end in at + 1..=frames {
                score += paid(end - 1, p);
                if end - at >= 5 {
                    best = best.max(score + best_path(frames, end, Some(p), paid, onset));
                }
            }
        }
        best
    }

    /// Against a search of every division of a short clip into silence and notes of two pitches.
    #[test]
    fn no_other_path_scores_better() {
        let heard =
            evidence(&[(3, None), (7, Some(0)), (7, Some(1)), (3, None)], &[(3, 1.0), (8, 0.5), (12, -1.0)]);
        let frames = heard.frames.len();
        let paid = |k: usize, p: usize| {
            let f = &heard.frames[k];
            FRESH_PER_S * 0.01 * if f.audible { f.salience[p] } else { f.salience[p].min(INAUDIBLE) }
        };
        let onset = |k: usize| heard.frames[k].onset[0];
        let best = best_path(frames, 0, None, &paid, &onset);
        let found = decode(&heard);
        let mut score = 0.0;
        let mut before: Option<Span> = None;
        for span in &found {
            let joined = before.is_some_and(|b| b.end == span.start);
            if before.is_some() && !joined {
                score += RELEASED;
            }
            let attack = onset(span.start) + STRUCK;
            let same = joined && before.is_some_and(|b| b.pitch == span.pitch);
            score += if same { attack } else { attack.max(UNSTRUCK) };
            score += (span.start..span.end).map(|k| paid(k, span.pitch.expect("a pitch"))).sum::<f32>();
            before = Some(*span);
        }
        if before.is_some_and(|b| b.end < frames) {
            score += RELEASED;
        }
        assert!((score - best).abs() < 1e-3, "{score} against {best}: {found:?}");
    }
}
