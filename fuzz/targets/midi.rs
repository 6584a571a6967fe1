//! MIDI: whatever the bytes, a riff that sounds the same when written and read again, or an error with a place.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::midi::{MidiOptions, WriteOptions, candidates, read, write};
use riffkin_score::riff::Riff;

/// Onset, length and number of every note that sounds.
fn heard(riff: &Riff) -> Vec<String> {
    let note =
        |n: &riffkin_score::riff::PlayedNote| format!("{} {} {:?}", n.onset, n.length, n.note.pitch.midi());
    riff.played().iter().map(note).collect()
}

fuzz_target!(|data: &[u8]| {
    let plain = MidiOptions::default();
    let outcome = read(data, &plain).or_else(|why| {
        assert!(!why.to_string().is_empty());
        read(data, &MidiOptions { salvage: true, ..plain })
    });
    let Ok((riff, warnings)) = outcome else { return };
    assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
    let written = write(&riff, &WriteOptions::default());
    match read(&written, &plain) {
        Ok((again, _)) => assert_eq!(heard(&again), heard(&riff), "what was written sounds different"),
        Err(why) => assert!(heard(&riff).is_empty(), "what was written does not read: {why}"),
    }
    assert!(candidates(&written, &plain).is_ok());
});
