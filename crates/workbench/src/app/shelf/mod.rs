//! The teacher's shelf: where it lies, what goes on it, and how it comes out again.
//!
//! The crate `riffkin-store` keeps; what a riff is and what is found out about it is added here.

mod adding;
mod editing;
mod export;
mod exported;
mod known;
mod place;
mod relatives;
mod soundness;
mod walk;
pub mod when;

use std::path::Path;

use riffkin_formats::riff_text;
use riffkin_score::riff::Riff;
use riffkin_store::{Access, OpenError, RiffId, Shelf, StoreError};

pub use adding::{AddError, Adding, Equal, Outcome, add};
pub use editing::{Words, change_words, replace, undo};
pub use export::{Exported, export};
pub use exported::put_back;
pub use place::place;
pub use relatives::{each_relative, relative};
pub use soundness::{Soundness, bring_up_to_date, check, renew};
pub use walk::{Found, walk};

/// Why something could not be done on the shelf.
#[derive(Debug, thiserror::Error)]
pub enum ShelfError {
    /// There is no shelf yet.
    #[error("there is no shelf at {} yet; put riffs on it with 'riffkin shelf add', or name another with --shelf", .0.display())]
    None(std::path::PathBuf),
    /// It could not be opened.
    #[error(transparent)]
    Open(OpenError),
    /// It could not be read or written.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// Its folder could not be made.
    #[error(transparent)]
    Write(#[from] super::output::WriteError),
    /// A text on it is no riff.
    #[error(
        "riff {id}, edition {edition}: its text cannot be read ({message}); go back to an edition that can, with undo"
    )]
    Text {
        /// The riff.
        id: RiffId,
        /// The edition.
        edition: u32,
        /// What is wrong, and where.
        message: String,
    },
    /// There is nothing before it.
    #[error("riff {0} is as it came to the shelf; there is nothing to undo")]
    NothingBefore(RiffId),
}

/// Opens the shelf; with [`Access::Create`] the folder it lies in is made too. An older shelf is brought up to date even
/// where it was to be read only.
///
/// # Errors
/// [`ShelfError`].
pub fn open(path: &Path, access: Access) -> Result<Shelf, ShelfError> {
    if access == Access::Create
        && let Some(folder) = path.parent().filter(|f| !f.as_os_str().is_empty())
    {
        super::output::make_folder(folder)?;
    }
    let opened = match Shelf::open(path, access) {
        Err(OpenError::Older { .. }) => Shelf::open(path, Access::Write),
        opened => opened,
    };
    opened.map_err(|e| match e {
        OpenError::NotThere(path) => ShelfError::None(path),
        other => ShelfError::Open(other),
    })
}

/// The riff that a text on the shelf holds.
///
/// # Errors
/// [`ShelfError::Text`].
pub fn riff_of(notation: &str, id: RiffId, edition: u32) -> Result<Riff, ShelfError> {
    let read = riff_text::parse(notation).map(|(riff, _)| riff);
    read.map_err(|e| ShelfError::Text { id, edition, message: e.to_string().replace('\n', " ") })
}

/// A riff on the shelf, as it stands or as it was.
///
/// # Errors
/// [`ShelfError`].
pub fn riff(shelf: &Shelf, id: RiffId, edition: Option<u32>) -> Result<Riff, ShelfError> {
    let edition = match edition {
        Some(edition) => edition,
        None => shelf.entry(id)?.edition,
    };
    riff_of(&shelf.edition(id, edition)?.content.notation, id, edition)
}
