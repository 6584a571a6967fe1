//! The hand that is to play: what the command says, else what the shelf keeps, which is then said.

use clap::{Args, ValueEnum};
use riffkin_fretboard::hand::{Hand, Level, OpenStrings, Plucking, Weights};
use riffkin_store::Access;

use super::{Failure, notice, shelf};
use crate::app::hand::{self, Habits, KeptError, Size};
use crate::app::shelf::{place, when};

/// The words for a hand.
#[derive(Args, Debug, Default)]
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
    /// What is thought of open strings [usually: sparing]
    #[arg(long)]
    open: Option<OpenWord>,
    /// How the plucking hand goes from string to string [usually: any]
    #[arg(long)]
    pluck: Option<PluckWord>,
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
    /// What they say.
    pub(super) fn habits(&self) -> Result<Habits, Failure> {
        let size = |text: &str| {
            Size::of_words(text).ok_or_else(|| {
                Failure::Words(format!("--hand is small, medium, large or a span in mm, not '{text}'"))
            })
        };
        let habits = Habits {
            size: self.hand.as_deref().map(size).transpose()?,
            level: self.level.map(|word| match word {
                LevelWord::Beginner => Level::Beginner,
                LevelWord::Intermediate => Level::Intermediate,
                LevelWord::Advanced => Level::Advanced,
            }),
            switch: self.switch,
            open: self.open.map(|word| match word {
                OpenWord::Welcome => OpenStrings::Welcome,
                OpenWord::Sparing => OpenStrings::Sparing,
                OpenWord::Refused => OpenStrings::Refused,
            }),
            pluck: self.pluck.map(|word| match word {
                PluckWord::Any => Plucking::Any,
                PluckWord::Alternating => Plucking::Alternating,
                PluckWord::Raking => Plucking::Raking,
            }),
        };
        said(&habits)?;
        Ok(habits)
    }
}

/// The hand that was said, whatever the shelf keeps.
pub(super) fn said(habits: &Habits) -> Result<Hand, Failure> {
    habits.hand().map_err(|e| Failure::Words(format!("--hand: {e}")))
}

/// What the shelf keeps of hand and taste.
type Kept = (Habits, Option<Weights>);

fn look() -> Result<Option<Kept>, Failure> {
    let Some(kept) = shelf::there(None)? else { return Ok(None) };
    let both = || -> Result<Kept, KeptError> { Ok((hand::kept_habits(&kept)?, hand::kept_taste(&kept)?)) };
    Ok(Some(both()?))
}

/// The hand that was said, the rest as the shelf keeps it; with `taste` where one is given, else the shelf's. What comes
/// from the shelf is said; a shelf that cannot be looked at too.
pub(super) fn playing(said: &Habits, taste: Option<Weights>) -> Result<Hand, Failure> {
    let (kept, own) = match look() {
        Ok(kept) => kept.unwrap_or_default(),
        Err(Failure::Could(why) | Failure::Words(why)) => {
            notice(&format!("note: the usual hand and taste are taken: {why}"));
            Kept::default()
        }
    };
    let habits = said.or(&kept);
    if habits != *said {
        let from_shelf = habits.said().into_iter().filter(|s| !said.said().contains(s));
        let words: Vec<String> = from_shelf.map(|(word, value)| format!("{word} {value}")).collect();
        notice(&format!("note: for the hand kept on your shelf: {}", words.join(", ")));
    }
    if taste.is_none() && own.is_some() {
        notice("note: by the taste kept on your shelf; `riffkin shelf taste` tells it");
    }
    Ok(self::said(&habits)?.with_weights(taste.or(own).unwrap_or_default()))
}

/// [`playing`] where nothing is said of hand and taste.
pub(super) fn of_the_shelf() -> Result<Hand, Failure> {
    playing(&Habits::default(), None)
}

/// Keeps a learned taste on the shelf, which is made if there is none; says where.
pub(super) fn keep(taste: &Weights) -> Result<(), Failure> {
    let place = place(None)?;
    hand::keep_taste(&mut shelf::open(&place, Access::Create)?, taste, when::now())?;
    notice(&format!(
        "note: the taste is kept on your shelf, {}; `riffkin shelf taste` tells it or forgets it",
        place.display()
    ));
    Ok(())
}
