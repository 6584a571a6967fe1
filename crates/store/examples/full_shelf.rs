//! How quickly riffs go on a shelf, how quickly they are found on a large one, and how much room they take.
//!
//! `cargo run --release -p riffkin-store --example full_shelf -- [COUNT] [FOLDER]`: by default a million riffs in the folder
//! for temporary files. The riffs are made up (four bars of eighths from a generator with a fixed seed): what is measured is
//! the keeping, which does not care for the music. Prints figures and asserts nothing but that everything is there.

use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;

use riffkin_store::prints::Prints;
use riffkin_store::riff::{Change, Content, Facts, New};
use riffkin_store::search::{Order, Wanted};
use riffkin_store::{Access, Moment, RiffId, Shelf};

/// Words of made-up titles.
const WORDS: [&str; 48] = [
    "Wet", "Rope", "Ferry", "Stomp", "Net", "Mender", "Low", "Tide", "Lament", "Cold", "Quay", "Creep",
    "Crab", "Pot", "Count", "Deep", "Hold", "Fog", "Horn", "Gull", "Roof", "Herring", "Queue", "Lantern",
    "Walk", "Mooring", "Line", "Oilskin", "Strut", "Pier", "Light", "Rowlock", "Reel", "Seven", "Oars",
    "Slipway", "Shuffle", "Tar", "Barrel", "Hop", "Bilge", "Pump", "Bollard", "Bounce", "Anchor", "Chain",
    "Keel", "Song",
];
/// Riffs that are added at once.
const BATCH: usize = 1_000;

/// The generator of Park and Miller 1988.
struct Dice(u64);

impl Dice {
    fn roll(&mut self, sides: usize) -> usize {
        self.0 = self.0 * 16_807 % 2_147_483_647;
        (self.0 as usize) % sides
    }
}

fn made_up(dice: &mut Dice, i: usize) -> (Content, Facts, Prints) {
    let title = format!("{} {} {} {i}", WORDS[dice.roll(48)], WORDS[dice.roll(48)], WORDS[dice.roll(48)]);
    let mut notation = format!("riff: {title}\nkey: A minor\nmeter: 4/4\ntempo: 96\n\n");
    let mut imprint = vec![1, 6, 9];
    let mut degrees = 0;
    for _ in 0..4 {
        notation.push_str("| e");
        for _ in 0..8 {
            let note = dice.roll(8);
            notation.push_str([" 1", " b3", " 4", " 5", " b7", " 1+", " 5-", " b7-"][note]);
            degrees |= [1, 8, 32, 128, 1024, 1, 128, 1024][note];
            imprint.extend([33 + note as u8, 1, 1]);
        }
        notation.push(' ');
    }
    notation.push_str("|\n");
    let likeness = (0..16).map(|_| dice.roll(256) as u8).collect();
    let content = Content {
        title,
        notation,
        source: "made up".to_owned(),
        tags: vec![format!("tag {}", dice.roll(200))],
        ..Content::default()
    };
    let facts = Facts { key: "A minor".to_owned(), meter: "4/4".to_owned(), notes: 32, degrees };
    (content, facts, Prints { version: 1, likeness, imprint })
}

