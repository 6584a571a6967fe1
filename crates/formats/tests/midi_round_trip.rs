//! What is written is read back: the notes as played, exactly; and nothing else is lost that our texts can say.
#![expect(clippy::panic, reason = "a test helper may end the test")]

use riffkin_formats::midi::{MidiOptions, WriteOptions, read, write};
use riffkin_score::random::{Recipe, riff, riff_of};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::TempoMap;
use riffkin_score::time::Quarters;

fn heard(riff: &Riff) -> Vec<(String, String, u8)> {
    riff.played()
        .iter()
        .map(|n| (n.onset.to_string(), n.length.to_string(), n.note.pitch.midi().number()))
        .collect()
}

/// Tempo events hold whole microseconds of at most 24 bits, and tempi a thousandth of their unit: within 2 in
/// 10,000, and no slower than the slowest.
fn same_tempo(a: &TempoMap, b: &TempoMap) -> bool {
    let changes = |map: &TempoMap| map.changes().map(|c| c.0).collect::<Vec<_>>();
    let at = |map: &TempoMap, place| {
        let standing = map.changes().take_while(|c| c.0 <= place).last();
        standing.map_or(0.5, |c| c.1.seconds_per_quarter()).min(16.777_215)
    };
    changes(a).into_iter().chain(changes(b)).all(|p| (at(a, p) / at(b, p) - 1.0).abs() < 2e-4)
}

fn check(riff: &Riff, options: &WriteOptions, what: &str) {
    let bytes = write(riff, options);
    let (again, warnings) =
        read(&bytes, &MidiOptions::default()).unwrap_or_else(|e| panic!("{what}: {e}\n{riff:?}"));
    assert_eq!(warnings, [], "{what}");
    assert_eq!(heard(&again), heard(riff), "{what}");
    let notes = |r: &Riff| {
        r.played().iter().map(|n| riffkin_score::note::Note { tied: false, ..n.note }).collect::<Vec<_>>()
    };
    assert_eq!(notes(&again), notes(riff), "{what}: marks and names");
    assert!(same_tempo(&again.played_tempo(), &riff.played_tempo()), "{what}: tempo");
    let last_end = riff.played().last().map_or(Quarters::ZERO, |n| n.onset + n.length);
    if last_end > riff.played_length() {
        // A tie out of the last bar played into one that is not: bars are added for it.
        return;
    }
    assert_eq!(again.played_length(), riff.played_length(), "{what}");
    let header = |r: &Riff| {
        let mut header = r.header().clone();
        header.tempo = Default::default();
        header
    };
    assert_eq!(header(&again), header(riff), "{what}");
    let bars = |r: &Riff| {
        r.order()
            .iter()
            .map(|&i| (r.bars()[i].meter, r.bars()[i].length(), r.bars()[i].chords.clone()))
            .collect::<Vec<_>>()
    };
    assert_eq!(bars(&again), bars(riff), "{what}");
}

#[test]
fn made_up_riffs_come_back() {
    for seed in 0..300 {
        check(&riff(seed, 1 + seed as usize % 12), &WriteOptions::default(), &format!("seed {seed}"));
    }
}

#[test]
fn a_count_in_and_straight_ticks_change_nothing() {
    for seed in 0..60 {
        let options = WriteOptions { count_in: 1 + seed as u8 % 2, ..WriteOptions::default() };
        check(&riff(seed, 4), &options, &format!("seed {seed} with a count-in"));
        let options = WriteOptions { play_swing: false, ..WriteOptions::default() };
        check(&riff(seed, 4), &options, &format!("seed {seed} on straight ticks"));
    }
}

#[test]
fn plain_riffs_come_back() {
    for seed in 0..50 {
        check(&riff_of(seed, Recipe::plain(8)), &WriteOptions::default(), &format!("plain {seed}"));
    }
}

/// Whatever a riff may hold, likely or not.
#[test]
fn wild_riffs_come_back() {
    for seed in 0..150 {
        let wild = riff_of(seed, Recipe::wild(1 + seed as usize % 12));
        if wild.order().is_empty() {
            // Every bar stands under an ending that is never reached.
            continue;
        }
        check(&wild, &WriteOptions::default(), &format!("wild {seed}"));
    }
}
