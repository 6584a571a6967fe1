//! Which crate may use which: the table of `docs/ARCHITECTURE.md`, read off the manifests.

use crate::finding::Finding;

/// A crate of ours, its layer from the bottom, and the crates of ours that it may use.
struct Room {
    name: &'static str,
    layer: u8,
    may_use: &'static [&'static str],
}

/// The table. A crate that is not in it has no place in the house yet.
const HOUSE: &[Room] = &[
    Room { name: "riffkin-score", layer: 0, may_use: &[] },
    Room { name: "riffkin-fretboard", layer: 1, may_use: &["riffkin-score"] },
    Room { name: "riffkin-audio", layer: 1, may_use: &["riffkin-score"] },
    Room {
        name: "riffkin-formats",
        layer: 2,
        may_use: &["riffkin-score", "riffkin-fretboard", "riffkin-audio"],
    },
    Room { name: "riffkin-engrave", layer: 2, may_use: &["riffkin-score", "riffkin-fretboard"] },
    Room { name: "riffkin-lesson", layer: 2, may_use: &["riffkin-score", "riffkin-fretboard"] },
    Room { name: "riffkin-kin", layer: 2, may_use: &["riffkin-score", "riffkin-fretboard"] },
    Room { name: "riffkin-store", layer: 2, may_use: &["riffkin-score", "riffkin-fretboard"] },
    Room {
        name: "riffkin",
        layer: 4,
        may_use: &[
            "riffkin-score",
            "riffkin-fretboard",
            "riffkin-audio",
            "riffkin-formats",
            "riffkin-engrave",
            "riffkin-lesson",
            "riffkin-kin",
            "riffkin-store",
        ],
    },
    Room { name: "xtask", layer: 0, may_use: &[] },
];

fn is_ours(name: &str) -> bool {
    name == "riffkin" || name == "xtask" || name.starts_with("riffkin-")
}

/// Checks the dependencies of one manifest against the table.
pub(super) fn check(file: &str, manifest: &toml::Table) -> Vec<Finding> {
    let Some(name) =
        manifest.get("package").and_then(|package| package.get("name")).and_then(|name| name.as_str())
    else {
        return vec![Finding::of_file(file, "the manifest names no package")];
    };
    let Some(room) = HOUSE.iter().find(|room| room.name == name) else {
        return vec![Finding::of_file(
            file,
            format!(
                "crate `{name}` is not in the table of arrows: give it a place in docs/ARCHITECTURE.md and in xtask/src/tidy/arrows.rs"
            ),
        )];
    };
    let mut findings = Vec::new();
    for (kind, dependency) in dependencies(manifest) {
        if !is_ours(&dependency) || room.may_use.contains(&dependency.as_str()) {
            continue;
        }
        let below = HOUSE.iter().any(|other| other.name == dependency && other.layer < room.layer);
        let message = match kind {
            Kind::Test if below => continue,
            Kind::Test => format!(
                "the tests of `{name}` use `{dependency}`, which does not lie below it: tests may reach further down, never up or sideways"
            ),
            Kind::Plain => format!(
                "`{name}` uses `{dependency}`, an arrow that is not in the table of docs/ARCHITECTURE.md (it may use: {})",
                if room.may_use.is_empty() { "nothing of ours".to_owned() } else { room.may_use.join(", ") }
            ),
        };
        findings.push(Finding::of_file(file, message));
    }
    findings
}

#[derive(Clone, Copy, PartialEq)]
enum Kind {
    Plain,
    Test,
}

/// Every dependency with its package name, whatever section and platform it stands in.
fn dependencies(manifest: &toml::Table) -> Vec<(Kind, String)> {
    let mut found = sections(manifest);
    if let Some(targets) = manifest.get("target").and_then(toml::Value::as_table) {
        for target in targets.values().filter_map(toml::Value::as_table) {
            found.extend(sections(target));
        }
    }
    found
}

fn sections(table: &toml::Table) -> Vec<(Kind, String)> {
    let mut found = Vec::new();
    for (section, kind) in
        [("dependencies", Kind::Plain), ("build-dependencies", Kind::Plain), ("dev-dependencies", Kind::Test)]
    {
        let Some(entries) = table.get(section).and_then(toml::Value::as_table) else { continue };
        for (key, value) in entries {
            let renamed = value.get("package").and_then(toml::Value::as_str);
            found.push((kind, renamed.unwrap_or(key).to_owned()));
        }
    }
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn findings(text: &str) -> Vec<String> {
        let manifest: toml::Table = text.parse().unwrap();
        check("Cargo.toml", &manifest).into_iter().map(|finding| finding.message).collect()
    }

    #[test]
    fn arrows_of_the_table_pass() {
        let ok = "[package]\nname='riffkin-formats'\n[dependencies]\nriffkin-score.workspace=true\nriffkin-audio={path='x'}\nserde='1'\n";
        assert!(findings(ok).is_empty());
    }

    #[test]
    fn an_arrow_upwards_fails_in_every_section() {
        for section in
            ["dependencies", "build-dependencies", "dev-dependencies", "target.'cfg(unix)'.dependencies"]
        {
            let text =
                format!("[package]\nname='riffkin-score'\n[{section}]\nriffkin-formats.workspace=true\n");
            assert_eq!(findings(&text).len(), 1, "{section}");
        }
    }

    #[test]
    fn a_renamed_dependency_is_seen() {
        let text =
            "[package]\nname='riffkin-engrave'\n[dependencies]\nears={package='riffkin-audio',path='x'}\n";
        assert_eq!(findings(text).len(), 1);
    }

    #[test]
    fn tests_may_reach_further_down_but_not_sideways() {
        let down = "[package]\nname='riffkin-lesson'\n[dev-dependencies]\nriffkin-audio.workspace=true\n";
        assert!(findings(down).is_empty());
        let plain = "[package]\nname='riffkin-lesson'\n[dependencies]\nriffkin-audio.workspace=true\n";
        assert_eq!(findings(plain).len(), 1);
        let sideways =
            "[package]\nname='riffkin-lesson'\n[dev-dependencies]\nriffkin-engrave.workspace=true\n";
        assert_eq!(findings(sideways).len(), 1);
    }

    #[test]
    fn a_crate_without_a_place_fails() {
        assert!(findings("[package]\nname='riffkin-attic'\n")[0].contains("not in the table"));
        assert!(findings("[workspace]\n")[0].contains("no package"));
    }
}
