//! Swing inside bars: where written times are played, and back.
//!
//! [`Feel::played`] counts its pairs from zero. In music the pairs count from the bar line, also after a pickup
//! of an odd length or a bar of seven eighths; this is done here. A bar that ends in half a pair plays that half
//! straight.

use crate::riff::Riff;
use crate::tempo::Feel;
use crate::time::Quarters;

/// Where a written distance from the bar line is played, in quarters, in a bar of `bar` quarters.
pub fn played_in_bar(feel: Feel, offset: f64, bar: f64) -> f64 {
    match pair_of(feel) {
        Some((pair, _)) if offset < (bar / pair + 1e-9).floor() * pair => feel.played(offset),
        _ => offset,
    }
}

/// The written distance from the bar line of what is played at `offset`: undoes [`played_in_bar`].
pub fn written_in_bar(feel: Feel, offset: f64, bar: f64) -> f64 {
    let Some((pair, turn)) = pair_of(feel) else { return offset };
    if offset >= (bar / pair + 1e-9).floor() * pair {
        return offset;
    }
    let start = (offset / pair).floor() * pair;
    let within = (offset - start) / pair;
    let back = if within < turn { within / turn * 0.5 } else { 0.5 + (within - turn) / (1.0 - turn) * 0.5 };
    start + back * pair
}

// Length of the pair that swings and the part of it that the first note takes.
fn pair_of(feel: Feel) -> Option<(f64, f64)> {
    let Feel::Swing(swing) = feel else { return None };
    let turn = f64::from(swing.long()) / f64::from(swing.long() + swing.short());
    Some((if swing.sixteenths() { 0.5 } else { 1.0 }, turn))
}

/// The times of a riff with its swing, as played or as written.
#[derive(Clone, Debug)]
pub struct SwingClock {
    feel: Feel,
    // Start of each played bar, how far into its meter it starts, and how far it goes; quarters.
    bars: Vec<(f64, f64, f64)>,
}

impl SwingClock {
    /// For the bars of a riff in played order, repeats written out, and its own feel.
    pub fn new(riff: &Riff) -> Self {
        Self::over(riff, riff.order())
    }

    /// For the bars of a riff in written order.
    pub fn written(riff: &Riff) -> Self {
        Self::over(riff, 0..riff.bars().len())
    }

    fn over(riff: &Riff, order: impl IntoIterator<Item = usize>) -> Self {
        let mut bars = Vec::new();
        let mut at = Quarters::ZERO;
        for index in order {
            let bar = &riff.bars()[index];
            let full = bar.meter.bar_length();
            let lead = if bars.is_empty() { full - bar.length() } else { Quarters::ZERO };
            bars.push((at.to_f64(), lead.to_f64(), (lead + bar.length()).to_f64()));
            at += bar.length();
        }
        // The end is a bar line too.
        bars.push((at.to_f64(), 0.0, 0.0));
        Self { feel: riff.header().feel, bars }
    }

    /// Where a position counted as in [`Riff::played`] (or, for [`Self::written`], [`Riff::line`]) sounds, in quarters from the start. Bar lines stay where
    /// they are.
    pub fn at(&self, position: f64) -> f64 {
        let i = self.bars.partition_point(|b| b.0 <= position).saturating_sub(1);
        let Some(&(start, lead, end)) = self.bars.get(i) else { return position };
        start - lead + played_in_bar(self.feel, position - start + lead, end)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tempo::Swing;

    #[test]
    fn the_half_pair_at_the_end_of_seven_eighths_is_straight() {
        let feel = Feel::Swing(Swing::TRIPLET);
        assert!((played_in_bar(feel, 2.5, 3.5) - 2.0 - 2.0 / 3.0).abs() < 1e-12);
        assert_eq!(played_in_bar(feel, 3.25, 3.5), 3.25);
        for k in 0..=28 {
            let written = f64::from(k) / 8.0;
            let there = played_in_bar(feel, written, 3.5);
            assert!((written_in_bar(feel, there, 3.5) - written).abs() < 1e-12, "{written}");
        }
    }
}
