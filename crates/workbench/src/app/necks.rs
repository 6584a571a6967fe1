//! Necks by name: the usual ones, necks written out, and the teacher's own on the shelf.

use riffkin_fretboard::neck::{Neck, NeckError};
use riffkin_score::Warning;
use riffkin_store::necks::KeptNeck;
use riffkin_store::{Moment, Shelf, StoreError};

/// The layout of a kept neck: its line.
const LAYOUT: u32 = 1;

/// Longest name, in characters.
const LONGEST: usize = 40;

/// Why there is no such neck, or why it cannot be kept.
#[derive(Debug, thiserror::Error)]
pub enum NecksError {
    /// It is wrongly written, and there is nothing on the shelf that could be meant.
    #[error(transparent)]
    Neck(#[from] NeckError),
    /// It is neither a usual name nor one of the teacher's own.
    #[error(
        "there is no neck called '{name}'; known are {}; on your shelf {}; or write one out, such as 'G2 D2 A1 E1, 24 frets'",
        Neck::NAMES.join(", "), own.join(", ")
    )]
    Unknown {
        /// What was asked for.
        name: String,
        /// Names on the shelf.
        own: Vec<String>,
    },
    /// A name that means something else.
    #[error("'{0}' means a neck already and cannot be the name of another; take another name")]
    Taken(String),
    /// A name that no `--neck` could read.
    #[error(
        "'{0}' cannot be a neck's name; take one word or a few, of letters, digits and hyphens, {LONGEST} letters at most"
    )]
    Name(String),
    /// The shelf.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// Single blanks, none at the ends.
fn clean(name: &str) -> String {
    name.split_whitespace().collect::<Vec<_>>().join(" ")
}

/// True for a text that can only be the name of one of the teacher's own necks, maybe with what differs after a comma.
pub fn may_be_own(text: &str) -> bool {
    matches!(Neck::named(apart(text).0), Err(NeckError::Unknown(name)) if !name.is_empty())
}

/// A name, and what differs.
fn apart(text: &str) -> (&str, Option<&str>) {
    text.split_once([',', ';']).map_or((text, None), |(name, rest)| (name, Some(rest)))
}

/// The neck of a usual name or written out, else one of the teacher's `own`, maybe with what differs: `shed, capo 2`.
///
/// # Errors
/// [`NecksError::Neck`], or [`NecksError::Unknown`] with the names that there are.
pub fn named(text: &str, own: &[Neck]) -> Result<Neck, NecksError> {
    let off = match Neck::named(text) {
        Ok(neck) => return Ok(neck),
        Err(off) => off,
    };
    let (name, differs) = apart(text);
    let name = clean(name).to_lowercase();
    match (own.iter().find(|n| n.name().to_lowercase() == name), differs) {
        (Some(neck), None) => Ok(neck.clone()),
        (Some(neck), Some(differs)) => Ok(Neck::named(&format!("{neck},{differs}"))?),
        (None, None) if !own.is_empty() && may_be_own(text) => {
            let own = own.iter().map(|n| n.name().to_owned()).collect();
            Err(NecksError::Unknown { name: clean(text), own })
        }
        (None, _) => Err(off.into()),
    }
}

/// The teacher's own necks, by name, and what is wrong with those that cannot be read.
///
/// # Errors
/// [`StoreError`].
pub fn own(shelf: &Shelf) -> Result<(Vec<Neck>, Vec<Warning>), StoreError> {
    let (mut necks, mut off) = (Vec::new(), Vec::new());
    for kept in shelf.necks()? {
        match Neck::named(&kept.body) {
            Ok(neck) if kept.version == LAYOUT => necks.push(neck.called(&kept.name)),
            Ok(_) => {
                off.push(Warning::whole(format!(
                    "a newer program keeps the neck '{}'; it is passed over",
                    kept.name
                )));
            }
            Err(e) => off.push(Warning::whole(format!("the neck '{}' of your shelf: {e}", kept.name))),
        }
    }
    Ok((necks, off))
}

/// Keeps a neck under a name, and gives back the one that had the name before.
///
/// # Errors
/// [`NecksError::Taken`], [`NecksError::Name`], [`NecksError::Store`].
pub fn keep(
    shelf: &mut Shelf,
    name: &str,
    neck: &Neck,
    at: Moment,
) -> Result<(Neck, Option<KeptNeck>), NecksError> {
    let name = check(name)?;
    let before = shelf.neck(&name)?;
    let kept = KeptNeck { name: name.clone(), version: LAYOUT, body: neck.to_string(), changed: at };
    shelf.keep_neck(&kept)?;
    Ok((neck.clone().called(&name), before))
}

/// A name as it is kept.
///
/// # Errors
/// [`NecksError::Taken`], [`NecksError::Name`].
pub fn check(name: &str) -> Result<String, NecksError> {
    let name = clean(name);
    match Neck::named(&name) {
        Ok(_) => Err(NecksError::Taken(name)),
        Err(NeckError::Unknown(_)) if !name.is_empty() && name.chars().count() <= LONGEST => Ok(name),
        Err(_) => Err(NecksError::Name(name.chars().take(2 * LONGEST).collect())),
    }
}

/// Forgets a neck; says whether there was one.
///
/// # Errors
/// [`StoreError`].
pub fn forget(shelf: &mut Shelf, name: &str) -> Result<bool, StoreError> {
    shelf.forget_neck(&clean(name))
}

#[cfg(test)]
#[allow(clippy::unwrap_used, reason = "a test stops where it fails")]
mod tests {
    use super::*;

    #[test]
    fn usual_names_come_first_then_the_own_ones() {
        let shed = Neck::named("C2 G1 D1 A0, 35 inch").unwrap().called("Old Shed");
        let own = [shed.clone()];
        assert_eq!(named("four", &own).unwrap(), Neck::named("four").unwrap());
        assert_eq!(named(" old  shed", &own).unwrap(), shed);
        assert_eq!(named("old shed, capo 2", &own).unwrap().to_string(), format!("{shed}, capo 2"));
        let said = named("loft", &own).unwrap_err().to_string();
        assert!(said.contains("known are four, five") && said.contains("on your shelf Old Shed"), "{said}");
        assert_eq!(named("loft", &[]).unwrap_err().to_string(), Neck::named("loft").unwrap_err().to_string());
        let said = named("old shed, 35 inch", &own).unwrap_err().to_string();
        assert!(said.contains("said twice"), "{said}");
        assert!(named("loft, capo 2", &own).unwrap_err().to_string().contains("'loft' is nothing of a neck"));
    }

    #[test]
    fn a_name_is_a_name_and_nothing_else() {
        assert_eq!(check(" Old  Shed ").unwrap(), "Old Shed");
        for taken in ["four", "Five", "E1", "E1 A1"] {
            assert!(matches!(check(taken), Err(NecksError::Taken(_))), "{taken}");
        }
        for off in ["", " ", "a, b", "3rd", "x\u{0}", "E A D G", &"x".repeat(41)] {
            assert!(matches!(check(off), Err(NecksError::Name(_))), "{off}");
        }
    }
}
