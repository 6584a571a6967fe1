//! A recording read block by block, its time kept true to the sample.

use riffkin_audio::{Frames, SampleRate};

use super::kind;
use super::source::{Input, Source};
use super::track::{Sound, Step, Track};
use super::{AudioFileError, Warning};

/// Longest recording taken, in seconds: a day.
pub const LONGEST_S: u32 = 24 * 3600;
/// Blocks a second at least; a block is never longer than 32 768 frames.
const BLOCKS_A_SECOND: u32 = 2;
/// Largest sample that can be meant, at full scale 1; some programs write 16-bit numbers as floats.
const LARGEST: f32 = 1e6;
/// Damaged places in a row, without any sound between them, before a file counts as broken.
const BARREN: usize = 10_000;
/// A file whose first sound stands later than so many seconds is a piece cut out of a longer one.
const LATEST_S: i64 = 10;
/// Frames that an encoder may have put behind the music: what goes on longer is music too.
const PADDING: i64 = 4 * 1152;

/// Damaged places so far.
#[derive(Clone, Debug)]
struct Damage {
    places: usize,
    first: i64,
    frames: u64,
    reason: String,
}

/// A recording that is decoded as it is read: one or two channels, at the file's own rate, full scale at ±1.
///
/// Frame 0 is the first that was recorded: what an encoder put before the music is left out, and damaged places become
/// silence of their own length, as far as it is known. Memory does not grow with the recording's length.
pub struct Reader {
    track: Box<dyn Track>,
    rate: SampleRate,
    channels_in_file: usize,
    channels: usize,
    /// How many frames there are to hear, where that is known.
    length: Option<u64>,
    /// Where the track's own count begins; 0 unless the file is a piece cut out of a longer one.
    base: i64,
    /// Where the next decoded frame belongs.
    next: i64,
    /// Where the next frame after `silence` and `ready` belongs; what lies before is not given out any more.
    due: i64,
    /// Silence to give out before `ready`.
    silence: u64,
    /// Decoded frames to give out, from `given` on.
    ready: Vec<Vec<f32>>,
    given: usize,
    sound: Sound,
    damage: Option<Damage>,
    not_numbers: Option<(usize, i64)>,
    warnings: Vec<Warning>,
    ended: bool,
    any: bool,
}

impl std::fmt::Debug for Reader {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let mut shown = f.debug_struct("Reader");
        shown.field("rate", &self.rate).field("channels", &self.channels).field("frames", &self.length);
        shown.field("position", &self.position()).finish_non_exhaustive()
    }
}

impl Reader {
    /// Opens a recording and decodes its beginning. The kind is told from the bytes, never from a name.
    ///
    /// # Errors
    /// [`AudioFileError`] says what is wrong and what to do. A file that breaks off or has damaged places is read as
    /// far as it goes, with a [`Warning`], as long as there is any sound.
    pub fn open(source: Box<dyn Source>) -> Result<Self, AudioFileError> {
        let unreadable = |error: std::io::Error| AudioFileError::Unreadable { reason: error.to_string() };
        let input = Input::new(source).map_err(unreadable)?;
        if input.length() == 0 {
            return Err(AudioFileError::Empty);
        }
        let bytes = usize::try_from(input.length()).unwrap_or(usize::MAX);
        let track = kind::open(input)?;
        let facts = track.facts().clone();
        let mut reader = Self {
            track,
            rate: SampleRate::CD,
            channels_in_file: 0,
            channels: 1,
            length: facts.promised,
            base: 0,
            next: facts.start,
            due: 0,
            silence: 0,
            ready: Vec::new(),
            given: 0,
            sound: Sound::default(),
            damage: None,
            not_numbers: None,
            warnings: facts.warnings,
            ended: false,
            any: false,
        };
        // Rate and channels are those of the sound itself; a header may be mistaken.
        while !reader.ended && reader.left() == 0 {
            reader.decode()?;
        }
        if reader.left() == 0 {
            let broken = reader.warnings.iter().rev().find_map(|warning| match warning {
                Warning::BrokenOff { reason, .. } | Warning::ReadFailed { reason, .. } => {
                    Some(reason.clone())
                }
                _ => None,
            });
            let reason = broken.or(reader.damage.map(|damage| damage.reason));
            let reason = reason.unwrap_or_else(|| "it holds no samples".to_owned());
            return Err(AudioFileError::NothingDecoded { bytes, reason });
        }
        if reader.channels_in_file > 2 {
            reader.warnings.push(Warning::MixedDown { channels: reader.channels_in_file });
        }
        Ok(reader)
    }

