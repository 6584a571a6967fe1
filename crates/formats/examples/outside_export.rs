//! Writes riffs as MusicXML and MIDI for the checks in `tests/outside`, with `expected.json` saying what each file
//! must hold. What it says comes from the riffs, never from reading the files.
//!
//! `cargo run -p riffkin-formats --example outside_export -- OUTDIR [RIFFDIR]`; RIFFDIR is a folder of
//! riffs in any format, the demo's class when left out.
#![expect(
    clippy::disallowed_methods,
    reason = "an example is a program of its own: it reads its arguments and writes files"
)]

use std::error::Error;
use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use riffkin_audio::listen::{self, Asked};
use riffkin_formats::detect::{self, Kind, ReadOptions};
use riffkin_formats::musicxml::{self, WriteOptions};
use riffkin_formats::{audio_file, midi};
use riffkin_fretboard::neck::Neck;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Mark, Place};
use riffkin_score::random::{Recipe, riff_of};
use riffkin_score::riff::{LineNote, Riff};
use riffkin_score::tempo::Feel;
use riffkin_score::time::Quarters;

/// How many riffs are made up.
const GENERATED: u64 = 500;
/// Every so many riffs are written compressed as well.
const COMPRESSED: usize = 5;

/// Strings and frets for the notes of a line.
type Places = Vec<Option<(Place, u8)>>;

fn main() -> Result<(), Box<dyn Error>> {
    let mut arguments = std::env::args_os().skip(1).map(PathBuf::from);
    let out = arguments.next().ok_or("say where to write: outside_export OUTDIR [RIFFDIR]")?;
    let class = arguments
        .next()
        .unwrap_or_else(|| Path::new(concat!(env!("CARGO_MANIFEST_DIR"), "/../../demo/class")).to_owned());
    std::fs::create_dir_all(&out)?;
    let mut riffs = demo(&class)?;
    for seed in 0..GENERATED {
        let recipe = if seed % 5 == 0 { Recipe::plain(8) } else { Recipe::full(1 + seed as usize % 16) };
        riffs.push((format!("generated {seed}"), riff_of(seed, recipe)));
    }
    let mut entries = Vec::new();
    for (number, (name, riff)) in riffs.iter().enumerate() {
        entries.push(export(&out, number, name, riff)?);
    }
    let json = format!("{{\"riffs\": [\n{}\n]}}\n", entries.join(",\n"));
    std::fs::write(out.join("expected.json"), json)?;
    println!("{} riffs written to {}", riffs.len(), out.display());
    Ok(())
}

/// The riffs of a folder, by file name, whatever their format; a recording is heard first.
fn demo(folder: &Path) -> Result<Vec<(String, Riff)>, Box<dyn Error>> {
    let mut files: Vec<PathBuf> =
        std::fs::read_dir(folder)?.map(|entry| entry.map(|e| e.path())).collect::<Result<_, _>>()?;
    files.sort();
    let mut riffs = Vec::new();
    for file in files {
        let bytes = std::fs::read(&file)?;
        let read = match detect::detect(&bytes) {
            Kind::Audio => heard(&bytes)?,
            _ => {
                detect::read_any(&bytes, &ReadOptions::default())
                    .map_err(|e| format!("{}: {e}", file.display()))?
                    .0
            }
        };
        let name = file.file_stem().unwrap_or_default().to_string_lossy().into_owned();
        riffs.push((name, read));
    }
    Ok(riffs)
}

fn heard(bytes: &[u8]) -> Result<Riff, Box<dyn Error>> {
    let (clip, _) = audio_file::decode(bytes)?;
    let asked = Asked { meter: Some(Meter::FOUR_FOUR), ..Asked::default() };
    let written = listen::written(&listen::hear_solo(&clip), &asked);
    Ok(written.ok_or("nothing is heard in the recording")?.riff)
}

