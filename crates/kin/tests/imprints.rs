//! Imprints of riffs: what they keep, and that any bytes are answered.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test stops where it fails")]

use proptest::prelude::*;
use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::kinship::Kinship;
use riffkin_score::analysis::explain::explain;
use riffkin_score::random::{self, Recipe};
use riffkin_score::transpose::{nearest, transpose};

fn imprint(riff: &riffkin_score::riff::Riff) -> Imprint {
    Imprint::explained(riff, None, &Neck::named("four").unwrap()).unwrap()
}

#[test]
fn degrees_are_those_of_the_explanation() {
    for seed in 0..40 {
        let riff = random::riff(seed, 4);
        assert_eq!(imprint(&riff).set(), explain(&riff, None).set(), "seed {seed}");
    }
}

/// The same riff in another key: the same degrees, intervals, rhythm and likeness, exactly.
#[test]
fn another_key_is_the_same_riff() {
    let mut moved_at_all = 0;
    for seed in 0..30 {
        let riff = random::riff_of(seed, Recipe { ties: true, tuplets: true, ..Recipe::plain(3) });
        let Some(key) = riff.header().key else { continue };
        for to in ["A", "Eb", "F#"] {
            let Ok((moved, _)) = transpose(&riff, nearest(key.tonic, to.parse().unwrap())) else { continue };
            let (a, b) = (imprint(&riff), imprint(&moved));
            if a.notes().is_empty() {
                continue;
            }
            moved_at_all += 1;
            assert_eq!(a.likeness(), b.likeness());
            let kin = Kinship::between(&a, &b);
            assert_eq!(kin.degrees.words(), "the same degrees");
            assert_eq!(kin.tune.as_ref().map(|t| (t.cost, t.higher)), Some((0, 0)));
            assert!(kin.rhythm.is_some_and(|r| r.is_same()));
        }
    }
    assert!(moved_at_all > 60, "{moved_at_all}");
}

#[test]
fn other_notes_or_other_lengths_are_another_riff() {
    let text = |notes: &str| riffkin_score_text(notes);
    let likeness = |i: Imprint| i.likeness().unwrap();
    let plain = likeness(text("31:0:12 34:12:12 36:24:24"));
    assert_eq!(plain, likeness(text("43:0:12 46:12:12 48:24:24")), "an octave up");
    assert_ne!(plain, likeness(text("31:0:12 34:12:12 38:24:24")), "another note");
    assert_ne!(plain, likeness(text("31:0:12 34:12:12 36:24:12")), "another length");
    assert_ne!(plain, likeness(text("31:0:12 34:18:6 36:24:24")), "another onset");
    assert_eq!(text("").likeness(), None);
}

/// `midi:onset:length` in twelfths of a quarter.
fn riffkin_score_text(notes: &str) -> Imprint {
    let tick = riffkin_kin::imprint::TICKS_PER_QUARTER / 12;
    let note = |word: &str| {
        let n: Vec<u32> = word.split(':').map(|n| n.parse().unwrap()).collect();
        riffkin_kin::imprint::Trace { midi: n[0] as u8, onset: n[1] * tick, length: n[2] * tick }
    };
    Imprint::new(notes.split_whitespace().map(note).collect(), Some(7), 0, None).unwrap()
}

#[test]
fn bytes_come_back_as_they_went() {
    for seed in 0..60 {
        let made = imprint(&random::riff_of(seed, Recipe::full(5)));
        let bytes = made.to_bytes();
        assert_eq!(Imprint::from_bytes(&bytes).as_ref(), Ok(&made), "seed {seed}");
        for cut in 0..bytes.len() {
            assert!(Imprint::from_bytes(&bytes[..cut]).is_err(), "cut at {cut}");
        }
        let mut more = bytes.clone();
        more.push(0);
        assert!(Imprint::from_bytes(&more).is_err());
        let mut newer = bytes;
        newer[0] = 2;
        assert!(Imprint::from_bytes(&newer).unwrap_err().to_string().contains("version 2"));
    }
}

proptest! {
    #[test]
    fn any_bytes_are_answered(mut bytes in prop::collection::vec(any::<u8>(), 0..200), flags in 0..8u8) {
        if let [version, set, ..] = bytes.as_mut_slice() {
            (*version, *set) = (1, flags);
        }
        if let Ok(made) = Imprint::from_bytes(&bytes) {
            prop_assert_eq!(Imprint::from_bytes(&made.to_bytes()), Ok(made));
        }
    }

    /// A good imprint with one byte changed.
    #[test]
    fn a_changed_byte_is_answered(seed in 0..50u64, at in any::<prop::sample::Index>(), to in any::<u8>()) {
        let mut bytes = imprint(&random::riff(seed, 2)).to_bytes();
        let at = at.index(bytes.len());
        bytes[at] = to;
        if let Ok(made) = Imprint::from_bytes(&bytes) {
            prop_assert_eq!(Imprint::from_bytes(&made.to_bytes()), Ok(made));
        }
    }
}

/// The seeds of the fuzz target are read, so that it starts from good imprints.
#[test]
fn a_written_layout_is_read() {
    let bytes = [1, 6, 7, 0x90, 0x0d, 4, 3, 31, 0, 1, 34, 1, 1, 36, 1, 1, 3, 0, 0, 0, 0, 0, 3, 1, 0, 0];
    let made = Imprint::from_bytes(&bytes).unwrap();
    assert_eq!(made.set().to_string(), "1 b3 4");
    assert_eq!(made.hand().unwrap().to_string(), "0:0 0:3 1:0");
    assert_eq!((made.length(), made.notes()[2].onset), (4 * 1680, 2 * 1680));
    assert_eq!(made.to_bytes(), bytes);
}

/// Counted from the first fretted note, a step may lie too far away though it did not as it was written.
#[test]
fn hand_steps_too_far_apart_are_refused() {
    let bytes = [1, 6, 7, 0x4d, 0, 0, 3, 0, 2, 1, 0xfb, 2, 0, 8, 0, 0];
    assert!(Imprint::from_bytes(&bytes).unwrap_err().to_string().contains("hand shape"));
}
