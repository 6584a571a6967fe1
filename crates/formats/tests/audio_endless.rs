//! Recordings longer than anybody wants to keep: read in blocks, with every click in its place.

#![allow(clippy::unwrap_used, reason = "a test stops where it fails")]

use riffkin_audio::Frames;
use riffkin_formats::audio_file::Reader;

/// A WAV file of any length that exists nowhere: a click stands at every full second.
struct Endless {
    head: Vec<u8>,
    frames: u64,
    rate: u64,
    at: u64,
}

impl Endless {
    fn new(rate: u32, frames: u64) -> Self {
        let chunk = |kind: &[u8], body: &[u8]| [kind, &(body.len() as u32).to_le_bytes(), body].concat();
        let format =
            [[1, 0, 1, 0].to_vec(), [rate, rate].map(u32::to_le_bytes).concat(), vec![1, 0, 8, 0]].concat();
        let long = [frames + 80, frames, frames].map(u64::to_le_bytes).concat();
        let head = [
            &b"RF64\xFF\xFF\xFF\xFFWAVE"[..],
            &chunk(b"ds64", &[&long[..], &[0; 4]].concat()),
            &chunk(b"fmt ", &format),
            b"data\xFF\xFF\xFF\xFF",
        ];
        Self { head: head.concat(), frames, rate: rate.into(), at: 0 }
    }

    fn length(&self) -> u64 {
        self.head.len() as u64 + self.frames
    }
}

impl std::io::Read for Endless {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        let left = self.length().saturating_sub(self.at).min(into.len() as u64) as usize;
        for byte in &mut into[..left] {
            let frame = self.at.wrapping_sub(self.head.len() as u64);
            let click = if frame.is_multiple_of(self.rate) { 255 } else { 128 };
            *byte = self.head.get(self.at as usize).copied().unwrap_or(click);
            self.at += 1;
        }
        Ok(left)
    }
}

impl std::io::Seek for Endless {
    fn seek(&mut self, to: std::io::SeekFrom) -> std::io::Result<u64> {
        self.at = match to {
            std::io::SeekFrom::Start(to) => to,
            std::io::SeekFrom::End(by) => self.length().saturating_add_signed(by),
            std::io::SeekFrom::Current(by) => self.at.saturating_add_signed(by),
        };
        Ok(self.at)
    }
}

#[test]
fn two_hours_are_read_in_blocks_with_every_click_in_its_place() {
    let (rate, hours) = (1000, 2);
    let frames = hours * 3600 * u64::from(rate);
    let mut reader = Reader::open(Box::new(Endless::new(rate, frames))).unwrap();
    assert_eq!(reader.frames(), Some(Frames(frames)));
    let (mut block, mut at) = (Vec::new(), 0);
    while reader.next_block(&mut block).unwrap() {
        assert!(block[0].len() <= rate as usize && block[0].capacity() <= 2 * rate as usize);
        for sample in &block[0] {
            assert_eq!(*sample > 0.5, at % u64::from(rate) == 0, "{at}");
            at += 1;
        }
        assert_eq!(reader.position(), Frames(at));
    }
    assert_eq!(at, frames);
    // Beyond 4 GiB, and no farther than a day.
    let mut long = Reader::open(Box::new(Endless::new(192_000, 192_000 * 3600 * 23))).unwrap();
    let to = 192_000 * 3600 * 22 - 1;
    assert_eq!(long.skip_to(Frames(to)).unwrap(), Frames(to));
    assert!(long.next_block(&mut block).unwrap());
    assert_eq!(block[0][..2], [0.0, 127.0 / 128.0]);
    let mut endless = Reader::open(Box::new(Endless::new(1000, 1000 * 3600 * 25))).unwrap();
    let error = endless.skip_to(Frames(1000 * 3600 * 24 + 1)).unwrap_err();
    assert!(error.to_string().contains("24 hours"), "{error}");
}
