//! Which notes share a beam, and which share a tuplet bracket: the musical half of both.

use riffkin_score::meter::Meter;
use riffkin_score::note::Event;
use riffkin_score::time::Quarters;
use std::ops::Range;

/// Notes under one beam: indices of neighbouring events, two or more.
///
/// Beams follow the meter's groups. In 2/4, 3/4 and 4/4 plain eighths are joined over two beats (in 3/4 over
/// the whole bar when they fill it), as players expect (Gould, *Behind Bars*, 2011, chapter 6; quoted from memory).
/// `lead` is the missing time before a pickup.
pub(super) fn beams(meter: Meter, lead: Quarters, events: &[Event]) -> Vec<Range<usize>> {
    let mut onsets = Vec::with_capacity(events.len());
    let mut at = lead;
    for e in events {
        onsets.push(at);
        at += e.value.length();
    }
    let windows = windows(meter, events, &onsets);
    let window_of = |i: usize| {
        let onset = onsets.get(i).copied().unwrap_or_default();
        windows.iter().position(|&(from, to)| from <= onset && onset < to)
    };
    let beamable = |e: &Event| e.note.is_some() && e.value.shape().flags() > 0;
    let mut out = Vec::new();
    let mut i = 0;
    while let Some(event) = events.get(i) {
        if !beamable(event) {
            i += 1;
            continue;
        }
        let mut end = i + 1;
        while events.get(end).is_some_and(beamable)
            && window_of(end).is_some()
            && window_of(end) == window_of(i)
        {
            end += 1;
        }
        if end - i > 1 {
            out.push(i..end);
        }
        i = end;
    }
    out
}

/// Stretches of the bar inside which a beam may run.
fn windows(meter: Meter, events: &[Event], onsets: &[Quarters]) -> Vec<(Quarters, Quarters)> {
    let mut out = Vec::new();
    let mut at = Quarters::ZERO;
    for group in meter.groups() {
        out.push((at, at + group));
        at += group;
    }
    let merge = match (meter.beats(), meter.unit(), meter.group_sizes().len()) {
        (2, 4, 2) | (4, 4, 4) => 2,
        (3, 4, 3) => 3,
        _ => return out,
    };
    let plain_eighths = |from: Quarters, to: Quarters| {
        let inside = || events.iter().zip(onsets).filter(move |&(_, &o)| from <= o && o < to);
        let short = inside().filter(|(e, _)| e.value.length() < Quarters::QUARTER);
        let all_plain = short.into_iter().all(|(e, _)| {
            e.value.length() == Quarters::EIGHTH && e.value.tuplet().is_none() && e.note.is_some()
        });
        all_plain && (merge == 2 || inside().count() == 6)
    };
    out.chunks(merge)
        .flat_map(|beats| {
            let (Some(first), Some(last)) = (beats.first(), beats.last()) else { return Vec::new() };
            if plain_eighths(first.0, last.1) { vec![(first.0, last.1)] } else { beats.to_vec() }
        })
        .collect()
}

/// One tuplet.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct TupletGroup {
    /// Indices of its events.
    pub(super) events: Range<usize>,
    /// The number over it.
    pub(super) number: u8,
    /// False when one beam joins exactly these notes, and the number alone says it.
    pub(super) bracket: bool,
}

/// The tuplets of a bar. A group closes when its events fill `normal` of its shortest value.
pub(super) fn tuplets(events: &[Event], beams: &[Range<usize>]) -> Vec<TupletGroup> {
    let mut out = Vec::new();
    let mut i = 0;
    while let Some(first) = events.get(i) {
        let Some(tuplet) = first.value.tuplet() else {
            i += 1;
            continue;
        };
        let mut end = i;
        let mut sum = Quarters::ZERO;
        let mut shortest = first.value.shape().length();
        while let Some(e) = events.get(end).filter(|e| e.value.tuplet() == Some(tuplet)) {
            sum += e.value.length();
            shortest = shortest.min(e.value.shape().length());
            end += 1;
            if sum == shortest * i64::from(tuplet.normal()) {
                break;
            }
        }
        let bracket = !beams.contains(&(i..end));
        out.push(TupletGroup { events: i..end, number: tuplet.actual(), bracket });
        i = end.max(i + 1);
    }
    out
}

