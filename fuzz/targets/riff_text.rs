//! Riff notation: whatever the text, a riff that comes back from its own print exactly, or an error with a place.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::riff_text::{parse, print};

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match parse(text) {
        Ok((riff, warnings)) => {
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
            let printed = print(&riff);
            match parse(&printed) {
                Ok((again, _)) => {
                    assert_eq!(again, riff, "the print reads back differently:\n{printed}");
                    assert_eq!(print(&again), printed);
                }
                Err(why) => panic!("the print does not read back: {why}\n{printed}"),
            }
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
