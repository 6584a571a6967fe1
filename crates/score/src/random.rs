//! Made-up riffs for checks and benchmarks: every seed gives a valid riff, the same one each time.
//!
//! They are no music. They exist to visit what a [`Riff`] can hold: all meters, pickups, dots, tuplets in
//! complete groups, ties over bar lines, repeats and endings, chords, tempo changes, marks, places, swing.

use crate::chord::{Chord, ChordKind};
use crate::key::{Key, Mode};
use crate::meter::Meter;
use crate::note::{Approach, Event, Mark, Note, Place};
use crate::pitch::{Midi, Pitch, PitchName, Step};
use crate::riff::{Bar, Header, Riff, RiffError};
use crate::tempo::{Feel, Swing, Tempo};
use crate::time::Quarters;
use crate::value::{NoteValue, Shape, Tuplet};

/// What a made-up riff may contain. Parts that are switched off never occur.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Recipe {
    /// How many bars, 1 to [`Riff::MAX_BARS`]; taken into that range.
    pub bars: usize,
    /// Lowest and highest sounding MIDI number.
    pub range: (u8, u8),
    /// Always a key with a mode; else sometimes a key without a mode, or none.
    pub keyed: bool,
    /// Meters other than 4/4, and changes of meter.
    pub meters: bool,
    /// A pickup bar, and a short bar that completes it.
    pub pickups: bool,
    /// Triplets, quintuplets and their like.
    pub tuplets: bool,
    /// Values shorter than a sixteenth, and more than one dot.
    pub small_values: bool,
    /// Tied note heads.
    pub ties: bool,
    /// Repeats and endings.
    pub repeats: bool,
    /// Chord symbols.
    pub chords: bool,
    /// Tempo changes after the start.
    pub tempi: bool,
    /// Swing.
    pub swing: bool,
    /// Approaches, marks and bends.
    pub marks: bool,
    /// Strings, frets and fingers.
    pub places: bool,
    /// Leave the plausible: any pitch and spelling, places that do not sound the note, marks at random,
    /// endings without repeats, chords anywhere, tied heads with marks of their own.
    pub wild: bool,
}

impl Recipe {
    /// Everything a bass line could really contain, between B0 (MIDI 23) and G3 (55).
    pub fn full(bars: usize) -> Self {
        Self {
            bars,
            range: (23, 55),
            keyed: false,
            meters: true,
            pickups: true,
            tuplets: true,
            small_values: true,
            ties: true,
            repeats: true,
            chords: true,
            tempi: true,
            swing: true,
            marks: true,
            places: true,
            wild: false,
        }
    }

    /// Notes and rests in 4/4 from E1 (MIDI 28) to D3 (50), in a key, on sixteenths.
    pub fn plain(bars: usize) -> Self {
        Self {
            bars,
            range: (28, 50),
            keyed: true,
            meters: false,
            pickups: false,
            tuplets: false,
            small_values: false,
            ties: false,
            repeats: false,
            chords: false,
            tempi: false,
            swing: false,
            marks: false,
            places: false,
            wild: false,
        }
    }

    /// Anything a [`Riff`] accepts, likely or not.
    pub fn wild(bars: usize) -> Self {
        Self { range: (0, 127), wild: true, ..Self::full(bars) }
    }
}

/// A made-up riff of [`Recipe::full`].
pub fn riff(seed: u64, bars: usize) -> Riff {
    riff_of(seed, Recipe::full(bars))
}

/// A made-up riff.
pub fn riff_of(seed: u64, recipe: Recipe) -> Riff {
    let mut seed = seed;
    loop {
        // The first try is always good (see the tests); the loop only spares a panic.
        if let Ok(riff) = attempt(seed, recipe) {
            return riff;
        }
        seed = seed.wrapping_add(1);
    }
}

fn attempt(seed: u64, recipe: Recipe) -> Result<Riff, RiffError> {
    let recipe = Recipe { bars: recipe.bars.clamp(1, Riff::MAX_BARS), ..recipe };
    let mut maker = Maker { dice: Dice(seed), recipe, key: None, open: &[], last: 40, before: None };
    let (header, bars) = maker.make();
    Riff::new(header, bars)
}

/// Seeded dice: the splitmix64 generator (Steele, Lea, Flood, OOPSLA 2014, fig. 15; constants from memory).
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9e37_79b9_7f4a_7c15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
        z ^ (z >> 31)
    }

    /// 0 to `n - 1`; 0 for none.
    fn below(&mut self, n: usize) -> usize {
        if n == 0 { 0 } else { (self.roll() % n as u64) as usize }
    }

    fn between(&mut self, low: i32, high: i32) -> i32 {
        low + self.below(usize::try_from(high - low + 1).unwrap_or(1)) as i32
    }

    fn percent(&mut self, chance: usize) -> bool {
        self.below(100) < chance
    }

    fn pick<T: Copy>(&mut self, from: &[T], or: T) -> T {
        from.get(self.below(from.len())).copied().unwrap_or(or)
    }
}

