//! The ladder: a table with the rungs down and the degree strip across, so that a class sees that the riffs are the same
//! notes.

use super::strip::{Strip, strip};
use crate::font::{Face, TextStyle, shape};
use crate::scene::{Anchor, Item, Role, Scene};
use crate::units::{Point, pt};

/// One rung.
#[derive(Clone, Debug, PartialEq)]
pub struct Rung {
    /// Its number, from 1 at the start.
    pub number: usize,
    /// The riff's name.
    pub title: String,
    /// Its material, what is new included.
    pub strip: Strip,
}

impl Rung {
    fn news(&self) -> String {
        let new = self.strip.new.shared(self.strip.filled);
        if new.is_empty() {
            return "nothing".to_owned();
        }
        let names: Vec<&str> =
            new.slots().filter_map(|s| self.strip.names.get(usize::from(s))).map(String::as_str).collect();
        names.join(" ")
    }
}

/// Sizes of a ladder in millimetres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LadderStyle {
    /// Width of the whole table.
    pub width: f64,
    /// Em of its text.
    pub text: f64,
    /// Width and height of a strip's cell.
    pub cell: f64,
}

impl LadderStyle {
    /// For a column of `width` millimetres with text of `text` millimetres.
    #[must_use]
    pub fn new(width: f64, text: f64) -> Self {
        let cell = (width * 0.5 / 12.0).clamp(3.0, text * 1.75);
        Self { width, text, cell }
    }

    fn number_width(&self) -> f64 {
        self.text * 1.9
    }
    fn news_width(&self) -> f64 {
        self.text * 4.6
    }
    fn strip_left(&self) -> f64 {
        self.width - self.news_width() - self.cell * 12.0 - self.text * 0.8
    }
    fn row_height(&self) -> f64 {
        self.cell + self.text * 0.45
    }
    fn roman(&self) -> TextStyle {
        TextStyle::new(Face::Roman, self.text)
    }
}

/// The heading row; its shapes begin at the top left corner. Gives a row group and its height.
#[must_use]
pub fn ladder_head(style: &LadderStyle) -> (Item, f64) {
    let small = TextStyle::new(Face::Italic, style.text * 0.9);
    let y = style.text * 1.0;
    let heads = [
        (0.0, "rung"),
        (style.number_width() + style.text * 0.3, "riff"),
        (style.strip_left(), "degrees from the root, in semitones"),
        (style.width - style.news_width(), "new"),
    ];
    let cells = heads
        .iter()
        .map(|(x, t)| {
            let text = Item::text(*t, Point::new(*x, y), small, Anchor::Start);
            Item::group(Role::ColumnHead, vec![text])
        })
        .collect();
    (Item::group(Role::Row, cells), style.text * 1.5)
}

/// One row; its shapes begin at the top left corner. Gives a row group and its height. A long title is cut into lines.
#[must_use]
pub fn ladder_row(rung: &Rung, style: &LadderStyle) -> (Item, f64) {
    let title_left = style.number_width() + style.text * 0.3;
    let room = (style.strip_left() - title_left - style.text * 0.5).max(style.text * 3.0);
    let lines = wrap(&rung.title, style.roman(), room);
    let leading = style.text * 1.15;
    #[allow(clippy::cast_precision_loss, reason = "a handful of lines")]
    let block = leading * lines.len().max(1) as f64;
    let height = style.row_height().max(block + style.text * 0.3);
    let middle = height / 2.0;
    let baseline = middle + style.text * 0.31;
    let bold = TextStyle::new(Face::Bold, style.text);
    let number = Item::text(
        rung.number.to_string(),
        Point::new(style.number_width() - style.text * 0.5, baseline),
        bold,
        Anchor::End,
    );
    let mut title = Vec::new();
    let mut y = middle - block / 2.0 + leading * 0.78;
    for (i, line) in lines.iter().enumerate() {
        let line = if i + 1 < lines.len() { format!("{line} ") } else { line.clone() };
        title.push(Item::text(line, Point::new(title_left, y), style.roman(), Anchor::Start));
        y += leading;
    }
    let picture = strip(&rung.strip, style.cell);
    let alt = picture.description.clone();
    let at = Point::new(style.strip_left(), middle - picture.height / 2.0);
    let figure = picture.placed(at, Role::Figure { alt });
    let news = rung.news();
    let face = if news == "nothing" { Face::Italic } else { Face::Bold };
    let wanted = TextStyle::new(face, style.text);
    let wide = shape(&news, wanted).width;
    let size = if wide > style.news_width() { style.text * style.news_width() / wide } else { style.text };
    let new = Item::text(
        news,
        Point::new(style.width - style.news_width(), baseline),
        TextStyle::new(face, size),
        Anchor::Start,
    );
    let cells = vec![
        Item::group(Role::RowHead, vec![number]),
        Item::group(Role::Cell, title),
        Item::group(Role::Cell, vec![figure]),
        Item::group(Role::Cell, vec![new]),
    ];
    (Item::group(Role::Row, cells), height)
}

/// Breaks a name into lines no wider than `room`; a single long word stays whole.
fn wrap(text: &str, style: TextStyle, room: f64) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in text.split_whitespace() {
        match lines.last_mut() {
            Some(line) if shape(&format!("{line} {word}"), style).width <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    lines
}

/// A whole ladder as one picture.
#[must_use]
pub fn ladder(rungs: &[Rung], style: &LadderStyle) -> Scene {
    let mut scene = Scene::new(style.width, 0.0);
    scene.title = "Ladder".to_owned();
    let (head, mut y) = ladder_head(style);
    let mut rows = vec![head];
    let mut words = Vec::new();
    for rung in rungs {
        let rule = Item::line(Point::new(0.0, y), Point::new(style.width, y), pt(0.4));
        rows.push(rule);
        let (row, height) = ladder_row(rung, style);
        rows.push(row.shifted(0.0, y));
        y += height;
        words.push(format!("Rung {}: {}. {}", rung.number, rung.title, rung.strip.words()));
    }
    scene.height = y + pt(1.0);
    scene.description = words.join(" ");
    scene.items.push(Item::group(Role::Table, rows));
    scene
}
