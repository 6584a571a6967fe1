//! Intervals: the number comes from the letters, the quality from the semitones.

use std::fmt;

/// A signed interval between two spelled pitches.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Interval {
    steps: i32,
    semitones: i32,
}

/// Quality of an interval.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Quality {
    /// Diminished, this many times.
    Diminished(u8),
    /// Minor.
    Minor,
    /// Perfect.
    Perfect,
    /// Major.
    Major,
    /// Augmented, this many times.
    Augmented(u8),
}

impl Interval {
    /// The same pitch.
    pub const UNISON: Self = Self { steps: 0, semitones: 0 };
    /// An octave upwards.
    pub const OCTAVE: Self = Self { steps: 7, semitones: 12 };

    /// From letter steps (unison 0, second 1 …) and semitones, both signed the same way.
    pub const fn from_steps(steps: i32, semitones: i32) -> Self {
        Self { steps, semitones }
    }

    /// Letter steps, signed.
    pub fn steps(self) -> i32 {
        self.steps
    }

    /// Semitones, signed.
    pub fn semitones(self) -> i32 {
        self.semitones
    }

    /// Places on the line of fifths: perfect fifth 1, major second 2, minor second -5.
    pub fn fifths(self) -> i32 {
        // A letter step up is two fifths, less seven for each octave of letters; a semitone off is seven fifths.
        let natural = [0, 2, 4, -1, 1, 3, 5][self.steps.rem_euclid(7) as usize];
        let natural_semitones =
            [0, 2, 4, 5, 7, 9, 11][self.steps.rem_euclid(7) as usize] + 12 * self.steps.div_euclid(7);
        natural + 7 * (self.semitones - natural_semitones)
    }

    /// The same interval and whole octaves more, upwards above zero.
    pub const fn with_octaves(self, more: i32) -> Self {
        Self { steps: self.steps + 7 * more, semitones: self.semitones + 12 * more }
    }

    /// The same interval the other way.
    pub fn inverse(self) -> Self {
        Self { steps: -self.steps, semitones: -self.semitones }
    }

    /// The interval number as spoken, 1 unison, 8 octave, 10 tenth; never below 1.
    pub fn number(self) -> u32 {
        self.upward().steps.unsigned_abs() + 1
    }

    /// Quality, taken upwards.
    pub fn quality(self) -> Quality {
        let up = self.upward();
        let within = up.steps.rem_euclid(7) as usize;
        let plain = [0, 2, 4, 5, 7, 9, 11][within] + 12 * up.steps.div_euclid(7);
        let off = up.semitones - plain;
        let clamp = |n: i32| u8::try_from(n).unwrap_or(u8::MAX);
        if matches!(within, 0 | 3 | 4) {
            match off {
                0 => Quality::Perfect,
                n if n > 0 => Quality::Augmented(clamp(n)),
                n => Quality::Diminished(clamp(-n)),
            }
        } else {
            match off {
                0 => Quality::Major,
                -1 => Quality::Minor,
                n if n > 0 => Quality::Augmented(clamp(n)),
                n => Quality::Diminished(clamp(-n - 1)),
            }
        }
    }

    fn upward(self) -> Self {
        if self.steps < 0 || (self.steps == 0 && self.semitones < 0) { self.inverse() } else { self }
    }

    /// True when the interval goes down.
    pub fn is_down(self) -> bool {
        self.steps < 0 || (self.steps == 0 && self.semitones < 0)
    }

