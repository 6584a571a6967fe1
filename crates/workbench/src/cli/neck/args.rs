//! The words of `neck`.

use std::path::PathBuf;

use clap::Args;

/// `neck`.
#[derive(Args, Debug)]
#[command(
    after_help = "A neck is a usual name (four, five, six, drop-d, half-down, whole-down, bead, high-c, tenor, \
    short), a name with what differs (\"five, 24 frets, left-handed\"), or written out: \"G2 D2 A1 E1, 24 frets, 35 inch, \
    fretless, capo 2, left-handed\", or one of your own (riffkin shelf neck). Open strings are sounding pitches, E1 the lowest of a four-string bass. Every --neck \
    takes the same. See docs/necks.md."
)]
pub struct Neck {
    /// The neck; without it the names are listed
    pub neck: Option<String>,
    /// A scale or mode, such as "G Dorian" or "A minor pentatonic"
    #[arg(long, value_name = "KEY", group = "map")]
    pub scale: Option<String>,
    /// A chord, such as Gm7
    #[arg(long, group = "map")]
    pub chord: Option<String>,
    /// The roots of a progression in --key, such as "1 4 6 5" or "i bVII"
    #[arg(long, group = "map", requires = "key")]
    pub numerals: Option<String>,
    /// These degrees in --key, such as "1 b3 4 5 b7"
    #[arg(long, group = "map", requires = "key")]
    pub degrees: Option<String>,
    /// Every interval from this note, such as A1
    #[arg(long, value_name = "NOTE", group = "map", allow_negative_numbers = true)]
    pub from: Option<String>,
    /// The tonic for --numerals and --degrees
    #[arg(long, requires = "map")]
    pub key: Option<String>,
    /// Only these frets, such as 3-7; 0 is the open strings
    #[arg(long, conflicts_with = "position")]
    pub frets: Option<String>,
    /// Only what lies under one hand: four frets from this one
    #[arg(long, value_name = "FRET")]
    pub position: Option<u8>,
    /// Only these strings, such as 4-3 or "4 2"; 1 is the highest
    #[arg(long, requires = "map")]
    pub strings: Option<String>,
    /// The scale upwards with so many notes to a string: 3 of a mode, 2 of a pentatonic
    #[arg(long, value_name = "NOTES", requires = "scale")]
    pub per_string: Option<u8>,
    /// Write note names in the picture instead of degrees
    #[arg(long)]
    pub names: bool,
    /// Draw the neck standing, for a narrow screen or column
    #[arg(long)]
    pub upright: bool,
    /// Where to write it: a picture as .svg, the words as .txt or .json
    #[arg(short, long)]
    pub out: Option<PathBuf>,
    /// Print JSON
    #[arg(long)]
    pub json: bool,
}
