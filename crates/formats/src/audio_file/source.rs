//! Where the bytes of a recording come from, and a small window on them.

use std::io::{ErrorKind, Read, Seek, SeekFrom};
use symphonia::core::io::MediaSource;

/// Anything a recording can be read from: bytes in memory, an open file.
pub trait Source: Read + Seek + Send + Sync {}

impl<T: Read + Seek + Send + Sync> Source for T {}

/// Bytes of the window read at a time.
const STEP: usize = 1 << 16;

/// A source read forward through a window that grows only as far as somebody looks ahead.
///
/// A read that fails ends the input; [`Input::trouble`] says why.
pub(super) struct Input {
    source: Box<dyn Source>,
    window: Vec<u8>,
    /// The first byte of `window` not yet consumed.
    at: usize,
    /// Where in the source `window` begins.
    base: u64,
    length: u64,
    ended: bool,
    trouble: Option<String>,
}

impl Input {
    /// Starts at the source's beginning.
    pub(super) fn new(mut source: Box<dyn Source>) -> std::io::Result<Self> {
        let length = source.seek(SeekFrom::End(0))?;
        source.seek(SeekFrom::Start(0))?;
        Ok(Self { source, window: Vec::new(), at: 0, base: 0, length, ended: false, trouble: None })
    }

    /// How many bytes the whole source has.
    pub(super) fn length(&self) -> u64 {
        self.length
    }

    /// Where in the source the next byte lies.
    pub(super) fn position(&self) -> u64 {
        self.base + self.at as u64
    }

    /// What the source said when a read failed.
    pub(super) fn trouble(&self) -> Option<&str> {
        self.trouble.as_deref()
    }

    /// The next `wanted` bytes without consuming them; fewer only at the end.
    pub(super) fn peek(&mut self, wanted: usize) -> &[u8] {
        while self.window.len() - self.at < wanted && !self.ended {
            if self.at > 0 {
                self.window.drain(..self.at);
                self.base += self.at as u64;
                self.at = 0;
            }
            self.read_more();
        }
        let rest = self.window.get(self.at..).unwrap_or(&[]);
        rest.get(..wanted).unwrap_or(rest)
    }

    fn read_more(&mut self) {
        let old = self.window.len();
        self.window.resize(old + STEP, 0);
        let read = loop {
            match self.source.read(&mut self.window[old..]) {
                Err(error) if error.kind() == ErrorKind::Interrupted => {}
                Err(error) => {
                    self.trouble = Some(error.to_string());
                    break 0;
                }
                Ok(read) => break read.min(STEP),
            }
        };
        self.window.truncate(old + read);
        self.ended = read == 0;
    }

    /// Goes past `count` bytes; no farther than the end of the file.
    pub(super) fn consume(&mut self, count: u64) {
        let held = (self.window.len() - self.at) as u64;
        if count <= held {
            self.at += count as usize;
        } else {
            self.seek(self.position().saturating_add(count));
        }
    }

    /// Goes to a place counted from the source's beginning; no farther than the end of the file.
    pub(super) fn seek(&mut self, to: u64) {
        let to = to.min(self.length);
        if (self.base..=self.base + self.window.len() as u64).contains(&to) {
            self.at = (to - self.base) as usize;
            return;
        }
        self.window.clear();
        (self.at, self.base, self.ended) = (0, to, false);
        if let Err(error) = self.source.seek(SeekFrom::Start(to)) {
            self.trouble = Some(error.to_string());
            self.ended = true;
        }
    }

    /// The source alone, from byte `start` on, for a reader that keeps its own window.
    pub(super) fn into_part(self, start: u64) -> Part {
        Part { source: self.source, start, at: 0, length: self.length.saturating_sub(start), placed: false }
    }
}

/// A source without the first `start` bytes.
pub(super) struct Part {
    source: Box<dyn Source>,
    start: u64,
    at: u64,
    length: u64,
    placed: bool,
}

impl Read for Part {
    fn read(&mut self, into: &mut [u8]) -> std::io::Result<usize> {
        if !self.placed {
            self.source.seek(SeekFrom::Start(self.start + self.at))?;
            self.placed = true;
        }
        let read = self.source.read(into)?;
        self.at += read as u64;
        Ok(read)
    }
}

impl Seek for Part {
    fn seek(&mut self, to: SeekFrom) -> std::io::Result<u64> {
        let to = match to {
            SeekFrom::Start(to) => Some(to),
            SeekFrom::End(by) => self.length.checked_add_signed(by),
            SeekFrom::Current(by) => self.at.checked_add_signed(by),
        };
        let to = to.filter(|to| self.start.checked_add(*to).is_some());
        self.at = to.ok_or_else(|| std::io::Error::from(ErrorKind::InvalidInput))?;
        self.placed = false;
        Ok(self.at)
    }
}

impl MediaSource for Part {
    fn is_seekable(&self) -> bool {
        true
    }

    fn byte_len(&self) -> Option<u64> {
        Some(self.length)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::io::Cursor;

    fn counted(length: usize) -> Box<dyn Source> {
        Box::new(Cursor::new((0..length).map(|k| (k % 251) as u8).collect::<Vec<u8>>()))
    }

    #[test]
    fn the_window_shows_what_lies_ahead_and_keeps_little() {
        let length = 5 * STEP + 3;
        let mut input = Input::new(counted(length)).expect("a cursor seeks");
        for at in (0..length).step_by(1000) {
            assert_eq!((input.position(), input.peek(2)[0]), (at as u64, (at % 251) as u8));
            assert!(input.window.len() <= 2 * STEP, "{}", input.window.len());
            input.consume(1000);
        }
        assert_eq!((input.position(), input.peek(1)), (length as u64, &[][..]));
        input.seek(7);
        assert_eq!(input.peek(STEP + 5).len(), STEP + 5);
        assert_eq!(input.peek(1), [7]);
        input.consume(u64::MAX);
        assert_eq!((input.position(), input.peek(4).len()), (length as u64, 0));
    }

    #[test]
    fn a_part_begins_where_it_was_cut() {
        let mut part = Input::new(counted(100)).expect("a cursor seeks").into_part(40);
        let mut all = Vec::new();
        part.read_to_end(&mut all).expect("memory");
        assert_eq!((all.len(), all[0], part.byte_len()), (60, 40, Some(60)));
        assert_eq!(part.seek(SeekFrom::End(-1)).expect("inside"), 59);
        assert_eq!(part.read(&mut [0; 8]).expect("memory"), 1);
        assert!(part.seek(SeekFrom::Current(-1000)).is_err());
    }
}
