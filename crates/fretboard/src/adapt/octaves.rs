//! Single notes and phrases moved by octaves so that a line lies on a neck, with the least change.

use std::cmp::Ordering;

use riffkin_score::note::Note;
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::{BarBeat, Riff};
use riffkin_score::time::Quarters;

use super::measure::Change;
use super::{Adaptation, Kind, Measure};
use crate::fit::on_neck;
use crate::neck::Neck;

/// What counts first where notes are moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Keep {
    /// The contour, then the roots on first beats, then the least change.
    Contour,
    /// The least change ([`Change::weight`]), then the contour.
    Most,
}

impl Keep {
    /// What is to be least, the first number first.
    fn order(self, change: Change) -> Cost {
        let weight = u64::from(change.weight());
        let turns = u64::from(change.all_turns());
        match self {
            Self::Contour => [turns, u64::from(change.roots), weight],
            Self::Most => [weight, turns, 0],
        }
    }
}

/// Compared in order, added one by one.
type Cost = [u64; 3];

fn plus(a: Cost, b: Cost) -> Cost {
    [a[0] + b[0], a[1] + b[1], a[2] + b[2]]
}

/// Octaves tried, in order of preference among equals.
const OCTAVES: [i8; 7] = [0, 1, -1, 2, -2, 3, -3];

/// A note that may be moved: all but dead notes, whose pitch is nominal.
struct Step {
    /// Which note of the line.
    line: usize,
    pitch: Pitch,
    root_on_one: bool,
    after_rest: bool,
    /// Octaves by which it lies on the neck.
    octaves: Vec<i8>,
}

/// `an octave up`, `two octaves down`.
pub(super) fn words(octaves: i8) -> String {
    let way = if octaves > 0 { "up" } else { "down" };
    match octaves.unsigned_abs() {
        1 => format!("an octave {way}"),
        2 => format!("two octaves {way}"),
        n => format!("{n} octaves {way}"),
    }
}

/// The line with the least change, `None` when a note has no octave on the neck.
pub(super) fn least_change(riff: &Riff, neck: &Neck, keep: Keep) -> Option<Adaptation> {
    let steps = steps(riff, neck);
    let choice = cheapest(&steps, keep)?;
    let mut moves = vec![0i8; riff.line().len()];
    for (step, &octaves) in steps.iter().zip(&choice) {
        moves[step.line] = octaves;
    }
    let count = moves.iter().filter(|&&o| o != 0).count();
    let (moved, dropped) = moved(riff, &moves)?;
    let changes = changes(riff, &steps, &choice, &dropped);
    let kind = match keep {
        Keep::Contour => Kind::Phrases(count),
        Keep::Most => Kind::Notes(count),
    };
    let measure = Measure::Moved(whole_change(&steps, |i| choice[i]));
    Some(Adaptation { kind, riff: moved, neck: neck.clone(), changes, measure })
}

/// What moving every note by the same octaves does.
pub(super) fn whole_line(riff: &Riff, neck: &Neck, octaves: i8) -> Change {
    whole_change(&steps(riff, neck), |_| octaves)
}

fn whole_change(steps: &[Step], octaves: impl Fn(usize) -> i8) -> Change {
    let notes = steps.iter().enumerate().map(|(i, step)| note_change(step, octaves(i)));
    let pairs = steps.windows(2).enumerate();
    let pairs = pairs.map(|(i, pair)| pair_change(&pair[0], octaves(i), &pair[1], octaves(i + 1)));
    notes.chain(pairs).fold(Change::default(), Change::and)
}

fn steps(riff: &Riff, neck: &Neck) -> Vec<Step> {
    let tonic = riff.header().key.map(|k| k.tonic.pitch_class());
    let mut steps = Vec::new();
    let mut last_end: Option<Quarters> = None;
    for (i, note) in riff.line().iter().enumerate() {
        let rest = last_end.is_some_and(|end| note.onset > end);
        last_end = Some(note.onset + note.length);
        if note.is_dead() {
            continue;
        }
        let pitch = note.note.pitch;
        // Behind a pickup's or short bar's line too: the first beat is where a full bar starts.
        let on_one = note.onset == riff.bar_start(note.bar)
            && riff.bars().get(note.bar).is_some_and(|b| !(b.short && note.bar == 0));
        let octaves = OCTAVES
            .into_iter()
            .filter(|&o| shifted(note.note, o).is_some_and(|n| on_neck(&n, neck)))
            .collect();
        steps.push(Step {
            line: i,
            pitch,
            root_on_one: on_one && tonic == Some(pitch.name().pitch_class()),
            after_rest: rest,
            octaves,
        });
    }
    steps
}

/// A note some octaves away. A written place goes when the note moves: it would sound the old pitch.
fn shifted(note: Note, octaves: i8) -> Option<Note> {
    if octaves == 0 {
        return Some(note);
    }
    Some(Note { pitch: note.pitch.octaves(octaves)?, place: None, finger: None, ..note })
}

fn note_change(step: &Step, octaves: i8) -> Change {
    Change {
        notes: u32::from(octaves != 0),
        octaves: u32::from(octaves.unsigned_abs()),
        roots: u32::from(step.root_on_one && octaves != 0),
        ..Change::default()
    }
}

