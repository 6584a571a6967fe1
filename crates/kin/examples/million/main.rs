//! How fast kin are found on a shelf of a million riffs, how much memory that takes, and whether what is found is
//! what reading every riff would find.
//!
//! `cargo run --release -p riffkin-kin --example million [RIFFS [QUERIES [times]]]`; with
//! `times` nothing is compared with reading all. Times are those that this thread was
//! computing (Linux), the better of two, so that other programs on the machine count as little as can be.

#![allow(
    clippy::disallowed_methods,
    clippy::disallowed_types,
    clippy::expect_used,
    clippy::cast_precision_loss,
    reason = "a measurement needs a clock, and stops where it fails"
)]

mod shelf;

use std::time::Instant;

use riffkin_kin::align::{Extent, align};
use riffkin_kin::degrees::Degrees;
use riffkin_kin::imprint::Imprint;
use riffkin_kin::index::{Hit, Index, Kindred};
use riffkin_kin::stretches::Stretches;
use riffkin_score::degree::DegreeSet;
use shelf::Dice;

/// How many are asked for.
const WANTED: usize = 10;

fn main() {
    let mut words = std::env::args().skip(1).map(|n| n.parse::<usize>().ok());
    let count = words.next().flatten().unwrap_or(1_000_000);
    let queries = words.next().flatten().unwrap_or(200);
    let only_times = words.next().is_some();
    let bytes: Vec<Vec<u8>> = shelf::shelf(1, count).map(|(_, imprint)| imprint.to_bytes()).collect();
    let kept: usize = bytes.iter().map(Vec::len).sum();
    println!("riffs                      {count}");
    println!("bytes of an imprint        {:.1}", kept as f64 / count as f64);
    let read = |n: usize| Imprint::from_bytes(&bytes[n]).expect("written above");
    let before = cpu_ms();
    let index = Index::build_from((0..count).map(|n| (n as u64, read(n))));
    println!("index built from bytes     {:.0} ms", cpu_ms() - before);
    println!("bytes a riff in the index  {:.1}", index.bytes() as f64 / count as f64);
    let bandwidth = bandwidth(index.bytes());
    println!("reading as many bytes once {bandwidth:.1} ms (the best of 9)");
    println!();
    println!("query                     p50 ms  p95 ms  max ms  p95 / reading  aligned p50, p95");

    let mut dice = Dice(77);
    let mut ask = |what: &str, query: &mut dyn FnMut(&mut Dice) -> usize| {
        let (mut times, mut aligned) = (Vec::new(), Vec::new());
        for _ in 0..queries {
            let mut spent = f64::NAN;
            let (seed, mut seen) = (dice.roll(), 0);
            for _ in 0..2 {
                let (before, start) = (cpu_ms(), Instant::now());
                seen = query(&mut Dice(seed));
                let (wall, computing) = (start.elapsed().as_secs_f64() * 1e3, cpu_ms() - before);
                // The kernel counts computing in steps of 4 ms.
                spent = spent.min(if computing < 20.0 { wall } else { wall.min(computing) });
            }
            times.push(spent);
            aligned.push(seen);
        }
        times.sort_by(f64::total_cmp);
        aligned.sort_unstable();
        let at = |share: f64| ((queries - 1) as f64 * share) as usize;
        println!(
            "{what:24} {:7.2} {:7.2} {:7.2} {:10.2}      {}, {}",
            times[at(0.5)],
            times[at(0.95)],
            times[queries - 1],
            times[at(0.95)] / bandwidth,
            aligned[at(0.5)],
            aligned[at(0.95)]
        );
    };
    let gather = |found: Vec<Kindred<'_>>| {
        let all: Vec<u64> = found.iter().flat_map(|k| k.numbers).copied().collect();
        std::hint::black_box(all);
        0
    };
    let set = |dice: &mut Dice| shelf::imprint(&shelf::family(dice), 0).set();
    ask("degrees: within", &mut |dice| gather(index.within(set(dice))));
    ask("degrees: holding", &mut |dice| gather(index.holding(set(dice))));
    ask("degrees: near", &mut |dice| gather(index.near(set(dice), 1)));
    let known = |dice: &mut Dice| Stretches::of(&read(dice.below(count)));
    let stranger = |dice: &mut Dice| Stretches::of(&shelf::imprint(&shelf::family(dice), 3));
    let nearest = |query: &Stretches, extent| index.nearest(query, extent, WANTED).aligned;
    ask("whole, of the shelf", &mut |dice| nearest(&known(dice), Extent::Whole));
    ask("whole, strangers", &mut |dice| nearest(&stranger(dice), Extent::Whole));
    ask("part, of the shelf", &mut |dice| {
        let of = known(dice);
        nearest(&snippet(dice, &of), Extent::Part)
    });
    ask("part, strangers", &mut |dice| {
        let of = stranger(dice);
        nearest(&snippet(dice, &of), Extent::Part)
    });
    ask("three degrees in order", &mut |dice| {
        let of = known(dice);
        let slots: Vec<u8> = of.line().iter().take(3).map(|s| s.slot).collect();
        std::hint::black_box(index.in_order(&slots));
        0
    });
    println!();
    if only_times {
        return;
    }
    sets_are_those_of_reading_all(&index, &bytes);
    nearest_are_those_of_reading_all(500, 1000);
    nearest_are_those_of_reading_all(20_000, 10);
    planted();
}

