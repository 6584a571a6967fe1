//! The header, and bars filled with values.

use super::Maker;
use crate::key::{Key, Mode};
use crate::meter::Meter;
use crate::pitch::{PitchName, Step};
use crate::riff::{Bar, Header};
use crate::tempo::{Feel, Swing, Tempo};
use crate::time::Quarters;
use crate::value::{NoteValue, Shape, Tuplet};

/// Sounding open strings of necks by name, highest first (standard tunings, common practice).
const NECKS: [(&str, &[u8]); 4] = [
    ("four", &[43, 38, 33, 28]),
    ("five", &[43, 38, 33, 28, 23]),
    ("six", &[48, 43, 38, 33, 28, 23]),
    ("drop-d", &[43, 38, 33, 26]),
];

const WORDS: [&str; 16] = [
    "Wet", "Rope", "Low", "Tide", "Gull", "Harbour", "Kelp", "Lantern", "Salt", "Net", "Mender", "Ferry",
    "Pier", "Fog", "Horn", "No. 7",
];

impl Maker {
    pub(super) fn words(&mut self, most: usize) -> String {
        let n = 1 + self.dice.below(most);
        (0..n).map(|_| self.dice.pick(&WORDS, "Pier")).collect::<Vec<_>>().join(" ")
    }

    pub(super) fn header(&mut self) -> Header {
        let tonic = PitchName::from_line_of_fifths(if self.recipe.wild {
            self.dice.between(-15, 19)
        } else {
            self.dice.between(-6, 6)
        })
        .unwrap_or(PitchName::natural(Step::D));
        let mode = self.dice.pick(&Mode::ALL, Mode::Minor);
        self.key = match self.dice.below(10) {
            0 if !self.recipe.keyed => None,
            1 if !self.recipe.keyed => Some(Key { tonic, mode: None }),
            _ if self.recipe.wild => Some(Key::new(tonic, mode)),
            _ => Some(Key::new(tonic, mode).simplest()),
        };
        let mut neck = None;
        if self.recipe.places {
            let (name, open) = self.dice.pick(&NECKS, NECKS[0]);
            (neck, self.open) = (Some(name.to_owned()), open);
        }
        let feel = match self.dice.below(4) {
            0 if self.recipe.swing => Swing::new(
                self.dice.pick(&[2, 3, 5, 7], 2),
                self.dice.pick(&[1, 2, 3, 4], 1),
                self.dice.percent(30),
            )
            .map_or(Feel::Swing(Swing::TRIPLET), Feel::Swing),
            _ => Feel::Straight,
        };
        let some = |maker: &mut Self| maker.dice.percent(40).then(|| maker.words(5));
        Header {
            title: self.words(3),
            key: self.key,
            tempo: self.tempo(),
            feel,
            neck,
            source: some(self),
            permission: some(self),
            remarks: (0..self.dice.below(3)).map(|_| self.words(8)).collect(),
        }
    }

    pub(super) fn tempo(&mut self) -> Tempo {
        let unit = match self.dice.below(6) {
            0 if self.recipe.meters => NoteValue::new(Shape::Quarter, 1, None),
            1 if self.recipe.meters => Some(NoteValue::plain(Shape::Half)),
            2 if self.recipe.wild => NoteValue::new(
                self.dice.pick(&Shape::ALL, Shape::Eighth),
                self.dice.between(0, 3) as u8,
                None,
            ),
            _ => None,
        };
        let thousandths = match self.dice.below(4) {
            0 => self.dice.between(40_000, 200_000),
            _ => self.dice.between(40, 200) * 1000,
        };
        Tempo::new(f64::from(thousandths) / 1000.0, unit.unwrap_or(NoteValue::plain(Shape::Quarter)))
            .unwrap_or_default()
    }

    fn meter(&mut self) -> Meter {
        if !self.recipe.meters {
            return Meter::FOUR_FOUR;
        }
        let text = self.dice.pick(
            &[
                "4/4", "4/4", "4/4", "3/4", "2/4", "5/4", "6/8", "12/8", "9/8", "7/8", "3+2+2/8", "3/8",
                "2/2", "3/2", "5/8", "11/8", "13/16", "6/4",
            ],
            "4/4",
        );
        let wild = if self.recipe.wild && self.dice.percent(20) {
            let groups: Vec<u8> = (0..=self.dice.below(7)).map(|_| self.dice.between(1, 4) as u8).collect();
            Meter::grouped(&groups, self.dice.pick(&[1, 2, 4, 8, 16, 32], 4))
        } else {
            None
        };
        wild.or_else(|| text.parse().ok()).unwrap_or(Meter::FOUR_FOUR)
    }

