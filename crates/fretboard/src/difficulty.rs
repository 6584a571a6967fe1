//! How difficult a riff is on a neck, and why.
//!
//! Each demand is graded by itself from 1 to 5: speed, stretch, shifts, string skips, techniques, syncopation,
//! rhythm values. A riff is as difficult as its hardest demand, and one level more where three or more demands
//! are that hard together, from level 3 on. All limits between the levels are set by hand (common practice, no source): they are
//! a proposal that a teacher may well see otherwise, which is why a level never stands without its reasons.

use riffkin_score::analysis::shape::{RhythmShape, Technique, plural, rhythm, techniques};
use riffkin_score::meter::Meter;
use riffkin_score::note::Mark;
use riffkin_score::rhythm::SwingClock;
use riffkin_score::riff::{BarBeat, LineNote, Riff};
use riffkin_score::value::{NoteValue, Shape, Tuplet};

use crate::fit::{Fit, FittedNote, Touch};
use crate::hand::Hand;
use crate::neck::Neck;

/// The hardest level.
pub const HARDEST: u8 = 5;

/// What can make a riff difficult.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Demand {
    /// Notes a second over the fastest stretch.
    Speed,
    /// The widest reach from the index finger, in millimetres.
    Stretch,
    /// The fastest shift of the hand, in millimetres a second; across a rest, an open string or a dead note, or
    /// with a second or more to do it in, a fifth of that.
    Shifts,
    /// The fastest jump over a string, in jumps a second.
    StringSkips,
    /// How many techniques there are beyond plain plucking.
    Techniques,
    /// The share of notes that are syncopated, 0 to 1
    /// ([`riffkin_score::analysis::shape::syncopation`]).
    Syncopation,
    /// How many different note values there are.
    RhythmValues,
}

impl Demand {
    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Speed => "speed",
            Self::Stretch => "stretch",
            Self::Shifts => "shifts",
            Self::StringSkips => "string skips",
            Self::Techniques => "techniques",
            Self::Syncopation => "syncopation",
            Self::RhythmValues => "rhythm values",
        }
    }
}

/// One demand, graded.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// What is demanded.
    pub demand: Demand,
    /// How hard that is, 1 to 5.
    pub level: u8,
    /// How much of it there is, in the unit of the [`Demand`].
    pub amount: f64,
    /// Where it is hardest, when it has a place.
    pub at: Option<BarBeat>,
    /// The whole of it in words.
    pub words: String,
}

/// How difficult a riff is, with every demand.
#[derive(Clone, Debug, PartialEq)]
pub struct Difficulty {
    level: u8,
    reasons: Vec<Reason>,
}

impl Difficulty {
    /// 1 (first steps) to 5 (hard). Never to be shown without [`Difficulty::words`].
    pub fn level(&self) -> u8 {
        self.level
    }

    /// The level in a word: `easy`.
    pub fn name(&self) -> &'static str {
        ["first steps", "easy", "moderate", "demanding", "hard"]
            [usize::from(self.level.clamp(1, HARDEST) - 1)]
    }

    /// Every demand, the hardest first.
    pub fn reasons(&self) -> &[Reason] {
        &self.reasons
    }

    /// The demands that make it as difficult as it is: those of the highest grade; all when nothing is
    /// demanded.
    pub fn deciding(&self) -> &[Reason] {
        let hardest = self.reasons.first().map_or(1, |r| r.level);
        &self.reasons[..self.reasons.partition_point(|r| r.level == hardest)]
    }

    /// The level with what decides it, then what else is asked for.
    pub fn words(&self) -> Vec<String> {
        let hardest = self.reasons.first().map_or(1, |r| r.level);
        let join =
            |reasons: &[Reason]| reasons.iter().map(|r| r.words.as_str()).collect::<Vec<_>>().join("; ");
        let raised = if self.level > hardest { ", one level up because so much comes together" } else { "" };
        let mut words = vec![format!(
            "level {} of {HARDEST}, {}: {}{raised}",
            self.level,
            self.name(),
            join(self.deciding())
        )];
        let (from, to) =
            (self.deciding().len(), self.reasons.partition_point(|r| r.level > 1 || r.level == hardest));
        if let Some(lesser) = self.reasons.get(from..to).filter(|l| !l.is_empty()) {
            words.push(format!("also: {}", join(lesser)));
        }
        words
    }
}

