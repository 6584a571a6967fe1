//! Files whose packets symphonia finds: FLAC and MP4.

use std::io::ErrorKind;
use symphonia::core::codecs::audio::well_known::{CODEC_ID_AAC, CODEC_ID_FLAC, CODEC_ID_OPUS};
use symphonia::core::errors::Error as Symphonia;
use symphonia::core::formats::probe::Hint;
use symphonia::core::formats::{FormatOptions, FormatReader, TrackType};
use symphonia::core::io::{MediaSourceStream, MediaSourceStreamOptions};
use symphonia::core::meta::MetadataOptions;

use super::adts;
use super::coded::{Coded, CodedTrack, Next, Packets, decoder};
use super::mp4;
use super::source::Input;
use super::track::{Facts, Track};
use super::{AudioFileError, Warning};

/// Packets of other tracks in a row before a file counts as broken.
const BARREN: usize = 10_000;

/// How a packet's place and length are known.
#[derive(Clone, Copy)]
enum Clock {
    /// By its time stamp, which counts frames.
    Stamped,
    /// It follows on the one before; so many frames in each.
    Even(u64),
    /// It follows on the one before; its length is in ticks, this many frames to each.
    Ticks(f64),
}

struct Boxed {
    file: Box<dyn FormatReader>,
    track: u32,
    /// Whether the file ends within a box.
    cut: bool,
    clock: Clock,
}

impl Packets for Boxed {
    fn next(&mut self) -> Next {
        for _ in 0..BARREN {
            let packet = match self.file.next_packet() {
                Ok(Some(packet)) => packet,
                Ok(None) => return Next::End(self.cut.then(|| "it ends in the middle of a box".to_owned())),
                Err(Symphonia::IoError(error)) if error.kind() != ErrorKind::UnexpectedEof => {
                    return Next::Failed(error.to_string());
                }
                Err(Symphonia::IoError(_)) => {
                    return Next::End(Some("it ends in the middle of a packet".to_owned()));
                }
                Err(error) => return Next::End(Some(error.to_string())),
            };
            if packet.track_id == self.track {
                let (at, frames) = match self.clock {
                    Clock::Stamped => (Some(packet.pts.get()), packet.dur.get()),
                    Clock::Even(frames) => (None, frames),
                    Clock::Ticks(frames) => (None, (packet.dur.get() as f64 * frames).round() as u64),
                };
                return Next::Packet(Coded { packet, at, frames });
            }
        }
        Next::End(Some(format!("{BARREN} packets in a row without sound")))
    }
}

/// The sound track of a FLAC or MP4 file that begins at byte `start`.
pub(super) fn track(mut input: Input, start: u64) -> Result<Box<dyn Track>, AudioFileError> {
    input.seek(start);
    let movie = mp4::read(&mut input, start);
    let bytes = input.length();
    let stream =
        MediaSourceStream::new(Box::new(input.into_part(start)), MediaSourceStreamOptions::default());
    let file = symphonia::default::get_probe()
        .probe(&Hint::new(), stream, FormatOptions::default(), MetadataOptions::default())
        .map_err(|error| mp4::or_else(movie.as_ref(), bytes, &error))?;

    let sounds =
        file.tracks().iter().filter(|t| t.codec_params.as_ref().is_some_and(|p| p.audio().is_some()));
    let tracks = sounds.count();
    let mut facts = Facts::default();
    if tracks > 1 {
        facts.warnings.push(Warning::OtherTracks { tracks });
    }
    let track = file.default_track(TrackType::Audio).ok_or(AudioFileError::NoSound)?;
    let coding = track.codec_params.as_ref().and_then(|p| p.audio()).ok_or(AudioFileError::NoSound)?.clone();
    if coding.codec == CODEC_ID_OPUS {
        return Err(AudioFileError::Opus);
    }
    let id = track.id;
    facts.promised = track.num_frames.filter(|frames| *frames > 0);
    let decoder = decoder(&coding)?;
    // A header has no room for rates beyond 65 535 Hz; the decoder knows.
    let rate = decoder.codec_params().sample_rate.or(coding.sample_rate).map_or(0.0, f64::from);
    let ticks =
        track.time_base.map_or(rate, |base| f64::from(base.denom.get()) / f64::from(base.numer.get()));

    let aac = coding.codec == CODEC_ID_AAC;
    let clock = match coding.codec {
        _ if aac => Clock::Even(adts::FRAMES),
        CODEC_ID_FLAC if movie.is_none() => Clock::Stamped,
        _ => Clock::Ticks(rate / ticks.max(1.0)),
    };
    if let Some(movie) = &movie {
        movie.place(&mut facts, rate, aac);
    }
    let warm_up = if aac { adts::WARM_UP } else { 0 };
    let cut = movie.is_some_and(|movie| movie.cut);
    Ok(Box::new(CodedTrack::new(Boxed { file, track: id, cut, clock }, decoder, warm_up, facts)))
}
