//! Music symbols by their SMuFL code points, and the font's engraving defaults.
//!
//! Code points: *Standard Music Font Layout*, version 1.4 (W3C Music Notation Community Group, 2021), chapter 4.
//! Lengths and anchors: `bravura_metadata.json` of Bravura 1.392, objects `engravingDefaults`, `glyphsWithAnchors`
//! and `glyphBBoxes`. All lengths in staff spaces; SMuFL's y axis points up.

#![allow(
    missing_docs,
    reason = "each constant is the SMuFL name of a symbol; the standard shows and describes it"
)]

pub const REPEAT_DOT: char = '\u{E044}';
pub const F_CLEF: char = '\u{E062}';
pub const TIME_SIG_0: char = '\u{E080}';
pub const NOTEHEAD_DOUBLE_WHOLE: char = '\u{E0A0}';
pub const NOTEHEAD_WHOLE: char = '\u{E0A2}';
pub const NOTEHEAD_HALF: char = '\u{E0A3}';
pub const NOTEHEAD_BLACK: char = '\u{E0A4}';
pub const NOTEHEAD_X_WHOLE: char = '\u{E0A7}';
pub const NOTEHEAD_X_HALF: char = '\u{E0A8}';
pub const NOTEHEAD_X_BLACK: char = '\u{E0A9}';
pub const NOTEHEAD_DIAMOND_WHOLE: char = '\u{E0D8}';
pub const NOTEHEAD_DIAMOND_HALF: char = '\u{E0D9}';
pub const NOTEHEAD_DIAMOND_BLACK: char = '\u{E0DB}';
pub const NOTEHEAD_PARENTHESIS_LEFT: char = '\u{E0F5}';
pub const NOTEHEAD_PARENTHESIS_RIGHT: char = '\u{E0F6}';
pub const AUGMENTATION_DOT: char = '\u{E1E7}';
pub const FLAG_8TH_UP: char = '\u{E240}';
pub const FLAG_8TH_DOWN: char = '\u{E241}';
pub const FLAG_16TH_UP: char = '\u{E242}';
pub const FLAG_16TH_DOWN: char = '\u{E243}';
pub const FLAG_32ND_UP: char = '\u{E244}';
pub const FLAG_32ND_DOWN: char = '\u{E245}';
pub const FLAG_64TH_UP: char = '\u{E246}';
pub const FLAG_64TH_DOWN: char = '\u{E247}';
pub const FLAG_128TH_UP: char = '\u{E248}';
pub const FLAG_128TH_DOWN: char = '\u{E249}';
pub const ACCIDENTAL_FLAT: char = '\u{E260}';
pub const ACCIDENTAL_NATURAL: char = '\u{E261}';
pub const ACCIDENTAL_SHARP: char = '\u{E262}';
pub const ACCIDENTAL_DOUBLE_SHARP: char = '\u{E263}';
pub const ACCIDENTAL_DOUBLE_FLAT: char = '\u{E264}';
pub const ACCENT_ABOVE: char = '\u{E4A0}';
pub const ACCENT_BELOW: char = '\u{E4A1}';
pub const STACCATO_ABOVE: char = '\u{E4A2}';
pub const STACCATO_BELOW: char = '\u{E4A3}';
pub const REST_DOUBLE_WHOLE: char = '\u{E4E2}';
pub const REST_WHOLE: char = '\u{E4E3}';
pub const REST_HALF: char = '\u{E4E4}';
pub const REST_QUARTER: char = '\u{E4E5}';
pub const REST_8TH: char = '\u{E4E6}';
pub const REST_16TH: char = '\u{E4E7}';
pub const REST_32ND: char = '\u{E4E8}';
pub const REST_64TH: char = '\u{E4E9}';
pub const REST_128TH: char = '\u{E4EA}';
pub const TUPLET_0: char = '\u{E880}';
pub const WIGGLE_VIBRATO: char = '\u{EADE}';
pub const MET_NOTE_HALF_UP: char = '\u{ECA3}';
pub const MET_NOTE_QUARTER_UP: char = '\u{ECA5}';
pub const MET_NOTE_8TH_UP: char = '\u{ECA7}';
pub const MET_NOTE_16TH_UP: char = '\u{ECA9}';
pub const MET_AUGMENTATION_DOT: char = '\u{ECB7}';
/// The time signature digit `digit % 10`.
#[must_use]
pub fn time_sig_digit(digit: u32) -> char {
    offset(TIME_SIG_0, digit % 10)
}

