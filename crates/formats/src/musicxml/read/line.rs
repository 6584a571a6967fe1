//! One line out of the voices of a staff, and what joins its notes.

use std::collections::BTreeMap;

use riffkin_score::note::{Approach, Mark, Marks, Place};
use riffkin_score::pitch::Pitch;
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::note::{Ends, Playing, RawNote};
use super::notices::spot;
use super::part::{RawMeasure, RawPart, closeness};

/// A note head of the line.
#[derive(Clone, Copy, Debug)]
pub(super) struct Head {
    /// Index of its measure.
    pub(super) measure: usize,
    /// Distance from the bar line.
    pub(super) at: Quarters,
    /// What sounds.
    pub(super) pitch: Pitch,
    /// Tied to the next.
    pub(super) tied: bool,
    /// How it is reached.
    pub(super) approach: Approach,
    /// All marks.
    pub(super) marks: Marks,
    /// Quarter tones.
    pub(super) bend: u8,
    /// String and fret, when both are given.
    pub(super) place: Option<Place>,
    /// The finger, when given.
    pub(super) finger: Option<u8>,
}

/// A stretch of a measure: a head or a rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Stretch {
    /// Where it starts.
    pub(super) at: Quarters,
    /// Where it ends.
    pub(super) end: Quarters,
    /// How it is written, when that is known and as long.
    pub(super) value: Option<NoteValue>,
    /// Index into the heads; `None` for a rest.
    pub(super) head: Option<usize>,
    /// A rest for the whole measure.
    pub(super) whole_measure: bool,
}

/// The line of one staff.
pub(super) struct Line {
    /// Its heads in order.
    pub(super) heads: Vec<Head>,
    /// The stretches of each measure, in order and apart from each other; gaps are rests not written.
    pub(super) measures: Vec<Vec<Stretch>>,
}

/// Draws the line of a staff. With `report`, what is left out goes to the part's notices.
pub(super) fn draw(part: &mut RawPart<'_>, staff: u16, report: bool) -> Line {
    let main = main_voice(part, staff);
    let mut raw: Vec<(usize, RawNote<'_>)> = Vec::new();
    let mut measures = Vec::with_capacity(part.measures.len());
    let mut notices = Vec::new();
    for (index, measure) in part.measures.iter().enumerate() {
        let mut kept = Kept::default();
        kept.main(measure, staff, main.as_deref(), &mut notices);
        kept.others(measure, staff, main.as_deref(), &mut notices);
        let mut stretches = Vec::with_capacity(kept.by_start.len());
        for (_, note) in kept.by_start {
            let head = note.pitch.map(|_| {
                raw.push((index, note.clone()));
                raw.len() - 1
            });
            stretches.push(Stretch {
                at: note.at,
                end: note.at + note.length,
                value: note.value,
                head,
                whole_measure: note.whole_measure,
            });
        }
        measures.push(stretches);
    }
    let heads = heads(&raw, &part.measures, &mut notices);
    if report {
        for (place, message) in notices {
            part.notices.add(&place, message);
        }
    }
    Line { heads, measures }
}

/// The voice with most notes on the staff; among equals the lowest.
fn main_voice(part: &RawPart<'_>, staff: u16) -> Option<String> {
    let mut voices: BTreeMap<&str, (usize, u64)> = BTreeMap::new();
    for note in part.measures.iter().flat_map(|m| &m.notes).filter(|n| n.staff == staff) {
        let entry = voices.entry(note.voice).or_default();
        if let Some(pitch) = note.pitch {
            entry.0 += 1;
            entry.1 += u64::from(pitch.midi().number());
        }
    }
    let mean = |&(count, sum): &(usize, u64)| if count == 0 { 0.0 } else { sum as f64 / count as f64 };
    voices
        .iter()
        .max_by(|a, b| a.1.0.cmp(&b.1.0).then(mean(b.1).total_cmp(&mean(a.1))).then(b.0.cmp(a.0)))
        .map(|(name, _)| (*name).to_owned())
}

#[derive(Default)]
struct Kept<'t> {
    by_start: BTreeMap<Quarters, RawNote<'t>>,
}

