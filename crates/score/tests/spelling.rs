//! Names for notes: by degree in a key, and from MIDI numbers alone.

#![expect(clippy::unwrap_used, reason = "a test that cannot build its own case should stop")]

mod common;

use common::{Seeded, name, riff};
use riffkin_score::analysis::explain::name_by_ear;
use riffkin_score::analysis::ps13;
use riffkin_score::analysis::spell::{respell, spell};
use riffkin_score::degree::Degree;
use riffkin_score::key::{Key, Mode};
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::random::{Recipe, riff_of};

fn midis(text: &str) -> Vec<Midi> {
    text.split_whitespace().map(|p| p.parse::<Pitch>().unwrap().midi()).collect()
}

fn names(pitches: &[Pitch]) -> String {
    pitches.iter().map(|p| p.to_string()).collect::<Vec<_>>().join(" ")
}

/// A line spelled in a key must come back as it was written.
fn keeps(key: &str, line: &str) {
    assert_eq!(names(&spell(&midis(line), Some(key.parse().unwrap()))), line, "in {key}");
}

/// Common practice, no source; the flat fifth and sharp fourth as bass teachers have it.
#[test]
fn chromatic_notes_are_named_by_what_they_do() {
    for key in ["G", "G minor", "G minor pentatonic", "G minor blues", "G major", "G Mixolydian", "G Dorian"]
    {
        keeps(key, "G1 D2 Db2 C2");
        keeps(key, "G1 C2 C#2 D2");
        keeps(key, "G1 C2 C2 C#2 C#2 D2");
    }
    // Neither to 4 nor to 5: the blue note, but the leading note of 5 in major.
    keeps("G minor", "G1 Bb1 Db2 G1");
    keeps("G Mixolydian", "G1 B1 Db2 G1");
    keeps("G major", "G1 D2 C#2 A1");
    // Lydian and Locrian have theirs for good.
    keeps("G Lydian", "G1 D2 C#2 C2");
    keeps("G Locrian", "C2 Db2 D2");
    // Approach from below in sharps, from above in flats.
    keeps("C major", "C2 C#2 D2 G#2 A2");
    keeps("C major", "D2 Db2 C2");
    keeps("C minor", "C2 D2 Db2 C2");
    // A blue third is a third, unless it walks from 2 to 3 in major.
    keeps("C Mixolydian", "C2 Eb2 E2 G2 D2 Eb2 E2");
    keeps("C major", "C2 Eb2 E2 G2 D2 D#2 E2");
    // The raised seventh and sixth of minor by their own letters.
    keeps("E minor", "B1 C#2 D#2 E2 D2 C2 B1");
    keeps("Eb minor", "Eb2 Gb2 Cb2 Db2 D2 Eb2");
    keeps("G# minor", "G#1 F##1 G#1 E2 D#2");
}

/// Every degree of every mode in every practical key gets the mode's own name: the scales of any theory primer
/// (`facts` holds them by their letters).
#[test]
fn diatonic_notes_are_always_right_when_the_key_is_known() {
    let mut checked = 0;
    for mode in Mode::ALL {
        for place in -8..=10 {
            let key = Key::new(PitchName::from_line_of_fifths(place).unwrap(), mode);
            let scale: Vec<PitchName> = mode.degrees().iter().filter_map(|d| d.of(key.tonic)).collect();
            if scale.len() < mode.degrees().len() {
                continue;
            }
            let mut seeded = Seeded(place.unsigned_abs().into());
            let line: Vec<Pitch> =
                (0..40).filter_map(|_| Pitch::new(scale[seeded.below(scale.len())], 2)).collect();
            // The one scale with a degree named by where it goes.
            if mode == Mode::MinorBlues {
                continue;
            }
            let found = spell(&line.iter().map(|p| p.midi()).collect::<Vec<_>>(), Some(key));
            assert_eq!(found, line, "{key}");
            checked += 1;
        }
    }
    assert!(checked > 200);
}

/// Straight from the description of the algorithm, counting every context afresh.
fn slow_ps13(midis: &[Midi]) -> Vec<u8> {
    // A = 0, as the paper counts.
    let chroma: Vec<i32> = midis.iter().map(|m| i32::from(m.number() + 3) % 12).collect();
    let first_morph = [0, 1, 1, 2, 2, 3, 4, 4, 5, 5, 6, 6];
    let scale_morph = [0, 1, 1, 2, 2, 3, 3, 4, 5, 5, 6, 6];
    (0..chroma.len())
        .map(|i| {
            let context = &chroma[i.saturating_sub(10)..(i + 42).min(chroma.len())];
            let mut strength = [0; 7];
            for tonic in 0..12 {
                let tonic_morph = first_morph[chroma[0] as usize]
                    - scale_morph[(chroma[0] - tonic).rem_euclid(12) as usize];
                let morph: i32 = tonic_morph + scale_morph[(chroma[i] - tonic).rem_euclid(12) as usize];
                strength[morph.rem_euclid(7) as usize] += context.iter().filter(|&&c| c == tonic).count();
            }
            let most = strength.iter().max().unwrap();
            // Ties: the letter that stands first from C.
            (2..9).map(|m| m % 7).find(|&m| strength[m] == *most).unwrap() as u8
        })
        .collect()
}

