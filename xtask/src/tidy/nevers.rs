//! What a library crate never names: files, sockets, the environment, the clock, programs, threads, the
//! terminal. Clippy's `disallowed-*` lists catch most of it by type; this reads the text, so that a module
//! nobody calls is caught too.

use crate::finding::Finding;
use crate::rust_source::{code_only, line_of, std_paths, without_tests};

/// Paths below `std` that are out of bounds, and why.
const BANNED: &[(&str, &str)] = &[
    ("fs", "a library takes bytes and gives values; the workbench opens files"),
    ("net", "no library talks to the network"),
    ("env", "settings are arguments"),
    ("process", "no library starts programs or ends the program"),
    ("thread", "threads belong to the workbench"),
    ("os", "no library knows the operating system"),
    ("time::SystemTime", "time of day is an argument"),
    ("time::Instant", "a clock is an argument"),
    ("time::UNIX_EPOCH", "time of day is an argument"),
    ("time::*", "name what is needed; the clock is an argument"),
    ("io::stdin", "only the workbench reads the terminal"),
    ("io::stdout", "only the workbench writes to the terminal"),
    ("io::stderr", "a library returns warnings, it does not print them"),
];

/// Words that reach the same things through an imported module or a macro.
const BANNED_WORDS: &[&str] = &[
    "time::Instant",
    "time::SystemTime",
    "println!",
    "eprintln!",
    "print!",
    "eprint!",
    "dbg!",
    "option_env!",
];

/// Checks one source file of a library crate (its tests, examples and benches are not given to this).
pub(super) fn check(file: &str, source: &str) -> Vec<Finding> {
    let code = without_tests(&code_only(source));
    let mut findings = Vec::new();
    for (line, path) in std_paths(&code) {
        let hit = BANNED.iter().find(|(banned, _)| {
            path == *banned || path.strip_prefix(banned).is_some_and(|rest| rest.starts_with("::"))
        });
        if let Some((_, why)) = hit {
            findings.push(Finding::of_line(file, line, format!("`std::{path}` in a library crate: {why}")));
        }
    }
    for word in BANNED_WORDS {
        for (at, _) in code.match_indices(word) {
            let before = &code[..at];
            let part_of_name = before.chars().next_back().is_some_and(|c| c.is_alphanumeric() || c == '_');
            if part_of_name || before.ends_with("std::") {
                continue;
            }
            findings.push(Finding::of_line(
                file,
                line_of(&code, at),
                format!("`{word}` in a library crate: it has no clock, no environment and no terminal"),
            ));
        }
    }
    findings
}

/// A test that is switched off proves nothing: today's wrong result is asserted with a note instead.
pub(super) fn check_ignored(file: &str, source: &str) -> Vec<Finding> {
    let code = code_only(source);
    code.match_indices("#[ignore")
        .map(|(at, _)| {
            Finding::of_line(
                file,
                line_of(&code, at),
                "an ignored test proves nothing: assert today's result, with a note",
            )
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn lines(source: &str) -> Vec<usize> {
        check("lib.rs", source).into_iter().filter_map(|finding| finding.line).collect()
    }

    #[test]
    fn every_door_is_seen() {
        let source = "use std::fs;\nuse std::{io, net::TcpStream};\nlet x = std::env::var(\"X\");\nstd::process::exit(1);\n\
                      std::thread::spawn(f);\nuse std::time::{Duration, Instant};\nprintln!(\"x\");\n";
        assert_eq!(lines(source), [1, 2, 3, 4, 5, 6, 7]);
    }

    #[test]
    fn the_clock_through_its_module_is_seen() {
        assert_eq!(lines("use std::time;\nlet t = time::Instant::now();\n"), [2]);
    }

    #[test]
    fn tests_comments_and_innocent_paths_pass() {
        let source = "//! never std::fs\nuse std::collections::BTreeMap;\nuse std::time::Duration;\nuse std::io::Read;\n\
                      let s = \"std::env\";\nmy_println!();\n#[cfg(test)]\nmod tests { use std::fs; }\n";
        assert!(lines(source).is_empty());
    }

    #[test]
    fn a_similar_name_is_no_door() {
        assert!(lines("use std::fsx; use std::environment;").is_empty());
    }

    #[test]
    fn ignored_tests_are_seen() {
        assert_eq!(check_ignored("t.rs", "#[test]\n#[ignore = \"slow\"]\nfn t() {}\n").len(), 1);
        assert!(check_ignored("t.rs", "// #[ignore]\nfn t() {}\n").is_empty());
    }
}
