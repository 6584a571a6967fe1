//! The fonts inside the program. Nothing is ever read from the system, so a page looks the same everywhere.

mod outline;
mod shape;
pub mod smufl;

pub use outline::{glyph_outline, symbol_bounds, symbol_outline};
pub use shape::{PlacedGlyph, Shaped, TextStyle, missing_characters, shape};

use std::sync::LazyLock;
use ttf_parser::gpos::{PairAdjustment, PositioningSubtable};
use ttf_parser::gsub::{LigatureSubstitution, SubstitutionSubtable};
use ttf_parser::{GlyphId, Tag};

/// A font of this crate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Face {
    /// Libertinus Serif.
    Roman,
    /// Libertinus Serif Italic.
    Italic,
    /// Libertinus Serif Bold.
    Bold,
    /// Bravura: music symbols after SMuFL, and the flat, sharp and natural of every text.
    Music,
}

impl Face {
    /// All fonts, in a fixed order.
    pub const ALL: [Self; 4] = [Self::Roman, Self::Italic, Self::Bold, Self::Music];

    /// The whole font file.
    #[must_use]
    pub fn bytes(self) -> &'static [u8] {
        match self {
            Self::Roman => include_bytes!("../../../../assets/fonts/libertinus/LibertinusSerif-Regular.otf"),
            Self::Italic => include_bytes!("../../../../assets/fonts/libertinus/LibertinusSerif-Italic.otf"),
            Self::Bold => include_bytes!("../../../../assets/fonts/libertinus/LibertinusSerif-Bold.otf"),
            Self::Music => include_bytes!("../../../../assets/fonts/bravura/Bravura.otf"),
        }
    }

    /// A short name for identifiers in files.
    #[must_use]
    pub const fn key(self) -> &'static str {
        match self {
            Self::Roman => "r",
            Self::Italic => "i",
            Self::Bold => "b",
            Self::Music => "m",
        }
    }

    pub(crate) fn loaded(self) -> Option<&'static Loaded> {
        static LOADED: LazyLock<[Option<Loaded>; 4]> = LazyLock::new(|| Face::ALL.map(Loaded::new));
        LOADED.get(self as usize).and_then(Option::as_ref)
    }
}

/// A parsed font with the two OpenType features we apply: pair kerning and the standard ligatures.
pub(crate) struct Loaded {
    pub(crate) face: ttf_parser::Face<'static>,
    pub(crate) per_em: f64,
    pairs: Vec<Vec<PairAdjustment<'static>>>,
    ligatures: Vec<LigatureSubstitution<'static>>,
}

impl Loaded {
    fn new(which: Face) -> Option<Self> {
        let face = ttf_parser::Face::parse(which.bytes(), 0).ok()?;
        let per_em = f64::from(face.units_per_em());
        let (mut pairs, mut ligatures) = (Vec::new(), Vec::new());
        if which != Face::Music {
            if let Some(table) = face.tables().gpos {
                for lookup in lookups(&table, b"kern") {
                    let subtables = lookup.subtables.into_iter::<PositioningSubtable<'static>>();
                    let of_pairs = subtables.filter_map(|s| match s {
                        PositioningSubtable::Pair(p) => Some(p),
                        _ => None,
                    });
                    pairs.push(of_pairs.collect());
                }
            }
            if let Some(table) = face.tables().gsub {
                for lookup in lookups(&table, b"liga") {
                    for sub in lookup.subtables.into_iter::<SubstitutionSubtable<'static>>() {
                        if let SubstitutionSubtable::Ligature(l) = sub {
                            ligatures.push(l);
                        }
                    }
                }
            }
        }
        Some(Self { face, per_em, pairs, ligatures })
    }

    /// Kerning between two neighbours, in font units (mostly negative). OpenType 1.9, GPOS lookup type 2: in each
    /// lookup the first subtable that covers the first glyph and knows the second decides; lookups add up.
    pub(crate) fn kerning(&self, first: GlyphId, second: GlyphId) -> i16 {
        self.pairs.iter().map(|lookup| kerning_in(lookup, first, second)).fold(0, i16::saturating_add)
    }

    /// The longest standard ligature that `glyphs` begin with, and how many glyphs it swallows.
    pub(crate) fn ligature(&self, glyphs: &[GlyphId]) -> Option<(GlyphId, usize)> {
        let first = *glyphs.first()?;
        let mut best: Option<(GlyphId, usize)> = None;
        for table in &self.ligatures {
            let Some(set) = table.coverage.get(first).and_then(|i| table.ligature_sets.get(i)) else {
                continue;
            };
            for i in 0..set.len() {
                let Some(l) = set.get(i) else { continue };
                let n = usize::from(l.components.len());
                let fits = glyphs.get(1..=n).is_some_and(|rest| rest.iter().copied().eq(l.components));
                if fits && best.is_none_or(|(_, m)| n + 1 > m) {
                    best = Some((l.glyph, n + 1));
                }
            }
        }
        best
    }
}