    /// Samples a second.
    #[must_use]
    pub fn rate(&self) -> SampleRate {
        self.rate
    }

    /// How many channels a block has: those of the file, or one where it has more than two, which then are mixed.
    #[must_use]
    pub fn channels(&self) -> usize {
        self.channels
    }

    /// How many frames there are to hear, where the file says so and has them.
    #[must_use]
    pub fn frames(&self) -> Option<Frames> {
        self.length.map(Frames)
    }

    /// Where the next block begins, in frames from the first that was recorded.
    #[must_use]
    pub fn position(&self) -> Frames {
        let waiting = (self.left() as u64).saturating_add(self.silence);
        Frames(self.due.max(0).cast_unsigned().saturating_sub(waiting))
    }

    /// What was mended or left out so far; complete once [`Self::next_block`] has said that there is no more.
    #[must_use]
    pub fn warnings(&self) -> Vec<Warning> {
        let seconds = |frame: i64| frame.max(0) as f64 / self.rate.hz_f64();
        let mut warnings = self.warnings.clone();
        if let Some(damage) = &self.damage {
            warnings.push(Warning::Damaged {
                packets: damage.places,
                first_s: seconds(damage.first),
                silent_s: damage.frames as f64 / self.rate.hz_f64(),
                reason: damage.reason.clone(),
            });
        }
        if let Some((samples, first)) = self.not_numbers {
            warnings.push(Warning::NotNumbers { samples, first_s: seconds(first) });
        }
        warnings
    }

    /// Reads the next block: at most half a second. `into` becomes one row of samples for each channel, all of one
    /// length; its rows are used again. False, with empty rows, when there is no more.
    ///
    /// # Errors
    /// [`AudioFileError::TooLong`] beyond [`LONGEST_S`].
    pub fn next_block(&mut self, into: &mut Vec<Vec<f32>>) -> Result<bool, AudioFileError> {
        let block = (self.rate.hz() / BLOCKS_A_SECOND).min(1 << 15) as usize;
        into.resize_with(self.channels, Vec::new);
        into.iter_mut().for_each(Vec::clear);
        loop {
            let room = block - into.first().map_or(0, Vec::len);
            if room == 0 {
                break;
            }
            if self.silence > 0 {
                let quiet = self.silence.min(room as u64);
                self.silence -= quiet;
                into.iter_mut().for_each(|row| row.resize(row.len() + quiet as usize, 0.0));
            } else if self.left() > 0 {
                let some = self.left().min(room);
                for (row, ready) in into.iter_mut().zip(&self.ready) {
                    row.extend_from_slice(&ready[self.given..self.given + some]);
                }
                self.given += some;
            } else if self.ended {
                break;
            } else {
                self.decode()?;
            }
        }
        Ok(into.first().is_some_and(|row| !row.is_empty()))
    }

    /// Goes forward so that the next block begins at `to`, and says where it does begin: earlier only where the
    /// recording ends before, later only where that place has been read already.
    ///
    /// Nothing between is decoded, but packets have to be found one after the other in most kinds of file.
    ///
    /// # Errors
    /// [`AudioFileError::TooLong`] beyond [`LONGEST_S`].
    pub fn skip_to(&mut self, to: Frames) -> Result<Frames, AudioFileError> {
        let to = i64::try_from(to.0).unwrap_or(i64::MAX);
        let here = self.position().0.cast_signed();
        if to <= here {
            return Ok(Frames(here.cast_unsigned()));
        }
        let mut over = (to - here).cast_unsigned();
        let quiet = self.silence.min(over);
        self.silence -= quiet;
        over -= quiet;
        let some = self.left().min(usize::try_from(over).unwrap_or(usize::MAX));
        self.given += some;
        if over > some as u64 {
            self.due = to;
            self.next = self.next.max(to);
            self.track.pass_over(to.saturating_add(self.base));
            while !self.ended && self.left() == 0 && self.silence == 0 {
                self.decode()?;
            }
            if self.left() == 0 && self.silence == 0 {
                self.due = self.reached().clamp(here, to);
            }
        }
        Ok(self.position())
    }

