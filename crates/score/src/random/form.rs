//! What goes over several bars: ties, repeats, endings.

use super::Maker;
use crate::note::{Approach, Note};
use crate::pitch::Pitch;
use crate::riff::Bar;

impl Maker {
    /// Turns some notes into the held rest of the note before them.
    pub(super) fn ties(&mut self, bars: &mut [Bar]) {
        if !self.recipe.ties {
            return;
        }
        let mut before: Option<(usize, usize, Note)> = None;
        for i in 0..bars.len() {
            for j in 0..bars[i].events.len() {
                let Some(note) = bars[i].events[j].note else {
                    before = None;
                    continue;
                };
                let chance = if j == 0 { 35 } else { 8 };
                match before {
                    Some((bi, bj, held)) if self.dice.percent(chance) => {
                        let mut next = Note { place: held.place, ..Note::plain(held.pitch) };
                        if self.recipe.wild && self.dice.percent(30) {
                            let pitch = self.spell(held.pitch.midi()).unwrap_or(held.pitch);
                            next = Note { pitch, tied: false, ..note };
                        }
                        if let Some(first) = bars[bi].events[bj].note.as_mut() {
                            first.tied = true;
                        }
                        bars[i].events[j].note = Some(next);
                        before = Some((i, j, next));
                    }
                    _ => before = Some((i, j, note)),
                }
            }
        }
    }

    /// Repeats with and without endings, none inside another; ties do not cross their borders.
    pub(super) fn repeats(&mut self, bars: &mut [Bar]) {
        if !self.recipe.repeats {
            return;
        }
        let mut at = usize::from(bars.first().is_some_and(|b| b.short));
        while at < bars.len() {
            at += self.dice.below(6);
            let last = at + self.dice.below(4);
            if last >= bars.len() {
                return;
            }
            let times = self.dice.pick(&[2, 2, 2, 3, 4], 2);
            bars[at].repeat_start = at > 0 || self.dice.percent(50);
            bars[last].repeat_end = Some(times);
            let mut end = last;
            if last > at && last + 1 < bars.len() && self.dice.percent(40) {
                bars[last].endings = (1..times).collect();
                bars[last + 1].endings = vec![times];
                end = last + 1;
                untie(bars, last - 1);
            }
            if at > 0 {
                untie(bars, at - 1);
            }
            untie(bars, last);
            untie(bars, end);
            at = end + 1;
        }
    }

    pub(super) fn wild_endings(&mut self, bars: &mut [Bar]) {
        for bar in bars {
            if self.dice.percent(15) {
                bar.repeat_start = true;
            }
            if self.dice.percent(10) {
                bar.repeat_end = Some(self.dice.between(2, 99) as u8);
            }
            if self.dice.percent(25) {
                let mut passes: Vec<u8> =
                    (0..=self.dice.below(3)).map(|_| self.dice.between(1, 24) as u8).collect();
                passes.sort_unstable();
                passes.dedup();
                bar.endings = passes;
            }
        }
    }
}

/// Takes away the tie over the bar line at the end of a bar.
fn untie(bars: &mut [Bar], bar: usize) {
    if let Some(note) = bars.get_mut(bar).and_then(|b| b.events.last_mut()).and_then(|e| e.note.as_mut()) {
        note.tied = false;
    }
}

/// Drops hammer-ons, pull-offs and slides that a tie has cut off from the note they started on.
pub(super) fn plausible_approaches(bars: &mut [Bar]) {
    let mut before: Option<Pitch> = None;
    for event in bars.iter_mut().flat_map(|b| b.events.iter_mut()) {
        if let Some(note) = event.note.as_mut() {
            let rise = before.map_or(0, |b| b.interval_to(note.pitch).semitones());
            let fits = match note.approach {
                Approach::Plucked => true,
                Approach::Hammer => (1..=4).contains(&rise),
                Approach::Pull => (-4..=-1).contains(&rise),
                Approach::Slide | Approach::SlidePlucked => rise != 0 && rise.abs() <= 12,
            };
            if !fits {
                note.approach = Approach::Plucked;
            }
        }
        before = event.note.map(|n| n.pitch);
    }
}
