//! The hand that plays: its spans in millimetres, what it has learnt, and what each effort costs it.
//!
//! No system of fingering is called the right one. Below a switch point the hand covers three frets with the
//! fingers 1-2-4, from it on four frets with one finger per fret; where the point lies is a setting, and so is
//! the weight of every effort (common practice, no source: both systems are taught side by side).

mod effort;

pub use effort::{Effort, Weights};

/// A fretting hand and its habits.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    comfortable_mm: f64,
    widest_mm: f64,
    level: Level,
    switch_fret: u8,
    open_strings: OpenStrings,
    plucking: Plucking,
    weights: Weights,
}

/// How far a player has come. It scales what practice eases: fast shifts, string skips and finger hops.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Level {
    /// These efforts weigh 1.4 times the usual.
    Beginner,
    /// The usual weights.
    #[default]
    Intermediate,
    /// These efforts weigh 0.7 times the usual.
    Advanced,
}

impl Level {
    /// What practised efforts are multiplied by (our choice, no source).
    pub fn factor(self) -> f64 {
        match self {
            Self::Beginner => 1.4,
            Self::Intermediate => 1.0,
            Self::Advanced => 0.7,
        }
    }
}

/// Whether open strings may be used. A shape with open strings cannot be moved along the neck, and they ring
/// on until they are damped; on the other hand the hand can move while they sound.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum OpenStrings {
    /// They cost nothing.
    Welcome,
    /// They cost a little: used where they save a shift or a stretch.
    #[default]
    Sparing,
    /// Not used, except for a note that lies nowhere else or was written on an open string.
    Refused,
}

/// How the plucking hand goes from string to string (common practice, no source: all three are taught).
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Plucking {
    /// Not looked at: every change of string is alike.
    #[default]
    Any,
    /// First and second finger strictly in turn, the first one after a rest; then it matters which of them leads
    /// over to another string.
    Alternating,
    /// One finger falls through to the next lower string, so that such a change costs nothing.
    Raking,
}

/// A size of hand, for those who have not measured theirs.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum HandSize {
    /// Widest 118 mm from index to little fingertip.
    Small,
    /// Widest 136 mm.
    #[default]
    Medium,
    /// Widest 152 mm.
    Large,
}

impl HandSize {
    /// Widest span from index to little fingertip in mm. On a 34-inch scale the small hand just spans frets 3 to 6
    /// (115 mm), the medium one five frets from fret 5 on (134 mm), the large one five frets from fret 3 on
    /// (150 mm): arithmetic; that hands be sorted so is our choice, no source.
    pub fn widest_mm(self) -> f64 {
        match self {
            Self::Small => 118.0,
            Self::Medium => 136.0,
            Self::Large => 152.0,
        }
    }
}

/// Why a hand cannot be as described.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HandError {
    /// Spans out of range or in the wrong order.
    #[error(
        "a hand spans 40 to 250 mm from index to little fingertip, at its widest no less than with comfort; given are {comfortable_mm} mm with comfort and {widest_mm} mm at its widest"
    )]
    Span {
        /// Comfortable span in mm as given.
        comfortable_mm: f64,
        /// Widest span in mm as given.
        widest_mm: f64,
    },
    /// A weight out of range.
    #[error("the weight of {} must lie between 0 and 1000000, not {weight}", effort.name())]
    Weight {
        /// Which effort.
        effort: Effort,
        /// The weight as given.
        weight: f64,
    },
}

/// The usual long scale, 34 inches, in mm.
const LONG_SCALE_MM: f64 = 863.6;

impl Default for Hand {
    /// An adult hand: comfortable to 105 mm, widest 136 mm, switch point at fret 5.
    ///
    /// On a 34-inch scale one finger per fret spans 103 mm from fret 5 on, where it is commonly taken up, and
    /// five frets under the hand are 134 mm there (arithmetic; the choice of fret: common practice, no source).
    fn default() -> Self {
        Self {
            comfortable_mm: 105.0,
            widest_mm: 136.0,
            level: Level::Intermediate,
            switch_fret: 5,
            open_strings: OpenStrings::Sparing,
            plucking: Plucking::Any,
            weights: Weights::default(),
        }
    }
}

impl Hand {
    /// A small hand: comfortable to 92 mm (frets 7 to 10 on 34 inches), widest 118 mm (frets 3 to 6), switch
    /// point at fret 7. Our choice, no source.
    pub fn small() -> Self {
        Self { comfortable_mm: 92.0, widest_mm: 118.0, switch_fret: 7, ..Self::default() }
    }

