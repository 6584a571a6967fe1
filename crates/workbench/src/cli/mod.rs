//! The command line: words in, results to standard output or a file, notices to standard error.
//!
//! Exit status 0: done. 1: could not, with what, where and what to do. 2: the words of the command are off.

mod args;
mod explain;
mod fit;
mod hand;
mod hear;
mod json;
mod kin;
mod neck;
mod read;
mod shelf;
mod text;
mod transpose;
mod write;

use std::io::{self, Write};
use std::path::Path;
use std::process::ExitCode;

use clap::Parser;
use riffkin_audio::render::Performance;
use riffkin_engrave::sheet::Paper;
use riffkin_fretboard::fit as fitting;
use riffkin_fretboard::neck::Neck;
use riffkin_lesson::ladder;
use riffkin_score::Warning;
use riffkin_score::analysis::explain::explain;
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::pitch::PitchName;

use crate::app::{demo, intake, lesson, necks, output};
use args::{Command, Words};

/// What went wrong, in words for the person who asked.
pub(crate) enum Failure {
    /// The words of the command are off: exit status 2.
    Words(String),
    /// It could not be done: exit status 1.
    Could(String),
}

/// Any error's own words.
impl<E: std::error::Error> From<E> for Failure {
    fn from(error: E) -> Self {
        Self::Could(error.to_string())
    }
}

/// Reads the words of the command and does what they say.
pub fn run() -> ExitCode {
    let words = Words::parse();
    let done = output::clean_up_when_interrupted().map_err(Failure::from).and_then(|()| obey(words.command));
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(Failure::Could(message)) => {
            notice(&message);
            ExitCode::from(1)
        }
        Err(Failure::Words(message)) => {
            notice(&message);
            ExitCode::from(2)
        }
    }
}

fn obey(command: Command) -> Result<(), Failure> {
    match command {
        Command::Demo(words) => build_demo(&words),
        Command::Hear(words) => hear::hear(&words),
        Command::Explain(words) => explain::run(&words),
        Command::Transpose(words) => transpose::run(&words),
        Command::Fit(words) => fit::fit_riff(&words),
        Command::Neck(words) => neck::run(&words),
        Command::Ladder(words) => order_riffs(&words),
        Command::Kin(words) => kin::kin(&words),
        Command::Sound(words) => sound_riff(&words),
        Command::Lesson(words) => build_lesson(&words),
        Command::Copy(words) => copy_riff(&words),
        Command::Shelf(words) => shelf::shelf(&words),
    }
}

/// A line to standard error.
fn notice(line: &str) {
    // A closed standard error has nobody to tell.
    let _ = writeln!(io::stderr(), "riffkin: {line}");
}

fn warn(warnings: &[Warning]) {
    for warning in warnings {
        notice(&format!("note: {warning}"));
    }
}

/// Text to standard output; a reader that went away (`| head`) is no error.
fn say(text: &str) -> Result<(), Failure> {
    let mut out = io::stdout().lock();
    match out.write_all(text.as_bytes()).and_then(|()| out.flush()) {
        Err(e) if e.kind() != io::ErrorKind::BrokenPipe => Err(e.into()),
        _ => Ok(()),
    }
}

/// True for a file whose ending asks for a report and not for a riff.
fn is_report(out: &Path) -> bool {
    out.extension().is_some_and(|e| e.eq_ignore_ascii_case("json") || e.eq_ignore_ascii_case("txt"))
}

/// A report as text or JSON: to standard output, or to a file whose ending decides.
fn deliver(
    out: Option<&Path>,
    as_json: bool,
    json: impl Fn() -> String,
    text: impl Fn() -> String,
) -> Result<(), Failure> {
    let Some(out) = out else { return say(&if as_json { json() } else { text() }) };
    if !is_report(out) {
        return Err(Failure::Words(format!("{}: a report is written as .txt or .json", out.display())));
    }
    let ends_in_json = out.extension().is_some_and(|e| e.eq_ignore_ascii_case("json"));
    output::write_whole(out, if ends_in_json { json() } else { text() }.as_bytes())?;
    if as_json { say(&json()) } else { Ok(()) }
}

fn degrees(text: &str) -> Result<DegreeSet, Failure> {
    text.split([' ', ','])
        .filter(|d| !d.is_empty())
        .map(|d| d.parse::<Degree>().map_err(|e| Failure::Words(e.to_string())))
        .collect()
}

fn tonic(text: &str) -> Result<PitchName, Failure> {
    text.parse().map_err(|e: riffkin_score::pitch::NotAPitch| Failure::Words(e.to_string()))
}

/// A neck by a usual name, written out, or by its name on the shelf.
fn neck(text: &str) -> Result<Neck, Failure> {
    neck_on(text, None)
}

/// [`neck()`], the own ones on the shelf of that place.
fn neck_on(text: &str, shelf: Option<&Path>) -> Result<Neck, Failure> {
    let mut own = Vec::new();
    if necks::may_be_own(text)
        && let Some(kept) = shelf::there(shelf)?
    {
        let (necks, off) = necks::own(&kept)?;
        warn(&off);
        own = necks;
    }
    necks::named(text, &own).map_err(|e| Failure::Words(e.to_string()))
}

