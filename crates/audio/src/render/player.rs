//! Notes through a SoundFont.

use super::{Instrument, NoteEvent};
use crate::loudness::{self, PEAK_CEILING, PRACTICE_LUFS};
use crate::{Clip, Decibels, Frames, SampleRate, Seconds};
use rustysynth::{SoundFont, Synthesizer, SynthesizerSettings};
use std::collections::BTreeMap;
use std::io::Cursor;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::Arc;

/// How long a clip goes on after its last note's end unless told otherwise: long enough for a damped string.
pub const TAIL_DEFAULT: f64 = 0.8;
/// Longest clip that is rendered, in seconds.
const LONGEST_S: f64 = 3600.0;
/// Most notes in one clip.
const MOST_NOTES: usize = 200_000;
/// Longest release after a note's end, in seconds; what still rings then is faded out.
const RELEASE_S: f64 = 4.0;
/// Fade at the end of a cut release and of the whole clip, in seconds.
const FADE_S: f64 = 0.010;
/// Frames to a block: a note's end is exact to this.
const BLOCK: usize = 16;
/// A release is over once it stays below this for [`QUIET_S`]: −80 dBFS at the synthesiser's output.
const QUIET: f32 = 1e-4;
/// See [`QUIET`], in seconds.
const QUIET_S: f64 = 0.1;
/// Rendered notes kept for their next appearance, in frames all together: 64 MB.
const CACHED_FRAMES: usize = 16 << 20;

/// Plays notes through one SoundFont.
#[derive(Clone, Debug)]
pub struct Player {
    font: Arc<SoundFont>,
}

/// Why bytes cannot be played through.
#[derive(Debug, thiserror::Error)]
#[non_exhaustive]
pub enum SoundFontError {
    /// The bytes are no SoundFont 2 file that can be read.
    #[error("not a SoundFont 2 file ({reason}); give an .sf2 file, not .sf3 or .sfz")]
    Unreadable {
        /// What the reader stumbled over.
        reason: String,
    },
}

/// Why notes could not be rendered.
#[derive(Clone, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum RenderError {
    /// A note's time is negative, not a number, or its length is not above zero.
    #[error(
        "note {index} starts at {onset_s} s and lasts {length_s} s; it must start at 0 s or later and last"
    )]
    BadTime {
        /// Which note of those given, from 0.
        index: usize,
        /// Its start, in seconds.
        onset_s: f64,
        /// Its length, in seconds.
        length_s: f64,
    },
    /// A MIDI number above 127, or a velocity that is 0 or above 127.
    #[error(
        "note {index} has MIDI number {midi} and velocity {velocity}; 0 to 127 and 1 to 127 can be played"
    )]
    BadNote {
        /// Which note of those given, from 0.
        index: usize,
        /// Its MIDI number.
        midi: u8,
        /// Its velocity.
        velocity: u8,
    },
    /// The clip would be longer than an hour.
    #[error("the sound would last {seconds:.0} s; at most {LONGEST_S:.0} s are rendered at a time")]
    TooLong {
        /// What it would last, in seconds.
        seconds: f64,
    },
    /// There are too many notes.
    #[error("{notes} notes are too many; at most {MOST_NOTES} are rendered at a time")]
    TooMany {
        /// How many were given.
        notes: usize,
    },
    /// The SoundFont has no such instrument.
    #[error("the SoundFont has no {instrument:?} (bank {bank}, program {program}); choose another SoundFont")]
    NoInstrument {
        /// What was wanted.
        instrument: Instrument,
        /// SoundFont bank.
        bank: i32,
        /// SoundFont program, counted from 0.
        program: i32,
    },
    /// The SoundFont's settings for a note lead the synthesiser out of its samples.
    #[error(
        "the SoundFont is damaged where it plays MIDI number {key} of {instrument:?}; choose another SoundFont"
    )]
    DamagedFont {
        /// What should have played it.
        instrument: Instrument,
        /// The MIDI number, or the drum's.
        key: i32,
    },
    /// The synthesiser does not work at this rate.
    #[error("{hz} Hz cannot be rendered; choose a rate from 16000 to 192000 Hz")]
    Rate {
        /// The rate asked for.
        hz: u32,
    },
}

/// Where an instrument lies in the font: bank, program and MIDI channel.
fn address(instrument: Instrument) -> (i32, i32, i32) {
    match instrument {
        Instrument::Bass => (0, 33, 0),
        Instrument::PickedBass => (0, 34, 1),
        Instrument::ElectricPiano => (0, 4, 2),
        Instrument::Drums | Instrument::Click => (128, 0, 9),
    }
}

/// High and low wood block in the General MIDI percussion key map.
const HIGH_BLOCK: i32 = 76;
const LOW_BLOCK: i32 = 77;
/// From this velocity up a click is accented.
const ACCENT: u8 = 100;

