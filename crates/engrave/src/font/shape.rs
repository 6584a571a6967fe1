//! Text set in the fonts of this crate: glyphs, kerning, the standard ligatures, widths.
//!
//! One line, left to right, no script other than what the faces hold. A full shaping library would bring
//! Arabic and Devanagari that the faces cannot draw anyway; kerning pairs and `ffi` are 80 lines.

use super::Face;
use super::glyph_outline;
use crate::path::Path;
use crate::units::{Point, Rect};
use std::ops::Range;
use ttf_parser::GlyphId;

/// How a run of text is set.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TextStyle {
    /// The font. [`Face::Music`] is allowed and sets SMuFL symbols as text.
    pub face: Face,
    /// The em in millimetres.
    pub size: f64,
}

impl TextStyle {
    /// `face` with an em of `size` millimetres.
    #[must_use]
    pub const fn new(face: Face, size: f64) -> Self {
        Self { face, size }
    }
}

/// A glyph with its place in the line.
#[derive(Clone, Debug, PartialEq)]
pub struct PlacedGlyph {
    /// The font it comes from; differs from the run's for accidentals and borrowed symbols.
    pub face: Face,
    /// Glyph number in that font.
    pub glyph: u16,
    /// Its em in millimetres.
    pub em: f64,
    /// Millimetres from the start of the line to its origin.
    pub x: f64,
    /// Millimetres from the baseline up to its origin.
    pub raise: f64,
    /// Millimetres from its origin to the next glyph's.
    pub advance: f64,
    /// The bytes of the text that it stands for.
    pub source: Range<usize>,
}

/// A set line of text.
#[derive(Clone, Debug, PartialEq, Default)]
pub struct Shaped {
    /// The glyphs from left to right.
    pub glyphs: Vec<PlacedGlyph>,
    /// Total advance in millimetres.
    pub width: f64,
    /// Characters that no font here can draw, in order, each once. They are drawn as U+FFFD.
    pub missing: Vec<char>,
}

impl Shaped {
    /// The letters as one outline, the line beginning at `start`.
    #[must_use]
    pub fn outline(&self, start: Point) -> Path {
        let mut path = Path::new();
        for g in &self.glyphs {
            path.segments.extend(glyph_outline(g.face, g.glyph, start.shifted(g.x, -g.raise), g.em).segments);
        }
        path
    }

    /// The box of the ink around the start of the baseline, y down, in millimetres.
    #[must_use]
    pub fn ink(&self) -> Rect {
        let mut r = Rect::NOTHING;
        for g in &self.glyphs {
            let Some(loaded) = g.face.loaded() else { continue };
            let Some(b) = loaded.face.glyph_bounding_box(GlyphId(g.glyph)) else { continue };
            let s = g.em / loaded.per_em;
            let [l, bottom, right, top] = [b.x_min, b.y_min, b.x_max, b.y_max].map(|v| f64::from(v) * s);
            r = r.join(Rect::new(g.x + l, -g.raise - top, g.x + right, -g.raise - bottom));
        }
        r
    }
}

/// Accidentals in text come from the music font, since Libertinus has them in one face only: size against the
/// text's em, lift and side bearings in ems of the text. Chosen by eye so that a flat stands on the baseline and is a
/// little taller than a figure, and a sharp is centred on the figure's middle.
struct Accidental {
    scale: f64,
    raise: f64,
    before: f64,
    after: f64,
}

fn accidental(c: char) -> Option<Accidental> {
    let raise = match c {
        '\u{266D}' => 0.165,
        '\u{266E}' | '\u{266F}' => 0.32,
        _ => return None,
    };
    Some(Accidental { scale: 1.2, raise, before: 0.05, after: 0.01 })
}

/// Sets one line. Line feeds and tabs count as spaces.
#[must_use]
pub fn shape(text: &str, style: TextStyle) -> Shaped {
    let mut out = Shaped::default();
    let mut pending: Vec<(GlyphId, Range<usize>)> = Vec::new();
    for (at, c) in text.char_indices() {
        let c = if c.is_control() { ' ' } else { c };
        let source = at..at + c.len_utf8();
        let own = style.face.loaded().and_then(|f| f.face.glyph_index(c)).filter(|g| g.0 != 0);
        if let Some(a) = accidental(c) {
            flush(&mut out, &mut pending, style);
            place_accidental(&mut out, c, &a, style, source);
        } else if let Some(glyph) = own {
            pending.push((glyph, source));
        } else {
            flush(&mut out, &mut pending, style);
            borrow(&mut out, c, style, source);
        }
    }
    flush(&mut out, &mut pending, style);
    out
}

/// Characters of `text` that no font here can draw, each once, in order of appearance.
#[must_use]
pub fn missing_characters(text: &str) -> Vec<char> {
    shape(text, TextStyle::new(Face::Roman, 1.0)).missing
}

