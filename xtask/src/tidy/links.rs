//! Links in the Markdown files lead somewhere: to a file of the repository, and to a heading where one is named.

use crate::files::Entry;
use crate::finding::Finding;
use std::collections::{BTreeMap, BTreeSet};

/// Checks the links of every Markdown file against the files of the repository.
pub(super) fn check(entries: &[Entry]) -> Vec<Finding> {
    let mut paths: BTreeSet<&str> = BTreeSet::new();
    for entry in entries {
        paths.insert(&entry.path);
        for (at, _) in entry.path.match_indices('/') {
            paths.insert(&entry.path[..at]);
        }
    }
    let pages: BTreeMap<&str, &str> = entries
        .iter()
        .filter(|entry| entry.ending() == "md")
        .filter_map(|entry| Some((entry.path.as_str(), entry.text.as_deref()?)))
        .collect();
    let mut findings = Vec::new();
    for (path, text) in &pages {
        for (line, target) in links(text) {
            if let Err(why) = follow(path, &target, &paths, &pages) {
                findings.push(Finding::of_line(path, line, format!("the link `{target}` {why}")));
            }
        }
    }
    // The tests of these rules name pages that are made up.
    let source = |entry: &&Entry| entry.ending() == "rs" && !entry.path.starts_with("xtask/src/tidy");
    for entry in entries.iter().filter(source) {
        for (line, page) in pages_named(entry.text.as_deref().unwrap_or_default()) {
            if !paths.contains(page) {
                findings.push(Finding::of_line(
                    &entry.path,
                    line,
                    format!("names {page}, which is not there"),
                ));
            }
        }
    }
    findings
}

/// Pages of `docs/` that a source file's text names, with their lines.
fn pages_named(text: &str) -> Vec<(usize, &str)> {
    let part_of_path = |c: char| c.is_ascii_alphanumeric() || matches!(c, '/' | '-' | '_' | '.');
    let mut found = Vec::new();
    for (index, line) in text.lines().enumerate() {
        for (at, _) in line.match_indices("docs/") {
            if line[..at].ends_with(part_of_path) {
                continue;
            }
            let end = line[at..].find(|c| !part_of_path(c)).map_or(line.len(), |length| at + length);
            let page = line[at..end].trim_end_matches('.');
            if page.ends_with(".md") {
                found.push((index + 1, page));
            }
        }
    }
    found
}

fn follow(
    from: &str,
    target: &str,
    paths: &BTreeSet<&str>,
    pages: &BTreeMap<&str, &str>,
) -> Result<(), String> {
    if target.contains("://") || target.starts_with("mailto:") {
        return Ok(());
    }
    let (file, heading) = target.split_once('#').unwrap_or((target, ""));
    let full = if file.is_empty() { from.to_owned() } else { resolve(from, file)? };
    if !full.is_empty() && !paths.contains(full.as_str()) {
        return Err(format!("leads to {full}, which is not there"));
    }
    let Some(page) = pages.get(full.as_str()).filter(|_| !heading.is_empty()) else { return Ok(()) };
    if headings(page).any(|known| known == heading) {
        Ok(())
    } else {
        Err(format!("names a heading that {full} does not have"))
    }
}

/// The target's path from the root, given the page that names it.
fn resolve(from: &str, target: &str) -> Result<String, String> {
    let mut parts: Vec<&str> = from.split('/').collect();
    parts.pop();
    for part in target.split('/') {
        match part {
            "" | "." => {}
            ".." => {
                parts.pop().ok_or_else(|| "leaves the repository".to_owned())?;
            }
            name => parts.push(name),
        }
    }
    Ok(parts.join("/"))
}

/// Every link and picture of a page with its line, outside code.
fn links(text: &str) -> Vec<(usize, String)> {
    let mut found = Vec::new();
    for (line, plain) in prose(text) {
        for (at, _) in plain.match_indices("](") {
            let rest = &plain[at + 2..];
            let Some(end) = rest.find(')') else { continue };
            // A title may follow the address: `[a](b.md "title")`.
            if let Some(address) = rest[..end].split_whitespace().next() {
                found.push((line, address.trim_matches(['<', '>']).to_owned()));
            }
        }
    }
    found
}

/// The lines outside fenced code, with inline code blanked.
fn prose(text: &str) -> Vec<(usize, String)> {
    let mut fenced = false;
    let mut lines = Vec::new();
    for (index, line) in text.lines().enumerate() {
        if line.trim_start().starts_with("```") {
            fenced = !fenced;
            continue;
        }
        if !fenced {
            let plain =
                line.split('`').enumerate().map(|(n, part)| if n % 2 == 0 { part } else { " " }).collect();
            lines.push((index + 1, plain));
        }
    }
    lines
}

/// The anchors of a page's headings: lower case, spaces to hyphens, punctuation dropped.
fn headings(text: &str) -> impl Iterator<Item = String> {
    text.lines().filter(|line| line.starts_with('#')).map(|line| {
        line.trim_start_matches('#')
            .trim()
            .to_lowercase()
            .chars()
            .filter_map(|c| match c {
                ' ' => Some('-'),
                c if c.is_alphanumeric() || c == '-' || c == '_' => Some(c),
                _ => None,
            })
            .collect()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn messages(files: &[(&str, &str)]) -> Vec<String> {
        let entries: Vec<Entry> = files
            .iter()
            .map(|(path, text)| Entry { path: (*path).to_owned(), text: Some((*text).to_owned()) })
            .collect();
        check(&entries).into_iter().map(|finding| finding.to_string()).collect()
    }

    #[test]
    fn good_links_pass() {
        let page = "[a](docs/B.md), [b](docs/B.md#two-words), ![p](docs/p.png \"t\"), [c](docs), [d](#top)\n# Top\n[e](https://example.org/x)";
        let other = "# Two `words`\n[up](../A.md)\n";
        assert_eq!(messages(&[("A.md", page), ("docs/B.md", other), ("docs/p.png", "")]), [""; 0]);
    }

    #[test]
    fn each_broken_link_is_named_with_its_line() {
        let page = "# A\n[a](missing.md)\n[b](B.md#nowhere)\n[c](../../out.md)\n";
        let found = messages(&[("docs/A.md", page), ("docs/B.md", "# Here\n")]);
        assert_eq!(found.len(), 3);
        assert!(found[0].contains("docs/A.md:2") && found[0].contains("not there"));
        assert!(found[1].contains("heading"));
        assert!(found[2].contains("leaves"));
    }

    #[test]
    fn pages_that_source_files_name_must_be_there() {
        let source = "//! See `docs/B.md`, and docs/missing.md.\n// other/docs/x.md is no page of ours\n";
        let found = messages(&[("crates/a/src/lib.rs", source), ("docs/B.md", "")]);
        assert_eq!(found.len(), 1);
        assert!(found[0].contains("docs/missing.md") && found[0].contains("lib.rs:1"));
    }

    #[test]
    fn code_holds_no_links() {
        assert_eq!(messages(&[("A.md", "`[a](b)`\n```\n[a](b)\n```\n")]), [""; 0]);
    }
}
