//! What is found out about a riff, so that it can be listed and found again.

use riffkin_fretboard::neck::Neck;
use riffkin_kin::imprint::Imprint;
use riffkin_score::analysis::explain::{How, explain};
use riffkin_score::riff::Riff;
use riffkin_store::prints::Prints;
use riffkin_store::riff::Facts;

/// By which rules [`Known::of`] goes; rises when the same riff would give something else, so that what is kept is found
/// out anew.
pub const RULES: u32 = 2;

/// The neck on which hand shapes of kept riffs are compared, whatever neck a riff was written for.
pub const NECK: &str = "four";

/// Facts and fingerprints of one riff.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Known {
    /// For lists.
    pub facts: Facts,
    /// For finding what is alike, and kin.
    pub prints: Prints,
}

impl Known {
    /// Finds them out.
    pub fn of(riff: &Riff) -> Self {
        let found = explain(riff, None);
        let guessed = found.tonic.is_some_and(|(_, how)| how != How::Written);
        let key = match (riff.header().key, found.key()) {
            (Some(key), _) => key.to_string(),
            (None, Some(key)) if guessed => format!("~{key}"),
            _ => String::new(),
        };
        // A riff that is too long for a fingerprint is kept without one.
        let imprint = Neck::named(NECK).ok().and_then(|neck| Imprint::explained(riff, None, &neck).ok());
        let likeness = imprint.as_ref().and_then(Imprint::likeness).map(Vec::from).unwrap_or_default();
        Self {
            facts: Facts {
                key,
                meter: riff.bars().first().map(|bar| bar.meter.to_string()).unwrap_or_default(),
                notes: u32::try_from(riff.line().len()).unwrap_or(u32::MAX),
                degrees: found.set().bits(),
            },
            prints: Prints {
                version: RULES,
                likeness,
                imprint: imprint.map(|i| i.to_bytes()).unwrap_or_default(),
            },
        }
    }
}
