//! Invented bass lines with their true rhythm, and how somebody might play them. Shares no code with what it checks:
//! time is counted in whole ticks, and seconds come from its own sums.

#![allow(dead_code, reason = "the test and the example use different parts")]

/// Ticks in a quarter note.
pub(crate) const QUARTER: i64 = 24;

/// Seeded dice: the splitmix64 generator (Steele, Lea, Flood, OOPSLA 2014; constants from memory).
pub(crate) struct Dice(pub(crate) u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// Evenly from `low` to `high`.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * (self.roll() >> 11) as f64 / (1u64 << 53) as f64
    }

    pub(crate) fn chance(&mut self, part: f64) -> bool {
        self.between(0.0, 1.0) < part
    }

    pub(crate) fn pick<T: Copy>(&mut self, from: &[T]) -> T {
        from[(self.roll() % from.len() as u64) as usize]
    }

    /// One of these, as often as their weights say.
    fn weighed<T: Copy>(&mut self, from: &[(u32, T)]) -> T {
        let all: u32 = from.iter().map(|f| f.0).sum();
        let mut left = self.between(0.0, f64::from(all));
        for &(weight, what) in from {
            left -= f64::from(weight);
            if left < 0.0 {
                return what;
            }
        }
        from[from.len() - 1].1
    }

    /// Normal, by Box and Muller.
    pub(crate) fn normal(&mut self) -> f64 {
        let (u, v) = (self.between(1e-12, 1.0), self.between(0.0, 1.0));
        (-2.0 * u.ln()).sqrt() * (2.0 * std::f64::consts::PI * v).cos()
    }
}

/// A note as it is written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct True {
    /// Ticks from the first bar line; below zero in a pickup.
    pub(crate) onset: i64,
    pub(crate) length: i64,
    pub(crate) midi: u8,
    /// Played short though written long.
    pub(crate) short: bool,
}

/// What kind of line.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Style {
    /// Figures of quarters, eighths and sixteenths.
    Figures,
    /// The same without sixteenths, for swing.
    Eighths,
    /// Every eighth, the root of each bar mostly.
    Pump,
    /// Sixteenths most of the time, the root of each bar mostly.
    Drive,
    /// Every quarter, stepping.
    Walk,
    /// Some beats in triplets.
    Triplets,
    /// Long notes and rests.
    Sparse,
    /// Lengths from a sixteenth to a quarter in any order, across beats but not across bar lines.
    Loose,
    /// Root and octave in turn, eighths and quarters.
    Octaves,
}

/// How the player touches the strings.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Touch {
    /// Nearly as long as written.
    Held,
    /// All cut to about half.
    Short,
    /// Every fifth note or so cut to about half.
    Mixed,
}

#[derive(Clone, Debug)]
pub(crate) struct Line {
    /// Upper and lower number of the meter.
    pub(crate) meter: (u8, u8),
    pub(crate) notes: Vec<True>,
    pub(crate) bars: i64,
    pub(crate) touch: Touch,
}

impl Line {
    pub(crate) fn bar(&self) -> i64 {
        QUARTER * 4 * i64::from(self.meter.0) / i64::from(self.meter.1)
    }

    /// Ticks in a counted beat.
    pub(crate) fn beat(&self) -> i64 {
        if self.meter.1 == 8 { QUARTER * 3 / 2 } else { QUARTER }
    }
}

type Cell = &'static [i64];

// Cells of one or two beats; rests below zero.
const FIGURES: &[(u32, Cell)] = &[
    (20, &[24]),
    (30, &[12, 12]),
    (6, &[18, 6]),
    (6, &[12, 6, 6]),
    (5, &[6, 6, 12]),
    (2, &[6, 12, 6]),
    (5, &[6, 6, 6, 6]),
    (7, &[-12, 12]),
    (5, &[-24]),
    (8, &[48]),
    (7, &[36, 12]),
    (5, &[12, 24, 12]),
    (4, &[18, 18, 12]),
    (3, &[24, -12, 12]),
];
const EIGHTHS: &[(u32, Cell)] = &[
    (25, &[24]),
    (40, &[12, 12]),
    (8, &[-12, 12]),
    (4, &[-24]),
    (7, &[48]),
    (8, &[36, 12]),
    (6, &[12, 24, 12]),
];
const TRIPLETS: &[(u32, Cell)] =
    &[(25, &[24]), (20, &[12, 12]), (22, &[8, 8, 8]), (10, &[16, 8]), (5, &[48]), (4, &[-24]), (4, &[8, 16])];
const SPARSE: &[(u32, Cell)] = &[
    (20, &[48]),
    (14, &[24]),
    (10, &[-24]),
    (8, &[36, 12]),
    (8, &[-12, 12]),
    (8, &[12, -12]),
    (6, &[18, -6]),
];
const PUMP: &[(u32, Cell)] = &[(1, &[12, 12])];
const PUMP_OF_THREE: &[(u32, Cell)] = &[(1, &[12, 12, 12])];
const DRIVE: &[(u32, Cell)] = &[(6, &[6, 6, 6, 6]), (3, &[12, 6, 6]), (2, &[6, 6, 12]), (1, &[6, 12, 6])];
const DRIVE_OF_THREE: &[(u32, Cell)] =
    &[(5, &[6, 6, 6, 6, 6, 6]), (2, &[12, 6, 6, 6, 6]), (2, &[12, 12, 6, 6]), (1, &[12, 12, 12])];
