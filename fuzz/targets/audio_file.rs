//! Encoded sound: whatever the bytes, a clip of finite samples or an error with words; read from any place on, the
//! same sound.
#![no_main]

use libfuzzer_sys::fuzz_target;
use riffkin_audio::Frames;
use riffkin_formats::audio_file::{self, Reader};
use std::io::Cursor;

/// Frames read after a skip.
const MOST: u64 = 1 << 20;

fuzz_target!(|data: &[u8]| {
    match audio_file::decode(data) {
        Ok((clip, warnings)) => {
            let lengths: Vec<usize> = clip.channels().iter().map(Vec::len).collect();
            assert!(!lengths.is_empty() && lengths.iter().all(|length| *length == lengths[0]));
            assert!(clip.channels().iter().flatten().all(|sample| sample.is_finite()));
            assert!(warnings.iter().all(|warning| !warning.to_string().is_empty()));
            from_the_middle(data, clip.frames());
        }
        Err(why) => assert!(!why.to_string().is_empty()),
    }
});

fn from_the_middle(data: &[u8], frames: Frames) {
    let Ok(mut reader) = Reader::open(Box::new(Cursor::new(data.to_vec()))) else {
        unreachable!("it was decoded a moment ago");
    };
    let Ok(at) = reader.skip_to(Frames(frames.0 / 2)) else { return };
    assert!(at.0 <= frames.0.div_ceil(2), "{at:?} of {frames:?}");
    let (mut block, mut read) = (Vec::new(), 0);
    while read < MOST && reader.next_block(&mut block).unwrap_or(false) {
        assert_eq!(block.len(), reader.channels());
        assert!(block.iter().all(|row| row.len() == block[0].len() && !row.is_empty()));
        assert!(block[0].len() <= reader.rate().hz() as usize);
        read += block[0].len() as u64;
        assert_eq!(reader.position().0, at.0 + read);
    }
}
