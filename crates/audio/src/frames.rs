//! A count of samples in time.

use crate::{SampleRate, Seconds};

/// A count of sample frames (one sample of every channel); also a position, counted from the start of a clip.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Frames(pub u64);

impl Frames {
    /// No frames.
    pub const ZERO: Self = Self(0);

    /// The frame nearest to `at`; instants before zero give zero.
    #[must_use]
    pub fn nearest(at: Seconds, rate: SampleRate) -> Self {
        // A float-to-integer cast saturates, so neither a negative nor a huge instant can wrap.
        Self((at.value() * rate.hz_f64()).round() as u64)
    }

    /// The instant of this frame.
    #[must_use]
    pub fn to_seconds(self, rate: SampleRate) -> Seconds {
        Seconds::saturating(self.0 as f64 / rate.hz_f64())
    }

    /// The count as an index; saturates where the machine's addresses are shorter.
    #[must_use]
    pub fn index(self) -> usize {
        usize::try_from(self.0).unwrap_or(usize::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn an_instant_goes_to_its_nearest_frame_and_back() {
        let rate = SampleRate::CD;
        assert_eq!(Frames::nearest(Seconds::saturating(1.0), rate), Frames(44_100));
        assert_eq!(Frames::nearest(Seconds::saturating(0.6 / 44_100.0), rate), Frames(1));
        assert_eq!(Frames::nearest(Seconds::saturating(-3.0), rate), Frames::ZERO);
        for frame in [0, 1, 44_099, 10_000_000_123] {
            assert_eq!(Frames::nearest(Frames(frame).to_seconds(rate), rate), Frames(frame));
        }
    }
}
