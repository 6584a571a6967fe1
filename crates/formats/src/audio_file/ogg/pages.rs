//! The pages of an Ogg stream, put together to packets.

use crate::audio_file::source::Input;

/// A page's head without its table of segments.
const HEAD: usize = 27;
/// The longest page.
const LONGEST: usize = HEAD + 255 + 255 * 255;
/// Longest packet put together from pages, in bytes.
const LONGEST_PACKET: usize = 1 << 24;

/// A page without its packets.
#[derive(Clone, Copy, Debug)]
pub(super) struct PageHead {
    pub(super) continued: bool,
    pub(super) first: bool,
    pub(super) last: bool,
    /// Frames up to the end of the last packet that ends here; none where none does.
    pub(super) granule: Option<i64>,
    pub(super) serial: u32,
    pub(super) number: u32,
    pub(super) segments: usize,
    /// Bytes of the whole page.
    pub(super) bytes: usize,
}

/// Reads a page's head with its table; none where it is no page, or not whole.
pub(super) fn page_head(bytes: &[u8]) -> Option<PageHead> {
    let head = bytes.first_chunk::<HEAD>()?;
    if !head.starts_with(b"OggS\0") {
        return None;
    }
    let segments = usize::from(head[26]);
    let table = bytes.get(HEAD..HEAD + segments)?;
    let granule = i64::from_le_bytes(*head[6..].first_chunk()?);
    Some(PageHead {
        continued: head[5] & 1 != 0,
        first: head[5] & 2 != 0,
        last: head[5] & 4 != 0,
        granule: (granule >= 0).then_some(granule),
        serial: u32::from_le_bytes(*head[14..].first_chunk()?),
        number: u32::from_le_bytes(*head[18..].first_chunk()?),
        segments,
        bytes: HEAD + segments + table.iter().map(|b| usize::from(*b)).sum::<usize>(),
    })
}

/// Whether a page is as it was written; one that the file's end cuts off counts, as nothing can be told of it.
fn whole(bytes: &[u8], head: &PageHead) -> bool {
    let sum = bytes.get(22..26).and_then(|b| b.first_chunk()).map(|b| u32::from_le_bytes(*b));
    bytes.get(..head.bytes).is_none_or(|page| sum == Some(checksum(page)))
}

/// RFC 3533: polynomial 0x04C11DB7, nothing reflected, no start or end value, the checksum's own place zero.
fn checksum(page: &[u8]) -> u32 {
    page.iter().enumerate().fold(0, |sum, (at, byte)| {
        let byte = if (22..26).contains(&at) { 0 } else { *byte };
        (sum << 8) ^ CRC[usize::from((sum >> 24) as u8 ^ byte)]
    })
}

const CRC: [u32; 256] = {
    let mut table = [0; 256];
    let mut k = 0;
    while k < 256 {
        let mut sum = (k as u32) << 24;
        let mut bit = 0;
        while bit < 8 {
            sum = if sum >> 31 == 1 { (sum << 1) ^ 0x04C1_1DB7 } else { sum << 1 };
            bit += 1;
        }
        table[k] = sum;
        k += 1;
    }
    table
};

/// The packets that end on one page of the stream.
#[derive(Default)]
pub(super) struct Page {
    pub(super) packets: Vec<Vec<u8>>,
    pub(super) granule: Option<i64>,
    pub(super) first: bool,
    pub(super) last: bool,
    /// Whether pages are missing before it.
    pub(super) broken: bool,
}

/// Pages put together to packets.
pub(super) struct Pages {
    pub(super) input: Input,
    pub(super) serial: Option<u32>,
    pub(super) number: u32,
    /// The beginning of a packet that goes on on the next page.
    pub(super) part: Vec<u8>,
    /// Whether something was lost since the last page.
    pub(super) broken: bool,
}

impl Pages {
    /// The next page of the stream, or the first of another.
    pub(super) fn next(&mut self) -> Option<Page> {
        loop {
            let bytes = self.input.peek(LONGEST + 4);
            if bytes.is_empty() {
                return None;
            }
            // Among damage, what looks like a page is summed up only where another stands behind it.
            let broken = self.broken;
            let near =
                |head: &PageHead| !broken || bytes.get(head.bytes..).is_none_or(|b| b.starts_with(b"OggS"));
            let Some(head) = page_head(bytes).filter(|head| near(head) && whole(bytes, head)) else {
                let step = bytes.iter().skip(1).position(|b| *b == b'O').map_or(bytes.len(), |k| k + 1);
                self.input.consume(step as u64);
                self.broken = true;
                continue;
            };
            let table: Vec<u8> = bytes[HEAD..HEAD + head.segments].to_vec();
            let body = bytes[HEAD + head.segments..head.bytes.min(bytes.len())].to_vec();
            self.input.consume(head.bytes as u64);
            if head.first {
                (self.serial, self.number, self.broken) = (Some(head.serial), head.number, false);
                self.part.clear();
            } else if self.serial != Some(head.serial) {
                continue;
            } else {
                self.broken |= head.number != self.number.wrapping_add(1);
                self.number = head.number;
            }
            return Some(self.packets(&head, &table, &body));
        }
    }

    fn packets(&mut self, head: &PageHead, table: &[u8], body: &[u8]) -> Page {
        let broken = std::mem::take(&mut self.broken);
        // A page that is cut off ends somewhere within what it counts.
        let cut = head.segments + HEAD + body.len() < head.bytes;
        let granule = head.granule.filter(|_| !cut);
        let mut page =
            Page { granule, first: head.first, last: head.last && !cut, broken, ..Page::default() };
        if broken || !head.continued {
            self.part.clear();
        }
        // The end of a packet whose beginning was lost is of no use.
        let mut headless = head.continued && self.part.is_empty();
        let mut at = 0;
        for lace in table {
            let end = at + usize::from(*lace);
            let Some(piece) = body.get(at..end) else { break };
            self.part.extend_from_slice(piece);
            at = end;
            if *lace < 255 {
                let packet = std::mem::take(&mut self.part);
                if !std::mem::take(&mut headless) {
                    page.packets.push(packet);
                }
            } else if self.part.len() > LONGEST_PACKET {
                self.part.clear();
                headless = true;
            }
        }
        page
    }
}