    /// In words: `minor third up`, `perfect octave down`, `unison`.
    pub fn words(self) -> String {
        if self.steps == 0 && self.semitones == 0 {
            return "unison".to_owned();
        }
        // Beyond a tenth nobody counts on: what is left above whole octaves is said, and the octaves.
        let (number, octaves) = match self.number() {
            n @ (11..=14 | 16..) => ((n - 2) % 7 + 2, (n - 2) / 7),
            n => (n, 0),
        };
        let number = match number {
            1 => "unison".to_owned(),
            2 => "second".to_owned(),
            3 => "third".to_owned(),
            4 => "fourth".to_owned(),
            5 => "fifth".to_owned(),
            6 => "sixth".to_owned(),
            7 => "seventh".to_owned(),
            8 => "octave".to_owned(),
            9 => "ninth".to_owned(),
            10 => "tenth".to_owned(),
            _ => "double octave".to_owned(),
        };
        let and = match octaves {
            0 => String::new(),
            1 => " and an octave".to_owned(),
            n => format!(" and {n} octaves"),
        };
        let quality = match self.quality() {
            Quality::Perfect => "perfect",
            Quality::Major => "major",
            Quality::Minor => "minor",
            Quality::Augmented(1) => "augmented",
            Quality::Diminished(1) => "diminished",
            Quality::Augmented(_) => "more than augmented",
            Quality::Diminished(_) => "more than diminished",
        };
        format!("{quality} {number}{and} {}", if self.is_down() { "down" } else { "up" })
    }
}

/// Short form: `m3`, `P5`, `A4`, `-M2` downwards.
impl fmt::Display for Interval {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.is_down() {
            f.write_str("-")?;
        }
        match self.quality() {
            Quality::Perfect => f.write_str("P")?,
            Quality::Major => f.write_str("M")?,
            Quality::Minor => f.write_str("m")?,
            Quality::Augmented(n) => f.write_str(&"A".repeat(usize::from(n)))?,
            Quality::Diminished(n) => f.write_str(&"d".repeat(usize::from(n)))?,
        }
        write!(f, "{}", self.number())
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::pitch::Pitch;

    fn between(low: &str, high: &str) -> String {
        let (low, high): (Pitch, Pitch) = (low.parse().unwrap(), high.parse().unwrap());
        low.interval_to(high).to_string()
    }

    /// Interval names by letter and semitone: common practice, any theory primer.
    #[test]
    fn number_from_letters_quality_from_semitones() {
        for (low, high, name) in [
            ("E1", "G#1", "M3"),
            ("E1", "Ab1", "d4"),
            ("G1", "Bb1", "m3"),
            ("G1", "C2", "P4"),
            ("G1", "Db2", "d5"),
            ("G1", "C#2", "A4"),
            ("G1", "F2", "m7"),
            ("G1", "F1", "-M2"),
            ("C2", "E3", "M10"),
            ("C2", "C3", "P8"),
            ("C2", "C#2", "A1"),
            ("B1", "C2", "m2"),
            ("F1", "B1", "A4"),
            ("B1", "F2", "d5"),
        ] {
            assert_eq!(between(low, high), name, "{low} to {high}");
        }
    }

    /// An interval and its inversion make an octave; perfect stays perfect, major turns minor, augmented turns
    /// diminished (any theory primer).
    #[test]
    fn inversions() {
        for (steps, semitones) in (0..=7).flat_map(|steps| (0..=12).map(move |semitones| (steps, semitones)))
        {
            let one = Interval::from_steps(steps, semitones);
            let other = Interval::from_steps(7 - steps, 12 - semitones);
            assert_eq!(one.fifths() + other.fifths(), 0);
            assert_eq!(one.number() + other.number(), 9);
            match (one.quality(), other.quality()) {
                (Quality::Perfect, Quality::Perfect)
                | (Quality::Major, Quality::Minor)
                | (Quality::Minor, Quality::Major) => {}
                (Quality::Augmented(a), Quality::Diminished(b))
                | (Quality::Diminished(a), Quality::Augmented(b)) => assert_eq!(a, b),
                pair => panic!("{one} and {other}: {pair:?}"),
            }
        }
    }

    #[test]
    fn in_words() {
        let words = |steps, semitones| Interval::from_steps(steps, semitones).words();
        assert_eq!(words(0, 0), "unison");
        assert_eq!(words(2, 3), "minor third up");
        assert_eq!(words(-7, -12), "perfect octave down");
        assert_eq!(words(9, 16), "major tenth up");
        assert_eq!(words(-3, -6), "augmented fourth down");
        assert_eq!(words(0, -1), "augmented unison down");
        assert_eq!(words(11, 19), "perfect fifth and an octave up");
        assert_eq!(words(-14, -24), "perfect double octave down");
        assert_eq!(words(17, 29), "perfect fourth and 2 octaves up");
        assert_eq!(words(28, 48), "perfect octave and 3 octaves up");
    }
}
