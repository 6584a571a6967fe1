//! Ogg files with Vorbis or FLAC in them.
//!
//! Pages after RFC 3533, section 6; Vorbis in Ogg after *Vorbis I specification* (Xiph.Org 2020), appendix A; FLAC in
//! Ogg after RFC 9639, section 10.1. A page counts the frames up to its end (its granule position), so a lost page is
//! noticed and what follows keeps its time. A count that cannot be true, because the page would lie before what was
//! heard already or more than a day behind it, is not followed but reported.

mod pages;

use std::collections::VecDeque;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_FLAC, CODEC_ID_VORBIS};
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder};
use symphonia::core::errors::Error as Symphonia;
use symphonia::core::packet::Packet;
use symphonia::core::units::{Duration, Timestamp};

use self::pages::{Page, Pages, page_head};
use super::AudioFileError;
use super::coded::{copied, decoder};
use super::reader::LONGEST_S;
use super::source::Input;
use super::track::{Facts, Sound, Step, Track};

/// Most samples, over all channels, decoded before they are handed on without waiting for the page's count.
const MOST: usize = 1 << 22;
/// How far before the end of a file its last page is looked for, in bytes.
const TAIL: u64 = 1 << 18;
/// Most frames that a stream can have counted, radio that never ends included: 46 years at 192 kHz.
const MOST_COUNTED: u64 = 1 << 48;

/// A track of Vorbis or FLAC in Ogg.
struct Ogg {
    pages: Pages,
    decoder: Box<dyn AudioDecoder>,
    facts: Facts,
    rate: u32,
    /// Packets waiting to be decoded, of the page whose other facts these are.
    waiting: VecDeque<Vec<u8>>,
    page: Page,
    /// Sound decoded of the page so far.
    gathered: Vec<Vec<f32>>,
    scratch: Sound,
    /// A packet that could not be decoded, to be told once the page has its place.
    failed: Option<String>,
    /// A page's count that was not followed, to be told behind its sound.
    doubted: Option<String>,
    /// What of the page's granule position lies before frame 0; none before the first page with sound.
    base: Option<i64>,
    at: i64,
    wanted: i64,
    /// The last packet passed over, which the next one overlaps.
    passed: Option<Vec<u8>>,
}

/// The track of the Ogg file that begins where the input stands.
pub(super) fn track(input: Input) -> Result<Box<dyn Track>, AudioFileError> {
    let pages = Pages { input, serial: None, number: 0, part: Vec::new(), broken: false };
    Ok(Box::new(Ogg::new(pages)?))
}

/// What the first packets of a stream say.
struct Headers {
    coding: AudioCodecParameters,
    rate: u32,
    /// Packets that followed the headers on the same page, which is not as it should be.
    first: Page,
}

/// Reads the headers of a stream whose first page is `page`; none where it is of another kind.
fn headers(pages: &mut Pages, mut page: Page) -> Result<Option<Headers>, AudioFileError> {
    let short =
        || AudioFileError::BadHeader { kind: "Ogg", reason: "it breaks off within its headers".to_owned() };
    let Some(identity) = page.packets.first().cloned() else { return Ok(None) };
    if identity.starts_with(b"OpusHead") {
        return Err(AudioFileError::Opus);
    }
    let (vorbis, rate, mut left) = if identity.starts_with(b"\x01vorbis") {
        let rate = identity.get(12..16).and_then(|b| b.first_chunk()).map(|b| u32::from_le_bytes(*b));
        (true, rate, 2)
    } else if identity.starts_with(b"\x7FFLAC") {
        let rate =
            identity.get(27..30).map(|b| u32::from(b[0]) << 12 | u32::from(b[1]) << 4 | u32::from(b[2]) >> 4);
        let more = identity.get(7..9).map_or(0, |b| usize::from(b[0]) << 8 | usize::from(b[1]));
        // 0 means unknown; the comment always follows.
        (false, rate, more.max(1))
    } else {
        return Ok(None);
    };
    let rate = rate.filter(|rate| *rate > 0).ok_or_else(short)?;
    let mut extra = if vorbis { identity } else { identity.get(17..51).ok_or_else(short)?.to_vec() };
    page.packets.remove(0);
    loop {
        while left > 0 && !page.packets.is_empty() {
            let packet = page.packets.remove(0);
            left -= 1;
            if vorbis && left == 0 {
                extra.extend(packet);
            }
        }
        if left == 0 {
            break;
        }
        page = pages.next().filter(|page| !page.first).ok_or_else(short)?;
    }
    let mut coding = AudioCodecParameters::new();
    let codec = if vorbis { CODEC_ID_VORBIS } else { CODEC_ID_FLAC };
    coding.for_codec(codec).with_sample_rate(rate).with_extra_data(extra.into_boxed_slice());
    Ok(Some(Headers { coding, rate, first: page }))
}