    /// Decoded frames waiting to be given out.
    fn left(&self) -> usize {
        self.ready.first().map_or(0, Vec::len) - self.given
    }

    /// Decodes one more piece; only called when nothing waits.
    fn decode(&mut self) -> Result<(), AudioFileError> {
        self.ready.iter_mut().for_each(Vec::clear);
        self.given = 0;
        for _ in 0..BARREN {
            match self.track.next(&mut self.sound) {
                Step::Sound => {
                    if !self.any {
                        self.settle()?;
                    } else if (self.sound.rate, self.sound.rows.len())
                        != (self.rate.hz(), self.channels_in_file)
                    {
                        self.warnings.push(Warning::FormatChange { heard_s: self.heard_s() });
                        self.ended = true;
                        return Ok(());
                    }
                    self.any = true;
                    return self.take();
                }
                Step::Lost { at, frames, reason } => {
                    self.lose(at.saturating_sub(self.base), frames, reason)?;
                    if self.silence > 0 && self.any {
                        return Ok(());
                    }
                }
                Step::Failed(reason) => {
                    let heard_s = self.heard_s();
                    self.warnings.push(Warning::ReadFailed { heard_s, reason });
                    self.end(None);
                    return Ok(());
                }
                Step::End(reason) => {
                    self.end(reason);
                    return Ok(());
                }
            }
        }
        self.end(Some(format!("{BARREN} damaged places in a row")));
        Ok(())
    }

    /// Takes rate and channels from the first sound.
    fn settle(&mut self) -> Result<(), AudioFileError> {
        self.rate = SampleRate::new(self.sound.rate)?;
        self.channels_in_file = self.sound.rows.len();
        self.channels = if self.channels_in_file == 2 { 2 } else { 1 };
        self.ready.resize_with(self.channels, Vec::new);
        if self.sound.at > i64::from(self.rate.hz()) * LATEST_S {
            self.base = self.sound.at;
            (self.next, self.due, self.silence, self.damage) = (0, 0, 0, None);
            self.length = self.length.and_then(|length| length.checked_sub(self.base.cast_unsigned()));
            self.warnings.push(Warning::CutOut { begin_s: self.base as f64 / self.rate.hz_f64() });
        }
        Ok(())
    }

    /// Where the sound ends that there is, as far as it has been read.
    fn reached(&self) -> i64 {
        let end = self.track.at().saturating_sub(self.base).min(self.next);
        self.length.map_or(end, |length| end.min(length.cast_signed())).max(0)
    }

    fn heard_s(&self) -> f64 {
        self.reached() as f64 / self.rate.hz_f64()
    }

    /// Puts decoded sound in its place.
    fn take(&mut self) -> Result<(), AudioFileError> {
        let from = self.sound.at.saturating_sub(self.base);
        let to = from.saturating_add_unsigned(self.sound.frames() as u64);
        self.fits(to)?;
        if from > self.next {
            let gap = (from - self.next).cast_unsigned();
            self.lose(self.next, gap, "frames are missing".to_owned())?;
        }
        self.longer_than_promised(from, to);
        let begin = from.max(self.next).max(self.due);
        let end = self.clipped(to);
        self.next = self.next.max(to);
        if begin < end {
            self.silence += (begin - self.due).cast_unsigned();
            self.mix((begin - from) as usize, (end - from) as usize, begin);
            self.due = end;
        }
        // What comes now is certainly not to be heard.
        if self.track.facts().firm && self.length.is_some_and(|length| to >= length.cast_signed()) {
            self.end(None);
        }
        Ok(())
    }

    /// A place, or the end of what is to be heard if that is before it.
    fn clipped(&self, to: i64) -> i64 {
        self.length.map_or(to, |length| to.min(length.cast_signed()))
    }

