//! A made-up shelf that is like a teacher's: families of riffs, each a figure of a bar or two over a few degrees
//! of a usual scale, repeated with another ending, and its variants in other keys. Invented, and only for
//! measuring: what the program finds is checked elsewhere.

use riffkin_kin::imprint::{Imprint, TICKS_PER_QUARTER, Trace};

/// Seeded dice: splitmix64 (Steele, Lea and Flood, OOPSLA 2014; constants from memory).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    /// The next number.
    pub(crate) fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 to `n - 1`.
    pub(crate) fn below(&mut self, n: usize) -> usize {
        (self.roll() % n.max(1) as u64) as usize
    }

    /// True that often.
    pub(crate) fn percent(&mut self, chance: usize) -> bool {
        self.below(100) < chance
    }

    fn pick<'a, T>(&mut self, from: &'a [T]) -> &'a T {
        &from[self.below(from.len())]
    }
}

/// A note as it is made up: semitones above the lowest root, or a rest, and twelfths of a quarter.
pub(crate) type Beat = (Option<i16>, u32);

/// A riff as it is made up.
#[derive(Clone)]
pub(crate) struct Line {
    /// Notes and rests.
    pub(crate) beats: Vec<Beat>,
    scale: &'static [i16],
}

const SCALES: &[(usize, &[i16])] = &[
    (24, &[0, 3, 5, 7, 10]),
    (12, &[0, 3, 5, 6, 7, 10]),
    (14, &[0, 2, 3, 5, 7, 9, 10]),
    (14, &[0, 2, 4, 5, 7, 9, 10]),
    (12, &[0, 2, 4, 5, 7, 9, 11]),
    (12, &[0, 2, 3, 5, 7, 8, 10]),
    (9, &[0, 2, 4, 7, 9]),
    (3, &[0, 1, 3, 5, 7, 8, 10]),
];

const CELLS: &[&[u32]] = &[
    &[12],
    &[12],
    &[6, 6],
    &[6, 6],
    &[6, 6],
    &[3, 3, 6],
    &[6, 3, 3],
    &[3, 3, 3, 3],
    &[9, 3],
    &[3, 6, 3],
    &[24],
    &[18, 6],
    &[6, 12, 6],
    &[36],
];
const TRIPLETS: &[&[u32]] = &[&[12], &[8, 4], &[8, 4], &[4, 4, 4], &[8, 16], &[24]];

/// The first riff of a family.
pub(crate) fn family(dice: &mut Dice) -> Line {
    let mut of = dice.below(100);
    let scale = SCALES.iter().find(|(share, _)| {
        let here = of < *share;
        of = of.saturating_sub(*share);
        here
    });
    let scale = scale.map_or(SCALES[0].1, |s| s.1);
    let bars = *dice.pick(&[1, 1, 2, 2, 2, 2, 2, 4, 4, 4, 4, 8]);
    let bar = *dice.pick(&[48, 48, 48, 48, 48, 48, 48, 48, 36, 60]);
    let cells = if dice.percent(15) { TRIPLETS } else { CELLS };
    let palette: Vec<&[u32]> = (0..2 + dice.below(3)).map(|_| *dice.pick(cells)).collect();
    let figure = |dice: &mut Dice| bar_of(dice, &palette, bar, scale);
    let (a, b) = (figure(dice), figure(dice));
    let mut beats = Vec::new();
    for i in 0..bars {
        let form: &[usize] = match bars {
            1 => &[0],
            2 if dice.percent(60) => &[0, 1],
            2 => &[0, 2],
            _ => &[0, 2, 0, 1],
        };
        match form[i % form.len()] {
            0 => beats.extend(a.clone()),
            1 => beats.extend(b.clone()),
            _ => beats.extend(another_ending(dice, &a, scale)),
        }
    }
    Line { beats, scale }
}

fn bar_of(dice: &mut Dice, palette: &[&[u32]], bar: u32, scale: &[i16]) -> Vec<Beat> {
    let mut beats = Vec::new();
    let (mut left, mut at) = (bar, 0usize);
    let mut rooted = dice.percent(85);
    if !rooted {
        at = dice.below(scale.len());
    }
    while left > 0 {
        for &length in *dice.pick(palette) {
            let length = length.min(left);
            if length == 0 {
                break;
            }
            left -= length;
            if dice.percent(10) && !rooted {
                beats.push((None, length));
                continue;
            }
            if !rooted {
                at = next(dice, at, scale.len());
            }
            rooted = false;
            let passing = if dice.percent(3) { -1 } else { 0 };
            let (octave, step) = ((at / scale.len()) as i16, at % scale.len());
            beats.push((Some(scale[step] + 12 * octave + passing), length));
        }
    }
    beats
}

