//! Samples a second.

/// Samples a second of each channel, in hertz; 1 000 to 768 000.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SampleRate(u32);

impl SampleRate {
    /// Lowest rate accepted, in hertz: below it no bass note has a second partial left.
    pub const MIN_HZ: u32 = 1_000;
    /// Highest rate accepted, in hertz: sixteen times 48 kHz.
    pub const MAX_HZ: u32 = 768_000;
    /// Compact Disc rate (IEC 60908), 44 100 Hz; what Riffkin renders unless told otherwise.
    pub const CD: Self = Self(44_100);
    /// Studio and video rate (AES5), 48 000 Hz.
    pub const STUDIO: Self = Self(48_000);

    /// Accepts `hz` from [`Self::MIN_HZ`] to [`Self::MAX_HZ`].
    ///
    /// # Errors
    /// [`NotASampleRate`] outside that range.
    pub fn new(hz: u32) -> Result<Self, NotASampleRate> {
        if (Self::MIN_HZ..=Self::MAX_HZ).contains(&hz) { Ok(Self(hz)) } else { Err(NotASampleRate { hz }) }
    }

    /// The rate in hertz.
    #[must_use]
    pub fn hz(self) -> u32 {
        self.0
    }

    /// The rate in hertz, for arithmetic with seconds.
    #[must_use]
    pub fn hz_f64(self) -> f64 {
        f64::from(self.0)
    }
}

/// A number that is no usable sample rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
#[error("a sample rate of {hz} Hz is outside {} to {} Hz", SampleRate::MIN_HZ, SampleRate::MAX_HZ)]
pub struct NotASampleRate {
    /// The refused value, in hertz.
    pub hz: u32,
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_limits_are_inside_and_their_neighbours_outside() {
        for hz in [SampleRate::MIN_HZ, 44_100, SampleRate::MAX_HZ] {
            assert_eq!(SampleRate::new(hz).map(SampleRate::hz), Ok(hz));
        }
        for hz in [0, SampleRate::MIN_HZ - 1, SampleRate::MAX_HZ + 1, u32::MAX] {
            assert_eq!(SampleRate::new(hz), Err(NotASampleRate { hz }));
        }
    }
}