/// Grades a riff as it is fitted on a neck for a hand. `fit` is the riff's own.
pub fn difficulty(riff: &Riff, fit: &Fit, neck: &Neck, hand: &Hand) -> Difficulty {
    let line = riff.line();
    let rhythm = rhythm(riff);
    let steps = steps(riff, &line, &fit.notes);
    let mut reasons = vec![
        speed(&rhythm),
        stretch(&fit.notes, neck, hand),
        shifts(&steps, neck),
        skips(&steps),
        technique(&line),
        syncopation(&rhythm),
        values(riff, &rhythm),
    ];
    // Stable: equals stay in the order of the demands.
    reasons.sort_by_key(|r| std::cmp::Reverse(r.level));
    let hardest = reasons.first().map_or(1, |r| r.level);
    let together = reasons.iter().filter(|r| r.level == hardest).count();
    let level = if hardest >= MODERATE && together >= TOGETHER { hardest + 1 } else { hardest };
    Difficulty { level: level.min(HARDEST), reasons }
}

/// As many demands of the hardest grade make the whole one level harder, from a moderate grade on.
const TOGETHER: usize = 3;
/// The middle level.
const MODERATE: u8 = 3;

/// Up to these many notes a second: level 1, 2, 3, 4. Eighths at 120 are four, sixteenths at 120 eight.
const SPEEDS: [f64; 4] = [2.0, 4.0, 6.0, 8.0];
/// Up to these shift speeds in mm/s. In an eighth at 120, low on the neck, one fret is about 170, two frets 350, five
/// frets 800.
const SHIFTS: [f64; 4] = [0.0, 160.0, 400.0, 800.0];
/// Up to these many jumps over a string a second.
const SKIPS: [f64; 4] = [0.0, 2.0, 4.0, 6.0];
/// Up to these shares of syncopated notes; no share of them alone is harder than level 4.
const SYNCOPATIONS: [f64; 3] = [0.0, 0.15, 0.4];

fn grade(amount: f64, limits: &[f64]) -> u8 {
    // What is computed from tempi may miss a limit by a rounding.
    let above = limits.iter().filter(|&&limit| amount > limit + 1e-6).count();
    u8::try_from(above + 1).unwrap_or(HARDEST).min(HARDEST)
}

fn speed(rhythm: &RhythmShape) -> Reason {
    let (amount, at) = rhythm.fastest.map_or((0.0, None), |(speed, at)| (speed, Some(at)));
    let level = grade(amount, &SPEEDS);
    let words = match at {
        None => "nothing is played".to_owned(),
        Some(at) => format!("up to {amount:.1} notes a second, from {at}"),
    };
    Reason { demand: Demand::Speed, level, amount, at, words }
}

fn stretch(notes: &[FittedNote], neck: &Neck, hand: &Hand) -> Reason {
    let reach = |n: &FittedNote| neck.span_mm(n.position, n.place.fret);
    let stopped = notes.iter().filter(|n| n.touch == Touch::Stopped && n.place.fret > n.position);
    let widest = stopped.fold(None, |best: Option<&FittedNote>, n| match best {
        Some(b) if reach(b) >= reach(n) => Some(b),
        _ => Some(n),
    });
    let amount = widest.map_or(0.0, reach);
    let (comfortable, limit) = (hand.comfortable_mm(), hand.widest_mm());
    // Easy, then to two thirds of the way from comfortable to widest, to the widest, and a tenth beyond.
    let limits = [0.9 * comfortable, comfortable + (limit - comfortable) * 2.0 / 3.0, limit, 1.1 * limit];
    let level = grade(amount, &limits);
    let words = match widest {
        None => "no stretch".to_owned(),
        Some(n) => {
            let frets = format!("frets {} to {}", n.position, n.place.fret);
            let than =
                if level > 2 { format!(", more than a comfortable {comfortable:.0}") } else { String::new() };
            format!("a reach of {amount:.0} mm ({frets}) at {}{than}", n.at)
        }
    };
    Reason { demand: Demand::Stretch, level, amount, at: widest.map(|n| n.at), words }
}

/// From one note to the next.
struct Step {
    from: FittedNote,
    to: FittedNote,
    seconds: f64,
    // Across a rest, an open string or a dead note.
    eased: bool,
}

