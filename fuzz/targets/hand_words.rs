//! Wishes and tastes: whatever the text, a value that comes back from its own print exactly, or an error that says why.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_fretboard::taste;
use riffkin_fretboard::wishes::Wish;

fuzz_target!(|data: &[u8]| {
    let Ok(text) = std::str::from_utf8(data) else { return };
    match text.parse::<Wish>() {
        Ok(wish) => assert_eq!(wish.to_string().parse(), Ok(wish), "a wish prints otherwise: {wish}"),
        Err(why) => assert!(!why.to_string().is_empty()),
    }
    match taste::read(text) {
        Ok(weights) => {
            assert_eq!(taste::read(&taste::write(&weights)), Ok(weights), "a taste prints otherwise");
            assert!(taste::in_words(&weights).iter().all(|words| !words.is_empty()));
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
