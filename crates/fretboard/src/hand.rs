//! The hand that plays: its spans in millimetres, what it has learnt, and what each effort costs it.
//!
//! No system of fingering is called the right one. Below a switch point the hand covers three frets with the
//! fingers 1-2-4, from it on four frets with one finger per fret; where the point lies is a setting, and so is
//! the weight of every effort (common practice, no source: both systems are taught side by side).

/// A fretting hand and its habits.
#[derive(Clone, Debug, PartialEq)]
pub struct Hand {
    comfortable_mm: f64,
    widest_mm: f64,
    level: Level,
    switch_fret: u8,
    open_strings: OpenStrings,
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

/// One kind of effort. The cost of a fit is the sum over all efforts of amount times weight.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effort {
    /// The hand leaves its position: 1 for each shift, 0.2 across a rest, an open string or a dead note.
    Shift,
    /// How fast it must go: distance between the index finger's frets over the time there is, in 100 mm/s;
    /// a fifth of it across a rest, an open string or a dead note.
    ShiftSpeed,
    /// Reaching wider than is comfortable: the square of the excess in mm, over 100.
    Stretch,
    /// The little finger four frets above the index (five frets under one hand): 1.
    FiveFrets,
    /// One finger per fret below the switch point (little finger three frets above the index): 1.
    SpreadLow,
    /// The third finger below the switch point, where the fourth does its work in 1-2-4: 1.
    ThirdFingerLow,
    /// The little finger two frets above the index from the switch point on, where the third lies: 1.
    LittleFingerIn,
    /// Any change of string: 1.
    StringChange,
    /// Strings skipped: 1 for each string between.
    StringSkip,
    /// One finger flattened over two neighbouring strings at one fret: 1.
    Roll,
    /// One finger jumps to another string or fret: 1 at a quarter of a second, more when faster (to 2), less
    /// when slower (to 0.5), half of it along its own string, a fifth of it across a rest.
    Hop,
    /// An open string in a line that could do without: the shape cannot be moved any more: 1.
    OpenFixed,
    /// Any open string: it must be damped by other means: 1.
    OpenRings,
    /// Height on the neck: distance from the nut in 100 mm, of the fret for each stopped note and of the
    /// position for each open string.
    Height,
    /// A repeated pitch that changes its place or finger: 1.
    RepeatMoved,
    /// A mark that the hand cannot do there (slide off its string, hammer-on downwards, bend on an open
    /// string): 1.
    MarkBroken,
}

impl Effort {
    /// Every effort.
    pub const ALL: [Self; 16] = [
        Self::Shift,
        Self::ShiftSpeed,
        Self::Stretch,
        Self::FiveFrets,
        Self::SpreadLow,
        Self::ThirdFingerLow,
        Self::LittleFingerIn,
        Self::StringChange,
        Self::StringSkip,
        Self::Roll,
        Self::Hop,
        Self::OpenFixed,
        Self::OpenRings,
        Self::Height,
        Self::RepeatMoved,
        Self::MarkBroken,
    ];

    /// In words.
    pub fn name(self) -> &'static str {
        match self {
            Self::Shift => "shifts",
            Self::ShiftSpeed => "speed of shifts",
            Self::Stretch => "stretches",
            Self::FiveFrets => "five frets under one hand",
            Self::SpreadLow => "one finger per fret below the switch point",
            Self::ThirdFingerLow => "third finger below the switch point",
            Self::LittleFingerIn => "little finger drawn in",
            Self::StringChange => "changes of string",
            Self::StringSkip => "strings skipped",
            Self::Roll => "one finger over two strings",
            Self::Hop => "one finger jumping",
            Self::OpenFixed => "open strings that fix the shape",
            Self::OpenRings => "open strings to damp",
            Self::Height => "height on the neck",
            Self::RepeatMoved => "repeated notes moved",
            Self::MarkBroken => "marks that cannot be done",
        }
    }

    /// The weight unless a teacher's taste says otherwise. All are our choice (common practice, no source),
    /// set so that the fingerings of method-book practice come out at moderate tempi; what each is for stands
    /// beside it. That a fit needs position and distance, not only the step from note to note, follows Sayegh,
    /// "Fingering for string instruments with the optimum path paradigm", Computer Music Journal 13(3), 1989.
    pub fn usual_weight(self) -> f64 {
        match self {
            // The unit of account: leaving a position is worth about one and a half stretches at the second fret.
            Self::Shift => 1.6,
            // A fret in an eighth note at 120 is about 160 mm/s, which adds 0.6.
            Self::ShiftSpeed => 0.4,
            // On 34 inches frets 2 to 5 exceed 105 mm by 17 mm: 0.9; frets 1 to 4 by 25 mm: 1.8, more than a
            // shift, because low stretches are what strains a hand.
            Self::Stretch => 0.3,
            // Reached for, never rested in.
            Self::FiveFrets => 0.5,
            // Against the system of the low frets, but less than a shift.
            Self::SpreadLow => 0.2,
            // More than a roll, so that root, fifth and octave come out 1 4 4 in 1-2-4.
            Self::ThirdFingerLow => 0.4,
            // Less than a roll, so that they come out 1 3 4 with one finger per fret.
            Self::LittleFingerIn => 0.1,
            Self::StringChange => 0.1,
            Self::StringSkip => 0.4,
            Self::Roll => 0.3,
            Self::Hop => 1.5,
            // With the next one more than a shift of two frets in an eighth note at 120: shapes stay movable.
            Self::OpenFixed => 2.5,
            Self::OpenRings => 0.5,
            // Low positions sound fuller and are read more easily: a note at fret 12 costs 1.3, at fret 5 0.6.
            Self::Height => 0.3,
            // Nobody moves a repeated note without need.
            Self::RepeatMoved => 6.0,
            // Worth any other effort of a bar or two.
            Self::MarkBroken => 50.0,
        }
    }
}

/// A weight for every [`Effort`]: a teacher's taste. Zero or more.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Weights([f64; Effort::ALL.len()]);

impl Default for Weights {
    fn default() -> Self {
        Self(Effort::ALL.map(Effort::usual_weight))
    }
}

impl Weights {
    /// Largest weight accepted.
    pub const LIMIT: f64 = 1.0e6;

    /// The weight of an effort.
    pub fn of(&self, effort: Effort) -> f64 {
        self.0[effort as usize]
    }

    /// These with one weight changed.
    ///
    /// # Errors
    /// [`HandError::Weight`] unless it lies between 0 and [`Weights::LIMIT`].
    pub fn with(mut self, effort: Effort, weight: f64) -> Result<Self, HandError> {
        if !(0.0..=Self::LIMIT).contains(&weight) {
            return Err(HandError::Weight { effort, weight });
        }
        self.0[effort as usize] = weight;
        Ok(self)
    }
}

/// Why a hand cannot be as described.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
#[non_exhaustive]
pub enum HandError {
    /// Spans out of range or in the wrong order.
    #[error(
        "a hand spans 40 to 250 mm from index to little finger, comfortably no more than at its widest; not {comfortable_mm} and {widest_mm}"
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

    /// The taste.
    pub fn weights(&self) -> &Weights {
        &self.weights
    }

    /// The weight of an effort for this hand: taste, level, and open strings as set.
    pub fn weight(&self, effort: Effort) -> f64 {
        let weight = self.weights.of(effort);
        match effort {
            Effort::ShiftSpeed | Effort::StringSkip | Effort::Hop => weight * self.level.factor(),
            Effort::OpenFixed | Effort::OpenRings if self.open_strings == OpenStrings::Welcome => 0.0,
            _ => weight,
        }
    }
}
