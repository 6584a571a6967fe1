//! Exact musical time.

use std::fmt;
use std::iter::Sum;
use std::ops::{Add, AddAssign, Mul, Neg, Sub, SubAssign};
use std::str::FromStr;

/// A length or a position in musical time, counted in quarter notes, exact.
///
/// Held as a whole number of 1/[`Quarters::GRAIN`] quarter notes. The grain is
/// `2^10 · 3^3 · 5^2 · 7 · 11 · 13`, so every value that notation can write (to the 1/4096 note, dotted, in
/// triplets, quintuplets, septuplets and triplets of triplets) is a whole number of grains and sums never
/// round and never overflow: the range is more than ten thousand million quarter notes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Quarters(i64);

/// The fraction asked for is not a whole number of grains, or lies out of range.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error(
    "{num}/{den} of a quarter note cannot be held exactly; use halves, thirds, fifths, sevenths and their like"
)]
pub struct NotExact {
    /// Numerator as given.
    pub num: i64,
    /// Denominator as given.
    pub den: i64,
}

impl Quarters {
    /// Grains in one quarter note.
    pub const GRAIN: i64 = 1024 * 27 * 25 * 7 * 11 * 13;
    /// Largest magnitude accepted, in quarter notes.
    pub const LIMIT: i64 = 100_000_000;
    /// No time at all.
    pub const ZERO: Self = Self(0);
    /// A whole note.
    pub const WHOLE: Self = Self(Self::GRAIN * 4);
    /// A half note.
    pub const HALF: Self = Self(Self::GRAIN * 2);
    /// A quarter note.
    pub const QUARTER: Self = Self(Self::GRAIN);
    /// An eighth note.
    pub const EIGHTH: Self = Self(Self::GRAIN / 2);
    /// A sixteenth note.
    pub const SIXTEENTH: Self = Self(Self::GRAIN / 4);

    /// `num/den` quarter notes.
    ///
    /// # Errors
    /// [`NotExact`] when the fraction is not a whole number of grains, the denominator is zero or the value
    /// exceeds [`Quarters::LIMIT`].
    pub fn new(num: i64, den: i64) -> Result<Self, NotExact> {
        let refuse = NotExact { num, den };
        if den == 0 {
            return Err(refuse);
        }
        let grains = i128::from(num) * i128::from(Self::GRAIN);
        let den = i128::from(den);
        if grains % den != 0 || (grains / den).abs() > i128::from(Self::LIMIT) * i128::from(Self::GRAIN) {
            return Err(refuse);
        }
        Ok(Self((grains / den) as i64))
    }

    /// A whole number of quarter notes, clamped to [`Quarters::LIMIT`].
    pub fn whole_quarters(n: i64) -> Self {
        Self(n.clamp(-Self::LIMIT, Self::LIMIT) * Self::GRAIN)
    }

    /// The nearest exact value to `num/den` quarters, and whether it had to be rounded. For foreign files only.
    pub fn nearest(num: i64, den: i64) -> (Self, bool) {
        if let Ok(exact) = Self::new(num, den) {
            return (exact, false);
        }
        if den == 0 {
            return (Self::ZERO, true);
        }
        (Self::from_f64_lossy(num as f64 / den as f64), true)
    }

    /// The nearest exact value to a floating-point count of quarters; not-a-number gives zero.
    pub fn from_f64_lossy(quarters: f64) -> Self {
        let limit = Self::LIMIT as f64;
        let clamped = if quarters.is_nan() { 0.0 } else { quarters.clamp(-limit, limit) };
        Self((clamped * Self::GRAIN as f64).round() as i64)
    }

    /// Reduced numerator and denominator (denominator above zero).
    pub fn fraction(self) -> (i64, i64) {
        let g = gcd(self.0.unsigned_abs(), Self::GRAIN.unsigned_abs()).max(1) as i64;
        (self.0 / g, Self::GRAIN / g)
    }

    /// As a floating-point count of quarters, for clocks and pages.
    pub fn to_f64(self) -> f64 {
        self.0 as f64 / Self::GRAIN as f64
    }

