//! Files and folders to riffs.

use std::fs;
use std::io::Read;
use std::path::{Path, PathBuf};

use riffkin_audio::listen::Asked;
use riffkin_formats::detect::{self, Kind, ReadOptions};
use riffkin_fretboard::neck::Neck;
use riffkin_score::Warning;
use riffkin_score::riff::{Header, Riff};

use super::{hearing, necks};

/// Largest file that is read: 1 GiB.
const LARGEST: u64 = 1 << 30;
/// Bytes that tell what a file is.
const HEAD: u64 = 1 << 16;
/// Most files taken from one folder.
const MOST_FILES: usize = 10_000;

/// A riff and where it came from.
#[derive(Clone, Debug)]
pub struct Taken {
    /// The file.
    pub path: PathBuf,
    /// What the file was recognised as.
    pub kind: Kind,
    /// The riff; named after the file when the file names none.
    pub riff: Riff,
    /// What was left out, guessed or changed.
    pub warnings: Vec<Warning>,
}

/// A file that gave no riff.
#[derive(Debug, thiserror::Error)]
pub enum IntakeError {
    /// It could not be read at all.
    #[error("{} could not be read: {source}; check the name", path.display())]
    Io {
        /// The file.
        path: PathBuf,
        /// Why.
        source: std::io::Error,
    },
    /// A folder where a file is wanted.
    #[error("{} is a folder; give one file, or use ladder or lesson for a folder", .0.display())]
    Folder(PathBuf),
    /// It is too large.
    #[error("{} has {size} bytes; at most {LARGEST} are read", path.display())]
    TooLarge {
        /// The file.
        path: PathBuf,
        /// Its size.
        size: u64,
    },
    /// Its content is at fault.
    #[error("{}: {message}", path.display())]
    Content {
        /// The file.
        path: PathBuf,
        /// What is wrong, and where.
        message: String,
    },
    /// A folder without anything to read.
    #[error("{} holds no riffs; put riff notation, MusicXML, MIDI, typed tablature or recordings there", .0.display())]
    Empty(PathBuf),
}

/// The bytes of a file, bounded.
///
/// # Errors
/// [`IntakeError`].
pub fn bytes(path: &Path) -> Result<Vec<u8>, IntakeError> {
    let fail = |source| IntakeError::Io { path: path.to_owned(), source };
    let about = fs::metadata(path).map_err(fail)?;
    if about.is_dir() {
        return Err(IntakeError::Folder(path.to_owned()));
    }
    let size = about.len();
    if size > LARGEST {
        return Err(IntakeError::TooLarge { path: path.to_owned(), size });
    }
    fs::read(path).map_err(fail)
}

/// What a file looks like, by its beginning.
///
/// # Errors
/// [`IntakeError`].
pub fn kind(path: &Path) -> Result<Kind, IntakeError> {
    let fail = |source| IntakeError::Io { path: path.to_owned(), source };
    if fs::metadata(path).map_err(fail)?.is_dir() {
        return Err(IntakeError::Folder(path.to_owned()));
    }
    let mut head = Vec::new();
    fs::File::open(path).and_then(|file| file.take(HEAD).read_to_end(&mut head)).map_err(fail)?;
    Ok(detect::detect(&head))
}

/// The riff of a recording of a solo bass.
fn hear(path: &Path, options: &ReadOptions) -> Result<(Riff, Vec<Warning>), String> {
    let asked = Asked { meter: options.meter, tempo: options.tempo, key: options.key, ..Asked::default() };
    let order = hearing::Order { asked, ..hearing::Order::default() };
    let heard = hearing::open(path)
        .and_then(|source| hearing::hear(source, &order, &mut |_, _| {}))
        .map_err(|e| e.to_string())?;
    if let Some(why) = heard.nothing() {
        return Err(why);
    }
    let written = heard.written.ok_or("the notes fill more bars than a riff may have; cut the recording")?;
    Ok((written.riff, heard.warnings))
}

/// Reads one riff, whatever the format, recognised by content.
///
/// # Errors
/// [`IntakeError`].
pub fn take(path: &Path, options: &ReadOptions) -> Result<Taken, IntakeError> {
    let content = |message: String| IntakeError::Content { path: path.to_owned(), message };
    let kind = kind(path)?;
    let (riff, warnings) = if kind == Kind::Audio {
        hear(path, options).map_err(content)?
    } else {
        detect::read_any(&bytes(path)?, options).map_err(|e| content(e.to_string()))?
    };
    let riff = if riff.header().title.is_empty() {
        riff.with_header(Header { title: title_of(path), ..riff.header().clone() })
    } else {
        riff
    };
    let (riff, said) = own_neck(riff, &options.necks);
    let warnings = warnings.into_iter().chain(said).collect();
    Ok(Taken { path: path.to_owned(), kind, riff, warnings })
}

/// A riff that names a neck of the teacher's own has it written out, so that it means the same everywhere.
fn own_neck(riff: Riff, own: &[Neck]) -> (Riff, Option<Warning>) {
    let name = riff.header().neck.as_deref().filter(|name| necks::may_be_own(name));
    let Some(neck) = name.and_then(|name| necks::named(name, own).ok()) else { return (riff, None) };
    let said = Warning::at("neck", format!("'{}' is {neck}, as kept on your shelf", neck.name()));
    (riff.with_header(Header { neck: Some(neck.to_string()), ..riff.header().clone() }), Some(said))
}

/// `net-mender.riff` as a title: `Net Mender`.
pub fn title_of(path: &Path) -> String {
    let stem = path.file_stem().unwrap_or_default().to_string_lossy();
    stem.split(['-', '_', ' '])
        .filter(|w| !w.is_empty())
        .map(|word| {
            let mut chars = word.chars();
            chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
        })
        .collect::<Vec<_>>()
        .join(" ")
}

/// Reads every riff of a folder, files in the order of their names; what cannot be read is set apart.
///
/// # Errors
/// [`IntakeError`] when the folder cannot be listed or holds nothing readable.
pub fn take_folder(
    folder: &Path,
    options: &ReadOptions,
) -> Result<(Vec<Taken>, Vec<IntakeError>), IntakeError> {
    let fail = |source| IntakeError::Io { path: folder.to_owned(), source };
    let mut paths = Vec::new();
    for entry in fs::read_dir(folder).map_err(fail)? {
        let path = entry.map_err(fail)?.path();
        let hidden = path.file_name().is_some_and(|n| n.to_string_lossy().starts_with('.'));
        if !hidden && path.is_file() && paths.len() < MOST_FILES {
            paths.push(path);
        }
    }
    paths.sort();
    let (mut taken, mut refused) = (Vec::new(), Vec::new());
    for path in paths {
        match take(&path, options) {
            Ok(t) => taken.push(t),
            Err(e) => refused.push(e),
        }
    }
    if taken.is_empty() && refused.is_empty() {
        return Err(IntakeError::Empty(folder.to_owned()));
    }
    Ok((taken, refused))
}

#[cfg(test)]
mod tests {
    #[test]
    fn a_file_name_becomes_a_title() {
        assert_eq!(super::title_of(std::path::Path::new("x/net-mender_2.wav")), "Net Mender 2");
    }
}