    /// Where a file goes on beyond what it promised, the promise is void.
    fn longer_than_promised(&mut self, from: i64, to: i64) {
        let facts = self.track.facts();
        let Some(length) = self.length.map(u64::cast_signed).filter(|_| !facts.firm) else { return };
        let beyond = match facts.ends {
            Some(ends) => from >= ends.saturating_sub(self.base),
            // Another stream has begun, or more follows than an encoder puts behind the music.
            None => facts.promised.is_none() || to > length.saturating_add(PADDING),
        };
        if beyond {
            self.warnings
                .push(Warning::LongerThanPromised { promised_s: length as f64 / self.rate.hz_f64() });
            self.length = None;
        }
    }

    /// Copies the frames from `first` to `last` of what was decoded, mixing more than two channels.
    fn mix(&mut self, first: usize, last: usize, at: i64) {
        let share = 1.0 / self.channels_in_file.max(1) as f32;
        let mixed = self.channels_in_file > 2;
        if mixed && let Some(row) = self.ready.first_mut() {
            row.resize(last - first, 0.0);
        }
        for (channel, samples) in self.sound.rows.iter().enumerate() {
            let Some(samples) = samples.get(first..last) else { continue };
            let Some(row) = self.ready.get_mut(if mixed { 0 } else { channel }) else { continue };
            let sound = |sample: &f32| if sample.abs() <= LARGEST { *sample } else { 0.0 };
            if mixed {
                row.iter_mut().zip(samples).for_each(|(sum, sample)| *sum += share * sound(sample));
            } else {
                row.extend(samples.iter().map(sound));
            }
            let is_wrong = |sample: &f32| sample.is_nan() || sample.abs() > LARGEST;
            let wrong = samples.iter().filter(|sample| is_wrong(sample)).count();
            if wrong > 0 {
                let place = samples.iter().position(is_wrong).unwrap_or(0);
                let (so_far, place_so_far) = self.not_numbers.unwrap_or((0, i64::MAX));
                self.not_numbers = Some((so_far + wrong, place_so_far.min(at + place as i64)));
            }
        }
    }

    /// Puts silence where something is missing.
    fn lose(&mut self, at: i64, frames: u64, reason: String) -> Result<(), AudioFileError> {
        let to = at.saturating_add_unsigned(frames);
        let damage = self.damage.get_or_insert(Damage { places: 0, first: at, frames: 0, reason });
        damage.places += 1;
        if to > self.next {
            self.fits(to)?;
            self.next = to;
            let end = self.clipped(to);
            let quiet = u64::try_from(end - self.due).unwrap_or(0);
            if let Some(damage) = &mut self.damage {
                damage.frames += quiet;
            }
            self.silence += quiet;
            self.due = self.due.max(end);
        }
        Ok(())
    }

    fn fits(&self, to: i64) -> Result<(), AudioFileError> {
        // Before the first sound the rate is not known; a day at the lowest is certainly allowed.
        let rate = if self.any || self.channels_in_file > 0 { self.rate.hz() } else { SampleRate::MIN_HZ };
        if to > i64::from(rate) * i64::from(LONGEST_S) {
            return Err(AudioFileError::TooLong { limit: format!("{} hours", LONGEST_S / 3600) });
        }
        Ok(())
    }

    /// Nothing more is to come: says whether it should have.
    fn end(&mut self, reason: Option<String>) {
        if self.ended {
            return;
        }
        self.ended = true;
        let (heard_s, slack) = (self.heard_s(), self.track.facts().slack);
        let missing = self.length.map_or(0, |length| length.cast_signed() - self.reached());
        if let Some(length) = self.length.filter(|_| missing > slack.cast_signed()) {
            let promised_s = length as f64 / self.rate.hz_f64();
            self.warnings.push(Warning::CutShort { heard_s, promised_s });
        } else if let Some(reason) = reason {
            self.warnings.push(Warning::BrokenOff { heard_s, reason });
        }
        if missing > 0 {
            self.length = Some(self.reached().cast_unsigned());
        }
    }
}
