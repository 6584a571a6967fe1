use proptest::prelude::*;

use super::*;
use crate::pitch::Pitch;
use crate::riff::Header;

fn q(num: i64, den: i64) -> Quarters {
    Quarters::new(num, den).unwrap()
}

fn timed(onset: Quarters, length: Quarters) -> TimedNote {
    TimedNote { onset, length, note: Note::plain("E1".parse::<Pitch>().unwrap()) }
}

/// Values as numbers of their shape: `4.` a dotted quarter, `r8` an eighth rest, `~` a tie, `8:3` a triplet
/// eighth, `|` a bar line.
fn show(bars: &[Bar]) -> String {
    let shapes = ["breve", "1", "2", "4", "8", "16", "32", "64", "128"];
    bars.iter()
        .map(|bar| {
            bar.events
                .iter()
                .map(|e| {
                    let v = e.value;
                    let rest = if e.note.is_none() { "r" } else { "" };
                    let dots = ".".repeat(usize::from(v.dots()));
                    let tuplet = v.tuplet().map_or(String::new(), |t| format!(":{}", t.actual()));
                    let tie = if e.note.is_some_and(|n| n.tied) { "~" } else { "" };
                    format!("{rest}{}{dots}{tuplet}{tie}", shapes[v.shape() as usize])
                })
                .collect::<Vec<_>>()
                .join(" ")
        })
        .collect::<Vec<_>>()
        .join(" | ")
}

/// Notes from lengths in sixteenths, a rest below zero.
fn sixteenths(meter: &str, lengths: &[i64]) -> String {
    let mut at = Quarters::ZERO;
    let mut notes = Vec::new();
    for &n in lengths {
        let length = q(n.abs(), 4);
        if n > 0 {
            notes.push(timed(at, length));
        }
        at += length;
    }
    show(&notate(&notes, &Layout::new(meter.parse().unwrap())).unwrap())
}

/// E. Gould, Behind Bars (2011), on grouping of note values: the middle of a bar of four is shown, the usual
/// syncopations stand unbroken (from memory, so the cases are common practice rather than quotations).
#[test]
fn the_middle_of_a_bar_of_four_is_shown() {
    for (lengths, wanted) in [
        (&[16][..], "1"),
        (&[8, 8], "2 2"),
        (&[12, 4], "2. 4"),
        (&[4, 12], "4 2."),
        (&[4, 8, 4], "4 2 4"),
        (&[2, 4, 2, 8], "8 4 8 2"),
        (&[6, 2, 8], "4. 8 2"),
        (&[2, 6, 8], "8 4. 2"),
        (&[4, 6, 6], "4 4~ 8 4."),
        (&[6, 6, 4], "4. 8~ 4 4"),
        (&[6, 4, 6], "4. 8~ 8 4."),
        (&[2, 12, 2], "8 4.~ 4. 8"),
        (&[2, 8, 6], "8 4.~ 8 4."),
        (&[10, 6], "2~ 8 4."),
        (&[3, 3, 2, 8], "8. 16~ 8 8 2"),
        (&[1, 2, 1, 12], "16 8 16 2."),
        (&[3, 2, 3, 8], "8. 16~ 16 8. 2"),
        (&[1, 3, 12], "16 8. 2."),
    ] {
        assert_eq!(sixteenths("4/4", lengths), wanted, "{lengths:?}");
    }
}

/// Rests show the beats and halves of the bar (Gould as above); no rest is dotted in simple time.
#[test]
fn rests_show_the_beats() {
    for (meter, lengths, wanted) in [
        ("4/4", &[-4, 4, -8][..], "r4 4 r2"),
        ("4/4", &[4, -8, 4], "4 r4 r4 4"),
        ("4/4", &[2, -6, 8], "8 r8 r4 2"),
        ("4/4", &[1, -3, 12], "16 r16 r8 2."),
        ("4/4", &[4, -12], "4 r4 r2"),
        ("4/4", &[-12, 4], "r2 r4 4"),
        ("3/4", &[4, -8], "4 r4 r4"),
        ("6/8", &[-4, 2, 6], "r4 8 4."),
        ("6/8", &[2, -4, 6], "8 r8 r8 4."),
        ("6/8", &[6, -6], "4. r4."),
        ("12/8", &[6, -18], "4. r4. r2."),
    ] {
        assert_eq!(sixteenths(meter, lengths), wanted, "{meter} {lengths:?}");
    }
}

