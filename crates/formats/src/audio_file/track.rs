//! What a reader asks of the sound track of a file, whatever its kind.

/// What is known of a track before it is decoded.
#[derive(Clone, Debug, Default)]
pub(super) struct Facts {
    /// Where the first decoded frame lies, in frames from the first that is to be heard: minus the encoder's delay.
    pub(super) start: i64,
    /// How many frames are to be heard, where the file says so.
    pub(super) promised: Option<u64>,
    /// True where what lies beyond `promised` is certainly not to be heard.
    pub(super) firm: bool,
    /// Where all that is coded should end, what is not to be heard included, where the file says so.
    pub(super) ends: Option<i64>,
    /// How many frames fewer than promised are no loss: a decoder may lawfully keep its last ones.
    pub(super) slack: u64,
    /// What is wrong from the beginning on.
    pub(super) warnings: Vec<super::Warning>,
}

/// A stretch of decoded sound; the vectors are used again and again.
#[derive(Default)]
pub(super) struct Sound {
    /// Samples a second.
    pub(super) rate: u32,
    /// The channels as they are in the file; all of one length.
    pub(super) rows: Vec<Vec<f32>>,
    /// Where the first frame lies, in frames from the first that is to be heard.
    pub(super) at: i64,
}

impl Sound {
    /// How many frames there are.
    pub(super) fn frames(&self) -> usize {
        self.rows.first().map_or(0, Vec::len)
    }
}

/// What came of asking for more.
#[derive(Debug)]
pub(super) enum Step {
    /// There is more sound.
    Sound,
    /// So many frames, from `at` on, cannot be decoded.
    Lost {
        /// Where they lie.
        at: i64,
        /// How many they are.
        frames: u64,
        /// What was said of them.
        reason: String,
    },
    /// The source could not be read on.
    Failed(String),
    /// That was all; with a reason where it ended before its time.
    End(Option<String>),
}

/// A sound track that is decoded piece by piece.
pub(super) trait Track: Send + Sync {
    /// What is known beforehand.
    fn facts(&self) -> &Facts;

    /// Decodes a little more; at most a few seconds of sound.
    fn next(&mut self, sound: &mut Sound) -> Step;

    /// Where the sound decoded next lies, in frames from the first that is to be heard.
    fn at(&self) -> i64;

    /// From now on nothing before `frame` is wanted: it need not be decoded.
    fn pass_over(&mut self, frame: i64);
}
