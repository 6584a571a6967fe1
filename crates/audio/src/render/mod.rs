//! From notes to sound.
//!
//! [`Player`] plays [`NoteEvent`]s through a SoundFont; [`count_in`] makes the clicks before them. [`soundfont`] is the
//! small font that comes with Riffkin; any other SoundFont 2 file's bytes do as well.
//!
//! Every note is rendered alone from a fresh voice and laid into the clip at its exact frame. The road not taken is one
//! running synthesiser: it starts notes at block borders only (64 frames, 1.5 ms), and a voice stolen from a ringing
//! note would sound different each time the riff around it changes.

mod count_in;
mod event;
mod font_check;
mod performance;
mod player;

pub use count_in::{Beat, count_in};
pub use event::{Instrument, NoteEvent};
pub use performance::{FASTEST, Performance, Performed, SLOWEST, performed};
pub use player::{Player, RenderError, SoundFontError, TAIL_DEFAULT, mixed};

/// The bytes of the SoundFont that comes with Riffkin: fingered and picked bass, electric piano, drums and clicks.
/// Cut from Fluid (R3) GM, (c) Frank Wen, MIT; `assets/soundfont/README.md` tells how.
#[must_use]
pub fn soundfont() -> &'static [u8] {
    include_bytes!("../../../../assets/soundfont/riffkin.sf2")
}
