//! What a teacher asks of a fit: where notes lie, which fingers, which frets, open strings or none.
//!
//! A wish is honoured or the fit is refused, naming a smallest set of wishes that cannot be had together. It is
//! stronger than what the riff itself has written beside a note (a place or finger that a fit honours where it can):
//! where the two contradict each other the wish holds, and the fit says so. It is stronger, too, than the hand's
//! own attitude to open strings.
//!
//! Each wish is one line of text: where, a colon, what.
//!
//! ```
//! use riffkin_fretboard::wishes::Wish;
//!
//! for line in [
//!     "frets 3 to 7",
//!     "no open strings",
//!     "bars 1 to 2: string 4",
//!     "bar 2, beat 2 1/2: string 3, fret 5, finger 1",
//! ] {
//!     assert_eq!(line.parse::<Wish>()?.to_string(), line);
//! }
//! # Ok::<(), riffkin_fretboard::wishes::NotAWish>(())
//! ```

use std::fmt;
use std::str::FromStr;

use riffkin_score::note::Place;
use riffkin_score::riff::BarBeat;
use riffkin_score::time::Quarters;

/// One wish.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Wish {
    /// Which notes it is about.
    pub over: Over,
    /// What they are to do.
    pub what: What,
}

/// Which notes a wish is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Over {
    /// All of them.
    Riff,
    /// Those of some bars, both ends included, numbered as people do ([`riffkin_score::riff::Riff::bar_number`]).
    Bars {
        /// The first bar.
        from: u32,
        /// The last bar.
        to: u32,
    },
    /// The note that starts there.
    Note(BarBeat),
}

/// What notes are to do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum What {
    /// Lie on this string, 1 the highest.
    String(u8),
    /// Lie at this place, with this finger if one is named (0 open, 1 to 4). Of a dead note only the string counts.
    Place(Place, Option<u8>),
    /// Be held by this finger, 1 to 4, or by none (0: an open string). Dead notes, which none holds, are left alone.
    Finger(u8),
    /// Be reached with the whole hand, index to little finger, between these frets, both included. Open strings,
    /// harmonics' nodes apart, and dead notes bind no hand and are left alone.
    Frets {
        /// The lowest fret, 1 or more.
        from: u8,
        /// The highest fret.
        to: u8,
    },
    /// Be reached with the index finger over this fret. Open strings and dead notes are left alone.
    Position(u8),
    /// Not be open strings.
    NoOpenStrings,
    /// Be open strings wherever their pitch is one.
    OpenStrings,
}

impl Over {
    /// True when a note that starts here is meant.
    pub fn holds(self, at: BarBeat) -> bool {
        match self {
            Self::Riff => true,
            Self::Bars { from, to } => (from..=to).contains(&at.bar),
            Self::Note(note) => note == at,
        }
    }
}

/// Why a line is no wish.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "'{line}' is no wish: {problem}; write such as 'frets 3 to 7', 'bars 1 to 2: string 4', 'bar 2, beat 3: string 3, fret 5', 'no open strings'"
)]
pub struct NotAWish {
    /// The line.
    pub line: String,
    /// What is wrong with it.
    pub problem: String,
}

impl fmt::Display for Wish {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.over {
            Over::Riff => {}
            Over::Bars { from, to } if from == to => write!(f, "bar {from}: ")?,
            Over::Bars { from, to } => write!(f, "bars {from} to {to}: ")?,
            Over::Note(at) => write!(f, "{at}: ")?,
        }
        self.what.fmt(f)
    }
}

impl fmt::Display for What {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::String(string) => write!(f, "string {string}"),
            Self::Place(Place { string, fret }, None) => write!(f, "string {string}, fret {fret}"),
            Self::Place(Place { string, fret }, Some(finger)) => {
                write!(f, "string {string}, fret {fret}, finger {finger}")
            }
            Self::Finger(finger) => write!(f, "finger {finger}"),
            Self::Frets { from, to } => write!(f, "frets {from} to {to}"),
            Self::Position(fret) => write!(f, "position {fret}"),
            Self::NoOpenStrings => f.write_str("no open strings"),
            Self::OpenStrings => f.write_str("open strings"),
        }
    }
}

impl FromStr for Wish {
    type Err = NotAWish;

    fn from_str(line: &str) -> Result<Self, NotAWish> {
        let refuse = |problem: String| NotAWish { line: line.trim().to_owned(), problem };
        let (over, what) = match line.split_once(':') {
            Some((over, what)) => (read_over(over).map_err(refuse)?, what),
            None => (Over::Riff, line),
        };
        Ok(Self { over, what: read_what(what).map_err(refuse)? })
    }
}

