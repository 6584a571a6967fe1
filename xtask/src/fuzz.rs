//! `cargo xtask fuzz`: build the fuzz targets and run them.
//!
//! The targets are their own workspace in `fuzz/`. They are instrumented for coverage with flags that the
//! pinned stable compiler takes, so no other toolchain is needed; overflow checks and debug assertions are on
//! (see `fuzz/Cargo.toml`). There is no address sanitizer, which stable lacks; the code is safe Rust.

use crate::files::target_dir;
use crate::giants;
use crate::needs::{self, CPP};
use crate::run::{Show, must, run};
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// Coverage of edges with counters, the table of places, and the values of comparisons, as libFuzzer reads them
/// (LLVM documentation, "SanitizerCoverage").
const RUSTFLAGS: &str = "--cfg fuzzing -Cpasses=sancov-module -Cllvm-args=-sanitizer-coverage-level=4 \
    -Cllvm-args=-sanitizer-coverage-inline-8bit-counters -Cllvm-args=-sanitizer-coverage-pc-table \
    -Cllvm-args=-sanitizer-coverage-trace-compares";

/// Longest input, in bytes: 1 MiB.
const LONGEST: usize = 1 << 20;

/// Limits of one input: a second of time and two gigabytes of memory.
const LIMITS: [&str; 2] = ["-timeout=1", "-rss_limit_mb=2048"];

const BUILD_LIMIT: Duration = Duration::from_secs(25 * 60);

/// What the words after `fuzz` ask for.
#[derive(Debug, PartialEq)]
enum Wish {
    Run { target: Option<String>, seconds: u64 },
    Giants { target: Option<String> },
}

fn parse(words: &[String]) -> Result<Wish, String> {
    let (mut target, mut seconds, mut giants) = (None, None, false);
    let mut rest = words.iter();
    while let Some(word) = rest.next() {
        match word.as_str() {
            "--giants" => giants = true,
            "--seconds" => {
                let number = rest.next().ok_or("--seconds needs a number")?;
                seconds = Some(number.parse().map_err(|_| format!("`{number}` is no number of seconds"))?);
            }
            name if !name.starts_with('-') && target.is_none() => target = Some(name.to_owned()),
            other => return Err(format!("`{other}` is not understood; see `cargo xtask help`")),
        }
    }
    match (giants, seconds) {
        (true, Some(_)) => Err("--giants takes no --seconds: each input runs once".to_owned()),
        (true, None) => Ok(Wish::Giants { target }),
        (false, seconds) => Ok(Wish::Run { target, seconds: seconds.unwrap_or(60) }),
    }
}

/// Builds the targets, then runs what the words ask for.
pub(crate) fn command(root: &Path, words: &[String]) -> Result<(), String> {
    let wish = parse(words)?;
    let wanted = match &wish {
        Wish::Run { target, .. } | Wish::Giants { target } => target.clone(),
    };
    let names = chosen(&targets(root)?, wanted.as_deref())?;
    build(root)?;
    match wish {
        Wish::Run { seconds, .. } => names.iter().try_for_each(|name| run_target(root, name, seconds)),
        Wish::Giants { .. } => {
            let broken: Vec<String> = names.iter().filter_map(|name| run_giants(root, name).err()).collect();
            if broken.is_empty() { Ok(()) } else { Err(broken.join("\n")) }
        }
    }
}

fn chosen(all: &[String], wanted: Option<&str>) -> Result<Vec<String>, String> {
    match wanted {
        None => Ok(all.to_vec()),
        Some(name) if all.iter().any(|known| known == name) => Ok(vec![name.to_owned()]),
        Some(name) => Err(format!("`{name}` is no fuzz target; there are: {}", all.join(" "))),
    }
}

