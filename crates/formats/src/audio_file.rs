//! Encoded sound to and from clips: WAV, FLAC, MP3, Ogg Vorbis and AAC (in MP4/M4A) in; 16-bit WAV out.
//!
//! The kind is told from the bytes, never from a file's name. What the encoder put before and after the music is cut
//! away where the file says how much that is: by the decoder for MP3 (LAME tag) and Ogg (granule positions), and here
//! for MP4, whose edit list (ISO/IEC 14496-12:2015, 8.6.6) the demuxer passes over.

use riffkin_audio::{Clip, NotAClip, NotASampleRate, SampleRate};
use std::io::Cursor;
use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::codecs::audio::AudioDecoderOptions;
use symphonia::core::errors::Error as Symphonia;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

/// Longest recording taken, in seconds: three hours.
pub const LONGEST_S: u32 = 3 * 3600;
/// Most samples taken, over all channels: 2 GiB of `f32`; three hours in mono at 48 kHz, half that in stereo.
pub const MOST_SAMPLES: usize = 1 << 29;
/// Most samples taken for each byte of a file, besides [`FREE_SAMPLES`]: a small file that unpacks to hours of silence
/// is no recording. The thinnest real coding, MP3 at 8 kbit/s and 24 kHz, has 24.
pub const SAMPLES_PER_BYTE: usize = 32;
/// Samples taken however small the file is: a minute and a half in mono at 48 kHz.
pub const FREE_SAMPLES: usize = 1 << 22;
/// Packets in a row that bring no sound before a file counts as broken.
const BARREN: usize = 10_000;

/// Something in a recording that was mended or left out.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum Warning {
    /// The file ends before the length that it promises.
    #[error("the file breaks off: {heard_s:.2} s of the promised {promised_s:.2} s are there")]
    CutShort {
        /// What could be decoded, in seconds.
        heard_s: f64,
        /// What the file's header says, in seconds.
        promised_s: f64,
    },
    /// The file breaks off in the middle of a packet; no length was promised.
    #[error("the file breaks off after {heard_s:.2} s: {reason}")]
    BrokenOff {
        /// What could be decoded, in seconds.
        heard_s: f64,
        /// What the decoder said.
        reason: String,
    },
    /// Some packets could not be decoded and became silence, so that what follows keeps its time.
    #[error("{packets} damaged places, the first at {first_s:.2} s, were replaced by silence: {reason}")]
    Damaged {
        /// How many packets.
        packets: usize,
        /// Where the first was, in seconds.
        first_s: f64,
        /// What the decoder said of the first.
        reason: String,
    },
    /// There were more than two channels; their mean was taken.
    #[error("{channels} channels were mixed to one")]
    MixedDown {
        /// How many channels the file has.
        channels: usize,
    },
    /// There is more than one sound track; the first was taken.
    #[error("the file has {tracks} sound tracks; the first was taken")]
    OtherTracks {
        /// How many sound tracks there are.
        tracks: usize,
    },
    /// The decoder's rate or channel count changed on the way; what followed was left out.
    #[error("the sound changes its format after {heard_s:.2} s; the rest was left out")]
    FormatChange {
        /// What was decoded until then, in seconds.
        heard_s: f64,
    },
}