/// The words of a wish; `3-7` is `3 to 7`.
fn words(text: &str) -> Vec<String> {
    let mut out = Vec::new();
    for word in text.replace(',', " ").split_whitespace() {
        let number = |part: &str| !part.is_empty() && part.bytes().all(|b| b.is_ascii_digit());
        match word.split_once(['-', '\u{2013}']) {
            Some((from, to)) if number(from) && number(to) => {
                out.extend([from, "to", to].map(str::to_owned));
            }
            _ => out.push(word.to_lowercase()),
        }
    }
    out
}

fn number<T: FromStr>(word: &str, of: &str) -> Result<T, String> {
    word.parse().map_err(|_| format!("the {of} '{word}' is no number in range"))
}

fn read_over(text: &str) -> Result<Over, String> {
    let words = words(text);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    match words.as_slice() {
        ["bar", bar] => {
            let bar = number(bar, "bar")?;
            Ok(Over::Bars { from: bar, to: bar })
        }
        ["bars", from, "to", to] => {
            let (from, to) = (number(from, "bar")?, number(to, "bar")?);
            if from > to {
                return Err(format!("bars {from} to {to} run backwards"));
            }
            Ok(Over::Bars { from, to })
        }
        ["bar", bar, "beat", beat @ ..] => {
            let bar = number(bar, "bar")?;
            let beat = match beat {
                [beat] => number::<Quarters>(beat, "beat")?,
                [whole, part] => {
                    let whole = Quarters::whole_quarters(i64::from(number::<u16>(whole, "beat")?));
                    whole + number::<Quarters>(part, "part of a beat")?
                }
                _ => return Err("a beat is a number such as 2, 5/2 or 2 1/2".to_owned()),
            };
            if !(Quarters::QUARTER..Quarters::whole_quarters(10_000)).contains(&beat) {
                return Err("beats are counted from 1".to_owned());
            }
            Ok(Over::Note(BarBeat { bar, beat }))
        }
        _ => Err(format!("'{}' names neither bars nor a note", text.trim())),
    }
}

fn read_what(text: &str) -> Result<What, String> {
    let words = words(text);
    let words: Vec<&str> = words.iter().map(String::as_str).collect();
    let string = |word: &str| match number::<u8>(word, "string")? {
        string @ 1..=12 => Ok(string),
        string => Err(format!("strings are counted from 1, the highest, to 12; there is no string {string}")),
    };
    let finger = |word: &str| match number::<u8>(word, "finger")? {
        finger @ 0..=4 => Ok(finger),
        finger => Err(format!("fingers are 0 (open string) to 4; there is no finger {finger}")),
    };
    match words.as_slice() {
        ["string", s] => Ok(What::String(string(s)?)),
        ["string", s, "fret", fret] => {
            Ok(What::Place(Place { string: string(s)?, fret: number(fret, "fret")? }, None))
        }
        ["string", s, "fret", fret, "finger", f] => {
            Ok(What::Place(Place { string: string(s)?, fret: number(fret, "fret")? }, Some(finger(f)?)))
        }
        ["finger", f] => Ok(What::Finger(finger(f)?)),
        ["fret", fret] => {
            let fret = number(fret, "fret")?;
            Ok(What::Frets { from: fret, to: fret })
        }
        ["frets", from, "to", to] => {
            let (from, to) = (number(from, "fret")?, number(to, "fret")?);
            if from > to {
                return Err(format!("frets {from} to {to} run backwards"));
            }
            Ok(What::Frets { from, to })
        }
        ["position", fret] => Ok(What::Position(number(fret, "fret")?)),
        ["no", "open", "strings"] => Ok(What::NoOpenStrings),
        ["open", "strings"] => Ok(What::OpenStrings),
        _ => Err(format!("'{}' says nothing that a note could do", text.trim())),
    }
}

/// A note that cannot be had as wished.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Conflict {
    /// Where the note stands.
    pub at: BarBeat,
    /// What sounds there.
    pub pitch: riffkin_score::pitch::Pitch,
    /// Wishes that cannot be had together for it; without any one of them the others could.
    pub wishes: Vec<Wish>,
}

impl fmt::Display for Conflict {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let quoted: Vec<String> = self.wishes.iter().map(|w| format!("'{w}'")).collect();
        match quoted.as_slice() {
            [one] => write!(f, "{} at {} cannot be played as wished: {one}", self.pitch, self.at),
            _ => write!(
                f,
                "{} at {} cannot be played with these wishes together: {}",
                self.pitch,
                self.at,
                quoted.join(" and ")
            ),
        }
    }
}
