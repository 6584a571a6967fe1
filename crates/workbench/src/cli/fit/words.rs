//! The words of `riffkin fit`.

use std::path::PathBuf;

use clap::Args;
use riffkin_fretboard::wishes::Wish;

use crate::cli::Failure;
use crate::cli::args::Reading;
use crate::cli::hand::HandWords;

/// `fit`.
#[derive(Args, Debug)]
#[command(after_help = "A wish is where, a colon, what: \"bar 2, beat 3: string 3, fret 5, finger 1\", \
    \"bars 1 to 2: string 4\", \"frets 3 to 7\", \"position 5\", \"no open strings\", \"open strings\".\n\
    The hand, what each effort weighs and how a taste is learned: docs/fit.md.")]
pub(crate) struct Fit {
    /// The riff
    pub(crate) file: PathBuf,
    /// The neck: four, five, ... or written out, such as "G2 D2 A1 E1, 24 frets, 35 inch" (see riffkin neck)
    #[arg(long)]
    pub(crate) neck: Option<String>,
    /// Where the riff does not lie on the neck: take this one of the offers, counted from 1
    #[arg(long, value_name = "NUMBER")]
    pub(crate) offer: Option<usize>,
    /// How many choices to show that differ in the hand's position, 1 to 16; one alone fingers figures that come
    /// again the same way
    #[arg(long, default_value_t = 1)]
    pub(crate) best: usize,
    /// What notes must do, such as "bars 1 to 2: string 4"; may be given again
    #[arg(long, value_name = "WISH")]
    pub(crate) wish: Vec<String>,
    #[command(flatten)]
    pub(crate) hand: HandWords,
    /// What an occurrence of a figure may cost more to be fingered like the others; 0 for no care
    #[arg(long, value_name = "COST", allow_negative_numbers = true, default_value_t = riffkin_fretboard::fit::USUAL_PRICE)]
    pub(crate) same: f64,
    /// What each effort weighs, one `effort weight` a line; with --learn it is written there. Without it, what the shelf keeps
    #[arg(long, value_name = "FILE")]
    pub(crate) taste: Option<PathBuf>,
    /// Learn the weights from riffs with the places written that you want, and keep them on the shelf or in --taste
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) learn: Vec<PathBuf>,
    /// The usual hand and taste, whatever the shelf keeps
    #[arg(long, conflicts_with_all = ["taste", "learn"])]
    pub(crate) usual: bool,
    /// Where to write it: .txt or .json, or the riff with its fit: .riff, .musicxml, .mxl, .svg
    #[arg(short, long)]
    pub(crate) out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub(crate) json: bool,
    /// How to read it
    #[command(flatten)]
    pub(crate) reading: Reading,
}

impl Fit {
    /// What may be paid so that figures that come again are fingered alike.
    pub(crate) fn price(&self) -> Result<f64, Failure> {
        if (0.0..=1.0e6).contains(&self.same) {
            return Ok(self.same);
        }
        Err(Failure::Words(format!("--same {} lies outside 0 to 1000000", self.same)))
    }

    /// The wishes.
    pub(crate) fn wishes(&self) -> Result<Vec<Wish>, Failure> {
        self.wish.iter().map(|w| w.parse().map_err(|e| Failure::Words(format!("--wish: {e}")))).collect()
    }
}