fn order_riffs(words: &args::Ladder) -> Result<(), Failure> {
    let known = degrees(&words.known)?;
    let taken = read::folder(&words.folder)?;
    let explained: Vec<_> = taken.iter().map(|t| explain(&t.riff, None)).collect();
    let materials: Vec<DegreeSet> = explained.iter().map(|e| e.set()).collect();
    let ladder = ladder::ladder(&materials, known);
    let rows: Vec<text::Row> = ladder
        .rungs
        .iter()
        .map(|rung| text::Row {
            title: taken[rung.riff].riff.header().title.clone(),
            degrees: explained[rung.riff].degrees.clone(),
            new: rung.new,
        })
        .collect();
    let as_json = || json::text(&json::ladder(&taken, &explained, &ladder));
    deliver(words.out.as_deref(), words.json, as_json, || text::ladder(&rows))
}

fn sound_riff(words: &args::Sound) -> Result<(), Failure> {
    if !(40.0..=110.0).contains(&words.percent) {
        return Err(Failure::Words(format!("--percent {} lies outside 40 to 110", words.percent)));
    }
    if words.count_in > 4 {
        return Err(Failure::Words(format!("--count-in {} lies outside 0 to 4", words.count_in)));
    }
    if !words.out.extension().is_some_and(|e| e.eq_ignore_ascii_case("wav")) {
        return Err(Failure::Words(format!("{}: sound is written as .wav", words.out.display())));
    }
    let taken = read::take(&words.file, &words.reading)?;
    let how = Performance {
        tempo: words.percent / 100.0,
        count_in_bars: u32::from(words.count_in),
        ..Performance::default()
    };
    let clip = lesson::sound(&lesson::player()?, &taken.riff, &how)?;
    write::wav(&clip, &words.out)?;
    if words.json {
        return say(&json::text(&json::sound(&words.out, &clip)));
    }
    Ok(())
}

fn build_lesson(words: &args::Lesson) -> Result<(), Failure> {
    let title = words.title.clone().unwrap_or_else(|| {
        let folder = words.folder.canonicalize().unwrap_or_else(|_| words.folder.clone());
        folder.file_name().map_or_else(|| "Lesson".to_owned(), |n| n.to_string_lossy().into_owned())
    });
    let order = lesson::Order {
        look: lesson::Look {
            title,
            neck: neck(&words.neck)?,
            hand: hand::of_the_shelf()?,
            paper: match words.paper {
                args::Paper::A4 => Paper::A4,
                args::Paper::Letter => Paper::Letter,
            },
        },
        tonic: words.key.as_deref().map(tonic).transpose()?,
        known: degrees(&words.known)?,
    };
    let taken = read::folder(&words.folder)?;
    lay_out(&taken, &order, &words.out, words.json)
}

fn build_demo(words: &args::Demo) -> Result<(), Failure> {
    let class = words.out.join("class");
    demo::unpack(&class)?;
    let taken = read::folder(&class)?;
    lay_out(&taken, &demo::order()?, &words.out, false)
}

fn lay_out(taken: &[intake::Taken], order: &lesson::Order, out: &Path, as_json: bool) -> Result<(), Failure> {
    let riffs: Vec<_> = taken.iter().map(|t| t.riff.clone()).collect();
    let built = lesson::build(&riffs, order, out, &|step| notice(&format!("{step} …")))?;
    for (source, why) in &built.plan.left_out {
        notice(&format!("left out: {}: {why}", taken[*source].path.display()));
    }
    for member in &built.plan.members {
        for warning in member.guesses.iter().chain(&member.changes) {
            notice(&format!("note: {}: {warning}", member.riff.header().title));
        }
    }
    let wide = built.plan.members.iter().filter(|m| !m.fit.cautions.is_empty()).count();
    if wide > 0 {
        notice(&format!(
            "note: {wide} of the riffs stretch a hand on the low frets; `riffkin fit` says where"
        ));
    }
    if as_json {
        return say(&json::text(&json::built(&built)));
    }
    let rows: Vec<text::Row> = built
        .plan
        .members
        .iter()
        .map(|m| text::Row {
            title: m.riff.header().title.clone(),
            degrees: m.explanation.degrees.clone(),
            new: m.new,
        })
        .collect();
    say(&format!("{}\n{}", text::ladder(&rows), text::files(out, &built.files)))
}

fn copy_riff(words: &args::Copy) -> Result<(), Failure> {
    let taken = read::take(&words.file, &words.reading)?;
    let neck = words.neck.as_deref().map(neck).transpose()?;
    let (riff, fit) = match &neck {
        Some(neck) => {
            let laid = neck::offers::lay(&taken.riff, neck, None)?;
            warn(&laid.adapted);
            let fit = fitting::fit(&laid.riff, neck, &hand::of_the_shelf()?)?;
            warn(&fit.warnings);
            (fitting::written_into(&laid.riff, &fit.notes)?, Some(fit))
        }
        None => (taken.riff, None),
    };
    if let Some(out) = &words.out {
        write::riff(&riff, out, neck.as_ref().zip(fit.as_ref().map(|f| f.notes.as_slice())))?;
    }
    if words.json {
        return say(&json::text(&json::explanation(&riff, &explain(&riff, None))));
    }
    if words.out.is_none() { say(&riffkin_formats::riff_text::print(&riff)) } else { Ok(()) }
}
