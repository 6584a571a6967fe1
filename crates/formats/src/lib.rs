//! Bytes and text to and from the score: riff notation, MusicXML, MIDI, typed tablature, audio files.

pub mod audio_file;
pub mod detect;
pub mod midi;
pub mod musicxml;
pub mod riff_text;
pub mod tab_text;
mod text_error;
