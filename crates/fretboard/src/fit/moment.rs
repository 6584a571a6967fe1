//! The notes of a line as the hand meets them: in seconds.

use riffkin_score::note::{Approach, Mark, Note};
use riffkin_score::rhythm::SwingClock;
use riffkin_score::riff::{BarBeat, Riff};

/// A gap of this length or longer before a note is a rest in which the hand is free, in seconds. Our choice:
/// about a simple reaction time; shorter gaps are only detached playing.
const REST_S: f64 = 0.2;

/// The shortest time between two notes that is reckoned with, in seconds, so that nothing divides by zero.
const SHORTEST_S: f64 = 0.03;

/// A hop in this many seconds counts once: an eighth note at 120. Our choice, no source.
const HOP_S: f64 = 0.25;

/// One note of the line and the time around it.
#[derive(Clone, Copy, Debug)]
pub(super) struct Moment {
    pub(super) note: Note,
    pub(super) at: BarBeat,
    pub(super) midi: u8,
    pub(super) dead: bool,
    /// From the onset before to this one, in seconds.
    pub(super) since_last_s: f64,
    /// From this onset to the next one, or how long it lasts when it is the last, in seconds.
    pub(super) until_next_s: f64,
    /// A rest stands before it.
    pub(super) after_rest: bool,
    /// The plucking finger when first and second take strict turns, the first after a rest; `None` when it is not
    /// plucked by a finger (hammered, pulled, slid, struck by the thumb).
    pub(super) pluck: Option<Pluck>,
    /// How fast a hop to it is: once at [`HOP_S`], 0.5 to 2.
    pub(super) pace: f64,
    /// Where it starts, in seconds from the start.
    pub(super) onset_s: f64,
    /// How long it lasts, in seconds.
    pub(super) lasts_s: f64,
    /// Index of its bar.
    pub(super) bar: usize,
}

/// A finger of the plucking hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Pluck {
    First,
    Second,
}

/// The written line in seconds: tempo changes and swing are followed, repeats are not written out.
pub(super) fn moments(riff: &Riff) -> Vec<Moment> {
    let tempo = riff.tempo();
    let swing = SwingClock::written(riff);
    let line = riff.line();
    let seconds = |at: riffkin_score::time::Quarters| tempo.seconds_at(swing.at(at.to_f64()));
    let mut moments: Vec<Moment> = Vec::with_capacity(line.len());
    let (mut last_onset, mut last_end) = (0.0, 0.0);
    let mut turn = Pluck::First;
    for note in &line {
        let onset = seconds(note.onset);
        let end = seconds(note.onset + note.length);
        let since_last_s = (onset - last_onset).max(SHORTEST_S);
        let after_rest = !moments.is_empty() && onset - last_end >= REST_S;
        if let Some(last) = moments.last_mut() {
            last.until_next_s = since_last_s;
        }
        if after_rest {
            turn = Pluck::First;
        }
        let pluck = by_finger(&note.note).then_some(turn);
        if pluck.is_some() {
            turn = if turn == Pluck::First { Pluck::Second } else { Pluck::First };
        }
        moments.push(Moment {
            note: note.note,
            at: riff.place_of(note.onset),
            midi: note.note.pitch.midi().number(),
            dead: note.note.marks.has(Mark::Dead),
            since_last_s,
            until_next_s: (end - onset).max(SHORTEST_S),
            after_rest,
            pluck,
            pace: (HOP_S / since_last_s).clamp(0.5, 2.0),
            onset_s: onset,
            lasts_s: end - onset,
            bar: note.bar,
        });
        (last_onset, last_end) = (onset, end);
    }
    moments
}

fn by_finger(note: &Note) -> bool {
    matches!(note.approach, Approach::Plucked | Approach::SlidePlucked)
        && !note.marks.has(Mark::Slap)
        && !note.marks.has(Mark::Pop)
}
