//! The program is killed at random points while it adds and changes riffs, another process working on the same shelf. What it
//! said was done must be there, the file must be sound, and everything must come out as plain files.
//!
//! Five kills among the tests; `cargo xtask shelf-kills 100` makes it a hundred. A kill ends the program, not the machine:
//! what survives a power cut rests on SQLite's own promise for `synchronous=FULL` (*Atomic Commit In SQLite*, 9).

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use std::collections::BTreeSet;
use std::fmt::Write as _;
use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

use riffkin_store::{Access, RiffId, Shelf};

/// Files that are added in one round.
const FILES: usize = 8;
/// Rounds on one shelf, before another is begun.
const ROUNDS: usize = 12;

/// A sequence without pattern that is the same every time (the generator of Park and Miller 1988).
struct Dice(u64);

impl Dice {
    /// From 0 up to `sides`, itself left out.
    fn roll(&mut self, sides: u64) -> u64 {
        self.0 = self.0 * 16_807 % 2_147_483_647;
        self.0 % sides
    }
}

/// What the program said was done.
#[derive(Default)]
struct Said {
    added: Vec<(i64, String)>,
    /// Riff, edition, tag.
    tagged: Vec<(i64, u32, String)>,
}

struct Bench {
    folder: PathBuf,
    shelf: PathBuf,
    said: Said,
}

impl Drop for Bench {
    fn drop(&mut self) {
        let _ = fs::remove_dir_all(&self.folder);
    }
}

impl Bench {
    fn start(&self, words: &[&str]) -> Child {
        Command::new(env!("CARGO_BIN_EXE_riffkin"))
            .arg("shelf")
            .args(words)
            .env("RIFFKIN_SHELF", &self.shelf)
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap()
    }

    /// A folder of riffs that were never there before.
    fn riffs(&self, dice: &mut Dice, round: usize) -> String {
        let folder = self.folder.join(format!("in-{round}"));
        fs::create_dir_all(&folder).unwrap();
        for i in 0..FILES {
            let mut text = format!("riff: Round {round} riff {i}\nkey: A minor\n|");
            for _ in 0..4 {
                for _ in 0..8 {
                    let degree = ["1", "b3", "4", "5", "b7", "1+", "5-", "b7-"][dice.roll(8) as usize];
                    let _ = write!(text, " e {degree}");
                }
                text.push_str(" |");
            }
            fs::write(folder.join(format!("{i}.riff")), text + "\n").unwrap();
        }
        folder.display().to_string()
    }

    /// Takes down what one process said: whole lines only.
    fn take_down(&mut self, text: &str, tag: &str) -> usize {
        let mut count = 0;
        for line in text.split_inclusive('\n').filter_map(|l| l.strip_suffix('\n')) {
            if let Some(added) = line.strip_prefix("added ") {
                let (id, title) = added.split_once(' ').unwrap();
                self.said.added.push((id.parse().unwrap(), title.to_owned()));
                count += 1;
            } else if let Some((before, edition)) = line.split_once(": changed tags (edition ") {
                let id = before.split_once(' ').unwrap().0.parse().unwrap();
                self.said.tagged.push((
                    id,
                    edition.strip_suffix(')').unwrap().parse().unwrap(),
                    tag.to_owned(),
                ));
                count += 1;
            }
        }
        count
    }

    /// Everything that was said is there, and the file is sound.
    fn verify(&self) {
        if !self.shelf.exists() {
            assert!(self.said.added.is_empty(), "the shelf is gone");
            return;
        }
        let shelf = Shelf::open(&self.shelf, Access::Create).unwrap();
        for (id, title) in &self.said.added {
            let found = shelf.edition(RiffId(*id), 1);
            assert_eq!(found.unwrap().content.title, *title, "riff {id} was lost");
        }
        for (id, edition, tag) in &self.said.tagged {
            let found = shelf.edition(RiffId(*id), *edition).unwrap();
            assert!(found.content.tags.contains(tag), "edition {edition} of riff {id} was lost");
        }
        assert_eq!(shelf.faults().unwrap(), Vec::<String>::new());
    }

