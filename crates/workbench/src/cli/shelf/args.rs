//! The words of `shelf`.

use std::path::PathBuf;

use clap::{Args, Subcommand};

use crate::cli::args::Reading;
use crate::cli::hand::HandWords;

/// `shelf`.
#[derive(Args, Debug)]
#[command(
    after_help = "NUMBERS are those of the list: 7, or 3,5,8-12. The shelf is one file on this computer; \
    nothing on it leaves it. See docs/shelf.md."
)]
pub struct Shelf {
    /// Where the shelf lies; else RIFFKIN_SHELF, else the folder for your data
    #[arg(long, global = true, value_name = "FILE", display_order = 800)]
    pub shelf: Option<PathBuf>,
    /// Print JSON
    #[arg(long, global = true, display_order = 801)]
    pub json: bool,
    /// What to do with it
    #[command(subcommand)]
    pub task: Task,
}

/// What can be done with the shelf.
#[derive(Debug, Subcommand)]
pub enum Task {
    /// Put files on the shelf, or all files of folders; what it has already, in whatever key or octave, is left out
    Add(Add),
    /// List the riffs
    List(List),
    /// Find riffs by words, or beginnings of words, in title, tags, source or note
    Find(Find),
    /// Show everything about one riff, and its notes
    Show(Show),
    /// Put tags on riffs, or take them off
    Tag(Tag),
    /// List the tags
    Tags,
    /// Give a riff another title
    Title(OneText),
    /// Write a note of your own to a riff; "" takes it away
    Note(OneText),
    /// Say where riffs come from; "" takes it away
    Source(Text),
    /// Say what may be done with riffs: own work, public domain, with permission, for class only, unknown
    Permission(Text),
    /// Put the notes of a file in the place of a riff's; its history keeps the old ones
    Edit(Edit),
    /// List what was done to a riff
    History(One),
    /// Go back to what a riff was before it was last changed; once more goes back further
    Undo(Undo),
    /// Take riffs off the shelf; restore puts them back
    Remove(Many),
    /// Put removed riffs back on the shelf
    Restore(Many),
    /// Take removed riffs away for good, with their history
    Purge(Purge),
    /// Keep a neck of your own under a name that every --neck knows, tell it, or list those that are kept
    Neck(Neck),
    /// Keep the hand that you usually fit for, or tell it
    Hand(Hand),
    /// Tell the taste that riffkin fit --learn has kept, or forget it
    Taste(Taste),
    /// Write everything as plain files into a new folder; 'shelf add' reads it again
    Export(Export),
    /// Check that the file is sound and every riff can be read
    Check(Check),
    /// Copy the whole shelf into one new file
    Backup(Backup),
    /// Say where the shelf lies
    Where,
}

/// `shelf add`.
#[derive(Args, Debug)]
pub struct Add {
    /// Files, folders, or a folder that a shelf was exported to
    #[arg(required = true)]
    pub paths: Vec<PathBuf>,
    /// Add also what the shelf has already
    #[arg(long)]
    pub alike_too: bool,
    /// A tag for what is added; may be given again
    #[arg(long = "tag", value_name = "TAG")]
    pub tags: Vec<String>,
    /// Where it comes from, where the file does not say
    #[arg(long)]
    pub source: Option<String>,
    /// What may be done with it: own work, public domain, with permission, for class only, unknown
    #[arg(long)]
    pub permission: Option<String>,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}

/// Which riffs.
#[derive(Args, Debug, Default)]
pub struct Which {
    /// Only those with this tag; may be given again
    #[arg(long = "tag", value_name = "TAG")]
    pub tags: Vec<String>,
    /// Only those in this key, such as "G minor", or on this tonic, such as G
    #[arg(long)]
    pub key: Option<String>,
    /// Only those made of these degrees and no others, such as "1 b3 4 5 b7"
    #[arg(long, value_name = "DEGREES")]
    pub within: Option<String>,
    /// Only those that have all of these degrees
    #[arg(long, value_name = "DEGREES")]
    pub having: Option<String>,
    /// Only those with this permission
    #[arg(long)]
    pub permission: Option<String>,
    /// The removed ones instead
    #[arg(long)]
    pub removed: bool,
    /// Most riffs to show
    #[arg(long, value_name = "COUNT")]
    pub most: Option<u64>,
}