fn pair_change(a: &Step, a_octaves: i8, b: &Step, b_octaves: i8) -> Change {
    let broken = u32::from(a_octaves != b_octaves);
    let turned = u32::from(way(a, 0, b, 0) != way(a, a_octaves, b, b_octaves));
    if b.after_rest {
        Change { breaks_at_rests: broken, turns_at_rests: turned, ..Change::default() }
    } else {
        Change { breaks: broken, turns: turned, ..Change::default() }
    }
}

/// Whether the line rises, falls or stays from one note to the next, each moved.
fn way(a: &Step, a_octaves: i8, b: &Step, b_octaves: i8) -> Ordering {
    let sounding = |s: &Step, o: i8| i32::from(s.pitch.midi().number()) + 12 * i32::from(o);
    sounding(b, b_octaves).cmp(&sounding(a, a_octaves))
}

/// The octaves of every note with the least change, by dynamic programming from the end. Of equals the one with
/// fewer octaves, upwards before downwards, from the start on.
fn cheapest(steps: &[Step], keep: Keep) -> Option<Vec<i8>> {
    // For each note and octave: the change from there on, and which octave the next note takes.
    let mut rest: Vec<Vec<(Cost, usize)>> = vec![Vec::new(); steps.len()];
    for i in (0..steps.len()).rev() {
        let step = &steps[i];
        let mut here = Vec::with_capacity(step.octaves.len());
        for &octaves in &step.octaves {
            let ahead = match steps.get(i + 1) {
                None => ([0; 3], 0),
                Some(next) => next
                    .octaves
                    .iter()
                    .enumerate()
                    .map(|(k, &o)| {
                        (plus(rest[i + 1][k].0, keep.order(pair_change(step, octaves, next, o))), k)
                    })
                    .min_by_key(|&(change, _)| change)?,
            };
            here.push((plus(keep.order(note_change(step, octaves)), ahead.0), ahead.1));
        }
        if here.is_empty() {
            return None;
        }
        rest[i] = here;
    }
    let first = rest.first()?;
    let mut k = (0..first.len()).min_by_key(|&k| first[k].0)?;
    let mut choice = Vec::with_capacity(steps.len());
    for (step, rest) in steps.iter().zip(&rest) {
        choice.push(step.octaves[k]);
        k = rest[k].1;
    }
    Some(choice)
}

/// The riff with the notes of its line moved, and which lost their written place.
fn moved(riff: &Riff, moves: &[i8]) -> Option<(Riff, Vec<usize>)> {
    let mut dropped = Vec::new();
    let line = riff.line();
    let (header, mut bars) = riff.clone().into_parts();
    let mut current: Option<usize> = None;
    let mut next = 0;
    for (b, bar) in bars.iter_mut().enumerate() {
        for (e, event) in bar.events.iter_mut().enumerate() {
            // A head that starts no note of the line continues the one before it by a tie.
            if line.get(next).is_some_and(|n| (n.bar, n.event) == (b, e)) {
                current = Some(next);
                next += 1;
            }
            let (Some(note), Some(i)) = (&mut event.note, current) else { continue };
            let octaves = moves.get(i).copied().unwrap_or(0);
            if octaves != 0 && note.place.is_some() && !dropped.contains(&i) {
                dropped.push(i);
            }
            *note = shifted(*note, octaves)?;
        }
    }
    Some((Riff::new(header, bars).ok()?, dropped))
}

fn changes(riff: &Riff, steps: &[Step], choice: &[i8], dropped: &[usize]) -> Vec<(BarBeat, String)> {
    let line = riff.line();
    let at = |step: &Step| {
        line.get(step.line).map_or(riff.bar_beat(0, Quarters::ZERO), |n| riff.place_of(n.onset))
    };
    let mut changes = Vec::new();
    let mut i = 0;
    while i < steps.len() {
        let octaves = choice[i];
        let run = choice[i..].iter().take_while(|&&o| o == octaves).count();
        let (first, last) = (&steps[i], &steps[i + run - 1]);
        if octaves != 0 {
            let what = match run {
                1 => format!("{} {}", first.pitch.print(), words(octaves)),
                n => format!(
                    "{n} notes from {} to {}, up to {}, {}",
                    first.pitch.print(),
                    last.pitch.print(),
                    at(last),
                    words(octaves)
                ),
            };
            changes.push((at(first), what));
        }
        i += run;
    }
    for (k, pair) in steps.windows(2).enumerate() {
        let (a, b) = (&pair[0], &pair[1]);
        let (was, is) = (way(a, 0, b, 0), way(a, choice[k], b, choice[k + 1]));
        if was != is {
            let word = |o: Ordering, now: bool| match (o, now) {
                (Ordering::Less, true) => "falls",
                (Ordering::Less, false) => "fell",
                (Ordering::Equal, true) => "stays level",
                (Ordering::Equal, false) => "stayed level",
                (Ordering::Greater, true) => "rises",
                (Ordering::Greater, false) => "rose",
            };
            changes.push((
                at(b),
                format!("the line {} here, where it {} before the change", word(is, true), word(was, false)),
            ));
        }
    }
    for step in steps.iter().filter(|s| dropped.contains(&s.line)) {
        changes.push((
            at(step),
            format!("the string and fret written with {} were dropped", step.pitch.print()),
        ));
    }
    changes.sort_by_key(|c| c.0);
    changes
}
