//! Blocks become pieces of a known height, pieces fill pages.

use super::text::{Rich, set};
use super::{Block, Sheet, SheetStyle};
use crate::diagram::{LadderStyle, Rung, ladder_head, ladder_row};
use crate::font::{Face, TextStyle, shape};
use crate::music::System;
use crate::scene::{Anchor, Ink, Item, Role, Scene};
use crate::units::{Point, pt};
use riffkin_score::Warning;

/// Something that goes on a page uncut. Its shapes begin at (0, 0), the left edge of the column.
#[derive(Clone, Debug)]
struct Piece {
    items: Vec<Item>,
    height: f64,
    /// White above it, dropped at the top of a page.
    before: f64,
    /// It must not be the last thing on a page.
    holds_next: bool,
    /// Pieces with the same join belong to one group in the tag tree while they share a page.
    join: Option<(usize, Role)>,
    breaks_page: bool,
    /// Repeated at the top of a page that begins inside the same join.
    head: Option<Box<(Vec<Item>, f64)>>,
}

impl Piece {
    fn new(items: Vec<Item>, height: f64, before: f64) -> Self {
        Self { items, height, before, holds_next: false, join: None, breaks_page: false, head: None }
    }
}

/// How deeply [`Block::Together`] may be nested; deeper ones are laid out as if they were at this depth.
const MOST_NESTED: u8 = 16;

struct Maker<'a> {
    style: &'a SheetStyle,
    pieces: Vec<Piece>,
    joins: usize,
    warnings: Vec<Warning>,
}

pub(super) fn compose(blocks: &[Block], style: &SheetStyle, footer: &str) -> Sheet {
    let mut warnings = Vec::new();
    let style = &sane(style, &mut warnings);
    let mut maker = Maker { style, pieces: Vec::new(), joins: 0, warnings };
    maker.blocks(blocks, 0);
    let Maker { pieces, warnings, .. } = maker;
    let mut pages = fill(&pieces, style);
    footers(&mut pages, style, footer);
    let mut sheet = Sheet { pages, warnings };
    let mut missing: Vec<char> = Vec::new();
    for page in &sheet.pages {
        for c in page.missing_characters() {
            if !missing.contains(&c) {
                missing.push(c);
            }
        }
    }
    if !missing.is_empty() {
        let list: Vec<String> = missing.iter().map(|c| format!("{c} (U+{:04X})", *c as u32)).collect();
        let message =
            format!("the fonts have no {}; a box with a question mark stands there", list.join(", "));
        sheet.warnings.push(Warning::whole(message));
    }
    sheet
}

fn sane(style: &SheetStyle, warnings: &mut Vec<Warning>) -> SheetStyle {
    let mut out = *style;
    if !out.margin.is_finite() || !(0.0..=60.0).contains(&out.margin) {
        out.margin = 17.0;
        warnings.push(Warning::whole("the margin lies outside 0 to 60 mm; 17 mm is used"));
    }
    if !out.text.is_finite() || !(pt(5.0)..=pt(40.0)).contains(&out.text) {
        out.text = pt(11.0);
        warnings.push(Warning::whole("the text size lies outside 5 to 40 pt; 11 pt is used"));
    }
    out
}

