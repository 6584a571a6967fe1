//! `explain`: what a riff is made of, in a teacher's order.

pub(super) mod args;
mod json;
mod picture;
mod text;

use riffkin_fretboard::adapt;
use riffkin_fretboard::difficulty::{Difficulty, difficulty};
use riffkin_fretboard::fit::{self, Fit};
use riffkin_fretboard::hand_shape::HandShape;
use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::analysis::compare::{Comparison, compare};
use riffkin_score::analysis::explain::{Explanation, NoteReading, explain};
use riffkin_score::analysis::harmony::{
    ChordsReading, ChordsThatFit, Most, OpenStep, ScaleFit, chords_that_fit, open_steps, read_chords,
    scales_that_fit, standing,
};
use riffkin_score::analysis::shape::{LineShape, shape};
use riffkin_score::analysis::two_names::{TwoNames, two_names};
use riffkin_score::degree::Degree;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Riff;

use super::{Failure, deliver, is_report, notice, read, warn};
use crate::app::output;
use args::{Against, Explain};

/// Notes up to which a riff is laid on the neck for its hand shape and difficulty.
const LONGEST: usize = 5_000;

/// Everything that is told about a riff.
struct Told<'a> {
    riff: &'a Riff,
    found: &'a Explanation,
    against: Against,
    all: bool,
    neck: Neck,
    hand: Option<OnNeck>,
    shape: LineShape,
    scales: Vec<ScaleFit>,
    open_steps: Vec<OpenStep>,
    fitting: ChordsThatFit,
    under_chords: ChordsReading,
    two_names: Vec<TwoNames>,
    comparison: Option<Comparison>,
}

/// A riff under the hand.
struct OnNeck {
    /// What was changed first, so that it lies on the neck.
    adapted: Vec<Warning>,
    fit: Fit,
    shape: HandShape,
    difficulty: Difficulty,
}

impl Told<'_> {
    /// The degree of a note after the convention that was chosen.
    fn said(&self, note: &NoteReading) -> Option<Degree> {
        match self.against {
            Against::Key => note.degree,
            Against::Chord => note.over.map(|(_, degree)| degree),
        }
    }

    /// What the riff says between two scales; `None` when nothing sounds.
    fn of_riff(&self, comparison: &Comparison) -> Option<String> {
        let (tonic, _) = self.found.tonic?;
        let up = (comparison.first.tonic.pitch_class() + 12 - tonic.pitch_class()) % 12;
        Some(comparison.of_riff(self.found.set().seen_from(up)))
    }

    /// The convention in words.
    fn convention(&self) -> String {
        match (self.against, self.found.tonic) {
            (Against::Key, Some((tonic, _))) => format!("counted from {}, the 1 of the key", tonic.print()),
            (Against::Key, None) => "counted from nothing: no note sounds".to_owned(),
            (Against::Chord, _) => "counted from the root of the chord over each note".to_owned(),
        }
    }
}

/// Explains a riff in words or JSON; with two scales, draws their difference.
pub(super) fn run(words: &Explain) -> Result<(), Failure> {
    let asked = words.tonic.as_deref().map(super::tonic).transpose()?;
    let draws = words.out.as_deref().filter(|out| !is_report(out));
    if let Some(out) = draws {
        let svg = out.extension().is_some_and(|e| e.eq_ignore_ascii_case("svg"));
        if !svg {
            return Err(Failure::Words(format!(
                "{}: a report is written as .txt or .json, a picture as .svg",
                out.display()
            )));
        }
        if words.compare.is_empty() {
            return Err(Failure::Words(format!(
                "{}: the picture shows two scales; name them with --compare, such as --compare Dorian minor",
                out.display()
            )));
        }
    }
    let taken = read::take(&words.file, &words.reading)?;
    let riff = &taken.riff;
    let found = explain(riff, asked);
    let under_chords = read_chords(riff, &found);
    if words.against == Against::Chord && under_chords.chords.is_empty() {
        return Err(Failure::Could(format!(
            "{}: no chord is written in it, so there is no chord to count from; write chords into it, or use \
             --against key",
            words.file.display()
        )));
    }
    let neck = neck_of(words.neck.as_deref(), riff)?;
    let chords = standing(riff);
    let told = Told {
        riff,
        found: &found,
        against: words.against,
        all: words.all,
        hand: under_the_hand(riff, &neck)?,
        neck,
        shape: shape(riff),
        scales: scales_that_fit(&found, &chords),
        open_steps: open_steps(&found, &chords),
        fitting: chords_that_fit(riff, &found, Most::default()),
        under_chords,
        two_names: two_names(&found),
        comparison: compared(&words.compare, found.tonic.map(|t| t.0))?,
    };
    let as_json = || super::json::text(&json::told(&told));
    if let Some(out) = draws {
        if let Some(comparison) = &told.comparison {
            output::write_whole(out, picture::drawn(comparison, &told).as_bytes())?;
        }
        return if words.json { super::say(&as_json()) } else { Ok(()) };
    }
    deliver(words.out.as_deref(), words.json, as_json, || text::told(&told))
}

/// The neck that was asked for, else the riff's own, else four strings.
fn neck_of(asked: Option<&str>, riff: &Riff) -> Result<Neck, Failure> {
    if let Some(name) = asked {
        return super::neck(name);
    }
    match riff.header().neck.as_deref().map(super::neck) {
        Some(Ok(neck)) => Ok(neck),
        Some(Err(Failure::Words(why) | Failure::Could(why))) => {
            warn(&[Warning::whole(format!("{why}; the neck called four is taken"))]);
            super::neck("four")
        }
        None => super::neck("four"),
    }
}

/// The riff on the neck, adapted where it must be; nothing, with a notice, when it does not lie there.
fn under_the_hand(riff: &Riff, neck: &Neck) -> Result<Option<OnNeck>, Failure> {
    let notes = riff.line().len();
    if notes > LONGEST {
        notice(&format!("note: {notes} notes are too many for a hand shape; it stops at {LONGEST}"));
        return Ok(None);
    }
    let hand = super::hand::of_the_shelf()?;
    let (riff, adapted) = adapt::adapted(riff, neck);
    Ok(match fit::fit(&riff, neck, &hand) {
        Ok(fit) => Some(OnNeck {
            shape: HandShape::of(&fit),
            difficulty: difficulty(&riff, &fit, neck, &hand),
            adapted,
            fit,
        }),
        Err(e) => {
            notice(&format!("note: no hand shape and no difficulty: {e}"));
            None
        }
    })
}

/// Two scales from the words of the command: `G Dorian`, or a mode alone on the riff's tonic.
fn compared(words: &[String], tonic: Option<PitchName>) -> Result<Option<Comparison>, Failure> {
    let [first, second] = words else { return Ok(None) };
    let key = |text: &String| -> Result<Key, Failure> {
        if let Ok(mode) = text.parse::<Mode>() {
            let tonic = tonic.ok_or_else(|| {
                Failure::Could(format!("nothing sounds, so '{text}' has no root; name one, such as G {text}"))
            })?;
            return Ok(Key::new(tonic, mode));
        }
        text.parse().map_err(|e: riffkin_score::key::NotAKey| Failure::Words(e.to_string()))
    };
    compare(key(first)?, key(second)?).map(Some).map_err(|e| Failure::Words(e.to_string()))
}