/// The names of the targets, from the fuzz workspace's manifest.
fn targets(root: &Path) -> Result<Vec<String>, String> {
    let path = root.join("fuzz/Cargo.toml");
    let text = std::fs::read_to_string(&path).map_err(|why| format!("{}: {why}", path.display()))?;
    let names = target_names(&text)?;
    if names.is_empty() { Err("fuzz/Cargo.toml names no target".to_owned()) } else { Ok(names) }
}

fn target_names(manifest: &str) -> Result<Vec<String>, String> {
    let table: toml::Table = manifest.parse().map_err(|why| format!("fuzz/Cargo.toml: {why}"))?;
    let bins = table.get("bin").and_then(toml::Value::as_array).map(Vec::as_slice).unwrap_or_default();
    Ok(bins.iter().filter_map(|bin| bin.get("name")?.as_str().map(str::to_owned)).collect())
}

/// Builds every target.
pub(crate) fn build(root: &Path) -> Result<(), String> {
    needs::provide(&[&CPP], &[])?;
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(root.join("fuzz")).args(["build", "--release", "--bins", "--target", &host()?]);
    // With --target, build scripts and procedural macros are compiled without these flags.
    command.env("RUSTFLAGS", RUSTFLAGS).env("CARGO_TARGET_DIR", target_dir(root).join("fuzz"));
    must(&mut command, BUILD_LIMIT).map(|_| ())
}

/// The compiler's own platform, such as `x86_64-unknown-linux-gnu`.
fn host() -> Result<String, String> {
    let out = run(Command::new("rustc").arg("-vV"), Show::No, Duration::from_secs(60))?;
    let line = out.text.lines().find_map(|line| line.strip_prefix("host: "));
    line.map(str::to_owned).ok_or_else(|| format!("rustc -vV does not name its host: {}", out.text))
}

fn program(root: &Path, name: &str) -> Result<PathBuf, String> {
    Ok(target_dir(root).join("fuzz").join(host()?).join("release").join(name))
}

/// Feeds every committed seed to its target once; gives the number of seeds.
pub(crate) fn replay_seeds(root: &Path) -> Result<usize, String> {
    let mut count = 0;
    for name in targets(root)? {
        let seeds = files_in(&root.join("fuzz/seeds").join(&name))?;
        if seeds.is_empty() {
            return Err(format!("target {name} has no seed in fuzz/seeds/{name}"));
        }
        println!("{name}: {} seeds", seeds.len());
        let mut command = Command::new(program(root, &name)?);
        command.args(LIMITS).arg(prefix(root, &name)?).args(&seeds);
        let outcome = run(&mut command, Show::No, Duration::from_secs(300))?;
        if !outcome.ok {
            return Err(format!("target {name} fails on a seed:\n{}", outcome.text));
        }
        count += seeds.len();
    }
    Ok(count)
}

fn files_in(folder: &Path) -> Result<Vec<PathBuf>, String> {
    let told = |why: std::io::Error| format!("{}: {why}", folder.display());
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).map_err(told)? {
        let path = entry.map_err(told)?.path();
        if path.is_file() {
            files.push(path);
        }
    }
    files.sort();
    Ok(files)
}

/// Where a target leaves the inputs that broke it.
fn prefix(root: &Path, name: &str) -> Result<String, String> {
    let folder = root.join("fuzz/artifacts").join(name);
    std::fs::create_dir_all(&folder).map_err(|why| format!("{}: {why}", folder.display()))?;
    Ok(format!("-artifact_prefix={}/", folder.display()))
}

fn run_target(root: &Path, name: &str, seconds: u64) -> Result<(), String> {
    println!("== fuzzing {name} for {seconds} s ==");
    let corpus = root.join("fuzz/corpus").join(name);
    std::fs::create_dir_all(&corpus).map_err(|why| format!("{}: {why}", corpus.display()))?;
    let mut command = Command::new(program(root, name)?);
    command.args(LIMITS).arg(prefix(root, name)?);
    command
        .arg(format!("-max_len={LONGEST}"))
        .arg(format!("-max_total_time={seconds}"))
        .arg("-print_final_stats=1");
    let dictionary = root.join("fuzz/dictionaries").join(format!("{name}.dict"));
    if dictionary.exists() {
        command.arg(format!("-dict={}", dictionary.display()));
    }
    command.arg(&corpus).arg(root.join("fuzz/seeds").join(name));
    must(&mut command, Duration::from_secs(seconds + 600))
        .map(|_| ())
        .map_err(|why| format!("{why}; the input that broke it is in fuzz/artifacts/{name}"))
}