    /// A hand of a size. The medium one is the default hand.
    pub fn sized(size: HandSize) -> Self {
        match size {
            HandSize::Small => Self::small(),
            HandSize::Medium => Self::default(),
            // One finger per fret is comfortable from fret 3 on, 115 mm on 34 inches.
            HandSize::Large => {
                Self { comfortable_mm: 118.0, widest_mm: 152.0, switch_fret: 3, ..Self::default() }
            }
        }
    }

    /// A measured hand: `widest_mm` is the distance from the tip of the index finger to the tip of the little
    /// finger with the fingers spread along a ruler without force. It works comfortably to 0.775 of that, and the
    /// switch point is the lowest fret from which four frets of a 34-inch scale lie within it, 1 to 12 (our
    /// choice, no source; the ratio is that of the three sizes).
    ///
    /// # Errors
    /// [`HandError::Span`] unless it lies between 52 and 250 mm.
    pub fn measured(widest_mm: f64) -> Result<Self, HandError> {
        let comfortable_mm = 0.775 * widest_mm;
        let hand = Self::default().with_span(comfortable_mm, widest_mm)?;
        let from_nut = |fret: u8| LONG_SCALE_MM * (1.0 - (-f64::from(fret) / 12.0).exp2());
        let switch = (1..12).find(|&f| from_nut(f + 3) - from_nut(f) <= comfortable_mm);
        Ok(hand.with_switch_fret(switch.unwrap_or(12)))
    }

    /// With other spans from index to little fingertip, in mm, measured along the string.
    ///
    /// # Errors
    /// [`HandError::Span`] unless `40 <= comfortable <= widest <= 250`.
    pub fn with_span(self, comfortable_mm: f64, widest_mm: f64) -> Result<Self, HandError> {
        if !(40.0..=250.0).contains(&comfortable_mm) || !(comfortable_mm..=250.0).contains(&widest_mm) {
            return Err(HandError::Span { comfortable_mm, widest_mm });
        }
        Ok(Self { comfortable_mm, widest_mm, ..self })
    }

    /// At another level.
    #[must_use]
    pub fn with_level(self, level: Level) -> Self {
        Self { level, ..self }
    }

    /// With one finger per fret from this fret on; 0 or 1 for everywhere, more than the neck has for nowhere.
    #[must_use]
    pub fn with_switch_fret(self, switch_fret: u8) -> Self {
        Self { switch_fret, ..self }
    }

    /// With open strings welcome, sparing or refused.
    #[must_use]
    pub fn with_open_strings(self, open_strings: OpenStrings) -> Self {
        Self { open_strings, ..self }
    }

    /// With another way of plucking.
    #[must_use]
    pub fn with_plucking(self, plucking: Plucking) -> Self {
        Self { plucking, ..self }
    }

    /// With another taste.
    #[must_use]
    pub fn with_weights(self, weights: Weights) -> Self {
        Self { weights, ..self }
    }

    /// Span from index to little finger without strain, in mm.
    pub fn comfortable_mm(&self) -> f64 {
        self.comfortable_mm
    }

    /// Widest span, in mm.
    pub fn widest_mm(&self) -> f64 {
        self.widest_mm
    }

    /// The level.
    pub fn level(&self) -> Level {
        self.level
    }

    /// The fret from which there is one finger per fret.
    pub fn switch_fret(&self) -> u8 {
        self.switch_fret
    }

    /// What is thought of open strings.
    pub fn open_strings(&self) -> OpenStrings {
        self.open_strings
    }

    /// How it is plucked.
    pub fn plucking(&self) -> Plucking {
        self.plucking
    }

    /// The taste.
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// The weight of an effort for this hand: taste, level, and open strings as set.
    pub fn weight(&self, effort: Effort) -> f64 {
        self.weights.of(effort) * self.factor(effort)
    }

    /// What the taste's weight is multiplied by for this hand.
    pub(crate) fn factor(&self, effort: Effort) -> f64 {
        match effort {
            Effort::ShiftSpeed | Effort::StringSkip | Effort::CrossedPluck | Effort::Hop => {
                self.level.factor()
            }
            Effort::OpenFixed | Effort::OpenRings if self.open_strings == OpenStrings::Welcome => 0.0,
            _ => 1.0,
        }
    }
}
