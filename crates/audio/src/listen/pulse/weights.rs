//! What is believed of pulse and meter before a note is heard, and how much each kind of evidence weighs.

/// One kind of evidence for a reading, in nats before weighing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Kind {
    /// How well the onsets fit plain parts of the beat, and how plain those are.
    Places,
    /// Figures that come again bar against bar.
    Figures,
    /// Notes on bar lines and strong beats, few elsewhere.
    Strong,
    /// The pitch changes on strong points and stays between them.
    Changes,
    /// Low notes on strong points.
    Low,
    /// Long notes on strong points.
    Long,
    /// The line starts on a bar line.
    First,
    /// The line ends on one.
    End,
    /// How common the meter is.
    Meter,
    /// How common the tempo is.
    Tempo,
}

/// How many kinds there are.
pub(super) const KINDS: usize = 10;

/// The weight of each kind, in the order of [`Kind`].
pub(super) const WEIGHTS: [f64; KINDS] = [0.5, 1.0, 0.5, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 1.0];

/// A meter that is looked for, with its share among lines.
pub(super) const METERS: [(u8, u8, f64); 4] = [(4, 4, 0.70), (3, 4, 0.10), (6, 8, 0.14), (12, 8, 0.06)];

/// Usual tempo in counted beats a minute and the standard deviation of its natural logarithm, for beats of two and of
/// three (preferred tempi lie around 100: Fraisse 1982, from memory; dotted beats are slower).
pub(super) const TEMPO: [(f64, f64); 2] = [(104.0, 0.36), (86.0, 0.33)];
/// Beats a minute that are tried.
pub(super) const TEMPI: (f64, f64) = (42.0, 216.0);

/// How strong a point of the bar is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Level {
    /// The bar line.
    Bar = 0,
    /// The middle of a bar of an even number of beats.
    Middle = 1,
    /// Another beat.
    Beat = 2,
    /// Within a beat.
    Within = 3,
}

/// Chance of a note on a bar line, the middle and another beat, against that on any beat.
pub(super) const STRUCK: [f64; 3] = [0.93, 0.80, 0.72];
pub(super) const STRUCK_ANY: f64 = 0.80;
/// By how much the log odds of a change of pitch are shifted at each level.
pub(super) const CHANGE: [f64; 4] = [1.2, 0.4, 0.0, -0.4];
/// Gain of a note one standard deviation lower than the line's mean at each level.
pub(super) const LOW: [f64; 4] = [0.30, 0.12, 0.08, -0.08];
/// Gain of a note e times as long as the middle one of the line at each level.
pub(super) const LONG: [f64; 4] = [0.40, 0.20, 0.05, -0.20];
/// A note that a copied bar foretells: its place, its pitch besides; and what a wrong one, a copy on other notes and
/// the choice of a copy cost.
pub(super) const FIGURE: Figure = Figure { place: 0.7, pitch: 1.2, wrong: 1.0, transposed: 1.0, copied: 0.7 };

/// See [`FIGURE`].
pub(super) struct Figure {
    pub(super) place: f64,
    pub(super) pitch: f64,
    pub(super) wrong: f64,
    pub(super) transposed: f64,
    pub(super) copied: f64,
}

/// Chance that a line starts on its bar line; that it starts in the second half of the bar before; elsewhere.
pub(super) const FIRST: (f64, f64, f64) = (0.75, 0.17, 0.08);
/// Chance that the last note starts on a bar line, and that it ends on one.
pub(super) const END: (f64, f64) = (0.30, 0.45);
