//! Compressed MusicXML: the archive around the score. Unpacking is bounded, whatever the archive says of itself.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::musicxml::read;

fuzz_target!(|data: &[u8]| {
    match read(data) {
        Ok((riff, _)) => assert!(!riff.bars().is_empty()),
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
