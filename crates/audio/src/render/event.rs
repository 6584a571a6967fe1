//! One sounding note.

/// What plays a note.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[non_exhaustive]
pub enum Instrument {
    /// Electric bass plucked with the fingers (General MIDI program 34, 33 on the wire).
    Bass,
    /// Electric bass played with a pick (General MIDI program 35, 34 on the wire).
    PickedBass,
    /// Electric piano (General MIDI program 5, 4 on the wire), for chords.
    ElectricPiano,
    /// The drum kit; a note's number names the drum (General MIDI percussion key map).
    Drums,
    /// The click of a count-in: a wood block. The note's number is ignored, its velocity says how strong; from
    /// velocity 100 up it is the accented, higher block.
    Click,
}

/// One note to be sounded. Times are real time from the start of the clip.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct NoteEvent {
    /// When it starts, in seconds; 0 or later.
    pub onset_s: f64,
    /// How long it is held, in seconds; more than 0. Its release rings on after that.
    pub length_s: f64,
    /// Sounding MIDI note number, 0 to 127 (69 is 440 Hz).
    pub midi: u8,
    /// MIDI velocity, 1 to 127.
    pub velocity: u8,
    /// What plays it.
    pub instrument: Instrument,
}