/// The next scale step: mostly near, often the same, sometimes back to the root, the fifth or the octave.
fn next(dice: &mut Dice, at: usize, scale: usize) -> usize {
    match dice.below(100) {
        0..27 => at,
        27..47 => at.saturating_sub(1),
        47..67 => (at + 1).min(2 * scale - 1),
        67..82 => 0,
        82..88 => scale / 2 + 1,
        88..93 => scale,
        _ => dice.below(2 * scale),
    }
}

fn another_ending(dice: &mut Dice, bar: &[Beat], scale: &[i16]) -> Vec<Beat> {
    let mut beats = bar.to_vec();
    let from = beats.len().saturating_sub(1 + dice.below(3));
    for beat in &mut beats[from..] {
        if beat.0.is_some() {
            beat.0 = Some(*dice.pick(scale));
        }
    }
    beats
}

/// A variant: so many small changes.
pub(crate) fn variant(dice: &mut Dice, line: &Line, changes: usize) -> Line {
    let mut beats = line.beats.clone();
    for _ in 0..changes {
        let at = dice.below(beats.len());
        match dice.below(10) {
            0..4 => {
                if beats[at].0.is_some() {
                    beats[at].0 = Some(*dice.pick(line.scale));
                }
            }
            4..6 => break_up(dice, &mut beats, at, line.scale),
            6 if at + 1 < beats.len() => {
                let (_, length) = beats.remove(at + 1);
                beats[at].1 += length;
            }
            7 if at + 1 < beats.len() && beats[at].1 > 3 => {
                beats[at].1 -= 3;
                beats[at + 1].1 += 3;
            }
            8 => beats[at].0 = None,
            _ => {
                let bar = beats.len() / 4;
                beats.truncate(beats.len() - bar.min(beats.len() - 1));
            }
        }
    }
    Line { beats, scale: line.scale }
}

fn break_up(dice: &mut Dice, beats: &mut Vec<Beat>, at: usize, scale: &[i16]) {
    let (pitch, length) = beats[at];
    if length >= 6 && length % 2 == 0 {
        beats[at].1 = length / 2;
        let other = pitch.map(|p| if dice.percent(50) { p } else { *dice.pick(scale) });
        beats.insert(at + 1, (other, length / 2));
    }
}

/// Every long note broken into shorter ones of its pitch, some joined again.
pub(crate) fn fragmented(dice: &mut Dice, line: &Line) -> Line {
    let mut beats = Vec::new();
    for &(pitch, length) in &line.beats {
        if length >= 6 && length % 2 == 0 && dice.percent(60) {
            beats.extend([(pitch, length / 2), (pitch, length / 2)]);
        } else {
            beats.push((pitch, length));
        }
    }
    Line { beats, scale: line.scale }
}

/// As an imprint, on a root of 0 to 11 semitones above E1.
pub(crate) fn imprint(line: &Line, root: u8) -> Imprint {
    let tick = TICKS_PER_QUARTER / 12;
    let (mut notes, mut at) = (Vec::new(), 0);
    for &(pitch, length) in &line.beats {
        if let Some(pitch) = pitch {
            let midi = (28 + i16::from(root) + pitch).clamp(0, 127) as u8;
            notes.push(Trace { midi, onset: at * tick, length: length * tick });
        }
        at += length;
    }
    Imprint::new(notes, Some((28 + root) % 12), at * tick, None).expect("made in order")
}

/// A whole shelf: families of one to twelve.
pub(crate) fn shelf(seed: u64, count: usize) -> impl Iterator<Item = (u64, Imprint)> {
    let mut dice = Dice(seed);
    let (mut first, mut left) = (family(&mut dice), 0);
    (0..count as u64).map(move |number| {
        if left == 0 {
            first = family(&mut dice);
            left = 1 + dice.below(12);
        }
        left -= 1;
        let changes = dice.below(6);
        let line = variant(&mut dice, &first, changes);
        (number, imprint(&line, dice.below(12) as u8))
    })
}
