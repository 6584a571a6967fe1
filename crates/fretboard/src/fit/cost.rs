//! What a hand's way through a line costs: the efforts of single notes and of going from one to the next.
//!
//! One definition serves the search (a weighted sum), the report (the amounts) and whoever learns weights.

use riffkin_score::note::{Approach, Mark};

use super::Touch;
use super::moment::{Moment, Pluck};
use super::spots::Spot;
use crate::hand::{Effort, Hand, Plucking};
use crate::neck::Neck;

/// What remains of a shift or a hop when the hand is free meanwhile: across a rest, an open string or a dead
/// note. Not nothing, so that a hand stays where nothing calls it away. Our choice, no source.
pub(super) const RELIEF: f64 = 0.2;

/// The last of the low frets, where stretches are flagged (common practice, no source).
pub(super) const LOW_FRETS: u8 = 4;

/// Where the efforts go: into a sum or into a list of amounts.
pub(super) trait Tally {
    fn add(&mut self, effort: Effort, amount: f64);
}

/// The amounts of each effort.
#[derive(Clone, Debug, Default)]
pub(super) struct Amounts(pub(super) [f64; Effort::ALL.len()]);

impl Tally for Amounts {
    fn add(&mut self, effort: Effort, amount: f64) {
        self.0[effort as usize] += amount;
    }
}

struct Sum<'a> {
    weights: &'a [f64; Effort::ALL.len()],
    sum: f64,
}

impl Tally for Sum<'_> {
    #[inline]
    fn add(&mut self, effort: Effort, amount: f64) {
        self.sum += amount * self.weights[effort as usize];
    }
}

/// A hand on a neck, ready to be asked for costs.
pub(super) struct Costs {
    /// Distance of each fret from the nut in mm, the nut first.
    pub(super) fret_mm: Vec<f64>,
    pub(super) weights: [f64; Effort::ALL.len()],
    comfortable_mm: f64,
    /// The fret of the capo, 0 without one.
    pub(super) capo: u8,
    /// The switch point counted from the capo.
    switch_fret: u8,
    pub(super) plucking: Plucking,
    /// No note of the line must be open, so an open string would fix a shape that could move.
    pub(super) movable: bool,
}

impl Costs {
    pub(super) fn new(neck: &Neck, hand: &Hand, movable: bool) -> Self {
        Self {
            fret_mm: (0..=neck.frets()).map(|f| neck.fret_mm(f)).collect(),
            weights: Effort::ALL.map(|e| hand.weight(e)),
            comfortable_mm: hand.comfortable_mm(),
            capo: neck.capo(),
            switch_fret: hand.switch_fret().saturating_sub(neck.capo()),
            plucking: hand.plucking(),
            movable,
        }
    }

    /// Distance between two frets in mm.
    pub(super) fn between_mm(&self, a: u8, b: u8) -> f64 {
        (self.fret_mm[usize::from(a)] - self.fret_mm[usize::from(b)]).abs()
    }

    /// By how much a spot exceeds the comfortable span, in mm; zero when it does not.
    pub(super) fn excess_mm(&self, spot: Spot) -> f64 {
        if !spot.holds() {
            return 0.0;
        }
        (self.span_mm(spot) - self.comfortable_mm).max(0.0)
    }

    /// From the index finger to the finger that holds, in mm.
    pub(super) fn span_mm(&self, spot: Spot) -> f64 {
        self.between_mm(spot.place.fret, spot.position)
    }

    /// The efforts of one note by itself.
    pub(super) fn note(&self, moment: &Moment, spot: Spot, tally: &mut impl Tally) {
        if spot.touch == Touch::Open {
            tally.add(Effort::OpenRings, 1.0);
            if self.movable {
                tally.add(Effort::OpenFixed, 1.0);
            }
            if moment.note.bend > 0 || moment.note.marks.has(Mark::Vibrato) {
                tally.add(Effort::MarkBroken, 1.0);
            }
        }
        if !spot.holds() {
            return;
        }
        tally.add(Effort::Height, self.fret_mm[usize::from(spot.place.fret)] / 100.0);
        let excess = self.excess_mm(spot);
        if excess > 0.0 {
            tally.add(Effort::Stretch, excess * excess / 100.0);
            if spot.position < self.switch_fret {
                tally.add(Effort::LowStretch, 1.0);
            }
        }
        if spot.finger == 4 {
            tally.add(Effort::LittleFinger, 1.0);
        }
        let low = spot.position < self.switch_fret;
        match (spot.finger, spot.place.fret - spot.position) {
            (2, 2) => tally.add(Effort::SecondFingerOut, 1.0),
            (3, _) if low => tally.add(Effort::ThirdFingerLow, 1.0),
            (4, 2) if !low => tally.add(Effort::LittleFingerIn, 1.0),
            (4, 3) if low => tally.add(Effort::SpreadLow, 1.0),
            (4, 4) => {
                tally.add(Effort::FiveFrets, 1.0);
                if low {
                    tally.add(Effort::SpreadLow, 1.0);
                }
            }
            _ => {}
        }
    }