/// Sets a stretch of one face with ligatures and kerning.
fn flush(out: &mut Shaped, pending: &mut Vec<(GlyphId, Range<usize>)>, style: TextStyle) {
    let Some(loaded) = style.face.loaded() else { return };
    let scale = style.size / loaded.per_em;
    let ids: Vec<GlyphId> = pending.iter().map(|(g, _)| *g).collect();
    let mut joined: Vec<(GlyphId, Range<usize>)> = Vec::with_capacity(ids.len());
    let mut i = 0;
    while let Some((glyph, source)) = pending.get(i) {
        let rest = ids.get(i..).unwrap_or_default();
        let (glyph, n) = loaded.ligature(rest).unwrap_or((*glyph, 1));
        let end = pending.get(i + n - 1).map_or(source.end, |(_, s)| s.end);
        joined.push((glyph, source.start..end));
        i += n;
    }
    for (i, (glyph, source)) in joined.iter().enumerate() {
        let kern = joined.get(i + 1).map_or(0, |(next, _)| loaded.kerning(*glyph, *next));
        let advance = f64::from(loaded.face.glyph_hor_advance(*glyph).unwrap_or(0)) + f64::from(kern);
        push(out, style.face, *glyph, style.size, 0.0, advance * scale, source.clone());
    }
    pending.clear();
}

fn push(out: &mut Shaped, face: Face, g: GlyphId, em: f64, raise: f64, advance: f64, source: Range<usize>) {
    out.glyphs.push(PlacedGlyph { face, glyph: g.0, em, x: out.width, raise, advance, source });
    out.width += advance;
}

fn place_accidental(out: &mut Shaped, c: char, a: &Accidental, style: TextStyle, source: Range<usize>) {
    let Some(loaded) = Face::Music.loaded() else { return };
    let Some(glyph) = loaded.face.glyph_index(c) else { return };
    let em = style.size * a.scale;
    let advance = f64::from(loaded.face.glyph_hor_advance(glyph).unwrap_or(0)) * em / loaded.per_em;
    let before = a.before * style.size;
    out.width += before;
    if let Some(last) = out.glyphs.last_mut() {
        last.advance += before;
    }
    push(out, Face::Music, glyph, em, a.raise * style.size, advance + a.after * style.size, source);
}

/// A character that the run's face lacks: from another face, or the replacement character.
fn borrow(out: &mut Shaped, c: char, style: TextStyle, source: Range<usize>) {
    let has = |face: Face, c: char| face.loaded().and_then(|f| f.face.glyph_index(c)).filter(|g| g.0 != 0);
    let mut found = None;
    for face in Face::ALL {
        if let Some(g) = has(face, c) {
            found = Some((face, g));
            break;
        }
    }
    if found.is_none() && !out.missing.contains(&c) {
        out.missing.push(c);
    }
    let Some((face, glyph)) = found.or_else(|| has(Face::Roman, '\u{FFFD}').map(|g| (Face::Roman, g))) else {
        return;
    };
    let Some(loaded) = face.loaded() else { return };
    let advance = f64::from(loaded.face.glyph_hor_advance(glyph).unwrap_or(0)) * style.size / loaded.per_em;
    push(out, face, glyph, style.size, 0.0, advance, source);
}

#[cfg(test)]
mod tests {
    use super::*;

    const TEN: TextStyle = TextStyle::new(Face::Roman, 10.0);

    #[test]
    fn a_width_is_the_sum_of_advances_and_kerning() {
        // Advance widths of Libertinus Serif 7.051 read with fontTools from `hmtx`: digits 465 units.
        assert!((shape("3", TEN).width - 4.65).abs() < 1e-9);
        let (av, a, v) = (shape("AV", TEN).width, shape("A", TEN).width, shape("V", TEN).width);
        assert!(av < a + v - 0.1, "kerned");
    }

    #[test]
    fn accidentals_come_from_the_music_font_in_every_face() {
        for face in [Face::Roman, Face::Italic, Face::Bold] {
            let s = shape("\u{266D}3", TextStyle::new(face, 10.0));
            assert_eq!(s.glyphs[0].face, Face::Music);
            assert_eq!(s.glyphs[0].source, 0..3);
            assert_eq!(s.glyphs[1].face, face);
            let ink = s.ink();
            assert!(
                ink.bottom < 0.6 && ink.top > -7.5,
                "stands on the baseline and is as tall as a figure: {ink:?}"
            );
        }
    }

    #[test]
    fn what_no_font_holds_is_named() {
        let s = shape("a\u{6F22}b", TEN);
        assert_eq!(s.missing, ['\u{6F22}']);
        assert_eq!(s.glyphs.len(), 3);
        assert!(missing_characters("Skarvik ♭3 ø å").is_empty());
    }

    #[test]
    fn sources_cover_the_text_in_order() {
        let text = "office ♯4\tå";
        let s = shape(text, TEN);
        let mut end = 0;
        for g in &s.glyphs {
            assert_eq!(g.source.start, end);
            end = g.source.end;
        }
        assert_eq!(end, text.len());
        assert!(s.glyphs.len() < text.chars().count(), "ffi is one glyph");
    }
}
