//! The ladder against every order there is, and what it promises beside the cost.

#![expect(clippy::unwrap_used, reason = "a test that cannot read its own degrees should stop")]

use riffkin_lesson::ladder::{Ladder, Rung, ladder, missing_for, rung_cost};
use riffkin_score::degree::{Degree, DegreeSet};

fn set(text: &str) -> DegreeSet {
    text.split_whitespace().map(|d| d.parse::<Degree>().unwrap()).collect()
}

/// SplitMix64 (Steele, Lea, Flood 2014): a seeded stream for test cases.
struct Seeded(u64);

impl Seeded {
    fn below(&mut self, n: u64) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        (z ^ (z >> 31)) % n
    }
}

/// Cost and new-degree counts of an order, straight from the definition.
fn cost_of(order: &[usize], materials: &[DegreeSet], known: DegreeSet) -> (u32, Vec<usize>) {
    let mut have = known;
    let mut counts = Vec::new();
    for &i in order {
        let new = materials[i].without(have).len();
        if new > 0 {
            counts.push(new);
        }
        have = have.union(materials[i]);
    }
    (counts.iter().map(|n| (n * n) as u32).sum(), counts)
}

fn every_order(rest: &mut Vec<usize>, so_far: &mut Vec<usize>, visit: &mut impl FnMut(&[usize])) {
    if rest.is_empty() {
        visit(so_far);
    }
    for k in 0..rest.len() {
        let i = rest.remove(k);
        so_far.push(i);
        every_order(rest, so_far, visit);
        so_far.pop();
        rest.insert(k, i);
    }
}

fn check_promises(ladder: &Ladder, materials: &[DegreeSet], known: DegreeSet) {
    let order = ladder.order();
    let mut sorted = order.clone();
    sorted.sort_unstable();
    assert_eq!(sorted, (0..materials.len()).collect::<Vec<_>>(), "every riff once");
    assert_eq!(cost_of(&order, materials, known).0, ladder.cost);
    let mut have = known;
    for (k, rung) in ladder.rungs.iter().enumerate() {
        assert_eq!(rung.new, materials[rung.riff].without(have));
        if !rung.new.is_empty() {
            // Whatever can be played already has been.
            assert!(ladder.rungs[k..].iter().all(|later| !materials[later.riff].is_within(have)));
        }
        have = have.union(rung.new);
    }
    assert_eq!(ladder.reached(), have);
    assert_eq!(ladder.groups().concat(), ladder.rungs);
    for group in ladder.groups() {
        let free: Vec<(usize, usize)> =
            group.iter().filter(|r| r.new.is_empty()).map(|r| (materials[r.riff].len(), r.riff)).collect();
        assert!(free.is_sorted(), "fewest degrees first, then input order");
    }
}

/// Oracle: all orders of up to seven riffs, 250 seeded instances, and eight riffs on a few.
#[test]
fn no_order_is_cheaper_and_none_as_cheap_starts_more_gently() {
    let mut seeded = Seeded(20);
    for case in 0..256 {
        let riffs = if case >= 252 { 8 } else { seeded.below(8) as usize };
        let materials: Vec<DegreeSet> = (0..riffs)
            .map(|_| {
                let density = 2 + seeded.below(4);
                DegreeSet::from_slots((0..12).filter(|_| seeded.below(6) < density).collect::<Vec<u8>>())
            })
            .collect();
        let known =
            DegreeSet::from_bits((seeded.below(4096) & seeded.below(4096) & seeded.below(4096)) as u16);
        let found = ladder(&materials, known);
        check_promises(&found, &materials, known);
        let mut best: Option<(u32, Vec<usize>)> = None;
        every_order(&mut (0..riffs).collect(), &mut Vec::new(), &mut |order| {
            let this = cost_of(order, &materials, known);
            if best.as_ref().is_none_or(|b| this < *b) {
                best = Some(this);
            }
        });
        assert_eq!(Some(cost_of(&found.order(), &materials, known)), best, "case {case}: {materials:?}");
    }
}

/// Worked by hand: the least next step is `1 2` (4), then three at once (9), 13 in all. Beginning with three
/// (9) lets the two others add one each: 11.
#[test]
fn taking_the_least_next_step_can_cost_more() {
    let materials = [set("1 2"), set("3 5 6"), set("2 3 5 6")];
    let found = ladder(&materials, DegreeSet::EMPTY);
    assert_eq!((found.cost, found.order()), (11, vec![1, 2, 0]));
}

#[test]
fn riffs_of_the_same_notes_stand_together() {
    let materials = [set("1 b3 4 5 b7"), set("1 5"), set("1 b7"), set("1 b3 4"), set("1 5"), set("1 4 5 b7")];
    let found = ladder(&materials, DegreeSet::EMPTY);
    let rungs: Vec<(usize, String)> = found.rungs.iter().map(|r| (r.riff, r.new.to_string())).collect();
    let expected = [(1, "1 5"), (4, ""), (2, "b7"), (5, "4"), (3, "b3"), (0, "")];
    assert_eq!(rungs, expected.map(|(i, s)| (i, s.to_owned())));
    assert_eq!(found.cost, 4 + 1 + 1 + 1);
    assert_eq!(found.groups().iter().map(|g| g.len()).collect::<Vec<_>>(), [2, 1, 1, 2]);
    assert_eq!(found.rung_of(5), Some(3));
    assert_eq!(found.rung_of(6), None);
}

#[test]
fn nothing_one_riff_and_rests_only() {
    assert_eq!(ladder(&[], set("1")), Ladder { rungs: vec![], known: set("1"), cost: 0 });
    assert!(ladder(&[], DegreeSet::EMPTY).groups().is_empty());
    let one = ladder(&[set("1 5")], DegreeSet::EMPTY);
    assert_eq!(one.rungs, [Rung { riff: 0, new: set("1 5") }]);
    // A riff of rests holds no degrees: it needs nothing and comes first.
    let rests = ladder(&[set("1"), DegreeSet::EMPTY], DegreeSet::EMPTY);
    assert_eq!(rests.order(), [1, 0]);
    assert_eq!(rests.groups().len(), 2);
}

#[test]
fn two_thousand_riffs_are_no_trouble() {
    let mut seeded = Seeded(7);
    for riffs in [200, 2000] {
        let materials: Vec<DegreeSet> = (0..riffs)
            .map(|_| DegreeSet::from_bits((seeded.below(4096) & seeded.below(4096)) as u16).with(0))
            .collect();
        let found = ladder(&materials, DegreeSet::EMPTY);
        check_promises(&found, &materials, DegreeSet::EMPTY);
        // A lower bound that needs no search: each degree alone on its rung costs one.
        assert!(found.cost >= found.reached().len() as u32);
        assert!(found.cost < rung_cost(found.reached().len()));
    }
}

#[test]
fn what_is_missing_for_a_wanted_sound() {
    let materials = [set("1 b3 b6"), set("1 5 b6"), set("1 b3 5")];
    let missing = missing_for(set("5 b6 7"), &materials, set("1 5"));
    assert_eq!(missing.len(), 2);
    assert_eq!(missing[0].degree.to_string(), "b6");
    assert_eq!(missing[0].riffs, [(1, DegreeSet::EMPTY), (0, set("b3"))]);
    assert_eq!((missing[1].degree.to_string().as_str(), missing[1].riffs.len()), ("7", 0));
}
