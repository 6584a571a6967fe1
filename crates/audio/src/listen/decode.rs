//! From evidence to notes: the likeliest course of silence and notes through the whole clip.
//!
//! A hidden semi-Markov model over silence and one state for each pitch, solved exactly (Viterbi). A note is entered
//! through an attack and holds for at least [`SHORTEST_S`]; every frame of it is paid by the front end's salience of its
//! pitch; it is left for silence or for any note's attack, its own included, so that a string struck again is a path
//! like any other. Onset and pitch are decided together, which is what a peak picker followed by a pitch tracker cannot
//! do. Costs are natural logarithms of probability ratios against silence.

use super::evidence::{Evidence, LOWEST_MIDI, PITCHES};

/// Shortest note, in seconds.
const SHORTEST_S: f64 = 0.040;
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

/// One stretch of one pitch.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Span {
    /// First frame.
    pub start: usize,
    /// First frame after it.
    pub end: usize,
    /// Which pitch, counted from [`LOWEST_MIDI`].
    pub pitch: usize,
    /// Log odds of its attack; the cost of an unstruck note where there was none.
    pub onset: f32,
}

impl Span {
    /// Sounding MIDI number.
    #[must_use]
    pub fn midi(&self) -> u8 {
        LOWEST_MIDI + self.pitch as u8
    }
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
    // Running sums of each pitch's evidence, frame by frame.
    let mut sums = Vec::with_capacity(frames + 1);
    let mut sum = [0f32; PITCHES];
    sums.push(sum);
    for frame in &evidence.frames {
        for (sum, salience) in sum.iter_mut().zip(frame.salience) {
            *sum += fresh * if frame.audible { salience } else { salience.min(INAUDIBLE) };
        }
        sums.push(sum);
    }
    // sounding[k][p]: best score of being in note p, past its shortest length, at frame k; struck[k][p]: whether the
    // note's shortest length has just ended there; from[k][p]: what came before a note p that starts at frame k.
    let mut sounding = vec![[f32::MIN; PITCHES]; frames];
    let mut struck = vec![[false; PITCHES]; frames];
    let mut from = vec![[SILENCE; PITCHES]; frames];
    let mut entry = vec![[f32::MIN; PITCHES]; frames];
    let mut silence = vec![0f32; frames];
    let mut silenced_by = vec![SILENCE; frames];
    for k in 0..frames {
        let (quiet, before) =
            if k == 0 { (0.0, [f32::MIN; PITCHES]) } else { (silence[k - 1], sounding[k - 1]) };
        let (loudest, score) = best(&before);
        (silence[k], silenced_by[k]) =
            if score + RELEASED > quiet { (score + RELEASED, loudest) } else { (quiet, SILENCE) };
        let attack = evidence.frames[k].onset + STRUCK;
        for p in 0..PITCHES {
            // From silence or any note through an attack; from silence or another note without one.
            let (mut came, mut value) = (SILENCE, quiet + attack.max(UNSTRUCK));
            if score + attack > value {
                (came, value) = (loudest, score + attack);
            }
            if usize::from(loudest) != p && score + UNSTRUCK > value {
                (came, value) = (loudest, score + UNSTRUCK);
            }
            (entry[k][p], from[k][p]) = (value, came);
            let stay = before[p] + sums[k + 1][p] - sums[k][p];
            sounding[k][p] = stay;
            if k + 1 >= shortest {
                let start = k + 1 - shortest;
                let begun = entry[start][p] + sums[k + 1][p] - sums[start][p];
                if begun > stay {
                    (sounding[k][p], struck[k][p]) = (begun, true);
                }
            }
        }
    }
    trace(evidence, shortest, &sounding, &struck, &from, &silence, &silenced_by)
}

/// The best pitch and its score.
fn best(scores: &[f32; PITCHES]) -> (u8, f32) {
    scores.iter().enumerate().fold(
        (SILENCE, f32::MIN),
        |(which, most), (p, s)| {
            if *s > most { (p as u8, *s) } else { (which, most) }
        },
    )
}

/// Follows the best path back from the end.
fn trace(
    evidence: &Evidence,
    shortest: usize,
    sounding: &[[f32; PITCHES]],
    struck: &[[bool; PITCHES]],
    from: &[[u8; PITCHES]],
    silence: &[f32],
    silenced_by: &[u8],
) -> Vec<Span> {
    let Some(mut k) = sounding.len().checked_sub(1) else { return Vec::new() };
    let (last, score) = best(&sounding[k]);
    let mut state = if score > silence[k] { last } else { SILENCE };
    let mut spans = Vec::new();
    let mut end = k + 1;
    loop {
        if state == SILENCE {
            state = silenced_by[k];
            if k == 0 {
                break;
            }
            k -= 1;
            end = k + 1;
            continue;
        }
        let p = usize::from(state);
        if struck[k][p] {
            let start = k + 1 - shortest;
            spans.push(Span { start, end, pitch: p, onset: evidence.frames[start].onset.max(UNSTRUCK) });
            state = from[start][p];
            if start == 0 {
                break;
            }
            k = start - 1;
            end = start;
        } else if k == 0 {
            break;
        } else {
            k -= 1;
        }
    }
    spans.reverse();
    spans
}