    pub(super) fn bars(&mut self) -> Vec<Bar> {
        let mut meter = self.meter();
        let mut bars = Vec::with_capacity(self.recipe.bars);
        let mut owed = None;
        for i in 0..self.recipe.bars {
            if i > 0 && self.dice.percent(8) {
                meter = self.meter();
            }
            let full = meter.bar_length();
            let unit = meter.unit_length();
            let mut length = full;
            let units = i32::from(meter.beats());
            if i == 0 && self.recipe.bars > 1 && units > 1 && self.recipe.pickups && self.dice.percent(30) {
                length = unit * i64::from(self.dice.between(1, units - 1));
                owed = Some((meter, full - length));
            } else if i + 1 == self.recipe.bars
                && let Some((_, rest)) = owed.take_if(|(m, _)| *m == meter)
            {
                length = rest;
            }
            bars.push(self.bar(meter, length));
        }
        bars
    }

    fn bar(&mut self, meter: Meter, length: Quarters) -> Bar {
        let mut bar = Bar::new(meter, Vec::new());
        bar.short = length < meter.bar_length() || (self.recipe.wild && self.dice.percent(3));
        let mut at = Quarters::ZERO;
        while at < length {
            for value in self.values(length - at, meter) {
                if at.rest_of_steps(Quarters::EIGHTH) == Quarters::ZERO || self.recipe.wild {
                    if self.recipe.chords && self.dice.percent(12) {
                        bar.chords.push((at, self.chord()));
                    }
                    if self.recipe.tempi && self.dice.percent(2) {
                        bar.tempi.push((at, self.tempo()));
                    }
                }
                // A chord may also change while a long note sounds.
                let half = Quarters::new(self.dice.between(1, 7).into(), 4).unwrap_or(Quarters::QUARTER);
                if self.recipe.chords && half < value.length() && self.dice.percent(10) {
                    bar.chords.push((at + half, self.chord()));
                }
                bar.events.push(self.event(value));
                at += value.length();
            }
        }
        bar
    }

    /// One value, or a complete tuplet group, that fits into `room`.
    fn values(&mut self, room: Quarters, meter: Meter) -> Vec<NoteValue> {
        if self.recipe.tuplets && self.dice.percent(15) {
            let group = self.group(meter);
            let sum: Quarters = group.iter().map(|v| v.length()).sum();
            if sum <= room && (room - sum).fraction().1 <= 8 && !group.is_empty() {
                return group;
            }
        }
        let most_dots = if self.recipe.small_values { 3 } else { 1 };
        let dots = match self.dice.below(20) {
            0 => most_dots.min(2),
            1 if self.recipe.small_values => 3,
            2..=5 => 1,
            _ => 0,
        };
        let shapes: &[Shape] = if self.recipe.small_values && self.dice.percent(10) {
            &Shape::ALL
        } else {
            &[
                Shape::Whole,
                Shape::Half,
                Shape::Quarter,
                Shape::Quarter,
                Shape::Eighth,
                Shape::Eighth,
                Shape::Eighth,
                Shape::Sixteenth,
            ]
        };
        let smallest = if self.recipe.small_values { 32 } else { 4 };
        let shape = self.dice.pick(shapes, Shape::Eighth);
        if let Some(value) = NoteValue::new(shape, dots, None)
            && value.length() <= room
            && (room - value.length()).fraction().1 <= smallest
        {
            return vec![value];
        }
        // Whatever is largest and still fits.
        Shape::ALL
            .into_iter()
            .map(NoteValue::plain)
            .find(|v| v.length() <= room)
            .map_or_else(|| vec![NoteValue::plain(Shape::HundredTwentyEighth)], |v| vec![v])
    }

    fn group(&mut self, meter: Meter) -> Vec<NoteValue> {
        let kinds: &[(u8, u8, Shape)] = if meter.is_compound() {
            &[(2, 3, Shape::Eighth), (4, 3, Shape::Eighth), (3, 2, Shape::Sixteenth)]
        } else {
            &[
                (3, 2, Shape::Eighth),
                (3, 2, Shape::Eighth),
                (3, 2, Shape::Quarter),
                (3, 2, Shape::Sixteenth),
                (5, 4, Shape::Sixteenth),
                (6, 4, Shape::Sixteenth),
                (7, 4, Shape::Sixteenth),
                (9, 8, Shape::ThirtySecond),
                (5, 4, Shape::Eighth),
            ]
        };
        let (actual, normal, shape) = self.dice.pick(kinds, (3, 2, Shape::Eighth));
        let tuplet = Tuplet::new(actual, normal);
        let of = |shape, dots| NoteValue::new(shape, dots, tuplet);
        let longer = Shape::ALL[(shape as usize).saturating_sub(1)];
        let shorter = Shape::ALL[(shape as usize + 1).min(8)];
        // A triplet may be written long-short or dotted.
        let mixed = match self.dice.below(4) {
            0 if actual == 3 => [of(longer, 0), of(shape, 0)].into_iter().collect::<Option<Vec<_>>>(),
            1 if actual == 3 => [of(shape, 1), of(shorter, 0), of(shape, 0)].into_iter().collect(),
            _ => None,
        };
        mixed.or_else(|| vec![of(shape, 0); usize::from(actual)].into_iter().collect()).unwrap_or_default()
    }
}
