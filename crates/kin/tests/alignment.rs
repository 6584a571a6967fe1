//! Alignment of intervals and rhythm, checked against plain recursion and against what its operations mean.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test stops where it fails")]

use proptest::prelude::*;
use riffkin_kin::align::{ALONE, Alignment, Extent, PIECES, Step, WEIGHTS, align, align_at, group_cost};
use riffkin_kin::stretches::Stretch;

fn line(pairs: &[(u8, u8)]) -> Vec<Stretch> {
    pairs.iter().map(|&(slot, length)| Stretch { slot, length }).collect()
}

/// The definition, without a table: every way to take stretches off both ends.
fn recursion(here: &[Stretch], there: &[Stretch], shift: u8, extent: Extent) -> u32 {
    let alone = |s: &[Stretch]| -> u32 { s.iter().map(|s| ALONE * u32::from(s.length)).sum() };
    let (n, m) = (here.len(), there.len());
    if n == 0 {
        return if extent == Extent::Part { 0 } else { alone(there) };
    }
    if m == 0 {
        return alone(here);
    }
    let less = |a: usize, b: usize| recursion(&here[..n - a], &there[..m - b], shift, extent);
    let mut ways = vec![less(1, 0) + alone(&here[n - 1..]), less(0, 1) + alone(&there[m - 1..])];
    for p in 1..=PIECES.min(m) {
        ways.push(less(1, p) + group_cost(&here[n - 1..], &there[m - p..], shift));
    }
    for p in 2..=PIECES.min(n) {
        ways.push(less(p, 1) + group_cost(&here[n - p..], &there[m - 1..], shift));
    }
    ways.into_iter().min().unwrap()
}

fn brute(here: &[Stretch], there: &[Stretch], shift: u8, extent: Extent) -> u32 {
    match extent {
        Extent::Whole => recursion(here, there, shift, extent),
        Extent::Part => {
            (0..=there.len()).map(|end| recursion(here, &there[..end], shift, extent)).min().unwrap()
        }
    }
}

fn stretches(most: usize) -> impl Strategy<Value = Vec<Stretch>> {
    let length = prop_oneof![Just(3u8), Just(6), Just(12), Just(4), Just(8), 1..40u8];
    prop::collection::vec((0..12u8, length), 1..=most).prop_map(|pairs| line(&pairs))
}

/// What the steps cost, added up from their meaning.
fn cost_of_steps(found: &Alignment, here: &[Stretch], there: &[Stretch]) -> u32 {
    found
        .steps
        .iter()
        .map(|step| match step {
            Step::Here(i) => u32::from(here[*i].length),
            Step::There(j) => u32::from(there[*j].length),
            Step::Matched { here: a, there: b, cost } => {
                assert_eq!(group_cost(&here[a.clone()], &there[b.clone()], found.shift), *cost);
                *cost
            }
        })
        .sum()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(150))]

    #[test]
    fn equals_plain_recursion(a in stretches(5), b in stretches(5), shift in 0..12u8) {
        for extent in [Extent::Whole, Extent::Part] {
            let found = align_at(&a, &b, shift, extent);
            prop_assert_eq!(found.cost, brute(&a, &b, shift, extent));
            prop_assert_eq!(cost_of_steps(&found, &a, &b), found.cost);
        }
    }

    /// Moved round the octave, exactly the same cost, and the shift says how far.
    #[test]
    fn transposition_changes_nothing(a in stretches(9), b in stretches(9), by in 0..12u8) {
        let moved: Vec<Stretch> = b.iter().map(|s| Stretch { slot: (s.slot + by) % 12, ..*s }).collect();
        for extent in [Extent::Whole, Extent::Part] {
            let (plain, other) = (align(&a, &b, extent), align(&a, &moved, extent));
            prop_assert_eq!(plain.cost, other.cost);
            prop_assert_eq!(align_at(&a, &moved, (plain.shift + by) % 12, extent).cost, plain.cost);
        }
    }

    /// A riff costs nothing against itself; the whole is the same from both sides.
    #[test]
    fn nothing_and_symmetry(a in stretches(9), b in stretches(9)) {
        prop_assert_eq!(align(&a, &a, Extent::Whole).cost, 0);
        prop_assert_eq!(align(&a, &b, Extent::Whole).cost, align(&b, &a, Extent::Whole).cost);
        prop_assert!(align(&a, &b, Extent::Part).cost <= align(&a, &b, Extent::Whole).cost);
    }
}

