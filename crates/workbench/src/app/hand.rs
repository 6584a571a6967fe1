//! The hand that plays: what was said of it, and what the shelf keeps: the usual hand of the class, and the teacher's taste.

use riffkin_fretboard::hand::{Hand, HandError, HandSize, Level, OpenStrings, Plucking, Weights};
use riffkin_fretboard::taste::{self, TasteError};
use riffkin_store::settings::Setting;
use riffkin_store::{Moment, Shelf, StoreError};

/// The layout of both settings: text.
const LAYOUT: u32 = 1;
/// Names of the settings.
const HAND: &str = "hand";
const TASTE: &str = "taste";

/// Why a kept hand or taste cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum KeptError {
    /// The shelf.
    #[error(transparent)]
    Store(#[from] StoreError),
    /// The hand that it keeps is none.
    #[error("the hand on your shelf cannot be read ({0}); keep one anew with `riffkin shelf hand`")]
    Hand(String),
    /// The taste that it keeps is none.
    #[error(
        "the taste on your shelf cannot be read ({0}); `riffkin shelf taste --forget` goes back to the usual one"
    )]
    Taste(TasteError),
    /// A newer program keeps them otherwise.
    #[error("a newer program keeps the {0} on your shelf; use the newer program")]
    Newer(&'static str),
}

/// A size of hand as people say it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Size {
    /// One of three.
    Named(HandSize),
    /// Widest span in mm.
    Measured(f64),
}

/// What was said of a hand; the rest is usual.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Habits {
    /// Its size.
    pub size: Option<Size>,
    /// How far the player has come.
    pub level: Option<Level>,
    /// One finger per fret from this fret on.
    pub switch: Option<u8>,
    /// What is thought of open strings.
    pub open: Option<OpenStrings>,
    /// How it is plucked.
    pub pluck: Option<Plucking>,
}

const SIZES: [(&str, HandSize); 3] =
    [("small", HandSize::Small), ("medium", HandSize::Medium), ("large", HandSize::Large)];
const LEVELS: [(&str, Level); 3] =
    [("beginner", Level::Beginner), ("intermediate", Level::Intermediate), ("advanced", Level::Advanced)];
const OPEN: [(&str, OpenStrings); 3] =
    [("welcome", OpenStrings::Welcome), ("sparing", OpenStrings::Sparing), ("refused", OpenStrings::Refused)];
const PLUCK: [(&str, Plucking); 3] =
    [("any", Plucking::Any), ("alternating", Plucking::Alternating), ("raking", Plucking::Raking)];

fn of_word<T: Copy>(table: &[(&str, T)], word: &str) -> Option<T> {
    table.iter().find(|(w, _)| *w == word).map(|(_, value)| *value)
}

