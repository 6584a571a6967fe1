//! Makes a shelf of very many riffs, to measure `riffkin kin` on it as people call it.
//!
//! `cargo run --release -p riffkin --example kin_million -- FILE.shelf [COUNT]`, then
//! `riffkin kin --shelf FILE.shelf --of RIFF --by intervals` and so on. Imprints are those of the made-up shelf of
//! `riffkin-kin`'s example `million`, with a hand shape from the lowest frets of four strings; all riffs have one
//! and the same text, because what is measured is the finding.

#![allow(clippy::expect_used, reason = "a measurement stops where it fails")]

use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;

use riffkin_fretboard::hand_shape::{HandShape, Held, Step};
use riffkin_kin::imprint::Imprint;
use riffkin_store::prints::Prints;
use riffkin_store::riff::{Content, Facts, New};
use riffkin_store::{Access, Moment, Shelf};

#[allow(dead_code, reason = "the other example uses the rest of it")]
#[path = "../../kin/examples/million/shelf.rs"]
mod shelf;

/// Riffs that are added at once.
const BATCH: usize = 1_000;
/// The rules by which the program makes imprints today.
const RULES: u32 = 2;
const WORDS: [&str; 16] = [
    "Wet", "Rope", "Ferry", "Stomp", "Net", "Mender", "Low", "Tide", "Lament", "Cold", "Quay", "Creep",
    "Fog", "Horn", "Lantern", "Walk",
];

fn on_the_lowest_frets(imprint: &Imprint) -> Option<HandShape> {
    let step = |midi: u8| {
        let above = midi.saturating_sub(28);
        let string = (above / 5).min(3);
        Step { string: string.cast_signed(), held: Held::Fretted((above - 5 * string).cast_signed()) }
    };
    HandShape::of_steps(imprint.notes().iter().map(|n| step(n.midi)).collect())
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let file = PathBuf::from(words.next().ok_or("name the shelf that is to be made")?);
    let count: usize = words.next().map_or(Ok(1_000_000), |w| w.parse())?;
    let mut kept = Shelf::open(&file, Access::Create)?;
    let begun = Instant::now();
    let mut batch: Vec<(Content, Facts, Prints)> = Vec::with_capacity(BATCH);
    for (number, bare) in shelf::shelf(1, count) {
        let imprint =
            Imprint::new(bare.notes().to_vec(), bare.tonic(), bare.length(), on_the_lowest_frets(&bare))?;
        let word = |by: u64| WORDS[(number / by % 16) as usize];
        let title = format!("{} {} {} {number}", word(1), word(16), word(256));
        let notation = format!(
            "riff: {title}\nkey: G minor\nmeter: 4/4\ntempo: 96\n\n| e 1 b3 4 5 q 1 b7- | e 1 b3 4 5 h 1 |\n| e 1 b3 4 5 q 1 b7- | w 1 |\n"
        );
        let content = Content { title, notation, ..Content::default() };
        let facts = Facts {
            key: "G minor".to_owned(),
            meter: "4/4".to_owned(),
            notes: imprint.notes().len() as u32,
            degrees: imprint.set().bits(),
        };
        let likeness = imprint.likeness().map(Vec::from).unwrap_or_default();
        batch.push((content, facts, Prints { version: RULES, likeness, imprint: imprint.to_bytes() }));
        if batch.len() == BATCH || number as usize + 1 == count {
            let news: Vec<_> = batch
                .iter()
                .map(|(content, facts, prints)| New { content, facts, prints, import: None })
                .collect();
            kept.add(&news, Moment(number as i64))?;
            batch.clear();
        }
    }
    println!("{count} riffs in {:.0} s", begun.elapsed().as_secs_f64());
    drop(kept);
    println!("{} bytes", file.metadata()?.len());
    Ok(())
}
