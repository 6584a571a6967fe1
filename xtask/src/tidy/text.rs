//! The plain hygiene of text files: no tabs, no trailing spaces, Unix line ends, a newline at the end, and no
//! file too long to read in one sitting.

use crate::files::Entry;
use crate::finding::Finding;

/// Endings of the files that people write by hand here.
const WRITTEN: &[&str] = &[
    "rs", "toml", "md", "py", "sh", "js", "mjs", "css", "html", "json", "txt", "yml", "yaml", "riff", "cff",
];

/// Endings of the files that count as code, for the length rule.
const CODE: &[&str] = &["rs", "py", "sh", "js", "mjs", "css"];

/// Folders whose files are inputs of tests, kept byte for byte as they are.
const KEPT_AS_IS: &[&str] = &["data", "corpus", "golden", "snapshots", "fixtures", "malformed", "seeds"];

/// A code file longer than this fails.
const TOO_LONG: usize = 700;
/// A code file longer than this gets a warning.
const LONG: usize = 500;

/// Whether the rules of this module apply to a file.
fn is_written_by_hand(entry: &Entry) -> bool {
    let in_kept_folder = entry.path.split('/').rev().skip(1).any(|folder| KEPT_AS_IS.contains(&folder));
    let known = WRITTEN.contains(&entry.ending()) || entry.path == ".ci/run";
    known && !in_kept_folder && !entry.path.starts_with("assets/")
}

/// Checks one file.
pub(super) fn check(entry: &Entry) -> Vec<Finding> {
    let Some(text) = entry.text.as_deref().filter(|_| is_written_by_hand(entry)) else { return Vec::new() };
    let mut findings = Vec::new();
    for (index, line) in text.split('\n').enumerate() {
        let line_end = line.strip_suffix('\r');
        if line_end.is_some() {
            findings.push(Finding::of_line(&entry.path, index + 1, "a carriage return: use Unix line ends"));
        }
        let line = line_end.unwrap_or(line);
        if line.contains('\t') {
            findings.push(Finding::of_line(
                &entry.path,
                index + 1,
                "a tab: use spaces, or `\\t` in a string",
            ));
        }
        if line.ends_with([' ', '\t']) {
            findings.push(Finding::of_line(&entry.path, index + 1, "spaces at the end of the line"));
        }
    }
    if !text.is_empty() && !text.ends_with('\n') {
        findings.push(Finding::of_file(&entry.path, "the last line has no newline"));
    }
    if text.ends_with("\n\n") {
        findings.push(Finding::of_file(&entry.path, "empty lines at the end"));
    }
    findings.extend(check_length(entry, text));
    findings
}

fn check_length(entry: &Entry, text: &str) -> Option<Finding> {
    let lines = text.lines().count();
    if !CODE.contains(&entry.ending()) || lines <= LONG {
        return None;
    }
    let message = format!(
        "{lines} lines; a file has one subject and stays below {LONG} (at most {TOO_LONG}): split it"
    );
    let finding = Finding::of_file(&entry.path, message);
    Some(if lines > TOO_LONG { finding } else { finding.into_warning() })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn messages(path: &str, text: &str) -> Vec<String> {
        let entry = Entry { path: path.to_owned(), text: Some(text.to_owned()) };
        check(&entry).into_iter().map(|finding| finding.to_string()).collect()
    }

    #[test]
    fn clean_text_passes_and_each_fault_is_named() {
        assert!(messages("a.rs", "fn a() {}\n").is_empty());
        assert!(messages("a.rs", "").is_empty());
        for (text, fault) in [
            ("\ta\n", "tab"),
            ("a \n", "end of the line"),
            ("a\r\n", "carriage return"),
            ("a", "no newline"),
            ("a\n\n", "empty lines"),
        ] {
            let found = messages("a.rs", text);
            assert_eq!(found.len(), 1, "{text:?}");
            assert!(found[0].contains(fault), "{found:?}");
        }
    }

    #[test]
    fn test_inputs_and_unknown_endings_are_left_alone() {
        assert!(messages("crates/formats/tests/data/mail.txt", "\te|--\r\n").is_empty());
        assert!(messages("fuzz/seeds/tab_text/a.txt", "x ").is_empty());
        assert!(messages("assets/fonts/a.txt", "x ").is_empty());
        assert!(messages("tests/x.musicxml", "x ").is_empty());
    }

    #[test]
    fn the_length_rule_warns_then_fails() {
        let of = |lines: usize| messages("a.rs", &"x\n".repeat(lines));
        assert!(of(500).is_empty());
        assert!(of(501)[0].starts_with("warning"));
        assert!(of(700)[0].starts_with("warning"));
        assert!(of(701)[0].starts_with("error"));
        assert!(messages("a.md", &"x\n".repeat(900)).is_empty());
    }
}
