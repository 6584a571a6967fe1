//! The index against reading every riff.

#![allow(clippy::unwrap_used, clippy::expect_used, reason = "a test stops where it fails")]

#[allow(dead_code, reason = "the example uses the rest of it")]
#[path = "../examples/million/shelf.rs"]
mod shelf;

use std::collections::BTreeMap;

use proptest::prelude::*;
use riffkin_kin::align::{Extent, align};
use riffkin_kin::degrees::Degrees;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::index::{Hit, Index};
use riffkin_kin::stretches::Stretches;
use riffkin_score::degree::DegreeSet;
use shelf::Dice;

fn nearest(shelf: &BTreeMap<u64, Imprint>, query: &Stretches, extent: Extent, wanted: usize) -> Vec<Hit> {
    let mut hits: Vec<Hit> = shelf
        .iter()
        .map(|(&number, imprint)| (number, Stretches::of(imprint)))
        .filter(|(_, there)| !there.line().is_empty())
        .map(|(number, there)| {
            let found = align(query.line(), there.line(), extent);
            Hit { cost: found.cost, number, higher: found.shift }
        })
        .collect();
    hits.sort();
    hits.truncate(wanted);
    hits
}

fn numbers(found: &[riffkin_kin::index::Kindred<'_>]) -> Vec<u64> {
    let mut all: Vec<u64> = found.iter().flat_map(|k| k.numbers).copied().collect();
    all.sort_unstable();
    all
}

fn check(index: &Index, shelf: &BTreeMap<u64, Imprint>, seed: u64, queries: usize) {
    let mut dice = Dice(seed);
    for i in 0..queries {
        let line = shelf::family(&mut dice);
        let stranger = shelf::imprint(&line, 2);
        let known = shelf.values().nth(dice.below(shelf.len()));
        let query = Stretches::of(known.filter(|_| i % 2 == 0).unwrap_or(&stranger));
        for extent in [Extent::Whole, Extent::Part] {
            for wanted in [1, 7] {
                let found = index.nearest(&query, extent, wanted).hits;
                assert_eq!(found, nearest(shelf, &query, extent, wanted), "query {i}, {extent:?}, {wanted}");
            }
        }
        let set = stranger.set();
        let by = |pass: &dyn Fn(DegreeSet) -> bool| -> Vec<u64> {
            shelf.iter().filter(|(_, i)| pass(i.set())).map(|(&n, _)| n).collect()
        };
        assert_eq!(numbers(&index.with_degrees(set)), by(&|s| s == set));
        assert_eq!(numbers(&index.within(set)), by(&|s| s.is_within(set)));
        assert_eq!(numbers(&index.holding(set)), by(&|s| set.is_within(s)));
        assert_eq!(numbers(&index.near(set, 1)), by(&|s| Degrees::between(set, s).steps_apart() <= 1));
        let slots: Vec<u8> = query.line().iter().take(3).map(|s| s.slot).collect();
        let in_order: Vec<u64> = shelf
            .iter()
            .filter(|(_, imprint)| {
                let line: Vec<u8> = Stretches::of(imprint).line().iter().map(|s| s.slot).collect();
                line.windows(slots.len()).any(|w| w == slots)
            })
            .map(|(&n, _)| n)
            .collect();
        assert_eq!(index.in_order(&slots), in_order);
    }
}

#[test]
fn finds_what_reading_all_would_find() {
    let shelf: BTreeMap<u64, Imprint> = shelf::shelf(5, 80).collect();
    let index = Index::build(shelf.iter().map(|(&n, i)| (n, i)));
    assert_eq!(index.len(), 80);
    check(&index, &shelf, 9, 6);
}

#[test]
fn riffs_come_and_go() {
    let mut dice = Dice(3);
    let mut shelf: BTreeMap<u64, Imprint> = BTreeMap::new();
    let mut index = Index::new();
    for (number, imprint) in shelf::shelf(6, 200) {
        // Numbers from a small range, so that some are replaced; some are taken out again.
        let number = number * 7 % 90;
        let there = shelf.insert(number, imprint.clone()).is_some();
        assert_eq!(index.insert(number, &imprint), there);
        let gone = dice.below(90) as u64;
        if dice.percent(40) {
            assert_eq!(index.remove(gone), shelf.remove(&gone).is_some());
        }
    }
    assert_eq!(index.len(), shelf.len());
    check(&index, &shelf, 10, 3);
    let all: Vec<u64> = shelf.keys().copied().collect();
    for number in all {
        assert!(index.remove(number) && !index.remove(number));
    }
    assert!(index.is_empty());
    assert!(index.nearest(&Stretches::from_pairs([(0, 12)]), Extent::Whole, 3).hits.is_empty());
}

#[test]
fn of_two_with_one_number_the_later_counts() {
    let shelf: Vec<Imprint> = shelf::shelf(8, 40).map(|(_, i)| i).collect();
    let twice = shelf.iter().enumerate().map(|(i, imprint)| (i as u64 % 25, imprint));
    let index = Index::build(twice);
    let last: BTreeMap<u64, Imprint> =
        shelf.iter().enumerate().map(|(i, r)| (i as u64 % 25, r.clone())).collect();
    assert_eq!(index.len(), 25);
    check(&index, &last, 4, 3);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(30))]

    /// Lines of any kind, long ones too, whose costs leave one byte.
    #[test]
    fn any_lines(
        lines in prop::collection::vec(prop::collection::vec((0..12u8, 1..90u32), 0..14), 1..24),
        query in prop::collection::vec((0..12u8, 1..90u32), 1..14),
        wanted in 1..6usize,
    ) {
        let imprint = |pairs: &[(u8, u32)]| {
            let tick = riffkin_kin::imprint::TICKS_PER_QUARTER / 12;
            let mut at = 0;
            let notes = pairs.iter().map(|&(slot, length)| {
                at += length * tick;
                riffkin_kin::imprint::Trace { midi: 36 + slot, onset: at - length * tick, length: length * tick }
            });
            Imprint::new(notes.collect(), Some(0), 0, None).unwrap()
        };
        let shelf: BTreeMap<u64, Imprint> = (0..).zip(lines.iter().map(|l| imprint(l))).collect();
        let index = Index::build(shelf.iter().map(|(&n, i)| (n, i)));
        let query = Stretches::of(&imprint(&query));
        for extent in [Extent::Whole, Extent::Part] {
            prop_assert_eq!(index.nearest(&query, extent, wanted).hits, nearest(&shelf, &query, extent, wanted));
        }
    }
}
