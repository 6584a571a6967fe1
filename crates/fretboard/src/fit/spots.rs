//! Every way to play one note: place, finger and hand position.

use riffkin_score::Warning;
use riffkin_score::note::{Mark, Note, Place};
use riffkin_score::pitch::Midi;

use super::moment::Moment;
use super::{FitError, Touch};
use crate::hand::{Hand, OpenStrings};
use crate::neck::Neck;
use crate::wishes::{Conflict, What, Wish};

/// One way to play one note.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Spot {
    pub(crate) place: Place,
    pub(crate) finger: u8,
    pub(crate) position: u8,
    pub(crate) touch: Touch,
}

impl Spot {
    /// True when a finger holds the string, so that the hand is bound to its position.
    pub(super) fn holds(self) -> bool {
        matches!(self.touch, Touch::Stopped | Touch::Harmonic)
    }
}

/// Frets above the index finger that each finger takes: its own, for the second finger one beyond (an extension),
/// for the little finger the place of the third (1-2-4) and one beyond (five frets under the hand).
const REACHES: [(u8, u8); 7] = [(1, 0), (2, 1), (2, 2), (3, 2), (4, 2), (4, 3), (4, 4)];

/// Nodes where a natural harmonic is touched: fret, and semitones above the open string. The string divided
/// in 2, 3, 4 and 5 (harmonic series, rounded to semitones).
const NODES: [(u8, u8); 8] = [(12, 12), (7, 19), (19, 19), (5, 24), (24, 24), (4, 28), (9, 28), (16, 28)];

/// Collects the ways to play each note, and what had to be left aside.
pub(super) struct Finder<'a> {
    pub(super) neck: &'a Neck,
    pub(super) hand: &'a Hand,
    pub(super) fret_mm: &'a [f64],
    pub(super) wishes: &'a [Wish],
    pub(super) warnings: Vec<Warning>,
    /// Notes that cannot be had as wished.
    pub(super) conflicts: Vec<Conflict>,
    /// Some note is open wherever it is played, wishes apart.
    pub(super) fixed: bool,
}

