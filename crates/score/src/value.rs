//! Note values as written: a shape, dots, a tuplet.

use crate::time::Quarters;

/// The shape of a note or rest without dots.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
#[expect(missing_docs, reason = "the shapes' own names")]
pub enum Shape {
    Breve,
    Whole,
    Half,
    Quarter,
    Eighth,
    Sixteenth,
    ThirtySecond,
    SixtyFourth,
    HundredTwentyEighth,
}

impl Shape {
    /// All shapes, longest first.
    pub const ALL: [Self; 9] = [
        Self::Breve,
        Self::Whole,
        Self::Half,
        Self::Quarter,
        Self::Eighth,
        Self::Sixteenth,
        Self::ThirtySecond,
        Self::SixtyFourth,
        Self::HundredTwentyEighth,
    ];

    /// Length without dots.
    pub fn length(self) -> Quarters {
        let halvings = self as i64;
        Quarters::new(8, 1 << halvings).unwrap_or(Quarters::QUARTER)
    }

    /// Flags on the stem (beams between neighbours): eighth 1, sixteenth 2.
    pub fn flags(self) -> u8 {
        (self as u8).saturating_sub(Self::Quarter as u8)
    }

    /// In words: `quarter`.
    pub fn name(self) -> &'static str {
        [
            "breve",
            "whole",
            "half",
            "quarter",
            "eighth",
            "sixteenth",
            "thirty-second",
            "sixty-fourth",
            "hundred-twenty-eighth",
        ][self as usize]
    }
}

/// `actual` notes in the time of `normal` of the same value: a triplet is 3 in the time of 2.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Tuplet {
    actual: u8,
    normal: u8,
}

impl Tuplet {
    /// Three in the time of two.
    pub const TRIPLET: Self = Self { actual: 3, normal: 2 };

    /// 2 to 15 in the time of 1 to 16, not the same number.
    pub fn new(actual: u8, normal: u8) -> Option<Self> {
        ((2..=15).contains(&actual) && (1..=16).contains(&normal) && actual != normal)
            .then_some(Self { actual, normal })
    }

    /// Notes written.
    pub fn actual(self) -> u8 {
        self.actual
    }

    /// Notes whose time they take.
    pub fn normal(self) -> u8 {
        self.normal
    }
}

/// A complete note value.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct NoteValue {
    shape: Shape,
    dots: u8,
    tuplet: Option<Tuplet>,
    length: Quarters,
}

impl NoteValue {
    /// `None` for more than three dots or a length that is not exact (see [`Quarters`]).
    pub fn new(shape: Shape, dots: u8, tuplet: Option<Tuplet>) -> Option<Self> {
        if dots > 3 {
            return None;
        }
        let plain = shape.length();
        let dotted = plain.scaled((2 << dots) - 1, 1 << dots).ok()?;
        let length = match tuplet {
            Some(t) => dotted.scaled(i64::from(t.normal), i64::from(t.actual)).ok()?,
            None => dotted,
        };
        Some(Self { shape, dots, tuplet, length })
    }

    /// A plain shape.
    pub fn plain(shape: Shape) -> Self {
        Self { shape, dots: 0, tuplet: None, length: shape.length() }
    }

    /// The single undotted, dotted or double-dotted value of exactly this length; `None` when it takes a tie.
    pub fn of_length(length: Quarters) -> Option<Self> {
        (0..=2u8)
            .flat_map(|dots| Shape::ALL.into_iter().filter_map(move |shape| Self::new(shape, dots, None)))
            .find(|v| v.length == length)
    }

    /// The shape without dots.
    pub fn shape(self) -> Shape {
        self.shape
    }

    /// Dots, 0 to 3.
    pub fn dots(self) -> u8 {
        self.dots
    }

    /// The tuplet it belongs to.
    pub fn tuplet(self) -> Option<Tuplet> {
        self.tuplet
    }

    /// Its exact length.
    pub fn length(self) -> Quarters {
        self.length
    }

    /// In words: `dotted eighth`, `triplet eighth`.
    pub fn words(self) -> String {
        let dots = ["", "dotted ", "double-dotted ", "triple-dotted "][usize::from(self.dots)];
        let tuplet = match self.tuplet {
            None => String::new(),
            Some(Tuplet::TRIPLET) => "triplet ".to_owned(),
            Some(t) => format!("{}-in-{} ", t.actual, t.normal),
        };
        format!("{tuplet}{dots}{}", self.shape.name())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lengths in quarters: common practice, any theory primer.
    #[test]
    fn lengths() {
        let length = |shape, dots, tuplet| NoteValue::new(shape, dots, tuplet).unwrap().length().to_string();
        assert_eq!(length(Shape::Breve, 0, None), "8");
        assert_eq!(length(Shape::Whole, 0, None), "4");
        assert_eq!(length(Shape::Eighth, 0, None), "1/2");
        assert_eq!(length(Shape::HundredTwentyEighth, 0, None), "1/32");
        assert_eq!(length(Shape::Quarter, 1, None), "3/2");
        assert_eq!(length(Shape::Half, 2, None), "7/2");
        assert_eq!(length(Shape::Eighth, 0, Some(Tuplet::TRIPLET)), "1/3");
        assert_eq!(length(Shape::Sixteenth, 0, Tuplet::new(5, 4)), "1/5");
        assert_eq!(length(Shape::Eighth, 0, Tuplet::new(7, 4)), "2/7");
        assert_eq!(length(Shape::HundredTwentyEighth, 3, Some(Tuplet::TRIPLET)), "5/128");
    }

    #[test]
    fn a_tuplet_fills_the_time_of_its_normal_notes() {
        for (actual, normal) in [(3, 2), (5, 4), (6, 4), (7, 4), (2, 3), (9, 8), (11, 8), (13, 8)] {
            let tuplet = Tuplet::new(actual, normal).unwrap();
            let one = NoteValue::new(Shape::Sixteenth, 0, Some(tuplet)).unwrap().length();
            assert_eq!(one * i64::from(actual), Quarters::SIXTEENTH * i64::from(normal));
        }
        assert!(Tuplet::new(1, 2).is_none() && Tuplet::new(4, 4).is_none() && Tuplet::new(3, 0).is_none());
    }

    #[test]
    fn a_length_finds_its_value() {
        for shape in Shape::ALL {
            for dots in 0..=2 {
                let value = NoteValue::new(shape, dots, None).unwrap();
                assert_eq!(NoteValue::of_length(value.length()), Some(value));
            }
        }
        // Five eighths take a tie; a triplet eighth is no plain value.
        assert_eq!(NoteValue::of_length(Quarters::EIGHTH * 5), None);
        assert_eq!(NoteValue::of_length(Quarters::new(1, 3).unwrap()), None);
        assert_eq!(NoteValue::of_length(Quarters::ZERO), None);
        assert!(NoteValue::new(Shape::Half, 4, None).is_none());
    }

    #[test]
    fn flags_and_words() {
        let shapes = [Shape::Whole, Shape::Quarter, Shape::Eighth, Shape::SixtyFourth];
        assert_eq!(shapes.map(Shape::flags), [0, 0, 1, 4]);
        assert_eq!(NoteValue::new(Shape::Eighth, 1, None).unwrap().words(), "dotted eighth");
        let triplet = NoteValue::new(Shape::Eighth, 0, Some(Tuplet::TRIPLET)).unwrap();
        assert_eq!(triplet.words(), "triplet eighth");
    }
}
