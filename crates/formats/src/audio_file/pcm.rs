//! Samples that lie in a file uncoded, one frame after the other, as WAV, AIFF and CAF hold them.

use super::source::Input;
use super::track::{Facts, Sound, Step, Track};
use super::{AudioFileError, Warning};

/// Most channels taken; more are surely a damaged header.
pub(super) const MOST_CHANNELS: usize = 64;

/// How one sample is written.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Coding {
    /// One byte, 128 means zero.
    Unsigned8,
    /// Two's complement in 1 to 4 bytes, full scale whatever the width.
    Signed {
        /// Bytes a sample, 1 to 4.
        bytes: usize,
        /// Whether the first byte is the most significant one.
        big: bool,
    },
    /// IEEE 754, 4 bytes.
    Float32 {
        /// Whether the first byte is the most significant one.
        big: bool,
    },
    /// IEEE 754, 8 bytes.
    Float64 {
        /// Whether the first byte is the most significant one.
        big: bool,
    },
    /// ITU-T G.711 A-law, one byte.
    ALaw,
    /// ITU-T G.711 µ-law, one byte.
    MuLaw,
}

impl Coding {
    /// Bytes a sample.
    pub(super) fn bytes(self) -> usize {
        match self {
            Self::Unsigned8 | Self::ALaw | Self::MuLaw => 1,
            Self::Signed { bytes, .. } => bytes,
            Self::Float32 { .. } => 4,
            Self::Float64 { .. } => 8,
        }
    }

    /// Appends every `channels`-th sample of `frames`, from the first on, to `row`.
    fn read(self, frames: &[u8], channels: usize, channel: usize, row: &mut Vec<f32>) {
        let width = self.bytes();
        let samples = frames.chunks_exact(width).skip(channel).step_by(channels);
        match self {
            Self::Unsigned8 => row.extend(samples.map(|b| (f32::from(b[0]) - 128.0) / 128.0)),
            Self::Signed { bytes: 2, big: false } => {
                row.extend(samples.map(|b| f32::from(i16::from_le_bytes([b[0], b[1]])) / 32_768.0));
            }
            Self::Signed { big, .. } => row.extend(samples.map(|b| {
                // Into the upper bytes of 32 bits, so that every width has the same full scale.
                let mut wide = [0; 4];
                if big {
                    wide[..width].copy_from_slice(b);
                    i32::from_be_bytes(wide) as f32 / 2_147_483_648.0
                } else {
                    wide[4 - width..].copy_from_slice(b);
                    i32::from_le_bytes(wide) as f32 / 2_147_483_648.0
                }
            })),
            Self::Float32 { big } => row.extend(samples.map(|b| {
                let bits = [b[0], b[1], b[2], b[3]];
                if big { f32::from_be_bytes(bits) } else { f32::from_le_bytes(bits) }
            })),
            Self::Float64 { big } => row.extend(samples.map(|b| {
                let bits = [b[0], b[1], b[2], b[3], b[4], b[5], b[6], b[7]];
                (if big { f64::from_be_bytes(bits) } else { f64::from_le_bytes(bits) }) as f32
            })),
            Self::ALaw => row.extend(samples.map(|b| a_law(b[0]))),
            Self::MuLaw => row.extend(samples.map(|b| mu_law(b[0]))),
        }
    }
}

/// ITU-T G.711 (1988), A-law: sign, three bits of segment, four of step; even bits inverted. Full scale is 1.
fn a_law(byte: u8) -> f32 {
    let code = byte ^ 0x55;
    let (segment, step) = ((code >> 4) & 7, i32::from(code & 0x0F));
    let size = if segment == 0 { 2 * step + 1 } else { (2 * step + 33) << (segment - 1) };
    let size = size as f32 / 4096.0;
    if code & 0x80 == 0 { -size } else { size }
}

/// ITU-T G.711 (1988), µ-law: all bits inverted, a bias of 33. Full scale is 1.
fn mu_law(byte: u8) -> f32 {
    let code = !byte;
    let (segment, step) = ((code >> 4) & 7, i32::from(code & 0x0F));
    let size = (((2 * step + 33) << segment) - 33) as f32 / 8192.0;
    if code & 0x80 == 0 { size } else { -size }
}

/// Where the samples of a file lie and how they are written.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Layout {
    /// How one sample is written.
    pub(super) coding: Coding,
    /// Channels, at least one.
    pub(super) channels: usize,
    /// Samples a second.
    pub(super) rate: u32,
    /// Where in the file the first sample lies.
    pub(super) start: u64,
    /// How many bytes of samples the header promises; none where it leaves that open.
    pub(super) promised: Option<u64>,
}

/// A track of uncoded samples.
pub(super) struct Pcm {
    input: Input,
    layout: Layout,
    facts: Facts,
    /// The frame that comes next.
    frame: u64,
    /// Frames that are there.
    frames: u64,
}

