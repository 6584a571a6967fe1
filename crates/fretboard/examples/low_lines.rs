//! Bass lines moved down semitone by semitone onto a neck: does the adaptation put every note on it, how many turns of
//! the contour does it cost, and is that the fewest there can be?
//!
//! ```text
//! cargo run --release -p riffkin-fretboard --example low_lines -- FILE.jsonl [NECK]
//! ```
//!
//! Each line of the file is one bass line as JSON: `tonic` (`Bb`), `mode` (`major`, `dorian` ...), `meter` (`4/4`),
//! `pickup` (quarters before the first bar line), and `notes`, each `[midi, name, octave, onset in quarters, length in
//! quarters]`. Rows without notes are skipped.

#![expect(clippy::disallowed_methods, reason = "an example reads the file it is told to")]
#![expect(clippy::expect_used, reason = "a tool for the desk stops where its data are not as they should be")]

use riffkin_fretboard::adapt::{Kind, Measure, adapt, usual};
use riffkin_fretboard::fit::missing;
use riffkin_fretboard::neck::Neck;
use riffkin_score::key::{Key, Mode};
use riffkin_score::meter::Meter;
use riffkin_score::note::Note;
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::rhythm::{Layout, TimedNote, notate};
use riffkin_score::riff::{Header, Riff};
use riffkin_score::time::Quarters;

/// How far down the lines go, in semitones.
const DOWN: u8 = 24;
/// Notes of the phrases that are held against every choice of octaves.
const PHRASE: usize = 7;

/// One line as it came.
struct Line {
    key: Option<Key>,
    meter: Meter,
    pickup: Quarters,
    notes: Vec<(u8, Quarters, Quarters)>,
}

#[derive(Default)]
struct Row {
    lines: usize,
    fit: usize,
    in_range: usize,
    whole: usize,
    some: usize,
    key: usize,
    moved: usize,
    notes: usize,
    turns_taken: u32,
    turns_least: u32,
    pairs: usize,
    listed: usize,
    phrases: usize,
    phrases_least: usize,
}

fn main() {
    let mut words = std::env::args().skip(1);
    let path = words.next().expect("a file of bass lines");
    let neck = Neck::named(&words.next().unwrap_or_else(|| "four".to_owned())).expect("a neck");
    let text = std::fs::read_to_string(path).expect("a readable file");
    let lines: Vec<Line> =
        text.lines().filter_map(|l| line(&serde_json::from_str(l).expect("JSON on every line"))).collect();
    println!("{} lines onto {neck}", lines.len());
    println!(
        "down  fit as is  adapted  in range  whole line  phrases  key  notes moved  turns taken  turns least  list right  phrases of {PHRASE} at the minimum"
    );
    let mut all = Row::default();
    for down in 1..=DOWN {
        let mut row = Row::default();
        for line in &lines {
            measure(line, down, &neck, &mut row);
        }
        print(&format!("{down:>4}"), &row);
        add(&mut all, &row);
    }
    print(" all", &all);
    println!(
        "{} notes, {} of their steps turned as taken ({:.2} %), {} at least",
        all.notes,
        all.turns_taken,
        100.0 * f64::from(all.turns_taken) / all.pairs.max(1) as f64,
        all.turns_least
    );
}

fn measure(line: &Line, down: u8, neck: &Neck, row: &mut Row) {
    let Some(riff) = riff(line, down, 0..line.notes.len()) else { return };
    row.lines += 1;
    row.notes += line.notes.len();
    row.pairs += line.notes.len().saturating_sub(1);
    for start in (0..line.notes.len().saturating_sub(PHRASE)).step_by(PHRASE) {
        if let Some((found, least)) = phrase(line, down, start, neck) {
            row.phrases += 1;
            row.phrases_least += usize::from(found == least);
        }
    }
    let offers = adapt(&riff, neck);
    let Some(taken) = usual(&offers).and_then(|i| offers.get(i)) else {
        let fits = missing(&riff, neck).is_empty();
        row.fit += usize::from(fits);
        row.in_range += usize::from(fits);
        return;
    };
    row.in_range += usize::from(missing(&taken.riff, neck).is_empty());
    match taken.kind {
        Kind::Octave(_) => row.whole += 1,
        Kind::Key(_) => row.key += 1,
        _ => row.some += 1,
    }
    let (before, after) = (midi(&riff), midi(&taken.riff));
    row.moved += before.iter().zip(&after).filter(|(a, b)| a != b).count();
    row.turns_taken += turns(&before, &after);
    let least = offers.iter().filter_map(|o| match o.measure {
        Measure::Moved(change) => Some(change.all_turns()),
        _ => None,
    });
    row.turns_least += least.min().unwrap_or(0);
    // The list: replayed on the line, it gives the result.
    let said: Vec<(String, &str)> =
        taken.changes.iter().map(|(at, words)| (at.to_string(), words.as_str())).collect();
    row.listed += usize::from(replayed(&riff, &said) == after);
}