impl Maker<'_> {
    fn blocks(&mut self, blocks: &[Block], depth: u8) {
        for block in blocks {
            self.block(block, depth);
        }
    }

    fn next_join(&mut self) -> usize {
        self.joins += 1;
        self.joins
    }

    fn block(&mut self, block: &Block, depth: u8) {
        let text = self.style.text;
        match block {
            Block::Heading { level, text: words } => self.heading(*level, words),
            Block::Paragraph(rich) => self.lines(rich, text, text * 0.55, 0.0),
            Block::Small(rich) => self.lines(rich, text * 0.84, text * 0.4, 0.0),
            Block::List { numbered, entries } => self.list(*numbered, entries),
            Block::Music(systems) => self.music(systems),
            Block::Figures(scenes) => self.figures(scenes),
            Block::Ladder(rungs) => self.ladder(rungs),
            Block::WriteOn(count) => {
                for _ in 0..*count {
                    let y = text * 2.0;
                    let line = Item::Line {
                        from: Point::new(0.0, y),
                        to: Point::new(self.style.column(), y),
                        width: pt(0.5),
                        dash: None,
                        ink: Ink::Faint,
                    };
                    self.pieces.push(Piece::new(vec![Item::group(Role::Artifact, vec![line])], y, 0.0));
                }
            }
            Block::Rule => {
                let line = Item::line(Point::new(0.0, 0.0), Point::new(self.style.column(), 0.0), pt(0.5));
                let items = vec![Item::group(Role::Artifact, vec![line])];
                self.pieces.push(Piece::new(items, text * 0.2, text * 0.8));
            }
            Block::Space(lines) => {
                let height = if lines.is_finite() { lines.clamp(0.0, 100.0) * text * 1.3 } else { 0.0 };
                self.pieces.push(Piece::new(Vec::new(), 0.0, height));
            }
            Block::PageBreak => {
                let mut p = Piece::new(Vec::new(), 0.0, 0.0);
                p.breaks_page = true;
                self.pieces.push(p);
            }
            Block::Together(inner) if depth < MOST_NESTED => {
                let from = self.pieces.len();
                self.blocks(inner, depth + 1);
                let inside = self.pieces.get_mut(from..).unwrap_or_default();
                let height: f64 = inside.iter().map(|p| p.height + p.before).sum();
                // What no page can hold flows on as if it were loose.
                if height <= self.style.floor() - self.style.margin
                    && let Some((_, rest)) = inside.split_last_mut()
                {
                    for p in rest {
                        p.holds_next = true;
                    }
                }
            }
            Block::Together(_) => {
                self.warnings
                    .push(Warning::whole("blocks are nested too deeply; the innermost are left out"));
            }
        }
    }

    fn heading(&mut self, level: u8, words: &str) {
        let level = level.clamp(1, 6);
        let factor = [1.9, 1.4, 1.15, 1.05, 1.0, 1.0].get(usize::from(level - 1)).copied().unwrap_or(1.0);
        let size = self.style.text * factor;
        let rich = Rich { runs: vec![super::Run { face: Face::Bold, text: words.to_owned() }] };
        let lines = set(&rich, size, self.style.column(), 0.0);
        if lines.is_empty() {
            return;
        }
        let leading = size * 1.15;
        let mut items = Vec::new();
        let mut y = size * 0.85;
        for line in lines {
            items.extend(line.into_iter().map(|i| i.shifted(0.0, y)));
            y += leading;
        }
        let height = y - leading + size * 0.3;
        let before = self.style.text * if level == 1 { 0.6 } else { 1.3 };
        let mut p = Piece::new(vec![Item::group(Role::Heading(level), items)], height, before);
        p.holds_next = true;
        self.pieces.push(p);
    }

    /// A paragraph, a piece per line; no line stands alone at the foot or head of a page.
    fn lines(&mut self, rich: &Rich, size: f64, before: f64, left: f64) {
        let room = self.style.column() - left;
        let lines = set(rich, size, room, left);
        let join = self.next_join();
        self.push_lines(lines, size, before, (join, Role::Paragraph));
    }

    fn push_lines(&mut self, lines: Vec<Vec<Item>>, size: f64, before: f64, join: (usize, Role)) {
        let count = lines.len();
        for (i, line) in lines.into_iter().enumerate() {
            let items = line.into_iter().map(|t| t.shifted(0.0, size * 0.95)).collect();
            let mut p = Piece::new(items, size * 1.32, if i == 0 { before } else { 0.0 });
            p.join = Some(join.clone());
            p.holds_next = (i == 0 && count > 1) || (count > 2 && i + 2 == count);
            self.pieces.push(p);
        }
    }

    fn list(&mut self, numbered: bool, entries: &[Rich]) {
        let size = self.style.text;
        let indent = size * if numbered && entries.len() > 9 { 2.3 } else { 1.7 };
        let list = self.next_join();
        for (i, entry) in entries.iter().enumerate() {
            let label = if numbered { format!("{}. ", i + 1) } else { "• ".to_owned() };
            let mut lines = set(entry, size, self.style.column() - indent, indent);
            if lines.is_empty() {
                lines.push(Vec::new());
            }
            // One piece per entry keeps label and body one entry in the tag tree.
            let style = TextStyle::new(Face::Roman, size);
            let mark = Item::text(label, Point::new(size * 0.3, size * 0.95), style, Anchor::Start);
            let mut body = Vec::new();
            let mut y = size * 0.95;
            for line in lines {
                body.extend(line.into_iter().map(|t| t.shifted(0.0, y)));
                y += size * 1.32;
            }
            let entry = Item::group(
                Role::ListItem,
                vec![Item::group(Role::Label, vec![mark]), Item::group(Role::Body, body)],
            );
            let before = size * if i == 0 { 0.5 } else { 0.15 };
            let mut p = Piece::new(vec![entry], y - size * 0.95, before);
            p.join = Some((list, Role::List));
            self.pieces.push(p);
        }
    }

    fn music(&mut self, systems: &[System]) {
        let gap = crate::music::system_gap();
        for (i, s) in systems.iter().enumerate() {
            self.picture(&s.scene, if i == 0 { self.style.text * 0.8 } else { gap });
        }
    }

    /// One scene as a piece of its own, made smaller when it is larger than the page.
    fn picture(&mut self, scene: &Scene, before: f64) {
        let (scaled, height) = self.fitted(scene);
        self.pieces.push(Piece::new(vec![scaled], height, before));
    }

    fn fitted(&mut self, scene: &Scene) -> (Item, f64) {
        let room = (self.style.column(), self.style.floor() - self.style.margin);
        let k = (room.0 / scene.width.max(0.1)).min(room.1 / scene.height.max(0.1)).min(1.0);
        if k < 0.999 {
            let message =
                format!("{} is larger than the page; it is drawn at {:.0} percent", scene.title, k * 100.0);
            self.warnings.push(Warning::whole(message));
        }
        let alt = format!("{}: {}", scene.title, scene.description);
        let items = scene.items.iter().cloned().map(|i| if k < 0.999 { i.scaled(k) } else { i }).collect();
        (Item::group(Role::Figure { alt }, items), scene.height * k.min(1.0))
    }

    fn figures(&mut self, scenes: &[Scene]) {
        let gap = self.style.text * 2.0;
        let column = self.style.column();
        let mut row: Vec<(Item, f64, f64)> = Vec::new();
        let mut used = 0.0;
        for scene in scenes {
            let (item, height) = self.fitted(scene);
            let width = scene.width.min(column);
            if !row.is_empty() && used + gap + width > column + 0.01 {
                self.flush_row(&mut row);
                used = 0.0;
            }
            let x = if row.is_empty() { 0.0 } else { used + gap };
            row.push((item, x, height));
            used = x + width;
        }
        self.flush_row(&mut row);
    }

    fn flush_row(&mut self, row: &mut Vec<(Item, f64, f64)>) {
        if row.is_empty() {
            return;
        }
        let height = row.iter().map(|r| r.2).fold(0.0, f64::max);
        let items = row.drain(..).map(|(item, x, h)| item.shifted(x, (height - h) / 2.0)).collect();
        self.pieces.push(Piece::new(items, height, self.style.text * 0.7));
    }

    fn ladder(&mut self, rungs: &[Rung]) {
        let style = LadderStyle::new(self.style.column(), self.style.text);
        let join = self.next_join();
        let rule = || {
            let line = Item::Line {
                from: Point::new(0.0, 0.0),
                to: Point::new(style.width, 0.0),
                width: pt(0.4),
                dash: None,
                ink: Ink::Faint,
            };
            Item::group(Role::Artifact, vec![line])
        };
        let (head, head_height) = ladder_head(&style);
        for (i, rung) in rungs.iter().enumerate() {
            let (row, height) = ladder_row(rung, &style);
            if i == 0 {
                let mut p = Piece::new(vec![head.clone()], head_height, self.style.text * 0.6);
                p.join = Some((join, Role::Table));
                p.holds_next = true;
                self.pieces.push(p);
            }
            let mut p = Piece::new(vec![rule(), row], height, 0.0);
            p.join = Some((join, Role::Table));
            p.head = Some(Box::new((vec![head.clone()], head_height)));
            self.pieces.push(p);
        }
    }
}