    /// Everything comes out as plain files, and in again.
    fn export(&self) {
        let out = self.folder.join("out");
        let status = self.start(&["export", out.to_str().unwrap()]).wait().unwrap();
        assert!(status.success(), "the export failed");
        let second = self.folder.join("second.shelf");
        let again = ["--shelf", second.to_str().unwrap(), "add", out.to_str().unwrap()];
        assert!(self.start(&again).wait().unwrap().success(), "the export cannot be read");
        let count = |path: &Path| Shelf::open(path, Access::Read).unwrap().count().unwrap();
        assert_eq!(count(&second), count(&self.shelf));
        assert!(self.start(&["check"]).wait().unwrap().success());
    }
}

/// Lets both run, kills those that are to be killed after a while; gives what each said, and whether a kill hit.
fn run(mut children: [Option<Child>; 2], kill: [bool; 2], after: Duration) -> ([String; 2], bool) {
    let begun = Instant::now();
    let readers = children.each_mut().map(|child| {
        let mut out = child.as_mut().and_then(|c| c.stdout.take());
        thread::spawn(move || {
            let mut text = Vec::new();
            if let Some(out) = &mut out {
                out.read_to_end(&mut text).unwrap();
            }
            String::from_utf8(text).unwrap()
        })
    });
    thread::sleep(after.saturating_sub(begun.elapsed()));
    let mut hit = false;
    for (child, kill) in children.iter_mut().zip(kill) {
        if let Some(child) = child.as_mut().filter(|_| kill) {
            let runs = child.try_wait().unwrap().is_none();
            // On Unix this is SIGKILL, which no program can answer.
            let _ = child.kill();
            hit |= runs;
        }
    }
    for child in children.iter_mut().flatten() {
        child.wait().unwrap();
    }
    (readers.map(|r| r.join().unwrap()), hit)
}

#[test]
fn nothing_that_was_said_to_be_done_is_lost_by_a_kill() {
    let number =
        |name: &str, default: u64| std::env::var(name).ok().and_then(|v| v.parse().ok()).unwrap_or(default);
    let (kills, seed) = (number("RIFFKIN_KILLS", 5), number("RIFFKIN_SEED", 1));
    let mut dice = Dice(seed % 2_147_483_646 + 1);
    let (mut hits, mut done, mut written, mut shelves) = (0, 0, 0, 0);
    let mut took = Duration::ZERO;
    let mut instants = BTreeSet::new();
    while hits < kills {
        shelves += 1;
        let folder = std::env::temp_dir().join(format!("riffkin-kills-{}-{shelves}", std::process::id()));
        let _ = fs::remove_dir_all(&folder);
        fs::create_dir_all(&folder).unwrap();
        let mut bench = Bench { shelf: folder.join("riffs.shelf"), folder, said: Said::default() };
        for round in 0..ROUNDS {
            if hits >= kills {
                break;
            }
            done += 1;
            assert!(done < 20 * kills + 20, "the program is too quick to be killed");
            let folder = bench.riffs(&mut dice, round);
            let tag = format!("round {round}");
            let known: Vec<String> =
                bench.said.added.iter().rev().take(12).map(|(id, _)| id.to_string()).collect();
            let known = known.join(",");
            let adding = bench.start(&["add", &folder]);
            let tagging = (!known.is_empty()).then(|| bench.start(&["tag", &known, &tag]));
            // The first round of all says how long one takes.
            let measuring = took.is_zero();
            let begun = Instant::now();
            let kill = match dice.roll(4) {
                _ if measuring => [false, false],
                0 => [true, true],
                1 => [false, true],
                _ => [true, false],
            };
            let after = took.mul_f64(dice.roll(1_000) as f64 / 1_000.0);
            let (said, hit) = run([Some(adding), tagging], kill, after);
            if measuring {
                took = begun.elapsed();
            }
            hits += u64::from(hit);
            let count: usize = said.iter().map(|text| bench.take_down(text, &tag)).sum();
            written += count;
            instants.insert((kill, count));
            bench.verify();
        }
        bench.export();
    }
    println!(
        "{hits} kills that hit in {done} rounds on {shelves} shelves, one round {} ms; {written} acknowledged writes, none \
         lost; {} different places of a kill",
        took.as_millis(),
        instants.len()
    );
    assert!(hits >= kills && written > 0);
}