/// What makes two notes sound the same.
type Likeness = (Instrument, i32, u8, usize);

impl Player {
    /// Reads a SoundFont 2 file's bytes.
    ///
    /// # Errors
    /// [`SoundFontError`] says what is wrong with them.
    pub fn new(sf2: &[u8]) -> Result<Self, SoundFontError> {
        super::font_check::check(sf2)
            .map_err(|misfit| SoundFontError::Unreadable { reason: misfit.to_string() })?;
        let font = SoundFont::new(&mut Cursor::new(sf2))
            .map_err(|error| SoundFontError::Unreadable { reason: error.to_string() })?;
        Ok(Self { font: Arc::new(font) })
    }

    /// Renders `notes` in any order to one channel at practice loudness (−16 LUFS, peaks at most −1 dBFS).
    ///
    /// A note starts on the frame nearest to its `onset_s`; the clip lasts until `tail` after the end of the last note.
    ///
    /// # Errors
    /// [`RenderError`] names the note or the limit.
    pub fn play(&self, notes: &[NoteEvent], rate: SampleRate, tail: Seconds) -> Result<Clip, RenderError> {
        Ok(loudness::levelled(self.play_raw(notes, rate, tail)?, PRACTICE_LUFS, PEAK_CEILING))
    }

    /// As [`Self::play`], at the font's own level: for mixing, where one gain is chosen for the sum. May exceed ±1.
    ///
    /// # Errors
    /// [`RenderError`] names the note or the limit.
    pub fn play_raw(
        &self,
        notes: &[NoteEvent],
        rate: SampleRate,
        tail: Seconds,
    ) -> Result<Clip, RenderError> {
        let end_s = self.checked(notes)?;
        let seconds = end_s + tail.value().max(0.0);
        if seconds > LONGEST_S {
            return Err(RenderError::TooLong { seconds });
        }
        let mut synth = self.synthesiser(rate)?;
        let length = Frames::nearest(Seconds::saturating(seconds), rate).index();
        let mut sum = vec![0f32; length];
        let mut cache: BTreeMap<Likeness, Vec<f32>> = BTreeMap::new();
        let mut cached = 0;
        for note in notes {
            let start = Frames::nearest(Seconds::saturating(note.onset_s), rate).index();
            let held = Frames::nearest(Seconds::saturating(note.length_s), rate).index().max(1);
            let like = (note.instrument, key_of(note), note.velocity, held);
            let fresh;
            let sound = match cache.get(&like) {
                Some(sound) => sound,
                None => {
                    // The tables were checked when the font was read; a damaged pitch or offset shows only here, as a
                    // failed index inside the synthesiser, which is of no further use then.
                    let attempt = AssertUnwindSafe(|| sounded(&mut synth, like, rate));
                    fresh = catch_unwind(attempt)
                        .map_err(|_| RenderError::DamagedFont { instrument: note.instrument, key: like.1 })?;
                    if cached + fresh.len() <= CACHED_FRAMES {
                        cached += fresh.len();
                        cache.entry(like).or_insert(fresh)
                    } else {
                        &fresh
                    }
                }
            };
            for (out, sample) in sum.iter_mut().skip(start).zip(sound) {
                *out += sample;
            }
        }
        fade_out(&mut sum, rate);
        Ok(Clip::mono(rate, sum))
    }

    /// Checks all notes; gives the end of the last in seconds.
    fn checked(&self, notes: &[NoteEvent]) -> Result<f64, RenderError> {
        if notes.len() > MOST_NOTES {
            return Err(RenderError::TooMany { notes: notes.len() });
        }
        let mut end_s = 0f64;
        for (index, note) in notes.iter().enumerate() {
            let NoteEvent { onset_s, length_s, midi, velocity, instrument } = *note;
            if !(onset_s.is_finite() && length_s.is_finite() && onset_s >= 0.0 && length_s > 0.0) {
                return Err(RenderError::BadTime { index, onset_s, length_s });
            }
            if midi > 127 || !(1..=127).contains(&velocity) {
                return Err(RenderError::BadNote { index, midi, velocity });
            }
            let (bank, program, _) = address(instrument);
            let there =
                |p: &rustysynth::Preset| p.get_bank_number() == bank && p.get_patch_number() == program;
            if !self.font.get_presets().iter().any(there) {
                return Err(RenderError::NoInstrument { instrument, bank, program });
            }
            end_s = end_s.max(onset_s + length_s);
        }
        Ok(end_s)
    }