/// Why bytes could not be turned into sound.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum AudioFileError {
    /// There are no bytes.
    #[error("the file is empty (0 bytes)")]
    Empty,
    /// The bytes are of no known kind.
    #[error(
        "not a recording that can be read ({bytes} bytes, beginning {beginning}): {reason}; give WAV, FLAC, MP3, Ogg Vorbis or AAC (M4A)"
    )]
    UnknownKind {
        /// How many bytes there are.
        bytes: usize,
        /// The first bytes in hexadecimal.
        beginning: String,
        /// What the reader stumbled over.
        reason: String,
    },
    /// The file is of a known kind but carries no sound track.
    #[error("the file has no sound track")]
    NoSound,
    /// The sound is coded in a way that cannot be decoded.
    #[error("the sound's coding cannot be read: {reason}; convert the file to WAV")]
    UnknownCoding {
        /// What the decoder said.
        reason: String,
    },
    /// Not one sample could be decoded.
    #[error("no sound could be decoded from {bytes} bytes: {reason}")]
    NothingDecoded {
        /// How many bytes there are.
        bytes: usize,
        /// What went wrong first.
        reason: String,
    },
    /// The recording is longer than can be taken.
    #[error("the recording is longer than {limit}; cut it and try the parts")]
    TooLong {
        /// The limit that was passed, in words.
        limit: String,
    },
    /// The sample rate is of no use.
    #[error(transparent)]
    Rate(#[from] NotASampleRate),
    /// The decoded samples are no clip.
    #[error(transparent)]
    Samples(#[from] NotAClip),
}

/// Decodes a recording: one or two channels, at the file's own rate, full scale at ±1.
///
/// # Errors
/// [`AudioFileError`] says what is wrong and what to do. A file that breaks off or has damaged places gives what could
/// be decoded with a [`Warning`], as long as there was any sound.
pub fn decode(bytes: &[u8]) -> Result<(Clip, Vec<Warning>), AudioFileError> {
    if bytes.is_empty() {
        return Err(AudioFileError::Empty);
    }
    let source = Box::new(Cursor::new(bytes.to_vec()));
    let stream = MediaSourceStream::new(source, MediaSourceStreamOptions::default());
    let probe = symphonia::default::get_probe();
    let mut file = probe
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(|error| unknown_kind(bytes, &error))?;

    let mut warnings = Vec::new();
    let tracks =
        file.tracks().iter().filter(|t| t.codec_params.as_ref().is_some_and(|p| p.audio().is_some()));
    let tracks = tracks.count();
    if tracks > 1 {
        warnings.push(Warning::OtherTracks { tracks });
    }
    let track = file.default_track(TrackType::Audio).ok_or(AudioFileError::NoSound)?;
    let id = track.id;
    let promised = track.num_frames;
    let coding = track.codec_params.as_ref().and_then(|p| p.audio()).ok_or(AudioFileError::NoSound)?;
    let mut decoder = symphonia::default::get_codecs()
        .make_audio_decoder(coding, &AudioDecoderOptions::default())
        .map_err(|error| AudioFileError::UnknownCoding { reason: error.to_string() })?;

    let mut taken = Taken { most: most_samples(bytes.len()), ..Taken::default() };
    let mut damage: Option<(usize, usize, String)> = None;
    let mut broken_off = None;
    let mut barren = 0;
    loop {
        let packet = match file.next_packet() {
            Ok(Some(packet)) => packet,
            Ok(None) => break,
            Err(error) => {
                broken_off = Some(error.to_string());
                break;
            }
        };
        barren += 1;
        if barren > BARREN {
            broken_off = Some(format!("{BARREN} packets in a row without sound"));
            break;
        }
        if packet.track_id != id {
            continue;
        }
        match decoder.decode(&packet) {
            Ok(sound) => {
                if sound.frames() > 0 {
                    barren = 0;
                }
                if !taken.take(&sound)? {
                    warnings.push(Warning::FormatChange { heard_s: taken.seconds() });
                    break;
                }
            }
            Err(Symphonia::DecodeError(_) | Symphonia::IoError(_)) if taken.rate.is_none() => {
                damage = Some(note_damage(damage, 0, "the first packets cannot be decoded".to_owned()));
            }
            Err(error @ (Symphonia::DecodeError(_) | Symphonia::IoError(_))) => {
                damage = Some(note_damage(damage, taken.frames(), error.to_string()));
                let lost = usize::try_from(packet.dur.get()).unwrap_or(usize::MAX);
                taken.silence(lost.min(MOST_SAMPLES))?;
            }
            Err(error) => {
                broken_off = Some(error.to_string());
                break;
            }
        }
    }
    let Some(rate) = taken.rate.filter(|_| taken.frames() > 0) else {
        let reason = broken_off.or(damage.map(|d| d.2)).unwrap_or_else(|| "it holds no samples".to_owned());
        return Err(AudioFileError::NothingDecoded { bytes: bytes.len(), reason });
    };
    let rate = SampleRate::new(rate)?;
    if taken.channels_in_file > 2 {
        warnings.push(Warning::MixedDown { channels: taken.channels_in_file });
    }
    if let Some((packets, frame, reason)) = damage {
        warnings.push(Warning::Damaged { packets, first_s: frame as f64 / rate.hz_f64(), reason });
    }
    let heard_s = taken.frames() as f64 / rate.hz_f64();
    let promised_s = promised.unwrap_or(0) as f64 / rate.hz_f64();
    // A decoder may lawfully give a frame of its own less than the header counts.
    if promised.is_some() && promised_s - heard_s > 0.1 {
        warnings.push(Warning::CutShort { heard_s, promised_s });
    } else if let Some(reason) = broken_off {
        warnings.push(Warning::BrokenOff { heard_s, reason });
    }
    if let Some(edit) = mp4_edit(bytes) {
        taken.cut(&edit, rate);
    }
    Ok((Clip::new(rate, taken.rows)?, warnings))
}

fn unknown_kind(bytes: &[u8], error: &Symphonia) -> AudioFileError {
    let beginning = bytes.iter().take(8).map(|b| format!("{b:02x}")).collect::<Vec<_>>().join(" ");
    AudioFileError::UnknownKind { bytes: bytes.len(), beginning, reason: error.to_string() }
}

fn note_damage(
    before: Option<(usize, usize, String)>,
    frame: usize,
    reason: String,
) -> (usize, usize, String) {
    match before {
        Some((packets, first, why)) => (packets + 1, first, why),
        None => (1, frame, reason),
    }
}

/// Most samples, over all channels, that a file of so many bytes may hold.
fn most_samples(bytes: usize) -> usize {
    bytes.saturating_mul(SAMPLES_PER_BYTE).saturating_add(FREE_SAMPLES).min(MOST_SAMPLES)
}

/// What has been decoded so far.
#[derive(Default)]
struct Taken {
    most: usize,
    rate: Option<u32>,
    channels_in_file: usize,
    rows: Vec<Vec<f32>>,
    packet: Vec<Vec<f32>>,
}

impl Taken {
    fn frames(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }

    fn seconds(&self) -> f64 {
        self.frames() as f64 / f64::from(self.rate.unwrap_or(1))
    }

    /// Adds a decoded packet; false where its rate or channels differ from what came before.
    fn take(&mut self, sound: &GenericAudioBufferRef<'_>) -> Result<bool, AudioFileError> {
        let (rate, channels) = (sound.spec().rate(), sound.spec().channels().count());
        if channels == 0 {
            return Ok(true);
        }
        if self.rate.is_none() {
            self.rate = Some(rate);
            self.channels_in_file = channels;
            self.rows = vec![Vec::new(); if channels == 2 { 2 } else { 1 }];
        } else if (self.rate, self.channels_in_file) != (Some(rate), channels) {
            return Ok(false);
        }
        self.room_for(sound.frames())?;
        sound.copy_to_vecs_planar(&mut self.packet);
        if channels <= 2 {
            for (row, new) in self.rows.iter_mut().zip(&self.packet) {
                row.extend(new.iter().map(|s| if s.is_finite() { *s } else { 0.0 }));
            }
        } else if let Some(row) = self.rows.first_mut() {
            for frame in 0..sound.frames() {
                let sum: f32 = self.packet.iter().filter_map(|new| new.get(frame)).sum();
                row.push(if sum.is_finite() { sum / channels as f32 } else { 0.0 });
            }
        }
        Ok(true)
    }

    fn silence(&mut self, frames: usize) -> Result<(), AudioFileError> {
        self.room_for(frames)?;
        for row in &mut self.rows {
            row.resize(row.len() + frames, 0.0);
        }
        Ok(())
    }

    fn room_for(&self, more: usize) -> Result<(), AudioFileError> {
        let frames = self.frames().saturating_add(more);
        if frames as f64 / f64::from(self.rate.unwrap_or(1)) > f64::from(LONGEST_S) {
            return Err(AudioFileError::TooLong { limit: format!("{} hours", LONGEST_S / 3600) });
        }
        if frames.saturating_mul(self.rows.len()) > self.most {
            return Err(AudioFileError::TooLong {
                limit: format!("{} samples over all channels, the most for a file of this size", self.most),
            });
        }
        Ok(())
    }

    /// Keeps only what the edit list presents.
    fn cut(&mut self, edit: &Mp4Edit, rate: SampleRate) {
        let frames = |s: f64| (s * rate.hz_f64()).round() as usize;
        let start = frames(edit.start_s);
        if start >= self.frames() {
            return;
        }
        for row in &mut self.rows {
            row.drain(..start);
            if edit.length_s > 0.0 {
                row.truncate(frames(edit.length_s).max(1));
            }
        }
    }
}

/// The one stretch of an MP4 sound track that is to be heard.
#[derive(Debug, PartialEq)]
struct Mp4Edit {
    /// Where it starts, in seconds of the decoded track.
    start_s: f64,
    /// How long it is, in seconds; 0 means to the end.
    length_s: f64,
}

/// The edit list of the first sound track of an MP4 file, where it has exactly one edit that plays at normal speed.
/// Boxes after ISO/IEC 14496-12:2015: `mvhd` 8.2.2, `hdlr` 8.4.3, `mdhd` 8.4.2, `elst` 8.6.6.
fn mp4_edit(file: &[u8]) -> Option<Mp4Edit> {
    if file.get(4..8)? != b"ftyp" {
        return None;
    }
    let moov = mp4_box(file, b"moov")?;
    let movie_scale = timescale(mp4_box(moov, b"mvhd")?)?;
    let track = mp4_boxes(moov).filter(|(kind, _)| *kind == b"trak").map(|(_, body)| body).find(|trak| {
        mp4_box(trak, b"mdia")
            .and_then(|mdia| mp4_box(mdia, b"hdlr"))
            .and_then(|hdlr| hdlr.get(8..12))
            .is_some_and(|handler| handler == b"soun")
    })?;
    let media_scale = timescale(mp4_box(mp4_box(track, b"mdia")?, b"mdhd")?)?;
    let list = mp4_box(mp4_box(track, b"edts")?, b"elst")?;
    let (wide, entries) = (list.first()? == &1, be32(list, 4)?);
    let (length, start) = if wide {
        (be64(list, 8)?, be64(list, 16)?)
    } else {
        (be32(list, 8)?.into(), be32(list, 12)?.into())
    };
    let empty_edit = if wide { u64::MAX } else { u32::MAX.into() };
    if entries != 1 || start == empty_edit {
        return None;
    }
    Some(Mp4Edit { start_s: start as f64 / media_scale, length_s: length as f64 / movie_scale })
}

/// The boxes lying side by side in `bytes`: kind and body.
fn mp4_boxes(bytes: &[u8]) -> impl Iterator<Item = (&[u8; 4], &[u8])> {
    let mut rest = bytes;
    std::iter::from_fn(move || {
        let (size, kind) = (be32(rest, 0)?, rest.get(4..8)?.first_chunk::<4>()?);
        let (head, size) = match size {
            0 => (8, rest.len()),
            1 => (16, usize::try_from(be64(rest, 8)?).ok()?),
            n => (8, n as usize),
        };
        let body = rest.get(head..size.min(rest.len()))?;
        rest = rest.get(size..).unwrap_or(&[]);
        Some((kind, body))
    })
}

fn mp4_box<'a>(bytes: &'a [u8], wanted: &[u8; 4]) -> Option<&'a [u8]> {
    mp4_boxes(bytes).find(|(kind, _)| *kind == wanted).map(|(_, body)| body)
}