/// Compound beats are dotted quarters and no value hides one; sevens and fives keep their groups (common
/// practice, no source).
#[test]
fn other_meters_keep_their_groups() {
    for (meter, lengths, wanted) in [
        ("6/8", &[12][..], "2."),
        ("6/8", &[8, 4], "4.~ 8 4"),
        ("6/8", &[4, 8], "4 8~ 4."),
        ("6/8", &[4, 4, 4], "4 8~ 8 4"),
        ("6/8", &[3, 1, 2, 6], "8. 16 8 4."),
        ("12/8", &[24], "1."),
        ("12/8", &[6, 12, 6], "4. 2. 4."),
        ("12/8", &[18, 6], "2.~ 4. 4."),
        ("3/4", &[8, 4], "2 4"),
        ("3/4", &[4, 2, 6], "4 8 4."),
        ("3/4", &[4, 6, 2], "4 4. 8"),
        ("7/8", &[14], "2~ 4."),
        ("7/8", &[6, 8], "4~ 8 8~ 4."),
        ("7/8", &[4, 4, 6], "4 4 4."),
        ("5/4", &[20], "2.~ 2"),
        ("2/2", &[4, 8, 4], "4 2 4"),
    ] {
        assert_eq!(sixteenths(meter, lengths), wanted, "{meter} {lengths:?}");
    }
}

#[test]
fn tuplets_are_complete_groups_on_the_beat() {
    let write = |times: &[(i64, i64, i64, i64)], meter: &str| {
        let notes: Vec<_> = times.iter().map(|&(a, b, c, d)| timed(q(a, b), q(c, d))).collect();
        show(&notate(&notes, &Layout::new(meter.parse().unwrap())).unwrap())
    };
    // Triplet eighths; long-short; a gap in the middle; over two beats; sextuplet; quintuplet; septuplet.
    assert_eq!(write(&[(0, 1, 1, 3), (1, 3, 1, 3), (2, 3, 1, 3), (1, 1, 3, 1)], "4/4"), "8:3 8:3 8:3 2.");
    assert_eq!(write(&[(0, 1, 2, 3), (2, 3, 1, 3), (1, 1, 3, 1)], "4/4"), "4:3 8:3 2.");
    assert_eq!(write(&[(0, 1, 1, 3), (2, 3, 1, 3), (1, 1, 3, 1)], "4/4"), "8:3 r8:3 8:3 2.");
    assert_eq!(write(&[(0, 1, 2, 3), (2, 3, 2, 3), (4, 3, 2, 3), (2, 1, 2, 1)], "4/4"), "4:3 4:3 4:3 2");
    let six: Vec<_> = (0..6).map(|i| (i, 6, 1, 6)).collect();
    assert_eq!(write(&six, "4/4"), "16:6 16:6 16:6 16:6 16:6 16:6 r4 r2");
    let five: Vec<_> = (0..5).map(|i| (i, 5, 1, 5)).collect();
    assert_eq!(write(&five, "4/4"), "16:5 16:5 16:5 16:5 16:5 r4 r2");
    let seven: Vec<_> = (0..7).map(|i| (i, 7, 1, 7)).collect();
    assert_eq!(write(&seven, "2/4"), "16:7 16:7 16:7 16:7 16:7 16:7 16:7 r4");
    // A note that leaves its triplet is tied out of it.
    assert_eq!(write(&[(0, 1, 1, 3), (1, 3, 5, 3), (2, 1, 2, 1)], "4/4"), "8:3 4:3~ 4 2");
    // Half-note triplets over a whole bar; four in the time of a dotted beat are plain dotted values.
    assert_eq!(write(&[(0, 1, 4, 3), (4, 3, 4, 3), (8, 3, 4, 3)], "4/4"), "2:3 2:3 2:3");
    assert_eq!(write(&[(0, 1, 3, 4), (3, 4, 3, 4), (3, 2, 3, 2)], "6/8"), "8. 8. 4.");
    // Sixteenth triplets in the second half of a beat.
    assert_eq!(
        write(&[(0, 1, 1, 2), (1, 2, 1, 6), (2, 3, 1, 6), (5, 6, 1, 6), (1, 1, 3, 1)], "4/4"),
        "8 16:3 16:3 16:3 2."
    );
}