#[test]
fn ps13_agrees_with_a_slow_version() {
    let mut seeded = Seeded(13);
    for _ in 0..200 {
        let n = 1 + seeded.below(120);
        let line: Vec<Midi> = (0..n).filter_map(|_| Midi::new(28 + seeded.below(30) as u8)).collect();
        let letters: Vec<u8> =
            ps13::spell(&line).iter().map(|p| (p.name().step().index() as u8 + 2) % 7).collect();
        let slow = slow_ps13(&line);
        // Ours may move the whole line by a diminished second: every letter by the same step.
        let moves: Vec<u8> = letters.iter().zip(&slow).map(|(a, b)| (a + 7 - b) % 7).collect();
        assert!(moves.iter().all(|&m| m == moves[0] && matches!(m, 0 | 1 | 6)), "{moves:?}");
    }
}

/// Subjects of J. S. Bach as printed: Well-tempered Clavier I, fugues in C minor (BWV 847), G minor (BWV 861)
/// and D sharp minor (BWV 853, first notes), and The Art of Fugue (BWV 1080), here two octaves lower.
#[test]
fn ps13_spells_printed_subjects() {
    for subject in [
        "C3 B2 C3 G2 Ab2 C3 B2 C3 D3 G2 C3 B2 C3 D3 F2 G2 Ab2 G2 F2 Eb2",
        "D2 Eb2 G1 D2 C2 Bb1 A1 G1 F#1 G1 A1 D1 G1 A1 Bb1",
        "D2 A2 F2 D2 C#2 D2 E2 F2 G2 F2 E2 D2",
    ] {
        assert_eq!(names(&spell(&midis(subject), None)), subject);
    }
}

#[test]
fn nothing_one_note_and_the_ends_of_the_range() {
    assert!(spell(&[], None).is_empty());
    for number in [0, 1, 126, 127] {
        let midi = [Midi::new(number).unwrap()];
        for key in [None, Some("Cb major"), Some("B# major"), Some("Cbb minor"), Some("F## Phrygian")] {
            let found = spell(&midi, key.map(|k| k.parse().unwrap()));
            assert_eq!(found[0].midi(), midi[0]);
        }
    }
}

/// Names change, sounds do not, and a name that is right already stays.
#[test]
fn respelling_a_riff_changes_names_only() {
    let plain = riff(None, &["Eb1:2 F#1:2 B1:2 C#2:2"]);
    let key: Key = "Eb minor".parse().unwrap();
    let found = respell(&plain, Some(key));
    assert_eq!(names(&found.line().iter().map(|n| n.note.pitch).collect::<Vec<_>>()), "Eb1 Gb1 Cb2 Db2");
    for seed in 0..80 {
        let wild = riff_of(seed, Recipe::wild(4));
        for key in [None, Some(key), wild.header().key] {
            let found = respell(&wild, key);
            let sound = |r: &riffkin_score::riff::Riff| {
                r.line().iter().map(|n| (n.onset, n.length, n.note.pitch.midi())).collect::<Vec<_>>()
            };
            assert_eq!(sound(&found), sound(&wild));
            assert_eq!(found.header(), wild.header());
            assert_eq!(respell(&found, key), found, "once is enough");
        }
    }
}

#[test]
fn a_riff_from_numbers_is_named_by_the_key_it_seems_to_be_in() {
    let numbers = riff(None, &["Eb2:2 F#2:2 G#2:2 A#2:2", "C#3:2 A#2:2 B2:2 A#2:2", "F#2:2 F2:2 Eb2:4"]);
    let found = name_by_ear(&numbers);
    assert_eq!(found.header().key, None);
    let line = names(&found.line().iter().map(|n| n.note.pitch).collect::<Vec<_>>());
    assert_eq!(line, "Eb2 Gb2 Ab2 Bb2 Db3 Bb2 Cb3 Bb2 Gb2 F2 Eb2");
    assert_eq!(Degree::between(name("Eb"), name("Cb")).unwrap().to_string(), "b6");
}
