//! Streams of frames that follow each other without a container: MPEG layer III and ADTS.

use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use super::coded::{Coded, Next, Packets};
use super::source::Input;

/// How far into a file its first frame is looked for, in bytes.
const FARTHEST: u64 = 1 << 18;

/// What the head of a frame says.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Head {
    /// Bytes of the frame, head and all; at least one.
    pub(super) bytes: usize,
    /// Bytes at the beginning that the decoder does not take.
    pub(super) skip: usize,
    /// Frames of sound that it decodes to.
    pub(super) frames: u64,
    /// Samples a second.
    pub(super) rate: u32,
    /// Channels; 0 where the head leaves that open.
    pub(super) channels: usize,
    /// What is the same in every frame of a stream.
    pub(super) key: u32,
}

/// Reads the head of a frame from the first [`HEAD`] bytes (or fewer, at the end).
pub(super) type Parse = fn(&[u8]) -> Option<Head>;

/// Bytes that a head needs at most.
pub(super) const HEAD: usize = 9;

/// The frames of a stream.
pub(super) struct Stream {
    input: Input,
    parse: Parse,
    /// A frame that belongs to the stream.
    model: Head,
    /// Bytes and number of the frames so far: what is missing is measured with them.
    bytes: u64,
    count: u64,
    /// True for a frame that carries no sound.
    silent: fn(&[u8]) -> bool,
}

impl Stream {
    /// Finds the first frame from the input's place on; the input is put there.
    ///
    /// Text and noise have what looks like a head now and then: a head counts when two more follow it, or when the file
    /// ends before they could.
    pub(super) fn first(input: &mut Input, parse: Parse) -> Option<Head> {
        let begin = input.position();
        let mut at = begin;
        while at - begin < FARTHEST {
            input.seek(at);
            let head = parse(input.peek(HEAD));
            if let Some(model) = head
                && Self::followed(input, parse, &model, at, begin)
            {
                input.seek(at);
                return Some(model);
            }
            // Every head begins with a byte of ones.
            input.seek(at + 1);
            let ahead = input.peek(1 << 12);
            if ahead.is_empty() {
                break;
            }
            let step = ahead.iter().position(|byte| *byte == 0xFF).unwrap_or(ahead.len());
            at += 1 + step as u64;
        }
        input.seek(begin);
        None
    }

    fn followed(input: &mut Input, parse: Parse, model: &Head, at: u64, begin: u64) -> bool {
        let (mut next, mut bytes) = (at, model.bytes);
        for _ in 0..2 {
            next += bytes as u64;
            if next + HEAD as u64 > input.length() {
                // So short a stream is believed where nothing stands before it and its frame is whole.
                return at == begin && next <= input.length();
            }
            input.seek(next);
            match parse(input.peek(HEAD)) {
                Some(head) if head.key == model.key => bytes = head.bytes,
                _ => return false,
            }
        }
        true
    }

    /// The frames from the input's place on, which is that of `model`.
    pub(super) fn new(input: Input, parse: Parse, model: Head, silent: fn(&[u8]) -> bool) -> Self {
        Self { input, parse, model, bytes: 0, count: 0, silent }
    }

    /// The head at `ahead` bytes from here, if it belongs to the stream.
    fn head(&mut self, ahead: usize) -> Option<Head> {
        let bytes = self.input.peek(ahead + HEAD);
        (self.parse)(bytes.get(ahead..)?).filter(|head| head.key == self.model.key)
    }

    /// Whether a frame is complete and another, or the end, or a tag follows it.
    fn trusted(&mut self, head: &Head) -> bool {
        // A damaged head says another length than the one before, give or take the padding.
        if head.bytes.abs_diff(self.model.bytes) <= 1 || self.head(head.bytes).is_some() {
            return true;
        }
        let after = self.input.peek(head.bytes + 32);
        after.get(head.bytes..).is_some_and(|rest| rest.len() < 8 || tag(rest).is_some())
    }

    fn frame(&mut self, head: &Head) -> Next {
        let bytes = self.input.peek(head.bytes);
        let Some(body) = bytes.get(head.skip..head.bytes) else {
            if let Some(reason) = self.input.trouble() {
                return Next::Failed(reason.to_owned());
            }
            self.input.seek(u64::MAX);
            return Next::End(Some("it ends in the middle of a frame".to_owned()));
        };
        let packet = Packet::new(0, Timestamp::ZERO, Duration::new(head.frames), body);
        self.input.consume(head.bytes as u64);
        self.bytes += head.bytes as u64;
        self.count += 1;
        self.model.bytes = head.bytes;
        Next::Packet(Coded { packet, at: None, frames: head.frames })
    }

    /// Looks for the next frame behind a damaged place.
    fn lost(&mut self) -> Next {
        let begin = self.input.position();
        loop {
            self.input.consume(1);
            let ahead = self.input.peek(1 << 12);
            if ahead.is_empty() {
                break;
            }
            let step = ahead.iter().position(|byte| *byte == 0xFF).unwrap_or(ahead.len());
            self.input.consume(step as u64);
            if self.input.peek(8).starts_with(b"TAG") || tag(self.input.peek(8)).is_some() {
                break;
            }
            if let Some(head) = self.head(0)
                && self.head(head.bytes).is_some()
            {
                break;
            }
        }
        let missing = self.input.position() - begin;
        let mean = (self.bytes.checked_div(self.count)).unwrap_or(self.model.bytes as u64).max(1);
        let found = !self.input.peek(1).is_empty();
        // What stands behind the last frame has no place in time.
        let frames = if found { (missing + mean / 2) / mean * self.model.frames } else { 0 };
        Next::Lost { frames, reason: format!("{missing} bytes from byte {begin} on are no frame") }
    }
}

/// Length of a tag that stands between frames or behind the last: ID3 1 and 2, APE (their own specifications).
pub(super) fn tag(bytes: &[u8]) -> Option<u64> {
    let at = |k: usize| bytes.get(k).map(|b| u64::from(*b));
    if bytes.starts_with(b"ID3") {
        let size = (6..10).try_fold(0, |sum, k| Some(sum << 7 | at(k)? & 0x7F))?;
        return Some(10 + size + if at(5)? & 0x10 != 0 { 10 } else { 0 });
    }
    if bytes.starts_with(b"TAG") {
        return Some(128);
    }
    if bytes.starts_with(b"APETAGEX") {
        let size = (12..16).rev().try_fold(0, |sum, k| Some(sum << 8 | at(k)?))?;
        // The header counts what follows it; a footer, its 32 bytes and what stands before.
        return Some(if at(23)? & 0x20 != 0 { 32 + size } else { 32 });
    }
    None
}

impl Packets for Stream {
    fn next(&mut self) -> Next {
        loop {
            if self.input.peek(1).is_empty() {
                return self
                    .input
                    .trouble()
                    .map_or(Next::End(None), |reason| Next::Failed(reason.to_owned()));
            }
            if let Some(length) = tag(self.input.peek(32)) {
                self.input.consume(length);
                continue;
            }
            match self.head(0) {
                Some(head) if self.trusted(&head) => {
                    if (self.silent)(self.input.peek(head.bytes)) {
                        self.input.consume(head.bytes as u64);
                        continue;
                    }
                    return self.frame(&head);
                }
                _ => {
                    // Zeros up to the end are padding, not damage.
                    let rest = self.input.peek(1 << 16);
                    if rest.len() < 1 << 16 && rest.iter().all(|byte| *byte == 0) {
                        self.input.seek(u64::MAX);
                        continue;
                    }
                    return self.lost();
                }
            }
        }
    }
}
