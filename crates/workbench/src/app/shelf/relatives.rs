//! The shelf as those who look for kin see it.

use std::path::PathBuf;

use riffkin_formats::detect::Kind;
use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::{Imprint, ImprintError};
use riffkin_store::{RiffId, Shelf, StoreError};

use super::known::{NECK, RULES};
use super::{ShelfError, riff};
use crate::app::intake::Taken;

/// Why the shelf could not be compared.
#[derive(Debug, thiserror::Error)]
pub enum RelativesError {
    /// It could not be read.
    #[error(transparent)]
    Shelf(#[from] ShelfError),
    /// A riff is too long to be compared.
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

/// Every riff on the shelf with its imprint, in the order of their numbers; `shelf:12` stands for the file of riff 12. What is
/// kept is taken as it is where it was made by today's rules on this neck, else the imprint is made anew.
///
/// # Errors
/// [`RelativesError`].
pub fn relatives(shelf: &Shelf, neck: &Neck) -> Result<Vec<(Taken, Imprint)>, RelativesError> {
    shelf.at_rest(|shelf| {
        let mut kept: Vec<(RiffId, Option<Imprint>)> = Vec::new();
        shelf.each_imprint(|imprint| {
            let current = imprint.version == RULES && neck.name() == NECK;
            let made = if current { Imprint::from_bytes(imprint.bytes).ok() } else { None };
            kept.push((imprint.id, made));
            true
        })?;
        let mut all = Vec::with_capacity(kept.len());
        for (id, made) in kept {
            let riff = riff(shelf, id, None)?;
            let imprint = match made {
                Some(imprint) => imprint,
                None => Imprint::explained(&riff, None, neck)
                    .map_err(|source| RelativesError::Imprint { id, source })?,
            };
            let path = PathBuf::from(format!("shelf:{id}"));
            all.push((Taken { path, kind: Kind::RiffText, riff, warnings: Vec::new() }, imprint));
        }
        Ok(all)
    })
}
