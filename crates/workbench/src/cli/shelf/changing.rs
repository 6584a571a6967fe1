//! What changes riffs on the shelf: a line for every riff as soon as its change is safe.

use riffkin_score::riff::Header;
use riffkin_store::history::Deed;
use riffkin_store::search::Wanted;
use riffkin_store::{Access, RiffId, Shelf};

use super::{Desk, args, json, numbers, s, text};
use crate::app::intake;
use crate::app::shelf::{self, ShelfError, Words, when};
use crate::cli::{Failure, read};

/// What became of a riff.
pub(super) struct Changed {
    pub(super) id: RiffId,
    pub(super) title: String,
    pub(super) edition: u32,
    /// What was done, or nothing.
    pub(super) did: Option<Deed>,
}

/// Does the same with each riff. The first that fails ends it; those before it are changed.
fn each(
    desk: &Desk,
    ids: &[RiffId],
    mut change: impl FnMut(&mut Shelf, RiffId) -> Result<u32, ShelfError>,
) -> Result<(), Failure> {
    let mut kept = desk.open(Access::Write)?;
    // A number that is wrong is better found before half the work is done.
    for &id in ids {
        kept.entry(id)?;
    }
    let mut all = Vec::new();
    for &id in ids {
        let before = kept.entry(id)?.edition;
        let edition = change(&mut kept, id)?;
        let now = kept.edition(id, edition)?;
        let did = (edition != before).then_some(now.deed);
        let title = now.content.title;
        desk.line(&match &did {
            Some(did) => format!("{id} {title}: {} (edition {edition})", text::deed(did)),
            None => format!("{id} {title}: nothing to change"),
        })?;
        all.push(Changed { id, title, edition, did });
    }
    if desk.json { crate::cli::say(&crate::cli::json::text(&json::changed(&all))) } else { Ok(()) }
}

fn words(desk: &Desk, ids: &[RiffId], words: &Words) -> Result<(), Failure> {
    each(desk, ids, |kept, id| shelf::change_words(kept, id, words, when::now()))
}

pub(super) fn tag(desk: &Desk, asked: &args::Tag) -> Result<(), Failure> {
    let tags: Vec<String> = asked.tags.iter().map(|t| Header::clean(t)).filter(|t| !t.is_empty()).collect();
    if tags.is_empty() {
        return Err(Failure::Words("a tag needs a letter at least".to_owned()));
    }
    let change = if asked.off {
        Words { tags_off: tags, ..Words::default() }
    } else {
        Words { tags, ..Words::default() }
    };
    words(desk, &numbers(&asked.numbers)?, &change)
}

pub(super) fn title(desk: &Desk, asked: &args::OneText) -> Result<(), Failure> {
    if Header::clean(&asked.text).is_empty() {
        return Err(Failure::Words("a title needs a letter at least".to_owned()));
    }
    words(desk, &[RiffId(asked.number)], &Words { title: Some(asked.text.clone()), ..Words::default() })
}

pub(super) fn note(desk: &Desk, asked: &args::OneText) -> Result<(), Failure> {
    words(desk, &[RiffId(asked.number)], &Words { note: Some(asked.text.clone()), ..Words::default() })
}

pub(super) fn source(desk: &Desk, asked: &args::Text) -> Result<(), Failure> {
    let change = Words { source: Some(asked.text.clone()), ..Words::default() };
    words(desk, &numbers(&asked.numbers)?, &change)
}

pub(super) fn permission(desk: &Desk, asked: &args::Text) -> Result<(), Failure> {
    let change = Words { permission: Some(super::permission(&asked.text)?), ..Words::default() };
    words(desk, &numbers(&asked.numbers)?, &change)
}

pub(super) fn edit(desk: &Desk, asked: &args::Edit) -> Result<(), Failure> {
    let taken = read::take(&asked.file, &asked.reading)?;
    // A name made from the file's name is no name that the riff brings along.
    let named = taken.riff.header().title != intake::title_of(&asked.file);
    each(desk, &[RiffId(asked.number)], |kept, id| shelf::replace(kept, id, &taken.riff, named, when::now()))
}

pub(super) fn undo(desk: &Desk, asked: &args::Undo) -> Result<(), Failure> {
    each(desk, &[RiffId(asked.number)], |kept, id| {
        shelf::undo(kept, id, asked.to, when::now()).map(|(_, edition)| edition)
    })
}

pub(super) fn remove(desk: &Desk, asked: &args::Many) -> Result<(), Failure> {
    each(desk, &numbers(&asked.numbers)?, |kept, id| Ok(kept.remove(id, when::now())?))
}

pub(super) fn restore(desk: &Desk, asked: &args::Many) -> Result<(), Failure> {
    each(desk, &numbers(&asked.numbers)?, |kept, id| Ok(kept.take_back(id, when::now())?))
}

pub(super) fn purge(desk: &Desk, asked: &args::Purge) -> Result<(), Failure> {
    let mut kept = desk.open(Access::Write)?;
    let ids = match &asked.numbers {
        Some(text) => numbers(text)?,
        None => {
            let removed = kept.find(&Wanted { removed: true, ..Wanted::default() })?;
            removed.into_iter().map(|e| e.id).collect()
        }
    };
    let titles: Vec<(RiffId, String)> =
        ids.iter().map(|&id| Ok((id, kept.entry(id)?.title))).collect::<Result<_, Failure>>()?;
    if !asked.yes {
        return Err(Failure::Words(format!(
            "this takes {} riff{} away for good, with the history; say --yes if that is what you want",
            ids.len(),
            s(ids.len())
        )));
    }
    kept.purge(&ids)?;
    desk.say(
        || crate::cli::json::text(&json::purged(&ids)),
        || titles.iter().map(|(id, title)| format!("{id} {title}: gone for good\n")).collect(),
    )
}