    /// The efforts of going from one note to the next; `false` when the hand cannot go that way: while no
    /// finger holds a string the hand goes where it is needed at once, and the shift belongs to the way there.
    #[inline]
    pub(super) fn step(&self, from: Spot, moment: &Moment, to: Spot, tally: &mut impl Tally) -> bool {
        if !from.holds() && from.position != to.position {
            return false;
        }
        let done = mark_done(moment, from, to);
        if !done {
            tally.add(Effort::MarkBroken, 1.0);
        }
        let slide = done && is_slide(moment.note.approach);
        let relief = if moment.after_rest { RELIEF } else { 1.0 };
        if from.position != to.position {
            let (relief, seconds) =
                if to.holds() { (relief, moment.since_last_s) } else { (RELIEF, moment.until_next_s) };
            if !slide {
                tally.add(Effort::Shift, relief);
            }
            let speed = self.between_mm(from.position, to.position) / seconds;
            tally.add(Effort::ShiftSpeed, relief * speed / 100.0);
        }
        let strings = from.place.string.abs_diff(to.place.string);
        if strings > 0 {
            let lower = to.place.string > from.place.string;
            let raked = self.plucking == Plucking::Raking && lower && strings == 1 && moment.pluck.is_some();
            if !raked {
                tally.add(Effort::StringChange, 1.0);
            }
            if strings > 1 {
                tally.add(Effort::StringSkip, f64::from(strings - 1));
            }
            let wrong = if lower { Pluck::Second } else { Pluck::First };
            if self.plucking == Plucking::Alternating && moment.pluck == Some(wrong) {
                tally.add(Effort::CrossedPluck, 1.0);
            }
        }
        if from.holds() && to.holds() && from.finger == to.finger && from.place != to.place && !slide {
            if from.place.fret == to.place.fret {
                let ease = if to.finger == 1 { 0.5 } else { 1.0 };
                tally.add(Effort::Roll, ease * f64::from(strings));
            } else {
                let along = if strings == 0 { 0.5 } else { 1.0 };
                tally.add(Effort::Hop, relief * moment.pace * along);
            }
        }
        true
    }

    /// [`Costs::note`] as a weighted sum.
    pub(super) fn note_cost(&self, moment: &Moment, spot: Spot) -> f64 {
        let mut sum = Sum { weights: &self.weights, sum: 0.0 };
        self.note(moment, spot, &mut sum);
        sum.sum
    }

    /// [`Costs::step`] and the repeat of a pitch as a weighted sum; infinite when the hand cannot go that way.
    #[inline]
    pub(super) fn step_cost(&self, last: &Moment, from: Spot, moment: &Moment, to: Spot) -> f64 {
        let mut sum = Sum { weights: &self.weights, sum: 0.0 };
        if !self.step(from, moment, to, &mut sum) {
            return f64::INFINITY;
        }
        self.repeat(last, from, moment, to, &mut sum);
        sum.sum
    }

    /// The effort of a repeated pitch that does not stay where it is.
    #[inline]
    pub(super) fn repeat(
        &self,
        last: &Moment,
        from: Spot,
        moment: &Moment,
        to: Spot,
        tally: &mut impl Tally,
    ) {
        let same = last.midi == moment.midi && !last.dead && !moment.dead;
        if same && (from.place != to.place || from.finger != to.finger) {
            tally.add(Effort::RepeatMoved, 1.0);
        }
    }
}

fn is_slide(approach: Approach) -> bool {
    matches!(approach, Approach::Slide | Approach::SlidePlucked)
}

/// True when the hand does what the note's approach says: a slide keeps its string and finger; a hammer-on
/// goes up its string to a higher finger and a pull-off down to a lower one, in one position unless the string
/// is open at the end. From or to a dead note only the string counts.
pub(super) fn mark_done(moment: &Moment, from: Spot, to: Spot) -> bool {
    let approach = moment.note.approach;
    if approach == Approach::Plucked {
        return true;
    }
    let dead = from.touch == Touch::Dead || to.touch == Touch::Dead;
    from.place.string == to.place.string
        && (dead
            || match approach {
                Approach::Plucked => true,
                Approach::Slide | Approach::SlidePlucked => {
                    from.holds() && to.holds() && from.finger == to.finger
                }
                Approach::Hammer => {
                    from.place.fret < to.place.fret && from.finger < to.finger && from.position == to.position
                }
                Approach::Pull => {
                    from.place.fret > to.place.fret
                        && from.finger > to.finger
                        && (from.position == to.position || to.touch == Touch::Open)
                }
            })
}