/// Writes one riff and returns its entry for `expected.json`.
fn export(out: &Path, number: usize, name: &str, riff: &Riff) -> Result<String, Box<dyn Error>> {
    let line = riff.line();
    // Every third riff gets a place for each note, as a fit would give; the others keep their own.
    let neck = riff.header().neck.as_deref().map_or(Ok(Neck::named("five")?), Neck::named)?;
    let places = number.is_multiple_of(3).then(|| everywhere(&line, &neck));
    let options = WriteOptions { neck: places.is_some().then_some(&neck), places: places.as_deref() };
    let file = format!("{number:04}.musicxml");
    std::fs::write(out.join(&file), musicxml::write(riff, &options))?;
    let mut entry = String::new();
    write!(entry, "{{\"name\": {}, \"musicxml\": {}", quoted(name), quoted(&file))?;
    if number.is_multiple_of(COMPRESSED) {
        let file = format!("{number:04}.mxl");
        std::fs::write(out.join(&file), musicxml::write_mxl(riff, &options)?)?;
        write!(entry, ", \"mxl\": {}", quoted(&file))?;
    } else {
        entry.push_str(", \"mxl\": null");
    }
    let file = format!("{number:04}.mid");
    std::fs::write(out.join(&file), midi::write(riff, &midi::WriteOptions::default()))?;
    write!(entry, ", \"midi\": {}, \"played\": [{}]", quoted(&file), played(riff).join(", "))?;
    let notes: Vec<String> = line
        .iter()
        .enumerate()
        .map(|(i, note)| written(note, places.as_ref().and_then(|p| p.get(i))))
        .collect();
    write!(entry, ", \"notes\": [{}]", notes.join(", "))?;
    frame(&mut entry, riff)?;
    entry.push('}');
    Ok(entry)
}

/// A place for every note that the neck can sound, the lowest string first; none for harmonics, which sound
/// elsewhere than where they are touched.
fn everywhere(line: &[LineNote], neck: &Neck) -> Places {
    line.iter()
        .map(|note| {
            let place = neck.places(note.note.pitch.midi()).pop();
            let finger = |p: &Place| if p.fret == 0 { 0 } else { 1 + (p.fret - 1) % 4 };
            place.filter(|_| !note.note.marks.has(Mark::Harmonic)).map(|p| (p, finger(&p)))
        })
        .collect()
}

fn written(note: &LineNote, given: Option<&Option<(Place, u8)>>) -> String {
    let mut text = format!(
        "{{\"onset\": \"{}\", \"duration\": \"{}\", \"midi\": {}, \"name\": \"{}\"",
        note.onset,
        note.length,
        note.note.pitch.midi().number(),
        note.note.pitch,
    );
    let place = given.copied().flatten().map(|g| g.0).or(note.note.place);
    if let Some(Place { string, fret }) = place.filter(|_| !note.note.marks.has(Mark::Harmonic)) {
        text.push_str(&format!(", \"string\": {string}, \"fret\": {fret}"));
    }
    text.push('}');
    text
}