#[cfg(test)]
#[allow(clippy::single_range_in_vec_init, reason = "one beam is a list of one range")]
mod tests {
    use super::*;
    use riffkin_score::note::Note;
    use riffkin_score::value::{NoteValue, Shape, Tuplet};

    fn note(value: NoteValue) -> Event {
        Event::note(value, Note::plain("A1".parse().expect("a pitch")))
    }

    /// `q` quarter, `e` eighth, `s` sixteenth, `r` eighth rest, `d` dotted eighth, `t` triplet eighth, `T` triplet
    /// quarter.
    fn events(text: &str) -> Vec<Event> {
        let triplet = Some(Tuplet::TRIPLET);
        text.chars()
            .map(|c| match c {
                'q' => note(NoteValue::plain(Shape::Quarter)),
                'e' => note(NoteValue::plain(Shape::Eighth)),
                's' => note(NoteValue::plain(Shape::Sixteenth)),
                'd' => note(NoteValue::new(Shape::Eighth, 1, None).expect("exact")),
                't' => note(NoteValue::new(Shape::Eighth, 0, triplet).expect("exact")),
                'T' => note(NoteValue::new(Shape::Quarter, 0, triplet).expect("exact")),
                _ => Event::rest(NoteValue::plain(Shape::Eighth)),
            })
            .collect()
    }

    fn beam(meter: &str, text: &str) -> Vec<Range<usize>> {
        beams(meter.parse().expect("a meter"), Quarters::ZERO, &events(text))
    }

    #[test]
    fn eighths_in_common_time_join_by_the_half_bar() {
        assert_eq!(beam("4/4", "eeeeeeee"), [0..4, 4..8]);
        assert_eq!(beam("4/4", "esseeqq"), [0..3, 3..5], "with sixteenths every beat stands alone");
        assert_eq!(beam("4/4", "qeeqee"), [1..3, 4..6]);
        assert_eq!(beam("4/4", "erreeeee"), [4..8], "a rest breaks");
    }

    #[test]
    fn threes_and_uneven_groups() {
        assert_eq!(beam("3/4", "eeeeee"), [0..6]);
        assert_eq!(beam("3/4", "qeeee"), [1..3, 3..5]);
        assert_eq!(beam("6/8", "eeeeee"), [0..3, 3..6]);
        assert_eq!(beam("7/8", "eeeeeee"), [0..2, 2..4, 4..7]);
        assert_eq!(beam("4/4", "dsdsqq"), [0..2, 2..4]);
    }

    #[test]
    fn a_pickup_is_counted_from_its_end() {
        let pickup = beams(Meter::FOUR_FOUR, Quarters::whole_quarters(3), &events("ee"));
        assert_eq!(pickup, [0..2]);
        let late = beams(Meter::FOUR_FOUR, Quarters::new(5, 2).expect("exact"), &events("eee"));
        assert_eq!(late, [0..3], "three eighths before the bar line lie in the second half");
    }

    #[test]
    fn tuplets_close_when_full() {
        let e = events("tttttt");
        let b = beams(Meter::FOUR_FOUR, Quarters::ZERO, &e);
        assert_eq!(b, [0..3, 3..6]);
        let t = tuplets(&e, &b);
        assert_eq!(t.len(), 2);
        assert!(!t[0].bracket);
        let mixed = events("TtTTT");
        let t = tuplets(&mixed, &[]);
        assert_eq!(t.iter().map(|g| g.events.clone()).collect::<Vec<_>>(), [0..2, 2..5]);
        assert!(t[0].bracket && t[0].number == 3);
    }
}