impl Pcm {
    /// Starts at the first sample.
    pub(super) fn new(
        mut input: Input,
        layout: Layout,
        mut warnings: Vec<Warning>,
    ) -> Result<Self, AudioFileError> {
        if layout.channels == 0 || layout.channels > MOST_CHANNELS {
            return Err(AudioFileError::UnknownCoding {
                reason: format!("{} channels, where 1 to {MOST_CHANNELS} can be", layout.channels),
            });
        }
        let frame_bytes = (layout.coding.bytes() * layout.channels) as u64;
        let rest = input.length().saturating_sub(layout.start);
        let there = layout.promised.map_or(rest, |promised| promised.min(rest)) / frame_bytes;
        let promised = layout.promised.map_or(there, |promised| promised / frame_bytes);
        if promised > there {
            let seconds = |frames: u64| frames as f64 / f64::from(layout.rate.max(1));
            warnings.push(Warning::CutShort { heard_s: seconds(there), promised_s: seconds(promised) });
        }
        input.seek(layout.start);
        let facts = Facts { promised: Some(there), firm: true, warnings, ..Facts::default() };
        Ok(Self { input, layout, facts, frame: 0, frames: there })
    }
}

impl Track for Pcm {
    fn facts(&self) -> &Facts {
        &self.facts
    }

    fn next(&mut self, sound: &mut Sound) -> Step {
        let (coding, channels) = (self.layout.coding, self.layout.channels);
        let frame_bytes = coding.bytes() * channels;
        let wanted = ((1 << 16) / frame_bytes).max(1) as u64;
        let wanted = wanted.min(self.frames - self.frame.min(self.frames)) as usize * frame_bytes;
        let bytes = self.input.peek(wanted);
        let bytes = &bytes[..bytes.len() / frame_bytes * frame_bytes];
        if bytes.is_empty() {
            return self.input.trouble().map_or(Step::End(None), |reason| Step::Failed(reason.to_owned()));
        }
        sound.rows.resize_with(channels, Vec::new);
        for (channel, row) in sound.rows.iter_mut().enumerate() {
            row.clear();
            coding.read(bytes, channels, channel, row);
        }
        let read = bytes.len();
        (sound.rate, sound.at) = (self.layout.rate, self.frame.cast_signed());
        self.frame += (read / frame_bytes) as u64;
        self.input.consume(read as u64);
        Step::Sound
    }

    fn at(&self) -> i64 {
        self.frame.cast_signed()
    }

    fn pass_over(&mut self, frame: i64) {
        let frame = u64::try_from(frame).unwrap_or(0).min(self.frames);
        if frame > self.frame {
            let frame_bytes = (self.layout.coding.bytes() * self.layout.channels) as u64;
            self.input.seek(self.layout.start + frame * frame_bytes);
            self.frame = frame;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn read(coding: Coding, bytes: &[u8]) -> Vec<f32> {
        let mut row = Vec::new();
        coding.read(bytes, 1, 0, &mut row);
        row
    }

    #[test]
    fn every_width_has_the_same_full_scale() {
        assert_eq!(read(Coding::Unsigned8, &[0, 128, 192]), [-1.0, 0.0, 0.5]);
        assert_eq!(read(Coding::Signed { bytes: 1, big: true }, &[0x80, 0x40]), [-1.0, 0.5]);
        for bytes in 2..=4 {
            let (mut low, mut half) = (vec![0; bytes], vec![0; bytes]);
            (low[bytes - 1], half[bytes - 1]) = (0x80, 0x40);
            let mut both = [low, half].concat();
            assert_eq!(read(Coding::Signed { bytes, big: false }, &both), [-1.0, 0.5]);
            both[..bytes].reverse();
            both[bytes..].reverse();
            assert_eq!(read(Coding::Signed { bytes, big: true }, &both), [-1.0, 0.5]);
        }
        assert_eq!(read(Coding::Float32 { big: true }, &0.25f32.to_be_bytes()), [0.25]);
        assert_eq!(read(Coding::Float64 { big: false }, &(-0.25f64).to_le_bytes()), [-0.25]);
    }

    /// ITU-T G.711 (1988), tables 1a to 2b: A-law 0xD5 is +1 and 0xAA the positive end 4032 of 4096; µ-law 0xFF is 0,
    /// 0x80 the positive end 8031 of 8159 (full scale here 8192) and 0x8F 4191.
    #[test]
    fn the_telephone_codes_follow_the_printed_tables() {
        assert_eq!(
            read(Coding::ALaw, &[0xD5, 0x55, 0xAA, 0x2A]),
            [1.0, -1.0, 4032.0, -4032.0].map(|s| s / 4096.0)
        );
        assert_eq!(
            read(Coding::MuLaw, &[0xFF, 0x80, 0x00, 0x8F]),
            [0.0, 8031.0, -8031.0, 4191.0].map(|s| s / 8192.0)
        );
    }

    #[test]
    fn channels_are_taken_apart() {
        let mut row = Vec::new();
        Coding::Unsigned8.read(&[128, 0, 192, 128, 0, 192], 3, 2, &mut row);
        assert_eq!(row, [0.5, 0.5]);
    }
}