impl Ogg {
    fn new(mut pages: Pages) -> Result<Self, AudioFileError> {
        // Other streams, such as pictures, may begin first; all beginnings stand before anything else.
        let mut other = None;
        let headers = loop {
            let Some(page) = pages.next() else { return Err(other.unwrap_or(AudioFileError::NoSound)) };
            if page.first && page.packets.first().is_some_and(|packet| packet.starts_with(b"Speex")) {
                other = Some(AudioFileError::UnknownCoding { reason: "Speex in an Ogg file".to_owned() });
            }
            if page.first
                && let Some(headers) = headers(&mut pages, page)?
            {
                break headers;
            }
        };
        let decoder = decoder(&headers.coding)?;
        let mut ogg = Self {
            decoder,
            facts: Facts::default(),
            rate: headers.rate,
            waiting: VecDeque::new(),
            page: Page::default(),
            gathered: Vec::new(),
            scratch: Sound::default(),
            failed: None,
            doubted: None,
            base: None,
            at: 0,
            wanted: i64::MIN,
            passed: None,
            pages,
        };
        ogg.begin(headers.first);
        ogg.facts.promised = ogg.last_granule();
        Ok(ogg)
    }

    fn begin(&mut self, mut page: Page) {
        self.waiting = std::mem::take(&mut page.packets).into();
        self.page = page;
    }

    /// The count at the end of the stream, from the last page of the file.
    fn last_granule(&mut self) -> Option<u64> {
        let input = &mut self.pages.input;
        let here = input.position();
        input.seek(input.length().saturating_sub(TAIL).max(here));
        let tail = input.peek(TAIL as usize);
        let mut last = None;
        for at in 0..tail.len() {
            if tail[at] == b'O'
                && let Some(head) = page_head(&tail[at..])
                && Some(head.serial) == self.pages.serial
                && head.granule.is_some()
            {
                last = head.granule;
            }
        }
        input.seek(here);
        last.and_then(|last| u64::try_from(last).ok()).filter(|last| (1..MOST_COUNTED).contains(last))
    }

    /// Goes on to the next page; false at the end.
    fn turn(&mut self) -> Result<bool, String> {
        let Some(page) = self.pages.next() else { return Ok(false) };
        if page.first {
            // Another stream after this one, as live recordings have them.
            match headers(&mut self.pages, page) {
                Ok(Some(next)) if next.rate == self.rate => {
                    self.decoder = decoder(&next.coding).map_err(|error| error.to_string())?;
                    self.base = None;
                    self.passed = None;
                    self.facts.promised = None;
                    self.begin(next.first);
                }
                Ok(Some(_)) => return Err("another recording with another sample rate follows".to_owned()),
                Ok(None) => {}
                Err(error) => return Err(error.to_string()),
            }
        } else {
            if page.broken {
                self.decoder.reset();
                self.passed = None;
            }
            self.begin(page);
        }
        Ok(true)
    }

    /// Where the page's sound ends by its count; none where it has no count, or none that can be true.
    fn end(&self) -> Option<i64> {
        let (granule, base) = self.page.granule.zip(self.base)?;
        Some(granule.saturating_sub(base)).filter(|end| self.may_end(*end))
    }

    /// Whether what comes next can end there: not before what was heard already, nor more than a day behind it.
    fn may_end(&self, end: i64) -> bool {
        let day = i64::from(self.rate).saturating_mul(LONGEST_S.into());
        (self.at..=self.at.saturating_add(day)).contains(&end)
    }

    /// Whether the page's sound all lies before what is wanted.
    fn unwanted(&self) -> bool {
        self.end().is_some_and(|end| end <= self.wanted) && self.gathered.first().is_none_or(Vec::is_empty)
    }

    fn pass(&mut self) {
        if let Some(last) = self.waiting.pop_back() {
            self.passed = Some(last);
        }
        self.waiting.clear();
        if let Some(end) = self.end() {
            self.at = end;
        }
    }

    fn decode(&mut self, packet: Vec<u8>) {
        let packet = Packet::new(0, Timestamp::ZERO, Duration::ZERO, packet);
        match self.decoder.decode(&packet) {
            Ok(decoded) => {
                if copied(&decoded, &mut self.scratch) {
                    self.gathered.resize_with(self.scratch.rows.len().max(self.gathered.len()), Vec::new);
                    for (row, more) in self.gathered.iter_mut().zip(&self.scratch.rows) {
                        row.extend_from_slice(more);
                    }
                }
            }
            Err(Symphonia::DecodeError(reason)) => self.failed = Some(reason.to_owned()),
            Err(error) => self.failed = Some(error.to_string()),
        }
    }

