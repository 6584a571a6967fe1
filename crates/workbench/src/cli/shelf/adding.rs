//! `shelf add`: a line for every file as soon as its riff is safe.

use std::path::Path;

use riffkin_score::riff::Header;
use riffkin_store::{Access, RiffId, Shelf};

use super::{Desk, args, json, permission, progress::Line, s};
use crate::app::necks;
use crate::app::shelf::{self, AddError, Adding, Equal, Found, Outcome, when};
use crate::cli::{Failure, notice, read, say, warn};

/// What became of everything.
#[derive(Default)]
pub(super) struct Tally {
    /// Number, name, file.
    pub(super) added: Vec<(RiffId, String, String)>,
    /// File, and what it equals.
    pub(super) left_out: Vec<(String, Equal)>,
    /// File, and why it gave no riff.
    pub(super) refused: Vec<(String, String)>,
    /// Whether one of those was asked for by name.
    named_refused: bool,
}

pub(super) fn add(desk: &Desk, words: &args::Add) -> Result<(), Failure> {
    let clean = |text: &String| Header::clean(text);
    let mut adding = Adding {
        options: read::options(&words.reading)?,
        alike_too: words.alike_too,
        tags: words.tags.iter().map(clean).collect(),
        source: words.source.as_ref().map(clean).filter(|s| !s.is_empty()),
        permission: words.permission.as_deref().map(permission).transpose()?,
    };
    let (found, failed) = shelf::walk(&words.paths, &desk.path);
    let mut tally = Tally::default();
    for (path, why) in failed {
        tally.refuse(&path, &format!("{} could not be read: {why}", path.display()), false);
    }
    if found.is_empty() && tally.refused.is_empty() {
        return Err(Failure::Could(format!(
            "there is no file in {}; put riff notation, MusicXML, MIDI, typed tablature or recordings there",
            words.paths.iter().map(|p| p.display().to_string()).collect::<Vec<_>>().join(", ")
        )));
    }
    let mut kept = desk.open(Access::Create)?;
    shelf::bring_up_to_date(&mut kept)?;
    let (own, off) = necks::own(&kept)?;
    warn(&off);
    adding.options.necks = own;
    let mut line = Line::new();
    for (i, found_here) in found.iter().enumerate() {
        match found_here {
            Found::File { path, named } => {
                line.show(|| format!("{} of {}: {}", i + 1, found.len(), path.display()));
                let outcome = shelf::add(&mut kept, path, &adding, when::now());
                line.clear();
                tally.file(desk, path, *named, outcome)?;
            }
            Found::Export(folder) => {
                line.show(|| format!("{} of {}: {}", i + 1, found.len(), folder.display()));
                let back = shelf::put_back(&mut kept, folder, words.alike_too);
                line.clear();
                let back = back?;
                for (id, title) in back.added {
                    desk.line(&format!("added {id} {title}"))?;
                    tally.added.push((id, title, folder.display().to_string()));
                }
                for (path, equal) in back.left_out {
                    tally.leave_out(desk, &path, equal)?;
                }
            }
        }
    }
    tally.end(desk, &kept)
}

impl Tally {
    fn refuse(&mut self, path: &Path, why: &str, named: bool) {
        notice(&format!("left out: {why}"));
        self.refused.push((path.display().to_string(), why.to_owned()));
        self.named_refused |= named;
    }

    fn leave_out(&mut self, desk: &Desk, path: &Path, equal: Equal) -> Result<(), Failure> {
        let removed = if equal.removed { ", which was removed; restore puts it back" } else { "" };
        desk.line(&format!(
            "left out {}: {}{removed}",
            path.display(),
            equal.alike.as_said_of(&format!("{} {}", equal.id, equal.title))
        ))?;
        self.left_out.push((path.display().to_string(), equal));
        Ok(())
    }

    fn file(
        &mut self,
        desk: &Desk,
        path: &Path,
        named: bool,
        outcome: Result<Outcome, AddError>,
    ) -> Result<(), Failure> {
        match outcome {
            Ok(Outcome::Added(added)) => {
                for warning in &added.warnings {
                    notice(&format!("note: {}: {warning}", path.display()));
                }
                let equal = added.equal.map_or_else(String::new, |e| {
                    format!(" ({})", e.alike.as_said_of(&format!("{} {}", e.id, e.title)))
                });
                desk.line(&format!("added {} {}{equal}", added.id, added.title))?;
                self.added.push((added.id, added.title, path.display().to_string()));
            }
            Ok(Outcome::LeftOut(equal)) => self.leave_out(desk, path, equal)?,
            Err(AddError::File(why)) => self.refuse(path, &why.to_string(), named),
            // What was added before is safe.
            Err(AddError::Shelf(why)) => return Err(why.into()),
        }
        Ok(())
    }

    fn end(&self, desk: &Desk, kept: &Shelf) -> Result<(), Failure> {
        let (count, removed) = kept.count()?;
        let nothing = self.added.is_empty() && self.left_out.is_empty() && !self.refused.is_empty();
        if desk.json && !nothing {
            say(&crate::cli::json::text(&json::added(&desk.path, self)))?;
        }
        if !nothing {
            let left_out = self.left_out.len();
            desk.line(&format!(
                "{} riff{} added{}; {count} on the shelf{}",
                self.added.len(),
                s(self.added.len()),
                if left_out > 0 {
                    format!(", {left_out} left out that it has already")
                } else {
                    String::new()
                },
                if removed > 0 { format!(", {removed} removed") } else { String::new() },
            ))?;
            if left_out > 0 {
                notice("note: --alike-too adds them all the same");
            }
        }
        match self.refused.as_slice() {
            [(_, why)] if nothing => Err(Failure::Could(why.clone())),
            refused if nothing || self.named_refused => Err(Failure::Could(format!(
                "{} file{} could not be put on the shelf; each is named above",
                refused.len(),
                s(refused.len())
            ))),
            _ => Ok(()),
        }
    }
}