/// A question with its name, made anew each time.
type Ask = (&'static str, Box<dyn Fn(&mut Dice) -> Wanted>);

/// The first page of what is wanted.
fn page(wanted: Wanted) -> Wanted {
    Wanted { most: Some(50), ..wanted }
}

fn two(dice: &mut Dice) -> String {
    format!("{} {}", WORDS[dice.roll(48)], WORDS[dice.roll(48)])
}

fn by_words(words: String) -> Wanted {
    page(Wanted { words, ..Wanted::default() })
}

/// Median and 95th percentile in milliseconds.
fn spread(mut ms: Vec<f64>) -> (f64, f64) {
    ms.sort_by(f64::total_cmp);
    let at = |share: f64| ms.get(((ms.len() - 1) as f64 * share) as usize).copied().unwrap_or(f64::NAN);
    (at(0.5), at(0.95))
}

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let count: usize = words.next().map_or(Ok(1_000_000), |w| w.parse())?;
    let folder = words.next().map_or_else(std::env::temp_dir, PathBuf::from);
    let file = folder.join(format!("riffkin-million-{}.shelf", std::process::id()));
    let mut shelf = Shelf::open(&file, Access::Create)?;
    let mut dice = Dice(12_345);

    let singles = 500.min(count);
    let begun = Instant::now();
    for i in 0..singles {
        let (content, facts, prints) = made_up(&mut dice, i);
        shelf.add(&[New { content: &content, facts: &facts, prints: &prints, import: None }], Moment(0))?;
    }
    let each = begun.elapsed().as_secs_f64() * 1e3 / singles as f64;
    println!(
        "one at a time, each safe before the next: {:.0} riffs a second ({each:.2} ms each)",
        1e3 / each
    );

    let begun = Instant::now();
    let mut done = singles;
    let mut mark = (Instant::now(), done);
    while done < count {
        let batch: Vec<_> = (done..count.min(done + BATCH)).map(|i| made_up(&mut dice, i)).collect();
        let news: Vec<_> = batch
            .iter()
            .map(|(content, facts, prints)| New { content, facts, prints, import: None })
            .collect();
        shelf.add(&news, Moment(done as i64))?;
        done += batch.len();
        if done - mark.1 >= 100_000 || done == count {
            let rate = (done - mark.1) as f64 / mark.0.elapsed().as_secs_f64();
            println!("{done:>9} riffs, the last of them at {rate:.0} a second");
            mark = (Instant::now(), done);
        }
    }
    let rate = (done - singles) as f64 / begun.elapsed().as_secs_f64();
    println!("{BATCH} at a time: {rate:.0} riffs a second");
    drop(shelf);
    let bytes = file.metadata()?.len();
    println!("{bytes} bytes, {:.0} for each riff", bytes as f64 / done as f64);

    let begun = Instant::now();
    let mut shelf = Shelf::open(&file, Access::Write)?;
    println!("opened in {:.1} ms", begun.elapsed().as_secs_f64() * 1e3);
    let asks: Vec<Ask> = vec![
        ("two words, the first 50", Box::new(|d| by_words(two(d)))),
        ("two words, the best 50", Box::new(|d| Wanted { order: Order::Match, ..by_words(two(d)) })),
        ("a number in the title", Box::new(|d| by_words(d.roll(900_000).to_string()))),
        ("the beginning of a word", Box::new(|d| by_words(WORDS[d.roll(48)][..2].to_owned()))),
        (
            "a tag",
            Box::new(|d| page(Wanted { tags: vec![format!("tag {}", d.roll(200))], ..Wanted::default() })),
        ),
        (
            "within five degrees, by title",
            Box::new(|d| {
                page(Wanted {
                    within: Some(0b100_1010_1001 & !(1 << d.roll(2))),
                    order: Order::Title,
                    ..Wanted::default()
                })
            }),
        ),
        ("the last changed", Box::new(|_| page(Wanted { order: Order::Changed, ..Wanted::default() }))),
    ];
    for (name, ask) in &asks {
        let mut times = Vec::new();
        let mut found = 0;
        for _ in 0..40 {
            let wanted = ask(&mut dice);
            let begun = Instant::now();
            found += shelf.find(&wanted)?.len();
            times.push(begun.elapsed().as_secs_f64() * 1e3);
        }
        let (median, late) = spread(times);
        println!(
            "{name}: {median:.2} ms, {late:.2} ms at the 95th percentile ({found} found in 40 questions)"
        );
    }
    let mut times = Vec::new();
    for i in 0..200 {
        let id = RiffId(1 + dice.roll(done) as i64);
        let prints = shelf.prints(id)?.ok_or("a riff has no fingerprint")?;
        let begun = Instant::now();
        if !shelf.alike(1, &prints.likeness, 10)?.contains(&id) {
            return Err(format!("riff {id} was not found by its likeness").into());
        }
        times.push(begun.elapsed().as_secs_f64() * 1e3);
        let change = Change { note: Some(format!("note {i}")), ..Change::default() };
        shelf.change(id, &change, Moment(i))?;
    }
    let (median, late) = spread(times);
    println!("the same riff by its likeness: {median:.3} ms, {late:.3} ms at the 95th percentile");
    let begun = Instant::now();
    let (mut seen, mut size) = (0, 0);
    shelf.each_imprint(|imprint| {
        seen += 1;
        size += imprint.bytes.len();
        true
    })?;
    println!("all {seen} imprints ({size} bytes) read in {:.2} s", begun.elapsed().as_secs_f64());
    let begun = Instant::now();
    let faults = shelf.faults()?;
    println!("checked in {:.1} s", begun.elapsed().as_secs_f64());
    if !faults.is_empty() || shelf.count()? != (done as u64, 0) {
        return Err(format!("the shelf is not sound: {faults:?}").into());
    }
    let begun = Instant::now();
    let copy = folder.join(format!("riffkin-million-{}.copy", std::process::id()));
    shelf.back_up(&copy)?;
    println!("copied in {:.1} s", begun.elapsed().as_secs_f64());
    drop(shelf);
    std::fs::remove_file(&copy)?;
    std::fs::remove_file(&file)?;
    Ok(())
}
