//! What only looks at the shelf, or copies it.

use std::path::Path;

use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Key;
use riffkin_store::search::{Order, Wanted};
use riffkin_store::{Access, RiffId, Shelf};

use super::{Desk, args, exists, json, permission, progress::Line, s, text};
use crate::app::output;
use crate::app::shelf::{self, when};
use crate::cli::{Failure, degrees, notice, write};

fn wanted(which: &args::Which) -> Result<Wanted, Failure> {
    let bits =
        |text: &Option<String>| text.as_deref().map(degrees).transpose().map(|d| d.map(DegreeSet::bits));
    Ok(Wanted {
        tags: which.tags.clone(),
        // As it is kept, however it was typed.
        key: which.key.as_deref().map(key).transpose()?,
        within: bits(&which.within)?,
        having: bits(&which.having)?.unwrap_or(0),
        permission: which.permission.as_deref().map(permission).transpose()?,
        removed: which.removed,
        most: which.most,
        ..Wanted::default()
    })
}

fn key(text: &str) -> Result<String, Failure> {
    // `g minor` is meant as it would be written.
    let mut letters = text.trim().chars();
    let capital: String = letters.next().into_iter().flat_map(char::to_uppercase).chain(letters).collect();
    let key = text.parse().or_else(|e| capital.parse().map_err(|_| e));
    key.map(|key: Key| key.to_string()).map_err(|e| Failure::Words(format!("--key: {e}")))
}

pub(super) fn list(desk: &Desk, words: &args::List) -> Result<(), Failure> {
    let order = match words.by {
        args::By::Number => Order::Number,
        args::By::Title => Order::Title,
        args::By::Changed => Order::Changed,
    };
    show_found(desk, &Wanted { order, ..wanted(&words.which)? })
}

pub(super) fn find(desk: &Desk, words: &args::Find) -> Result<(), Failure> {
    let asked = words.words.join(" ");
    if asked.trim().is_empty() {
        return Err(Failure::Words(
            "give a word to look for; 'riffkin shelf list' shows everything".to_owned(),
        ));
    }
    show_found(desk, &Wanted { words: asked, order: Order::Match, ..wanted(&words.which)? })
}

fn show_found(desk: &Desk, wanted: &Wanted) -> Result<(), Failure> {
    let kept = desk.open(Access::Read)?;
    let (found, all) =
        kept.at_rest(|kept| -> Result<_, Failure> { Ok((kept.find(wanted)?, kept.count_of(wanted)?)) })?;
    if desk.json {
        let mut tagged = Vec::new();
        for entry in found {
            let content = kept.edition(entry.id, entry.edition)?.content;
            tagged.push((entry, content));
        }
        return crate::cli::say(&crate::cli::json::text(&json::list(&desk.path, all, &tagged)));
    }
    if found.is_empty() {
        notice("no riff on the shelf is like that");
    } else if all > found.len() as u64 {
        notice(&format!("note: {} of {all}; a larger --most shows more", found.len()));
    }
    crate::cli::say(&text::list(&found))
}

pub(super) fn show(desk: &Desk, words: &args::Show) -> Result<(), Failure> {
    let kept = desk.open(Access::Read)?;
    let id = RiffId(words.number);
    if let Some(out) = &words.out {
        let riff = shelf::riff(&kept, id, words.edition)?;
        write::riff(&riff, out, None)?;
        if !desk.json {
            return Ok(());
        }
    }
    let whole = kept.whole(id)?;
    let edition = match words.edition {
        Some(number) => kept.edition(id, number)?,
        None => kept.edition(id, whole.entry.edition)?,
    };
    desk.say(|| crate::cli::json::text(&json::riff(&whole, &edition)), || text::riff(&whole, &edition))
}

pub(super) fn tags(desk: &Desk) -> Result<(), Failure> {
    let tags = desk.open(Access::Read)?.tags()?;
    if tags.is_empty() && !desk.json {
        notice("no riff on the shelf has a tag; 'riffkin shelf tag' puts one on");
    }
    desk.say(
        || crate::cli::json::text(&json::tags(&tags)),
        || tags.iter().map(|(tag, count)| format!("{count:>6} {tag}\n")).collect(),
    )
}