#[test]
fn pickups_meter_changes_and_short_ends() {
    let notes = [timed(q(0, 1), q(1, 2)), timed(q(1, 2), q(1, 2)), timed(q(1, 1), q(5, 1))];
    let layout = Layout::new(Meter::FOUR_FOUR).with_pickup(q(1, 1));
    let bars = notate(&notes, &layout).unwrap();
    assert_eq!(show(&bars), "8 8 | 1~ | 4 r4 r2");
    assert!(bars[0].short && !bars[1].short);
    // A pickup of one triplet eighth is the last of its beat.
    let bars = notate(
        &[timed(q(0, 1), q(1, 3)), timed(q(1, 3), q(4, 1))],
        &Layout::new(Meter::FOUR_FOUR).with_pickup(q(1, 3)),
    )
    .unwrap();
    assert_eq!(show(&bars), "8:3 | 1");
    let layout = Layout {
        changes: vec![(q(4, 1), "3/4".parse().unwrap()), (q(6, 1), Meter::FOUR_FOUR)],
        until: q(7, 1),
        end_short: true,
        ..Layout::new(Meter::FOUR_FOUR)
    };
    let bars = notate(&[timed(q(0, 1), q(6, 1))], &layout).unwrap();
    assert_eq!(show(&bars), "1~ | 2 | r4");
    assert_eq!(bars.iter().map(|b| b.short).collect::<Vec<_>>(), [false, true, true]);
    assert_eq!(show(&notate(&[], &Layout::new(Meter::FOUR_FOUR)).unwrap()), "r1");
}

#[test]
fn what_cannot_be_written_is_said_with_its_place() {
    let at = |onset, length| notate(&[timed(onset, length)], &Layout::new(Meter::FOUR_FOUR));
    let error = at(q(4, 1) + q(1, 25), q(1, 1)).unwrap_err();
    assert!(error.to_string().starts_with("bar 2, beat 1 1/25"), "{error}");
    assert!(matches!(at(-q(1, 1), q(2, 1)), Err(NotateError::Order { number: 1, .. })));
    assert!(matches!(at(q(1, 1), q(0, 1)), Err(NotateError::NoLength { .. })));
    assert!(matches!(at(q(1, 1), q(90_000_000, 1)), Err(NotateError::TooLong { .. })));
    let long = Layout::new(Meter::FOUR_FOUR).with_pickup(q(4, 1));
    assert!(matches!(notate(&[], &long), Err(NotateError::Pickup { .. })));
}

