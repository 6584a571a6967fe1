//! The set class of a riff's material: which sets are the same up to transposition and inversion.
//!
//! An aside for the curious and a check on the degree sets. It is the wrong tool for "made of the same degrees": it
//! takes major and minor triads for one thing, and all seven modes for another.

use crate::degree::DegreeSet;

/// The prime form: the set turned, moved and mirrored to its most packed shape, from 0 upwards.
///
/// Packed as Forte has it (The Structure of Atonal Music, 1973, section 1.2): the smallest span first, then the smallest
/// second number, then the third, and so on. Rahn (1980) compares from the other end and differs for six classes.
pub fn prime_form(set: DegreeSet) -> Vec<u8> {
    let mirrored = DegreeSet::from_slots(set.slots().map(|slot| (12 - slot) % 12));
    [set, mirrored]
        .into_iter()
        .flat_map(|shape| shape.slots().map(move |start| shape.seen_from(start).slots().collect::<Vec<_>>()))
        .min_by_key(|form| (form.last().copied(), form.clone()))
        .unwrap_or_default()
}

/// How many pairs of the set lie 1, 2, … 6 semitones apart, the shorter way round (Forte 1973, section 1.5).
pub fn interval_vector(set: DegreeSet) -> [u8; 6] {
    let mut vector = [0; 6];
    for low in set.slots() {
        for high in set.slots().filter(|&high| high > low) {
            let apart = (high - low).min(12 - (high - low));
            vector[usize::from(apart) - 1] += 1;
        }
    }
    vector
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::key::Mode;

    fn text(set: DegreeSet) -> (String, String) {
        let form = prime_form(set).iter().map(|s| format!("{s:X}")).collect();
        (form, interval_vector(set).iter().map(u8::to_string).collect())
    }

    /// Forte's table of set classes as music21 10.5 ships it.
    #[test]
    fn classes_of_common_material() {
        for (slots, form, vector) in [
            (&[0, 7][..], "05", "000010"),
            (&[0, 4, 7], "037", "001110"),
            (&[0, 3, 7], "037", "001110"),
            (&[0, 3, 6], "036", "002001"),
            (&[0, 4, 8], "048", "000300"),
            (&[0, 4, 7, 11], "0158", "101220"),
            (&[0, 3, 7, 10], "0358", "012120"),
            (&[0, 4, 7, 10], "0258", "012111"),
            (&[0, 3, 6, 10], "0258", "012111"),
            (&[0, 3, 6, 9], "0369", "004002"),
            (&[0, 3, 7, 11], "0148", "101310"),
            (&[0, 3, 5, 7, 9], "02469", "032221"),
            (&[0, 2, 3, 7, 8], "01378", "211231"),
            (&[0, 1, 5, 7, 10], "01368", "122131"),
            (&[0, 2, 3, 5, 7, 10], "024579", "143250"),
            (&[0, 2, 4, 6, 8, 10], "02468A", "060603"),
            (&[0, 1, 3, 4, 6, 7, 9, 10], "0134679A", "448444"),
            (&[0, 2, 3, 6, 7, 8, 11], "0125689", "424542"),
            (&[0, 2, 4, 5, 7, 9, 10, 11], "0123578A", "465472"),
        ] {
            let set = DegreeSet::from_slots(slots.iter().copied());
            assert_eq!(text(set), (form.to_owned(), vector.to_owned()), "{slots:?}");
        }
    }

    /// The same table: all diatonic modes are 7-35, both pentatonics 5-35, both blues scales 6-Z47.
    #[test]
    fn classes_of_the_scales() {
        for mode in Mode::ALL {
            let (form, vector) = match mode {
                Mode::MajorPentatonic | Mode::MinorPentatonic => ("02479", "032140"),
                Mode::MajorBlues | Mode::MinorBlues => ("012479", "233241"),
                Mode::HarmonicMinor | Mode::PhrygianDominant => ("0134689", "335442"),
                Mode::MelodicMinor => ("013468A", "254442"),
                _ => ("013568A", "254361"),
            };
            assert_eq!(text(mode.set()), (form.to_owned(), vector.to_owned()), "{mode}");
        }
    }

    #[test]
    fn nothing_has_an_empty_form() {
        assert_eq!(text(DegreeSet::EMPTY), (String::new(), "000000".to_owned()));
    }
}