/// Feeds the target made-up inputs of 1 MiB and tells how long the slowest took.
fn run_giants(root: &Path, name: &str) -> Result<(), String> {
    let folder = target_dir(root).join("giants").join(name);
    std::fs::create_dir_all(&folder).map_err(|why| format!("{}: {why}", folder.display()))?;
    let mut slowest = (0, String::from("none"));
    let mut broken = Vec::new();
    let giants = giants::of_target(name, LONGEST);
    let count = giants.len();
    for (label, bytes) in giants {
        let path = folder.join(&label);
        std::fs::write(&path, bytes).map_err(|why| format!("{}: {why}", path.display()))?;
        let mut command = Command::new(program(root, name)?);
        command.args(LIMITS).arg(prefix(root, name)?).arg(&path);
        let outcome = run(&mut command, Show::No, Duration::from_secs(60))?;
        let took = milliseconds(&outcome.text).unwrap_or(0);
        if !outcome.ok || took > 1000 {
            let said: Vec<&str> = outcome.text.lines().filter(|line| is_telling(line)).collect();
            broken.push(format!("{} ({took} ms) {}", path.display(), said.join("; ")));
        }
        println!("{name} {label}: {took} ms{}", if outcome.ok { "" } else { ", BROKEN" });
        slowest = slowest.max((took, label));
    }
    println!("{name}: {count} giants, the slowest ({}) took {} ms", slowest.1, slowest.0);
    if broken.is_empty() { Ok(()) } else { Err(format!("target {name} breaks on:\n{}", broken.join("\n"))) }
}

/// Lines of libFuzzer's output that say what happened.
fn is_telling(line: &str) -> bool {
    line.contains("panicked at") || line.contains("ERROR: libFuzzer")
}

/// Reads `Executed … in 12 ms` off libFuzzer's words.
fn milliseconds(output: &str) -> Option<u64> {
    let line = output.lines().find(|line| line.starts_with("Executed "))?;
    let mut words = line.rsplit(' ');
    (words.next() == Some("ms")).then(|| words.next()?.parse().ok()).flatten()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn wish(words: &[&str]) -> Result<Wish, String> {
        parse(&words.iter().map(|word| (*word).to_owned()).collect::<Vec<_>>())
    }

    #[test]
    fn the_words_are_read() {
        assert_eq!(wish(&[]), Ok(Wish::Run { target: None, seconds: 60 }));
        assert_eq!(
            wish(&["midi", "--seconds", "5"]),
            Ok(Wish::Run { target: Some("midi".to_owned()), seconds: 5 })
        );
        assert_eq!(wish(&["--giants"]), Ok(Wish::Giants { target: None }));
        for wrong in [
            &["--seconds"][..],
            &["--seconds", "x"],
            &["--fast"],
            &["a", "b"],
            &["--giants", "--seconds", "1"],
        ] {
            assert!(wish(wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn targets_come_from_the_manifest() {
        let names = target_names("[[bin]]\nname = 'midi'\n[[bin]]\nname = 'mxl'\n").unwrap();
        assert_eq!(names, ["midi", "mxl"]);
        assert_eq!(chosen(&names, Some("mxl")), Ok(vec!["mxl".to_owned()]));
        assert!(chosen(&names, Some("x")).is_err());
    }

    #[test]
    fn the_time_is_read_off() {
        assert_eq!(milliseconds("INFO: x\nExecuted some file in 12 ms\n***\n"), Some(12));
        assert_eq!(milliseconds("nothing"), None);
    }
}
