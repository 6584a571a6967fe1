//! What each effort of a hand is, in which unit it is counted, and what it usually weighs.

use super::HandError;

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
    /// Such a reach with the index finger below the switch point, where shifting is kinder to the hand: 1.
    LowStretch,
    /// The little finger four frets above the index (five frets under one hand): 1.
    FiveFrets,
    /// The second finger two frets above the index, reaching out of its own fret: 1.
    SecondFingerOut,
    /// One finger per fret below the switch point (little finger three frets above the index): 1.
    SpreadLow,
    /// The third finger below the switch point, where the fourth does its work in 1-2-4: 1.
    ThirdFingerLow,
    /// The little finger two frets above the index from the switch point on, where the third lies: 1.
    LittleFingerIn,
    /// A note under the little finger, the weakest: 1.
    LittleFinger,
    /// Any change of string: 1; to the next lower string nothing when the plucking hand rakes.
    StringChange,
    /// Strings skipped: 1 for each string between.
    StringSkip,
    /// With strictly alternating plucking fingers, the wrong one leads over to another string: the first finger
    /// to a higher, the second to a lower one: 1.
    CrossedPluck,
    /// One finger flattened over several strings at one fret: 1 for each string further, half for the index finger.
    Roll,
    /// One finger jumps to another string or fret: 1 at a quarter of a second, more when faster (to 2), less
    /// when slower (to 0.5), half of it along its own string, a fifth of it across a rest.
    Hop,
    /// An open string in a line that could do without: the shape cannot be moved any more: 1.
    OpenFixed,
    /// Any open string: it must be damped by other means: 1.
    OpenRings,
    /// Height on the neck: distance of the fret from the nut in 100 mm, for each stopped note.
    Height,
    /// A repeated pitch that changes its place or finger: 1.
    RepeatMoved,
    /// A mark that the hand cannot do there (slide off its string, hammer-on downwards, bend on an open
    /// string): 1.
    MarkBroken,
}

impl Effort {
    /// Every effort.
    pub const ALL: [Self; 20] = [
        Self::Shift,
        Self::ShiftSpeed,
        Self::Stretch,
        Self::LowStretch,
        Self::FiveFrets,
        Self::SecondFingerOut,
        Self::SpreadLow,
        Self::ThirdFingerLow,
        Self::LittleFingerIn,
        Self::LittleFinger,
        Self::StringChange,
        Self::StringSkip,
        Self::CrossedPluck,
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
            Self::LowStretch => "stretches below the switch point",
            Self::FiveFrets => "five frets under one hand",
            Self::SecondFingerOut => "second finger reaching out",
            Self::SpreadLow => "one finger per fret below the switch point",
            Self::ThirdFingerLow => "third finger below the switch point",
            Self::LittleFingerIn => "little finger drawn in",
            Self::LittleFinger => "notes under the little finger",
            Self::StringChange => "changes of string",
            Self::StringSkip => "strings skipped",
            Self::CrossedPluck => "crossed plucking fingers",
            Self::Roll => "one finger over several strings",
            Self::Hop => "one finger jumping",
            Self::OpenFixed => "open strings that fix the shape",
            Self::OpenRings => "open strings to damp",
            Self::Height => "height on the neck",
            Self::RepeatMoved => "repeated notes moved",
            Self::MarkBroken => "marks that cannot be done",
        }
    }

    /// In one word, for a line of text: `shift`, `low-stretch`.
    pub fn key(self) -> &'static str {
        match self {
            Self::Shift => "shift",
            Self::ShiftSpeed => "shift-speed",
            Self::Stretch => "stretch",
            Self::LowStretch => "low-stretch",
            Self::FiveFrets => "five-frets",
            Self::SecondFingerOut => "second-finger-out",
            Self::SpreadLow => "spread-low",
            Self::ThirdFingerLow => "third-finger-low",
            Self::LittleFingerIn => "little-finger-in",
            Self::LittleFinger => "little-finger",
            Self::StringChange => "string-change",
            Self::StringSkip => "string-skip",
            Self::CrossedPluck => "crossed-pluck",
            Self::Roll => "roll",
            Self::Hop => "hop",
            Self::OpenFixed => "open-fixed",
            Self::OpenRings => "open-rings",
            Self::Height => "height",
            Self::RepeatMoved => "repeat-moved",
            Self::MarkBroken => "mark-broken",
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
            // With the stretch itself more than a shift of a fret in an eighth note at 120 at fret 1, less at fret 2.
            Self::LowStretch => 0.35,
            // Reached for, never rested in.
            Self::FiveFrets => 0.5,
            Self::SecondFingerOut => 0.3,
            // Against the system of the low frets, but less than a shift.
            Self::SpreadLow => 0.2,
            // More than a roll, so that root, fifth and octave come out 1 4 4 in 1-2-4.
            Self::ThirdFingerLow => 0.28,
            // Less than a roll, so that they come out 1 3 4 with one finger per fret.
            Self::LittleFingerIn => 0.1,
            // Only where another finger would do as well (that weak fingers are spared: Parncutt, Sloboda, Clarke,
            // Raekallio and Desain, "An ergonomic model of keyboard fingering for melodic fragments", Music
            // Perception 14(4), 1997, of the piano).
            Self::LittleFinger => 0.02,
            Self::StringChange => 0.1,
            Self::StringSkip => 0.4,
            Self::CrossedPluck => 0.2,
            Self::Roll => 0.2,
            Self::Hop => 1.5,
            // With the next one more than a shift of two frets in an eighth note at 120: shapes stay movable.
            Self::OpenFixed => 2.5,
            Self::OpenRings => 0.5,
            // Low positions sound fuller and are read more easily: a note at fret 12 costs 1.5, at fret 5 0.8.
            Self::Height => 0.35,
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