    fn synthesiser(&self, rate: SampleRate) -> Result<Synthesizer, RenderError> {
        let refused = RenderError::Rate { hz: rate.hz() };
        let Ok(hz) = i32::try_from(rate.hz()) else { return Err(refused) };
        let mut settings = SynthesizerSettings::new(hz);
        settings.block_size = BLOCK;
        settings.enable_reverb_and_chorus = false;
        Synthesizer::new(&self.font, &settings).map_err(|_| refused)
    }
}

fn key_of(note: &NoteEvent) -> i32 {
    match note.instrument {
        Instrument::Click if note.velocity >= ACCENT => HIGH_BLOCK,
        Instrument::Click => LOW_BLOCK,
        _ => i32::from(note.midi),
    }
}

/// One note alone from its start to the end of its release.
fn sounded(synth: &mut Synthesizer, like: Likeness, rate: SampleRate) -> Vec<f32> {
    let (instrument, key, velocity, held) = like;
    let (_, program, channel) = address(instrument);
    synth.reset();
    synth.process_midi_message(channel, 0xC0, program, 0);
    synth.note_on(channel, key, i32::from(velocity));
    let mut sound = Vec::new();
    extend(synth, &mut sound, held);
    synth.note_off(channel, key);
    let quiet = Frames::nearest(Seconds::saturating(QUIET_S), rate).index().max(1);
    let longest = held + Frames::nearest(Seconds::saturating(RELEASE_S), rate).index();
    while sound.len() < longest {
        extend(synth, &mut sound, quiet);
        if sound[sound.len() - quiet..].iter().all(|s| s.abs() < QUIET) {
            return sound;
        }
    }
    fade_out(&mut sound, rate);
    sound
}

/// Renders `frames` more frames onto `sound`, both channels' mean.
fn extend(synth: &mut Synthesizer, sound: &mut Vec<f32>, frames: usize) {
    let (mut left, mut right) = (vec![0f32; frames], vec![0f32; frames]);
    synth.render(&mut left, &mut right);
    sound.extend(left.iter().zip(&right).map(|(l, r)| 0.5 * (l + r)));
}

/// Fades the last [`FADE_S`] to silence, so that the cut does not click.
fn fade_out(sound: &mut [f32], rate: SampleRate) {
    let fade = Frames::nearest(Seconds::saturating(FADE_S), rate).index().min(sound.len());
    let start = sound.len() - fade;
    for (k, sample) in sound[start..].iter_mut().enumerate() {
        *sample *= 1.0 - (k + 1) as f32 / fade as f32;
    }
}

