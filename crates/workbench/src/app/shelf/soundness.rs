//! Whether the whole shelf is sound: its file, its texts, what was found out about them.

use riffkin_store::prints::Renewed;
use riffkin_store::{RiffId, Shelf};

use super::known::{Known, RULES};
use super::{ShelfError, riff_of};

/// Riffs that are renewed in one go.
const BATCH: usize = 500;

/// What was found.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Soundness {
    /// Riffs that were looked at, removed ones too.
    pub riffs: usize,
    /// Editions whose text was read.
    pub editions: usize,
    /// What is wrong, in words.
    pub faults: Vec<String>,
    /// Riffs about which something else would be found out today; `renew` puts that right.
    pub outdated: Vec<RiffId>,
}

/// Checks everything: the file in itself, that every edition of every riff can be read, that facts and fingerprints are what
/// would be found out today. `progress` is told how many riffs of how many were looked at.
///
/// # Errors
/// [`ShelfError`] when the shelf cannot be read at all.
pub fn check(shelf: &Shelf, progress: &mut dyn FnMut(usize, usize)) -> Result<Soundness, ShelfError> {
    shelf.at_rest(|shelf| {
        let mut found = Soundness { faults: shelf.faults()?, ..Soundness::default() };
        let ids = shelf.numbers()?;
        for (i, &id) in ids.iter().enumerate() {
            progress(i, ids.len());
            let whole = match shelf.whole(id) {
                Ok(whole) => whole,
                Err(e) => {
                    found.faults.push(format!("riff {id}: {e}"));
                    continue;
                }
            };
            found.riffs += 1;
            for edition in &whole.editions {
                found.editions += 1;
                match riff_of(&edition.content.notation, id, edition.number) {
                    Err(e) => found.faults.push(e.to_string()),
                    Ok(riff) if edition.number == whole.entry.edition => {
                        let known = Known::of(&riff);
                        if riff.header().title != whole.entry.title {
                            found
                                .faults
                                .push(format!("riff {id}: its text names it otherwise than the list"));
                        }
                        if whole.entry.facts != known.facts || shelf.prints(id)? != Some(known.prints) {
                            found.outdated.push(id);
                        }
                    }
                    Ok(_) => {}
                }
            }
        }
        Ok(found)
    })
}

/// Finds out anew what is kept about these riffs; those whose text cannot be read are passed over. Gives how many.
///
/// # Errors
/// [`ShelfError`].
pub fn renew(shelf: &mut Shelf, ids: &[RiffId]) -> Result<usize, ShelfError> {
    let mut count = 0;
    for batch in ids.chunks(BATCH) {
        let mut renewed = Vec::new();
        for &id in batch {
            let edition = shelf.entry(id)?.edition;
            if let Ok(riff) = super::riff(shelf, id, Some(edition)) {
                let known = Known::of(&riff);
                renewed.push(Renewed { id, edition, facts: known.facts, prints: known.prints });
            }
        }
        shelf.renew(&renewed)?;
        count += renewed.len();
    }
    Ok(count)
}

/// Finds out anew what was found out by other rules than today's. Gives how many riffs that were.
///
/// # Errors
/// [`ShelfError`].
pub fn bring_up_to_date(shelf: &mut Shelf) -> Result<usize, ShelfError> {
    let ids = shelf.outdated_prints(RULES, u32::MAX)?;
    if ids.is_empty() { Ok(0) } else { renew(shelf, &ids) }
}