/// The turns that the contour-keeping offer costs a phrase, and the fewest of every choice of octaves.
fn phrase(line: &Line, down: u8, start: usize, neck: &Neck) -> Option<(u32, u32)> {
    let riff = riff(line, down, start..start + PHRASE)?;
    let before = midi(&riff);
    let offers = adapt(&riff, neck);
    let found = offers
        .iter()
        .filter(|o| matches!(o.measure, Measure::Moved(_)))
        .map(|o| turns(&before, &midi(&o.riff)))
        .min()?;
    let (low, high) = neck.range();
    let choices: Vec<Vec<i32>> = before
        .iter()
        .map(|m| {
            let octaves = -4..=4;
            octaves.map(|o| m + 12 * o).filter(|m| (i32::from(low)..=i32::from(high)).contains(m)).collect()
        })
        .collect();
    let mut least = u32::MAX;
    let mut at = vec![0usize; choices.len()];
    loop {
        let line: Option<Vec<i32>> = at.iter().zip(&choices).map(|(&i, c)| c.get(i).copied()).collect();
        least = least.min(turns(&before, &line?));
        // The next choice, counted like digits.
        let Some(digit) = (0..at.len()).find(|&d| at[d] + 1 < choices[d].len()) else {
            return Some((found, least));
        };
        at[digit] += 1;
        at[..digit].fill(0);
    }
}

fn turns(before: &[i32], after: &[i32]) -> u32 {
    let way = |line: &[i32]| line.windows(2).map(|w| (w[1] - w[0]).signum()).collect::<Vec<_>>();
    way(before).iter().zip(way(after)).filter(|(a, b)| **a != *b).count() as u32
}

/// The line with what the list says done to it.
fn replayed(riff: &Riff, said: &[(String, &str)]) -> Vec<i32> {
    let places: Vec<String> = riff.line().iter().map(|n| riff.place_of(n.onset).to_string()).collect();
    let mut midi = midi(riff);
    for (place, words) in said.iter().filter(|(_, words)| words.contains("octave")) {
        let octaves = if words.contains("two octaves") { 2 } else { 1 };
        let by = if words.ends_with("down") { -12 * octaves } else { 12 * octaves };
        let Some(from) = places.iter().position(|p| p == place) else { continue };
        let last = words.split_once(", up to ").and_then(|(_, rest)| rest.rsplit_once(", ")).map(|r| r.0);
        let to = match last {
            Some(last) => places.iter().position(|p| p == last).unwrap_or(from),
            None if words.starts_with("the whole line") => places.len() - 1,
            None => from,
        };
        midi[from..=to].iter_mut().for_each(|m| *m += by);
    }
    midi
}

fn midi(riff: &Riff) -> Vec<i32> {
    riff.line().iter().map(|n| i32::from(n.note.pitch.midi().number())).collect()
}

fn riff(line: &Line, down: u8, notes: std::ops::Range<usize>) -> Option<Riff> {
    let notes = line.notes.get(notes)?;
    let start = notes.first()?.1;
    // A phrase keeps its place in the bar only if it is the whole line; the measure needs no more.
    let whole = start == Quarters::ZERO;
    let timed: Vec<TimedNote> = notes
        .iter()
        .map(|&(midi, onset, length)| {
            let midi = Midi::new(midi.checked_sub(down)?)?;
            Some(TimedNote { onset: onset - start, length, note: Note::plain(Pitch::simplest(midi)) })
        })
        .collect::<Option<_>>()?;
    let pickup = if whole { line.pickup } else { Quarters::ZERO };
    let bars = notate(&timed, &Layout::new(line.meter).with_pickup(pickup)).ok()?;
    let key = line.key.map(|key| {
        let class = (key.tonic.pitch_class() + 24 - down) % 12;
        Key { tonic: PitchName::simplest(class), ..key }
    });
    Riff::new(Header { key, ..Header::default() }, bars).ok()
}

fn line(row: &serde_json::Value) -> Option<Line> {
    let quarters = |n: &serde_json::Value| {
        // Times are given to six decimals; a 48th of a quarter is finer than any of them.
        Some(Quarters::from_f64_lossy((n.as_f64()? * 48.0).round() / 48.0))
    };
    let notes: Option<Vec<_>> = row["notes"]
        .as_array()?
        .iter()
        .map(|n| Some((u8::try_from(n[0].as_u64()?).ok()?, quarters(&n[3])?, quarters(&n[4])?)))
        .collect();
    let tonic = row["tonic"].as_str().and_then(|t| t.parse::<PitchName>().ok());
    let mode = row["mode"].as_str().and_then(|m| m.parse::<Mode>().ok());
    Some(Line {
        key: tonic.map(|tonic| Key { tonic, mode }),
        meter: row["meter"].as_str()?.parse().unwrap_or(Meter::FOUR_FOUR),
        pickup: quarters(&row["pickup"]).unwrap_or(Quarters::ZERO),
        notes: notes?,
    })
}

fn print(name: &str, row: &Row) {
    let adapted = row.lines - row.fit;
    println!(
        "{name}  {:>9}  {adapted:>7}  {:>8}  {:>10}  {:>7}  {:>3}  {:>11}  {:>11}  {:>11}  {:>10}  {} of {}",
        row.fit,
        row.in_range,
        row.whole,
        row.some,
        row.key,
        row.moved,
        row.turns_taken,
        row.turns_least,
        row.listed,
        row.phrases_least,
        row.phrases
    );
}

fn add(all: &mut Row, row: &Row) {
    all.lines += row.lines;
    all.fit += row.fit;
    all.in_range += row.in_range;
    all.whole += row.whole;
    all.some += row.some;
    all.key += row.key;
    all.moved += row.moved;
    all.notes += row.notes;
    all.turns_taken += row.turns_taken;
    all.turns_least += row.turns_least;
    all.pairs += row.pairs;
    all.listed += row.listed;
    all.phrases += row.phrases;
    all.phrases_least += row.phrases_least;
}
