//! `cargo xtask accuracy hear`: how well recordings become notes.
//!
//! The program as people run it hears every recording of a set; its notes are matched with the true ones by the rules
//! of [`matching`]. `docs/hearing.md` says where the sets come from and what the figures mean.

pub(crate) mod child;
mod confidence;
mod figures;
mod kinds;
mod listeners;
mod matching;
mod notes;
mod sets;
mod tables;
#[cfg(test)]
mod triples;
mod wave;

use crate::files::target_dir;
use crate::python;
use figures::Figures;
use listeners::{Heard, MIX_STFTS, Ours, SOLO_STFTS, pyin};
use sets::{Set, Variant};
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// The words after `cargo xtask accuracy`.
pub(crate) const USAGE: &str = "\
cargo xtask accuracy hear            score `riffkin hear` on sets of recordings with known notes
    --set DIR                        a set that is there (more than once for more); else the project's own are made
    --seed N --count N               which lines the project's own sets hold, and how many (default 7001 and 20)
    --only VARIANT,…                 solo, solo-degraded, mix
    --beside pyin                    score librosa's pYIN on the same files
    --program FILE                   hear with this program instead of the workspace's release build
    --files                          the score of each file too
    --dump FILE                      write each heard note, its confidence and whether it is right, as CSV
";

/// Where the sets' requirements are.
const PINS: &str = "tests/hearing/requirements.txt";

/// Seed of the lines that measure; none that anything was learned or chosen on.
const LINES: u32 = 7001;

#[derive(Debug, PartialEq)]
struct Options {
    sets: Vec<PathBuf>,
    seed: u32,
    count: usize,
    variants: Vec<Variant>,
    beside_pyin: bool,
    program: Option<PathBuf>,
    with_files: bool,
    dump: Option<PathBuf>,
}

impl Options {
    fn of(words: &[String]) -> Result<Self, String> {
        let mut options = Self {
            sets: Vec::new(),
            seed: LINES,
            count: 20,
            variants: Variant::ALL.to_vec(),
            beside_pyin: false,
            program: None,
            with_files: false,
            dump: None,
        };
        let mut words = words.iter();
        while let Some(word) = words.next() {
            if word == "--files" {
                options.with_files = true;
                continue;
            }
            let value =
                words.next().ok_or_else(|| format!("`{word}` is unknown or lacks its value\n{USAGE}"))?;
            let number = || value.parse::<u32>().map_err(|_| format!("{word} {value}: not a number"));
            match word.as_str() {
                "--set" => options.sets.push(PathBuf::from(value)),
                "--seed" => options.seed = number()?,
                "--count" => options.count = number()?.max(1) as usize,
                "--only" => options.variants = variants(value)?,
                "--beside" if value == "pyin" => options.beside_pyin = true,
                "--program" => options.program = Some(PathBuf::from(value)),
                "--dump" => options.dump = Some(PathBuf::from(value)),
                _ => return Err(format!("`{word} {value}` is unknown\n{USAGE}")),
            }
        }
        Ok(options)
    }
}

fn variants(list: &str) -> Result<Vec<Variant>, String> {
    let named = |word: &str| {
        let found = Variant::ALL.into_iter().find(|variant| variant.folder() == word);
        found.ok_or_else(|| format!("`{word}` is no variant: solo, solo-degraded or mix"))
    };
    list.split(',').map(named).collect()
}

/// Runs the bench.
pub(crate) fn command(root: &Path, words: &[String]) -> Result<(), String> {
    let Some((what, rest)) = words.split_first().filter(|(what, _)| *what == "hear") else {
        return Err(format!("what is to be scored?\n{USAGE}"));
    };
    let options = Options::of(rest)?;
    let work = target_dir(root).join("hearing").join("heard");
    fs::create_dir_all(&work).map_err(|why| format!("{}: {why}", work.display()))?;
    let needs_python = options.sets.is_empty() || options.beside_pyin;
    let python = if needs_python { Some(python::ready(root, "hearing-venv", PINS)?) } else { None };
    let sets = match &python {
        Some(python) if options.sets.is_empty() => sets::own(root, python, options.seed, options.count)?,
        _ => options.sets.iter().map(|folder| Set::open(folder)).collect::<Result<_, _>>()?,
    };
    let ours = Ours::ready(root, options.program.as_deref())?;
    let mut dump = String::from("set,variant,name,onset_s,offset_s,midi,confidence,right\n");
    for set in &sets {
        let beside = python.as_deref().filter(|_| options.beside_pyin);
        score(root, set, &ours, beside, &options, &work, &mut dump)?;
    }
    costs(root, &sets[0], &ours, &options, &work)?;
    if let Some(path) = &options.dump {
        fs::write(path, dump).map_err(|why| format!("{}: {why}", path.display()))?;
    }
    println!("what was heard: {} ({what})", work.display());
    Ok(())
}

