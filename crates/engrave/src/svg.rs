//! Scenes as SVG 1.1 text (W3C Recommendation, 16 August 2011), whole or for inlining in HTML.
//!
//! Letters are drawn as outlines, like the music. So a picture looks the same in every viewer with no font
//! installed and no font file beside it, and nothing has to be embedded twice when a page holds fifty pictures.
//! What is lost, letters that a screen reader can spell out one by one, would be noise in a score: the picture is one
//! image with a title and a description, and the description says it in sentences.
//!
//! Every outline is written once as `<path id>` and used by reference. A page of many pictures may share one
//! [`Outlines`] sheet.

use crate::font::{Face, glyph_outline};
use crate::path::{Path, Segment};
use crate::scene::{Ink, Item, Role, Scene};
use crate::units::Point;
use std::collections::BTreeSet;
use std::fmt::Write as _;

/// The outlines that a number of pictures need, each once.
#[derive(Clone, Debug, Default)]
pub struct Outlines {
    prefix: String,
    used: BTreeSet<(Face, u16)>,
    alone: bool,
}

/// Ems are drawn 1000 units high in the shared outlines, then scaled where they are used.
const UNITS: f64 = 1000.0;

impl Outlines {
    /// An empty sheet. `prefix` begins every identifier: letters, digits, `-` and `_` are kept, the rest dropped.
    #[must_use]
    pub fn new(prefix: &str) -> Self {
        let prefix = prefix.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')).collect();
        Self { prefix, used: BTreeSet::new(), alone: false }
    }

    /// The sheet as an invisible `<svg>`, to stand once in an HTML page before the pictures that use it.
    #[must_use]
    pub fn sheet(&self) -> String {
        format!(
            "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"0\" height=\"0\" style=\"position:absolute\" \
             aria-hidden=\"true\" focusable=\"false\"><defs>\n{}</defs></svg>\n",
            self.definitions()
        )
    }

    fn id(&self, face: Face, glyph: u16) -> String {
        format!("{}{}{glyph}", self.prefix, face.key())
    }

    fn definitions(&self) -> String {
        let mut out = String::new();
        for (face, glyph) in &self.used {
            let path = glyph_outline(*face, *glyph, Point::default(), UNITS);
            let _ = writeln!(out, "<path id=\"{}\" d=\"{}\"/>", self.id(*face, *glyph), data(&path, 0));
        }
        out
    }
}

/// A whole SVG document for one scene, with its own outlines.
#[must_use]
pub fn document(scene: &Scene) -> String {
    let mut outlines = Outlines { alone: true, ..Outlines::default() };
    write(scene, &mut outlines, "p", true)
}

/// An `<svg>` element for an HTML page. Its outlines are added to `outlines`; the page must hold
/// [`Outlines::sheet`] too. `name` makes the identifiers of title and description unique on the page.
#[must_use]
pub fn inline(scene: &Scene, outlines: &mut Outlines, name: &str) -> String {
    write(scene, outlines, name, false)
}

fn write(scene: &Scene, outlines: &mut Outlines, name: &str, whole: bool) -> String {
    let name: String = name.chars().filter(|c| c.is_ascii_alphanumeric() || matches!(c, '-' | '_')).collect();
    let mut body = String::new();
    for item in &scene.items {
        write_item(&mut body, item, outlines);
    }
    let mut out = String::with_capacity(body.len() + 1024);
    let (w, h) = (number(scene.width), number(scene.height));
    let _ = write!(
        out,
        "<svg xmlns=\"http://www.w3.org/2000/svg\" viewBox=\"0 0 {w} {h}\" width=\"{w}mm\" height=\"{h}mm\" \
         role=\"img\" aria-labelledby=\"{name}-t {name}-d\" fill=\"currentColor\" stroke=\"none\">\n\
         <title id=\"{name}-t\">{}</title>\n<desc id=\"{name}-d\">{}</desc>\n",
        escape(&scene.title),
        escape(&scene.description)
    );
    if whole {
        let _ = write!(out, "<defs>\n{}</defs>\n", outlines.definitions());
    }
    out.push_str(&body);
    out.push_str("</svg>\n");
    out
}