/// Puts pieces on pages.
fn fill(pieces: &[Piece], style: &SheetStyle) -> Vec<Scene> {
    let (width, height) = style.paper.size();
    let (top, floor) = (style.margin, style.floor());
    let mut pages: Vec<Scene> = Vec::new();
    let mut page = Scene::new(width, height);
    let mut y = top;
    let mut open: Option<(usize, Role, Vec<Item>)> = None;
    let mut i = 0;
    while let Some(first) = pieces.get(i) {
        // A chain of pieces that hold on to each other moves as one when a page can hold it.
        let mut end = i;
        while pieces.get(end).is_some_and(|p| p.holds_next) && end + 1 < pieces.len() {
            end += 1;
        }
        let chain = pieces.get(i..=end).unwrap_or_default();
        let inner: f64 =
            chain.iter().map(|p| p.height).sum::<f64>() + chain.iter().skip(1).map(|p| p.before).sum::<f64>();
        let chain_fits_a_page = inner <= floor - top;
        let at_top = y <= top;
        let needed = if chain_fits_a_page { inner } else { first.height };
        let before = if at_top { 0.0 } else { first.before };
        if !at_top && (first.breaks_page || y + before + needed > floor) {
            close(&mut page, &mut open);
            pages.push(std::mem::replace(&mut page, Scene::new(width, height)));
            y = top;
            if first.breaks_page {
                i += 1;
            }
            continue;
        }
        let placed = if chain_fits_a_page { chain } else { chain.get(..1).unwrap_or_default() };
        for p in placed {
            let same = matches!((&open, &p.join), (Some((a, ..)), Some((b, _))) if a == b);
            if !same {
                close(&mut page, &mut open);
            }
            if y <= top
                && !same
                && let Some(head) = &p.head
            {
                // The table began on an earlier page.
                let items = head.0.iter().cloned().map(|i| i.shifted(style.margin, y)).collect();
                open = p.join.clone().map(|(n, role)| (n, role, items));
                y += head.1;
            } else if y > top {
                y += p.before;
            }
            let items = p.items.iter().cloned().map(|i| i.shifted(style.margin, y));
            match (&p.join, &mut open) {
                (Some((n, _)), Some((m, _, list))) if n == m => list.extend(items),
                (Some((n, role)), _) => open = Some((*n, role.clone(), items.collect())),
                (None, _) => page.items.extend(items),
            }
            y += p.height;
        }
        i += placed.len().max(1);
    }
    close(&mut page, &mut open);
    pages.push(page);
    pages
}

fn close(page: &mut Scene, open: &mut Option<(usize, Role, Vec<Item>)>) {
    if let Some((_, role, items)) = open.take() {
        page.items.push(Item::group(role, items));
    }
}

fn footers(pages: &mut [Scene], style: &SheetStyle, footer: &str) {
    let count = pages.len();
    let size = style.text * 0.78;
    let text_style = TextStyle::new(Face::Roman, size);
    for (i, page) in pages.iter_mut().enumerate() {
        let y = page.height - style.margin + size * 0.2;
        let number = format!("{} / {count}", i + 1);
        let room = style.column() - shape(&number, text_style).width - size * 2.0;
        let mut left: String = footer.to_owned();
        while shape(&left, text_style).width > room && left.pop().is_some() {}
        let items = vec![
            Item::text(left, Point::new(style.margin, y), text_style, Anchor::Start),
            Item::text(number, Point::new(page.width - style.margin, y), text_style, Anchor::End),
        ];
        page.items.push(Item::group(Role::Artifact, items));
    }
}
