//! Reads played lines and compares with the truth.

#![allow(clippy::expect_used, reason = "what is measured is made here")]

use crate::lines::{Dice, Line, Playing, QUARTER, Sounded, Style, Touch, line, played, with_pickup};
use riffkin_audio::listen::{Asked, HeardNote, Manner, Written, written};
use riffkin_score::meter::Meter;
use riffkin_score::tempo::Tempo;
use riffkin_score::value::NoteValue;

/// Lines of one kind, played one way.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Case {
    pub(crate) name: &'static str,
    pub(crate) styles: &'static [Style],
    pub(crate) meters: &'static [(u8, u8)],
    pub(crate) touches: &'static [Touch],
    pub(crate) jitter: f64,
    pub(crate) swing: bool,
    pub(crate) pickup: bool,
    pub(crate) drift: f64,
}

const FOUR: &[(u8, u8)] = &[(4, 4)];
const USUAL: &[Style] = &[Style::Figures, Style::Figures, Style::Figures, Style::Eighths, Style::Sparse];
const PLAIN: Case = Case {
    name: "straight, jitter 3 %",
    styles: USUAL,
    meters: &[(4, 4), (4, 4), (4, 4), (3, 4)],
    touches: &[Touch::Held],
    jitter: 0.03,
    swing: false,
    pickup: false,
    drift: 0.0,
};

/// The cases that are measured.
pub(crate) const CASES: [Case; 13] = [
    Case { name: "straight, jitter 2 %", jitter: 0.02, ..PLAIN },
    Case { name: "straight, jitter 4 %", jitter: 0.04, ..PLAIN },
    Case { name: "straight, jitter 6 %", jitter: 0.06, ..PLAIN },
    Case {
        name: "swing, jitter 2 %",
        styles: &[Style::Eighths],
        meters: FOUR,
        swing: true,
        jitter: 0.02,
        ..PLAIN
    },
    Case {
        name: "swing, jitter 4 %",
        styles: &[Style::Eighths],
        meters: FOUR,
        swing: true,
        jitter: 0.04,
        ..PLAIN
    },
    Case { name: "triplets and eighths, jitter 2 %", styles: &[Style::Triplets], jitter: 0.02, ..PLAIN },
    Case { name: "triplets and eighths, jitter 4 %", styles: &[Style::Triplets], jitter: 0.04, ..PLAIN },
    Case { name: "6/8 and 12/8, jitter 3 %", meters: &[(6, 8), (6, 8), (12, 8)], ..PLAIN },
    Case { name: "pickup, jitter 3 %", pickup: true, ..PLAIN },
    Case { name: "drift +5 %, jitter 3 %", drift: 0.05, ..PLAIN },
    Case { name: "drift -5 %, jitter 3 %", drift: -0.05, ..PLAIN },
    Case { name: "all staccato, jitter 3 %", touches: &[Touch::Short], ..PLAIN },
    Case { name: "some staccato, jitter 3 %", touches: &[Touch::Mixed], ..PLAIN },
];

#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Measured {
    pub(crate) notes: usize,
    /// With a known click: onsets on their exact place.
    pub onset_f1: f64,
    /// With a known click: notes with exact place and length, of all true notes.
    pub(crate) values: f64,
    /// Without one: lines whose tempo is within 2 %.
    pub(crate) tempo: f64,
    /// Lines with the right meter (a bar of 12/8 read as two of 6/8 counts as right and the other way about).
    pub(crate) meter: f64,
    /// Lines with tempo, meter and bar line right.
    pub(crate) bar: f64,
}

/// Reads `count` lines with a known click, and without one if `free`.
pub(crate) fn measure(case: Case, seed: u64, count: usize, free: bool) -> Measured {
    let mut all = Measured::default();
    let (mut right, mut found, mut valued) = (0, 0, 0);
    for k in 0..count {
        let mut dice = Dice(seed.wrapping_mul(1_000_003).wrapping_add(k as u64 * 7919));
        let style = dice.pick(case.styles);
        let (meter, touch) = (dice.pick(case.meters), dice.pick(case.touches));
        let mut truth = line(&mut dice, meter, style, touch);
        if case.pickup {
            truth = with_pickup(&mut dice, truth);
        }
        let how = Playing {
            per_minute: if meter.1 == 8 { dice.between(55.0, 120.0) } else { dice.between(60.0, 160.0) },
            drift: case.drift,
            jitter: case.jitter,
            swing: if case.swing { dice.between(0.57, 0.67) } else { 0.5 },
            start_s: dice.between(1.5, 3.0),
        };
        let heard = heard(&played(&mut dice, &truth, &how));
        let meter: Meter = format!("{}/{}", meter.0, meter.1).parse().expect("a meter");
        let known = Asked {
            meter: Some(meter),
            tempo: Tempo::new(how.per_minute, NoteValue::of_length(meter.beat_length()).expect("a value")),
            first_beat_s: Some(how.start_s),
            ..Asked::default()
        };
        let click = written(&heard, &known).expect("a riff");
        let (onsets, values, notes) = compare(&truth, &click);
        (right, valued, found) = (right + onsets, valued + values, found + notes);
        all.notes += truth.notes.len();
        if !free {
            continue;
        }
        let free = written(&heard, &Asked::default()).expect("a riff");
        // Drift is spread around the mean.
        let mean = how.per_minute * (1.0 + case.drift / 2.0);
        let tempo = (free.reading.tempo.per_minute() / mean - 1.0).abs() < 0.02;
        let alike = |a: Meter, b: Meter| a == b || a.is_compound() && b.is_compound();
        let same = alike(free.reading.meter, meter);
        let line_s = free.reading.alternatives[0].bar_line_s;
        let bar_s = 60.0 / how.per_minute * (truth.bar() / truth.beat()) as f64;
        let off = (line_s - how.start_s) / bar_s;
        let aligned = (off - off.round()).abs() * bar_s < 0.25 * 60.0 / how.per_minute;
        all.tempo += f64::from(u8::from(tempo)) / count as f64;
        all.meter += f64::from(u8::from(same)) / count as f64;
        all.bar += f64::from(u8::from(same && tempo && aligned)) / count as f64;
    }
    all.onset_f1 = 2.0 * right as f64 / (found + all.notes) as f64;
    all.values = valued as f64 / all.notes as f64;
    all
}

pub(crate) fn heard(played: &[Sounded]) -> Vec<HeardNote> {
    played
        .iter()
        .map(|note| HeardNote {
            onset_s: note.onset_s,
            offset_s: note.offset_s,
            midi: note.midi,
            confidence: 0.9,
            cents: 0.0,
            manner: Manner::Struck,
            level_db: note.level_db,
        })
        .collect()
}

/// Notes on their exact place, with their exact length too, and all notes written.
fn compare(truth: &Line, written: &Written) -> (usize, usize, usize) {
    let pickup = written.reading.pickup.to_f64();
    let notes: Vec<(f64, f64, u8)> = written
        .riff
        .line()
        .iter()
        .map(|n| (n.onset.to_f64() - pickup, n.length.to_f64(), n.note.pitch.midi().number()))
        .collect();
    let (mut onsets, mut values) = (0, 0);
    for note in &truth.notes {
        let (at, length) = (note.onset as f64 / QUARTER as f64, note.length as f64 / QUARTER as f64);
        if let Some(n) = notes.iter().find(|n| (n.0 - at).abs() < 1e-6 && n.2 == note.midi) {
            onsets += 1;
            values += usize::from((n.1 - length).abs() < 1e-6);
        }
    }
    (onsets, values, notes.len())
}