/// The clips laid over each other, each with its gain, as long as the longest; for backing under a riff.
///
/// The rate is that of the first clip; clips of another rate are resampled. Nothing is levelled: give the sum to
/// [`loudness::levelled`].
#[must_use]
pub fn mixed(parts: &[(&Clip, Decibels)]) -> Option<Clip> {
    let rate = parts.first()?.0.rate();
    let mut sum: Vec<f32> = Vec::new();
    for (clip, gain) in parts {
        let row = crate::resample::resampled(&clip.mixed_down(), clip.rate(), rate);
        if row.len() > sum.len() {
            sum.resize(row.len(), 0.0);
        }
        let factor = gain.to_amplitude() as f32;
        for (out, sample) in sum.iter_mut().zip(row) {
            *out += factor * sample;
        }
    }
    Some(Clip::mono(rate, sum))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::loudness::integrated_lufs;
    use crate::render::soundfont;

    fn player() -> Player {
        Player::new(soundfont()).expect("our own font")
    }

    fn bass(onset_s: f64, length_s: f64, midi: u8) -> NoteEvent {
        NoteEvent { onset_s, length_s, midi, velocity: 96, instrument: Instrument::Bass }
    }

    /// The same note at two instants is the same sound, shifted by exactly the frames between them.
    #[test]
    fn a_note_starts_on_its_frame() {
        let (player, rate, tail) = (player(), SampleRate::CD, Seconds::saturating(0.3));
        let at_zero = player.play_raw(&[bass(0.0, 0.2, 33)], rate, tail).expect("plays").mixed_down();
        for frame in [1usize, 17, 63, 64, 65, 1000, 44_101] {
            let onset_s = frame as f64 / rate.hz_f64();
            let later = player.play_raw(&[bass(onset_s, 0.2, 33)], rate, tail).expect("plays").mixed_down();
            assert!(later[..frame].iter().all(|s| *s == 0.0), "sound before frame {frame}");
            assert_eq!(later[frame..frame + 8_000], at_zero[..8_000], "frame {frame}");
        }
    }

    /// Clicks of two blocks, found by their energy: the distance between their starts is the beat, to the frame.
    #[test]
    fn clicks_are_a_beat_apart_to_the_frame() {
        let rate = SampleRate::STUDIO;
        let beat_s = 60.0 / 137.0;
        let bar: Vec<super::super::Beat> =
            (0..4).map(|_| super::super::Beat { length_s: beat_s, accented: false }).collect();
        let (clicks, _) = super::super::count_in(&bar, 2, 0.1);
        let clip = player().play_raw(&clicks, rate, Seconds::saturating(0.2)).expect("plays");
        let row = clip.mixed_down();
        let starts: Vec<usize> = (0..8)
            .map(|k| {
                let from = ((0.1 + beat_s * f64::from(k) - 0.02) * rate.hz_f64()) as usize;
                from + row[from..].iter().position(|s| s.abs() > 0.01).expect("a click")
            })
            .collect();
        let lead = starts[0] as f64 - 0.1 * rate.hz_f64();
        assert!((0.0..0.003 * rate.hz_f64()).contains(&lead), "block sounds {lead} frames late");
        for (k, start) in starts.iter().enumerate() {
            let want = (0.1 + beat_s * k as f64) * rate.hz_f64() + lead;
            assert!((*start as f64 - want).abs() <= 1.0, "click {k} at {start}, wanted {want}");
        }
    }

    #[test]
    fn a_riff_comes_out_at_practice_loudness_under_the_ceiling() {
        let (bar, player) = ([super::super::Beat { length_s: 0.5, accented: true }; 4], player());
        let (mut notes, start) = super::super::count_in(&bar, 1, 0.0);
        for (k, midi) in [31, 34, 36, 37, 36, 34, 31, 29].into_iter().enumerate() {
            notes.push(bass(start + 0.25 * k as f64, 0.22, midi));
        }
        let clip = player.play(&notes, SampleRate::CD, Seconds::saturating(TAIL_DEFAULT)).expect("plays");
        let lufs = integrated_lufs(&clip).expect("long enough");
        assert!((lufs + 16.0).abs() < 0.5, "{lufs}");
        assert!(Decibels::of_amplitude(f64::from(clip.peak())).0 <= -0.99);
    }

    /// A bass heard from a telephone's loudspeaker lives by its upper partials: a sixth of the open low E's energy must
    /// lie above 200 Hz (a working rule of ours, no source; a pure tone at that pitch would have 5 % past this filter).
    #[test]
    fn even_a_low_note_reaches_a_small_loudspeaker() {
        let rate = SampleRate::CD;
        let row = player().play_raw(&[bass(0.0, 1.0, 28)], rate, Seconds::ZERO).expect("plays").mixed_down();
        let mut low = 0f32;
        let keep = 1.0 - (-std::f32::consts::TAU * 200.0 / rate.hz() as f32).exp();
        let (mut above, mut all) = (0f64, 0f64);
        for sample in row {
            low += keep * (sample - low);
            above += f64::from((sample - low) * (sample - low));
            all += f64::from(sample * sample);
        }
        assert!(above / all > 1.0 / 6.0, "{}", above / all);
    }

    #[test]
    fn the_same_notes_give_the_same_samples() {
        let notes = [bass(0.0, 0.2, 40), bass(0.25, 0.2, 40), bass(0.5, 0.1, 43)];
        let play = || player().play(&notes, SampleRate::CD, Seconds::ZERO).expect("plays");
        assert_eq!(play(), play());
    }

    #[test]
    fn refuses_what_cannot_sound_and_says_which() {
        let player = player();
        let play = |note: NoteEvent| player.play(&[bass(0.0, 1.0, 40), note], SampleRate::CD, Seconds::ZERO);
        assert!(matches!(play(bass(-0.1, 1.0, 40)), Err(RenderError::BadTime { index: 1, .. })));
        assert!(matches!(play(bass(f64::NAN, 1.0, 40)), Err(RenderError::BadTime { index: 1, .. })));
        assert!(matches!(play(bass(0.0, 0.0, 40)), Err(RenderError::BadTime { index: 1, .. })));
        assert!(matches!(play(bass(0.0, 1.0, 128)), Err(RenderError::BadNote { index: 1, midi: 128, .. })));
        assert!(matches!(play(bass(9e9, 1.0, 40)), Err(RenderError::TooLong { .. })));
        let slow = SampleRate::new(8_000).expect("in range");
        assert!(matches!(
            player.play(&[], slow, Seconds::ZERO).map(|c| c.peak()),
            Err(RenderError::Rate { hz: 8_000 })
        ));
    }

    #[test]
    fn no_notes_are_the_tail_alone() {
        let clip = player().play(&[], SampleRate::CD, Seconds::saturating(0.5)).expect("plays");
        assert_eq!((clip.frames(), clip.peak()), (Frames(22_050), 0.0));
    }

    #[test]
    fn garbage_is_no_soundfont() {
        for bytes in [&b""[..], b"RIFF", b"not a font at all", &soundfont()[..1000]] {
            assert!(Player::new(bytes).is_err());
        }
    }
}