/// The tuplet digit `digit % 10`.
#[must_use]
pub fn tuplet_digit(digit: u32) -> char {
    offset(TUPLET_0, digit % 10)
}

fn offset(base: char, by: u32) -> char {
    char::from_u32(base as u32 + by).unwrap_or(base)
}

/// `engravingDefaults` of `bravura_metadata.json` (Bravura 1.392), in staff spaces.
pub mod defaults {
    pub const BEAM_SPACING: f64 = 0.25;
    pub const BEAM_THICKNESS: f64 = 0.5;
    pub const BARLINE_SEPARATION: f64 = 0.4;
    pub const LEGER_LINE_EXTENSION: f64 = 0.4;
    pub const LEGER_LINE_THICKNESS: f64 = 0.16;
    pub const REPEAT_BARLINE_DOT_SEPARATION: f64 = 0.16;
    pub const REPEAT_ENDING_LINE_THICKNESS: f64 = 0.16;
    pub const SLUR_ENDPOINT_THICKNESS: f64 = 0.1;
    pub const SLUR_MIDPOINT_THICKNESS: f64 = 0.22;
    pub const STAFF_LINE_THICKNESS: f64 = 0.13;
    pub const STEM_THICKNESS: f64 = 0.12;
    pub const THICK_BARLINE_THICKNESS: f64 = 0.5;
    pub const THIN_BARLINE_THICKNESS: f64 = 0.16;
    pub const TIE_ENDPOINT_THICKNESS: f64 = 0.1;
    pub const TIE_MIDPOINT_THICKNESS: f64 = 0.22;
    pub const TUPLET_BRACKET_THICKNESS: f64 = 0.16;
}

/// Where a stem meets a notehead, in staff spaces from the head's origin, y up: `stemUpSE` for a stem up (its right
/// edge), `stemDownNW` for a stem down (its left edge). From `glyphsWithAnchors`.
#[must_use]
pub fn stem_anchor(head: char, up: bool) -> (f64, f64) {
    match (head, up) {
        (NOTEHEAD_X_BLACK, true) => (1.16, 0.444),
        (NOTEHEAD_X_BLACK, false) => (0.0, -0.44),
        (NOTEHEAD_X_HALF, true) => (1.336, 0.412),
        (NOTEHEAD_X_HALF, false) => (0.0, -0.412),
        (NOTEHEAD_DIAMOND_BLACK | NOTEHEAD_DIAMOND_HALF, true) => (1.0, 0.0),
        (NOTEHEAD_DIAMOND_BLACK | NOTEHEAD_DIAMOND_HALF, false) => (0.0, 0.0),
        (_, true) => (1.18, 0.168),
        (_, false) => (0.0, -0.168),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::font::symbol_bounds;

    /// Boxes from `glyphBBoxes` of `bravura_metadata.json`, Bravura 1.392: south-west x, y, north-east x, y.
    const BOXES: [(char, f64, f64, f64, f64); 6] = [
        (NOTEHEAD_BLACK, 0.0, -0.5, 1.18, 0.5),
        (NOTEHEAD_WHOLE, 0.0, -0.5, 1.688, 0.5),
        (NOTEHEAD_X_BLACK, 0.0, -0.5, 1.16, 0.5),
        (FLAG_8TH_UP, 0.0, -3.240_768, 1.056, 0.035_212),
        (FLAG_16TH_DOWN, -0.000_019, -0.036_01, 1.163_58, 3.248_025),
        (NOTEHEAD_PARENTHESIS_RIGHT, -0.144, -0.724, 0.292, 0.724),
    ];

    #[test]
    fn code_points_name_the_symbols_of_the_metadata() {
        for (symbol, left, bottom, right, top) in BOXES {
            let b = symbol_bounds(symbol);
            // The font's own box takes in control points, hence a wider tolerance than the 1/250 of a font unit.
            for (got, want) in [(b.left, left), (-b.bottom, bottom), (b.right, right), (-b.top, top)] {
                assert!((got - want).abs() < 0.03, "{:X}: {got} is not {want}", symbol as u32);
            }
        }
    }

    #[test]
    fn digits_stay_in_their_ranges() {
        assert_eq!(time_sig_digit(9), '\u{E089}');
        assert_eq!(tuplet_digit(13), '\u{E883}');
    }
}
