//! Results as plain text for a terminal.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use riffkin_score::degree::{Degree, DegreeSet};

/// One rung of a ladder in the terminal.
pub(super) struct Row {
    pub(super) title: String,
    pub(super) degrees: Vec<Degree>,
    pub(super) new: DegreeSet,
}

/// Rungs down, degrees across; what is new stands in double bars.
pub(super) fn ladder(rows: &[Row]) -> String {
    let width = rows.iter().map(|r| r.title.chars().count()).max().unwrap_or(0).max(4);
    let mut out = format!("{:>3}  {:width$} ", "", "riff");
    for slot in 0..12 {
        let _ = write!(out, " {:^4}", Degree::usual(slot).print());
    }
    out.push('\n');
    for (i, row) in rows.iter().enumerate() {
        let _ = write!(out, "{:>3}  {:width$} ", i + 1, row.title);
        for slot in 0..12u8 {
            let name = row.degrees.iter().find(|d| d.slot() == slot).map(|d| d.print());
            let cell = match name {
                Some(name) if row.new.contains(slot) => format!("‖{name}‖"),
                Some(name) => name,
                None => "·".to_owned(),
            };
            let _ = write!(out, " {cell:^4}");
        }
        out.push('\n');
    }
    out.push_str("     ‖ ‖ new on this rung\n");
    out
}

/// Where the results are: loose files by name, folders with their counts.
pub(super) fn files(out: &Path, files: &[PathBuf]) -> String {
    let mut text = format!("Built in {}:\n", out.display());
    let mut folders: Vec<(String, usize)> = Vec::new();
    for file in files {
        let inside = file.strip_prefix(out).unwrap_or(file);
        match inside.parent().filter(|p| !p.as_os_str().is_empty()) {
            None => {
                let _ = writeln!(text, "  {}", inside.display());
            }
            Some(folder) => {
                let name = format!("{}/", folder.display());
                match folders.iter_mut().find(|(f, _)| *f == name) {
                    Some((_, count)) => *count += 1,
                    None => folders.push((name, 1)),
                }
            }
        }
    }
    for (folder, count) in folders {
        let _ = writeln!(text, "  {folder:12} {count} files");
    }
    text
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn new_degrees_stand_apart() {
        let degrees = ["1", "b3", "5"].map(|d| d.parse().unwrap()).to_vec();
        let text = ladder(&[Row { title: "Wet Rope".into(), degrees, new: DegreeSet::from_slots([3]) }]);
        assert!(text.contains("‖♭3‖") && !text.contains("‖5‖"), "{text}");
    }
}
