//! MusicXML: whatever the bytes, a riff that survives being written and read again, or an error with a place.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::musicxml::{WriteOptions, read, write};

fuzz_target!(|data: &[u8]| {
    match read(data) {
        Ok((riff, warnings)) => {
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
            let written = write(&riff, &WriteOptions::default());
            match read(written.as_bytes()) {
                Ok((again, _)) => assert_eq!(again, riff, "what was written reads differently"),
                Err(why) => panic!("what was written does not read: {why}"),
            }
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
