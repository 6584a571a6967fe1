//! The notes that deserve a second look, the most doubtful first.

use riffkin_audio::Clip;
use riffkin_audio::Frames;
use riffkin_audio::listen::{HeardNote, Listening, SecondLook, Why, doubts, second_look};
use riffkin_formats::audio_file::{Reader, Source};

use super::{DOUBTFUL, HearError, Heard};

/// Share of the notes that is listed even when none is doubtful, and the least number.
const LEAST: (f64, usize) = (0.1, 3);
/// Most notes that are listed.
const MOST: usize = 100;
/// Sound that is looked at before and after a note, in seconds.
const AROUND_S: f64 = 0.4;
/// Longest stretch that is looked at in one go, in seconds.
const STRETCH_S: f64 = 30.0;
/// Of a longer note only so much is looked at, in seconds.
const NOTE_S: f64 = 4.0;

/// A note with what speaks against it.
#[derive(Clone, Debug, PartialEq)]
pub struct Doubt {
    /// Which of the heard notes.
    pub note: usize,
    /// What speaks against it, the gravest first.
    pub why: Vec<Why>,
}

/// The least sure notes, least sure first, each looked at again in the recording.
///
/// # Errors
/// [`HearError`] when the recording cannot be read a second time.
pub fn review(heard: &Heard, source: Box<dyn Source>, listening: Listening) -> Result<Vec<Doubt>, HearError> {
    let mut order: Vec<usize> = (0..heard.notes.len()).collect();
    let sure = |i: &usize| heard.notes.get(*i).map_or(1.0, |n| n.confidence);
    order.sort_by(|a, b| sure(a).total_cmp(&sure(b)));
    let doubtful = order.iter().take_while(|i| sure(i) < DOUBTFUL).count();
    let tenth = (heard.notes.len() as f64 * LEAST.0).ceil() as usize;
    order.truncate(doubtful.max(tenth).max(LEAST.1).min(MOST));
    let looks = looks(heard, &order, source, listening)?;
    let late = |i: usize| heard.written.as_ref().and_then(|w| w.reading.notes.get(i)).map(|r| r.late_ms);
    Ok(order
        .iter()
        .zip(looks)
        .filter_map(|(&i, look)| {
            let before = i.checked_sub(1).and_then(|b| heard.notes.get(b));
            Some(Doubt { note: i, why: doubts(heard.notes.get(i)?, before, &look?, late(i)) })
        })
        .collect())
}

/// Looks at each of the notes again, in one pass through the recording.
fn looks(
    heard: &Heard,
    which: &[usize],
    source: Box<dyn Source>,
    listening: Listening,
) -> Result<Vec<Option<SecondLook>>, HearError> {
    let mut reader = Reader::open(source)?;
    let mut by_time: Vec<usize> = (0..which.len()).collect();
    let note = |slot: usize| which.get(slot).and_then(|i| heard.notes.get(*i));
    let onset = |slot: &usize| note(*slot).map_or(0.0, |n| n.onset_s);
    by_time.sort_by(|a, b| onset(a).total_cmp(&onset(b)));
    let mut found = vec![None; which.len()];
    let mut rest = by_time.as_slice();
    while let Some(first) = rest.first() {
        let start = (onset(first) - AROUND_S).max(0.0);
        let reach = |slot: &usize| onset(slot) + 2.0 * AROUND_S;
        let mut count = 1;
        while let (Some(last), Some(next)) = (rest.get(count - 1), rest.get(count)) {
            if onset(next) - AROUND_S > reach(last) + NOTE_S || onset(next) - start > STRETCH_S {
                break;
            }
            count += 1;
        }
        let (now, later) = rest.split_at(count.min(rest.len()));
        rest = later;
        let notes: Vec<HeardNote> = now.iter().filter_map(|slot| note(*slot).copied()).collect();
        let end = notes.iter().map(|n| n.offset_s.min(n.onset_s + NOTE_S)).fold(start, f64::max) + AROUND_S;
        let Some((clip, begins)) = part(&mut reader, start, end)? else { continue };
        let moved: Vec<HeardNote> = notes
            .iter()
            .map(|n| HeardNote {
                onset_s: n.onset_s - begins,
                offset_s: n.offset_s.min(n.onset_s + NOTE_S) - begins,
                ..*n
            })
            .collect();
        let looks = second_look(&clip, &moved, listening, heard.reference_hz);
        for (slot, look) in now.iter().zip(looks) {
            if let Some(place) = found.get_mut(*slot) {
                *place = Some(look);
            }
        }
    }
    Ok(found)
}

/// The sound between two instants, as far as it is still to be read, and where it begins.
fn part(reader: &mut Reader, start: f64, end: f64) -> Result<Option<(Clip, f64)>, HearError> {
    let rate = reader.rate();
    let frame = |second: f64| Frames((second * rate.hz_f64()).round().max(0.0) as u64);
    let begins = reader.skip_to(frame(start))?;
    let mut rows = vec![Vec::new(); reader.channels()];
    let mut block = Vec::new();
    while reader.position() < frame(end) && reader.next_block(&mut block)? {
        for (row, new) in rows.iter_mut().zip(&block) {
            row.extend_from_slice(new);
        }
    }
    if rows.first().is_none_or(Vec::is_empty) {
        return Ok(None);
    }
    Ok(Some((Clip::new(rate, rows)?, begins.0 as f64 / rate.hz_f64())))
}
