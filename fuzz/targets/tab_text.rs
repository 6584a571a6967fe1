//! Typed tablature: whatever the text, a riff whose every note has its place (or a warning why it has none), or an
//! error with a place of its own.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::{riff_text, tab_text};

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match tab_text::read(text, &tab_text::TabOptions::default()) {
        Ok((riff, warnings)) => {
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
            let placed = riff.line().iter().all(|note| note.note.place.is_some());
            assert!(placed || !warnings.is_empty());
            match riff_text::parse(&riff_text::print(&riff)) {
                Ok((again, _)) => assert_eq!(again, riff),
                Err(why) => panic!("the riff's print does not read back: {why}"),
            }
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