    /// Gives the gathered sound its place: by the page's count where the page is complete.
    fn place(&mut self, sound: &mut Sound, complete: bool) -> Option<Step> {
        let frames = i64::try_from(self.gathered.first().map_or(0, Vec::len)).unwrap_or(i64::MAX);
        // A packet that failed leaves a gap somewhere on the page: what is there goes to its end.
        let failed = self.failed.take();
        if frames == 0 {
            let end = self.end().unwrap_or(self.at);
            return failed.map(|reason| self.lost(end, reason));
        }
        let mut at = self.at;
        if let Some(granule) = self.page.granule.filter(|_| complete) {
            let start = granule.saturating_sub(frames);
            match self.base {
                // The first page: what it counts too few lay before the music, or behind it where it is the last too.
                None if self.page.last => self.base = Some(at.saturating_neg()),
                None if start > 0 => self.base = Some(start.saturating_sub(at)),
                None => {
                    self.base = Some(at.saturating_neg());
                    at = start.saturating_add(at);
                }
                Some(base) if !self.page.last || self.page.broken => {
                    // No sound may get lost: a page that adds nothing to what was heard is counted wrongly.
                    match self.end().filter(|end| *end > at) {
                        Some(end) => at = end.saturating_sub(frames),
                        None => self.doubt(granule, base),
                    }
                }
                Some(_) => {}
            }
            if self.page.last
                && let Some(base) = self.base
            {
                match self.end() {
                    _ if self.doubted.is_some() => {}
                    Some(end) => {
                        let keep = usize::try_from(end.saturating_sub(at)).unwrap_or(0);
                        self.gathered.iter_mut().for_each(|row| row.truncate(keep));
                    }
                    None => self.doubt(granule, base),
                }
            }
        }
        std::mem::swap(&mut sound.rows, &mut self.gathered);
        self.gathered.iter_mut().for_each(Vec::clear);
        (sound.rate, sound.at) = (self.rate, at);
        self.at = at.saturating_add_unsigned(sound.frames() as u64);
        (sound.frames() > 0).then_some(Step::Sound)
    }

    /// Remembers that a page's count is not followed.
    fn doubt(&mut self, granule: i64, base: i64) {
        let (rate, number) = (f64::from(self.rate), self.pages.number);
        self.doubted = Some(format!(
            "page {number} ends at {:.2} s by its own count, which cannot be after {:.2} s; it was put right behind",
            (granule as f64 - base as f64) / rate,
            self.at as f64 / rate
        ));
    }

    /// What is missing up to `end`, as far as it can lie there.
    fn lost(&mut self, end: i64, reason: String) -> Step {
        let at = self.at;
        if self.may_end(end) {
            self.at = end;
        }
        let frames = u64::try_from(self.at.saturating_sub(at)).unwrap_or(0);
        Step::Lost { at, frames, reason }
    }
}

impl Track for Ogg {
    fn facts(&self) -> &Facts {
        &self.facts
    }

    fn next(&mut self, sound: &mut Sound) -> Step {
        loop {
            if let Some(reason) = self.doubted.take() {
                return Step::Lost { at: self.at, frames: 0, reason };
            }
            if self.unwanted() {
                self.pass();
            }
            if let Some(packet) = self.waiting.pop_front() {
                if let Some(before) = self.passed.take() {
                    self.decoder.reset();
                    self.decode(before);
                    self.gathered.iter_mut().for_each(Vec::clear);
                    self.failed = None;
                }
                self.decode(packet);
                let full = self.gathered.iter().map(Vec::len).sum::<usize>() > MOST;
                if full && let Some(step) = self.place(sound, false) {
                    return step;
                }
                if !self.waiting.is_empty() {
                    continue;
                }
                if let Some(step) = self.place(sound, true) {
                    return step;
                }
                continue;
            }
            match self.turn() {
                Ok(true) => {}
                Ok(false) if self.pages.input.trouble().is_some() => {
                    let reason = self.pages.input.trouble().unwrap_or_default();
                    return Step::Failed(reason.to_owned());
                }
                Ok(false) if std::mem::take(&mut self.pages.broken) => {
                    // The last page is there to be counted, but damaged.
                    let end = self.facts.promised.map_or(0, u64::cast_signed);
                    let end = end.saturating_sub(self.base.unwrap_or(0));
                    return self.lost(end, "the last page is damaged".to_owned());
                }
                Ok(false) => {
                    return Step::End((!self.page.last).then(|| "it ends before its last page".to_owned()));
                }
                Err(reason) => return Step::End(Some(reason)),
            }
        }
    }

    fn at(&self) -> i64 {
        self.at
    }

    fn pass_over(&mut self, frame: i64) {
        self.wanted = self.wanted.max(frame);
    }
}
