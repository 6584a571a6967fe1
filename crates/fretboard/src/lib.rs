//! Strings, tunings and the hand: where a riff lies on a neck.
//!
//! ```
//! use riffkin_fretboard::{fit::fit, hand::Hand, neck::Neck};
//! use riffkin_score::meter::Meter;
//! use riffkin_score::note::{Event, Note};
//! use riffkin_score::riff::{Bar, Header, Riff};
//! use riffkin_score::value::{NoteValue, Shape};
//!
//! // Root, fifth, octave and a rest, in quarter notes.
//! let quarter = NoteValue::plain(Shape::Quarter);
//! let mut events = Vec::new();
//! for name in ["A1", "E2", "A2"] {
//!     events.push(Event::note(quarter, Note::plain(name.parse()?)));
//! }
//! events.push(Event::rest(quarter));
//! let riff = Riff::new(Header::default(), vec![Bar::new(Meter::FOUR_FOUR, events)])?;
//!
//! let fit = fit(&riff, &Neck::named("four")?, &Hand::default())?;
//! let fingers: Vec<u8> = fit.notes.iter().map(|note| note.finger).collect();
//! assert_eq!(fingers, [1, 3, 4]);
//! assert_eq!(fit.reasons[0], "all within frets 5 to 7");
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```

pub mod adapt;
pub mod block;
pub mod difficulty;
pub mod fit;
pub mod hand;
pub mod hand_shape;
pub mod neck;
pub mod shapes;
pub mod taste;
pub mod way;
pub mod wishes;
