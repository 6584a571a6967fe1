//! Hearing a stream: windows of a minute that overlap, so that memory does not grow with the length.
//!
//! Each window is heard by itself, which also lets the noise floor follow a long recording. Where two windows overlap
//! both have heard the same notes; the seam is laid at a note that both begin at the same instant, as near to the middle
//! of the overlap as there is one, and so no note is cut, lost or doubled.
//!
//! A recording may be tuned off A4 = 440 Hz. How far is told by the notes of the first window, each by how far its
//! period lies from equal temperament; the sound is then changed in rate by that much before it is heard, which moves
//! every pitch onto the grid, and the instants are scaled back.

use super::circle;
use super::hear::{HeardNote, Manner, heard, level_with_the_middle};
use super::intake::{Intake, RATE_HZ};
use super::mix::Mix;
use super::solo::Solo;
use crate::resample::resampled;
use crate::{Clip, SampleRate};

/// Seconds from window to window.
const STEP_S: usize = 60;
/// Seconds that two windows share.
const SHARED_S: usize = 8;
/// Two windows hear the same note when their onsets are this near, in seconds.
const SAME_S: f64 = 0.03;
/// Frequency of A4 in hertz that is taken for granted (ISO 16:1975).
pub const STANDARD_A4_HZ: f64 = 440.0;
/// The A4 that may be asked for, in hertz: a quarter-tone and more on either side.
pub const A4_HZ: (f64, f64) = (400.0, 480.0);
/// A tuning this near to the standard is left as it is, in cents: stiff strings sound a few cents sharp.
const IN_TUNE_CENTS: f64 = 12.0;
/// Notes needed before a tuning is believed.
const ENOUGH_NOTES: usize = 8;
/// How closely the notes must agree: length of the mean of their directions on a circle of one semitone, 0 to 1.
const AGREED: f64 = 0.6;

/// How to listen.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Listening {
    /// Whether other instruments sound beside the bass.
    pub mix: bool,
    /// Frequency of A4 in hertz; estimated when not given.
    pub reference_hz: Option<f64>,
}

/// What was heard.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Heard {
    /// The notes, by onset.
    pub notes: Vec<HeardNote>,
    /// Frequency of A4 in hertz against which they were named.
    pub reference_hz: f64,
}

/// Hears a stream.
pub struct Listener {
    intake: Intake,
    listening: Listening,
    /// Seconds of the stream before the first sample that is ready.
    start_s: usize,
    /// Frequency of A4, once known.
    reference_hz: Option<f64>,
    notes: Vec<HeardNote>,
}

impl Listener {
    /// Listens to `channels` channels at `rate`. A reference outside [`A4_HZ`] is brought into it.
    #[must_use]
    pub fn new(rate: SampleRate, channels: usize, listening: Listening) -> Self {
        let reference_hz = listening
            .reference_hz
            .map(|hz| if hz.is_finite() { hz.clamp(A4_HZ.0, A4_HZ.1) } else { STANDARD_A4_HZ });
        Self { intake: Intake::new(rate, channels), listening, start_s: 0, reference_hz, notes: Vec::new() }
    }

    /// Takes the next block: one row of samples for each channel.
    pub fn push(&mut self, block: &[Vec<f32>]) {
        self.intake.push(block);
        let rate = RATE_HZ as usize;
        while self.intake.ready() >= (STEP_S + SHARED_S) * rate {
            let window = self.intake.take((STEP_S + SHARED_S) * rate, STEP_S * rate);
            self.window(&window);
            self.start_s += STEP_S;
        }
    }

    /// Hears the rest.
    #[must_use]
    pub fn finish(mut self) -> Heard {
        self.intake.finish();
        let left = self.intake.ready();
        if left > 0 {
            let window = self.intake.take(left, left);
            self.window(&window);
        }
        level_with_the_middle(&mut self.notes);
        Heard { notes: self.notes, reference_hz: self.reference_hz.unwrap_or(STANDARD_A4_HZ) }
    }

