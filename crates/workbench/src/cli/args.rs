//! The words of the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand, ValueEnum};

/// Riffs in, lessons out: a bass guitar teacher's workbench.
///
/// Files are recognised by what is in them: riff notation, MusicXML (also .mxl), MIDI, typed tablature,
/// or a recording (wav, flac, mp3, ogg, m4a). Results go to standard output or to -o FILE, whose ending
/// chooses the format; notices go to standard error.
#[derive(Debug, Parser)]
#[command(name = "riffkin", version, max_term_width = 100)]
pub struct Words {
    /// What to do.
    #[command(subcommand)]
    pub command: Command,
}

/// The commands.
#[derive(Debug, Subcommand)]
pub enum Command {
    /// Build the lesson of the invented Skarvik class, as an example of everything
    Demo(Demo),
    /// Turn a recording into notes: a bass alone, or with --mix one among other instruments
    Hear(Hear),
    /// Name key, mode, degrees and intervals of a riff
    Explain(super::explain::args::Explain),
    /// Move a riff to another key
    Transpose(Transpose),
    /// Lay a riff on a neck: string, fret and finger for every note
    Fit(super::fit::words::Fit),
    /// Show a neck and what lies where on it: scales, chords, roots, intervals
    Neck(super::neck::args::Neck),
    /// Order a folder of riffs so that each adds as little new as possible
    Ladder(Ladder),
    /// Find in a folder or on the shelf what a riff shares with others: degrees, hand shape, intervals, rhythm
    Kin(Kin),
    /// Make practice audio of a riff, with a count-in
    Sound(Sound),
    /// Build a whole lesson from a folder of riffs: sheet, answers, page, sound, scores
    Lesson(Lesson),
    /// Write a riff in another format, chosen by the ending of -o
    Copy(Copy),
    /// Keep the whole collection: add, list, find, tag, edit with history, export
    Shelf(super::shelf::args::Shelf),
}

/// How to read what a file leaves open.
#[derive(Args, Debug, Default)]
pub struct Reading {
    /// Meter, for files that do not say (typed tablature, recordings) [such as 6/8]
    #[arg(long)]
    pub meter: Option<String>,
    /// Quarter notes a minute, for files that do not say
    #[arg(long, allow_negative_numbers = true)]
    pub tempo: Option<f64>,
    /// Which MIDI track holds the bass, counted from 1
    #[arg(long)]
    pub track: Option<usize>,
}

/// `demo`.
#[derive(Args, Debug)]
pub struct Demo {
    /// Folder to build in
    #[arg(short, long, default_value = "out/skarvik")]
    pub out: PathBuf,
}

/// `hear`.
#[derive(Args, Debug)]
#[command(after_help = "An instant is written in seconds (12.5) or minutes and seconds (1:02.5).\n\
    Check by eye with -o picture.svg, by ear at the places that --review names; see docs/hearing.md.")]
pub struct Hear {
    /// The recording
    pub audio: PathBuf,
    /// Other instruments play beside the bass
    #[arg(long)]
    pub mix: bool,
    /// Hear from this instant on
    #[arg(long, value_name = "TIME")]
    pub from: Option<String>,
    /// Hear up to this instant
    #[arg(long, value_name = "TIME")]
    pub to: Option<String>,
    /// What A4 is tuned to, 400 to 480; estimated when not given
    #[arg(long, value_name = "HZ", allow_negative_numbers = true)]
    pub reference: Option<f64>,
    /// The meter, such as 6/8; found when not given
    #[arg(long)]
    pub meter: Option<String>,
    /// Counted beats a minute, 3 % off at most; found when not given
    #[arg(long, value_name = "BEATS", allow_negative_numbers = true)]
    pub tempo: Option<f64>,
    /// The key that the riff is written in, such as "G minor"
    #[arg(long)]
    pub key: Option<String>,
    /// The instant of the first beat of bar 1; notes before it are a pickup
    #[arg(long, value_name = "TIME", conflicts_with_all = ["count_in", "pickup"])]
    pub first_beat: Option<String>,
    /// Beats that are clicked before bar 1, 1 to 32
    #[arg(long, value_name = "BEATS", requires = "first_click", conflicts_with = "pickup")]
    pub count_in: Option<u8>,
    /// The instant of the first click of the count-in
    #[arg(long, value_name = "TIME", requires = "count_in")]
    pub first_click: Option<String>,
    /// Quarters from the first note to the first bar line, such as 1 or 3/2; 0 when there is no pickup
    #[arg(long, value_name = "QUARTERS")]
    pub pickup: Option<String>,
    /// straight, or such as "swing 2:1 eighths"; found when not given
    #[arg(long)]
    pub feel: Option<String>,
    /// Print onset_s,offset_s,midi,confidence instead of a riff
    #[arg(long, conflicts_with_all = ["json", "review"])]
    pub csv: bool,
    /// Print JSON
    #[arg(long, conflicts_with = "review")]
    pub json: bool,
    /// List the notes, the most doubtful first: why, and what else it might be
    #[arg(long)]
    pub review: bool,
    /// Where to write it: .riff, .musicxml, .mxl or .mid, the notes as .csv or .json, the list as .txt, a picture of the sound
    /// with the notes as .svg
    #[arg(short, long)]
    pub out: Option<PathBuf>,
}

