//! The words of `riffkin fit`, and what they mean for hand, wishes and taste.

use std::path::PathBuf;

use clap::{Args, ValueEnum};
use riffkin_fretboard::hand::{Hand, HandSize, Level, OpenStrings, Plucking};
use riffkin_fretboard::wishes::Wish;

use crate::cli::Failure;
use crate::cli::args::Reading;

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
    /// What each effort weighs, one `effort weight` a line; with --learn it is written there
    #[arg(long, value_name = "FILE")]
    pub(crate) taste: Option<PathBuf>,
    /// Learn the weights from riffs with the places written that you want
    #[arg(long, value_name = "FILE", num_args = 1..)]
    pub(crate) learn: Vec<PathBuf>,
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

/// The hand that is to play.
#[derive(Args, Debug)]
pub(crate) struct HandWords {
    /// Size of the hand: small, medium, large, or its span from index to little fingertip in mm
    #[arg(long, value_name = "SIZE")]
    hand: Option<String>,
    /// How far the player has come
    #[arg(long)]
    level: Option<LevelWord>,
    /// One finger per fret from this fret on, 1-2-4 below; by default 5, with another hand what suits it
    #[arg(long, value_name = "FRET")]
    switch: Option<u8>,
    /// What is thought of open strings [default: sparing]
    #[arg(long)]
    open: Option<OpenWord>,
    /// How the plucking hand goes from string to string [default: any]
    #[arg(long)]
    pluck: Option<PluckWord>,
    /// What an occurrence of a figure may cost more to be fingered like the others; 0 for no care
    #[arg(long, value_name = "COST", allow_negative_numbers = true, default_value_t = riffkin_fretboard::fit::USUAL_PRICE)]
    pub(crate) same: f64,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum LevelWord {
    Beginner,
    Intermediate,
    Advanced,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum OpenWord {
    Welcome,
    Sparing,
    Refused,
}

#[derive(Clone, Copy, Debug, ValueEnum)]
enum PluckWord {
    Any,
    Alternating,
    Raking,
}

impl HandWords {
    /// The hand with the usual taste.
    pub(crate) fn hand(&self) -> Result<Hand, Failure> {
        let mut hand = match self.hand.as_deref() {
            None | Some("medium") => Hand::default(),
            Some("small") => Hand::sized(HandSize::Small),
            Some("large") => Hand::sized(HandSize::Large),
            Some(other) => {
                let mm: f64 = other.trim_end_matches("mm").trim().parse().map_err(|_| {
                    Failure::Words(format!("--hand is small, medium, large or a span in mm, not '{other}'"))
                })?;
                Hand::measured(mm).map_err(|e| Failure::Words(format!("--hand {mm}: {e}")))?
            }
        };
        hand = hand.with_level(match self.level {
            Some(LevelWord::Beginner) => Level::Beginner,
            Some(LevelWord::Advanced) => Level::Advanced,
            Some(LevelWord::Intermediate) | None => Level::Intermediate,
        });
        hand = hand.with_open_strings(match self.open {
            Some(OpenWord::Welcome) => OpenStrings::Welcome,
            Some(OpenWord::Refused) => OpenStrings::Refused,
            Some(OpenWord::Sparing) | None => OpenStrings::Sparing,
        });
        hand = hand.with_plucking(match self.pluck {
            Some(PluckWord::Alternating) => Plucking::Alternating,
            Some(PluckWord::Raking) => Plucking::Raking,
            Some(PluckWord::Any) | None => Plucking::Any,
        });
        if let Some(fret) = self.switch {
            hand = hand.with_switch_fret(fret);
        }
        if !(0.0..=1.0e6).contains(&self.same) {
            return Err(Failure::Words(format!("--same {} lies outside 0 to 1000000", self.same)));
        }
        Ok(hand)
    }
}

impl Fit {
    /// The wishes.
    pub(crate) fn wishes(&self) -> Result<Vec<Wish>, Failure> {
        self.wish.iter().map(|w| w.parse().map_err(|e| Failure::Words(format!("--wish: {e}")))).collect()
    }
}