/// Milliseconds to read so many bytes once, the best of nine.
fn bandwidth(bytes: usize) -> f64 {
    let all = vec![1u64; bytes / 8];
    let once = || {
        let start = Instant::now();
        std::hint::black_box(std::hint::black_box(&all).iter().fold(0u64, |sum, n| sum.wrapping_add(*n)));
        start.elapsed().as_secs_f64() * 1e3
    };
    (0..9).map(|_| once()).fold(f64::INFINITY, f64::min)
}

/// Five to twelve stretches on end.
fn snippet(dice: &mut Dice, of: &Stretches) -> Stretches {
    let wanted = (5 + dice.below(8)).min(of.line().len());
    let from = dice.below(of.line().len() - wanted + 1);
    Stretches::from_pairs(of.line()[from..from + wanted].iter().map(|s| (s.slot, u32::from(s.length))))
}

fn sets_are_those_of_reading_all(index: &Index, bytes: &[Vec<u8>]) {
    let sets: Vec<DegreeSet> =
        bytes.iter().map(|b| Imprint::from_bytes(b).expect("written above").set()).collect();
    let mut dice = Dice(5);
    let numbers = |found: &[Kindred<'_>]| {
        let mut all: Vec<u64> = found.iter().flat_map(|k| k.numbers).copied().collect();
        all.sort_unstable();
        all
    };
    let mut equal = 0;
    for i in 0..1000 {
        let set = DegreeSet::from_bits(dice.below(4096) as u16);
        let read = |pass: &dyn Fn(DegreeSet) -> bool| -> Vec<u64> {
            (0u64..).zip(&sets).filter(|(_, s)| pass(**s)).map(|(n, _)| n).collect()
        };
        equal += usize::from(match i % 3 {
            0 => numbers(&index.within(set)) == read(&|s| s.is_within(set)),
            1 => numbers(&index.holding(set)) == read(&|s| set.is_within(s)),
            _ => numbers(&index.near(set, 1)) == read(&|s| Degrees::between(set, s).steps_apart() <= 1),
        });
    }
    println!("degree sets, whole shelf: {equal} of 1000 queries equal to reading all");
}

fn nearest_are_those_of_reading_all(count: usize, queries: usize) {
    let riffs: Vec<Imprint> = shelf::shelf(12, count).map(|(_, i)| i).collect();
    let lines: Vec<Stretches> = riffs.iter().map(Stretches::of).collect();
    let index = Index::build((0u64..).zip(&riffs));
    let mut dice = Dice(9);
    let mut equal = 0;
    for i in 0..queries {
        let extent = if i % 2 == 0 { Extent::Whole } else { Extent::Part };
        let query = if i % 4 < 2 {
            Stretches::of(&shelf::imprint(&shelf::family(&mut dice), 1))
        } else {
            lines[dice.below(count)].clone()
        };
        let query = if extent == Extent::Part { snippet(&mut dice, &query) } else { query };
        let mut hits: Vec<Hit> = (0u64..)
            .zip(&lines)
            .filter(|(_, line)| !line.line().is_empty())
            .map(|(number, line)| {
                let found = align(query.line(), line.line(), extent);
                Hit { cost: found.cost, number, higher: found.shift }
            })
            .collect();
        hits.sort();
        hits.truncate(WANTED);
        equal += usize::from(index.nearest(&query, extent, WANTED).hits == hits);
    }
    println!("nearest, {count} riffs: {equal} of {queries} queries equal to aligning all");
}

/// Copies in another key, broken up and with some changes, against other riffs of the same length: how often a
/// copy is nearer (area under the curve).
fn planted() {
    let mut dice = Dice(31);
    for changes in [0, 2, 4, 8] {
        let (mut copies, mut others) = (Vec::new(), Vec::new());
        while copies.len() < 300 {
            let first = shelf::family(&mut dice);
            let here = Stretches::of(&shelf::imprint(&first, 0));
            if here.line().len() < 4 {
                continue;
            }
            let copy = shelf::variant(&mut dice, &first, changes);
            let copy = shelf::imprint(&shelf::fragmented(&mut dice, &copy), 1 + dice.below(11) as u8);
            let length: u32 = first.beats.iter().map(|b| b.1).sum();
            let other = std::iter::repeat_with(|| shelf::family(&mut dice))
                .find(|o| o.beats.iter().map(|b| b.1).sum::<u32>() == length)
                .expect("there are always more");
            let share = |there: &Imprint| {
                let found = align(here.line(), Stretches::of(there).line(), Extent::Whole);
                f64::from(found.cost) / f64::from(here.total())
            };
            copies.push(share(&copy));
            others.push(share(&shelf::imprint(&other, dice.below(12) as u8)));
        }
        let wins: f64 = copies
            .iter()
            .flat_map(|c| {
                others.iter().map(move |o| if c < o { 1.0 } else { f64::from(u8::from(c == o)) / 2.0 })
            })
            .sum();
        let area = wins / (copies.len() * others.len()) as f64;
        println!(
            "planted copies, broken up, transposed, {changes} changes: area under the curve {area:.4} (300 against 300)"
        );
    }
}

/// Milliseconds that this thread has been computing (Linux), so that other programs do not count.
fn cpu_ms() -> f64 {
    let text = std::fs::read_to_string("/proc/thread-self/schedstat").unwrap_or_default();
    let ns: f64 = text.split_whitespace().next().and_then(|n| n.parse().ok()).unwrap_or(f64::NAN);
    ns / 1e6
}