/// The operations as the paper describes them: one note broken into several of its pitch costs nothing, and so
/// does joining them; another pitch costs its weight for as long as it sounds; length costs the difference.
#[test]
fn what_each_operation_costs() {
    let whole = line(&[(0, 48)]);
    let broken = line(&[(0, 12), (0, 12), (0, 12), (0, 12)]);
    for (a, b) in [(&whole, &broken), (&broken, &whole)] {
        let found = align(a, b, Extent::Whole);
        assert_eq!((found.cost, found.steps.len()), (0, 1), "fragmentation and consolidation");
    }
    // A quarter on the root broken into root and third, eighths: the third sounds for 6 twelfths at weight 1.
    let found = align(&line(&[(0, 12), (7, 12)]), &line(&[(0, 6), (4, 6), (7, 12)]), Extent::Whole);
    assert_eq!(found.cost, 6 * u32::from(WEIGHTS[4]));
    // Replacement: a second dearer than a third; none dearer than leaving out and adding.
    let of = |slot| align_at(&line(&[(0, 12)]), &line(&[(slot, 12)]), 0, Extent::Whole).cost;
    assert_eq!((of(0), of(2), of(4), of(7), of(11)), (0, 24, 12, 12, 24));
    assert!((0..12).all(|s| of(s) <= 24));
    // An inserted note costs its length.
    let found = align(&line(&[(0, 12), (7, 12)]), &line(&[(0, 12), (3, 3), (7, 12)]), Extent::Whole);
    assert_eq!(found.cost, 3);
    assert!(found.steps.contains(&Step::There(1)));
}

/// The weights keep the order of the paper's (from memory: fifth 0.1, third 0.2, sixth 0.35, fourth 0.5, seventh
/// 0.8, second 0.9, a sixteenth of length 0.348), rounded to whole lengths, at least 1.
#[test]
fn weights_are_the_papers_rounded() {
    let paper = [
        (7, 0.1),
        (3, 0.2),
        (4, 0.2),
        (8, 0.35),
        (9, 0.35),
        (5, 0.5),
        (10, 0.8),
        (11, 0.8),
        (1, 0.9),
        (2, 0.9),
    ];
    for (semitones, theirs) in paper {
        let rounded = (theirs / 0.348f64).round().clamp(1.0, 2.0) as u8;
        assert_eq!(WEIGHTS[semitones], rounded, "{semitones} semitones");
    }
}

#[test]
fn what_is_in_common_is_found() {
    let a = line(&[(0, 12), (3, 6), (5, 6), (0, 24)]);
    let b = line(&[(2, 12), (0, 12), (3, 6), (5, 6), (0, 24)]);
    let found = align(&a, &b, Extent::Whole);
    assert_eq!((found.cost, found.shift), (12, 0));
    let common = found.common();
    assert_eq!((common[0].here.clone(), common[0].there.clone()), (0..4, 1..5));
    assert_eq!(found.differing(), (0, 1, 0));
    // A snippet from the middle, two semitones higher.
    let part = align(
        &line(&[(2, 6), (5, 6), (7, 6)]),
        &line(&[(7, 12), (0, 6), (3, 6), (5, 6), (9, 48)]),
        Extent::Part,
    );
    assert_eq!((part.cost, part.shift, part.common()[0].there.clone()), (0, 10, 1..4));
}
