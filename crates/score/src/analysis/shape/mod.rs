//! The shape of a line: what is left of it in any key.
//!
//! Intervals, contour, rhythm, range and techniques, each on its own. Where the notes lie under the hand is not
//! known here: that is the hand shape of a fit.

mod contour;
mod rhythm;
mod technique;
mod weights;

pub use contour::{Contour, Motion, Outline};
pub use rhythm::{BarPattern, RUN, RhythmShape, rhythm, syncopation};
pub use technique::{Technique, techniques};
pub use weights::depth;

use crate::analysis::verdict::listed;
use crate::interval::Interval;
use crate::pitch::Pitch;
use crate::riff::{BarBeat, LineNote, Riff};
use crate::value::NoteValue;

/// Semitones from which an interval is a leap: a third (common practice, no source).
pub const LEAP: i32 = 3;

/// What a line looks like, whatever its key.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct LineShape {
    /// From each sounding note to the next; dead notes have no pitch and are passed over.
    pub intervals: Vec<Interval>,
    /// Up, down and the same.
    pub contour: Contour,
    /// The lowest and the highest sounding note.
    pub range: Option<(Pitch, Pitch)>,
    /// The widest interval, the first of equals, with where it arrives; `None` where nothing moves.
    pub longest_leap: Option<(Interval, BarBeat)>,
    /// When the notes come.
    pub rhythm: RhythmShape,
    /// Techniques used and how often, in the order of [`Technique`].
    pub techniques: Vec<(Technique, usize)>,
}

impl LineShape {
    /// Semitones from each sounding note to the next: what tells a transposed line from another.
    pub fn semitones(&self) -> Vec<i32> {
        self.intervals.iter().map(|i| i.semitones()).collect()
    }

    /// How many intervals are leaps, of a third or more.
    pub fn leaps(&self) -> usize {
        self.intervals.iter().filter(|i| i.semitones().abs() >= LEAP).count()
    }

    /// How many intervals are steps, of one or two semitones.
    pub fn steps(&self) -> usize {
        self.intervals.iter().filter(|i| (1..LEAP).contains(&i.semitones().abs())).count()
    }

    /// A sentence each for melody, rhythm and techniques.
    pub fn words(&self) -> Vec<String> {
        let mut words = Vec::new();
        if let Some((low, high)) = self.range {
            words.push(self.melody_words(low, high));
        }
        if self.rhythm.notes > 0 {
            words.push(self.rhythm_words());
            words.push(self.syncopation_words());
        }
        if !self.techniques.is_empty() {
            let used: Vec<String> = self.techniques.iter().map(|(t, n)| t.counted(*n)).collect();
            words.push(format!("techniques: {}", listed(&used, "and")));
        }
        words
    }

    fn melody_words(&self, low: Pitch, high: Pitch) -> String {
        let way = low.interval_to(high);
        if self.intervals.is_empty() || way == Interval::UNISON {
            return format!("the line stays on {}", low.print());
        }
        let width = way.words();
        let width = width.strip_suffix(" up").unwrap_or(&width);
        let leap = match self.longest_leap {
            Some((leap, at)) if leap.semitones().abs() >= LEAP => {
                format!("; its longest leap is {}, to {at}", with_article(&leap.words()))
            }
            _ => String::new(),
        };
        format!(
            "the line {} between {} and {}, {}: {}, {} and {}{leap}",
            self.contour.words(),
            low.print(),
            high.print(),
            with_article(width),
            count(self.steps(), "step"),
            count(self.leaps(), "leap"),
            count(self.intervals.len() - self.steps() - self.leaps(), "repeat"),
        )
    }

    fn rhythm_words(&self) -> String {
        let values: Vec<String> = self.rhythm.values.iter().map(|&v| plural(v)).collect();
        format!(
            "{} in {}; {} to a beat, {} a second",
            count(self.rhythm.notes, "note"),
            listed(&values, "and"),
            decimal(self.rhythm.notes_per_beat),
            decimal(self.rhythm.notes_per_second),
        )
    }

    fn syncopation_words(&self) -> String {
        let rhythm = &self.rhythm;
        let off = match rhythm.off_beat {
            0 => "every note begins on a beat".to_owned(),
            n => format!("{n} of {} begin off the beat", rhythm.notes),
        };
        match rhythm.syncopations.as_slice() {
            [] => format!("{off}; nothing is syncopated"),
            [(at, _)] => format!("{off}; one is syncopated (held or left over a stronger place), at {at}"),
            [(at, _), ..] => format!(
                "{off}; {} are syncopated (held or left over a stronger place), the first at {at}",
                rhythm.syncopations.len()
            ),
        }
    }
}

/// `a third`, `an augmented fourth`.
fn with_article(interval: &str) -> String {
    format!("{} {interval}", if interval.starts_with('a') { "an" } else { "a" })
}

fn count(n: usize, one: &str) -> String {
    match n {
        0 => format!("no {one}"),
        1 => format!("1 {one}"),
        n => format!("{n} {one}s"),
    }
}

/// `dotted quarters`, `halves`.
pub fn plural(value: NoteValue) -> String {
    let word = value.words();
    match word.strip_suffix("half") {
        Some(before) => format!("{before}halves"),
        None => format!("{word}s"),
    }
}

/// One decimal, none when it is zero.
fn decimal(number: f64) -> String {
    let text = format!("{number:.1}");
    text.strip_suffix(".0").map(str::to_owned).unwrap_or(text)
}

/// The shape of the written line, repeats not written out.
pub fn shape(riff: &Riff) -> LineShape {
    let line = riff.line();
    let sounding: Vec<&LineNote> = line.iter().filter(|n| !n.is_dead()).collect();
    let pitches = || sounding.iter().map(|n| n.note.pitch);
    let lowest = pitches().min_by_key(|p| p.midi());
    let highest = pitches().rev().max_by_key(|p| p.midi());
    let intervals: Vec<Interval> =
        sounding.windows(2).map(|w| w[0].note.pitch.interval_to(w[1].note.pitch)).collect();
    let widest = intervals.iter().map(|i| i.semitones().abs()).max().filter(|&n| n > 0);
    let longest_leap = widest.and_then(|widest| {
        let i = intervals.iter().position(|i| i.semitones().abs() == widest)?;
        Some((intervals[i], riff.place_of(sounding.get(i + 1)?.onset)))
    });
    let semitones: Vec<i32> = intervals.iter().map(|i| i.semitones()).collect();
    LineShape {
        contour: Contour::of(&semitones),
        range: lowest.zip(highest),
        longest_leap,
        rhythm: rhythm(riff),
        techniques: techniques(&line),
        intervals,
    }
}