    /// Exactly `num/den` of this length.
    ///
    /// # Errors
    /// [`NotExact`] when the result is not a whole number of grains.
    pub fn scaled(self, num: i64, den: i64) -> Result<Self, NotExact> {
        if den == 0 {
            return Err(NotExact { num, den });
        }
        let grains = i128::from(self.0) * i128::from(num);
        let d = i128::from(den);
        if grains % d != 0 || (grains / d).abs() > i128::from(Self::LIMIT) * i128::from(Self::GRAIN) {
            return Err(NotExact { num, den });
        }
        Ok(Self((grains / d) as i64))
    }

    /// How many whole times `step` fits into this, rounding towards minus infinity; zero for a zero step.
    pub fn whole_steps(self, step: Self) -> i64 {
        if step.0 == 0 { 0 } else { self.0.div_euclid(step.0) }
    }

    /// What remains after [`Quarters::whole_steps`].
    pub fn rest_of_steps(self, step: Self) -> Self {
        if step.0 == 0 { self } else { Self(self.0.rem_euclid(step.0)) }
    }

    /// True for lengths above zero.
    pub fn is_positive(self) -> bool {
        self.0 > 0
    }

    /// Absolute value.
    pub fn abs(self) -> Self {
        Self(self.0.abs())
    }
}

fn gcd(mut a: u64, mut b: u64) -> u64 {
    while b != 0 {
        (a, b) = (b, a % b);
    }
    a
}

impl Add for Quarters {
    type Output = Self;
    fn add(self, other: Self) -> Self {
        Self(self.0.saturating_add(other.0))
    }
}

impl Sub for Quarters {
    type Output = Self;
    fn sub(self, other: Self) -> Self {
        Self(self.0.saturating_sub(other.0))
    }
}

impl Neg for Quarters {
    type Output = Self;
    fn neg(self) -> Self {
        Self(self.0.saturating_neg())
    }
}

impl Mul<i64> for Quarters {
    type Output = Self;
    fn mul(self, times: i64) -> Self {
        Self(self.0.saturating_mul(times))
    }
}

impl AddAssign for Quarters {
    fn add_assign(&mut self, other: Self) {
        *self = *self + other;
    }
}

impl SubAssign for Quarters {
    fn sub_assign(&mut self, other: Self) {
        *self = *self - other;
    }
}

impl Sum for Quarters {
    fn sum<I: Iterator<Item = Self>>(iter: I) -> Self {
        iter.fold(Self::ZERO, Add::add)
    }
}

/// As a reduced fraction: `3/2`, or `2` when whole.
impl fmt::Display for Quarters {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.fraction() {
            (n, 1) => write!(f, "{n}"),
            (n, d) => write!(f, "{n}/{d}"),
        }
    }
}

/// A text that is not a fraction of quarter notes.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("'{0}' is not a number of quarter notes; write it as 3/2 or 2")]
pub struct NotAFraction(pub String);

impl FromStr for Quarters {
    type Err = NotAFraction;
    fn from_str(text: &str) -> Result<Self, NotAFraction> {
        let refuse = || NotAFraction(text.to_owned());
        let (n, d) = text.split_once('/').unwrap_or((text, "1"));
        let n = n.trim().parse().map_err(|_| refuse())?;
        let d = d.trim().parse().map_err(|_| refuse())?;
        Self::new(n, d).map_err(|_| refuse())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn thirds_and_fifths_add_up_exactly() {
        let third = Quarters::new(1, 3).unwrap();
        let fifth = Quarters::new(1, 5).unwrap();
        assert_eq!(third * 3, Quarters::QUARTER);
        assert_eq!(fifth * 5, Quarters::QUARTER);
        assert_eq!((third + fifth).to_string(), "8/15");
        assert_eq!("8/15".parse::<Quarters>().unwrap(), third + fifth);
    }

    #[test]
    fn what_cannot_be_held_is_refused_not_rounded() {
        assert!(Quarters::new(1, 17).is_err());
        assert!(Quarters::new(1, 0).is_err());
        assert!(Quarters::new(i64::MAX, 1).is_err());
        let (near, rounded) = Quarters::nearest(1, 17);
        assert!(rounded && (near.to_f64() - 1.0 / 17.0).abs() < 1e-8);
    }
}