/// `transpose`.
#[derive(Args, Debug)]
pub struct Transpose {
    /// The riff
    pub file: PathBuf,
    /// The new tonic, such as A or Bb
    #[arg(long)]
    pub to: String,
    /// Go up or down even where the other way is nearer
    #[arg(long)]
    pub way: Option<Way>,
    /// The neck to stay on; without it the riff's own
    #[arg(long)]
    pub neck: Option<String>,
    /// Where to write it; riff notation on standard output otherwise
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}

/// Which way to transpose.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Way {
    Up,
    Down,
}

/// `ladder`.
#[derive(Args, Debug)]
pub struct Ladder {
    /// Folder of riffs
    pub folder: PathBuf,
    /// Degrees the class knows already, such as "1 5"
    #[arg(long, default_value = "")]
    pub known: String,
    /// Where to write it: .txt or .json
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// `kin`.
#[derive(Args, Debug)]
#[command(
    after_help = "Without --of, --degrees, --notes or --hand it shows the families: which riffs are made of the\n\
    same degrees, and which sets lie within others. -o family.svg draws them."
)]
pub struct Kin {
    /// Folder of riffs; without it those on the shelf
    pub folder: Option<PathBuf>,
    /// Where the shelf lies; else RIFFKIN_SHELF, else the folder for your data
    #[arg(long, value_name = "FILE", conflicts_with = "folder")]
    pub shelf: Option<PathBuf>,
    /// The riff whose kin are asked for, a file or shelf:12; of a recording, any part of the others may be like it
    #[arg(long, value_name = "FILE", group = "what")]
    pub of: Option<PathBuf>,
    /// Degrees one after another, such as "1 b3 4"
    #[arg(long, value_name = "DEGREES", group = "what")]
    pub degrees: Option<String>,
    /// Notes one after another, such as "G Bb C", in any key
    #[arg(long, value_name = "NOTES", group = "what")]
    pub notes: Option<String>,
    /// A movement of the hand: strings and frets from the first note, such as "0:0 0:3 1:0"
    #[arg(long, value_name = "STEPS", group = "what")]
    pub hand: Option<String>,
    /// Degrees or notes in whatever order
    #[arg(long, conflicts_with_all = ["of", "hand"])]
    pub any_order: bool,
    /// The measure that puts the kin in order
    #[arg(long, default_value = "degrees", requires = "of")]
    pub by: By,
    /// FILE is a snippet: it may lie anywhere in a riff, at another pace
    #[arg(long, requires = "of")]
    pub snippet: bool,
    /// The tonic of FILE, such as G
    #[arg(long, requires = "of")]
    pub tonic: Option<String>,
    /// The neck on which hand shapes are compared
    #[arg(long, default_value = "four")]
    pub neck: String,
    /// Most kin to show
    #[arg(long, default_value_t = 12, value_name = "COUNT")]
    pub most: usize,
    /// Draw the picture for a narrow screen
    #[arg(long, conflicts_with = "what")]
    pub narrow: bool,
    /// Where to write it: .txt or .json, or a picture of the families as .svg
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}

/// The measures of kin.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum By {
    Degrees,
    Hand,
    Intervals,
    Rhythm,
}

/// `sound`.
#[derive(Args, Debug)]
pub struct Sound {
    /// The riff
    pub file: PathBuf,
    /// Where to write the WAV
    #[arg(short, long)]
    pub out: PathBuf,
    /// Percent of the riff's own tempo, 40 to 110
    #[arg(long, default_value_t = 100.0)]
    pub percent: f64,
    /// Bars of count-in, 0 to 4
    #[arg(long, default_value_t = 1)]
    pub count_in: u8,
    /// Print JSON about what was written
    #[arg(long)]
    pub json: bool,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}

/// `lesson`.
#[derive(Args, Debug)]
pub struct Lesson {
    /// Folder of riffs
    pub folder: PathBuf,
    /// Folder for the lesson
    #[arg(short, long)]
    pub out: PathBuf,
    /// The key for all riffs; without it the one most of them are in
    #[arg(long)]
    pub key: Option<String>,
    /// The neck of the class
    #[arg(long, default_value = "four")]
    pub neck: String,
    /// Degrees the class knows already, such as "1 5"
    #[arg(long, default_value = "")]
    pub known: String,
    /// Title of the lesson; without it the folder's name
    #[arg(long)]
    pub title: Option<String>,
    /// Paper of the sheet
    #[arg(long, default_value = "a4")]
    pub paper: Paper,
    /// Print JSON about what was built
    #[arg(long)]
    pub json: bool,
}

/// Paper sizes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub enum Paper {
    A4,
    Letter,
}

/// `copy`.
#[derive(Args, Debug)]
pub struct Copy {
    /// The riff
    pub file: PathBuf,
    /// Where to write it: .riff, .musicxml, .mxl, .mid, .svg, .wav
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Lay it on this neck, so that tablature can be written
    #[arg(long)]
    pub neck: Option<String>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}
