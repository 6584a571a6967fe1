//! The ps13s1 pitch spelling algorithm: names for notes of which only the MIDI number is known.
//!
//! David Meredith, "The ps13 pitch spelling algorithm", Journal of New Music Research 35:2 (2006), 121-159;
//! stage 1 only, with the published context of 10 notes before and 42 from the note on (values from memory).
//! For every note, each of the twelve chromas, taken as tonic, proposes a letter: the one the note has in that
//! tonic's harmonic chromatic scale, the tonics' own letters being fixed by the first note of all. A letter's
//! strength is the number of times, in the context, that the chromas which propose it sound; the strongest
//! wins.
//!
//! The algorithm fixes letters only relative to the first note, so we add a last step that the paper does not
//! have: all names are moved together by a diminished second where that brings them nearer to the naturals.

use crate::pitch::{Midi, Pitch, PitchName, Step};

/// Notes of context before each note.
pub const BEFORE: usize = 10;
/// Notes of context from each note on, itself counted.
pub const FROM: usize = 42;

/// Letters above the tonic of the twelve chromas above it: the harmonic chromatic scale
/// `1 b2 2 b3 3 4 #4 5 b6 6 b7 7`.
const LETTERS_ABOVE: [i32; 12] = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
/// The first note's letter from its pitch class (C = 0): `C C# D Eb E F F# G G# A Bb B`.
const FIRST_LETTER: [i32; 12] = [0, 0, 1, 2, 2, 3, 3, 4, 4, 5, 6, 6];

/// Spells a line given in time order.
pub fn spell(midis: &[Midi]) -> Vec<Pitch> {
    let chroma: Vec<usize> = midis.iter().map(|m| usize::from(m.number() % 12)).collect();
    let Some(&first) = chroma.first() else { return Vec::new() };
    // The letter of each chroma as a tonic, fixed by the first note.
    let tonic_letter = |tonic: usize| FIRST_LETTER[first] - LETTERS_ABOVE[(first + 12 - tonic) % 12];
    let mut counts = [0u32; 12];
    chroma.iter().take(FROM).for_each(|&c| counts[c] += 1);
    let mut letters: Vec<i32> = Vec::with_capacity(chroma.len());
    for (i, &own) in chroma.iter().enumerate() {
        if i > 0 {
            if let Some(&enters) = chroma.get(i + FROM - 1) {
                counts[enters] += 1;
            }
            if i > BEFORE {
                counts[chroma[i - BEFORE - 1]] -= 1;
            }
        }
        let mut strength = [0u32; 7];
        for (tonic, count) in counts.iter().enumerate() {
            let letter = tonic_letter(tonic) + LETTERS_ABOVE[(own + 12 - tonic) % 12];
            strength[letter.rem_euclid(7) as usize] += count;
        }
        let most = strength.iter().max().copied().unwrap_or_default();
        let letter = strength.iter().position(|&s| s == most).unwrap_or_default();
        letters.push(letter as i32);
    }
    let places: Vec<i32> =
        letters.iter().zip(&chroma).map(|(&letter, &c)| place(Step::from_index(letter), c as i32)).collect();
    let far = |moved: i32| places.iter().map(|p| i64::from((p + moved - 2).abs())).sum::<i64>();
    let moved = [0, -12, 12].into_iter().min_by_key(|&m| far(m)).unwrap_or_default();
    midis
        .iter()
        .zip(places)
        .map(|(&midi, place)| named(midi, PitchName::from_line_of_fifths(place + moved)))
        .collect()
}

/// Place on the line of fifths of a chroma written with a letter, with the smallest alteration that does it.
fn place(letter: Step, chroma: i32) -> i32 {
    let alter = (chroma - letter.semitones() + 6).rem_euclid(12) - 6;
    PitchName::natural(letter).line_of_fifths() + 7 * alter
}

/// The pitch of a MIDI number under a name, or under its simplest name when that does not go.
pub(crate) fn named(midi: Midi, name: Option<PitchName>) -> Pitch {
    name.and_then(|name| Pitch::from_midi(midi, name)).unwrap_or(Pitch::simplest(midi))
}
