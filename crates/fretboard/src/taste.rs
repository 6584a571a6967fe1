//! A teacher's taste: how much each effort weighs, learned from fits that the teacher corrected, in words and as
//! plain text.
//!
//! ```
//! use riffkin_fretboard::hand::{Effort, Weights};
//! use riffkin_fretboard::taste;
//!
//! let taste = taste::read("// shifts bother me\nshift 3.2\n")?;
//! assert_eq!(taste.of(Effort::Shift), 3.2);
//! assert_eq!(taste.of(Effort::Hop), Weights::default().of(Effort::Hop));
//! assert_eq!(taste::read(&taste::write(&taste))?, taste);
//! assert_eq!(taste::in_words(&taste), ["shifts weigh twice as much as usual (3.2 instead of 1.6)"]);
//! # Ok::<(), taste::TasteError>(())
//! ```

mod learn;

use std::fmt::Write as _;

use crate::hand::{Effort, HandError, Weights};

pub use learn::{Agreement, Corrected, Learned, agreement, learn};

/// Why a text is no taste.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum TasteError {
    /// A line without an effort and a number.
    #[error("line {line}: '{text}' is not an effort and its weight; write such as 'shift 1.6'")]
    Line {
        /// Counted from 1.
        line: usize,
        /// What stands there.
        text: String,
    },
    /// An effort that is not known.
    #[error("line {line}: there is no effort '{name}'; known are {}", Effort::ALL.map(Effort::key).join(", "))]
    Unknown {
        /// Counted from 1.
        line: usize,
        /// What stands there.
        name: String,
    },
    /// The same effort again.
    #[error("line {line}: the effort '{name}' has its weight already; take one of the lines out")]
    Twice {
        /// Counted from 1.
        line: usize,
        /// The effort.
        name: String,
    },
    /// A weight out of range.
    #[error("line {line}: {problem}")]
    Weight {
        /// Counted from 1.
        line: usize,
        /// What is wrong with it.
        problem: HandError,
    },
}

/// A taste from lines of `effort weight` ([`Effort::key`]). Efforts that are not named have their usual weight, so
/// that an empty text is the usual taste; blank lines and what follows `//` are passed over.
///
/// # Errors
/// [`TasteError`] with the line.
pub fn read(text: &str) -> Result<Weights, TasteError> {
    let mut taste = Weights::default();
    let mut seen: Vec<Effort> = Vec::new();
    for (i, whole) in text.lines().enumerate() {
        let line = i + 1;
        let said = whole.split("//").next().unwrap_or_default().trim();
        if said.is_empty() {
            continue;
        }
        let off = || TasteError::Line { line, text: said.chars().take(60).collect() };
        let (name, weight) = said.split_once(char::is_whitespace).ok_or_else(off)?;
        let weight: f64 = weight.trim().parse().map_err(|_| off())?;
        let Some(effort) = Effort::ALL.into_iter().find(|e| e.key() == name) else {
            return Err(TasteError::Unknown { line, name: name.chars().take(60).collect() });
        };
        if seen.contains(&effort) {
            return Err(TasteError::Twice { line, name: name.to_owned() });
        }
        seen.push(effort);
        taste = taste.with(effort, weight).map_err(|problem| TasteError::Weight { line, problem })?;
    }
    Ok(taste)
}

/// A taste as [`read`] reads it: every effort with its weight, what differs from the usual explained beside it.
pub fn write(taste: &Weights) -> String {
    let mut text =
        String::from("// What each effort of the hand weighs; an empty file is the usual taste.\n");
    for effort in Effort::ALL {
        let weight = taste.of(effort);
        let _ = write!(text, "{} {weight}", effort.key());
        if weight != effort.usual_weight() {
            let _ = write!(text, " // {}, usually {}", effort.name(), effort.usual_weight());
        }
        text.push('\n');
    }
    text
}

/// Changes smaller than this are not worth a word.
const WORTH_A_WORD: f64 = 1.1;

/// What a taste thinks of each effort, against the usual weights, the strongest opinion first; empty for the usual
/// taste. Weights within a tenth of the usual are left unsaid.
pub fn in_words(taste: &Weights) -> Vec<String> {
    let mut said: Vec<(f64, String)> = Effort::ALL
        .into_iter()
        .filter_map(|effort| {
            let (now, usual) = (taste.of(effort), effort.usual_weight());
            let ratio = now / usual;
            let strength = if ratio > 1.0 { ratio } else { 1.0 / ratio.max(1e-9) };
            if strength < WORTH_A_WORD {
                return None;
            }
            let name = effort.name();
            let numbers = format!("({} instead of {})", short(now), short(usual));
            let words = if now == 0.0 {
                format!("{name} weigh nothing {numbers}")
            } else if ratio > 1.0 {
                format!("{name} weigh {} as usual {numbers}", times(ratio))
            } else {
                format!("{name} weigh {} as usual {numbers}", part(ratio))
            };
            Some((strength, singular(effort, &words)))
        })
        .collect();
    said.sort_by(|a, b| b.0.total_cmp(&a.0));
    said.into_iter().map(|s| s.1).collect()
}

/// Names of one thing, not of several, take another form of the verb.
fn singular(effort: Effort, words: &str) -> String {
    let one = matches!(
        effort,
        Effort::ShiftSpeed
            | Effort::SecondFingerOut
            | Effort::SpreadLow
            | Effort::ThirdFingerLow
            | Effort::LittleFingerIn
            | Effort::Roll
            | Effort::Hop
            | Effort::Height
    );
    if one { words.replacen(" weigh ", " weighs ", 1) } else { words.to_owned() }
}

/// A weight to three digits.
fn short(weight: f64) -> f64 {
    let digits = match weight {
        w if w >= 10.0 => 10.0,
        w if w >= 0.1 => 1e3,
        _ => 1e4,
    };
    (weight * digits).round() / digits
}

fn times(ratio: f64) -> String {
    match ratio {
        r if (1.9..2.1).contains(&r) => "twice as much".to_owned(),
        r => format!("{r:.1} times as much"),
    }
}

fn part(ratio: f64) -> String {
    match ratio {
        r if (0.45..0.55).contains(&r) => "half as much".to_owned(),
        r => format!("only {:.0} % as much", (r * 100.0).max(1.0)),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_off_is_named_with_its_line() {
        let off = |text: &str| read(text).unwrap_err().to_string();
        assert!(off("shift\n").starts_with("line 1: 'shift' is not an effort and its weight"));
        assert!(off("\n\nshift many").starts_with("line 3: 'shift many'"));
        assert!(off("stroll 2").contains("there is no effort 'stroll'; known are shift, shift-speed"));
        assert!(off("hop 1\nhop 2").starts_with("line 2: the effort 'hop' has its weight already"));
        assert!(off("hop -1").starts_with("line 1: the weight of one finger jumping must lie between"));
        assert!(off("hop NaN").starts_with("line 1: the weight"));
        assert_eq!(read("").unwrap(), Weights::default());
    }

    #[test]
    fn opinions_come_strongest_first() {
        let taste = read("hop 0\nheight 0.8\nshift 1.5\nstretch 0.15\n").unwrap();
        let words = in_words(&taste);
        assert_eq!(words.len(), 3, "{words:?}");
        assert_eq!(words[0], "one finger jumping weighs nothing (0 instead of 1.5)");
        assert_eq!(words[1], "height on the neck weighs 2.3 times as much as usual (0.8 instead of 0.35)");
        assert_eq!(words[2], "stretches weigh half as much as usual (0.15 instead of 0.3)");
    }
}
