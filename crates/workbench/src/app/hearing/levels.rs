//! How loud a recording is, in a few numbers: what to say when no note is heard in it.

/// Corner of what counts as low, in hertz: the highest note of a bass.
const LOW_HZ: f64 = 400.0;
/// Samples at full scale in a row that count as clipped.
const CLIPPED_RUN: usize = 4;
/// How near to full scale is full scale.
const FULL: f32 = 0.985;
/// Peak below which a recording is called silent, in decibels relative to full scale.
const SILENT_DB: f64 = -60.0;
/// Share of energy below [`LOW_HZ`] under which there is no bass to speak of.
const LITTLE: f64 = 0.1;
/// Clipped places, for each second, from which it is worth saying.
const CLIPPED_EACH_S: f64 = 0.5;

/// What was measured.
#[derive(Clone, Debug, Default)]
pub struct Levels {
    rate: f64,
    frames: u64,
    peak: f32,
    energy: f64,
    low_energy: f64,
    clipped: u64,
    first_clipped: Option<u64>,
    rows: Vec<Row>,
}

/// What is carried from block to block for each channel.
#[derive(Clone, Debug, Default)]
struct Row {
    low: [f64; 2],
    run: usize,
}

impl Levels {
    /// Nothing measured yet, at a rate in hertz.
    pub(super) fn new(rate: f64) -> Self {
        Self { rate, ..Self::default() }
    }

    /// Measures a block of channels.
    pub(super) fn push(&mut self, block: &[Vec<f32>]) {
        let keep = (-std::f64::consts::TAU * LOW_HZ / self.rate).exp();
        self.rows.resize(block.len(), Row::default());
        for (samples, row) in block.iter().zip(&mut self.rows) {
            for (at, &sample) in samples.iter().enumerate() {
                let x = f64::from(sample);
                self.peak = self.peak.max(sample.abs());
                self.energy += x * x;
                row.low[0] = keep * row.low[0] + (1.0 - keep) * x;
                row.low[1] = keep * row.low[1] + (1.0 - keep) * row.low[0];
                self.low_energy += row.low[1] * row.low[1];
                row.run = if sample.abs() >= FULL { row.run + 1 } else { 0 };
                if row.run == CLIPPED_RUN {
                    self.clipped += 1;
                    self.first_clipped.get_or_insert(self.frames + at as u64);
                }
            }
        }
        self.frames += block.first().map_or(0, Vec::len) as u64;
    }

    /// Length of what was measured, in seconds.
    #[must_use]
    pub fn seconds(&self) -> f64 {
        if self.rate > 0.0 { self.frames as f64 / self.rate } else { 0.0 }
    }

    /// A warning about clipping; `start_s` is where the measuring began.
    pub(super) fn warning(&self, start_s: f64) -> Option<String> {
        let first = self.first_clipped?;
        if (self.clipped as f64) < CLIPPED_EACH_S * self.seconds().max(4.0) {
            return None;
        }
        Some(format!(
            "the sound is clipped in {} places, the first at {}: record it softer if notes are wrong there",
            self.clipped,
            super::clock(start_s + first as f64 / self.rate)
        ))
    }

    /// What there is when no note is, and what to do; `struck` is the number of attacks without a pitch, `mix` whether a
    /// bass among other instruments was listened for.
    pub(super) fn words(&self, struck: usize, mix: bool) -> String {
        let decibels = 20.0 * f64::from(self.peak).max(1e-9).log10();
        if self.frames == 0 {
            return "there is no sound in it; choose another part".to_owned();
        }
        if decibels < SILENT_DB {
            let loudest = if self.peak > 0.0 {
                format!("its loudest sample is {decibels:.0} dB below full scale", decibels = -decibels)
            } else {
                "every sample is zero".to_owned()
            };
            return format!("it is silent ({loudest}); check the cable and the recording level");
        }
        let heard = if struck > 0 {
            format!("{struck} strokes without a pitch (drums, or strings that are muted)")
        } else {
            "sound, but nothing that starts and holds a pitch as a bass string does".to_owned()
        };
        let low = self.low_energy / self.energy.max(1e-30);
        let share = if low < LITTLE {
            format!(
                "; only {:.0} % of its energy lies below {LOW_HZ:.0} Hz, where a bass sounds",
                low * 100.0
            )
        } else {
            String::new()
        };
        let advice = if mix {
            "The bass may be too soft in this mix"
        } else {
            "If other instruments play, give --mix"
        };
        format!("no bass notes are heard in it: {heard}{share}. {advice}; -o picture.svg shows what there is")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn tone(hz: f64, gain: f64) -> Vec<f32> {
        let turn = std::f64::consts::TAU * hz / 8_000.0;
        (0..8_000).map(|n| (gain * (turn * f64::from(n)).sin()).clamp(-1.0, 1.0) as f32).collect()
    }

    fn measured(samples: Vec<f32>) -> Levels {
        let mut levels = Levels::new(8_000.0);
        levels.push(&[samples]);
        levels
    }

    #[test]
    fn silence_noise_and_strokes_are_told_apart() {
        assert!(measured(vec![0.0; 100]).words(0, false).contains("every sample is zero"));
        assert!(measured(vec![1e-4; 100]).words(0, false).contains("80 dB below full scale"));
        let high = measured(tone(3_000.0, 0.5));
        assert!(high.words(0, false).contains("% of its energy lies below"), "{}", high.words(0, false));
        assert!(high.words(3, false).contains("3 strokes without a pitch"));
        assert!(!measured(tone(80.0, 0.5)).words(0, false).contains("energy lies"));
        assert!(high.words(0, false).contains("give --mix"));
        let mix = high.words(0, true);
        assert!(!mix.contains("--mix") && mix.contains("too soft"), "given already: {mix}");
        assert!(measured(Vec::new()).words(0, false).contains("no sound"));
    }

    #[test]
    fn clipping_is_counted_from_its_first_place() {
        assert_eq!(measured(tone(100.0, 0.9)).warning(0.0), None);
        let said = measured(tone(100.0, 2.0)).warning(10.0).unwrap();
        assert!(said.contains("in 200 places") && said.contains("10.00 s"), "{said}");
    }
}