// A bar-free line: lengths on one grid per beat of a quarter, some of them rests.
fn beats() -> impl Strategy<Value = Vec<(u8, Vec<bool>)>> {
    let grid = prop::sample::select(vec![1u8, 2, 3, 4, 5, 6, 7, 8, 9, 11, 12, 13]);
    let beat = grid.prop_flat_map(|g| (Just(g), prop::collection::vec(any::<bool>(), usize::from(g))));
    prop::collection::vec(beat, 1..24)
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 200, failure_persistence: None, ..ProptestConfig::default() })]

    /// Onsets on any grid per beat, ends on the next onset, a grid point before it, or across beats.
    #[test]
    fn the_line_comes_back_exactly(
        beats in beats(),
        meter in prop::sample::select(vec!["4/4", "3/4", "6/8", "7/8", "5/4", "12/8", "2/2", "9/8", "5/8"]),
        pickup in 0i64..3,
        gaps in prop::collection::vec(0u8..4, 300),
    ) {
        let meter: Meter = meter.parse().unwrap();
        let mut points = Vec::new();
        for (b, (grid, struck)) in beats.iter().enumerate() {
            for (k, &on) in struck.iter().enumerate() {
                if on {
                    points.push(q(b as i64, 1) + q(k as i64, i64::from(*grid)));
                }
            }
        }
        let end = q(beats.len() as i64, 1);
        let notes: Vec<TimedNote> = points.iter().enumerate().map(|(i, &onset)| {
            let next = points.get(i + 1).copied().unwrap_or(end);
            // Some notes end at the next beat line before the next onset, leaving a rest.
            let beat = q(onset.whole_steps(Quarters::QUARTER) + 1, 1);
            let to = if gaps[i % gaps.len()] == 0 && beat < next { beat } else { next };
            timed(onset, to - onset)
        }).collect();
        let layout = Layout::new(meter).with_pickup(q(pickup, 2));
        // A beat of the meter may cut a tuplet so that no single tuplet writes it: then it must be refused,
        // and in the meters of plain quarters it must be written.
        let plain = pickup != 1 && meter.unit() == 4;
        match notate(&notes, &layout) {
            Err(NotateError::Unwritable { .. }) if !plain => {}
            Err(error) => prop_assert!(false, "{error}"),
            Ok(bars) => {
                let riff = Riff::new(Header::default(), bars).unwrap();
                let back: Vec<_> = riff.line().iter().map(|n| (n.onset, n.length)).collect();
                let sent: Vec<_> = notes.iter().map(|n| (n.onset, n.length)).collect();
                prop_assert_eq!(back, sent);
            }
        }
    }
}

// The bars of a riff as a layout: its meters, and a change of meter wherever a bar is cut short.
fn layout_of(riff: &Riff) -> Layout {
    let bars = riff.bars();
    let mut changes = Vec::new();
    for (i, pair) in bars.windows(2).enumerate() {
        let pickup = i == 0 && pair[0].short;
        if pair[1].meter != pair[0].meter || (pair[0].short && !pickup) {
            changes.push((riff.bar_start(i + 1), pair[1].meter));
        }
    }
    Layout {
        pickup: if riff.has_pickup() { bars[0].length() } else { Quarters::ZERO },
        changes,
        until: riff.length(),
        end_short: true,
        ..Layout::new(bars[0].meter)
    }
}

/// Riffs made at random with everything that notation holds: written anew from their times alone, they sound
/// the same and have bars of the same lengths.
#[test]
fn made_up_riffs_are_written_anew_from_their_times() {
    for seed in 0..300 {
        let riff = crate::random::riff(seed, 8);
        let notes: Vec<TimedNote> = riff
            .line()
            .iter()
            .map(|n| TimedNote { onset: n.onset, length: n.length, note: n.note })
            .collect();
        let bars = notate(&notes, &layout_of(&riff)).unwrap_or_else(|e| panic!("seed {seed}: {e}"));
        let lengths = |bars: &[Bar]| bars.iter().map(|b| (b.meter, b.length(), b.short)).collect::<Vec<_>>();
        assert_eq!(lengths(&bars), lengths(riff.bars()), "seed {seed}");
        let again = Riff::new(Header::default(), bars).unwrap();
        let times = |r: &Riff| r.line().iter().map(|n| (n.onset, n.length)).collect::<Vec<_>>();
        assert_eq!(times(&again), times(&riff), "seed {seed}");
    }
}
