//! Changing riffs on the shelf. What stands above the notes and what lists show are changed together.

use riffkin_formats::riff_text;
use riffkin_score::riff::{Header, Riff};
use riffkin_store::history::Deed;
use riffkin_store::riff::{Change, ChangedRiff};
use riffkin_store::{Moment, Permission, RiffId, Shelf};

use super::known::Known;
use super::{ShelfError, riff_of};

/// Words about a riff that are to be changed; `None` leaves them as they are.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Words {
    /// Its name.
    pub title: Option<String>,
    /// Where it comes from; empty for nowhere known.
    pub source: Option<String>,
    /// What may be done with it.
    pub permission: Option<Permission>,
    /// The teacher's note.
    pub note: Option<String>,
    /// Tags to put on.
    pub tags: Vec<String>,
    /// Tags to take off.
    pub tags_off: Vec<String>,
}

/// Changes words about a riff. Gives the edition that it then has.
///
/// # Errors
/// [`ShelfError`].
pub fn change_words(shelf: &mut Shelf, id: RiffId, words: &Words, at: Moment) -> Result<u32, ShelfError> {
    let edition = shelf.entry(id)?.edition;
    let old = shelf.edition(id, edition)?.content;
    let mut change =
        Change { expected: Some(edition), note: words.note.as_deref().map(clean), ..Change::default() };
    if words.title.is_some() || words.source.is_some() || words.permission.is_some() {
        let riff = riff_of(&old.notation, id, edition)?;
        let mut header = riff.header().clone();
        if let Some(title) = &words.title {
            header.title.clone_from(title);
        }
        if let Some(source) = &words.source {
            header.source = Some(source.clone());
        }
        if let Some(permission) = words.permission {
            // Other words than ours say more than ours, and stay.
            let others = header.permission.as_deref().is_some_and(|p| Permission::of_words(p).is_none());
            if !others {
                header.permission = Some(permission.words().to_owned());
            }
            change.permission = Some(permission);
        }
        let riff = riff.with_header(header);
        change.source = Some(riff.header().source.clone().unwrap_or_default());
        change.riff = Some(ChangedRiff {
            title: riff.header().title.clone(),
            notation: riff_text::print(&riff),
            facts: shelf.entry(id)?.facts,
            prints: None,
            notes: false,
        });
    }
    if !words.tags.is_empty() || !words.tags_off.is_empty() {
        let off: Vec<String> = words.tags_off.iter().map(|t| t.trim().to_lowercase()).collect();
        let kept = old.tags.iter().filter(|t| !off.contains(&t.to_lowercase()));
        change.tags = Some(kept.chain(&words.tags).cloned().collect());
    }
    Ok(shelf.change(id, &change, at)?)
}

/// A note of several lines, without signs that would steer a terminal.
fn clean(note: &str) -> String {
    note.chars().filter(|c| !c.is_control() || matches!(c, '\n' | '\t')).collect::<String>().trim().to_owned()
}

/// Replaces the notes of a riff by another riff's. Its name and source stay unless the new one brings its own; permission,
/// note and tags stay. `named` says that the new riff has a name of its own. Gives the edition that it then has.
///
/// # Errors
/// [`ShelfError`].
pub fn replace(
    shelf: &mut Shelf,
    id: RiffId,
    new: &Riff,
    named: bool,
    at: Moment,
) -> Result<u32, ShelfError> {
    let edition = shelf.entry(id)?.edition;
    let old = shelf.edition(id, edition)?.content;
    let mut header = new.header().clone();
    if !named {
        header.title.clone_from(&old.title);
    }
    if header.source.is_none() {
        header.source = Some(old.source).filter(|s| !s.is_empty());
    }
    if header.permission.is_none() {
        // A text that cannot be read has no words above its notes to keep.
        let before = riff_of(&old.notation, id, edition).ok();
        header.permission = before.and_then(|r| r.header().permission.clone());
    }
    let riff = new.with_header(Header { ..header });
    let known = Known::of(&riff);
    let change = Change {
        source: Some(riff.header().source.clone().unwrap_or_default()),
        riff: Some(ChangedRiff {
            title: riff.header().title.clone(),
            notation: riff_text::print(&riff),
            facts: known.facts,
            prints: Some(known.prints),
            notes: true,
        }),
        expected: Some(edition),
        ..Change::default()
    };
    Ok(shelf.change(id, &change, at)?)
}

/// Makes an earlier edition the present one: the one that is asked for, else the one before what was done last. Undoing again
/// goes on backwards. Gives the edition that was gone back to, and the new one.
///
/// # Errors
/// [`ShelfError`].
pub fn undo(shelf: &mut Shelf, id: RiffId, to: Option<u32>, at: Moment) -> Result<(u32, u32), ShelfError> {
    let newest = shelf.entry(id)?.edition;
    let to = match to {
        Some(to) => to,
        None => {
            let stands = match shelf.edition(id, newest)?.deed {
                Deed::BackTo(edition) => edition,
                _ => newest,
            };
            stands.checked_sub(1).filter(|e| *e > 0).ok_or(ShelfError::NothingBefore(id))?
        }
    };
    let riff = riff_of(&shelf.edition(id, to)?.content.notation, id, to)?;
    let known = Known::of(&riff);
    Ok((to, shelf.back_to(id, to, &known.facts, &known.prints, at)?))
}
