//! Imprints as bytes, to be kept.
//!
//! Layout, version 1: version byte; flags (1 rounded, 2 has a tonic, 4 has a hand shape); the tonic if there is
//! one; then, as variable-length numbers of seven bits a byte with the lowest first, the grid (the largest
//! number of ticks that divides every onset, length and the whole), the whole length, the count of notes, and
//! for every note its MIDI number (a byte), its distance from the onset before and its length; last the count
//! of hand steps, each a string, a manner (0 fretted, 1 open, 2 dead, 3 node) and a fret, a byte each.

use riffkin_fretboard::hand_shape::{HandShape, Held, Step};

use super::{Imprint, ImprintError, Trace};

/// Version that is written.
const VERSION: u8 = 1;

/// Why bytes are no imprint.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[non_exhaustive]
pub enum BytesError {
    /// They end too early.
    #[error("the imprint ends after {at} bytes, in the middle; make it again from its riff")]
    Ends {
        /// How many there are.
        at: usize,
    },
    /// A newer program wrote them.
    #[error(
        "the imprint is of version {found}, and this program knows {VERSION}; make it again from its riff"
    )]
    Version {
        /// The version found.
        found: u8,
    },
    /// A value that cannot be.
    #[error("byte {at} of the imprint holds no {what}; make it again from its riff")]
    Value {
        /// What is expected.
        what: &'static str,
        /// Where.
        at: usize,
    },
    /// Something follows.
    #[error("{extra} bytes follow the imprint; make it again from its riff")]
    Follows {
        /// How many.
        extra: usize,
    },
    /// Its notes make no imprint.
    #[error(transparent)]
    Notes(#[from] ImprintError),
}

impl Imprint {
    /// As bytes, the same for the same imprint.
    pub fn to_bytes(&self) -> Vec<u8> {
        let flags =
            u8::from(self.rounded) | u8::from(self.tonic.is_some()) << 1 | u8::from(self.hand.is_some()) << 2;
        let mut out = vec![VERSION, flags];
        out.extend(self.tonic);
        let grid = self.notes.iter().fold(self.length, |g, n| common(common(g, n.onset), n.length)).max(1);
        put(&mut out, grid);
        put(&mut out, self.length / grid);
        put(&mut out, self.notes.len() as u32);
        let mut last = 0;
        for note in &self.notes {
            out.push(note.midi);
            put(&mut out, (note.onset - last) / grid);
            put(&mut out, note.length / grid);
            last = note.onset;
        }
        if let Some(hand) = &self.hand {
            put(&mut out, hand.len() as u32);
            for step in hand.steps() {
                let (manner, fret) = match step.held {
                    Held::Fretted(fret) => (0, fret.cast_unsigned()),
                    Held::Open => (1, 0),
                    Held::Dead => (2, 0),
                    Held::Node(fret) => (3, fret),
                };
                out.extend([step.string.cast_unsigned(), manner, fret]);
            }
        }
        out
    }

    /// Reads what [`Imprint::to_bytes`] wrote; any bytes at all are answered.
    ///
    /// # Errors
    /// [`BytesError`], naming the byte.
    pub fn from_bytes(bytes: &[u8]) -> Result<Self, BytesError> {
        let mut reader = Reader { bytes, at: 0 };
        let version = reader.byte()?;
        if version != VERSION {
            return Err(BytesError::Version { found: version });
        }
        let flags = reader.byte()?;
        if flags > 7 {
            return reader.refuse("flags");
        }
        let tonic = if flags & 2 != 0 { Some(reader.byte()?) } else { None };
        let grid = reader.number()?;
        if grid == 0 {
            return reader.refuse("grid");
        }
        let length = reader.ticks(grid)?;
        let count = reader.number()? as usize;
        if count > Self::MAX_NOTES {
            return Err(ImprintError::TooMany { found: count, limit: Self::MAX_NOTES }.into());
        }
        // A note takes three bytes at least: a count that lies reserves nothing.
        let mut notes = Vec::with_capacity(count.min(bytes.len() / 3));
        let mut last = 0u32;
        for _ in 0..count {
            let midi = reader.byte()?;
            let onset = last.checked_add(reader.ticks(grid)?);
            let Some(onset) = onset else { return reader.refuse("onset") };
            notes.push(Trace { midi, onset, length: reader.ticks(grid)? });
            last = onset;
        }
        let hand = if flags & 4 != 0 { Some(reader.hand()?) } else { None };
        if reader.at < bytes.len() {
            return Err(BytesError::Follows { extra: bytes.len() - reader.at });
        }
        Ok(Self { rounded: flags & 1 != 0, ..Self::new(notes, tonic, length, hand)? })
    }
}

fn common(mut a: u32, mut b: u32) -> u32 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

fn put(out: &mut Vec<u8>, mut number: u32) {
    while number > 0x7f {
        out.push((number & 0x7f) as u8 | 0x80);
        number >>= 7;
    }
    out.push(number as u8);
}

struct Reader<'a> {
    bytes: &'a [u8],
    at: usize,
}

impl Reader<'_> {
    fn refuse<T>(&self, what: &'static str) -> Result<T, BytesError> {
        Err(BytesError::Value { what, at: self.at.saturating_sub(1) })
    }

    fn byte(&mut self) -> Result<u8, BytesError> {
        let byte = self.bytes.get(self.at).copied().ok_or(BytesError::Ends { at: self.bytes.len() })?;
        self.at += 1;
        Ok(byte)
    }

    fn number(&mut self) -> Result<u32, BytesError> {
        let mut number = 0u64;
        for shift in (0..35).step_by(7) {
            let byte = self.byte()?;
            number |= u64::from(byte & 0x7f) << shift;
            if byte < 0x80 {
                return u32::try_from(number).or_else(|_| self.refuse("number of 32 bits"));
            }
        }
        self.refuse("number of 32 bits")
    }

    fn ticks(&mut self, grid: u32) -> Result<u32, BytesError> {
        let ticks = self.number()?.checked_mul(grid).filter(|&t| t <= Imprint::MAX_TICKS);
        ticks.map_or_else(|| self.refuse("length that a riff may have"), Ok)
    }

    fn hand(&mut self) -> Result<HandShape, BytesError> {
        let count = self.number()? as usize;
        if count > Imprint::MAX_NOTES {
            return self.refuse("count of hand steps");
        }
        let mut steps = Vec::with_capacity(count.min(self.bytes.len() / 3));
        for _ in 0..count {
            let (string, manner, fret) = (self.byte()?.cast_signed(), self.byte()?, self.byte()?);
            let held = match manner {
                0 => Held::Fretted(fret.cast_signed()),
                1 => Held::Open,
                2 => Held::Dead,
                3 => Held::Node(fret),
                _ => return self.refuse("manner of holding a string"),
            };
            steps.push(Step { string, held });
        }
        HandShape::of_steps(steps).map_or_else(|| self.refuse("hand shape"), Ok)
    }
}