const WALK: &[(u32, Cell)] = &[(9, &[24]), (1, &[12, 12])];
const COMPOUND: &[(u32, Cell)] = &[
    (18, &[36]),
    (20, &[24, 12]),
    (20, &[12, 12, 12]),
    (6, &[12, 24]),
    (5, &[12, 6, 6, 12]),
    (5, &[12, 12, 6, 6]),
    (5, &[-12, 12, 12]),
    (4, &[-36]),
    (6, &[72]),
    (4, &[60, 12]),
];

// Not cells: single lengths, one after another.
const LOOSE: &[(u32, Cell)] = &[(2, &[6]), (6, &[12]), (2, &[18]), (3, &[24]), (1, &[-6]), (1, &[-12])];
const LOOSE_OF_THREE: &[(u32, Cell)] = &[(1, &[6]), (6, &[12]), (3, &[24]), (1, &[-12])];
const OCTAVES: &[(u32, Cell)] = &[(3, &[12]), (1, &[24])];

/// An invented line: a figure of one or two bars, its return, something else, its return (A A B A and the like).
pub(crate) fn line(dice: &mut Dice, meter: (u8, u8), style: Style, touch: Touch) -> Line {
    let mut line = Line { meter, notes: Vec::new(), bars: dice.pick(&[4, 4, 6, 8]), touch };
    let (bar, beat) = (line.bar(), line.beat());
    let scale: &[i64] =
        dice.pick(&[&[0, 3, 5, 7, 10], &[0, 2, 3, 5, 7, 9, 10], &[0, 2, 4, 5, 7, 9, 11], &[0, 4, 7, 9, 10]]);
    let root = 28 + (dice.roll() % 12) as i64;
    let roots: Vec<i64> = (0..4).map(|k| if k == 0 { root } else { root + dice.pick(scale) % 8 }).collect();
    let moving = matches!(style, Style::Pump | Style::Drive | Style::Walk) || dice.chance(0.3);
    let again = dice.between(0.45, 0.8);
    let mut figures: Vec<Vec<(i64, i64, i64)>> = Vec::new();
    for b in 0..line.bars {
        let here = if moving { roots[(b % 4) as usize] } else { root };
        let figure = if b > 0 && style != Style::Walk && dice.chance(again) {
            dice.pick(&[0, figures.len() - 1].map(|k| &figures[k])).clone()
        } else {
            figure(dice, bar, beat, style, scale)
        };
        for &(at, length, step) in &figure {
            let short = match touch {
                Touch::Held => false,
                Touch::Short => true,
                Touch::Mixed => dice.chance(0.2),
            };
            line.notes.push(True {
                onset: b * bar + at,
                length,
                midi: (here + step).clamp(23, 60) as u8,
                short,
            });
        }
        figures.push(figure);
    }
    // Ends on the root of a last bar.
    if dice.chance(0.5) {
        let long = dice.pick(&[beat, 2 * beat, bar]).min(bar);
        let midi = root as u8;
        line.notes.push(True { onset: line.bars * bar, length: long, midi, short: touch == Touch::Short });
    }
    line
}

fn figure(dice: &mut Dice, bar: i64, beat: i64, style: Style, scale: &[i64]) -> Vec<(i64, i64, i64)> {
    let compound = beat == 36;
    let mut lengths: Vec<i64> = Vec::new();
    let mut left = bar;
    while left > 0 {
        let cells = match style {
            _ if compound && style == Style::Pump => PUMP_OF_THREE,
            _ if compound && style == Style::Drive => DRIVE_OF_THREE,
            _ if compound && style == Style::Loose => LOOSE_OF_THREE,
            Style::Octaves => OCTAVES,
            _ if compound => COMPOUND,
            Style::Figures => FIGURES,
            Style::Eighths => EIGHTHS,
            Style::Triplets => TRIPLETS,
            Style::Sparse => SPARSE,
            Style::Pump => PUMP,
            Style::Drive => DRIVE,
            Style::Walk => WALK,
            Style::Loose => LOOSE,
        };
        let cell = dice.weighed(cells);
        let size: i64 = cell.iter().map(|n| n.abs()).sum();
        if size <= left {
            lengths.extend(cell);
            left -= size;
        }
    }
    let (mut at, mut step) = (0, 0);
    let mut notes = Vec::new();
    for length in lengths {
        if length > 0 {
            step = match style {
                _ if at == 0 => 0,
                Style::Pump | Style::Drive => {
                    if dice.chance(0.85) {
                        0
                    } else {
                        dice.pick(scale)
                    }
                }
                Style::Octaves => {
                    if dice.chance(0.85) {
                        12 - step.clamp(0, 1) * 12
                    } else {
                        dice.pick(scale)
                    }
                }
                _ if dice.chance(0.25) => step,
                _ if dice.chance(0.15) => {
                    if step >= 12 {
                        step - 12
                    } else {
                        step + 12
                    }
                }
                _ => dice.pick(scale),
            };
            notes.push((at, length, step));
        }
        at += length.abs();
    }
    if notes.is_empty() {
        notes.push((0, bar, 0));
    }
    notes
}

