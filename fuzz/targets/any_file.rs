//! Bytes of no stated kind: the kind is told by content, the text's encoding too, and the right parser reads it.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::detect::{ReadOptions, detect, read_any};
use riffkin_formats::riff_text;

fuzz_target!(|data: &[u8]| {
    assert!(!detect(data).name().is_empty());
    match read_any(data, &ReadOptions::default()) {
        Ok((riff, warnings)) => {
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
            match riff_text::parse(&riff_text::print(&riff)) {
                Ok((again, _)) => assert_eq!(again, riff),
                Err(why) => panic!("the riff's print does not read back: {why}"),
            }
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
