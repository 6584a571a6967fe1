//! What is not ours says where it comes from: a licence or a README lies beside every asset.

use crate::files::Entry;
use crate::finding::Finding;
use std::collections::BTreeSet;

/// Names (without ending, in upper case) of files that tell a licence or a source.
const NOTES: &[&str] = &["LICENSE", "LICENCE", "COPYING", "OFL", "README"];

fn is_note(name: &str) -> bool {
    let upper = name.to_uppercase();
    NOTES
        .iter()
        .any(|note| upper.strip_prefix(note).is_some_and(|rest| !rest.starts_with(char::is_alphanumeric)))
}

/// Checks that each file under `assets/` has a note in its own folder or in one above it, inside `assets/`.
pub(super) fn check(entries: &[Entry]) -> Vec<Finding> {
    let folder = |path: &str| path.rsplit_once('/').map_or(String::new(), |(folder, _)| folder.to_owned());
    let assets = || entries.iter().filter(|entry| entry.path.starts_with("assets/"));
    let noted: BTreeSet<String> =
        assets().filter(|entry| is_note(entry.name())).map(|entry| folder(&entry.path)).collect();
    let bare: BTreeSet<String> = assets()
        .filter(|entry| !is_note(entry.name()))
        .map(|entry| folder(&entry.path))
        .filter(|wanted| !ancestors(wanted).any(|above| noted.contains(above)))
        .collect();
    bare.into_iter()
        .map(|folder| {
            Finding::of_file(
                &folder,
                "no licence here: put a LICENSE or a README with licence and source beside the files",
            )
        })
        .collect()
}

/// The folder itself and those above it, down to the first level inside `assets` (for files directly in
/// `assets`, `assets` itself).
fn ancestors(folder: &str) -> impl Iterator<Item = &str> {
    let mut current = Some(folder);
    std::iter::from_fn(move || {
        let this = current?;
        current = this.rsplit_once('/').map(|(above, _)| above).filter(|above| above.contains('/'));
        Some(this)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bare(paths: &[&str]) -> Vec<String> {
        let entries: Vec<Entry> =
            paths.iter().map(|path| Entry { path: (*path).to_owned(), text: None }).collect();
        check(&entries).into_iter().map(|finding| finding.file).collect()
    }

    #[test]
    fn a_note_beside_or_above_is_enough() {
        assert!(bare(&["assets/fonts/a.otf", "assets/fonts/OFL.txt"]).is_empty());
        assert!(bare(&["assets/demo/in/a.mid", "assets/demo/README.md"]).is_empty());
        assert!(bare(&["assets/a.sf2", "assets/LICENSE-fluid"]).is_empty());
        assert!(bare(&["crates/x/y.bin"]).is_empty());
    }

    #[test]
    fn a_bare_folder_is_named_and_a_note_at_the_top_does_not_cover_all() {
        assert_eq!(bare(&["assets/fonts/a.otf", "assets/README.md"]), ["assets/fonts"]);
        assert_eq!(bare(&["assets/fonts/a.otf", "assets/fonts/readmen.txt"]), ["assets/fonts"]);
    }
}
