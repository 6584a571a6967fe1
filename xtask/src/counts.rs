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

/// Tests passed in each crate, by crate name as rustc writes it (`riffkin_score`).
///
/// Reads cargo's headings: a crate's `Running unittests src/lib.rs (…/riffkin_score-0123abcd)` comes before its
/// integration tests, and `Doc-tests riffkin_score` names the crate again.
pub(crate) fn tests_by_crate(output: &str) -> BTreeMap<String, usize> {
    let mut found = BTreeMap::new();
    let mut current: Option<String> = None;
    for line in output.lines() {
        let heading = line.trim_start();
        if let Some(unit_tests) = heading.strip_prefix("Running unittests ") {
            current = crate_of(unit_tests);
        } else if let Some(name) = heading.strip_prefix("Doc-tests ") {
            current = Some(name.trim().to_owned());
        } else if let (Some(tally), Some(name)) = (result_line(line), &current) {
            *found.entry(name.clone()).or_insert(0) += tally.passed;
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
    fn tests_are_counted_by_crate() {
        let two = format!(
            "{OUTPUT}Running unittests src/main.rs (deps/riffkin-7)\ntest result: ok. 5 passed; 0 failed\n"
        );
        let found = tests_by_crate(&two);
        let wanted = [("riffkin".to_owned(), 5), ("riffkin_score".to_owned(), 9)];
        assert_eq!(found.into_iter().collect::<Vec<_>>(), wanted);
    }
}