fn word_of<T: PartialEq>(table: &[(&'static str, T)], value: &T) -> &'static str {
    table.iter().find(|(_, v)| v == value).map_or("", |(word, _)| word)
}

impl Size {
    /// From `small`, `medium`, `large` or a span in mm.
    pub fn of_words(text: &str) -> Option<Self> {
        let mm = || text.trim_end_matches("mm").trim().parse().ok().map(Self::Measured);
        of_word(&SIZES, text).map(Self::Named).or_else(mm)
    }
}

impl Habits {
    /// These where something is said, else those.
    #[must_use]
    pub fn or(&self, other: &Self) -> Self {
        Self {
            size: self.size.or(other.size),
            level: self.level.or(other.level),
            switch: self.switch.or(other.switch),
            open: self.open.or(other.open),
            pluck: self.pluck.or(other.pluck),
        }
    }

    /// The hand, with the usual taste.
    ///
    /// # Errors
    /// [`HandError`] for a span that no hand has.
    pub fn hand(&self) -> Result<Hand, HandError> {
        let mut hand = match self.size {
            None => Hand::default(),
            Some(Size::Named(size)) => Hand::sized(size),
            Some(Size::Measured(mm)) => Hand::measured(mm)?,
        };
        hand = hand.with_level(self.level.unwrap_or_default());
        hand = hand.with_open_strings(self.open.unwrap_or_default());
        hand = hand.with_plucking(self.pluck.unwrap_or_default());
        Ok(match self.switch {
            Some(fret) => hand.with_switch_fret(fret),
            None => hand,
        })
    }

    /// What was said, a word and its value each.
    pub fn said(&self) -> Vec<(&'static str, String)> {
        let size = self.size.map(|size| match size {
            Size::Named(size) => word_of(&SIZES, &size).to_owned(),
            Size::Measured(mm) => format!("{mm}"),
        });
        let word = |word: &'static str| word.to_owned();
        [
            ("hand", size),
            ("level", self.level.map(|l| word(word_of(&LEVELS, &l)))),
            ("switch", self.switch.map(|f| f.to_string())),
            ("open", self.open.map(|o| word(word_of(&OPEN, &o)))),
            ("pluck", self.pluck.map(|p| word(word_of(&PLUCK, &p)))),
        ]
        .into_iter()
        .filter_map(|(word, value)| Some((word, value?)))
        .collect()
    }

    /// Reads lines of a word and its value.
    fn read(text: &str) -> Result<Self, String> {
        let mut habits = Self::default();
        for line in text.lines().filter(|l| !l.trim().is_empty()) {
            let off = || line.chars().take(60).collect::<String>();
            let (word, value) = line.split_once(' ').ok_or_else(off)?;
            let known = match word {
                "hand" => Size::of_words(value).map(|size| habits.size = Some(size)),
                "level" => of_word(&LEVELS, value).map(|level| habits.level = Some(level)),
                "switch" => value.parse().ok().map(|fret| habits.switch = Some(fret)),
                "open" => of_word(&OPEN, value).map(|open| habits.open = Some(open)),
                "pluck" => of_word(&PLUCK, value).map(|pluck| habits.pluck = Some(pluck)),
                _ => None,
            };
            known.ok_or_else(off)?;
        }
        habits.hand().map_err(|e| e.to_string())?;
        Ok(habits)
    }
}

/// The text of a setting; `None` when nothing is kept.
fn kept(shelf: &Shelf, name: &'static str) -> Result<Option<String>, KeptError> {
    match shelf.setting(name)? {
        None => Ok(None),
        Some(setting) if setting.version == LAYOUT => {
            Ok(Some(String::from_utf8_lossy(&setting.body).into_owned()))
        }
        Some(_) => Err(KeptError::Newer(name)),
    }
}

fn keep(shelf: &mut Shelf, name: &str, text: String, at: Moment) -> Result<(), StoreError> {
    let setting = Setting { name: name.to_owned(), version: LAYOUT, body: text.into_bytes(), changed: at };
    shelf.keep_setting(&setting)
}

/// The usual hand of the class; nothing said when none is kept.
///
/// # Errors
/// [`KeptError`].
pub fn kept_habits(shelf: &Shelf) -> Result<Habits, KeptError> {
    Habits::read(&kept(shelf, HAND)?.unwrap_or_default()).map_err(KeptError::Hand)
}

/// Keeps it.
///
/// # Errors
/// [`StoreError`].
pub fn keep_habits(shelf: &mut Shelf, habits: &Habits, at: Moment) -> Result<(), StoreError> {
    let text = habits.said().iter().map(|(word, value)| format!("{word} {value}\n")).collect();
    keep(shelf, HAND, text, at)
}

/// Forgets it; says whether there was one.
///
/// # Errors
/// [`StoreError`].
pub fn forget_habits(shelf: &mut Shelf) -> Result<bool, StoreError> {
    shelf.forget_setting(HAND)
}

/// The teacher's taste; `None` when none is kept.
///
/// # Errors
/// [`KeptError`].
pub fn kept_taste(shelf: &Shelf) -> Result<Option<Weights>, KeptError> {
    kept(shelf, TASTE)?.map(|text| taste::read(&text).map_err(KeptError::Taste)).transpose()
}

/// Keeps it.
///
/// # Errors
/// [`StoreError`].
pub fn keep_taste(shelf: &mut Shelf, taste: &Weights, at: Moment) -> Result<(), StoreError> {
    keep(shelf, TASTE, taste::write(taste), at)
}

/// Forgets it; says whether there was one.
///
/// # Errors
/// [`StoreError`].
pub fn forget_taste(shelf: &mut Shelf) -> Result<bool, StoreError> {
    shelf.forget_setting(TASTE)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_said_of_a_hand_comes_back() {
        let text = "hand 121.5\nlevel beginner\nswitch 7\nopen refused\npluck raking\n";
        let habits = Habits::read(text).unwrap_or_default();
        let said: String = habits.said().iter().map(|(word, value)| format!("{word} {value}\n")).collect();
        assert_eq!(said, text);
        let over = Habits { size: Some(Size::Named(HandSize::Small)), ..Habits::default() }.or(&habits);
        assert_eq!(over.said()[0], ("hand", "small".to_owned()));
        assert_eq!(over.said()[1..], habits.said()[1..]);
        assert_eq!(Habits::read(""), Ok(Habits::default()));
        for off in ["hand", "hand tiny", "hand 12", "level far", "switch 256", "shoe 4", "open"] {
            assert!(Habits::read(off).is_err(), "{off}");
        }
    }
}
