//! Scenes as a tagged PDF 1.7 file (ISO 32000-1) after PDF/UA-1 (ISO 14289-1).
//!
//! Running text is text: embedded subset fonts, extractable in the order of the scene. Inside a figure everything is
//! outlines, music symbols and fret numbers alike: as text they would come out as private-use characters and stray
//! figures between the lines of the page, while the figure's alternative text says in sentences what stands there.
//! Nothing in the file depends on the time or the machine.

use crate::font::{Face, Shaped, symbol_outline};
use crate::path::{Path, Segment};
use crate::scene::{Ink, Item, Role, Scene, Text};
use crate::units::{MM_PER_PT, Point};
use krilla::color::{luma, rgb};
use krilla::configure::{Accessibility, ConfigurationBuilder};
use krilla::destination::XyzDestination;
use krilla::metadata::{DateTime, Metadata};
use krilla::num::NormalizedF32;
use krilla::outline::{Outline, OutlineNode};
use krilla::page::PageSettings;
use krilla::paint::{Fill, FillRule, Paint, Stroke, StrokeDash};
use krilla::surface::Surface;
use krilla::tagging::{
    Artifact, ArtifactType, ContentTag, ListNumbering, Node, SpanTag, TableHeaderScope, Tag, TagGroup,
    TagKind, TagTree,
};
use krilla::text::{Font, GlyphId, KrillaGlyph};
use krilla::{Data, Document, SerializeSettings};
use std::num::NonZeroU16;

/// What the file says about itself.
#[derive(Clone, Debug, PartialEq)]
pub struct About {
    /// Title shown by viewers. An empty one is written as `Untitled`, which PDF/UA needs.
    pub title: String,
    /// Language of the text as a BCP 47 tag, for example `en`.
    pub language: String,
    /// Date of making. Without one the file carries none, and equal input gives equal bytes.
    pub date: Option<Date>,
}

impl About {
    /// English, undated, with this title.
    #[must_use]
    pub fn titled(title: impl Into<String>) -> Self {
        Self { title: title.into(), language: "en".into(), date: None }
    }
}

/// A calendar day.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Date {
    /// Year, as 2026.
    pub year: u16,
    /// Month, 1 to 12.
    pub month: u8,
    /// Day, 1 to 31.
    pub day: u8,
}

/// Why no PDF could be written.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum PdfError {
    /// A page's size is zero, negative, not a number or beyond the 5 metres that the format allows.
    #[error("page {page} is {width} by {height} mm; both sides must lie above 0 and below 5080 mm")]
    PageSize {
        /// Page number from 1.
        page: usize,
        /// Asked width in millimetres.
        width: f64,
        /// Asked height in millimetres.
        height: f64,
    },
    /// A font inside the program cannot be used; the build is broken.
    #[error("the built-in font {0:?} cannot be read; rebuild the program")]
    Font(Face),
    /// The file would break the rules of PDF/UA-1.
    #[error("the page breaks a rule of PDF/UA-1: {0}")]
    Rules(String),
}

/// Writes `pages` as one PDF file. An empty list gives one empty A4 page.
///
/// # Errors
/// [`PdfError`] for an impossible page size, and for a breach of PDF/UA-1 (a figure without words, say).
pub fn write(pages: &[Scene], about: &About) -> Result<Vec<u8>, PdfError> {
    let configuration = ConfigurationBuilder::new()
        .with_accessibility_validator(Accessibility::UA1)
        .finish()
        .map_err(|e| PdfError::Rules(format!("{e:?}")))?;
    let settings = SerializeSettings { configuration, ..SerializeSettings::default() };
    let blank = [Scene::new(210.0, 297.0)];
    let pages = if pages.is_empty() { &blank[..] } else { pages };

    let title = if about.title.trim().is_empty() { "Untitled".to_owned() } else { about.title.clone() };
    let mut document = Document::new_with(settings);
    let mut writer = Writer {
        fonts: Fonts::new()?,
        tree: TagTree::new().with_lang(Some(about.language.clone())),
        headings: Vec::new(),
    };
    for (index, scene) in pages.iter().enumerate() {
        writer.page(&mut document, scene, index)?;
    }
    let mut metadata =
        Metadata::new().title(title.clone()).language(about.language.clone()).creator("Riffkin".to_owned());
    if let Some(d) = about.date {
        metadata = metadata.creation_date(DateTime::new(d.year).month(d.month).day(d.day));
    }
    document.set_metadata(metadata);
    document.set_outline(outline(&title, &writer.headings));
    document.set_tag_tree(writer.tree);
    document.finish().map_err(|e| PdfError::Rules(describe(&e)))
}

