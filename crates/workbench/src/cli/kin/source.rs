//! Where riffs are looked for: in a folder, or on the shelf.

use std::path::Path;

use riffkin_formats::detect::Kind;
use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::Imprint;
use riffkin_score::riff::Riff;
use riffkin_store::{Access, RiffId, Shelf};

use super::super::{Failure, args, notice, read};
use crate::app::intake::Taken;
use crate::app::shelf;

/// The riffs that are looked at, known by their places: the order of the folder's files, or numbers on the shelf.
pub(super) enum Source<'a> {
    /// Riffs that were read, with their imprints.
    Folder(Vec<(Taken, Imprint)>),
    /// A shelf, which nobody changes meanwhile, and the neck for hand shapes.
    Shelf(&'a Shelf, &'a Neck),
}

/// One riff.
pub(super) struct Read {
    pub(super) riff: Riff,
    pub(super) imprint: Imprint,
    /// Its file, or `shelf:12`.
    pub(super) file: String,
}

/// The riff that is called by its number on the shelf, `shelf:12`, as kin found there are; a file of that name comes first.
fn number(of: &Path) -> Option<RiffId> {
    let id = of.to_str()?.strip_prefix("shelf:")?.parse().ok()?;
    (id > 0 && !of.exists()).then_some(RiffId(id))
}

/// The riff that is asked about, and whether it is a recording.
pub(super) fn asked(words: &args::Kin, of: &Path) -> Result<(Riff, bool), Failure> {
    let Some(id) = number(of) else {
        let taken = read::take(of, &args::Reading::default())?;
        return Ok((taken.riff, taken.kind == Kind::Audio));
    };
    let kept = shelf::open(&shelf::place(words.shelf.clone())?, Access::Read)?;
    Ok((shelf::riff(&kept, id, None)?, false))
}

impl Source<'_> {
    /// The folder that was named, else the shelf.
    pub(super) fn with<T>(
        words: &args::Kin,
        neck: &Neck,
        ask: impl FnOnce(&Source<'_>) -> Result<T, Failure>,
    ) -> Result<T, Failure> {
        let Some(path) = &words.folder else {
            let kept = shelf::open(&shelf::place(words.shelf.clone())?, Access::Read)?;
            return kept.at_rest(|kept| ask(&Source::Shelf(kept, neck)));
        };
        let mut riffs = Vec::new();
        for taken in read::folder(path)? {
            match Imprint::explained(&taken.riff, None, neck) {
                Ok(imprint) => riffs.push((taken, imprint)),
                Err(e) => notice(&format!("left out: {}: {e}", taken.path.display())),
            }
        }
        ask(&Source::Folder(riffs))
    }

    /// Shows place, name and imprint of every riff; `hand` when hand shapes are wanted. What cannot be compared
    /// is said.
    pub(super) fn each(&self, hand: bool, look: &mut dyn FnMut(u64, &str, &Imprint)) -> Result<(), Failure> {
        match self {
            Source::Folder(riffs) => {
                for (place, (taken, imprint)) in (0..).zip(riffs) {
                    look(place, &taken.riff.header().title, imprint);
                }
            }
            Source::Shelf(kept, neck) => {
                let mut look =
                    |id: RiffId, name: &str, imprint: &Imprint| look(id.0.unsigned_abs(), name, imprint);
                for refused in shelf::each_relative(kept, neck, hand, &mut look)? {
                    notice(&format!("left out: {refused}"));
                }
            }
        }
        Ok(())
    }

    /// The place of a file, or of a riff called by its number.
    pub(super) fn place_of(&self, file: &Path) -> Option<u64> {
        let Source::Folder(riffs) = self else { return number(file).map(|id| id.0.unsigned_abs()) };
        let file = file.canonicalize().ok()?;
        let is_it = |(taken, _): &(Taken, Imprint)| taken.path.canonicalize().is_ok_and(|path| path == file);
        riffs.iter().position(is_it).map(|place| place as u64)
    }

    /// Reads the riff at a place.
    pub(super) fn read(&self, place: u64) -> Result<Read, Failure> {
        let gone = || Failure::Could(format!("riff {place} is gone; ask again"));
        match self {
            Source::Folder(riffs) => {
                let (taken, imprint) =
                    usize::try_from(place).ok().and_then(|p| riffs.get(p)).ok_or_else(gone)?;
                Ok(Read {
                    riff: taken.riff.clone(),
                    imprint: imprint.clone(),
                    file: taken.path.display().to_string(),
                })
            }
            Source::Shelf(kept, neck) => {
                let id = RiffId(i64::try_from(place).map_err(|_| gone())?);
                let (riff, imprint) = shelf::relative(kept, neck, id)?;
                Ok(Read { riff, imprint, file: format!("shelf:{id}") })
            }
        }
    }
}
