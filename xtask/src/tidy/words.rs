//! Words that have no business in the repository: paths of one machine, and numbers from a list that readers do
//! not have.
//!
//! The paths stand here in halves, so that this file passes its own rule.

use crate::finding::Finding;

/// `(word, what to write instead)`. Matching ignores case and asks for a word's edge where the word has one.
const BANNED: &[(&str, &str)] =
    &[(concat!("/tm", "p/"), MACHINE), (concat!("/ro", "ot/"), MACHINE), (concat!("/ho", "me/"), MACHINE)];

const MACHINE: &str = "a path of one machine: name it from the repository root, or pass it in";

/// Checks every line of one text file.
pub(super) fn check(file: &str, text: &str) -> Vec<Finding> {
    let mut findings = Vec::new();
    for (index, line) in text.lines().enumerate() {
        let lower = line.to_lowercase();
        for (word, instead) in BANNED {
            if holds_word(&lower, &word.to_lowercase()) {
                findings.push(Finding::of_line(file, index + 1, format!("`{word}`: {instead}")));
            }
        }
        if let Some(number) = issue_number(&lower) {
            findings.push(Finding::of_line(
                file,
                index + 1,
                format!("`{number}`: a reader has no list to look that number up in; say what the thing is"),
            ));
        }
    }
    findings
}

/// Whether `line` holds `word` with an edge on each side where the word begins or ends in a letter.
fn holds_word(line: &str, word: &str) -> bool {
    let starts_in_letter = word.starts_with(char::is_alphanumeric);
    let ends_in_letter = word.ends_with(char::is_alphanumeric);
    line.match_indices(word).any(|(at, _)| {
        let before = line[..at].chars().next_back().is_some_and(char::is_alphanumeric);
        let after = line[at + word.len()..].chars().next().is_some_and(char::is_alphanumeric);
        !(starts_in_letter && before || ends_in_letter && after)
    })
}

/// Finds the number of an entry in somebody's list of issues in a lower-case line.
fn issue_number(line: &str) -> Option<String> {
    for (at, word) in line.match_indices(concat!("iss", "ue")) {
        let rest = line[at + word.len()..].trim_start_matches('s');
        let Some(rest) = rest.strip_prefix(' ') else { continue };
        let digits: String = rest.trim_start_matches('#').chars().take_while(char::is_ascii_digit).collect();
        if !digits.is_empty() {
            return Some(format!("{word} {digits}"));
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paths_of_one_machine_are_seen() {
        let found = check("a.md", &format!("fine\nsee {}x\n", concat!("/ho", "me/")));
        assert_eq!(found.len(), 1);
        assert_eq!(found[0].line, Some(2));
    }

    #[test]
    fn a_longer_word_is_let_be() {
        assert!(check("a.rs", "the temporary homestead at the root of it").is_empty());
    }

    #[test]
    fn numbers_of_a_list_nobody_has_are_seen() {
        assert_eq!(check("a.rs", concat!("see iss", "ue 12")).len(), 1);
        assert_eq!(check("a.rs", concat!("see Iss", "ues #3")).len(), 1);
        assert!(check("a.rs", "at issue here; the second issue of the journal").is_empty());
    }
}