    fn window(&mut self, sound: &Clip) {
        let reference = match self.reference_hz {
            Some(hz) => hz,
            None => {
                let notes = self.heard(sound, STANDARD_A4_HZ);
                let Some(hz) = tuning(&notes) else {
                    self.join(notes);
                    return;
                };
                self.reference_hz = Some(hz);
                if cents(hz).abs() < IN_TUNE_CENTS {
                    self.reference_hz = Some(STANDARD_A4_HZ);
                    self.join(notes);
                    return;
                }
                hz
            }
        };
        let notes = self.heard(sound, reference);
        self.join(notes);
    }

    /// The notes of a window, in seconds of the stream.
    fn heard(&self, sound: &Clip, reference_hz: f64) -> Vec<HeardNote> {
        let (moved, slower) = retuned(sound, reference_hz);
        let sound = moved.as_ref().unwrap_or(sound);
        let mut notes = if self.listening.mix { heard(&Mix, sound) } else { heard(&Solo, sound) };
        for note in &mut notes {
            note.onset_s = note.onset_s * slower + self.start_s as f64;
            note.offset_s = note.offset_s * slower + self.start_s as f64;
        }
        notes
    }

    /// Adds the notes of the next window, which shares [`SHARED_S`] with what is there.
    fn join(&mut self, next: Vec<HeardNote>) {
        let (low, high) = (self.start_s as f64, (self.start_s + SHARED_S) as f64);
        if self.start_s == 0 || self.notes.is_empty() {
            self.notes.extend(next);
            return;
        }
        let (left, right) = seam(&self.notes, &next, (low, high));
        let cut_short =
            self.notes.iter().rev().find(|n| n.onset_s < left).filter(|n| n.offset_s > high - 0.1);
        let whole = cut_short.and_then(|cut| {
            next.iter().find(|n| n.midi == cut.midi && n.onset_s < high && n.offset_s > high).copied()
        });
        self.notes.retain(|n| n.onset_s < left);
        let first = next.iter().position(|n| n.onset_s >= right).unwrap_or(next.len());
        if let Some(last) = self.notes.last_mut() {
            if let Some(whole) = whole {
                last.offset_s = whole.offset_s;
            }
            if let Some(following) = next.get(first) {
                last.offset_s = last.offset_s.min(following.onset_s).max(last.onset_s);
            }
        }
        self.notes.extend_from_slice(&next[first..]);
    }
}

/// Where to pass from one window's notes to the next one's: the first of them up to, the second from an instant.
fn seam(before: &[HeardNote], after: &[HeardNote], (low, high): (f64, f64)) -> (f64, f64) {
    let middle = 0.5 * (low + high);
    let off = |n: &HeardNote| (n.onset_s - middle).abs();
    before
        .iter()
        .filter(|n| n.onset_s > low + 0.5 && n.onset_s < high - 0.5 && n.manner != Manner::Joined)
        .filter_map(|a| {
            let b = after.iter().find(|b| b.midi == a.midi && (b.onset_s - a.onset_s).abs() < SAME_S)?;
            Some((a, b))
        })
        .min_by(|x, y| off(x.0).total_cmp(&off(y.0)))
        .map_or((middle, middle), |(a, b)| (a.onset_s, b.onset_s))
}

/// Cents of a frequency of A4 above the standard.
fn cents(a4_hz: f64) -> f64 {
    1200.0 * (a4_hz / STANDARD_A4_HZ).log2()
}

/// The frequency of A4 to which the notes are tuned, if there are enough and they agree: the mean direction of their
/// cents on a circle of one semitone, so that 49 sharp and 49 flat are near each other.
fn tuning(notes: &[HeardNote]) -> Option<f64> {
    let mean = circle::mean(notes);
    (mean.notes >= ENOUGH_NOTES && mean.length >= AGREED)
        .then(|| STANDARD_A4_HZ * (mean.cents / 1200.0).exp2())
}

