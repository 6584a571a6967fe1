//! Notes of a recording, true or heard, and reading them from CSV.

/// One note in seconds.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Sounded {
    /// Where it begins, in seconds.
    pub(super) onset: f64,
    /// Where it ends, in seconds; after `onset`.
    pub(super) offset: f64,
    /// MIDI number, perhaps fractional.
    pub(super) midi: f64,
    /// How sure the listener is, 0 to 1; absent in the truth and where a listener does not say.
    pub(super) confidence: Option<f64>,
}

impl Sounded {
    /// The pitch in hertz, at 440 Hz for MIDI 69.
    pub(super) fn hertz(&self) -> f64 {
        440.0 * ((self.midi - 69.0) / 12.0).exp2()
    }

    /// The length in seconds.
    pub(super) fn length(&self) -> f64 {
        self.offset - self.onset
    }
}

/// Reads lines of `onset_s,offset_s,midi[,confidence]`, sorted by onset; a first line of words and lines that
/// begin with `#` are passed over.
///
/// # Errors
/// Names the first line that does not hold a note.
pub(super) fn read(csv: &str) -> Result<Vec<Sounded>, String> {
    let mut notes = Vec::new();
    for (index, line) in csv.lines().enumerate() {
        let line = line.trim();
        let is_heading = index == 0 && line.starts_with(char::is_alphabetic);
        if line.is_empty() || line.starts_with('#') || is_heading {
            continue;
        }
        let cells: Vec<f64> = line.split(',').map_while(|cell| cell.trim().parse().ok()).collect();
        match cells.as_slice() {
            [onset, offset, midi, rest @ ..] if offset > onset && midi.is_finite() => notes.push(Sounded {
                onset: *onset,
                offset: *offset,
                midi: *midi,
                confidence: rest.first().copied(),
            }),
            _ => {
                return Err(format!(
                    "line {}: `{line}` is not onset_s,offset_s,midi with the offset after the onset",
                    index + 1
                ));
            }
        }
    }
    notes.sort_by(|a, b| a.onset.total_cmp(&b.onset));
    Ok(notes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn notes_are_read_with_and_without_heading_and_confidence() {
        let notes = read("onset_s,offset_s,midi,confidence\n0.5,1.0,40,0.9\n0.1,0.4,28\n# said\n").unwrap();
        assert_eq!(notes.len(), 2);
        assert_eq!((notes[0].onset, notes[0].confidence), (0.1, None));
        assert_eq!(notes[1].confidence, Some(0.9));
        assert!((notes[0].hertz() - 41.2034).abs() < 1e-4, "E1 is 41.2034 Hz");
    }

    #[test]
    fn a_line_that_is_no_note_is_named() {
        let told = read("0.1,0.4,28\n0.4,0.3,28\n").unwrap_err();
        assert!(told.starts_with("line 2"), "{told}");
        assert!(read("0.1,0.4\n").is_err());
        assert!(read("\n").unwrap().is_empty());
    }
}