impl<'t> Kept<'t> {
    /// The main voice; where it overlaps itself the later note cuts the earlier.
    fn main(
        &mut self,
        measure: &RawMeasure<'t>,
        staff: u16,
        main: Option<&str>,
        notices: &mut Vec<(String, String)>,
    ) {
        let own = |n: &&RawNote<'t>| n.staff == staff && Some(n.voice) == main;
        let mut notes: Vec<&RawNote<'t>> = measure.notes.iter().filter(own).collect();
        notes.sort_by_key(|n| n.at);
        for note in notes {
            let place = || spot(&measure.number, measure.meter, note.at);
            if let Some(same) = self.by_start.get(&note.at) {
                let lower = match (note.pitch, same.pitch) {
                    (Some(a), Some(b)) => a.midi() < b.midi(),
                    (Some(_), None) => true,
                    _ => false,
                };
                if note.pitch.is_some() && same.pitch.is_some() {
                    notices.push((place(), "of notes struck together the lowest is kept".to_owned()));
                }
                if lower {
                    self.by_start.insert(note.at, note.clone());
                }
                continue;
            }
            if let Some((_, before)) = self.by_start.range_mut(..note.at).next_back()
                && before.at + before.length > note.at
            {
                before.length = note.at - before.at;
                before.value = None;
                before.tied = false;
                notices.push((place(), "a note that runs into the next is cut short".to_owned()));
            }
            self.by_start.insert(note.at, note.clone());
        }
    }

    /// Notes of other voices, where the line rests.
    fn others(
        &mut self,
        measure: &RawMeasure<'t>,
        staff: u16,
        main: Option<&str>,
        notices: &mut Vec<(String, String)>,
    ) {
        let other = |n: &&RawNote<'t>| n.staff == staff && Some(n.voice) != main && n.pitch.is_some();
        let mut notes: Vec<&RawNote<'t>> = measure.notes.iter().filter(other).collect();
        notes.sort_by_key(|n| (n.at, n.pitch.map(|p| p.midi())));
        for note in notes {
            let end = note.at + note.length;
            let before = self.by_start.range(..=note.at).next_back().map(|(at, _)| *at);
            let from = before.unwrap_or(note.at);
            let over: Vec<Quarters> = self
                .by_start
                .range(from..end)
                .filter(|(_, n)| n.at + n.length > note.at && n.at < end)
                .map(|(at, _)| *at)
                .collect();
            if over.iter().any(|at| self.by_start.get(at).is_some_and(|n| n.pitch.is_some())) {
                let place = spot(&measure.number, measure.meter, note.at);
                notices.push((place, "a note of a second voice is left out".to_owned()));
                continue;
            }
            // The rests it stands on give way; what remains of them is filled again later.
            for at in over {
                self.by_start.remove(&at);
            }
            self.by_start.insert(note.at, note.clone());
        }
    }
}