/// Puts a pickup before the line: one to three eighths.
pub(crate) fn with_pickup(dice: &mut Dice, mut line: Line) -> Line {
    let count = dice.pick(&[1, 2, 3]);
    let first = line.notes.first().map_or(40, |n| n.midi);
    let mut notes: Vec<True> = (0..count)
        .map(|k| True {
            onset: (k - count) * 12,
            length: 12,
            midi: (i64::from(first) - count + k).clamp(23, 60) as u8,
            short: false,
        })
        .collect();
    notes.append(&mut line.notes);
    line.notes = notes;
    line
}

/// How a line is played.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Playing {
    /// Counted beats a minute at the start.
    pub(crate) per_minute: f64,
    /// The tempo at the end against that at the start, less 1.
    pub(crate) drift: f64,
    /// Standard deviation of the onsets, in parts of a beat.
    pub(crate) jitter: f64,
    /// Part of the beat at which the second of two eighths falls.
    pub(crate) swing: f64,
    /// Instant of the first bar line.
    pub(crate) start_s: f64,
}

/// A note as it was played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Sounded {
    pub(crate) onset_s: f64,
    pub(crate) offset_s: f64,
    pub(crate) midi: u8,
    /// Decibels above some level.
    pub(crate) level_db: f64,
}

/// How loud the notes are played: by 1 to 4 dB louder on the first and the middle beat, on bar lines alone, on every
/// beat, on the beats between, or nowhere; and by chance.
fn levels(dice: &mut Dice, line: &Line) -> Vec<f64> {
    let (bar, beat) = (line.bar(), line.beat());
    let habit = dice.weighed(&[(7, 0), (3, 1), (3, 2), (2, 3), (5, 4)]);
    let (accent, chance) = (dice.between(1.0, 4.0), dice.between(0.5, 2.0));
    let mut of_pitch = [0.0; 128];
    for level in &mut of_pitch {
        *level = dice.normal();
    }
    let accented = |tick: i64| {
        let at = tick.rem_euclid(bar);
        let strong = at == 0 || bar / beat % 2 == 0 && at * 2 == bar;
        match habit {
            0 => strong,
            1 => at == 0,
            2 => at % beat == 0,
            3 => at % beat == 0 && !strong,
            _ => false,
        }
    };
    let level = |n: &True| {
        let own = if accented(n.onset) { accent } else { 0.0 };
        own + of_pitch[usize::from(n.midi.min(127))] + chance * dice.normal()
    };
    line.notes.iter().map(level).collect()
}

/// Every note as it was played, by onset.
pub(crate) fn played(dice: &mut Dice, line: &Line, how: &Playing) -> Vec<Sounded> {
    let beat = line.beat() as f64;
    let whole = (line.bars * line.bar()) as f64 / beat;
    let swung = |tick: i64| {
        if how.swing <= 0.5 {
            return tick as f64 / beat;
        }
        let (whole, within) = (tick.div_euclid(24), tick.rem_euclid(24) as f64 / 24.0);
        let turn = how.swing;
        whole as f64
            + if within < 0.5 { within * 2.0 * turn } else { turn + (within - 0.5) * 2.0 * (1.0 - turn) }
    };
    // The beat's length falls evenly as the tempo rises: its sum over beats.
    let seconds = |beats: f64| {
        how.start_s
            + 60.0 / how.per_minute * (beats - how.drift / (1.0 + how.drift) * beats * beats / (2.0 * whole))
    };
    let mut heard: Vec<Sounded> = line
        .notes
        .iter()
        .map(|n| {
            let (on, off) = (seconds(swung(n.onset)), seconds(swung(n.onset + n.length)));
            let gate = if n.short { dice.between(0.35, 0.6) } else { dice.between(0.82, 1.0) };
            let onset_s = on + how.jitter * 60.0 / how.per_minute * dice.normal();
            let offset_s = on + (off - on) * gate + 0.008 * dice.normal();
            Sounded { onset_s, offset_s, midi: n.midi, level_db: 0.0 }
        })
        .collect();
    for (note, level_db) in heard.iter_mut().zip(levels(dice, line)) {
        note.level_db = level_db;
    }
    heard.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    for i in 0..heard.len() {
        let next = heard.get(i + 1).map_or(f64::INFINITY, |n| n.onset_s);
        let on = heard[i].onset_s;
        heard[i].offset_s = heard[i].offset_s.max(on + 0.04).min((next - 0.002).max(on + 0.01));
    }
    heard
}