impl Finder<'_> {
    /// The spots of every note, each list non-empty.
    pub(super) fn find(&mut self, moments: &[Moment]) -> Result<Vec<Vec<Spot>>, FitError> {
        let mut all: Vec<Vec<Spot>> = Vec::with_capacity(moments.len());
        for moment in moments {
            let said = self.warnings.len();
            let spots = self.spots(moment);
            self.fixed |= !spots.is_empty() && spots.iter().all(|s| s.touch == Touch::Open);
            let wished = self.as_wished(moment, &spots, said);
            all.push(wished.unwrap_or(spots));
        }
        let mut missing = moments.iter().zip(&all).filter(|(_, spots)| spots.is_empty()).map(|(m, _)| m);
        if let Some(first) = missing.next() {
            return Err(FitError::OffNeck {
                pitch: first.note.pitch,
                at: first.at,
                lowest: self.neck.lowest(),
                highest: self.neck.highest(),
                others: missing.count(),
            });
        }
        if self.conflicts.is_empty() {
            Ok(all)
        } else {
            Err(FitError::Wishes(std::mem::take(&mut self.conflicts)))
        }
    }

    /// The spots that the wishes leave, when there are wishes for this note: of those that the riff and the hand
    /// ask for if any are left, else of all. Empty, and noted as a conflict, when none are.
    fn as_wished(&mut self, moment: &Moment, asked: &[Spot], said: usize) -> Option<Vec<Spot>> {
        let wishes: Vec<Wish> = self.wishes.iter().copied().filter(|w| w.over.holds(moment.at)).collect();
        if wishes.is_empty() || asked.is_empty() {
            return None;
        }
        let any = self.anyhow(moment);
        let open = any.iter().any(|s| s.touch == Touch::Open);
        let left = |spots: &[Spot], wishes: &[Wish]| -> Vec<Spot> {
            spots.iter().copied().filter(|&s| wishes.iter().all(|w| grants(w.what, s, open))).collect()
        };
        let kept = left(asked, &wishes);
        if !kept.is_empty() {
            return Some(kept);
        }
        let kept = left(&any, &wishes);
        if !kept.is_empty() {
            // What was said of the written place is beside the point now.
            self.warnings.truncate(said);
            if moment.note.place.is_some() || moment.note.finger.is_some() {
                self.warn(moment, "the place or finger written there gives way to a wish".to_owned());
            }
            return Some(kept);
        }
        // Deletion filter: a wish without which the note still cannot be had is no part of the conflict.
        let mut guilty = wishes;
        let mut i = 0;
        while i < guilty.len() {
            let mut fewer = guilty.clone();
            fewer.remove(i);
            if left(&any, &fewer).is_empty() {
                guilty = fewer;
            } else {
                i += 1;
            }
        }
        self.conflicts.push(Conflict { at: moment.at, pitch: moment.note.pitch, wishes: guilty });
        None
    }

    /// Every way to play a note, whatever is written beside it and whatever the hand thinks of open strings.
    fn anyhow(&self, moment: &Moment) -> Vec<Spot> {
        let mut spots = Vec::new();
        if moment.dead {
            for string in 1..=self.neck.string_count() {
                let flat = |position| Spot {
                    place: Place { string, fret: position },
                    finger: 0,
                    position,
                    touch: Touch::Dead,
                };
                spots.extend((1..=self.neck.frets()).map(flat));
            }
            return spots;
        }
        if moment.note.marks.has(Mark::Harmonic) {
            for place in nodes(self.neck, moment.midi) {
                self.holding(place, Touch::Harmonic, &mut spots);
            }
        }
        if spots.is_empty() {
            for place in Midi::new(moment.midi).map(|m| self.neck.places(m)).unwrap_or_default() {
                self.stopped_or_open(place, &mut spots);
            }
        }
        spots
    }

    fn spots(&mut self, moment: &Moment) -> Vec<Spot> {
        if moment.dead {
            return self.dead(moment);
        }
        let harmonic = moment.note.marks.has(Mark::Harmonic);
        let written = moment.note.place.filter(|&place| self.honoured(moment, place, harmonic));
        let mut spots = Vec::new();
        match written {
            Some(place) if harmonic => self.holding(place, Touch::Harmonic, &mut spots),
            Some(place) => self.stopped_or_open(place, &mut spots),
            None => {
                if harmonic {
                    for place in nodes(self.neck, moment.midi) {
                        self.holding(place, Touch::Harmonic, &mut spots);
                    }
                    if spots.is_empty() {
                        self.warn(
                            moment,
                            format!(
                                "no natural harmonic sounds {}; it is fitted as a stopped note",
                                moment.note.pitch
                            ),
                        );
                    }
                }
                if spots.is_empty() {
                    self.anywhere(moment, &mut spots);
                }
            }
        }
        self.by_finger(moment, spots)
    }

    fn anywhere(&mut self, moment: &Moment, spots: &mut Vec<Spot>) {
        let places = Midi::new(moment.midi).map(|m| self.neck.places(m)).unwrap_or_default();
        let refuse = self.hand.open_strings() == OpenStrings::Refused;
        let only_open = places.iter().all(|p| p.fret == 0);
        if refuse && only_open && !places.is_empty() {
            self.warn(moment, format!("{} is only there as an open string", moment.note.pitch));
        }
        for place in places.into_iter().filter(|p| p.fret > 0 || !refuse || only_open) {
            self.stopped_or_open(place, spots);
        }
    }

    /// Keeps the spots of the written finger, when there are any.
    fn by_finger(&mut self, moment: &Moment, spots: Vec<Spot>) -> Vec<Spot> {
        let Some(finger) = moment.note.finger else { return spots };
        let kept: Vec<Spot> = spots.iter().copied().filter(|s| s.finger == finger).collect();
        if kept.is_empty() && !spots.is_empty() {
            self.warn(moment, format!("finger {finger} cannot play this note there; another was chosen"));
            return spots;
        }
        kept
    }

    fn honoured(&mut self, moment: &Moment, place: Place, harmonic: bool) -> bool {
        let Place { string, fret } = place;
        let pitch = moment.note.pitch;
        let sounding = self.neck.sounding(place);
        if harmonic {
            let open = self.neck.open(string).map(|p| p.midi().number());
            let rings = |o: u8| NODES.contains(&(fret, moment.midi.saturating_sub(o)));
            if sounding.is_some() && !open.is_some_and(rings) {
                self.warn(
                    moment,
                    format!(
                        "string {string}, fret {fret} has no natural harmonic {pitch}; it is kept as written"
                    ),
                );
            }
        }
        let words = match sounding {
            None => format!(
                "string {string}, fret {fret} is not on this neck; another place was chosen for {pitch}"
            ),
            Some(midi) if !harmonic && midi.number() != moment.midi => {
                format!(
                    "string {string}, fret {fret} does not sound {pitch} on this neck; another place was chosen"
                )
            }
            Some(_) => return true,
        };
        self.warn(moment, words);
        false
    }

    /// The strings on which a dead note may be struck: the lowest-lying of those that have its nominal pitch,
    /// because that is where the hand was; any when none has it.
    fn dead_strings(&self, moment: &Moment) -> Vec<u8> {
        let nominal = self.neck.places(moment.note.pitch.midi());
        match nominal.iter().min_by_key(|place| place.fret) {
            Some(place) => vec![place.string],
            None => (1..=self.neck.string_count()).collect(),
        }
    }

    fn dead(&mut self, moment: &Moment) -> Vec<Spot> {
        let written = moment.note.place.filter(|&place| {
            let there = self.neck.sounding(place).is_some();
            if !there {
                let Place { string, fret } = place;
                self.warn(
                    moment,
                    format!("string {string}, fret {fret} is not on this neck; the dead note was moved"),
                );
            }
            there
        });
        let positions = 1..=self.neck.frets();
        match written {
            Some(place) => {
                positions.map(|position| Spot { place, finger: 0, position, touch: Touch::Dead }).collect()
            }
            None => self
                .dead_strings(moment)
                .into_iter()
                .flat_map(|string| {
                    positions.clone().map(move |position| Spot {
                        place: Place { string, fret: position },
                        finger: 0,
                        position,
                        touch: Touch::Dead,
                    })
                })
                .collect(),
        }
    }

    fn stopped_or_open(&self, place: Place, spots: &mut Vec<Spot>) {
        if place.fret == 0 {
            let open = |position| Spot { place, finger: 0, position, touch: Touch::Open };
            spots.extend((1..=self.neck.frets()).map(open));
        } else {
            self.holding(place, Touch::Stopped, spots);
        }
    }

    fn holding(&self, place: Place, touch: Touch, spots: &mut Vec<Spot>) {
        for (finger, above) in REACHES {
            let Some(position) = place.fret.checked_sub(above).filter(|&p| p > 0) else { continue };
            let span = self.fret_mm[usize::from(place.fret)] - self.fret_mm[usize::from(position)];
            if above == 0 || span <= self.hand.widest_mm() {
                spots.push(Spot { place, finger, position, touch });
            }
        }
    }

    fn warn(&mut self, moment: &Moment, message: String) {
        self.warnings.push(Warning::at(moment.at, message));
    }
}