/// The sound with its A4 moved to the standard, and by how much shorter its seconds became; nothing where it is there.
pub(super) fn retuned(sound: &Clip, reference_hz: f64) -> (Option<Clip>, f64) {
    let rate = sound.rate();
    let wanted = (rate.hz_f64() * reference_hz / STANDARD_A4_HZ).round();
    match SampleRate::new(wanted as u32) {
        Ok(moved) if moved != rate => {
            (Some(Clip::mono(rate, resampled(&sound.one_row(), rate, moved))), rate.hz_f64() / wanted)
        }
        _ => (None, 1.0),
    }
}

/// Hears a whole clip.
#[must_use]
pub fn hear_clip(clip: &Clip, listening: Listening) -> Heard {
    let mut listener = Listener::new(clip.rate(), clip.channels().len(), listening);
    listener.push(clip.channels());
    listener.finish()
}

/// Hears a bass that plays alone, one note at a time, from MIDI 23 to 67.
#[must_use]
pub fn hear_solo(clip: &Clip) -> Vec<HeardNote> {
    hear_clip(clip, Listening::default()).notes
}

#[cfg(test)]
mod tests {
    use super::*;

    fn note(onset_s: f64, offset_s: f64, midi: u8) -> HeardNote {
        let manner = Manner::Struck;
        HeardNote { onset_s, offset_s, midi, confidence: 0.9, cents: 0.0, manner, level_db: 0.0 }
    }

    fn listener(notes: Vec<HeardNote>) -> Listener {
        Listener { start_s: 60, notes, ..Listener::new(SampleRate::CD, 1, Listening::default()) }
    }

    #[test]
    fn windows_meet_at_a_note_both_heard() {
        let mut l = listener(vec![note(58.0, 59.0, 40), note(63.0, 63.5, 41), note(66.0, 67.9, 43)]);
        l.join(vec![
            note(60.0, 60.2, 50),
            note(63.01, 63.5, 41),
            note(66.02, 69.0, 43),
            note(70.0, 71.0, 45),
        ]);
        let found: Vec<(f64, f64, u8)> = l.notes.iter().map(|n| (n.onset_s, n.offset_s, n.midi)).collect();
        assert_eq!(found, [(58.0, 59.0, 40), (63.01, 63.5, 41), (66.02, 69.0, 43), (70.0, 71.0, 45)]);
    }

    #[test]
    fn a_note_longer_than_the_overlap_stays_one() {
        let mut l = listener(vec![note(58.0, 68.0, 40)]);
        l.join(vec![note(60.0, 72.0, 40), note(72.0, 73.0, 45)]);
        let found: Vec<(f64, f64, u8)> = l.notes.iter().map(|n| (n.onset_s, n.offset_s, n.midi)).collect();
        assert_eq!(found, [(58.0, 72.0, 40), (72.0, 73.0, 45)]);
    }

    #[test]
    fn a_tuning_is_told_by_notes_that_agree() {
        let tuned = |cents: &[f64]| {
            let notes: Vec<HeardNote> =
                cents.iter().map(|c| HeardNote { cents: *c, ..note(0.0, 1.0, 40) }).collect();
            tuning(&notes)
        };
        let a4 = tuned(&[30.0, 34.0, 28.0, 31.0, 29.0, 30.0, 33.0, 27.0]).unwrap();
        assert!((cents(a4) - 30.25).abs() < 1.0, "{a4}");
        assert_eq!(tuned(&[30.0; 5]), None);
        assert_eq!(tuned(&[-40.0, 30.0, 10.0, -10.0, 45.0, -25.0, 0.0, 20.0, -5.0]), None);
        let edge = tuned(&[49.0, -49.0, 48.0, -47.0, 50.0, -50.0, 49.0, -49.0]).unwrap();
        assert!(cents(edge).abs() > 45.0, "{edge}");
    }
}