/// The shortest time that is reckoned with, so that nothing divides by zero.
const SHORTEST_S: f64 = 0.03;
/// A silence of this length lets the hand go, as in the fit.
const REST_S: f64 = 0.2;

fn steps(riff: &Riff, line: &[LineNote], notes: &[FittedNote]) -> Vec<Step> {
    let tempo = riff.tempo();
    let swing = SwingClock::written(riff);
    let seconds = |at: riffkin_score::time::Quarters| tempo.seconds_at(swing.at(at.to_f64()));
    notes
        .windows(2)
        .filter_map(|pair| {
            let (from, to) = (pair[0], pair[1]);
            let (a, b) = (line.get(from.line)?, line.get(to.line)?);
            let onset = seconds(b.onset);
            let silence = onset - seconds(a.onset + a.length);
            Some(Step {
                from,
                to,
                seconds: (onset - seconds(a.onset)).max(SHORTEST_S),
                eased: silence >= REST_S || matches!(to.touch, Touch::Open | Touch::Dead),
            })
        })
        .collect()
}

/// From this time on from note to note no shift is hurried, however far: there is time to look and to go. By hand.
const UNHURRIED_S: f64 = 1.0;
/// What is left of a shift's speed when the hand is free on the way, as in the cost of a fit, or not hurried.
const EASED: f64 = 0.2;

fn shifts(steps: &[Step], neck: &Neck) -> Reason {
    let mm = |s: &Step| neck.span_mm(s.from.position, s.to.position);
    let unhurried = |s: &Step| s.seconds >= UNHURRIED_S;
    let speed = |s: &Step| mm(s) / s.seconds * if s.eased || unhurried(s) { EASED } else { 1.0 };
    let moved = || steps.iter().filter(|s| s.from.position != s.to.position);
    let fastest = moved().fold(None, |best: Option<&Step>, s| match best {
        Some(b) if speed(b) >= speed(s) => Some(b),
        _ => Some(s),
    });
    let amount = fastest.map_or(0.0, speed);
    let words = match fastest {
        None => "the hand stays in one position".to_owned(),
        Some(s) => {
            let count = match moved().count() {
                1 => "one shift".to_owned(),
                n => format!("{n} shifts, the fastest"),
            };
            let free = match (s.eased, unhurried(s)) {
                (true, _) => ", the hand free on the way",
                (false, true) => ", with time to spare",
                (false, false) => "",
            };
            let (from, to) = (s.from.position, s.to.position);
            format!(
                "{count} from fret {from} to {to} ({:.0} mm) in {:.2} s at {}{free}",
                mm(s),
                s.seconds,
                s.to.at
            )
        }
    };
    let level = grade(amount, &SHIFTS);
    Reason { demand: Demand::Shifts, level, amount, at: fastest.map(|s| s.to.at), words }
}

fn skips(steps: &[Step]) -> Reason {
    let skipped = || {
        steps.iter().filter(|s| {
            s.from.touch != Touch::Dead
                && s.to.touch != Touch::Dead
                && s.from.place.string.abs_diff(s.to.place.string) > 1
        })
    };
    let fastest = skipped().min_by(|a, b| a.seconds.total_cmp(&b.seconds));
    let amount = fastest.map_or(0.0, |s| 1.0 / s.seconds);
    let words = match (fastest, skipped().count()) {
        (None, _) => "no string is skipped".to_owned(),
        (Some(s), 1) => format!("a string is skipped once, in {:.2} s, at {}", s.seconds, s.to.at),
        (Some(s), 2) => {
            format!("strings are skipped twice, the faster time in {:.2} s at {}", s.seconds, s.to.at)
        }
        (Some(s), n) => {
            format!("strings are skipped {n} times, the fastest in {:.2} s at {}", s.seconds, s.to.at)
        }
    };
    // Once is a spot to practise, not a habit to have.
    let once = skipped().count() == 1;
    let level = grade(amount, &SKIPS) - u8::from(once && amount > SKIPS[1]);
    Reason { demand: Demand::StringSkips, level, amount, at: fastest.map(|s| s.to.at), words }
}

/// How hard each technique is to learn, 1 to 5.
fn technique_level(technique: Technique) -> u8 {
    match technique {
        Technique::Mark(Mark::Accent | Mark::LetRing) => 1,
        Technique::Hammer | Technique::Pull | Technique::Slide => 2,
        Technique::Mark(Mark::Staccato | Mark::PalmMute | Mark::Dead | Mark::Ghost | Mark::Vibrato) => 2,
        Technique::Bend | Technique::Mark(Mark::Harmonic) => 3,
        Technique::Mark(Mark::Slap | Mark::Pop) => 4,
    }
}

