//! `cargo xtask tidy`: the house rules as failures.
//!
//! | rule | module |
//! | --- | --- |
//! | a crate uses only the crates below it that the table allows | `arrows` |
//! | every crate takes the workspace's lints; the libraries' `clippy.toml` are one text | `manifests` |
//! | a library crate never names files, sockets, environment, clock, threads; no ignored test | `nevers` |
//! | no paths of one machine, no talk about how the work was made | `words` |
//! | no tabs, no trailing spaces; a code file over 700 lines fails, over 500 warns | `text` |
//! | a licence beside every asset | `assets` |
//! | links in Markdown lead somewhere | `links` |

mod arrows;
mod assets;
mod links;
mod manifests;
mod nevers;
mod text;
mod words;

use crate::files::{self, Entry};
use crate::finding::Finding;
use std::path::Path;

/// Crates that may touch the outside world.
const SHELLS: &[&str] = &["crates/workbench", "crates/store", "xtask"];

/// Files whose words are not ours to choose.
const FOREIGN: &[&str] = &["Cargo.lock", "fuzz/Cargo.lock", "LICENSE-APACHE"];

/// Runs every rule over the repository and prints what they found.
pub(crate) fn command(root: &Path) -> Result<(), String> {
    let entries = files::of_repository(root)?;
    let findings = check(&entries);
    for finding in &findings {
        eprintln!("{finding}");
    }
    let grave = findings.iter().filter(|finding| finding.grave).count();
    let warnings = findings.len() - grave;
    println!("tidy: {} files, {grave} errors, {warnings} warnings", entries.len());
    if grave == 0 { Ok(()) } else { Err(format!("tidy found {grave} breaches of the house rules")) }
}

/// Every rule over the given files.
fn check(entries: &[Entry]) -> Vec<Finding> {
    let mut findings = check_manifests(entries);
    for entry in entries {
        findings.extend(text::check(entry));
        let Some(source) = entry.text.as_deref() else { continue };
        if !FOREIGN.contains(&entry.path.as_str()) {
            findings.extend(words::check(&entry.path, source));
        }
        if entry.ending() == "rs" {
            findings.extend(nevers::check_ignored(&entry.path, source));
            if is_library_source(&entry.path) {
                findings.extend(nevers::check(&entry.path, source));
            }
        }
    }
    findings.extend(assets::check(entries));
    findings.extend(links::check(entries));
    findings
}

fn check_manifests(entries: &[Entry]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut clippy_files = Vec::new();
    for entry in entries.iter().filter(|entry| {
        crate_folder(&entry.path).is_some_and(|dir| entry.path == format!("{dir}/Cargo.toml"))
    }) {
        let manifest: toml::Table = match entry.text.as_deref().unwrap_or_default().parse() {
            Ok(manifest) => manifest,
            Err(why) => {
                findings.push(Finding::of_file(&entry.path, format!("is not TOML: {why}")));
                continue;
            }
        };
        findings.extend(arrows::check(&entry.path, &manifest));
        findings.extend(manifests::check_lints(&entry.path, &manifest));
        if let Some(dir) = crate_folder(&entry.path).filter(|dir| !SHELLS.contains(dir)) {
            let path = format!("{dir}/clippy.toml");
            let text = entries.iter().find(|other| other.path == path).and_then(|other| other.text.clone());
            clippy_files.push((path, text));
        }
    }
    findings.extend(manifests::check_clippy(&clippy_files));
    findings
}

/// `crates/<name>` or `xtask` for a file in one of them.
fn crate_folder(path: &str) -> Option<&str> {
    if path.starts_with("xtask/") {
        return path.get(.."xtask".len());
    }
    let rest = path.strip_prefix("crates/")?;
    let end = rest.find('/')?;
    path.get(.."crates/".len() + end)
}

/// Whether a path is the code proper of a library crate: not its tests, examples or benches.
fn is_library_source(path: &str) -> bool {
    let Some(dir) = crate_folder(path).filter(|dir| !SHELLS.contains(dir)) else { return false };
    path.strip_prefix(dir).is_some_and(|rest| rest.starts_with("/src/"))
        && !path.ends_with("/tests.rs")
        && !path.contains("/tests/")
}

#[cfg(test)]
mod tests {
    use super::*;

    fn entry(path: &str, text: &str) -> Entry {
        Entry { path: path.to_owned(), text: Some(text.to_owned()) }
    }

    const GOOD: &str = "[package]\nname = \"riffkin-score\"\n[lints]\nworkspace = true\n";
    const BANS: &str = "disallowed-types = []\ndisallowed-methods = []\n";

    #[test]
    fn a_small_house_in_order_passes() {
        let house = [
            entry("crates/score/Cargo.toml", GOOD),
            entry("crates/score/clippy.toml", BANS),
            entry("crates/score/src/lib.rs", "//! Music.\n"),
            entry("crates/score/tests/files.rs", "use std::fs;\n"),
            entry("crates/workbench/src/main.rs", "use std::fs;\n"),
        ];
        assert_eq!(check(&house), []);
    }

    #[test]
    fn each_breach_is_found() {
        let breaches = [
            entry(
                "crates/score/Cargo.toml",
                "[package]\nname = \"riffkin-score\"\n[dependencies]\nriffkin-audio = \"1\"\n",
            ),
            entry("crates/score/src/lib.rs", "use std::fs;\t\n"),
            entry("assets/x/a.bin", ""),
            entry("README.md", "[a](b.md)\n"),
        ];
        let text: Vec<String> = check(&breaches).iter().map(ToString::to_string).collect();
        let text = text.join("\n");
        for part in ["an arrow", "[lints]", "clippy.toml", "std::fs", "a tab", "no licence", "not there"] {
            assert!(text.contains(part), "{part} is missing in:\n{text}");
        }
    }

    #[test]
    fn folders_of_crates_are_recognised() {
        assert_eq!(crate_folder("crates/score/src/lib.rs"), Some("crates/score"));
        assert_eq!(crate_folder("xtask/src/main.rs"), Some("xtask"));
        assert_eq!(crate_folder("docs/x.md"), None);
        assert!(is_library_source("crates/score/src/lib.rs"));
        assert!(!is_library_source("crates/score/tests/x.rs"));
        assert!(!is_library_source("crates/workbench/src/main.rs"));
    }
}