fn kerning_in(lookup: &[PairAdjustment<'static>], first: GlyphId, second: GlyphId) -> i16 {
    for pair in lookup {
        let Some(index) = pair.coverage().get(first) else { continue };
        let found = match pair {
            PairAdjustment::Format1 { sets, .. } => sets.get(index).and_then(|set| set.get(second)),
            PairAdjustment::Format2 { classes, matrix, .. } => {
                matrix.get((classes.0.get(first), classes.1.get(second)))
            }
        };
        if let Some((value, _)) = found {
            return value.x_advance;
        }
    }
    0
}

/// The lookups of one feature, each once, in lookup order, for Latin script or the default.
fn lookups<'a>(
    table: &ttf_parser::opentype_layout::LayoutTable<'a>,
    feature: &[u8; 4],
) -> Vec<ttf_parser::opentype_layout::Lookup<'a>> {
    let script =
        table.scripts.find(Tag::from_bytes(b"latn")).or_else(|| table.scripts.find(Tag::from_bytes(b"DFLT")));
    let Some(language) = script.and_then(|s| s.default_language) else { return Vec::new() };
    let mut indices: Vec<u16> = language
        .feature_indices
        .into_iter()
        .filter_map(|i| table.features.get(i))
        .filter(|f| f.tag == Tag::from_bytes(feature))
        .flat_map(|f| f.lookup_indices)
        .collect();
    indices.sort_unstable();
    indices.dedup();
    indices.into_iter().filter_map(|i| table.lookups.get(i)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_font_parses_and_may_be_embedded() {
        for face in Face::ALL {
            let loaded = face.loaded().expect("font parses");
            assert_eq!(loaded.per_em, 1000.0);
            // OS/2 fsType 0: installable embedding (OpenType 1.9, OS/2 table).
            assert_eq!(loaded.face.permissions(), Some(ttf_parser::Permissions::Installable), "{face:?}");
        }
    }

    #[test]
    fn reserved_names_stand_over_unmodified_files() {
        let name = |f: Face| {
            let names = f.loaded().expect("parses").face.names();
            names.into_iter().filter(|n| n.name_id == 5).find_map(|n| n.to_string()).unwrap_or_default()
        };
        assert_eq!(name(Face::Music), "Version 1.392");
        assert_eq!(name(Face::Roman), "Version 7.051;RELEASE");
        assert_eq!(Face::Music.bytes().len(), 512_924);
    }

    #[test]
    fn kerning_and_ligatures_are_found() {
        let roman = Face::Roman.loaded().expect("parses");
        let g = |c| roman.face.glyph_index(c).expect("has the letter");
        assert!(roman.kerning(g('A'), g('V')) < 0, "A V is the textbook pair");
        assert_eq!(roman.kerning(g('n'), g('n')), 0);
        let (_, n) = roman.ligature(&[g('f'), g('f'), g('i')]).expect("ffi is a standard ligature");
        assert_eq!(n, 3);
        assert!(roman.ligature(&[g('n'), g('i')]).is_none());
    }
}