struct Maker {
    dice: Dice,
    recipe: Recipe,
    key: Option<Key>,
    // Sounding open strings, highest first, of the neck in the header.
    open: &'static [u8],
    last: i32,
    before: Option<Note>,
}

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
    fn make(&mut self) -> (Header, Vec<Bar>) {
        let header = self.header();
        let mut bars = self.bars();
        self.ties(&mut bars);
        if !self.recipe.wild {
            plausible_approaches(&mut bars);
        }
        self.repeats(&mut bars);
        if self.recipe.wild {
            self.wild_endings(&mut bars);
        }
        (header, bars)
    }

    fn words(&mut self, most: usize) -> String {
        let n = 1 + self.dice.below(most);
        (0..n).map(|_| self.dice.pick(&WORDS, "Pier")).collect::<Vec<_>>().join(" ")
    }

    fn header(&mut self) -> Header {
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

    fn tempo(&mut self) -> Tempo {
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

    fn bars(&mut self) -> Vec<Bar> {
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

    fn chord(&mut self) -> Chord {
        let kind = self.dice.pick(&ChordKind::ALL, ChordKind::Major);
        let root = self.name_of(self.dice.0 as u8 % 12);
        let bass = self.dice.percent(20).then(|| {
            let slot = self.dice.below(12) as u8;
            self.name_of(slot)
        });
        Chord { root, kind, bass: bass.filter(|b| *b != root) }
    }

    /// A pitch class spelled the way the key spells it; anyhow in the wild.
    fn name_of(&mut self, pitch_class: u8) -> PitchName {
        if self.recipe.wild && self.dice.percent(30) {
            let plain = PitchName::simplest(pitch_class).line_of_fifths();
            let by = self.dice.pick(&[-12, 12], 12);
            return PitchName::from_line_of_fifths(plain + by)
                .unwrap_or_else(|| PitchName::simplest(pitch_class));
        }
        self.key
            .and_then(|key| {
                let slot = (pitch_class + 12 - key.tonic.pitch_class()) % 12;
                key.degree_of_slot(slot).of(key.tonic)
            })
            .unwrap_or_else(|| PitchName::simplest(pitch_class))
    }

    fn pitch(&mut self) -> Option<Pitch> {
        let (low, high) = (i32::from(self.recipe.range.0), i32::from(self.recipe.range.1.min(127)));
        let low = match self.open.last() {
            Some(&open) if !self.recipe.wild => low.max(i32::from(open)),
            _ => low,
        };
        let leap = match self.dice.below(8) {
            0 => self.dice.between(-12, 12),
            1 => 0,
            _ => self.dice.between(-5, 5),
        };
        let mut wanted = if self.recipe.wild && self.dice.percent(10) {
            self.dice.between(low, high)
        } else {
            (self.last + leap).clamp(low, high.max(low))
        };
        // Mostly inside the scale.
        if let Some(Key { tonic, mode: Some(mode) }) = self.key
            && self.dice.percent(80)
        {
            let slot = |midi: i32| (midi - i32::from(tonic.pitch_class())).rem_euclid(12) as u8;
            while !mode.set().contains(slot(wanted)) && wanted < high {
                wanted += 1;
            }
        }
        self.last = wanted;
        self.spell(Midi::new(u8::try_from(wanted).ok()?)?)
    }

    fn spell(&mut self, midi: Midi) -> Option<Pitch> {
        let name = self.name_of(midi.number() % 12);
        Pitch::from_midi(midi, name)
            .or_else(|| Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12)))
    }

    fn event(&mut self, value: NoteValue) -> Event {
        let pitch = if self.dice.percent(12) { None } else { self.pitch() };
        let Some(pitch) = pitch else {
            self.before = None;
            return Event::rest(value);
        };
        let mut note = Note::plain(pitch);
        if self.recipe.marks {
            self.mark(&mut note);
        }
        if self.recipe.places && self.dice.percent(40) {
            self.place(&mut note);
        }
        self.before = Some(note);
        Event::note(value, note)
    }

    fn mark(&mut self, note: &mut Note) {
        let rise = self.before.map(|b| b.pitch.interval_to(note.pitch).semitones());
        note.approach = match (self.dice.below(5), rise) {
            (0, Some(1..=4)) => Approach::Hammer,
            (0, Some(-4..=-1)) => Approach::Pull,
            (1, Some(n)) if n != 0 && n.abs() <= 12 => {
                self.dice.pick(&[Approach::Slide, Approach::SlidePlucked], Approach::Slide)
            }
            (2, _) if self.recipe.wild => {
                self.dice.pick(&[Approach::Hammer, Approach::Pull, Approach::Slide], Approach::Pull)
            }
            _ => Approach::Plucked,
        };
        while self.dice.percent(15) {
            note.marks = note.marks.with(self.dice.pick(&Mark::ALL, Mark::Accent));
        }
        if self.dice.percent(5) && (self.recipe.wild || !note.marks.has(Mark::Dead)) {
            note.bend = self.dice.between(1, if self.recipe.wild { 8 } else { 4 }) as u8;
        }
    }

    fn place(&mut self, note: &mut Note) {
        if self.recipe.wild && self.dice.percent(10) {
            note.place =
                Some(Place { string: self.dice.between(1, 12) as u8, fret: self.dice.between(0, 36) as u8 });
            note.finger = self.dice.percent(50).then(|| self.dice.between(0, 4) as u8);
            return;
        }
        // A harmonic sounds elsewhere than where it is touched, so only the wild ones have a place.
        if note.marks.has(Mark::Harmonic) && !self.recipe.wild {
            return;
        }
        let midi = note.pitch.midi().number();
        let places: Vec<Place> = (1u8..)
            .zip(self.open)
            .filter_map(|(string, &open)| Some(Place { string, fret: midi.checked_sub(open)? }))
            .filter(|place| place.fret <= 20)
            .collect();
        let Some(&place) = places.get(self.dice.below(places.len())) else { return };
        note.place = self.dice.percent(85).then_some(place);
        let finger = if place.fret == 0 { 0 } else { self.dice.between(1, 4) as u8 };
        note.finger = self.dice.percent(50).then_some(finger);
    }

    /// Turns some notes into the held rest of the note before them.
    fn ties(&mut self, bars: &mut [Bar]) {
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
    fn repeats(&mut self, bars: &mut [Bar]) {
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

    fn wild_endings(&mut self, bars: &mut [Bar]) {
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
fn plausible_approaches(bars: &mut [Bar]) {
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_seed_gives_a_riff_and_always_the_same() {
        for seed in 0..400 {
            for recipe in [Recipe::plain(3), Recipe::full(1), Recipe::full(9), Recipe::wild(6)] {
                let riff = attempt(seed, recipe).unwrap();
                assert_eq!(riff.bars().len(), recipe.bars);
                assert_eq!(riff, riff_of(seed, recipe));
            }
        }
    }

    /// A generator that never makes a tuplet would make every check with it blind to tuplets.
    #[test]
    fn what_the_recipe_names_occurs() {
        let riffs: Vec<Riff> = (0..200).map(|seed| riff(seed, 8)).collect();
        let some = |what: &str, test: &dyn Fn(&Riff) -> bool| {
            let n = riffs.iter().filter(|r| test(r)).count();
            assert!((10..=195).contains(&n), "{what} in {n} of 200");
        };
        let event =
            |r: &Riff, test: &dyn Fn(&Event) -> bool| r.bars().iter().flat_map(|b| &b.events).any(test);
        let note = |r: &Riff, test: &dyn Fn(&Note) -> bool| event(r, &|e| e.note.as_ref().is_some_and(test));
        for meter in ["7/8", "12/8", "6/8", "5/4"] {
            let meter: Meter = meter.parse().unwrap();
            some("meter", &|r| r.bars().iter().any(|b| b.meter == meter));
        }
        some("pickup", &Riff::has_pickup);
        some("tuplet", &|r| event(r, &|e| e.value.tuplet().is_some()));
        some("two dots", &|r| event(r, &|e| e.value.dots() == 2));
        some("tie over the bar line", &|r| {
            r.bars().iter().any(|b| b.events.last().and_then(|e| e.note).is_some_and(|n| n.tied))
        });
        some("repeat", &|r| r.bars().iter().any(|b| b.repeat_end.is_some()));
        some("endings", &|r| r.bars().iter().any(|b| b.endings == [2]));
        some("chord", &|r| r.bars().iter().any(|b| !b.chords.is_empty()));
        some("tempo change", &|r| r.bars().iter().any(|b| !b.tempi.is_empty()));
        some("swing", &|r| r.header().feel != Feel::Straight);
        some("no key", &|r| r.header().key.is_none());
        for mark in Mark::ALL {
            some(mark.name(), &|r| note(r, &|n| n.marks.has(mark)));
        }
        for approach in [Approach::Hammer, Approach::Pull, Approach::Slide, Approach::SlidePlucked] {
            some("approach", &|r| note(r, &|n| n.approach == approach));
        }
        some("bend", &|r| note(r, &|n| n.bend > 0));
        some("finger", &|r| note(r, &|n| n.finger == Some(3)));
        for mode in Mode::ALL {
            let n = (0..500).filter(|&s| riff(s, 1).header().key.and_then(|k| k.mode) == Some(mode)).count();
            assert!(n > 5, "{mode} in {n} of 500");
        }
    }
}