/// Hears and scores one set.
fn score(
    root: &Path,
    set: &Set,
    ours: &Ours,
    beside: Option<&Path>,
    options: &Options,
    work: &Path,
    dump: &mut String,
) -> Result<(), String> {
    let mut rows: [Vec<Option<Figures>>; 2] = [Vec::new(), Vec::new()];
    for variant in Variant::ALL {
        let asked = options.variants.contains(&variant)
            && set.pieces.iter().all(|piece| set.recording(variant, &piece.name).exists());
        let folder = |listener: &str| -> Result<PathBuf, String> {
            let folder = work.join(listener).join(&set.name).join(variant.folder());
            python::empty(&folder)?;
            Ok(folder)
        };
        let mine = if asked && (variant != Variant::Mix || ours.knows_mix) {
            let mut figures = Figures::default();
            let heard = ours.hear(set, variant, &folder("riffkin")?, &mut figures)?;
            Some(judged(set, variant, &heard, figures, Some(&mut *dump)))
        } else {
            None
        };
        rows[0].push(mine);
        let theirs = match beside {
            Some(python) if asked => {
                let mut figures = Figures::default();
                let heard = pyin(root, python, set, variant, &folder("pyin")?, &mut figures)?;
                Some(judged(set, variant, &heard, figures, None))
            }
            _ => None,
        };
        rows[1].push(theirs);
    }
    println!("\n## {}\n\nonset F1 / onset + offset F1\n", set.name);
    println!("| | solo | solo-degraded | mix | CPU s per s of sound, each | peak MB |");
    println!("| --- | --- | --- | --- | --- | --- |");
    println!("{}", tables::overview_row("riffkin hear", &rows[0]));
    if beside.is_some() {
        println!("{}", tables::overview_row("pYIN (librosa) cut into notes", &rows[1]));
    }
    for (listener, figures) in ["riffkin hear", "pYIN"].iter().zip(&rows) {
        for (variant, figures) in Variant::ALL.iter().zip(figures) {
            if let Some(figures) = figures {
                let detail = tables::detail(figures, options.with_files);
                println!("\n### {}: {}: {listener}\n\n{detail}", set.name, variant.folder());
            }
        }
    }
    Ok(())
}

/// The figures of what was heard; each note goes into `dump` too.
fn judged(
    set: &Set,
    variant: Variant,
    heard: &[Heard],
    mut figures: Figures,
    mut dump: Option<&mut String>,
) -> Figures {
    for (piece, (name, notes)) in set.pieces.iter().zip(heard) {
        let right = figures.add(piece, notes);
        let Some(dump) = dump.as_deref_mut() else { continue };
        for (note, right) in notes.iter().zip(right) {
            let confidence = note.confidence.map_or_else(String::new, |confidence| confidence.to_string());
            // Writing to a string cannot fail.
            writeln!(
                dump,
                "{},{},{name},{:.4},{:.4},{},{confidence},{}",
                set.name,
                variant.folder(),
                note.onset,
                note.offset,
                note.midi,
                u8::from(right)
            )
            .unwrap_or_default();
        }
    }
    figures
}

/// What hearing 30 s in one file takes, and how that compares with the bare transforms.
fn costs(root: &Path, set: &Set, ours: &Ours, options: &Options, work: &Path) -> Result<(), String> {
    println!("\n## Cost: 30 s of {} in one file\n", set.name);
    for variant in [Variant::Solo, Variant::Mix] {
        if !options.variants.contains(&variant) || variant == Variant::Mix && !ours.knows_mix {
            continue;
        }
        let (per_s, peak) = ours.cost_of_30_s(set, variant, work)?;
        println!(
            "{}: {} CPU s per s, peak {} MB",
            variant.folder(),
            tables::cpu(per_s),
            tables::megabytes(peak)
        );
        let transforms = if variant == Variant::Mix { MIX_STFTS } else { SOLO_STFTS };
        let bare = transforms.cost(root, work)?;
        let ratio = per_s.zip(bare).map_or_else(|| "-".to_owned(), |(a, b)| format!("{:.1}", a / b));
        println!(
            "    its Fourier transforms alone ({}): {} CPU s per s; ratio {ratio}",
            transforms.words(),
            tables::cpu(bare)
        );
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn options(line: &str) -> Result<Options, String> {
        Options::of(&line.split_whitespace().map(str::to_owned).collect::<Vec<_>>())
    }

    #[test]
    fn options_are_read() {
        let read = options("--set a --set b --only mix,solo --beside pyin --files --seed 5").unwrap();
        assert_eq!(read.sets, [PathBuf::from("a"), PathBuf::from("b")]);
        assert_eq!(read.variants, [Variant::Mix, Variant::Solo]);
        assert!(read.beside_pyin && read.with_files && read.seed == 5 && read.count == 20);
    }

    #[test]
    fn what_is_unknown_is_told() {
        for line in ["--beside nobody", "--only loud", "--seed x", "--set", "--what 1"] {
            assert!(options(line).is_err(), "{line}");
        }
    }
}
