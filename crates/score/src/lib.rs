//! What music is: spelled pitch, exact time, riffs, and what can be found out about them.
//!
//! Pure: nothing here knows an instrument, a file, a sample or the time of day. Pitch inside is sounding
//! pitch; [`pitch::WrittenPitch`] is what stands on the staff. Musical time is exact ([`time::Quarters`]);
//! seconds exist only through a [`tempo::TempoMap`].

pub mod analysis;
pub mod chord;
pub mod degree;
pub mod interval;
pub mod key;
pub mod meter;
pub mod note;
pub mod pitch;
pub mod random;
pub mod rhythm;
pub mod riff;
pub mod tempo;
pub mod time;
pub mod transpose;
pub mod value;

/// A finding that is not an error: something was left out, changed or guessed, and where.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Warning {
    /// Where, as people say it: `bar 2, beat 3`, `line 4`, `track 2`. Empty when it concerns the whole.
    pub place: String,
    /// What happened, and what to do about it if anything.
    pub message: String,
}

impl Warning {
    /// A warning at a place.
    pub fn at(place: impl ToString, message: impl Into<String>) -> Self {
        Self { place: place.to_string(), message: message.into() }
    }

    /// A warning about the whole.
    pub fn whole(message: impl Into<String>) -> Self {
        Self { place: String::new(), message: message.into() }
    }
}

impl std::fmt::Display for Warning {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if self.place.is_empty() {
            f.write_str(&self.message)
        } else {
            write!(f, "{}: {}", self.place, self.message)
        }
    }
}