/// Ticks a second of an `mvhd` or `mdhd` box.
fn timescale(header: &[u8]) -> Option<f64> {
    let ticks = be32(header, if header.first()? == &1 { 20 } else { 12 })?;
    (ticks > 0).then(|| f64::from(ticks))
}

fn be32(bytes: &[u8], at: usize) -> Option<u32> {
    bytes.get(at..)?.first_chunk::<4>().map(|b| u32::from_be_bytes(*b))
}

fn be64(bytes: &[u8], at: usize) -> Option<u64> {
    bytes.get(at..)?.first_chunk::<8>().map(|b| u64::from_be_bytes(*b))
}

/// Why a clip could not be written as WAV.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum WavError {
    /// A WAV file's sizes are 32-bit numbers.
    #[error("{samples} samples are more than a WAV file holds (4 GiB)")]
    TooLong {
        /// How many samples there are over all channels.
        samples: u64,
    },
    /// The writer refused.
    #[error("the WAV file could not be written: {reason}")]
    Refused {
        /// What it said.
        reason: String,
    },
}

/// The clip as a WAV file of 16-bit PCM. Samples beyond ±1 are clipped; 1.0 becomes 32767.
///
/// # Errors
/// [`WavError`] for more samples than the format can count.
pub fn wav(clip: &Clip) -> Result<Vec<u8>, WavError> {
    let channels = clip.channels().len();
    let samples = clip.frames().0 * channels as u64;
    let too_long = WavError::TooLong { samples };
    if samples * 2 > u64::from(u32::MAX) - 100 {
        return Err(too_long);
    }
    let spec = hound::WavSpec {
        channels: u16::try_from(channels).map_err(|_| too_long)?,
        sample_rate: clip.rate().hz(),
        bits_per_sample: 16,
        sample_format: hound::SampleFormat::Int,
    };
    let refused = |error: hound::Error| WavError::Refused { reason: error.to_string() };
    let mut bytes = Vec::new();
    let mut writer = hound::WavWriter::new(Cursor::new(&mut bytes), spec).map_err(refused)?;
    for frame in 0..clip.frames().index() {
        for row in clip.channels() {
            let sample = f64::from(row[frame]).clamp(-1.0, 1.0) * f64::from(i16::MAX);
            writer.write_sample(sample.round() as i16).map_err(refused)?;
        }
    }
    writer.finalize().map_err(refused)?;
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(seconds: f64, channels: usize) -> Clip {
        let rate = SampleRate::CD;
        let row = |phase: f64| {
            (0..(seconds * rate.hz_f64()) as usize)
                .map(|k| {
                    (0.5 * (std::f64::consts::TAU * 110.0 * k as f64 / rate.hz_f64() + phase).sin()) as f32
                })
                .collect()
        };
        Clip::new(rate, (0..channels).map(|c| row(c as f64)).collect()).expect("finite")
    }

    /// Multimedia Programming Interface and Data Specifications 1.0 (IBM/Microsoft 1991): the canonical 44-byte header.
    #[test]
    fn a_small_file_cannot_hold_hours() {
        assert_eq!(most_samples(0), FREE_SAMPLES);
        // Three hours of the thinnest coding, 8 kbit/s at 24 kHz, are within; three hours in a mebibyte are not.
        assert!(most_samples(3 * 3600 * 1000) > 3 * 3600 * 24_000);
        assert!(most_samples(1 << 20) < 3600 * 24_000);
        assert_eq!(most_samples(usize::MAX), MOST_SAMPLES);
    }

    #[test]
    fn the_header_is_the_canonical_one() {
        let bytes = wav(&tone(0.5, 2)).expect("short");
        assert_eq!((&bytes[..4], &bytes[8..16]), (&b"RIFF"[..], &b"WAVEfmt "[..]));
        assert_eq!(bytes[16..36], [16, 0, 0, 0, 1, 0, 2, 0, 0x44, 0xAC, 0, 0, 0x10, 0xB1, 2, 0, 4, 0, 16, 0]);
        assert_eq!(&bytes[36..40], b"data");
        assert_eq!(bytes.len(), 44 + 22_050 * 4);
    }

    #[test]
    fn a_wav_comes_back_within_half_a_step() {
        for channels in [1, 2] {
            let clip = tone(0.3, channels);
            let (back, warnings) = decode(&wav(&clip).expect("short")).expect("own file");
            assert_eq!((back.rate(), back.frames(), warnings), (clip.rate(), clip.frames(), vec![]));
            for (row, want) in back.channels().iter().zip(clip.channels()) {
                // 16 bits are written against 32767 and read against 32768.
                assert!(row.iter().zip(want).all(|(a, b)| (a - b).abs() < 1.0 / 32_000.0));
            }
        }
    }

    #[test]
    fn more_than_two_channels_are_mixed_and_reported() {
        let (back, warnings) = decode(&wav(&tone(0.1, 3)).expect("short")).expect("own file");
        assert_eq!(back.channels().len(), 1);
        assert_eq!(warnings, [Warning::MixedDown { channels: 3 }]);
    }

    #[test]
    fn what_is_no_recording_says_so() {
        assert_eq!(decode(&[]), Err(AudioFileError::Empty));
        for bytes in [&b"x"[..], b"Dear class, please practise.", b"RIFF", &[0; 4096], &[0xFF; 4096]] {
            let error = decode(bytes).expect_err("no recording");
            assert!(
                matches!(error, AudioFileError::UnknownKind { .. } | AudioFileError::NothingDecoded { .. }),
                "{error}"
            );
        }
        let header = &wav(&tone(0.1, 1)).expect("short")[..44];
        assert!(matches!(decode(header), Err(AudioFileError::NothingDecoded { bytes: 44, .. })));
    }

    #[test]
    fn a_file_that_breaks_off_gives_its_beginning_and_a_warning() {
        let whole = wav(&tone(1.0, 1)).expect("short");
        let (clip, warnings) = decode(&whole[..44 + 44_100]).expect("half of it is there");
        assert_eq!(clip.frames().0, 22_050);
        assert!(
            matches!(warnings[..], [Warning::CutShort { heard_s, promised_s }]
                if (heard_s - 0.5).abs() < 0.01 && (promised_s - 1.0).abs() < 0.01),
            "{warnings:?}"
        );
    }

    fn boxed(kind: &[u8; 4], body: &[u8]) -> Vec<u8> {
        [&(body.len() as u32 + 8).to_be_bytes()[..], kind, body].concat()
    }

    fn mp4(movie_scale: u32, media_scale: u32, elst: &[u8]) -> Vec<u8> {
        let scale = |s: u32| [&[0u8; 12][..], &s.to_be_bytes(), &[0; 4]].concat();
        let hdlr = [&[0u8; 8][..], b"soun", &[0; 12]].concat();
        let mdia = [boxed(b"mdhd", &scale(media_scale)), boxed(b"hdlr", &hdlr)].concat();
        let trak = [boxed(b"edts", &boxed(b"elst", elst)), boxed(b"mdia", &mdia)].concat();
        let moov = [boxed(b"mvhd", &scale(movie_scale)), boxed(b"trak", &trak)].concat();
        [boxed(b"ftyp", b"M4A "), boxed(b"moov", &moov)].concat()
    }

    /// An edit list of version 0: one entry, 2000 ticks of a 1000-tick movie, from tick 1024 of a 44 100-tick track.
    #[test]
    fn an_edit_list_is_read_in_its_two_timescales() {
        let elst = [0u32, 1, 2000, 1024, 0x0001_0000].map(u32::to_be_bytes).concat();
        let edit = mp4_edit(&mp4(1000, 44_100, &elst)).expect("one edit");
        assert_eq!(edit, Mp4Edit { start_s: 1024.0 / 44_100.0, length_s: 2.0 });
        let empty = [0u32, 1, 2000, u32::MAX, 0x0001_0000].map(u32::to_be_bytes).concat();
        assert_eq!(mp4_edit(&mp4(1000, 44_100, &empty)), None);
        assert_eq!(mp4_edit(&mp4(0, 44_100, &elst)), None);
        for cut in 0..60 {
            let whole = mp4(1000, 44_100, &elst);
            let _ = mp4_edit(&whole[..whole.len() - cut]);
        }
    }
}
