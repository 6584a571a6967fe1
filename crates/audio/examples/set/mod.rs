//! Reading heard notes from the files that the `hear` example writes.

use riffkin_audio::listen::{HeardNote, Manner};

/// The notes of a file of `onset_s,offset_s,midi`, which may go on with `confidence,level_db,manner`. Lines that are none
/// are passed over.
pub(crate) fn notes(text: &str) -> Vec<HeardNote> {
    text.lines()
        .filter_map(|line| {
            let words: Vec<&str> = line.split(',').map(str::trim).collect();
            let number = |k: usize| words.get(k).and_then(|w| w.parse::<f64>().ok());
            Some(HeardNote {
                onset_s: number(0)?,
                offset_s: number(1)?,
                midi: number(2)? as u8,
                confidence: number(3).unwrap_or(1.0),
                cents: 0.0,
                manner: match words.get(5) {
                    Some(&"Joined") => Manner::Joined,
                    _ => Manner::Struck,
                },
                level_db: number(4).unwrap_or(0.0),
            })
        })
        .collect()
}
