//! The lesson on paper: the students' sheet with homework, and the answers.

use riffkin_engrave::diagram;
use riffkin_engrave::music::{self, Layout, Part};
use riffkin_engrave::pdf::{About, PdfError};
use riffkin_engrave::sheet::{self, Block, Rich, SheetStyle};
use riffkin_fretboard::adapt;
use riffkin_fretboard::fit;
use riffkin_fretboard::hand::Hand;
use riffkin_lesson::plan::{Member, Plan};
use riffkin_score::interval::Interval;
use riffkin_score::key::Key;
use riffkin_score::riff::{Header, Riff};
use riffkin_score::transpose;

use super::{Look, neck_of, rungs, strip_of, title, words};

/// Most riffs in the homework.
const HOMEWORK: usize = 2;
/// Longest riff that is set as homework, in bars.
const HOMEWORK_BARS: usize = 8;
/// Letters that name the pieces of homework.
const LETTERS: [&str; HOMEWORK] = ["A", "B"];

/// The students' sheet.
pub(super) fn students(plan: &Plan, look: &Look) -> Result<Vec<u8>, PdfError> {
    let style = SheetStyle::print(look.paper);
    let mut blocks = vec![
        Block::heading(1, &look.title),
        Block::paragraph(words::opening(plan, look)),
        Block::Small(Rich::plain(words::LADDER)),
        Block::Ladder(rungs(plan)),
    ];
    for (i, member) in plan.members.iter().enumerate() {
        blocks.extend(riff(i, member, look, &style));
    }
    let homework = homework(plan, look);
    if !homework.is_empty() {
        blocks.push(Block::heading(2, "Homework"));
        blocks.push(Block::paragraph(words::HOMEWORK));
    }
    for (letter, piece) in LETTERS.iter().zip(&homework) {
        blocks.push(Block::Together(vec![
            Block::heading(3, format!("Riff {letter}")),
            engraved(&piece.hidden, look, &style, false),
            Block::WriteOn(1),
        ]));
    }
    blocks.push(Block::Rule);
    blocks.extend(words::CAUTIONS.iter().map(|c| Block::Small(Rich::plain(*c))));
    sheet::compose(&blocks, &style, &look.title).to_pdf(&About::titled(&look.title))
}

/// The answers to the homework, for the teacher.
pub(super) fn answers(plan: &Plan, look: &Look) -> Result<Vec<u8>, PdfError> {
    let style = SheetStyle::print(look.paper);
    let name = format!("{}: answers", look.title);
    let mut blocks = vec![Block::heading(1, &name)];
    let homework = homework(plan, look);
    if homework.is_empty() {
        blocks.push(Block::paragraph("No riff of this lesson suits homework, so there is none."));
    }
    for (letter, piece) in LETTERS.iter().zip(&homework) {
        let member = piece.member;
        let key = piece.open.header().key.map_or_else(String::new, |k| k.to_string());
        let material = words::degrees(member, member.material);
        blocks.push(Block::Together(vec![
            Block::heading(2, format!("Riff {letter}: {}", member.riff.header().title)),
            Block::paragraph(format!("Key: {key}. Degrees: {material}. {}", verdict(member))),
            engraved(&piece.open, look, &style, true),
        ]));
    }
    sheet::compose(&blocks, &style, &name).to_pdf(&About::titled(&name))
}

fn verdict(member: &Member) -> String {
    let capital = words::capital(&member.explanation.verdict().words());
    if capital.ends_with('.') { capital } else { capital + "." }
}

fn riff(index: usize, member: &Member, look: &Look, style: &SheetStyle) -> Vec<Block> {
    let mut figures = vec![diagram::strip(&strip_of(member), style.strip_cell())];
    figures
        .extend(neck_of(member, look).map(|n| diagram::neck(&n, style.neck_size().0, style.neck_size().1)));
    let head = vec![
        Block::heading(2, format!("{}. {}", index + 1, title(&member.riff, index))),
        Block::paragraph(words::about(member)),
        Block::Figures(figures),
    ];
    let mut after: Vec<Block> =
        words::notices(member).into_iter().map(|line| Block::Small(Rich::plain(line))).collect();
    let music = engraved(&member.riff, look, style, true);
    let mut all = head;
    all.push(music);
    all.append(&mut after);
    vec![Block::Together(all)]
}

fn engraved(riff: &Riff, look: &Look, style: &SheetStyle, degrees: bool) -> Block {
    let fit = fit::fit(riff, &look.neck, &Hand::default());
    let places = fit.as_ref().map(music::fingered).unwrap_or_default();
    let neck = fit.is_ok().then_some(&look.neck);
    let layout = Layout { degrees, ..Layout::print(style.column()) };
    Block::music(music::engrave(&Part { riff, neck, places: &places }, &layout))
}

/// A riff of the lesson in another key, with and without what gives the answer away.
struct Piece<'a> {
    member: &'a Member,
    open: Riff,
    hidden: Riff,
}

/// Short riffs from the middle and the end of the ladder, each moved by another interval.
fn homework<'a>(plan: &'a Plan, look: &Look) -> Vec<Piece<'a>> {
    let fit: Vec<&Member> = plan
        .members
        .iter()
        .filter(|m| m.material.len() >= 3 && m.riff.bars().len() <= HOMEWORK_BARS)
        .collect();
    let picks = [fit.len() / 2, fit.len().saturating_sub(1)];
    // A major third and a fourth: keys that are not the lesson's and not each other's.
    let moves = [Interval::from_steps(2, 4), Interval::from_steps(3, 5)];
    let mut pieces: Vec<Piece<'a>> = Vec::new();
    for (pick, by) in picks.into_iter().zip(moves) {
        let Some(&member) = fit.get(pick) else { continue };
        if pieces.iter().any(|p| p.member.source == member.source) {
            continue;
        }
        let Ok((moved, _)) = transpose::transpose(&member.riff, by) else { continue };
        let (moved, _) = adapt::adapted(&moved, &look.neck);
        let key = moved.header().key.map(Key::simplest);
        let open = match (moved.header().key, key) {
            (Some(from), Some(to)) if from != to => {
                let way = transpose::nearest(from.tonic, to.tonic);
                transpose::transpose(&moved, way).map_or(moved, |(riff, _)| riff)
            }
            _ => moved,
        };
        let hidden = hidden(&open);
        pieces.push(Piece { member, open, hidden });
    }
    pieces
}

/// Without title, key, chords and words: nothing but the notes.
fn hidden(riff: &Riff) -> Riff {
    let (header, mut bars) = riff.clone().into_parts();
    for bar in &mut bars {
        bar.chords.clear();
    }
    let bare = Header { tempo: header.tempo, feel: header.feel, ..Header::default() };
    Riff::new(bare.clone(), bars).unwrap_or_else(|_| riff.with_header(bare))
}
