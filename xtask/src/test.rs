//! `cargo xtask test`: everything that must pass, in order, with a heading for each stage and a total.

use crate::counts::{Tally, sum, unit_tests_by_crate};
use crate::run::{Show, must, run};
use crate::{fuzz, licences, outside, tidy};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

/// `cargo test` with fewer tests than this has lost some of them.
const LEAST_TESTS: usize = 60;

/// Crates whose unit tests must run: a crate that tests nothing proves nothing.
const TESTED: &[&str] = &[
    "riffkin_score",
    "riffkin_fretboard",
    "riffkin_audio",
    "riffkin_formats",
    "riffkin_engrave",
    "riffkin_lesson",
    "xtask",
];

/// A build from nothing on two cores takes minutes, never this long.
const LIMIT: Duration = Duration::from_secs(25 * 60);

type Check = fn(&Path) -> Result<Tally, String>;

const STAGES: &[(&str, &str, Check)] = &[
    ("fmt", "the code is formatted", fmt),
    ("clippy", "no lint complains", clippy),
    ("tidy", "the house rules hold", house_rules),
    ("licences", "what we depend on may be used", licences_allowed),
    ("cargo-test", "unit, integration and documentation tests", cargo_test),
    ("docs", "the documentation builds without a warning", docs),
    ("fuzz-build", "the fuzz targets build and survive their seeds", fuzz_build),
    ("outside", "other people's programs read what we wrote", outside::check),
    ("tree", "nothing above changed the source tree", tree_untouched),
];

/// Runs the stages that the words ask for; without words, all.
pub(crate) fn command(root: &Path, words: &[String]) -> Result<(), String> {
    let without_outside = words.iter().any(|word| word == "--without-outside");
    let named: Vec<&str> =
        words.iter().map(String::as_str).filter(|word| *word != "--without-outside").collect();
    if let Some(unknown) = named.iter().find(|name| !STAGES.iter().any(|(stage, ..)| stage == *name)) {
        let known: Vec<&str> = STAGES.iter().map(|(name, ..)| *name).collect();
        return Err(format!("`{unknown}` is no stage; the stages are: {}", known.join(" ")));
    }
    let chosen: Vec<_> = STAGES
        .iter()
        .filter(|(name, ..)| named.is_empty() || named.contains(name))
        .filter(|(name, ..)| !(without_outside && *name == "outside"))
        .collect();

    let start = Instant::now();
    let mut total = Tally::default();
    let mut lines = Vec::new();
    let mut failures = Vec::new();
    for (number, (name, meaning, check)) in chosen.iter().enumerate() {
        println!("\n== {} of {}: {name}: {meaning} ==", number + 1, chosen.len());
        let begun = Instant::now();
        let result = check(root);
        let seconds = begun.elapsed().as_secs_f64();
        let (word, tally) = match result {
            Ok(tally) => ("ok", tally),
            Err(why) => {
                eprintln!("{name}: {why}");
                failures.push(format!("{name}: {why}"));
                ("FAILED", Tally { failed: 1, ..Tally::default() })
            }
        };
        total += tally;
        let count = if tally.passed > 0 { format!(", {} tests", tally.passed) } else { String::new() };
        lines.push(format!("{word:>6}  {name} ({seconds:.0} s{count})"));
    }
    println!("\n== the whole ==");
    if without_outside {
        println!("the outside checks were left out on request: what they prove is not proved");
    }
    for line in &lines {
        println!("{line}");
    }
    for failure in &failures {
        println!("{failure}");
    }
    let word = if failures.is_empty() { "ok" } else { "FAILED" };
    println!(
        "test result: {word}. {} passed; {} failed; {} ignored; 0 measured; 0 filtered out; finished in {:.2}s",
        total.passed,
        total.failed,
        total.ignored,
        start.elapsed().as_secs_f64()
    );
    if failures.is_empty() {
        Ok(())
    } else {
        Err(format!("{} of {} stages failed", failures.len(), chosen.len()))
    }
}

/// Cargo in the root, with the compiler that runs us.
fn cargo(root: &Path, words: &[&str]) -> Command {
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(root).args(words);
    command
}

fn none() -> Tally {
    Tally::default()
}

fn fmt(root: &Path) -> Result<Tally, String> {
    must(&mut cargo(root, &["fmt", "--all", "--check"]), LIMIT).map(|_| none())?;
    let fuzz = ["fmt", "--manifest-path", "fuzz/Cargo.toml", "--check"];
    must(&mut cargo(root, &fuzz), LIMIT).map(|_| none())
}