fn describe(error: &krilla::error::KrillaError) -> String {
    match error {
        krilla::error::KrillaError::Validation(list) => {
            let mut names: Vec<String> = list.iter().map(|(e, _)| short(&format!("{e:?}"))).collect();
            names.dedup();
            names.join(", ")
        }
        other => short(&format!("{other:?}")),
    }
}

fn short(text: &str) -> String {
    text.chars().take(120).collect()
}

/// A heading met on the way, for the outline.
struct HeadingAt {
    level: u8,
    text: String,
    page: usize,
    at: Point,
}

struct Writer {
    fonts: Fonts,
    tree: TagTree,
    headings: Vec<HeadingAt>,
}

/// Where tagged content goes: the tree itself or a group being filled.
enum Parent<'a> {
    Root(&'a mut Vec<Node>),
    Group(&'a mut TagGroup),
}

impl Writer {
    fn page(&mut self, document: &mut Document, scene: &Scene, index: usize) -> Result<(), PdfError> {
        let fits = |v: f64| v.is_finite() && v > 0.0 && v < 5080.0;
        let size_error = PdfError::PageSize { page: index + 1, width: scene.width, height: scene.height };
        if !fits(scene.width) || !fits(scene.height) {
            return Err(size_error);
        }
        let Some(settings) = PageSettings::from_wh(points(scene.width), points(scene.height)) else {
            return Err(size_error);
        };
        let mut page = document.start_page_with(settings);
        let mut surface = page.surface();
        let mut roots = Vec::new();
        self.items(&mut surface, &scene.items, &mut Parent::Root(&mut roots), index);
        surface.finish();
        page.finish();
        for node in roots {
            self.tree.push(node);
        }
        Ok(())
    }

    /// Draws items in order. Runs of plain shapes become one piece of content each, groups with a meaning become tags.
    fn items(&mut self, surface: &mut Surface<'_>, items: &[Item], parent: &mut Parent<'_>, page: usize) {
        let mut i = 0;
        while i < items.len() {
            let plain = items.get(i..).unwrap_or_default().iter().take_while(|x| !has_structure(x)).count();
            if plain > 0 {
                let run = items.get(i..i + plain).unwrap_or_default();
                self.content(surface, run, parent);
                i += plain;
            } else if let Some(Item::Group { role, items }) = items.get(i) {
                self.group(surface, role, items, parent, page);
                i += 1;
            } else {
                i += 1;
            }
        }
    }

    fn content(&mut self, surface: &mut Surface<'_>, run: &[Item], parent: &mut Parent<'_>) {
        let holds_content = match parent {
            Parent::Root(_) => false,
            Parent::Group(g) => {
                !matches!(g.tag, TagKind::Table(_) | TagKind::TR(_) | TagKind::L(_) | TagKind::LI(_))
            }
        };
        if !holds_content {
            surface.start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::Layout)));
            self.draw_all(surface, run, false);
            surface.end_tagged();
            return;
        }
        let Parent::Group(group) = parent else { return };
        let figure = matches!(group.tag, TagKind::Figure(_));
        let tag = if figure { ContentTag::Other } else { ContentTag::Span(SpanTag::empty()) };
        let id = surface.start_tagged(tag);
        self.draw_all(surface, run, figure);
        surface.end_tagged();
        group.push(id);
    }

    fn group(
        &mut self,
        surface: &mut Surface<'_>,
        role: &Role,
        items: &[Item],
        parent: &mut Parent<'_>,
        page: usize,
    ) {
        let kind: TagKind = match role {
            Role::Plain | Role::Event { .. } => {
                self.items(surface, items, parent, page);
                return;
            }
            Role::Artifact => {
                surface
                    .start_tagged(ContentTag::Artifact(Artifact::with_kind(ArtifactType::PaginationOther)));
                self.draw_all(surface, items, false);
                surface.end_tagged();
                return;
            }
            Role::Heading(level) => {
                let text = words(items);
                let bounds = Item::group(Role::Plain, items.to_vec()).bounds();
                let at = Point::new(0.0, if bounds.is_nothing() { 0.0 } else { (bounds.top - 3.0).max(0.0) });
                self.headings.push(HeadingAt { level: *level, text: text.clone(), page, at });
                let level = NonZeroU16::new(u16::from((*level).clamp(1, 6))).unwrap_or(NonZeroU16::MIN);
                Tag::Hn(level, Some(text)).into()
            }
            Role::Paragraph => Tag::P.into(),
            Role::Figure { alt } => {
                let alt = if alt.trim().is_empty() { "Figure".to_owned() } else { alt.clone() };
                Tag::Figure(Some(alt)).into()
            }
            Role::List => Tag::L(ListNumbering::None).into(),
            Role::ListItem => Tag::LI.into(),
            Role::Label => Tag::Lbl.into(),
            Role::Body => Tag::LBody.into(),
            Role::Table => Tag::Table.into(),
            Role::Row => Tag::TR.into(),
            Role::ColumnHead => Tag::TH(TableHeaderScope::Column).into(),
            Role::RowHead => Tag::TH(TableHeaderScope::Row).into(),
            Role::Cell => Tag::TD.into(),
        };
        let mut group = TagGroup::new(kind);
        self.items(surface, items, &mut Parent::Group(&mut group), page);
        match parent {
            Parent::Root(nodes) => nodes.push(group.into()),
            Parent::Group(g) => g.push(group),
        }
    }

    /// Draws shapes; text as outlines where a figure's words already say it.
    fn draw_all(&self, surface: &mut Surface<'_>, items: &[Item], outlined: bool) {
        for item in items {
            self.draw(surface, item, outlined);
        }
    }

    fn draw(&self, surface: &mut Surface<'_>, item: &Item, outlined: bool) {
        match item {
            Item::Line { from, to, width, dash, ink } => {
                let path = Path::new().move_to(from.x, from.y).line_to(to.x, to.y);
                stroke(surface, &path, *width, *dash, *ink);
            }
            Item::Stroke { path, width, ink } => stroke(surface, path, *width, None, *ink),
            Item::Fill { path, ink } => fill(surface, path, *ink),
            Item::Symbol { symbol, at, space, ink } => {
                fill(surface, &symbol_outline(*symbol, *at, *space), *ink)
            }
            Item::Text(text) => {
                let (shaped, start) = text.set();
                if outlined {
                    fill(surface, &shaped.outline(start), text.ink);
                } else {
                    self.text(surface, text, &shaped, start);
                }
            }
            Item::Greys { area, greys } => {
                for (grey, path) in greys.outlines(*area) {
                    let Some(path) = outline_path(&path) else { continue };
                    set_paint(surface, luma::Color::new(grey).into());
                    surface.draw_path(&path);
                }
            }
            Item::Group { items, .. } => self.draw_all(surface, items, outlined),
        }
    }

    fn text(&self, surface: &mut Surface<'_>, text: &Text, shaped: &Shaped, start: Point) {
        set_fill(surface, text.ink);
        for run in shaped.glyphs.chunk_by(|a, b| a.face == b.face && a.raise == b.raise && a.em == b.em) {
            let Some(first) = run.first() else { continue };
            let Some(font) = self.fonts.get(first.face) else { continue };
            let glyphs: Vec<KrillaGlyph> = run
                .iter()
                .map(|g| {
                    #[allow(clippy::cast_possible_truncation, reason = "a share of an em")]
                    let advance = (g.advance / g.em) as f32;
                    KrillaGlyph::new(
                        GlyphId::new(u32::from(g.glyph)),
                        advance,
                        0.0,
                        0.0,
                        0.0,
                        g.source.clone(),
                        None,
                    )
                })
                .collect();
            let at = start.shifted(first.x, -first.raise);
            surface.draw_glyphs(point(at), &glyphs, font, &text.content, points(first.em), false);
        }
    }
}