/// `shelf list`.
#[derive(Args, Debug)]
pub struct List {
    /// Which riffs
    #[command(flatten)]
    pub which: Which,
    /// In which order
    #[arg(long, default_value = "number")]
    pub by: By,
}

/// Orders of a list.
#[derive(Clone, Copy, Debug, PartialEq, Eq, clap::ValueEnum)]
pub enum By {
    Number,
    Title,
    Changed,
}

/// `shelf find`.
#[derive(Args, Debug)]
pub struct Find {
    /// The words; a riff must have all of them
    #[arg(required = true)]
    pub words: Vec<String>,
    /// Which riffs
    #[command(flatten)]
    pub which: Which,
}

/// `shelf show`.
#[derive(Args, Debug)]
pub struct Show {
    /// The number of the riff
    pub number: i64,
    /// As it was in this edition
    #[arg(long)]
    pub edition: Option<u32>,
    /// Write the riff instead: .riff, .musicxml, .mxl, .mid, .svg, .wav
    #[arg(short, long)]
    pub out: Option<PathBuf>,
}

/// `shelf tag`.
#[derive(Args, Debug)]
pub struct Tag {
    /// The riffs
    pub numbers: String,
    /// The tags
    #[arg(required = true)]
    pub tags: Vec<String>,
    /// Take them off
    #[arg(long)]
    pub off: bool,
}

/// A text for one riff.
#[derive(Args, Debug)]
pub struct OneText {
    /// The number of the riff
    pub number: i64,
    /// The text
    pub text: String,
}

/// A text for riffs.
#[derive(Args, Debug)]
pub struct Text {
    /// The riffs
    pub numbers: String,
    /// The text
    pub text: String,
}

/// `shelf edit`.
#[derive(Args, Debug)]
pub struct Edit {
    /// The number of the riff
    pub number: i64,
    /// The file with the new notes
    pub file: PathBuf,
    /// How to read it
    #[command(flatten)]
    pub reading: Reading,
}

/// One riff.
#[derive(Args, Debug)]
pub struct One {
    /// The number of the riff
    pub number: i64,
}

/// Several riffs.
#[derive(Args, Debug)]
pub struct Many {
    /// The riffs
    pub numbers: String,
}

/// `shelf undo`.
#[derive(Args, Debug)]
pub struct Undo {
    /// The number of the riff
    pub number: i64,
    /// Go back to this edition
    #[arg(long, value_name = "EDITION")]
    pub to: Option<u32>,
}

/// `shelf purge`.
#[derive(Args, Debug)]
pub struct Purge {
    /// The riffs
    #[arg(required_unless_present = "all_removed", conflicts_with = "all_removed")]
    pub numbers: Option<String>,
    /// All that were removed
    #[arg(long)]
    pub all_removed: bool,
    /// Yes, for good
    #[arg(long)]
    pub yes: bool,
}

/// `shelf export`.
#[derive(Args, Debug)]
pub struct Export {
    /// The new folder
    pub folder: PathBuf,
}

/// `shelf check`.
#[derive(Args, Debug)]
pub struct Check {
    /// Find out anew what is out of date
    #[arg(long)]
    pub renew: bool,
}

/// `shelf backup`.
#[derive(Args, Debug)]
pub struct Backup {
    /// The new file
    pub file: PathBuf,
}

/// `shelf neck`.
#[derive(Args, Debug)]
pub struct Neck {
    /// The name
    pub name: Option<String>,
    /// The neck to keep under it, such as "five, 24 frets, 35 inch" (see riffkin neck)
    pub neck: Option<String>,
    /// Forget the neck of that name
    #[arg(long, requires = "name", conflicts_with = "neck")]
    pub forget: bool,
}

/// `shelf hand`.
#[derive(Args, Debug)]
pub struct Hand {
    /// What is to be kept; what is not said stays as it is
    #[command(flatten)]
    pub hand: HandWords,
    /// Forget all of it
    #[arg(long, conflicts_with_all = ["hand", "level", "switch", "open", "pluck"])]
    pub forget: bool,
}

/// `shelf taste`.
#[derive(Args, Debug)]
pub struct Taste {
    /// Back to the usual taste
    #[arg(long)]
    pub forget: bool,
}
