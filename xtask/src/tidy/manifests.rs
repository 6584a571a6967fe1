//! Every crate takes the workspace's lints, and the library crates carry one and the same `clippy.toml`.

use crate::finding::Finding;

/// Fails unless the manifest says `[lints] workspace = true`.
pub(super) fn check_lints(file: &str, manifest: &toml::Table) -> Option<Finding> {
    let taken = manifest.get("lints").and_then(|lints| lints.get("workspace")).and_then(toml::Value::as_bool);
    (taken != Some(true)).then(|| Finding::of_file(file, "add `[lints]` with `workspace = true`"))
}

/// Compares the `clippy.toml` of the library crates: `(path, text)`, where a missing file has no text.
pub(super) fn check_clippy(libraries: &[(String, Option<String>)]) -> Vec<Finding> {
    let mut findings = Vec::new();
    let mut model: Option<(&str, &str)> = None;
    for (path, text) in libraries {
        match (text, model) {
            (None, _) => findings.push(Finding::of_file(
                path,
                "a library crate needs its own clippy.toml that bans files, sockets, environment and clock: copy it from another library crate",
            )),
            (Some(text), None) => {
                if !(text.contains("disallowed-methods") && text.contains("disallowed-types")) {
                    findings.push(Finding::of_file(path, "bans nothing: it needs disallowed-methods and disallowed-types"));
                }
                model = Some((path, text));
            }
            (Some(text), Some((first, wanted))) if text != wanted => {
                findings.push(Finding::of_file(path, format!("differs from {first}: the library crates keep one text")));
            }
            _ => {}
        }
    }
    findings
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_workspace_lints_must_be_taken() {
        let with: toml::Table = "[lints]\nworkspace = true\n".parse().unwrap();
        let without: toml::Table = "[lints.rust]\nunsafe_code = 'allow'\n".parse().unwrap();
        assert!(check_lints("Cargo.toml", &with).is_none());
        assert!(check_lints("Cargo.toml", &without).is_some());
    }

    #[test]
    fn clippy_files_are_there_and_alike() {
        let ban = Some("disallowed-methods = []\ndisallowed-types = []\n".to_owned());
        let alike = [("a".to_owned(), ban.clone()), ("b".to_owned(), ban.clone())];
        assert!(check_clippy(&alike).is_empty());
        let missing = [("a".to_owned(), ban.clone()), ("b".to_owned(), None)];
        assert_eq!(check_clippy(&missing).len(), 1);
        let other = [("a".to_owned(), ban), ("b".to_owned(), Some("disallowed-methods = []\n".to_owned()))];
        assert!(check_clippy(&other)[0].message.contains("differs"));
        assert_eq!(check_clippy(&[("a".to_owned(), Some(String::new()))]).len(), 1);
    }
}
