//! Key signatures and the accidentals that a bar needs.

use crate::font::smufl;
use riffkin_score::key::Key;
use std::collections::BTreeMap;

/// Letters C to B, 0 to 6, in the order in which sharps enter a signature; flats enter in the reverse order.
const SHARP_ORDER: [i32; 7] = [3, 0, 4, 1, 5, 2, 6];

/// Staff positions of signature accidentals on the bass staff, in diatonic steps above the middle line
/// (common practice: the treble pattern, two positions lower).
const SHARP_POSITIONS: [i32; 7] = [2, -1, 3, 0, -3, 1, -2];
const FLAT_POSITIONS: [i32; 7] = [-2, 1, -3, 0, -4, -1, -5];

/// The signature of a key: sharps above zero, flats below. `None` when it would need more than seven, and then
/// the staff carries no signature and every alteration stands at its note.
pub(super) fn signature(key: Option<Key>) -> Option<i32> {
    match key {
        None => Some(0),
        Some(k) => k.is_practical().then(|| k.signature()),
    }
}

/// Symbols of a signature with their staff positions, from left to right.
pub(super) fn signature_symbols(signature: i32) -> Vec<(char, i32)> {
    let n = signature.unsigned_abs().min(7) as usize;
    let (symbol, positions) = if signature > 0 {
        (smufl::ACCIDENTAL_SHARP, SHARP_POSITIONS)
    } else {
        (smufl::ACCIDENTAL_FLAT, FLAT_POSITIONS)
    };
    positions.into_iter().take(n).map(|p| (symbol, p)).collect()
}

/// What has been altered so far in a bar.
///
/// An accidental holds to the bar line for its own staff position only; a head tied over from the bar before
/// needs none and alters nothing after it (Gould, *Behind Bars*, 2011, chapter 3; quoted from memory).
pub(super) struct Accidentals {
    signature: [i8; 7],
    bar: BTreeMap<i32, i8>,
}

impl Accidentals {
    pub(super) fn new(signature: i32) -> Self {
        let mut letters = [0i8; 7];
        for k in 0..signature.unsigned_abs().min(7) as usize {
            let (at, by) = if signature > 0 { (k, 1) } else { (6 - k, -1) };
            if let Some(slot) = SHARP_ORDER.get(at).and_then(|&l| letters.get_mut(l as usize)) {
                *slot = by;
            }
        }
        Self { signature: letters, bar: BTreeMap::new() }
    }

    /// A bar line: everything but the signature is forgotten.
    pub(super) fn bar_line(&mut self) {
        self.bar.clear();
    }

    /// The accidental that a head needs, if any. `diatonic` counts letters from C0; `continued` marks a head tied
    /// to the one before it.
    pub(super) fn needed(&mut self, diatonic: i32, alter: i8, continued: bool) -> Option<char> {
        if continued {
            return None;
        }
        let letter = diatonic.rem_euclid(7) as usize;
        let holds =
            self.bar.get(&diatonic).copied().or_else(|| self.signature.get(letter).copied()).unwrap_or(0);
        if holds == alter {
            return None;
        }
        self.bar.insert(diatonic, alter);
        Some(match alter {
            ..=-2 => smufl::ACCIDENTAL_DOUBLE_FLAT,
            -1 => smufl::ACCIDENTAL_FLAT,
            0 => smufl::ACCIDENTAL_NATURAL,
            1 => smufl::ACCIDENTAL_SHARP,
            2.. => smufl::ACCIDENTAL_DOUBLE_SHARP,
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Written bass pitches by letters from C0: E2 16, F2 17, B2 20, F3 24.
    #[test]
    fn accidentals_hold_to_the_bar_line_at_their_place() {
        let mut a = Accidentals::new(0);
        assert_eq!(a.needed(17, 1, false), Some(smufl::ACCIDENTAL_SHARP));
        assert_eq!(a.needed(17, 1, false), None, "still sharp");
        assert_eq!(a.needed(24, 1, false), Some(smufl::ACCIDENTAL_SHARP), "another octave needs its own");
        assert_eq!(a.needed(17, 0, false), Some(smufl::ACCIDENTAL_NATURAL));
        a.bar_line();
        assert_eq!(a.needed(17, 0, false), None);
        assert_eq!(a.needed(17, 1, true), None, "tied over");
        assert_eq!(a.needed(17, 1, false), Some(smufl::ACCIDENTAL_SHARP), "the tie altered nothing");
    }

    #[test]
    fn a_signature_is_known_without_accidentals() {
        // B flat major: B and E flat. D major: F and C sharp.
        let mut flats = Accidentals::new(-2);
        assert_eq!(flats.needed(20, -1, false), None);
        assert_eq!(flats.needed(16, 0, false), Some(smufl::ACCIDENTAL_NATURAL));
        let mut sharps = Accidentals::new(2);
        assert_eq!(sharps.needed(17, 1, false), None);
        assert_eq!(sharps.needed(19, 1, false), Some(smufl::ACCIDENTAL_SHARP));
    }

    #[test]
    fn signatures_stand_where_engravers_put_them() {
        // Bass staff, middle line D3: first sharp on the F line (second from the top), first flat on B2.
        assert_eq!(signature_symbols(1), [(smufl::ACCIDENTAL_SHARP, 2)]);
        assert_eq!(signature_symbols(-2), [(smufl::ACCIDENTAL_FLAT, -2), (smufl::ACCIDENTAL_FLAT, 1)]);
        assert!(signature_symbols(0).is_empty());
        assert_eq!(signature_symbols(99).len(), 7);
        // Each symbol stands at the letter that it alters: position 0 is D, letter 1.
        for n in 1..=7 {
            let mut a = Accidentals::new(n);
            let mut b = Accidentals::new(-n);
            for (symbol, p) in signature_symbols(n) {
                assert_eq!((symbol, a.needed(22 + p, 1, false)), (smufl::ACCIDENTAL_SHARP, None));
            }
            for (symbol, p) in signature_symbols(-n) {
                assert_eq!((symbol, b.needed(22 + p, -1, false)), (smufl::ACCIDENTAL_FLAT, None));
            }
        }
    }
}
