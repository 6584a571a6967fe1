//! Key finding by profiles, as published: what our own model is compared with.
//!
//! A profile says how much each of the twelve degrees is expected in a key. The time that each pitch class takes
//! is compared with it in all twelve keys of both kinds, and the nearest key wins.

#![allow(dead_code, reason = "a test and an example each use their part")]

/// How a profile is compared.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) enum By {
    /// The highest correlation wins (Krumhansl 1990, page 40).
    Correlation,
    /// The shortest straight distance between shares wins (Albrecht and Shanahan 2013).
    Distance,
}

/// A pair of profiles, semitones above the tonic.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Profiles {
    pub(crate) name: &'static str,
    pub(crate) major: [f64; 12],
    pub(crate) minor: [f64; 12],
    pub(crate) by: By,
}

/// Krumhansl and Kessler, Psychological Review 89 (1982), 334-368: ratings of probe tones by listeners. The values
/// are those in music21 10.5.1, `analysis/discrete.py`, class `KrumhanslKessler`.
pub(crate) const KRUMHANSL_KESSLER: Profiles = Profiles {
    name: "Krumhansl-Kessler",
    major: [6.35, 2.23, 3.48, 2.33, 4.38, 4.09, 2.52, 5.19, 2.39, 3.66, 2.29, 2.88],
    minor: [6.33, 2.68, 3.52, 5.38, 2.60, 3.53, 2.54, 4.75, 3.98, 2.69, 3.34, 3.17],
    by: By::Correlation,
};

/// Temperley, Music and Probability (2007), table 6.1: in how many segments of the Kostka-Payne corpus each degree
/// is present. The values are those in music21 10.5.1, class `TemperleyKostkaPayne`.
pub(crate) const TEMPERLEY_KOSTKA_PAYNE: Profiles = Profiles {
    name: "Temperley K-P",
    major: [0.748, 0.060, 0.488, 0.082, 0.670, 0.460, 0.096, 0.715, 0.104, 0.366, 0.057, 0.400],
    minor: [0.712, 0.084, 0.474, 0.618, 0.049, 0.460, 0.105, 0.747, 0.404, 0.067, 0.133, 0.330],
    by: By::Correlation,
};

/// Albrecht and Shanahan, Music Perception 31:1 (2013), 59-67: shares of the first and last eight bars of 490
/// pieces. The values agree in five public implementations; the paper itself was not opened. They are compared by
/// correlation like the others; by straight distance, as in the paper, they do a little worse on the preludes.
pub(crate) const ALBRECHT_SHANAHAN: Profiles = Profiles {
    name: "Albrecht-Shanahan",
    major: [0.238, 0.006, 0.111, 0.006, 0.137, 0.094, 0.016, 0.214, 0.009, 0.080, 0.008, 0.081],
    minor: [0.220, 0.006, 0.104, 0.123, 0.019, 0.103, 0.012, 0.214, 0.062, 0.022, 0.061, 0.052],
    by: By::Correlation,
};

/// All three.
pub(crate) const ALL: [Profiles; 3] = [KRUMHANSL_KESSLER, TEMPERLEY_KOSTKA_PAYNE, ALBRECHT_SHANAHAN];

impl Profiles {
    /// The key nearest to the time that each pitch class (C = 0) takes: its tonic, and true for minor.
    pub(crate) fn key_of(&self, time: &[f64; 12]) -> (u8, bool) {
        let total: f64 = time.iter().sum::<f64>().max(1e-12);
        let keys = (0..12u8).flat_map(|tonic| [(tonic, false), (tonic, true)]);
        let mut best = ((0, false), f64::NEG_INFINITY);
        for (tonic, minor) in keys {
            let profile = if minor { &self.minor } else { &self.major };
            let turned: [f64; 12] = std::array::from_fn(|slot| time[(slot + usize::from(tonic)) % 12]);
            let nearness = match self.by {
                By::Correlation => correlation(&turned, profile),
                By::Distance => {
                    -turned.iter().zip(profile).map(|(t, p)| (t / total - p).powi(2)).sum::<f64>()
                }
            };
            if nearness > best.1 {
                best = ((tonic, minor), nearness);
            }
        }
        best.0
    }
}

/// Pearson's correlation.
fn correlation(a: &[f64; 12], b: &[f64; 12]) -> f64 {
    let mean = |v: &[f64; 12]| v.iter().sum::<f64>() / 12.0;
    let (ma, mb) = (mean(a), mean(b));
    let (mut product, mut aa, mut bb) = (0.0, 0.0, 0.0);
    for (x, y) in a.iter().zip(b) {
        product += (x - ma) * (y - mb);
        aa += (x - ma).powi(2);
        bb += (y - mb).powi(2);
    }
    product / (aa * bb).sqrt().max(1e-12)
}
