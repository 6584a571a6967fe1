//! Necks on one line: whatever the text, a neck that comes back from its own print exactly, or an error with a place.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_fretboard::neck::Neck;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match Neck::named(text) {
        Ok(neck) => {
            let printed = neck.to_string();
            assert_eq!(Neck::named(&printed), Ok(neck), "the print reads back differently: {printed}");
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