fn write_item(out: &mut String, item: &Item, outlines: &mut Outlines) {
    match item {
        Item::Line { from, to, width, dash, ink } => {
            let _ = write!(
                out,
                "<path d=\"M{} {}L{} {}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"",
                number(from.x),
                number(from.y),
                number(to.x),
                number(to.y),
                outlines.colour(*ink),
                number(*width)
            );
            if let Some((on, off)) = dash {
                let _ = write!(out, " stroke-dasharray=\"{} {}\"", number(*on), number(*off));
            }
            out.push_str("/>\n");
        }
        Item::Fill { path, ink } => {
            let _ = writeln!(out, "<path d=\"{}\"{}/>", data(path, 3), outlines.fill(*ink));
        }
        Item::Stroke { path, width, ink } => {
            let _ = writeln!(
                out,
                "<path d=\"{}\" fill=\"none\" stroke=\"{}\" stroke-width=\"{}\"/>",
                data(path, 3),
                outlines.colour(*ink),
                number(*width)
            );
        }
        Item::Symbol { symbol, at, space, ink } => {
            let glyph = Face::Music.loaded().and_then(|f| f.face.glyph_index(*symbol));
            if let Some(glyph) = glyph {
                write_use(out, outlines, Face::Music, glyph.0, *at, space * 4.0, *ink);
            }
        }
        Item::Text(text) => {
            let (shaped, start) = text.set();
            for g in &shaped.glyphs {
                let at = start.shifted(g.x, -g.raise);
                write_use(out, outlines, g.face, g.glyph, at, g.em, text.ink);
            }
        }
        Item::Greys { area, greys } => {
            let _ = writeln!(
                out,
                "<image class=\"greys\" x=\"{}\" y=\"{}\" width=\"{}\" height=\"{}\" preserveAspectRatio=\"none\" \
                 href=\"{}\"/>",
                number(area.left),
                number(area.top),
                number(area.width()),
                number(area.height()),
                greys.address()
            );
        }
        Item::Group { role, items } => {
            let close = open_group(out, role);
            for item in items {
                write_item(out, item, outlines);
            }
            out.push_str(close);
        }
    }
}

/// Opens a group when its role means something to a reader of the SVG; gives what closes it.
fn open_group(out: &mut String, role: &Role) -> &'static str {
    match role {
        Role::Event { bar, at, length } => {
            let _ = writeln!(
                out,
                "<g data-bar=\"{bar}\" data-at=\"{}\" data-length=\"{}\">",
                decimal(*at, 6),
                decimal(*length, 6)
            );
            "</g>\n"
        }
        Role::Figure { alt } => {
            let _ = writeln!(out, "<g role=\"img\" aria-label=\"{}\">", escape(alt));
            "</g>\n"
        }
        _ => "",
    }
}

fn write_use(out: &mut String, sheet: &mut Outlines, face: Face, glyph: u16, at: Point, em: f64, ink: Ink) {
    let empty = face.loaded().is_none_or(|f| f.face.glyph_bounding_box(ttf_parser::GlyphId(glyph)).is_none());
    if empty {
        return;
    }
    sheet.used.insert((face, glyph));
    let _ = writeln!(
        out,
        "<use href=\"#{}\" transform=\"translate({} {}) scale({})\"{}/>",
        sheet.id(face, glyph),
        number(at.x),
        number(at.y),
        decimal(em / UNITS, 6),
        sheet.fill(ink)
    );
}

