//! The words of `explain`.

use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::cli::args::Reading;

/// `explain`.
#[derive(Args, Debug)]
#[command(
    after_help = "Two scales side by side: --compare \"G Dorian\" \"G minor\", or without a tonic --compare Dorian minor.\n\
    Add -o difference.svg to see them on the neck."
)]
pub struct Explain {
    /// The riff
    pub file: PathBuf,
    /// The note called 1; without it the riff's own key, else the likeliest
    #[arg(long)]
    pub tonic: Option<String>,
    /// Count the notes' degrees from the key's root, or from the root of the chord over them
    #[arg(long, default_value = "key")]
    pub against: Against,
    /// Hold two scales against each other
    #[arg(long, num_args = 2, value_names = ["SCALE", "SCALE"])]
    pub compare: Vec<String>,
    /// Tell everything: more scales and chords, chords bar by bar, what each note does, every note
    #[arg(long)]
    pub all: bool,
    /// The neck for the hand shape, the difficulty and the picture; without it the riff's own, else four
    #[arg(long)]
    pub neck: Option<String>,
    /// Where to write it: .txt or .json; with --compare also a picture, .svg
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}

/// What degrees are counted from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Against {
    Key,
    Chord,
}

impl Against {
    /// The word of the command.
    pub fn word(self) -> &'static str {
        match self {
            Self::Key => "key",
            Self::Chord => "chord",
        }
    }
}
