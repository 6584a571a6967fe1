//! Coded packets through a decoder.

use std::collections::VecDeque;
use symphonia::core::audio::GenericAudioBufferRef;
use symphonia::core::codecs::audio::well_known::CODEC_ID_AAC;
use symphonia::core::codecs::audio::{AudioCodecParameters, AudioDecoder, AudioDecoderOptions};
use symphonia::core::packet::Packet;

use super::AudioFileError;
use super::track::{Facts, Sound, Step, Track};

/// One packet of a sound track.
pub(super) struct Coded {
    /// The packet itself.
    pub(super) packet: Packet,
    /// Where its first frame lies, in frames from the first that is to be heard, where the file says so.
    pub(super) at: Option<i64>,
    /// How many frames it decodes to, as far as can be told beforehand.
    pub(super) frames: u64,
}

/// What came of asking for a packet.
pub(super) enum Next {
    /// Here it is.
    Packet(Coded),
    /// About so many frames are missing here.
    Lost {
        /// How many.
        frames: u64,
        /// Why.
        reason: String,
    },
    /// The source could not be read on.
    Failed(String),
    /// That was all; with a reason where it ended before its time.
    End(Option<String>),
}

/// The packets of one sound track in their order.
pub(super) trait Packets: Send + Sync {
    /// The next one.
    fn next(&mut self) -> Next;
}

/// A decoder for a coding.
pub(super) fn decoder(coding: &AudioCodecParameters) -> Result<Box<dyn AudioDecoder>, AudioFileError> {
    let made = symphonia::default::get_codecs().make_audio_decoder(coding, &AudioDecoderOptions::default());
    made.map_err(|error| {
        let reason = match coding.codec {
            CODEC_ID_AAC => {
                "AAC other than LC with one or two channels, such as HE-AAC or surround sound".to_owned()
            }
            _ => error.to_string(),
        };
        AudioFileError::UnknownCoding { reason }
    })
}

/// Copies decoded sound; false where it has no channel or no frame.
pub(super) fn copied(from: &GenericAudioBufferRef<'_>, to: &mut Sound) -> bool {
    if from.spec().channels().count() == 0 || from.frames() == 0 {
        return false;
    }
    to.rate = from.spec().rate();
    from.copy_to_vecs_planar(&mut to.rows);
    true
}

/// A track of packets that are decoded one by one.
pub(super) struct CodedTrack<P> {
    packets: P,
    decoder: Box<dyn AudioDecoder>,
    facts: Facts,
    /// Where the next packet's first frame lies.
    at: i64,
    /// Nothing before this frame is wanted.
    wanted: i64,
    /// How many packets the decoder must have seen before one that is wanted.
    warm_up: usize,
    /// Packets passed over, the last few of them.
    passed: VecDeque<Packet>,
    /// Whether any packet has been passed over since the last one decoded.
    cold: bool,
}

impl<P: Packets> CodedTrack<P> {
    /// A track from its packets; `warm_up` says how many packets before it shape the sound of one.
    pub(super) fn new(packets: P, decoder: Box<dyn AudioDecoder>, warm_up: usize, facts: Facts) -> Self {
        let at = facts.start;
        Self { packets, decoder, facts, at, wanted: i64::MIN, warm_up, passed: VecDeque::new(), cold: false }
    }

    /// Decodes what was passed over last, without keeping the sound.
    fn warm(&mut self) {
        if self.cold {
            self.decoder.reset();
            for packet in self.passed.drain(..) {
                // A packet that fails here was not wanted.
                let _ = self.decoder.decode(&packet);
            }
            self.cold = false;
        }
    }
}

impl<P: Packets> Track for CodedTrack<P> {
    fn facts(&self) -> &Facts {
        &self.facts
    }

    fn next(&mut self, sound: &mut Sound) -> Step {
        loop {
            let Coded { packet, at, frames } = match self.packets.next() {
                Next::Packet(coded) => coded,
                Next::Lost { frames, reason } => {
                    let at = self.at;
                    self.at = at.saturating_add_unsigned(frames);
                    return Step::Lost { at, frames, reason };
                }
                Next::Failed(reason) => return Step::Failed(reason),
                Next::End(reason) => return Step::End(reason),
            };
            let at = at.unwrap_or(self.at);
            self.at = at.saturating_add_unsigned(frames);
            if self.at <= self.wanted {
                self.passed.push_back(packet);
                if self.passed.len() > self.warm_up {
                    self.passed.pop_front();
                }
                self.cold = true;
                continue;
            }
            self.warm();
            match self.decoder.decode(&packet) {
                Ok(decoded) => {
                    if copied(&decoded, sound) {
                        sound.at = at;
                        self.at = at.saturating_add_unsigned(sound.frames() as u64);
                        return Step::Sound;
                    }
                }
                // Whatever a damaged packet seems to ask for, the next one may be sound.
                Err(error) => return Step::Lost { at, frames, reason: error.to_string() },
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
