//! Bass lines made by rule for measuring: scales, chords, roots and fifths, repeats, leaps and rests. They are no
//! music; seeds make them repeatable.
#![allow(dead_code, unreachable_pub, clippy::unwrap_used, reason = "each test file uses its own part")]

use riffkin_fretboard::hand::{Effort, Weights};
use riffkin_fretboard::neck::Neck;
use riffkin_score::note::Note;
use riffkin_score::riff::Riff;
use riffkin_score::tempo::Tempo;
use riffkin_score::value::Shape;

use crate::common::{Dice, midi_note, riff_of};

const SCALES: [&[u8]; 5] = [
    &[0, 2, 4, 5, 7, 9, 11],
    &[0, 2, 3, 5, 7, 8, 10],
    &[0, 2, 3, 5, 7, 9, 10],
    &[0, 3, 5, 7, 10],
    &[0, 2, 4, 7, 9],
];

/// A line of 12 to 28 notes in one scale, eighths, quarters or sixteenths at 60 to 160, within two octaves above its
/// root; one in five goes an octave higher.
pub fn line(dice: &mut Dice, neck: &Neck) -> Riff {
    let scale = SCALES[dice.below(SCALES.len() as u64) as usize];
    let (low, high) = neck.range();
    let root = low + 1 + dice.below(12) as u8 + if dice.one_in(5) { 12 } else { 0 };
    let pitch = |degree: i64| {
        let n = scale.len() as i64;
        let midi =
            i64::from(root) + 12 * degree.div_euclid(n) + i64::from(scale[degree.rem_euclid(n) as usize]);
        midi.clamp(i64::from(low), i64::from(high)) as u8
    };
    let top = 2 * scale.len() as i64;
    let mut degree = dice.below(4) as i64;
    let mut notes: Vec<Option<Note>> = Vec::new();
    let wanted = 12 + dice.below(17) as usize;
    while notes.iter().flatten().count() < wanted {
        match dice.below(10) {
            0 => notes.push(None),
            1 | 2 => {}
            3 => degree += 2 * (1 - 2 * dice.below(2) as i64),
            4 => degree = if dice.one_in(2) { 0 } else { scale.len() as i64 },
            5 => degree += 4 * (1 - 2 * dice.below(2) as i64),
            _ => degree += 1 - 2 * dice.below(2) as i64,
        }
        degree = degree.clamp(-1, top);
        notes.push(Some(midi_note(pitch(degree))));
    }
    let shape = [Shape::Eighth, Shape::Eighth, Shape::Quarter, Shape::Sixteenth][dice.below(4) as usize];
    let riff = riff_of(shape, &notes);
    let mut header = riff.header().clone();
    header.tempo = Tempo::quarters(60.0 + dice.below(101) as f64).unwrap();
    riff.with_header(header)
}

/// A teacher of another mind: every effort but marks and repeats weighs between a quarter of the usual and four times
/// as much.
pub fn teacher(seed: u64) -> Weights {
    let mut dice = Dice(seed);
    let mut taste = Weights::default();
    for effort in Effort::ALL {
        let by = 4f64.powf(dice.below(2001) as f64 / 1000.0 - 1.0);
        if !matches!(effort, Effort::MarkBroken | Effort::RepeatMoved) {
            taste = taste.with(effort, effort.usual_weight() * by).unwrap();
        }
    }
    taste
}