impl Outlines {
    /// In a page the style sheet may set the colours; a file that stands alone names them, since some readers of
    /// SVG do not know CSS variables.
    const fn colour(&self, ink: Ink) -> &'static str {
        match (ink, self.alone) {
            (Ink::Black, _) => "currentColor",
            (Ink::Accent, false) => "var(--accent,#a33b12)",
            (Ink::Accent, true) => "#a33b12",
            (Ink::Paper, false) => "var(--paper,#fff)",
            (Ink::Paper, true) => "#fff",
            (Ink::Faint, false) => "var(--faint,#767676)",
            (Ink::Faint, true) => "#767676",
        }
    }

    fn fill(&self, ink: Ink) -> String {
        if ink == Ink::Black { String::new() } else { format!(" fill=\"{}\"", self.colour(ink)) }
    }
}

fn data(path: &Path, places: usize) -> String {
    let mut out = String::new();
    let pair = |out: &mut String, p: &Point| {
        let _ = write!(out, "{} {}", decimal(p.x, places), decimal(p.y, places));
    };
    for segment in &path.segments {
        match segment {
            Segment::Move(p) => {
                out.push('M');
                pair(&mut out, p);
            }
            Segment::Line(p) => {
                out.push('L');
                pair(&mut out, p);
            }
            Segment::Cubic(a, b, c) => {
                out.push('C');
                pair(&mut out, a);
                out.push(' ');
                pair(&mut out, b);
                out.push(' ');
                pair(&mut out, c);
            }
            Segment::Close => out.push('Z'),
        }
    }
    out
}

/// Millimetres to a micrometre, without needless zeros.
fn number(v: f64) -> String {
    decimal(v, 3)
}

fn decimal(v: f64, places: usize) -> String {
    if !v.is_finite() {
        return "0".into();
    }
    let mut s = format!("{v:.places$}");
    if s.contains('.') {
        s.truncate(s.trim_end_matches('0').trim_end_matches('.').len());
    }
    if s == "-0" { "0".into() } else { s }
}

/// Text for XML content and attribute values. Characters that XML 1.0 forbids are left out.
fn escape(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for c in text.chars() {
        match c {
            '&' => out.push_str("&amp;"),
            '<' => out.push_str("&lt;"),
            '>' => out.push_str("&gt;"),
            '"' => out.push_str("&quot;"),
            '\n' | '\t' => out.push(' '),
            c if c.is_control() || matches!(c, '\u{FFFE}' | '\u{FFFF}') => {}
            c => out.push(c),
        }
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::{TextStyle, smufl};
    use crate::scene::Anchor;

    fn scene() -> Scene {
        let mut s = Scene::new(20.0, 10.0);
        s.title = "A <b> & \"c\"".into();
        s.items = vec![
            Item::group(
                Role::Event { bar: 2, at: 7.0 / 3.0, length: 0.5 },
                vec![Item::symbol(smufl::NOTEHEAD_BLACK, Point::new(2.0, 5.0), 1.75)],
            ),
            Item::text("aa", Point::new(5.0, 5.0), TextStyle::new(Face::Roman, 4.0), Anchor::Start),
        ];
        s
    }

    #[test]
    fn an_outline_is_written_once_and_used_often() {
        let text = document(&scene());
        assert_eq!(text.matches("<path id=").count(), 2, "notehead and a");
        assert_eq!(text.matches("<use ").count(), 3);
        assert!(text.contains("data-bar=\"2\" data-at=\"2.333333\" data-length=\"0.5\""));
        assert!(text.contains("A &lt;b&gt; &amp; &quot;c&quot;"));
    }

    #[test]
    fn inlined_pictures_share_their_outlines() {
        let mut sheet = Outlines::new("riff<>-");
        let one = inline(&scene(), &mut sheet, "one");
        let two = inline(&scene(), &mut sheet, "two");
        assert!(!one.contains("<defs>") && two.contains("id=\"two-t\""));
        assert_eq!(sheet.sheet().matches("<path id=\"riff-").count(), 2);
    }

    #[test]
    fn numbers_are_short_and_never_broken() {
        assert_eq!(number(1.500_04), "1.5");
        assert_eq!(number(-0.000_1), "0");
        assert_eq!(number(f64::NAN), "0");
        assert_eq!(number(10.0), "10");
        assert_eq!(decimal(100.0, 0), "100");
    }
}