/// Where a natural harmonic of this sound is touched.
fn nodes(neck: &Neck, midi: u8) -> Vec<Place> {
    let strings = 1..=neck.string_count();
    strings
        .flat_map(|string| NODES.into_iter().map(move |(fret, above)| (Place { string, fret }, above)))
        .filter(|&(place, above)| {
            let open = neck.open(place.string).map(|open| open.midi().number());
            place.fret <= neck.frets() && open.and_then(|o| o.checked_add(above)) == Some(midi)
        })
        .map(|(place, _)| place)
        .collect()
}

/// True when a harmonic can be played as written or at some node.
pub(super) fn has_harmonic(note: &Note, neck: &Neck) -> bool {
    note.place.is_some_and(|p| neck.sounding(p).is_some())
        || !nodes(neck, note.pitch.midi().number()).is_empty()
}

/// True when a spot does what is wished. `open` says that the note's pitch is that of an open string.
fn grants(what: What, spot: Spot, open: bool) -> bool {
    match what {
        What::String(string) => spot.place.string == string,
        What::Place(place, _) if spot.touch == Touch::Dead => spot.place.string == place.string,
        What::Place(place, finger) => spot.place == place && finger.is_none_or(|f| spot.finger == f),
        What::Finger(finger) => spot.touch == Touch::Dead || spot.finger == finger,
        What::Frets { from, to } => !spot.holds() || (spot.position >= from && spot.place.fret <= to),
        What::Position(fret) => !spot.holds() || spot.position == fret,
        What::NoOpenStrings => spot.touch != Touch::Open,
        What::OpenStrings => !open || spot.touch == Touch::Open,
    }
}
