//! A recording becomes notes and a quantised riff.

mod levels;
mod picture;
mod region;
mod review;

use std::fs::File;
use std::path::Path;

use riffkin_audio::listen::{self, HeardNote, Listener, Listening, Manner, Written, portrait};
use riffkin_audio::{Clip, Frames, NotAClip};
use riffkin_formats::audio_file::{AudioFileError, Reader, Source};
use riffkin_score::Warning;
use riffkin_score::pitch::{Midi, Pitch};

pub use levels::Levels;
pub use picture::picture;
pub use region::{Region, clock, instant};
pub use review::{Doubt, review};

/// Below this confidence a note is worth listening to again.
pub const DOUBTFUL: f64 = 0.5;

/// Share of doubtful notes from which the whole is not to be trusted, and how many notes it takes to say so.
const MISTRUSTED: f64 = 0.4;
/// See [`MISTRUSTED`].
const ENOUGH: usize = 5;

/// Agreement of the notes on one tuning below which they are no instrument's.
const NO_TUNING: f64 = 0.35;

/// Said of a recording whose notes agree on no tuning.
const UNTUNED: &str = "the pitches in it lie on no scale, as those of a speaking voice: no riff is written; if it is a bass \
                       all the same, say so with --reference 440";

/// What is wanted.
#[derive(Clone, Debug, Default)]
pub struct Order {
    /// How to listen.
    pub listening: Listening,
    /// Which part of the recording.
    pub region: Region,
    /// What is known of the rhythm and the key.
    pub asked: listen::Asked,
    /// Whether the sound is kept, for a picture of it.
    pub keep_sound: bool,
    /// Whether nothing but the notes is wanted: then their rhythm is not read.
    pub notes_only: bool,
}

/// What was heard.
#[derive(Clone, Debug)]
pub struct Heard {
    /// The notes, in seconds of the file.
    pub notes: Vec<HeardNote>,
    /// The notes on a grid; `None` when none are heard, they fill more bars than a riff may have, or only they were
    /// wanted.
    pub written: Option<Written>,
    /// Frequency of A4 in hertz against which the notes are named.
    pub reference_hz: f64,
    /// The part that was heard, in seconds of the file.
    pub region: (f64, f64),
    /// The sound of that part, when it was to be kept.
    pub sound: Option<Clip>,
    /// How loud it is.
    pub levels: Levels,
    /// Whether a bass among other instruments was listened for.
    pub mix: bool,
    /// Whether the notes agree on no tuning, as those of a voice; then none is sure and no riff is written.
    pub untuned: bool,
    /// What was guessed or damaged.
    pub warnings: Vec<Warning>,
}

