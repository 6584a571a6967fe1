//! A riff as it is played: repeats and endings followed, tempo along the way.

use super::{PlayedNote, Riff};
use crate::tempo::TempoMap;
use crate::time::Quarters;

impl Riff {
    /// The order in which bars are played, as indices, repeats and endings followed.
    pub fn order(&self) -> Vec<usize> {
        let mut order = Vec::new();
        let (mut start, mut pass, mut i) = (0usize, 1u8, 0usize);
        while let Some(bar) = self.bars.get(i) {
            if order.len() >= Self::MAX_PLAYED_BARS {
                break;
            }
            if bar.repeat_start && start != i {
                (start, pass) = (i, 1);
            }
            if bar.endings.is_empty() || bar.endings.contains(&pass) {
                order.push(i);
            }
            let skipped = !bar.endings.is_empty() && !bar.endings.contains(&pass);
            match bar.repeat_end {
                Some(times) if !skipped && pass < times => {
                    pass += 1;
                    i = start;
                    continue;
                }
                // A passage is over when its last pass ends, unless other endings of it follow.
                Some(_) if !skipped && self.bars.get(i + 1).is_none_or(|next| next.endings.is_empty()) => {
                    (start, pass) = (i + 1, 1);
                }
                _ => {}
            }
            if !bar.endings.is_empty() && self.bars.get(i + 1).is_some_and(|next| next.endings.is_empty()) {
                (start, pass) = (i + 1, 1);
            }
            i += 1;
        }
        order
    }

    /// The notes as played, repeats written out, in time order.
    pub fn played(&self) -> Vec<PlayedNote> {
        let line = self.line();
        let mut first_of_bar = vec![line.len(); self.bars.len() + 1];
        for (k, note) in line.iter().enumerate().rev() {
            first_of_bar[note.bar] = k;
        }
        let mut played = Vec::new();
        let mut at = Quarters::ZERO;
        for bar in self.order() {
            let start = self.bar_start(bar);
            let from = first_of_bar[bar];
            for (k, note) in line.iter().enumerate().skip(from).take_while(|(_, n)| n.bar == bar) {
                played.push(PlayedNote {
                    onset: at + (note.onset - start),
                    length: note.length,
                    line: k,
                    note: note.note,
                });
            }
            at += self.bars[bar].length();
        }
        // A tie into a bar that is not played next must not run into the notes that are.
        for k in 1..played.len() {
            let room = played[k].onset - played[k - 1].onset;
            if played[k - 1].length > room {
                played[k - 1].length = room;
            }
        }
        played
    }

    /// Length of the whole riff as played.
    pub fn played_length(&self) -> Quarters {
        self.order().into_iter().map(|i| self.bars[i].length()).sum()
    }

    /// Tempo over the riff as played.
    pub fn played_tempo(&self) -> TempoMap {
        let mut changes = Vec::new();
        let mut at = Quarters::ZERO;
        let mut standing = self.header.tempo;
        let mut written = Vec::with_capacity(self.bars.len());
        for bar in &self.bars {
            written.push(standing);
            if let Some(&(_, last)) = bar.tempi.last() {
                standing = last;
            }
        }
        let mut now = self.header.tempo;
        for i in self.order() {
            if written[i] != now {
                changes.push((at, written[i]));
            }
            now = written[i];
            for &(offset, tempo) in &self.bars[i].tempi {
                changes.push((at + offset, tempo));
                now = tempo;
            }
            at += self.bars[i].length();
        }
        TempoMap::new(self.header.tempo, changes)
    }

    /// Tempo over the written line.
    pub fn tempo(&self) -> TempoMap {
        TempoMap::new(
            self.header.tempo,
            self.bars.iter().enumerate().flat_map(|(i, bar)| {
                bar.tempi.iter().map(move |&(offset, tempo)| (self.bar_start(i) + offset, tempo))
            }),
        )
    }
}
