//! Level as a ratio.

/// A level in decibels: relative to digital full scale (dBFS) where a peak is meant, or a gain.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd)]
pub struct Decibels(pub f64);

impl Decibels {
    /// Gain that changes nothing.
    pub const UNITY: Self = Self(0.0);

    /// The level of an amplitude, `20 · log10(|a|)`; zero amplitude gives negative infinity.
    #[must_use]
    pub fn of_amplitude(amplitude: f64) -> Self {
        Self(20.0 * amplitude.abs().log10())
    }

    /// The amplitude of this level, `10^(dB / 20)`.
    #[must_use]
    pub fn to_amplitude(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// IEC 60027-3: a field quantity of ratio 10 is 20 dB.
    #[test]
    fn ten_to_one_is_twenty_decibels() {
        assert!((Decibels::of_amplitude(10.0).0 - 20.0).abs() < 1e-12);
        assert!((Decibels(-6.0).to_amplitude() - 0.501_187).abs() < 1e-6);
        assert_eq!(Decibels::of_amplitude(0.0).0, f64::NEG_INFINITY);
    }
}
