//! The shelf as those who look for kin see it.

use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::{Imprint, ImprintError};
use riffkin_score::riff::Riff;
use riffkin_store::{RiffId, Shelf, StoreError};

use super::known::{NECK, RULES};
use super::{ShelfError, riff};

/// Why a riff of the shelf could not be compared.
#[derive(Debug, thiserror::Error)]
pub enum RelativesError {
    /// It could not be read.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// It is too long to be compared.
    #[error("riff {id}: {source}")]
    Imprint {
        /// The riff.
        id: RiffId,
        /// Why.
        source: ImprintError,
    },
}

impl From<StoreError> for RelativesError {
    fn from(e: StoreError) -> Self {
        Self::Shelf(e.into())
    }
}

/// Shows number, title and imprint of every riff on the shelf, in the order of their numbers. What is kept is
/// taken as it is where it was made by today's rules; the hand shape is made anew on another neck, if it is
/// wanted. Riffs that cannot be compared are given back.
///
/// # Errors
/// [`ShelfError`] when the shelf cannot be read at all.
pub fn each_relative(
    shelf: &Shelf,
    neck: &Neck,
    hand: bool,
    look: &mut dyn FnMut(RiffId, &str, &Imprint),
) -> Result<Vec<RelativesError>, ShelfError> {
    let mut anew: Vec<(RiffId, String)> = Vec::new();
    shelf.each_imprint(|kept| {
        let current = kept.version == RULES && (!hand || neck.name() == NECK);
        match Imprint::from_bytes(kept.bytes) {
            Ok(imprint) if current => look(kept.id, kept.title, &imprint),
            _ => anew.push((kept.id, kept.title.to_owned())),
        }
        true
    })?;
    let mut refused = Vec::new();
    for (id, title) in anew {
        match relative(shelf, neck, id) {
            Ok((_, imprint)) => look(id, &title, &imprint),
            Err(e) => refused.push(e),
        }
    }
    Ok(refused)
}

/// One riff of the shelf, and its imprint with its hand shape on this neck.
///
/// # Errors
/// [`RelativesError`].
pub fn relative(shelf: &Shelf, neck: &Neck, id: RiffId) -> Result<(Riff, Imprint), RelativesError> {
    let riff = riff(shelf, id, None)?;
    let prints = shelf.prints(id)?.filter(|p| p.version == RULES && neck.name() == NECK);
    if let Some(imprint) = prints.and_then(|p| Imprint::from_bytes(&p.imprint).ok()) {
        return Ok((riff, imprint));
    }
    let imprint = Imprint::explained(&riff, None, neck);
    Ok((riff, imprint.map_err(|source| RelativesError::Imprint { id, source })?))
}
