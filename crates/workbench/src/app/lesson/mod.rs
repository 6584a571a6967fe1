//! A folder of riffs becomes a lesson: sheet, answers, page, sound and scores.

mod page;
mod sheet;
mod words;

use std::fs;
use std::path::{Path, PathBuf};
use std::thread;

use riffkin_audio::render::{self, Performance, Player};
use riffkin_audio::{Clip, SampleRate, Seconds};
use riffkin_engrave::diagram::{NeckDiagram, NeckMark, Rung, Strip};
use riffkin_engrave::sheet::Paper;
use riffkin_formats::{audio_file, midi, musicxml, riff_text};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_lesson::homework;
use riffkin_lesson::plan::{self, Member, Plan, Wish};
use riffkin_score::degree::{Degree, DegreeSet};
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Riff;
use serde::Serialize;

use super::output::{self, WriteError};

/// How the lesson is to look.
#[derive(Clone, Debug)]
pub struct Look {
    /// Its title.
    pub title: String,
    /// The neck of the class.
    pub neck: Neck,
    /// The hand that is fitted for.
    pub hand: Hand,
    /// The paper of the sheet.
    pub paper: Paper,
}

/// What the teacher asks for.
#[derive(Clone, Debug)]
pub struct Order {
    /// Title, neck and paper.
    pub look: Look,
    /// The key of all riffs, or the one most are in.
    pub tonic: Option<PitchName>,
    /// What the class knows already.
    pub known: DegreeSet,
}

