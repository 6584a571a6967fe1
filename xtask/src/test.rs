//! `cargo xtask test`: everything that must pass, in order, with a heading for each stage and a total.

use crate::counts::{Tally, sum, tests_by_crate};
use crate::run::{Show, must, run};
use crate::{fuzz, licences, outside, tidy};
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

/// `cargo test` with fewer tests than this has lost some of them.
const LEAST_TESTS: usize = 780;

/// Crates whose tests must run: a crate that tests nothing proves nothing.
const TESTED: &[&str] = &[
    "riffkin_score",
    "riffkin_fretboard",
    "riffkin_audio",
    "riffkin_formats",
    "riffkin_engrave",
    "riffkin_lesson",
    "riffkin_kin",
    "riffkin_store",
    "riffkin",
    "xtask",
];

/// A build from nothing on two cores takes minutes, never this long.
const LIMIT: Duration = Duration::from_secs(25 * 60);

/// A stage adds the tests that it ran to the tally, whether it passes or not.
type Check = fn(&Path, &mut Tally) -> Result<(), String>;

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
        let mut tally = Tally::default();
        let result = check(root, &mut tally);
        let seconds = begun.elapsed().as_secs_f64();
        let word = match result {
            Ok(()) => "ok",
            Err(why) => {
                eprintln!("{name}: {why}");
                failures.push(format!("{name}: {why}"));
                tally.failed = tally.failed.max(1);
                "FAILED"
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

fn fmt(root: &Path, _: &mut Tally) -> Result<(), String> {
    let ours = must(&mut cargo(root, &["fmt", "--all", "--check"]), LIMIT);
    must(&mut cargo(root, &["fmt", "--manifest-path", "fuzz/Cargo.toml", "--check"]), LIMIT)
        .and(ours)
        .map(|_| ())
}

fn clippy(root: &Path, _: &mut Tally) -> Result<(), String> {
    let words = ["clippy", "--workspace", "--all-targets", "--", "-D", "warnings"];
    must(&mut cargo(root, &words), LIMIT).map(|_| ())
}

fn house_rules(root: &Path, _: &mut Tally) -> Result<(), String> {
    tidy::command(root)
}

fn licences_allowed(root: &Path, _: &mut Tally) -> Result<(), String> {
    let count = licences::check(root)?;
    println!("{count} packages, all under licences of deny.toml");
    Ok(())
}

fn cargo_test(root: &Path, tally: &mut Tally) -> Result<(), String> {
    let outcome = run(&mut cargo(root, &["test", "--workspace", "--no-fail-fast"]), Show::Yes, LIMIT)?;
    *tally = sum(&outcome.text);
    println!("cargo test: {} passed, {} failed, {} ignored", tally.passed, tally.failed, tally.ignored);
    if !outcome.ok || tally.failed > 0 {
        return Err(format!("{} tests failed, or a test did not build", tally.failed));
    }
    enough(&outcome.text, *tally)
}

/// Checks the checks: enough tests ran, in every crate, and none was switched off.
fn enough(output: &str, tally: Tally) -> Result<(), String> {
    if tally.passed < LEAST_TESTS {
        return Err(format!("only {} tests ran, fewer than {LEAST_TESTS}: some were lost", tally.passed));
    }
    if tally.ignored > 0 {
        return Err(format!("{} tests are switched off", tally.ignored));
    }
    let found = tests_by_crate(output);
    let bare: Vec<&str> =
        TESTED.iter().copied().filter(|name| found.get(*name).is_none_or(|count| *count == 0)).collect();
    if bare.is_empty() { Ok(()) } else { Err(format!("no test ran in: {}", bare.join(", "))) }
}

fn docs(root: &Path, _: &mut Tally) -> Result<(), String> {
    let mut command = cargo(root, &["doc", "--workspace", "--no-deps"]);
    command.env("RUSTDOCFLAGS", "-D warnings");
    must(&mut command, LIMIT).map(|_| ())
}

fn fuzz_build(root: &Path, tally: &mut Tally) -> Result<(), String> {
    fuzz::build(root)?;
    fuzz::replay_seeds(root).map(|passed| tally.passed = passed)
}

/// Tests and builds write under the target folder only. On a clean checkout, as in CI, any difference fails; where
/// work is in progress git cannot tell its changes from a test's, so there this only reports.
fn tree_untouched(root: &Path, _: &mut Tally) -> Result<(), String> {
    let outcome =
        run(Command::new("git").args(["status", "--porcelain"]).current_dir(root), Show::No, LIMIT)?;
    let changed = outcome.text.trim_end();
    if changed.is_empty() {
        println!("the tree is as it was committed");
        return Ok(());
    }
    println!("{changed}");
    if std::env::var_os("CI").is_some() {
        return Err("the tree is no longer as it was committed".to_owned());
    }
    println!("not committed yet, or written by a test; with CI set this would fail");
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn output(names: &[&str]) -> String {
        names
            .iter()
            .map(|name| {
                format!("Running unittests src/lib.rs (target/debug/deps/{name}-1f)\ntest result: ok. 100 passed; 0 failed; 0 ignored\n")
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
