//! Hears WAV recordings of a bass and writes what it heard, one CSV beside another.
//!
//! `cargo run --release -p riffkin-audio --example hear -- [--mix] OUT_DIR FILE.wav...` writes `OUT_DIR/FILE.csv` with
//! `onset_s,offset_s,midi,confidence,level_db,manner`, notes with a pitch only. With `--mix` the bass may have other
//! instruments around it.

#![allow(
    clippy::disallowed_methods,
    reason = "an example stands in for the program, which alone reads and writes files"
)]

mod recording;

use riffkin_audio::listen;
use std::error::Error;
use std::fmt::Write as _;
use std::path::Path;

fn main() -> Result<(), Box<dyn Error>> {
    let mut words = std::env::args().skip(1);
    let mut word = words.next();
    let mix = word.as_deref() == Some("--mix");
    if mix {
        word = words.next();
    }
    let out = word.ok_or("give a folder for the results and WAV files")?;
    std::fs::create_dir_all(&out)?;
    for file in words {
        let clip = recording::read(Path::new(&file))?;
        let notes = if mix { listen::hear(&listen::mix::Mix, &clip) } else { listen::hear_solo(&clip) };
        let mut csv = String::from("onset_s,offset_s,midi,confidence,level_db,manner\n");
        for note in notes.iter().filter(|n| n.manner != listen::Manner::Dead) {
            let (onset, offset, sure) = (note.onset_s, note.offset_s, note.confidence);
            writeln!(
                csv,
                "{onset:.4},{offset:.4},{},{sure:.3},{:.1},{:?}",
                note.midi, note.level_db, note.manner
            )?;
        }
        let name = Path::new(&file).with_extension("csv");
        std::fs::write(Path::new(&out).join(name.file_name().ok_or("a file has no name")?), csv)?;
    }
    Ok(())
}
