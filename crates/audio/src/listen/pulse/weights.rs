//! What is believed of pulse and meter before a note is heard, and how much each kind of evidence weighs.

/// One kind of evidence for a reading, in nats before weighing.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Kind {
    /// How well the onsets fit their places.
    Timing,
    /// How plainly and steadily the beats are divided.
    Division,
    /// How steady the tempo is.
    Steady,
    /// Figures that come again bar against bar.
    Figures,
    /// Notes on the other beats, on the middle one more than on the rest.
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
    /// Even lines go at a usual pace: walking ones in beats, pumping ones in eighths.
    Pace,
    /// Notes on bar lines.
    Lines,
    /// Accents where players put them.
    Accents,
    /// One pitch class returns on bar lines.
    Home,
}

impl Kind {
    /// Every kind, in the order of the table of weights.
    pub const ALL: [Self; 16] = [
        Self::Timing,
        Self::Division,
        Self::Steady,
        Self::Figures,
        Self::Strong,
        Self::Changes,
        Self::Low,
        Self::Long,
        Self::First,
        Self::End,
        Self::Meter,
        Self::Tempo,
        Self::Pace,
        Self::Lines,
        Self::Accents,
        Self::Home,
    ];

    /// How much it weighs.
    #[must_use]
    pub fn weight(self) -> f64 {
        WEIGHTS[self as usize]
    }

    /// In words.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Timing => "timing",
            Self::Division => "division of the beats",
            Self::Steady => "steady tempo",
            Self::Figures => "figures that return",
            Self::Strong => "notes on strong beats",
            Self::Changes => "pitch changes on strong beats",
            Self::Low => "low notes on strong beats",
            Self::Long => "long notes on strong beats",
            Self::First => "how it starts",
            Self::End => "how it ends",
            Self::Meter => "usual meter",
            Self::Tempo => "usual tempo",
            Self::Pace => "usual pace",
            Self::Lines => "notes on bar lines",
            Self::Accents => "accents",
            Self::Home => "a pitch that returns on bar lines",
        }
    }
}

/// How many kinds there are.
pub(super) const KINDS: usize = Kind::ALL.len();

/// The weight of each kind, in the order of [`Kind::ALL`]; learned by `examples/learn_pulse.rs` from 1,968 lines: 800 of
/// its own (seed 1000), 800 of another generator with noise in place of hearing, and 184 lines as they were heard, clean
/// and in a room (80 of them made by `tests/hearing/recorded_lines.py`, seeds 1, 2, 5 and 6).
pub(super) const WEIGHTS: [f64; KINDS] =
    [0.17, 0.11, 0.00, 0.23, 0.00, 0.28, 0.36, 0.12, 0.88, 1.02, 1.37, 2.44, 0.90, 0.44, 0.77, 0.31];

/// How many beats' worth the table of divisions counts against the beats of the line itself.
pub(super) const OWN_HABIT: f64 = 3.0;
/// What a note costs that falls together with another, in nats.
pub(super) const LEFT_OUT: f64 = 8.0;

/// A meter that is looked for, with its share among lines.
pub(super) const METERS: [(u8, u8, f64); 4] = [(4, 4, 0.62), (3, 4, 0.08), (6, 8, 0.18), (12, 8, 0.12)];

/// Usual tempi for beats of two and of three.
pub(super) const TEMPO: [Usual; 2] = [
    Usual { middle: 100.0, spread: 0.45, range: (60.0, 164.0), beyond: 0.09 },
    Usual { middle: 84.0, spread: 0.40, range: (52.0, 126.0), beyond: 0.09 },
];

/// A belief about tempo, in counted beats a minute: around the middle (preferred tempi lie around 100: Fraisse 1982, from
/// memory; dotted beats are slower) and within the range from larghetto to allegro on a metronome (60 to 168, common
/// practice); faster music is counted in half as many beats and slower music in twice as many. Standard deviations of the
/// natural logarithm, within the range and beyond it.
pub(super) struct Usual {
    pub(super) middle: f64,
    pub(super) spread: f64,
    pub(super) range: (f64, f64),
    pub(super) beyond: f64,
}

