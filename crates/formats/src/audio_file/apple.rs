//! The headers of AIFF and CAF files with uncoded samples.
//!
//! *Audio Interchange File Format* 1.3 (Apple 1989), AIFF-C draft (Apple 1991); *Apple Core Audio Format
//! Specification* 1.0 (2011).

use super::AudioFileError;
use super::numbers::{be16, be32, be64};
use super::pcm::{Coding, Layout};
use super::source::Input;

/// Reads the header of an AIFF or AIFF-C file, which begins where the input stands.
pub(super) fn aiff(input: &mut Input) -> Result<Layout, AudioFileError> {
    let broken = |reason: &str| AudioFileError::BadHeader { kind: "AIFF", reason: reason.to_owned() };
    let packed = match input.peek(12).get(8..) {
        Some(b"AIFF") => false,
        Some(b"AIFC") => true,
        _ => return Err(broken("the form is neither AIFF nor AIFC")),
    };
    input.consume(12);
    let (mut common, mut data) = (None, None);
    while common.is_none() || data.is_none() {
        let head = input.peek(8);
        let (Some(kind), Some(size)) = (head.first_chunk::<4>().copied(), be32(head, 4)) else {
            return Err(broken(if common.is_none() {
                "there is no COMM chunk"
            } else {
                "there is no SSND chunk"
            }));
        };
        input.consume(8);
        let start = input.position();
        match &kind {
            b"COMM" => {
                let chunk = input.peek((size as usize).min(22));
                common = Some(
                    common_chunk(chunk, packed).ok_or_else(|| broken("the COMM chunk is too short"))??,
                );
            }
            b"SSND" => {
                let offset = be32(input.peek(8), 0).ok_or_else(|| broken("the SSND chunk is too short"))?;
                data = Some((
                    start + 8 + u64::from(offset),
                    u64::from(size).saturating_sub(8 + u64::from(offset)),
                ));
            }
            _ => {}
        }
        input.seek(start.saturating_add(u64::from(size) + u64::from(size & 1)));
    }
    let (Some((coding, channels, rate)), Some((start, promised))) = (common, data) else {
        return Err(broken("there is no sound"));
    };
    // A recorder that was switched off left the size of its data at nothing.
    let promised = (promised > 0).then_some(promised);
    Ok(Layout { coding, channels, rate, start, promised })
}

/// Coding, channels and rate; none where the chunk is too short.
fn common_chunk(chunk: &[u8], packed: bool) -> Option<Result<(Coding, usize, u32), AudioFileError>> {
    let (channels, bits) = (be16(chunk, 0)?, be16(chunk, 6)?);
    let rate = extended(chunk.get(8..)?.first_chunk()?);
    let big = !packed || chunk.get(18..22)? != b"sowt";
    let signed = match bits {
        1..=32 => Ok(Coding::Signed { bytes: usize::from(bits).div_ceil(8), big }),
        bits => Err(format!("samples of {bits} bits in an AIFF file")),
    };
    let coding = if packed {
        match chunk.get(18..22)? {
            b"NONE" | b"twos" | b"sowt" | b"in24" | b"in32" => signed,
            b"raw " => Ok(Coding::Unsigned8),
            b"fl32" | b"FL32" => Ok(Coding::Float32 { big }),
            b"fl64" | b"FL64" => Ok(Coding::Float64 { big }),
            b"alaw" | b"ALAW" => Ok(Coding::ALaw),
            b"ulaw" | b"ULAW" => Ok(Coding::MuLaw),
            other => Err(format!("coding “{}” in an AIFF file", String::from_utf8_lossy(other))),
        }
    } else {
        signed
    };
    Some(match coding {
        Ok(coding) => Ok((coding, usize::from(channels), rate)),
        Err(reason) => Err(AudioFileError::UnknownCoding { reason }),
    })
}

