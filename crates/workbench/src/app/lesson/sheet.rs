//! The lesson on paper: the students' sheet with homework, and the answers.

use riffkin_engrave::diagram;
use riffkin_engrave::music::{self, Layout, Part};
use riffkin_engrave::pdf::{About, PdfError};
use riffkin_engrave::sheet::{self, Block, Rich, SheetStyle};
use riffkin_fretboard::fit::{self, Fit};
use riffkin_lesson::homework::{self, Piece};
use riffkin_lesson::plan::{Member, Plan};
use riffkin_score::riff::Riff;

use super::{Look, neck_of, rungs, strip_of, title, words};

/// Letters that name the pieces of homework.
const LETTERS: [&str; homework::MOST] = ["A", "B"];

/// The students' sheet.
pub(super) fn students(plan: &Plan, homework: &[Piece], look: &Look) -> Result<Vec<u8>, PdfError> {
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
    for (i, (letter, piece)) in LETTERS.iter().zip(homework).enumerate() {
        let mut together = Vec::new();
        if i == 0 {
            together.push(Block::heading(2, "Homework"));
            together.push(Block::paragraph(words::HOMEWORK));
        }
        together.push(Block::heading(3, format!("Line {letter}")));
        together.push(fitted(&piece.hidden, look, &style, false));
        together.push(Block::WriteOn(2));
        blocks.push(Block::Together(together));
    }
    blocks.push(Block::Rule);
    blocks.extend(words::CAUTIONS.iter().map(|c| Block::Small(Rich::plain(*c))));
    sheet::compose(&blocks, &style, &look.title).to_pdf(&About::titled(&look.title))
}

/// The answers to the homework, for the teacher.
pub(super) fn answers(plan: &Plan, homework: &[Piece], look: &Look) -> Result<Vec<u8>, PdfError> {
    let style = SheetStyle::print(look.paper);
    let name = format!("{}: answers", look.title);
    let mut blocks = vec![Block::heading(1, &name)];
    if homework.is_empty() {
        blocks.push(Block::paragraph("No riff of this lesson suits homework, so there is none."));
    }
    for (letter, piece) in LETTERS.iter().zip(homework) {
        let Some(member) = plan.members.get(piece.from) else { continue };
        let material = words::degrees(member, member.material);
        blocks.push(Block::Together(vec![
            Block::heading(2, format!("Line {letter}")),
            Block::paragraph(words::answer(member, &piece.open, &material)),
            fitted(&piece.open, look, &style, true),
        ]));
    }
    sheet::compose(&blocks, &style, &name).to_pdf(&About::titled(&name))
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
    let music = engraved(&member.riff, Some(&member.fit), look, style, true);
    let mut all = head;
    all.push(music);
    all.append(&mut after);
    vec![Block::Together(all)]
}

/// A line that is not in the plan, with the easiest fit; without tablature where it has none.
fn fitted(riff: &Riff, look: &Look, style: &SheetStyle, degrees: bool) -> Block {
    let fit = fit::fit(riff, &look.neck, &look.hand).ok();
    engraved(riff, fit.as_ref(), look, style, degrees)
}

fn engraved(riff: &Riff, fit: Option<&Fit>, look: &Look, style: &SheetStyle, degrees: bool) -> Block {
    let places = fit.map(music::fingered).unwrap_or_default();
    let neck = fit.map(|_| &look.neck);
    let layout = Layout { degrees, ..Layout::print(style.column()) };
    Block::music(music::engrave(&Part { riff, neck, places: &places }, &layout))
}