pub(super) fn history(desk: &Desk, words: &args::One) -> Result<(), Failure> {
    let id = RiffId(words.number);
    let history = desk.open(Access::Read)?.history(id)?;
    desk.say(|| crate::cli::json::text(&json::history(id, &history)), || text::history(&history))
}

pub(super) fn place(desk: &Desk) -> Result<(), Failure> {
    let there = exists(&desk.path);
    if !there && !desk.json {
        notice("note: there is no shelf there yet");
    }
    desk.say(
        || crate::cli::json::text(&json::place(&desk.path, there)),
        || format!("{}\n", desk.path.display()),
    )
}

pub(super) fn check(desk: &Desk, words: &args::Check) -> Result<(), Failure> {
    let mut kept = desk.open(if words.renew { Access::Write } else { Access::Read })?;
    let mut found = looked_at(&kept)?;
    let mut renewed = 0;
    if words.renew {
        renewed = shelf::renew(&mut kept, &found.outdated)?;
        found = looked_at(&kept)?;
    }
    if found.faults.is_empty() {
        if !found.outdated.is_empty() && !desk.json {
            notice(&format!(
                "note: about {} riff{} something else would be found out today; --renew puts that right",
                found.outdated.len(),
                s(found.outdated.len())
            ));
        }
        return desk.say(
            || crate::cli::json::text(&json::soundness(&desk.path, &found, renewed)),
            || {
                let renewed =
                    if renewed > 0 { format!("; {renewed} brought up to date") } else { String::new() };
                format!(
                    "the shelf is sound: {} riff{}, {} edition{}, every one can be read{renewed}\n",
                    found.riffs,
                    s(found.riffs),
                    found.editions,
                    s(found.editions)
                )
            },
        );
    }
    if desk.json {
        crate::cli::say(&crate::cli::json::text(&json::soundness(&desk.path, &found, renewed)))?;
    }
    for fault in &found.faults {
        notice(fault);
    }
    Err(Failure::Could(format!(
        "{}: {} fault{}; keep this file, and put a backup or an export in its place",
        desk.path.display(),
        found.faults.len(),
        s(found.faults.len())
    )))
}

fn looked_at(kept: &Shelf) -> Result<shelf::Soundness, Failure> {
    let mut line = Line::new();
    let found = shelf::check(kept, &mut |done, all| line.show(|| format!("{done} of {all} riffs looked at")));
    line.clear();
    Ok(found?)
}

pub(super) fn export(desk: &Desk, words: &args::Export) -> Result<(), Failure> {
    let kept = desk.open(Access::Read)?;
    let mut line = Line::new();
    let exported = shelf::export(&kept, &words.folder, when::now(), &mut |done, all| {
        line.show(|| format!("{done} of {all} riffs written"));
    });
    line.clear();
    let exported = exported?;
    if exported.not_free > 0 {
        notice(&format!(
            "note: {} riff{} {} for class only, or nobody has said what may be done with {}. {}",
            exported.not_free,
            s(exported.not_free),
            if exported.not_free == 1 { "is" } else { "are" },
            if exported.not_free == 1 { "it" } else { "them" },
            exported.reminder
        ));
    }
    desk.say(
        || crate::cli::json::text(&json::exported(&words.folder, &exported)),
        || {
            let removed = if exported.removed > 0 {
                format!(", of which {} removed", exported.removed)
            } else {
                String::new()
            };
            let (count, folder) = (exported.riffs, words.folder.display());
            format!("{count} riff{}{removed}, in {folder}; 'riffkin shelf add' reads it again\n", s(count))
        },
    )
}

pub(super) fn backup(desk: &Desk, words: &args::Backup) -> Result<(), Failure> {
    let kept = desk.open(Access::Read)?;
    let unfinished = Shelf::unfinished_backup(&words.file);
    output::note_unfinished(&unfinished, true);
    let done = kept.back_up(&words.file);
    output::note_unfinished(&unfinished, false);
    done?;
    let bytes = size(&words.file);
    desk.say(
        || crate::cli::json::text(&json::backup(&words.file, bytes)),
        || format!("{}: {bytes} bytes, the whole shelf\n", words.file.display()),
    )
}

fn size(path: &Path) -> u64 {
    path.metadata().map_or(0, |about| about.len())
}