/// As many different techniques make the whole one level harder.
const MANY_TECHNIQUES: usize = 4;

fn technique(line: &[LineNote]) -> Reason {
    let used = techniques(line);
    let hardest = used.iter().map(|(t, _)| technique_level(*t)).max().unwrap_or(1);
    let many = used.iter().filter(|(t, _)| technique_level(*t) > 1).count() >= MANY_TECHNIQUES;
    let names: Vec<String> = used.iter().map(|(t, n)| t.counted(*n)).collect();
    let words = match names.len() {
        0 => "plain plucking".to_owned(),
        _ => format!("techniques: {}", names.join(", ")),
    };
    Reason {
        demand: Demand::Techniques,
        level: (hardest + u8::from(many)).min(HARDEST),
        amount: used.len() as f64,
        at: None,
        words,
    }
}

fn syncopation(rhythm: &RhythmShape) -> Reason {
    let amount = rhythm.syncopated_share();
    let count = rhythm.syncopations.len();
    let words = match count {
        0 => "nothing is syncopated".to_owned(),
        1 => format!("1 of {} notes is syncopated", rhythm.notes),
        _ => format!("{count} of {} notes are syncopated", rhythm.notes),
    };
    let at = rhythm.syncopations.first().map(|s| s.0);
    Reason { demand: Demand::Syncopation, level: grade(amount, &SYNCOPATIONS), amount, at, words }
}

fn values(riff: &Riff, rhythm: &RhythmShape) -> Reason {
    let hardest = rhythm.values.iter().map(|&v| value_level(v)).max().unwrap_or(1);
    let threes = rhythm.values.iter().any(|v| v.tuplet().is_some());
    let sixteenths =
        rhythm.values.iter().any(|v| v.tuplet().is_none() && v.length() < Shape::Eighth.length());
    let mixed = threes && sixteenths;
    let mut meters: Vec<Meter> = riff.bars().iter().map(|b| b.meter).collect();
    meters.dedup();
    let meter = meters.iter().map(|&m| meter_level(m)).max().unwrap_or(1);
    let changes = if meters.len() > 1 { 3 } else { 1 };
    let names: Vec<String> = rhythm.values.iter().map(|&v| plural(v)).collect();
    let mut words = match names.len() {
        0 => "no notes".to_owned(),
        _ => format!("note values: {}", names.join(", ")),
    };
    if meter > 1 {
        words.push_str(&format!(
            " in {}",
            meters.iter().map(Meter::to_string).collect::<Vec<_>>().join(" and ")
        ));
    } else if meters.len() > 1 {
        words.push_str(" in changing meters");
    }
    Reason {
        demand: Demand::RhythmValues,
        level: hardest.max(if mixed { 4 } else { 1 }).max(meter).max(changes),
        amount: rhythm.values.len() as f64,
        at: None,
        words,
    }
}

/// How hard a value is to read and count, 1 to 5.
fn value_level(value: NoteValue) -> u8 {
    let shape = value.shape();
    match (value.tuplet(), value.dots()) {
        (Some(Tuplet::TRIPLET), 0 | 1) if shape == Shape::Eighth => 3,
        (Some(Tuplet::TRIPLET), _) => 4,
        (Some(_), _) => 5,
        (None, 2..) => 4,
        (None, dots) => match shape {
            Shape::Breve | Shape::Whole | Shape::Half => 1,
            Shape::Quarter => 1 + dots,
            Shape::Eighth => 1 + 2 * dots,
            Shape::Sixteenth => 3,
            Shape::ThirtySecond | Shape::SixtyFourth | Shape::HundredTwentyEighth => 5,
        },
    }
}

/// How hard a meter is to count, 1 to 3: simple, compound, with uneven groups or in fives and sevens.
fn meter_level(meter: Meter) -> u8 {
    let even = meter.group_sizes().windows(2).all(|w| w[0] == w[1]);
    match meter.counted_beats() {
        2..=4 if even && !meter.is_compound() && meter.unit() >= 4 => 1,
        _ if even && (meter.is_compound() || meter.counted_beats() <= 4) => 2,
        _ => 3,
    }
}
