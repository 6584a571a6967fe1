//! Beams and tuplet brackets of one bar.

use riffkin_score::note::Event;
use riffkin_score::riff::Bar;
use riffkin_score::time::Quarters;

/// Where an event stands in a tuplet bracket.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Bracket {
    /// A bracket starts here.
    pub(super) start: bool,
    /// It ends here.
    pub(super) stop: bool,
}

/// Brackets for each event: a group ends when it fills a whole number of its shortest shape times the
/// normal count, or when another value follows.
pub(super) fn brackets(events: &[Event]) -> Vec<Bracket> {
    let mut brackets = vec![Bracket::default(); events.len()];
    let mut i = 0;
    while i < events.len() {
        let Some(tuplet) = events[i].value.tuplet() else {
            i += 1;
            continue;
        };
        let start = i;
        let mut sum = Quarters::ZERO;
        let mut shortest = events[i].value.shape();
        while let Some(event) = events.get(i).filter(|e| e.value.tuplet() == Some(tuplet)) {
            sum += event.value.length();
            shortest = shortest.max(event.value.shape());
            i += 1;
            let unit = shortest.length() * i64::from(tuplet.normal());
            if sum.rest_of_steps(unit) == Quarters::ZERO {
                break;
            }
        }
        brackets[start].start = true;
        brackets[i - 1].stop = true;
    }
    brackets
}

/// The beams of each event, by level from the eighths down: `begin`, `continue`, `end` or a hook.
/// Beams join notes of one group of the meter with no rest between (common practice, no source).
pub(super) fn beams(bar: &Bar) -> Vec<Vec<&'static str>> {
    let mut beams = vec![Vec::new(); bar.events.len()];
    let lead =
        if bar.short { Quarters::ZERO.max(bar.meter.bar_length() - bar.length()) } else { Quarters::ZERO };
    let mut run: Vec<usize> = Vec::new();
    let mut run_group = None;
    let mut at = lead;
    for (i, event) in bar.events.iter().enumerate() {
        let group = group_at(bar, at);
        at += event.value.length();
        if event.note.is_none() || event.value.shape().flags() == 0 || run_group != Some(group) {
            join(&run, &bar.events, &mut beams);
            run.clear();
        }
        if event.note.is_some() && event.value.shape().flags() > 0 {
            run.push(i);
            run_group = Some(group);
        }
    }
    join(&run, &bar.events, &mut beams);
    beams
}

fn group_at(bar: &Bar, at: Quarters) -> usize {
    let mut end = Quarters::ZERO;
    for (i, length) in bar.meter.groups().into_iter().enumerate() {
        end += length;
        if at < end {
            return i;
        }
    }
    usize::MAX
}

fn join(run: &[usize], events: &[Event], beams: &mut [Vec<&'static str>]) {
    if run.len() < 2 {
        return;
    }
    let flags = |k: Option<usize>| k.and_then(|k| run.get(k)).map_or(0, |&i| events[i].value.shape().flags());
    for (k, &i) in run.iter().enumerate() {
        for level in 1..=flags(Some(k)) {
            let before = flags(k.checked_sub(1)) >= level;
            let after = flags(Some(k + 1)) >= level;
            beams[i].push(match (before, after) {
                (true, true) => "continue",
                (true, false) => "end",
                (false, true) => "begin",
                (false, false) if k == 0 => "forward hook",
                (false, false) => "backward hook",
            });
        }
    }
}

#[cfg(test)]
mod tests {
    use riffkin_score::meter::Meter;
    use riffkin_score::note::Note;
    use riffkin_score::value::{NoteValue, Shape, Tuplet};

    use super::*;

    fn note(shape: Shape, dots: u8, tuplet: Option<Tuplet>) -> Event {
        Event::note(NoteValue::new(shape, dots, tuplet).unwrap(), Note::plain("D2".parse().unwrap()))
    }

    #[test]
    fn a_dotted_eighth_and_its_sixteenth_share_a_beam() {
        let bar = Bar::new(
            "2/4".parse::<Meter>().unwrap(),
            vec![
                note(Shape::Eighth, 1, None),
                note(Shape::Sixteenth, 0, None),
                note(Shape::Eighth, 0, None),
                note(Shape::Eighth, 0, None),
            ],
        );
        assert_eq!(beams(&bar), [vec!["begin"], vec!["end", "backward hook"], vec!["begin"], vec!["end"]]);
    }

    #[test]
    fn brackets_close_when_the_triplet_is_full() {
        let t = Some(Tuplet::TRIPLET);
        let events = [
            note(Shape::Quarter, 0, t),
            note(Shape::Eighth, 0, t),
            note(Shape::Eighth, 0, t),
            note(Shape::Eighth, 0, t),
            note(Shape::Eighth, 0, t),
            note(Shape::Quarter, 0, None),
        ];
        let found: Vec<(bool, bool)> = brackets(&events).into_iter().map(|b| (b.start, b.stop)).collect();
        let (open, close, none) = ((true, false), (false, true), (false, false));
        assert_eq!(found, [open, close, open, none, close, none]);
    }
}
