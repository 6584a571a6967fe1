//! Counting tests from what test runners print.

use std::collections::BTreeMap;
use std::ops::AddAssign;

/// How many tests ran and how they ended.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Tally {
    /// Tests that passed.
    pub(crate) passed: usize,
    /// Tests that failed.
    pub(crate) failed: usize,
    /// Tests that were switched off.
    pub(crate) ignored: usize,
}

impl AddAssign for Tally {
    fn add_assign(&mut self, other: Self) {
        self.passed += other.passed;
        self.failed += other.failed;
        self.ignored += other.ignored;
    }
}

/// Adds up every line of the form `test result: ok. 3 passed; 0 failed; 1 ignored; …`.
pub(crate) fn sum(output: &str) -> Tally {
    let mut total = Tally::default();
    for line in output.lines() {
        total += result_line(line).unwrap_or_default();
    }
    total
}

fn result_line(line: &str) -> Option<Tally> {
    let rest = line.trim_start().strip_prefix("test result: ")?;
    let mut tally = Tally::default();
    for part in rest.split([';', '.']) {
        let mut words = part.split_whitespace();
        let (Some(number), Some(kind)) = (words.next(), words.next()) else { continue };
        let Ok(number) = number.parse::<usize>() else { continue };
        match kind {
            "passed" => tally.passed += number,
            "failed" => tally.failed += number,
            "ignored" => tally.ignored += number,
            _ => {}
        }
    }
    Some(tally)
}

/// Tests passed by the unit tests of each crate, by crate name as rustc writes it (`riffkin_score`).
///
/// Reads cargo's `Running unittests src/lib.rs (…/riffkin_score-0123abcd)` headings and the result line after
/// each.
pub(crate) fn unit_tests_by_crate(output: &str) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    let mut current: Option<String> = None;
    for line in output.lines() {
        let heading = line.trim_start();
        if heading.starts_with("Running ") || heading.starts_with("Doc-tests ") {
            current = heading.strip_prefix("Running unittests ").and_then(crate_of);
        } else if let Some(tally) = result_line(line)
            && let Some(name) = current.take()
        {
            *found.entry(name).or_insert(0) += tally.passed;
        }
    }
    found
}

fn crate_of(heading: &str) -> Option<String> {
    let path = heading.split_once('(')?.1.trim_end_matches(')');
    let file = path.rsplit(['/', '\\']).next()?;
    Some(file.rsplit_once('-')?.0.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    const OUTPUT: &str = "\
     Running unittests src/lib.rs (target/debug/deps/riffkin_score-0a1b)
running 2 tests
test result: ok. 2 passed; 0 failed; 0 ignored; 0 measured; 0 filtered out; finished in 0.00s
     Running tests/facts.rs (target/debug/deps/facts-0a1b)
test result: FAILED. 3 passed; 1 failed; 2 ignored; 0 measured; 0 filtered out; finished in 1.50s
   Doc-tests riffkin_score
test result: ok. 4 passed; 0 failed; 0 ignored
";

    #[test]
    fn every_result_line_counts() {
        assert_eq!(sum(OUTPUT), Tally { passed: 9, failed: 1, ignored: 2 });
        assert_eq!(sum("nothing here"), Tally::default());
        assert_eq!(sum("the test result: ok. 5 passed"), Tally::default());
    }

    #[test]
    fn unit_tests_are_told_from_the_others() {
        let found = unit_tests_by_crate(OUTPUT);
        assert_eq!(found.into_iter().collect::<Vec<_>>(), [("riffkin_score".to_owned(), 2)]);
    }
}