/// Heads with their approaches and vibrato, which depend on neighbours.
fn heads(
    raw: &[(usize, RawNote<'_>)],
    measures: &[RawMeasure<'_>],
    notices: &mut Vec<(String, String)>,
) -> Vec<Head> {
    let mut notice = |i: usize, message: &str| {
        if let Some((index, note)) = raw.get(i)
            && let Some(measure) = measures.get(*index)
        {
            notices.push((spot(&measure.number, measure.meter, note.at), message.to_owned()));
        }
    };
    let ends = |pick: fn(&Playing) -> Ends| raw.iter().map(|(_, n)| pick(&n.playing)).collect::<Vec<_>>();
    let hammered =
        reached(&ends(|p| p.hammer), |i| notice(i, "a hammer-on without an end is read to the next note"));
    let pulled =
        reached(&ends(|p| p.pull), |i| notice(i, "a pull-off without an end is read to the next note"));
    let slid = reached(&ends(|p| p.slide), |i| notice(i, "a slide without an end is read to the next note"));
    let shaken = covered(&ends(|p| p.wave));
    let mut open_slurs = 0usize;
    let mut heads = Vec::with_capacity(raw.len());
    for (i, (measure, note)) in raw.iter().enumerate() {
        let slur = note.playing.slur;
        let joined = open_slurs > 0 || slur.stop;
        if slur.stop {
            open_slurs = open_slurs.saturating_sub(1);
        }
        let approach = match (hammered[i], pulled[i], slid[i]) {
            (true, ..) => Approach::Hammer,
            (_, true, _) => Approach::Pull,
            (.., true) if joined => Approach::Slide,
            (.., true) => Approach::SlidePlucked,
            _ => Approach::Plucked,
        };
        if joined && approach == Approach::Plucked {
            notice(i, "a slur that is no hammer-on, pull-off or slide is left out");
        }
        if slur.start {
            open_slurs += 1;
        }
        let Some(pitch) = note.pitch else { continue };
        let playing = note.playing;
        let place = playing.string.zip(playing.fret).map(|(string, fret)| Place { string, fret });
        if place.is_none() && (playing.string.is_some() || playing.fret.is_some()) {
            notice(i, "a string without a fret, or a fret without a string, is left out");
        }
        heads.push(Head {
            measure: *measure,
            at: note.at,
            pitch,
            tied: note.tied,
            approach,
            marks: if shaken[i] { playing.marks.with(Mark::Vibrato) } else { playing.marks },
            bend: playing.bend,
            place,
            finger: playing.finger,
        });
    }
    heads
}

/// Furthest that a line between notes is followed.
const REACH: usize = 16;

/// Notes that a line between two notes leads to: its end and all between. One without an end leads to the
/// next note.
fn reached(ends: &[Ends], mut endless: impl FnMut(usize)) -> Vec<bool> {
    let mut reached: Vec<bool> = ends.iter().map(|e| e.stop).collect();
    for (i, _) in ends.iter().enumerate().filter(|(_, e)| e.start) {
        let after = ends.iter().enumerate().skip(i + 1).take(REACH);
        // A stop ends it; another start before that means that this one has no end of its own.
        match after.clone().find(|(_, e)| e.stop || e.start) {
            Some((end, e)) if e.stop => reached[i + 1..=end].fill(true),
            _ => {
                if let Some(next) = reached.get_mut(i + 1) {
                    *next = true;
                    endless(i);
                }
            }
        }
    }
    reached
}

/// Notes under a line: from its start to its stop, both counted; only the one it starts at when it has no
/// end.
fn covered(ends: &[Ends]) -> Vec<bool> {
    let mut covered: Vec<bool> = ends.iter().map(|e| e.start || e.stop).collect();
    for (i, _) in ends.iter().enumerate().filter(|(_, e)| e.start && !e.stop) {
        let end = ends.iter().enumerate().skip(i + 1).take(REACH).find(|(_, e)| e.stop || e.start);
        if let Some((end, e)) = end
            && e.stop
        {
            covered[i..=end].fill(true);
        }
    }
    covered
}

/// Adds to the line what a tablature staff says about the same notes; returns how many notes it has in
/// common with it. Notes are the same when they start together and are an octave or nothing apart.
pub(super) fn merge(line: &mut Line, tablature: &[Head]) -> usize {
    let mut by_place: BTreeMap<(usize, Quarters), &Head> = BTreeMap::new();
    for head in tablature {
        by_place.entry((head.measure, head.at)).or_insert(head);
    }
    let mut common = 0;
    for head in &mut line.heads {
        let low = (head.measure, head.at - closeness());
        let near = by_place.range(low..=(head.measure, head.at + closeness())).map(|(_, h)| **h);
        let same_name = |h: &Head| h.pitch.name().pitch_class() == head.pitch.name().pitch_class();
        let Some(same) = near
            .filter(|h| (h.at - head.at).abs() < closeness() && same_name(h))
            .min_by_key(|h| (h.at - head.at).abs())
        else {
            continue;
        };
        common += 1;
        head.place = head.place.or(same.place);
        head.finger = head.finger.or(same.finger);
        head.marks = same.marks.iter().fold(head.marks, Marks::with);
        head.bend = head.bend.max(same.bend);
        if head.approach == Approach::Plucked {
            head.approach = same.approach;
        }
    }
    common
}

#[cfg(test)]
mod tests {
    use super::*;

    fn ends(text: &str) -> Vec<Ends> {
        text.chars().map(|c| Ends { start: matches!(c, '<' | 'x'), stop: matches!(c, '>' | 'x') }).collect()
    }

    fn shown(flags: &[bool]) -> String {
        flags.iter().map(|f| if *f { '1' } else { '0' }).collect()
    }

    #[test]
    fn lines_reach_their_end_and_all_between() {
        assert_eq!(shown(&reached(&ends("<>."), |_| panic!())), "010");
        assert_eq!(shown(&reached(&ends("<xx>"), |_| panic!())), "0111");
        assert_eq!(shown(&reached(&ends("<..>."), |_| panic!())), "01110");
        let mut endless = 0;
        assert_eq!(shown(&reached(&ends("<.<>"), |_| endless += 1)), "0101");
        assert_eq!(endless, 1);
        assert_eq!(shown(&reached(&ends("..<"), |_| panic!())), "000");
        assert_eq!(shown(&covered(&ends(".<.>.x.<"))), "01110101");
    }
}