fn clippy(root: &Path) -> Result<Tally, String> {
    let words = ["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"];
    must(&mut cargo(root, &words), LIMIT).map(|_| none())
}

fn house_rules(root: &Path) -> Result<Tally, String> {
    tidy::command(root).map(|()| none())
}

fn licences_allowed(root: &Path) -> Result<Tally, String> {
    let count = licences::check(root)?;
    println!("{count} packages, all under licences of deny.toml");
    Ok(none())
}

fn cargo_test(root: &Path) -> Result<Tally, String> {
    let outcome = run(&mut cargo(root, &["test", "--workspace", "--no-fail-fast"]), Show::Yes, LIMIT)?;
    let tally = sum(&outcome.text);
    println!("cargo test: {} passed, {} failed, {} ignored", tally.passed, tally.failed, tally.ignored);
    if !outcome.ok || tally.failed > 0 {
        return Err(format!("{} tests failed, or a test did not build", tally.failed));
    }
    enough(&outcome.text, tally)?;
    Ok(tally)
}

/// Checks the checks: enough tests ran, in every crate, and none was switched off.
fn enough(output: &str, tally: Tally) -> Result<(), String> {
    if tally.passed < LEAST_TESTS {
        return Err(format!("only {} tests ran, fewer than {LEAST_TESTS}: some were lost", tally.passed));
    }
    if tally.ignored > 0 {
        return Err(format!("{} tests are switched off", tally.ignored));
    }
    let units = unit_tests_by_crate(output);
    let bare: Vec<&str> =
        TESTED.iter().copied().filter(|name| units.get(*name).is_none_or(|count| *count == 0)).collect();
    if bare.is_empty() { Ok(()) } else { Err(format!("no unit test ran in: {}", bare.join(", "))) }
}

fn docs(root: &Path) -> Result<Tally, String> {
    let mut command = cargo(root, &["doc", "--workspace", "--no-deps"]);
    command.env("RUSTDOCFLAGS", "-D warnings");
    must(&mut command, LIMIT).map(|_| none())
}

fn fuzz_build(root: &Path) -> Result<Tally, String> {
    fuzz::build(root)?;
    fuzz::replay_seeds(root).map(|passed| Tally { passed, ..none() })
}

/// Tests and builds write under the target folder only. Work in progress is fine; a file that *appeared or
/// changed since the run began* would not be, but git cannot tell that, so on a clean checkout (as in CI) any
/// difference fails, and on a dirty tree this only reports.
fn tree_untouched(root: &Path) -> Result<Tally, String> {
    let outcome =
        run(Command::new("git").args(["status", "--porcelain"]).current_dir(root), Show::No, LIMIT)?;
    let changed = outcome.text.trim_end();
    if changed.is_empty() {
        println!("the tree is as it was committed");
        return Ok(none());
    }
    println!("{changed}");
    if std::env::var_os("CI").is_some() {
        return Err("the tree is no longer as it was committed".to_owned());
    }
    println!("not committed yet, or written by a test; with CI set this would fail");
    Ok(none())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(names: &[&str]) -> String {
        names
            .iter()
            .map(|name| {
                format!("Running unittests src/lib.rs (target/debug/deps/{name}-1f)\ntest result: ok. 20 passed; 0 failed; 0 ignored\n")
            })
            .collect()
    }

    #[test]
    fn enough_tests_in_every_crate_pass() {
        let all = output(TESTED);
        assert_eq!(enough(&all, sum(&all)), Ok(()));
    }

    #[test]
    fn too_few_ignored_or_missing_tests_fail() {
        let all = output(TESTED);
        let few = Tally { passed: LEAST_TESTS - 1, ..Tally::default() };
        assert!(enough(&all, few).is_err_and(|why| why.contains("lost")));
        let off = Tally { passed: 1000, failed: 0, ignored: 1 };
        assert!(enough(&all, off).is_err_and(|why| why.contains("switched off")));
        let one_less = output(&TESTED[1..]);
        let plenty = Tally { passed: 1000, ..Tally::default() };
        assert!(enough(&one_less, plenty).is_err_and(|why| why.contains(TESTED[0])));
    }

    #[test]
    fn an_unknown_stage_is_refused() {
        let told = command(Path::new("."), &["polish".to_owned()]);
        assert!(told.is_err_and(|why| why.contains("polish") && why.contains("tidy")));
    }
}