/// Why nothing could be heard.
#[derive(Debug, thiserror::Error)]
pub enum HearError {
    /// The file could not be opened.
    #[error("it could not be read: {0}; check the name")]
    Io(#[from] std::io::Error),
    /// It holds no recording.
    #[error(transparent)]
    File(#[from] AudioFileError),
    /// The region lies behind the end.
    #[error("--from {} lies behind the end; the recording is {length_s:.2} s long", clock(*from_s))]
    Behind {
        /// The start that was asked for, in seconds.
        from_s: f64,
        /// Length of the recording, in seconds.
        length_s: f64,
    },
    /// Too much for one picture.
    #[error("a picture holds at most {:.0} s; give --from and --to", portrait::LONGEST_S)]
    LongForPicture,
    /// The kept sound is no clip.
    #[error(transparent)]
    Samples(#[from] NotAClip),
}

/// Told how much has been heard, and how much there is, in seconds.
pub type Progress<'a> = &'a mut dyn FnMut(f64, Option<f64>);

/// A recording's file, ready to be read.
///
/// # Errors
/// When it cannot be opened.
pub fn open(path: &Path) -> Result<Box<dyn Source>, HearError> {
    Ok(Box::new(File::open(path)?))
}

/// Hears a recording. Memory does not grow with its length unless the sound is kept.
///
/// # Errors
/// [`HearError`].
pub fn hear(source: Box<dyn Source>, order: &Order, progress: Progress<'_>) -> Result<Heard, HearError> {
    let mut reader = Reader::open(source)?;
    let rate = reader.rate();
    let frame = |second: f64| Frames((second * rate.hz_f64()).round() as u64);
    let seconds = |frames: Frames| frames.0 as f64 / rate.hz_f64();
    let wanted = order.region;
    if wanted.from_s > 0.0 {
        reader.skip_to(frame(wanted.from_s))?;
    }
    let start_s = seconds(reader.position());
    let end = wanted.to_s.map(frame);
    let total = reader.frames().map(seconds);
    if order.keep_sound
        && wanted.to_s.into_iter().chain(total).reduce(f64::min).is_some_and(|e| long(e - start_s))
    {
        return Err(HearError::LongForPicture);
    }
    let mut listener = Listener::new(rate, reader.channels(), order.listening);
    let mut levels = Levels::new(rate.hz_f64());
    let mut kept = vec![Vec::new(); reader.channels()];
    let mut block = Vec::new();
    while end.is_none_or(|end| reader.position() < end) {
        let at = reader.position();
        if !reader.next_block(&mut block)? {
            break;
        }
        if let Some(end) = end {
            let room = end.0.saturating_sub(at.0);
            block.iter_mut().for_each(|row| row.truncate(usize::try_from(room).unwrap_or(usize::MAX)));
        }
        listener.push(&block);
        levels.push(&block);
        if order.keep_sound {
            for (row, new) in kept.iter_mut().zip(&block) {
                row.extend_from_slice(new);
            }
            if long(seconds(reader.position()) - start_s) {
                return Err(HearError::LongForPicture);
            }
        }
        let done = seconds(reader.position());
        progress(done - start_s, wanted.to_s.or(total).map(|e| e.min(total.unwrap_or(e)) - start_s));
    }
    let end_s = start_s + levels.seconds();
    if wanted.from_s > 0.0 && levels.seconds() <= 0.0 {
        return Err(HearError::Behind { from_s: wanted.from_s, length_s: start_s });
    }
    let mut warnings: Vec<Warning> =
        reader.warnings().iter().map(|w| Warning::whole(w.to_string())).collect();
    if let Some(to) = wanted.to_s.filter(|to| end_s < to - 0.01) {
        let message = format!("--to {} lies behind the end at {}; heard to the end", clock(to), clock(end_s));
        warnings.push(Warning::whole(message));
    }
    warnings.extend(levels.warning(start_s).map(Warning::whole));
    let heard = listener.finish();
    let mut notes = heard.notes;
    for note in &mut notes {
        note.onset_s += start_s;
        note.offset_s += start_s;
    }
    let agreement =
        listen::agreement(&notes).filter(|a| *a < NO_TUNING && order.listening.reference_hz.is_none());
    for note in &mut notes {
        note.confidence *= agreement.unwrap_or(1.0);
    }
    match agreement {
        Some(_) => warnings.push(Warning::whole(UNTUNED)),
        None => warnings.extend(mistrust(&notes, order.listening.mix)),
    }
    let dead = notes.iter().filter(|n| n.manner == Manner::Dead).count();
    let writes = dead < notes.len() && agreement.is_none() && !order.notes_only;
    let written = if writes { listen::written(&notes, &order.asked) } else { None };
    match &written {
        Some(written) => warnings.extend(written.warnings.iter().cloned()),
        None if writes => warnings.push(Warning::whole(
            "the notes fill more bars than a riff may have; they are not written as one: give --from and --to",
        )),
        None => {}
    }
    if order.listening.reference_hz.is_none() && (heard.reference_hz - listen::STANDARD_A4_HZ).abs() > 0.05 {
        let message = format!(
            "the recording is tuned to A4 = {:.1} Hz; --reference 440 hears it otherwise",
            heard.reference_hz
        );
        warnings.push(Warning::whole(message));
    }
    let sound = if order.keep_sound { Some(Clip::new(rate, kept)?) } else { None };
    Ok(Heard {
        notes,
        written,
        reference_hz: heard.reference_hz,
        region: (start_s, end_s),
        sound,
        levels,
        mix: order.listening.mix,
        untuned: agreement.is_some(),
        warnings,
    })
}

/// A warning when so many notes are doubtful that the whole is.
fn mistrust(notes: &[HeardNote], mix: bool) -> Option<Warning> {
    let doubtful = notes.iter().filter(|n| n.confidence < DOUBTFUL).count();
    if notes.len() < ENOUGH || (doubtful as f64) < MISTRUSTED * notes.len() as f64 {
        return None;
    }
    let advice = if mix {
        "the bass may be too soft in this mix"
    } else {
        "this may be no bass that plays alone (a voice, drums, other instruments: then give --mix)"
    };
    Some(Warning::whole(format!(
        "{doubtful} of {} notes are doubtful: {advice}; look at them with --review or -o picture.svg",
        notes.len()
    )))
}

fn long(seconds: f64) -> bool {
    seconds > portrait::LONGEST_S
}

impl Heard {
    /// The notes that have a pitch.
    pub fn pitched(&self) -> impl Iterator<Item = &HeardNote> {
        self.notes.iter().filter(|n| n.manner != Manner::Dead)
    }

    /// Each note's name: as the riff spells it, else the simplest.
    #[must_use]
    pub fn names(&self) -> Vec<Pitch> {
        let line = self.written.as_ref().map(|w| w.riff.line()).unwrap_or_default();
        let onset = |i: usize| self.written.as_ref().and_then(|w| w.reading.notes.get(i)?.onset);
        self.notes
            .iter()
            .enumerate()
            .map(|(i, n)| {
                let plain = Pitch::simplest(Midi::saturating(n.midi));
                let place = onset(i).and_then(|at| line.binary_search_by(|l| l.onset.cmp(&at)).ok());
                let spelled = place.and_then(|p| line.get(p)).map(|l| l.note.pitch);
                spelled.filter(|p| p.midi() == plain.midi()).unwrap_or(plain)
            })
            .collect()
    }

    /// What to say when there is no note with a pitch: what was heard instead, and what to do.
    #[must_use]
    pub fn nothing(&self) -> Option<String> {
        if self.untuned {
            return Some(UNTUNED.to_owned());
        }
        if self.pitched().next().is_some() {
            return None;
        }
        Some(self.levels.words(self.notes.len(), self.mix))
    }
}