/// Whether a tag begins at this item or inside it.
fn has_structure(item: &Item) -> bool {
    match item {
        Item::Group { role: Role::Plain | Role::Event { .. }, items } => items.iter().any(has_structure),
        Item::Group { .. } => true,
        _ => false,
    }
}

/// All texts inside, joined by single spaces.
fn words(items: &[Item]) -> String {
    let mut scene = Scene::new(1.0, 1.0);
    scene.items = items.to_vec();
    let mut out: Vec<String> = Vec::new();
    scene.visit(&mut |i| {
        if let Item::Text(t) = i {
            out.push(t.content.trim().to_owned());
        }
    });
    out.join(" ")
}

/// The outline: the document, then headings nested by level.
fn outline(title: &str, headings: &[HeadingAt]) -> Outline {
    let mut outline = Outline::new();
    if headings.is_empty() {
        outline.push_child(OutlineNode::new(
            title.to_owned(),
            XyzDestination::new(0, krilla::geom::Point::from_xy(0.0, 0.0)),
        ));
    }
    let mut rest = headings;
    while let Some(first) = rest.first() {
        let n = 1 + rest.get(1..).unwrap_or_default().iter().take_while(|h| h.level > first.level).count();
        outline.push_child(node(rest.get(..n).unwrap_or_default(), first));
        rest = rest.get(n..).unwrap_or_default();
    }
    outline
}