/// The notes as they sound, repeats written out and swung: the off-beat of a pair counted from the bar line falls
/// at `long/(long+short)` of it, everything between in proportion, and half a pair at the end of a bar is straight.
fn played(riff: &Riff) -> Vec<String> {
    // Where each bar starts, how far into its meter that is, and where it ends.
    let mut bars = Vec::new();
    let mut at = Quarters::ZERO;
    for index in riff.order() {
        let bar = &riff.bars()[index];
        let lead = if bars.is_empty() { bar.meter.bar_length() - bar.length() } else { Quarters::ZERO };
        bars.push((at, lead, lead + bar.length()));
        at += bar.length();
    }
    let sounds = |at: Quarters| {
        let bar = bars.iter().rev().find(|b| b.0 <= at).filter(|b| at < b.0 + (b.2 - b.1));
        match (riff.header().feel, bar) {
            (Feel::Swing(swing), Some(&(start, lead, end))) => {
                let pair = if swing.sixteenths() { Quarters::EIGHTH } else { Quarters::QUARTER };
                let inside = at - start + lead;
                let within = inside.rest_of_steps(pair);
                if inside >= pair * end.whole_steps(pair) {
                    return ratio(at, (0, 1));
                }
                let (long, short) = (i128::from(swing.long()), i128::from(swing.short()));
                let (n, d) = within.fraction();
                let (pn, pd) = pair.fraction();
                // `within` as a part of the pair, doubled: below 1 the long half, above it the short one.
                let (n, d) = (2 * i128::from(n) * i128::from(pd), i128::from(d) * i128::from(pn));
                let moved = if n < d { n * long } else { d * long + (n - d) * short };
                let moved = (moved * i128::from(pn), d * (long + short) * i128::from(pd));
                ratio(at - within, moved)
            }
            _ => ratio(at, (0, 1)),
        }
    };
    let text = |(n, d): (i128, i128)| format!("{n}/{d}");
    riff.played()
        .iter()
        .map(|note| {
            let (from, to) = (sounds(note.onset), sounds(note.onset + note.length));
            let length = (to.0 * from.1 - from.0 * to.1, to.1 * from.1);
            format!(
                "{{\"onset\": \"{}\", \"duration\": \"{}\", \"midi\": {}}}",
                text(from),
                text(length),
                note.note.pitch.midi().number()
            )
        })
        .collect()
}

/// `at + n/d` as a fraction.
fn ratio(at: Quarters, (n, d): (i128, i128)) -> (i128, i128) {
    let (an, ad) = at.fraction();
    (i128::from(an) * d + n * i128::from(ad), i128::from(ad) * d)
}

/// Key, meters and tempi; the latter two only where the written and the played line have them alike.
fn frame(entry: &mut String, riff: &Riff) -> Result<(), Box<dyn Error>> {
    if let Some(key) = riff.header().key {
        write!(entry, ", \"fifths\": {}", key.signature())?;
    }
    if riff.order().iter().copied().eq(0..riff.bars().len()) {
        // The scripts know meters by their two numbers, so those with groups of their own are left out.
        let usual = |m: Meter| Meter::new(m.beats(), m.unit()) == Some(m);
        let mut meters = Vec::new();
        let mut before = None;
        for (i, bar) in riff.bars().iter().enumerate() {
            let (beats, unit) = (bar.meter.beats(), bar.meter.unit());
            if before != Some(bar.meter) {
                meters
                    .push(format!("{{\"onset\": \"{}\", \"meter\": \"{beats}/{unit}\"}}", riff.bar_start(i)));
            }
            before = Some(bar.meter);
        }
        if riff.bars().iter().all(|bar| usual(bar.meter)) {
            write!(entry, ", \"meters\": [{}]", meters.join(", "))?;
        }
        let mut tempos = Vec::new();
        for (at, tempo) in riff.tempo().changes() {
            let thousandths = (tempo.per_minute() * 1000.0).round() as i64;
            let per_minute = tempo.unit().length().scaled(thousandths, 1000).map_or_else(
                |_| exact_product(tempo.unit().length(), thousandths),
                |quarters| quarters.to_string(),
            );
            tempos.push(format!("{{\"onset\": \"{at}\", \"quarters_per_minute\": \"{per_minute}\"}}"));
        }
        write!(entry, ", \"tempos\": [{}]", tempos.join(", "))?;
    }
    Ok(())
}

/// `length · thousandths / 1000` as a fraction.
fn exact_product(length: Quarters, thousandths: i64) -> String {
    let (n, d) = length.fraction();
    format!("{}/{}", n * thousandths, d * 1000)
}

/// A JSON string.
fn quoted(text: &str) -> String {
    let mut out = String::from("\"");
    for c in text.chars() {
        match c {
            '"' | '\\' => out.extend(['\\', c]),
            c if c.is_control() => out.push_str(&format!("\\u{:04x}", u32::from(c))),
            c => out.push(c),
        }
    }
    out.push('"');
    out
}