impl Usual {
    /// Logarithm of the probability density, up to a constant; nats.
    pub(super) fn nats(&self, per_minute: f64) -> f64 {
        let off = (per_minute / self.middle).ln() / self.spread;
        let (low, high) = self.range;
        let beyond = (per_minute / high).ln().max((low / per_minute).ln()).max(0.0) / self.beyond;
        -0.5 * off * off - (0.5 * beyond * beyond).min(8.0)
    }
}

/// Beats a minute that are tried.
pub(super) const TEMPI: (f64, f64) = (42.0, 216.0);

/// A line of even notes is one in which this part of the times between notes is the same; it walks when this part of its
/// notes changes the pitch, and pumps when no more than this part does.
pub(super) const EVEN: f64 = 0.7;
pub(super) const WALKS: f64 = 0.7;
pub(super) const PUMPS: f64 = 0.5;
/// What speaks, in nats, for a walking line in beats, and for a pumping line in the first division of the beat or the
/// second (common practice, no source: walking lines go in quarters, pumping ones in eighths).
pub(super) const WALK: f64 = 2.0;
pub(super) const PUMP: (f64, f64) = (1.0, 0.3);

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
/// Mean pitch of the notes at each level, in standard deviations of the line's pitches from their mean.
pub(super) const LOW: [f64; 4] = [-0.55, -0.2, -0.1, 0.15];
/// Mean logarithm of the time to the next note at each level, likewise.
pub(super) const LONG: [f64; 4] = [0.35, 0.2, 0.1, -0.3];
/// Habits of accents with their shares among lines, and the accented levels (common practice, no source): the strong
/// beats, the bar lines alone, every beat, the beats between the strong ones. The rest of lines has none.
pub(super) const HABITS: [(f64, [f64; 4]); 4] = [
    (0.35, [1.0, 1.0, 0.0, 0.0]),
    (0.15, [1.0, 0.0, 0.0, 0.0]),
    (0.15, [1.0, 1.0, 1.0, 0.0]),
    (0.10, [0.0, 0.0, 1.0, 0.0]),
];
/// See [`Accent`].
pub(super) const ACCENT: Accent = Accent { mean: 2.0, spread: 2.0, chance: 1.5, pitch: 1.5, most: 8.0 };

/// What is believed of levels, in decibels.
pub(super) struct Accent {
    /// Mean and standard deviation of what a player adds to an accented note.
    pub(super) mean: f64,
    pub(super) spread: f64,
    /// Standard deviation of a note's level by chance, and of what a pitch adds.
    pub(super) chance: f64,
    pub(super) pitch: f64,
    /// How far from the middle a level may lie; what is farther counts as there.
    pub(super) most: f64,
}

/// How often the home pitch class is on a bar line, and how often any is anywhere: both numbers of a beta distribution.
pub(super) const HOME: ((f64, f64), (f64, f64)) = ((3.0, 1.5), (1.5, 3.0));
/// What returning figures save and cost, in nats.
pub(super) const FIGURE: Figure = Figure {
    place: 0.6,
    pitch: 1.2,
    step: 0.6,
    other: 0.4,
    wrong: 1.2,
    on_line: (1.1, 0.4),
    within: (3.5, 0.03),
    lags: [(0.0, 1.6), (0.5, 1.2), (1.0, 0.6), (2.0, 0.9), (4.0, 1.2)],
};

/// See [`FIGURE`].
pub(super) struct Figure {
    /// A note on a place that the copy foretells, its pitch besides, or only its step from the note before.
    pub(super) place: f64,
    pub(super) pitch: f64,
    pub(super) step: f64,
    /// Cost of another pitch there, and of a note that is missing or too many.
    pub(super) other: f64,
    pub(super) wrong: f64,
    /// Cost of a change of what is copied, and of none, on a bar line (a chance of one in three for a change).
    pub(super) on_line: (f64, f64),
    /// The same elsewhere (one in thirty).
    pub(super) within: (f64, f64),
    /// From how many bars back is copied, and what it costs besides; the first is one beat.
    pub(super) lags: [(f64, f64); 5],
}

/// Chance that a line starts on its bar line; that it starts in the second half of the bar before; elsewhere.
pub(super) const FIRST: (f64, f64, f64) = (0.75, 0.17, 0.08);
/// Chance that the last note starts on a bar line, and that it ends on one.
pub(super) const END: (f64, f64) = (0.30, 0.45);