fn node(headings: &[HeadingAt], first: &HeadingAt) -> OutlineNode {
    let mut out = OutlineNode::new(first.text.clone(), XyzDestination::new(first.page, point(first.at)));
    let mut rest = headings.get(1..).unwrap_or_default();
    while let Some(child) = rest.first() {
        let n = 1 + rest.get(1..).unwrap_or_default().iter().take_while(|h| h.level > child.level).count();
        out.push_child(node(rest.get(..n).unwrap_or_default(), child));
        rest = rest.get(n..).unwrap_or_default();
    }
    out
}

struct Fonts([Font; 4]);

impl Fonts {
    fn new() -> Result<Self, PdfError> {
        let load = |f: Face| Font::new(Data::from(f.bytes()), 0).ok_or(PdfError::Font(f));
        Ok(Self([load(Face::Roman)?, load(Face::Italic)?, load(Face::Bold)?, load(Face::Music)?]))
    }

    fn get(&self, face: Face) -> Option<Font> {
        self.0.get(face as usize).cloned()
    }
}

#[allow(clippy::cast_possible_truncation, reason = "a page is far below the range of f32")]
fn points(mm: f64) -> f32 {
    (mm / MM_PER_PT) as f32
}

/// Points rounded to a hundredth (3.5 micrometres), which is below what paper shows and keeps files small.
#[allow(clippy::cast_possible_truncation, reason = "a page is far below the range of f32")]
fn fine(mm: f64) -> f32 {
    ((mm / MM_PER_PT * 100.0).round() / 100.0) as f32
}

fn point(p: Point) -> krilla::geom::Point {
    krilla::geom::Point::from_xy(points(p.x), points(p.y))
}

fn paint(ink: Ink) -> Paint {
    match ink {
        Ink::Black => luma::Color::black().into(),
        Ink::Paper => luma::Color::white().into(),
        Ink::Faint => luma::Color::new(0x76).into(),
        Ink::Accent => rgb::Color::new(0xa3, 0x3b, 0x12).into(),
    }
}

fn set_fill(surface: &mut Surface<'_>, ink: Ink) {
    set_paint(surface, paint(ink));
}

fn set_paint(surface: &mut Surface<'_>, paint: Paint) {
    surface.set_stroke(None);
    surface.set_fill(Some(Fill { paint, opacity: NormalizedF32::ONE, rule: FillRule::NonZero }));
}

fn fill(surface: &mut Surface<'_>, path: &Path, ink: Ink) {
    let Some(path) = outline_path(path) else { return };
    set_fill(surface, ink);
    surface.draw_path(&path);
}

fn stroke(surface: &mut Surface<'_>, path: &Path, width: f64, dash: Option<(f64, f64)>, ink: Ink) {
    let Some(path) = outline_path(path) else { return };
    let dash = dash.map(|(on, off)| StrokeDash { array: vec![points(on), points(off)], offset: 0.0 });
    surface.set_fill(None);
    surface.set_stroke(Some(Stroke { paint: paint(ink), width: points(width), dash, ..Stroke::default() }));
    surface.draw_path(&path);
}

fn outline_path(path: &Path) -> Option<krilla::geom::Path> {
    let mut b = krilla::geom::PathBuilder::new();
    for s in &path.segments {
        match s {
            Segment::Move(p) => b.move_to(fine(p.x), fine(p.y)),
            Segment::Line(p) => b.line_to(fine(p.x), fine(p.y)),
            Segment::Cubic(c, d, e) => {
                b.cubic_to(fine(c.x), fine(c.y), fine(d.x), fine(d.y), fine(e.x), fine(e.y));
            }
            Segment::Close => b.close(),
        }
    }
    b.finish()
}
