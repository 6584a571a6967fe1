//! Real time.

/// An instant or a span of real time, in seconds. Always finite; may be negative.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd)]
pub struct Seconds(f64);

impl Seconds {
    /// No time.
    pub const ZERO: Self = Self(0.0);

    /// Accepts any finite number.
    ///
    /// # Errors
    /// [`NotATime`] for infinities and not-a-number.
    pub fn new(value: f64) -> Result<Self, NotATime> {
        if value.is_finite() { Ok(Self(value)) } else { Err(NotATime { value }) }
    }

    /// The finite number nearest to `value`; not-a-number gives zero.
    #[must_use]
    pub fn saturating(value: f64) -> Self {
        Self(if value.is_nan() { 0.0 } else { value.clamp(f64::MIN, f64::MAX) })
    }

    /// The number of seconds.
    #[must_use]
    pub fn value(self) -> f64 {
        self.0
    }
}

/// A number that is no time.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[error("{value} is not a time in seconds")]
pub struct NotATime {
    /// The refused value.
    pub value: f64,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_finite_numbers_are_times() {
        assert_eq!(Seconds::new(-1.5).map(Seconds::value), Ok(-1.5));
        assert!(Seconds::new(f64::INFINITY).is_err());
        assert!(Seconds::new(f64::NAN).is_err());
        assert_eq!(Seconds::saturating(f64::NAN), Seconds::ZERO);
        assert!(Seconds::saturating(f64::INFINITY).value().is_finite());
    }
}