/// A sample rate in IEEE 754 extended precision (80 bits), rounded; 0 where it is none.
fn extended(bytes: &[u8; 10]) -> u32 {
    let exponent = i32::from(u16::from_be_bytes([bytes[0], bytes[1]]) & 0x7FFF) - 16_383 - 63;
    let mantissa = bytes[2..].iter().fold(0u64, |sum, byte| sum << 8 | u64::from(*byte));
    let rate = mantissa as f64 * 2f64.powi(exponent);
    if bytes[0] & 0x80 == 0 && rate < f64::from(u32::MAX) { rate.round() as u32 } else { 0 }
}

/// Reads the header of a CAF file, which begins where the input stands.
pub(super) fn caf(input: &mut Input) -> Result<Layout, AudioFileError> {
    let broken = |reason: &str| AudioFileError::BadHeader { kind: "CAF", reason: reason.to_owned() };
    input.consume(8);
    let mut description = None;
    loop {
        let head = input.peek(12);
        let (Some(kind), Some(size)) = (head.first_chunk::<4>().copied(), be64(head, 4)) else {
            return Err(broken("there is no data chunk"));
        };
        input.consume(12);
        let start = input.position();
        match &kind {
            b"desc" => {
                let chunk = input.peek(32);
                description =
                    Some(caf_description(chunk).ok_or_else(|| broken("the desc chunk is too short"))??);
            }
            b"data" => {
                let (coding, channels, rate) = description.ok_or_else(|| broken("there is no desc chunk"))?;
                // Four bytes of edit count stand before the samples; −1 means up to the end of the file.
                let promised = (size != u64::MAX).then(|| size.saturating_sub(4));
                return Ok(Layout { coding, channels, rate, start: start + 4, promised });
            }
            _ => {}
        }
        input.seek(start.saturating_add(size));
    }
}

fn caf_description(chunk: &[u8]) -> Option<Result<(Coding, usize, u32), AudioFileError>> {
    let rate = f64::from_be_bytes(*chunk.first_chunk()?);
    let (kind, flags) = (chunk.get(8..12)?, be32(chunk, 12)?);
    let (packet, frames, channels, bits) =
        (be32(chunk, 16)?, be32(chunk, 20)?, be32(chunk, 24)?, be32(chunk, 28)?);
    let (float, big) = (flags & 1 != 0, flags & 2 == 0);
    let width = packet.checked_div(channels).unwrap_or(0);
    let coding = match (kind, float, bits) {
        (b"lpcm", true, 32) => Ok(Coding::Float32 { big }),
        (b"lpcm", true, 64) => Ok(Coding::Float64 { big }),
        (b"lpcm", false, 1..=32) if frames == 1 && (bits.div_ceil(8)..=4).contains(&width) => {
            Ok(Coding::Signed { bytes: width as usize, big })
        }
        (b"alaw", ..) => Ok(Coding::ALaw),
        (b"ulaw", ..) => Ok(Coding::MuLaw),
        (b"lpcm", _, bits) => Err(format!("samples of {bits} bits in a CAF file")),
        (other, ..) => Err(format!("coding “{}” in a CAF file", String::from_utf8_lossy(other))),
    };
    Some(match coding {
        Ok(coding) => Ok((coding, channels as usize, rate.round() as u32)),
        Err(reason) => Err(AudioFileError::UnknownCoding { reason }),
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// 44 100 Hz as AIFF files hold it: 400E AC44 0000 0000 0000 (Apple 1989, appendix).
    #[test]
    fn rates_of_80_bits() {
        let hz = |head: [u8; 4]| extended(&[head[0], head[1], head[2], head[3], 0, 0, 0, 0, 0, 0]);
        assert_eq!(hz([0x40, 0x0E, 0xAC, 0x44]), 44_100);
        assert_eq!(hz([0x40, 0x0E, 0xBB, 0x80]), 48_000);
        assert_eq!(hz([0x40, 0x0B, 0xFA, 0x00]), 8_000);
        assert_eq!((hz([0xC0, 0x0E, 0xAC, 0x44]), hz([0x7F, 0xFF, 0xFF, 0xFF]), hz([0; 4])), (0, 0, 0));
    }
}
