//! Made-up riffs for checks and benchmarks: every seed gives a valid riff, the same one each time.
//!
//! They are no music. They exist to visit what a [`Riff`] can hold: all meters, pickups, dots, tuplets in
//! complete groups, ties over bar lines, repeats and endings, chords, tempo changes, marks, places, swing.

mod bars;
mod dice;
mod form;
mod notes;

use crate::key::Key;
use crate::note::Note;
use crate::riff::{Bar, Header, Riff, RiffError};
use dice::Dice;

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

struct Maker {
    dice: Dice,
    recipe: Recipe,
    key: Option<Key>,
    // Sounding open strings, highest first, of the neck in the header.
    open: &'static [u8],
    last: i32,
    before: Option<Note>,
}

impl Maker {
    fn make(&mut self) -> (Header, Vec<Bar>) {
        let header = self.header();
        let mut bars = self.bars();
        self.ties(&mut bars);
        if !self.recipe.wild {
            form::plausible_approaches(&mut bars);
        }
        self.repeats(&mut bars);
        if self.recipe.wild {
            self.wild_endings(&mut bars);
        }
        (header, bars)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::key::Mode;
    use crate::meter::Meter;
    use crate::note::{Approach, Event, Mark};
    use crate::tempo::Feel;

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
