//! Every dependency's licence is on the list in `deny.toml`.
//!
//! `cargo deny` reads the same list; this enforces it on every run without installing anything.

use crate::run::{Show, run};
use std::path::Path;
use std::process::Command;
use std::time::Duration;

/// Checks all dependencies of the workspace; gives how many there are.
pub(crate) fn check(root: &Path) -> Result<usize, String> {
    let path = root.join("deny.toml");
    let text = std::fs::read_to_string(&path).map_err(|why| format!("{}: {why}", path.display()))?;
    let list = List::read(&text)?;
    let mut command = Command::new(std::env::var_os("CARGO").unwrap_or_else(|| "cargo".into()));
    command.current_dir(root).args([
        "tree",
        "--workspace",
        "--all-features",
        "--target",
        "all",
        "--no-dedupe",
    ]);
    command.args(["--edges", "normal,build", "--prefix", "none", "--format", "{l}|{p}"]);
    let outcome = run(&mut command, Show::No, Duration::from_secs(300))?;
    if !outcome.ok {
        return Err(format!("cargo tree failed:\n{}", outcome.text));
    }
    let mut lines: Vec<&str> = outcome.text.lines().filter(|line| line.contains('|')).collect();
    lines.sort_unstable();
    lines.dedup();
    let refused: Vec<String> = lines.iter().filter_map(|line| list.refuses(line)).collect();
    if refused.is_empty() {
        Ok(lines.len())
    } else {
        Err(format!("licences that deny.toml does not allow:\n  {}", refused.join("\n  ")))
    }
}

/// What `deny.toml` allows.
struct List {
    allowed: Vec<String>,
    /// Crate name and what it may have besides.
    exceptions: Vec<(String, Vec<String>)>,
}

impl List {
    fn read(text: &str) -> Result<Self, String> {
        let table: toml::Table = text.parse().map_err(|why| format!("deny.toml: {why}"))?;
        let licenses = table.get("licenses").ok_or("deny.toml has no [licenses]")?;
        let allowed = strings(licenses.get("allow"));
        if allowed.is_empty() {
            return Err("deny.toml allows no licence".to_owned());
        }
        let entries = licenses.get("exceptions").and_then(toml::Value::as_array).cloned().unwrap_or_default();
        let exceptions = entries
            .iter()
            .filter_map(|entry| Some((entry.get("crate")?.as_str()?.to_owned(), strings(entry.get("allow")))))
            .collect();
        Ok(Self { allowed, exceptions })
    }

    /// Why a line `licence|name version` is refused, or nothing.
    fn refuses(&self, line: &str) -> Option<String> {
        let (licence, package) = line.split_once('|')?;
        let name = package.split_whitespace().next()?;
        let mut allowed: Vec<&str> = self.allowed.iter().map(String::as_str).collect();
        for (exempt, more) in &self.exceptions {
            if name == exempt {
                allowed.extend(more.iter().map(String::as_str));
            }
        }
        match satisfied(licence, &allowed) {
            Some(true) => None,
            Some(false) => Some(format!("{package}: {licence}")),
            None => Some(format!("{package}: cannot understand the licence `{licence}`")),
        }
    }
}

fn strings(value: Option<&toml::Value>) -> Vec<String> {
    let items = value.and_then(toml::Value::as_array).map(Vec::as_slice).unwrap_or_default();
    items.iter().filter_map(|item| item.as_str().map(str::to_owned)).collect()
}

/// Whether an SPDX expression (SPDX 2.3, annex D) can be met with the allowed licences; nothing when it is none.
/// The old `A/B` means `A OR B`; a `WITH` exception only loosens, so the licence itself decides.
fn satisfied(expression: &str, allowed: &[&str]) -> Option<bool> {
    let spaced = expression.replace('(', " ( ").replace(')', " ) ").replace('/', " OR ");
    let words: Vec<&str> = spaced.split_whitespace().collect();
    let mut at = 0;
    let met = either(&words, &mut at, allowed)?;
    (at == words.len()).then_some(met)
}

fn either(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let mut met = both(words, at, allowed)?;
    while words.get(*at) == Some(&"OR") {
        *at += 1;
        met |= both(words, at, allowed)?;
    }
    Some(met)
}

fn both(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let mut met = one(words, at, allowed)?;
    while words.get(*at) == Some(&"AND") {
        *at += 1;
        met &= one(words, at, allowed)?;
    }
    Some(met)
}

fn one(words: &[&str], at: &mut usize, allowed: &[&str]) -> Option<bool> {
    let word = *words.get(*at)?;
    *at += 1;
    if word == "(" {
        let met = either(words, at, allowed)?;
        *at += 1;
        return (words.get(*at - 1) == Some(&")")).then_some(met);
    }
    if matches!(word, ")" | "OR" | "AND" | "WITH") {
        return None;
    }
    if words.get(*at) == Some(&"WITH") {
        *at += 2;
    }
    Some(allowed.contains(&word))
}

#[cfg(test)]
mod tests {
    use super::*;

    const LIST: &str =
        "[licenses]\nallow = ['MIT', 'Zlib']\nexceptions = [{ allow = ['MPL-2.0'], crate = 'ears-core' }]\n";

    #[test]
    fn expressions_are_weighed() {
        let allowed = ["MIT", "Zlib"];
        for (expression, met) in [
            ("MIT", true),
            ("GPL-3.0", false),
            ("MIT OR GPL-3.0", true),
            ("GPL-3.0/MIT", true),
            ("MIT AND GPL-3.0", false),
            ("(MIT OR GPL-3.0) AND Zlib", true),
            ("MIT OR GPL-3.0 AND LGPL-3.0", true),
            ("MIT WITH some-exception", true),
        ] {
            assert_eq!(satisfied(expression, &allowed), Some(met), "{expression}");
        }
        for nonsense in ["", "MIT OR", "(MIT", "MIT Zlib", "AND"] {
            assert_eq!(satisfied(nonsense, &allowed), None, "{nonsense}");
        }
    }

    #[test]
    fn exceptions_hold_for_their_crates_only() {
        let list = List::read(LIST).unwrap();
        assert_eq!(list.refuses("MIT|anything v1.0.0"), None);
        assert_eq!(list.refuses("MPL-2.0|ears-core v1.0.0"), None);
        assert!(list.refuses("MPL-2.0|ears v1.0.0").is_some());
        assert!(list.refuses("|nameless v1.0.0").is_some_and(|why| why.contains("understand")));
    }

    #[test]
    fn a_list_that_allows_nothing_is_refused() {
        assert!(List::read("[licenses]\nallow = []\n").is_err());
        assert!(List::read("[bans]\n").is_err());
    }
}
