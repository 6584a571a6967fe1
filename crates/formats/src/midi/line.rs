//! One line out of the notes of a track: the lowest note where several sound.

use super::file::FileNote;

/// A note that was left out, for a warning.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Left {
    pub(super) on: u64,
    pub(super) midi: u8,
    pub(super) why: &'static str,
}

/// The notes of a line in order, none starting with another, and what was left out. `together` is how far apart,
/// in ticks, the notes of a rolled chord may start.
///
/// Of notes that start together the lowest stays, as long as the longest of that pitch. A note that starts and
/// ends while a lower one sounds on is an upper voice and goes. Otherwise a new note ends the one before it.
pub(super) fn lowest(notes: Vec<FileNote>, together: u64) -> (Vec<FileNote>, Vec<Left>) {
    let mut line: Vec<FileNote> = Vec::with_capacity(notes.len());
    let mut left = Vec::new();
    let mut notes = notes;
    notes.sort_by_key(|n| (n.on, n.midi, n.off));
    for note in notes {
        let Some(last) = line.last_mut() else {
            line.push(note);
            continue;
        };
        let away = |n: &FileNote, why| Left { on: n.on, midi: n.midi, why };
        let overlaps = note.on < last.off;
        if note.on == last.on || (overlaps && note.on - last.on <= together) {
            if note.midi == last.midi {
                // The same note sent twice, by two layers for example.
                last.off = last.off.max(note.off);
            } else if note.midi < last.midi {
                left.push(away(last, "a lower note starts with it"));
                *last = FileNote { on: last.on, ..note };
            } else {
                left.push(away(&note, "a lower note starts with it"));
            }
        } else if overlaps && note.midi > last.midi && note.off < last.off {
            left.push(away(&note, "a lower note sounds on below it"));
        } else {
            line.push(note);
        }
    }
    (line, left)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(on: u64, off: u64, midi: u8) -> FileNote {
        FileNote { on, off, channel: 0, midi, unfinished: false, text: None }
    }

    #[test]
    fn the_lowest_stays() {
        let (line, left) = lowest(
            vec![
                note(0, 480, 40),
                note(0, 480, 28),
                note(480, 1900, 28),
                note(960, 1440, 50),
                note(1880, 2400, 33),
            ],
            20,
        );
        assert_eq!(line.iter().map(|n| n.midi).collect::<Vec<_>>(), [28, 28, 33]);
        assert_eq!(left.iter().map(|l| l.midi).collect::<Vec<_>>(), [40, 50]);
    }
}
