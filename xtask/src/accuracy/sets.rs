//! Sets of recordings with their true notes.
//!
//! A set is a folder: `ref/NAME.csv` (onset_s,offset_s,midi) and the recordings `solo/NAME.wav`,
//! `solo-degraded/NAME.wav` and `mix/NAME.wav`; where known `dead/NAME.csv` (dead notes) and `manner/NAME.csv`
//! (onset_s,manner of each true note).

use super::kinds::Beyond;
use super::notes::{self, Sounded};
use crate::files::target_dir;
use crate::python;
use crate::run::must;
use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;
use std::time::Duration;

/// How a line was recorded.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Variant {
    /// The bass alone, clean.
    Solo,
    /// The bass alone in a room, with noise, through MP3.
    Degraded,
    /// The bass under drums, chords and a lead.
    Mix,
}

impl Variant {
    /// All of them, in the order of the tables.
    pub(super) const ALL: [Self; 3] = [Self::Solo, Self::Degraded, Self::Mix];

    /// The folder's name.
    pub(super) fn folder(self) -> &'static str {
        match self {
            Self::Solo => "solo",
            Self::Degraded => "solo-degraded",
            Self::Mix => "mix",
        }
    }
}

/// One line of a set.
#[derive(Clone, Debug)]
pub(super) struct Piece {
    pub(super) name: String,
    pub(super) reference: Vec<Sounded>,
    pub(super) beyond: Beyond,
}

/// A set of lines.
#[derive(Clone, Debug)]
pub(super) struct Set {
    /// The folder's own name.
    pub(super) name: String,
    pub(super) folder: PathBuf,
    pub(super) pieces: Vec<Piece>,
}

impl Set {
    /// Reads the truth of a set.
    ///
    /// # Errors
    /// When the folder has no true notes, or a line of them cannot be read.
    pub(super) fn open(folder: &Path) -> Result<Self, String> {
        let truth = folder.join("ref");
        let told =
            |why: std::io::Error| format!("{}: {why}; a set has its true notes there", truth.display());
        let mut names = Vec::new();
        for entry in fs::read_dir(&truth).map_err(told)? {
            let path = entry.map_err(told)?.path();
            if path.extension().is_some_and(|ending| ending == "csv") {
                names.extend(path.file_stem().and_then(|stem| stem.to_str()).map(str::to_owned));
            }
        }
        names.sort();
        if names.is_empty() {
            return Err(format!("{} holds no NAME.csv with true notes", truth.display()));
        }
        let pieces = names.into_iter().map(|name| piece(folder, name)).collect::<Result<_, _>>()?;
        let name =
            folder.file_name().map_or_else(|| "set".into(), |name| name.to_string_lossy().into_owned());
        Ok(Self { name, folder: folder.to_owned(), pieces })
    }

    /// Where a recording lies.
    pub(super) fn recording(&self, variant: Variant, name: &str) -> PathBuf {
        self.folder.join(variant.folder()).join(format!("{name}.wav"))
    }
}

fn piece(folder: &Path, name: String) -> Result<Piece, String> {
    let path = |what: &str| folder.join(what).join(format!("{name}.csv"));
    let read = |path: &Path| -> Result<Vec<Sounded>, String> {
        let text = fs::read_to_string(path).map_err(|why| format!("{}: {why}", path.display()))?;
        notes::read(&text).map_err(|why| format!("{}: {why}", path.display()))
    };
    let reference = read(&path("ref"))?;
    let dead = if path("dead").exists() { read(&path("dead"))? } else { Vec::new() };
    let mut manners: Vec<String> = fs::read_to_string(path("manner"))
        .unwrap_or_default()
        .lines()
        .filter_map(|line| line.split_once(',').map(|(_, manner)| manner.trim().to_owned()))
        .collect();
    if manners.len() != reference.len() {
        manners.clear();
    }
    Ok(Piece { name, reference, beyond: Beyond { dead, manners } })
}

/// The project's own sets, made by the generators in `tests/hearing/` when they are not there yet.
///
/// # Errors
/// When a generator fails; it says what is missing.
pub(super) fn own(root: &Path, python: &Path, seed: u32, count: usize) -> Result<Vec<Set>, String> {
    let hearing = target_dir(root).join("hearing");
    let mut sets = Vec::new();
    for kind in ["recorded", "synth"] {
        let script = format!("tests/hearing/{kind}_lines.py");
        let folder = hearing.join(format!("{kind}-{seed}"));
        let mut recipe = format!("--seed {seed} --count {count}\n");
        for file in [script.as_str(), "tests/hearing/lines.py", "tests/hearing/requirements.txt"] {
            let text = fs::read_to_string(root.join(file)).map_err(|why| format!("{file}: {why}"))?;
            recipe.push_str(&text);
        }
        let stamp = folder.join("recipe.txt");
        if !fs::read_to_string(&stamp).is_ok_and(|made_by| made_by == recipe) {
            println!("-- making {}", folder.display());
            python::empty(&folder)?;
            let mut command = Command::new(python);
            command.env("PYTHONDONTWRITEBYTECODE", "1").arg(root.join(&script)).arg("--out").arg(&folder);
            command.args(["--seed", &seed.to_string(), "--count", &count.to_string()]);
            if kind == "recorded" {
                command.arg("--cache").arg(hearing.join("cache"));
            }
            must(&mut command, Duration::from_secs(1800))?;
            fs::write(&stamp, recipe).map_err(|why| format!("{}: {why}", stamp.display()))?;
        }
        sets.push(Set::open(&folder)?);
    }
    Ok(sets)
}
