//! One system: the greys, the lane of pitch names, seconds and bar lines.

use super::{BarLine, Form, Portrait, greys};
use crate::font::{Face, TextStyle};
use crate::path::Path;
use crate::scene::{Anchor, Ink, Item};
use crate::units::{Point, Rect};
use std::collections::BTreeMap;

/// The open strings of a four-string bass in standard tuning, by MIDI number.
const OPEN: [(u8, &str); 4] = [(28, "E1"), (33, "A1"), (38, "D2"), (43, "G2")];
/// Size of the names in the lane, and of seconds and bar numbers.
const SMALL: f64 = 2.7;
/// Height of a capital letter, in ems.
const CAPITAL: f64 = 0.65;

/// Where one system's sound lies, and what of it.
#[derive(Clone, Copy, Debug)]
pub(super) struct System {
    /// The sound.
    pub(super) area: Rect,
    /// Its first instant.
    pub(super) from_s: f64,
    /// The instant after its last.
    pub(super) to_s: f64,
    /// Lowest semitone shown.
    pub(super) low: u8,
    /// Highest semitone shown.
    pub(super) high: u8,
    /// Height of a semitone.
    pub(super) semitone: f64,
    /// Width of a second.
    pub(super) per_s: f64,
}

impl System {
    /// Where an instant lies.
    pub(super) fn x(&self, second: f64) -> f64 {
        self.area.left + (second - self.from_s) * self.per_s
    }

    /// The middle of a pitch, kept inside.
    pub(super) fn y(&self, midi: u8) -> f64 {
        let above = f64::from(midi.clamp(self.low, self.high) - self.low);
        self.area.bottom - (above + 0.5) * self.semitone
    }

    /// Whether an instant is shown.
    pub(super) fn shows(&self, second: f64) -> bool {
        second >= self.from_s && second < self.to_s
    }

    /// Everything that lies under the notes.
    pub(super) fn ground(&self, portrait: &Portrait<'_>) -> Vec<Item> {
        let raster = greys(&portrait.sound, self.from_s, self.to_s, self.low, self.high);
        let mut items = Vec::new();
        if raster.rows() > 0 {
            items.push(Item::Greys { area: self.area, greys: raster });
        }
        items.extend(self.strings());
        items.push(Item::Stroke { path: Path::rectangle(self.area), width: 0.2, ink: Ink::Black });
        items.extend(self.lane(portrait));
        items.extend(self.seconds());
        for line in portrait.bars.iter().filter(|b| self.shows(b.at_s)) {
            items.extend(self.bar(line));
        }
        items
    }

    /// A line along each open string.
    fn strings(&self) -> Vec<Item> {
        let inside = OPEN.iter().filter(|(midi, _)| (self.low..=self.high).contains(midi));
        inside
            .map(|(midi, _)| {
                let y = self.y(*midi);
                let (from, to) = (Point::new(self.area.left, y), Point::new(self.area.right, y));
                Item::Line { from, to, width: 0.15, dash: Some((0.4, 1.2)), ink: Ink::Faint }
            })
            .collect()
    }

    /// The names of what was heard, and where they leave room, of the open strings and of every C.
    fn lane(&self, portrait: &Portrait<'_>) -> Vec<Item> {
        let mut names: BTreeMap<u8, (&str, Face)> = BTreeMap::new();
        for note in portrait.notes.iter().filter(|n| n.form != Form::Dead && !n.name.is_empty()) {
            names.entry(note.midi).or_insert((&note.name, Face::Bold));
        }
        let octaves = ["C1", "C2", "C3", "C4", "C5", "C6"];
        let every_c = octaves.iter().zip(0u8..).map(|(name, octave)| (24 + 12 * octave, *name));
        for (midi, name) in OPEN.into_iter().chain(every_c) {
            let near = midi.saturating_sub(1)..=midi + 1;
            if names.range(near).next().is_none() {
                names.insert(midi, (name, Face::Roman));
            }
        }
        let mut items = Vec::new();
        // Names of neighbouring semitones would touch: every other one stands further out.
        let mut last: Option<(u8, bool)> = None;
        for (midi, (name, face)) in names.range(self.low..=self.high) {
            let out = last.is_some_and(|(below, out)| below + 1 == *midi && !out);
            last = Some((*midi, out));
            let (right, y) = (self.area.left, self.y(*midi));
            let reach = if out { 7.6 } else { 1.4 };
            let at = Point::new(right - reach - 0.6, y + 0.5 * CAPITAL * SMALL);
            let ink = if out { Ink::Faint } else { Ink::Black };
            let (from, to) = (Point::new(right - reach, y), Point::new(right, y));
            items.push(Item::Line { from, to, width: 0.15, dash: None, ink });
            items.push(Item::text(*name, at, TextStyle::new(*face, SMALL), Anchor::End));
        }
        items
    }

    /// Seconds below.
    fn seconds(&self) -> Vec<Item> {
        let bottom = self.area.bottom;
        let mut items = Vec::new();
        let mut half = (self.from_s * 2.0).ceil();
        while half / 2.0 <= self.to_s + 1e-6 {
            let (second, x) = (half / 2.0, self.x(half / 2.0));
            let whole = half.rem_euclid(2.0) == 0.0;
            let length = if whole { 1.6 } else { 0.8 };
            items.push(Item::line(Point::new(x, bottom), Point::new(x, bottom + length), 0.2));
            if whole {
                let minutes = (second / 60.0).floor();
                let words = if minutes >= 1.0 {
                    format!("{minutes:.0}:{:02.0}", second - 60.0 * minutes)
                } else {
                    format!("{second:.0} s")
                };
                let at = Point::new(x, bottom + 4.2);
                items.push(Item::text(words, at, TextStyle::new(Face::Roman, SMALL), Anchor::Middle));
            }
            half += 1.0;
        }
        items
    }

    /// A bar line with its number, or a beat's tick.
    fn bar(&self, line: &BarLine) -> Vec<Item> {
        let (x, top) = (self.x(line.at_s), self.area.top);
        let Some(bar) = line.bar else {
            return vec![Item::line(Point::new(x, top - 1.2), Point::new(x, top), 0.2)];
        };
        let (from, to) = (Point::new(x, top - 2.2), Point::new(x, self.area.bottom));
        let words = Point::new(x + 0.8, top - 1.9);
        vec![
            Item::Line { from, to, width: 0.8, dash: None, ink: Ink::Paper },
            Item::line(from, to, 0.22),
            Item::text(format!("bar {bar}"), words, TextStyle::new(Face::Italic, SMALL), Anchor::Start),
        ]
    }
}
