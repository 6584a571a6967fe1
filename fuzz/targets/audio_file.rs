//! Encoded sound: whatever the bytes, a clip of finite samples or an error with words.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_formats::audio_file;

fuzz_target!(|data: &[u8]| {
    match audio_file::decode(data) {
        Ok((clip, warnings)) => {
            let lengths: Vec<usize> = clip.channels().iter().map(Vec::len).collect();
            assert!(!lengths.is_empty() && lengths.iter().all(|length| *length == lengths[0]));
            assert!(clip.channels().iter().flatten().all(|sample| sample.is_finite()));
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});