/// A lesson that could not be built.
#[derive(Debug, thiserror::Error)]
pub enum LessonError {
    /// No riff can be used.
    #[error("none of the riffs can be used: {0}")]
    Nothing(String),
    /// The page's sound.
    #[error(transparent)]
    Page(#[from] page::PageError),
    /// The sheet.
    #[error("the sheet could not be made: {0}")]
    Sheet(#[from] riffkin_engrave::pdf::PdfError),
    /// Writing.
    #[error(transparent)]
    Write(#[from] WriteError),
    /// Sound.
    #[error("the sound of {title} could not be made: {message}")]
    Sound {
        /// The riff.
        title: String,
        /// Why.
        message: String,
    },
}

/// What was built and where.
#[derive(Debug)]
pub struct Built {
    /// The lesson.
    pub plan: Plan,
    /// The files, in the order of their use.
    pub files: Vec<PathBuf>,
}

/// Builds the lesson into a folder. Every file is written whole or not at all; `progress` hears what is done.
///
/// # Errors
/// [`LessonError`].
pub fn build(
    riffs: &[Riff],
    order: &Order,
    out: &Path,
    progress: &dyn Fn(&str),
) -> Result<Built, LessonError> {
    let Look { neck, hand, .. } = &order.look;
    let wish = Wish { tonic: order.tonic, neck, hand, known: order.known };
    progress("explaining, moving, fitting, ordering");
    let plan = plan::plan(riffs, &wish);
    if plan.members.is_empty() {
        let why = plan.left_out.first().map_or("there are none", |(_, why)| why.as_str());
        return Err(LessonError::Nothing(why.to_owned()));
    }
    let player = player()?;
    let mut files = Vec::new();
    let mut write = |path: PathBuf, bytes: &[u8]| -> Result<(), LessonError> {
        output::write_whole(&path, bytes)?;
        files.push(path);
        Ok(())
    };
    output::make_folder(out)?;
    progress("engraving the sheet");
    let homework = homework::pieces(&plan, &order.look.neck);
    write(out.join("sheet.pdf"), &sheet::students(&plan, &homework, &order.look)?)?;
    write(out.join("answers.pdf"), &sheet::answers(&plan, &homework, &order.look)?)?;
    progress("laying out the page");
    write(out.join("page.html"), page::page(&plan, &order.look, &player)?.as_bytes())?;
    let (sounds, scores) = (out.join("sound"), out.join("scores"));
    output::make_folder(&sounds)?;
    output::make_folder(&scores)?;
    progress("writing scores");
    for (i, member) in plan.members.iter().enumerate() {
        let name = file_name(&member.riff, i);
        write(scores.join(format!("{name}.riff")), riff_text::print(&member.riff).as_bytes())?;
        write(scores.join(format!("{name}.musicxml")), musicxml_of(member, &order.look.neck).as_bytes())?;
        write(
            scores.join(format!("{name}.mid")),
            &midi::write(&member.riff, &midi::WriteOptions::default()),
        )?;
    }
    progress("sounding");
    files.extend(write_sounds(&plan, &sounds)?);
    // The list of files comes last: it is true only when all of them are there.
    let list = out.join("ladder.json");
    let earlier = fs::read(&list).unwrap_or_default();
    let names = relative(&files, out);
    output::write_whole(&list, ladder_json(&plan, &order.look, &names).as_bytes())?;
    remove_stale(out, &earlier, &names)?;
    files.push(list);
    Ok(Built { plan, files })
}

/// A player of the SoundFont that comes with the program.
pub(crate) fn player() -> Result<Player, LessonError> {
    Player::new(render::soundfont())
        .map_err(|e| LessonError::Sound { title: "the lesson".to_owned(), message: e.to_string() })
}

/// The riff with a count-in as a clip.
pub(crate) fn sound(player: &Player, riff: &Riff, how: &Performance) -> Result<Clip, LessonError> {
    let fail = |e: &dyn std::fmt::Display| LessonError::Sound {
        title: riff.header().title.clone(),
        message: e.to_string(),
    };
    let performed = render::performed(riff, how);
    let rate = SampleRate::new(44_100).map_err(|e| fail(&e))?;
    let tail = Seconds::new(1.0).map_err(|e| fail(&e))?;
    player.play(&performed.notes, rate, tail).map_err(|e| fail(&e))
}

/// Every riff as a WAV file, on as many threads as the machine has cores.
fn write_sounds(plan: &Plan, folder: &Path) -> Result<Vec<PathBuf>, LessonError> {
    let workers = thread::available_parallelism().map_or(1, usize::from).min(plan.members.len()).max(1);
    let one = |i: usize, member: &Member, player: &Player| -> Result<PathBuf, LessonError> {
        let clip = sound(player, &member.riff, &Performance::default())?;
        let wav = audio_file::wav(&clip).map_err(|e| LessonError::Sound {
            title: member.riff.header().title.clone(),
            message: e.to_string(),
        })?;
        let path = folder.join(format!("{}.wav", file_name(&member.riff, i)));
        output::write_whole(&path, &wav)?;
        Ok(path)
    };
    let shares: Vec<Result<Vec<(usize, PathBuf)>, LessonError>> = thread::scope(|scope| {
        let handles: Vec<_> = (0..workers)
            .map(|w| {
                scope.spawn(move || {
                    let player = player()?;
                    plan.members
                        .iter()
                        .enumerate()
                        .skip(w)
                        .step_by(workers)
                        .map(|(i, member)| Ok((i, one(i, member, &player)?)))
                        .collect()
                })
            })
            .collect();
        handles
            .into_iter()
            .map(|h| {
                h.join().unwrap_or_else(|_| {
                    Err(LessonError::Sound {
                        title: "the lesson".to_owned(),
                        message: "a worker broke off".to_owned(),
                    })
                })
            })
            .collect()
    });
    let mut paths = Vec::new();
    for share in shares {
        paths.extend(share?);
    }
    paths.sort();
    Ok(paths.into_iter().map(|(_, path)| path).collect())
}

fn musicxml_of(member: &Member, neck: &Neck) -> String {
    let places: Vec<_> = member.fit.notes.iter().map(|n| Some((n.place, n.finger))).collect();
    musicxml::write(&member.riff, &musicxml::WriteOptions { neck: Some(neck), places: Some(&places) })
}

/// The files as a lesson's list names them: from its folder, with `/` between.
fn relative(files: &[PathBuf], out: &Path) -> Vec<String> {
    files
        .iter()
        .map(|file| {
            let inside = file.strip_prefix(out).unwrap_or(file);
            inside.components().map(|c| c.as_os_str().to_string_lossy()).collect::<Vec<_>>().join("/")
        })
        .collect()
}

/// Removes sounds and scores that an earlier build of this folder listed and this one did not write again. Nothing
/// that is not on that list is touched.
fn remove_stale(out: &Path, earlier: &[u8], now: &[String]) -> Result<(), WriteError> {
    #[derive(serde::Deserialize)]
    struct Listed {
        files: Vec<String>,
    }
    let Ok(listed) = serde_json::from_slice::<Listed>(earlier) else { return Ok(()) };
    for name in listed.files.iter().filter(|name| !now.contains(name)) {
        let Some((folder @ ("sound" | "scores"), file)) = name.split_once('/') else { continue };
        if !file.contains(['/', '\\']) && file != ".." {
            output::remove(&out.join(folder).join(file))?;
        }
    }
    Ok(())
}

#[derive(Serialize)]
struct LadderFile<'a> {
    version: u8,
    title: &'a str,
    tonic: String,
    cost: u32,
    rungs: Vec<RungLine>,
    files: &'a [String],
}

#[derive(Serialize)]
struct RungLine {
    riff: String,
    new: Vec<String>,
    degrees: Vec<String>,
}

fn ladder_json(plan: &Plan, look: &Look, files: &[String]) -> String {
    let names =
        |member: &Member, set: DegreeSet| set.slots().map(|s| degree_in(member, s).to_string()).collect();
    let file = LadderFile {
        version: 1,
        title: &look.title,
        tonic: plan.tonic.to_string(),
        cost: plan.ladder.cost,
        rungs: plan
            .members
            .iter()
            .enumerate()
            .map(|(i, m)| RungLine {
                riff: title(&m.riff, i),
                new: names(m, m.new),
                degrees: names(m, m.material),
            })
            .collect(),
        files,
    };
    // Strings and numbers always serialise.
    serde_json::to_string_pretty(&file).unwrap_or_default() + "\n"
}

/// The riff's name, or its number when it has none.
pub(crate) fn title(riff: &Riff, index: usize) -> String {
    let title = &riff.header().title;
    if title.is_empty() { format!("Riff {}", index + 1) } else { title.clone() }
}

/// A file name that every system takes: rung number, then the riff's name in small letters and hyphens.
fn file_name(riff: &Riff, index: usize) -> String {
    let mut name = format!("{:02}", index + 1);
    let mut gap = true;
    for c in title(riff, index).chars() {
        if c.is_alphanumeric() {
            if gap {
                name.push('-');
            }
            gap = false;
            name.extend(c.to_lowercase());
        } else {
            gap = true;
        }
        if name.len() > 60 {
            break;
        }
    }
    name
}

/// The degree of a slot as this riff spells it.
pub(crate) fn degree_in(member: &Member, slot: u8) -> Degree {
    let own = member.explanation.degrees.iter().copied().find(|d| d.slot() == slot % 12);
    own.unwrap_or_else(|| Degree::usual(slot))
}

fn strip_of(member: &Member) -> Strip {
    let names = member.material.slots().map(|slot| degree_in(member, slot));
    Strip::new(member.material).with_new(member.new).named(names)
}

fn rungs(plan: &Plan) -> Vec<Rung> {
    plan.members
        .iter()
        .enumerate()
        .map(|(i, m)| Rung { number: i + 1, title: title(&m.riff, i), strip: strip_of(m) })
        .collect()
}

/// Where the riff's notes lie on the neck, each place once; `None` when it has none.
fn neck_of<'a>(member: &Member, look: &'a Look) -> Option<NeckDiagram<'a>> {
    let mut marks: Vec<NeckMark> = Vec::new();
    for (fitted, note) in member.fit.notes.iter().zip(&member.explanation.notes) {
        let Some(degree) = note.degree else { continue };
        if marks.iter().all(|m| m.place != fitted.place) {
            marks.push(NeckMark {
                place: fitted.place,
                label: degree.print(),
                root: degree == Degree::ROOT,
                new: member.new.contains(degree.slot()),
            });
        }
    }
    (!marks.is_empty()).then_some(NeckDiagram { neck: &look.neck, marks, frets: None })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn file_names_are_plain() {
        let riff = riff_text::parse("riff: ../Net  Mender: Nº 2\n| w Bb1 |").unwrap().0;
        assert_eq!(file_name(&riff, 2), "03-net-mender-nº-2");
    }
}
