//! When a riff does not lie on a neck: what could be changed, from the gentlest on.

mod keys;
mod measure;
mod octaves;
mod strings;

use riffkin_score::Warning;
use riffkin_score::interval::Interval;
use riffkin_score::riff::{BarBeat, Riff};
use riffkin_score::transpose::transpose;

use crate::fit::missing;
use crate::neck::Neck;
pub use measure::{Change, Measure};
use octaves::Keep;

/// One way to make a riff lie on a neck.
#[derive(Clone, Debug, PartialEq)]
pub struct Adaptation {
    /// What is changed.
    pub kind: Kind,
    /// The riff after it. All its notes lie on `neck`.
    pub riff: Riff,
    /// The neck it then lies on: the one asked for, unless the change is another neck.
    pub neck: Neck,
    /// Every change with the place where it starts, in order.
    pub changes: Vec<(BarBeat, String)>,
    /// How much it changes.
    pub measure: Measure,
}

impl Adaptation {
    /// What it is, in a few words: `the whole line an octave up`, `another key: E minor`, `the neck 'drop-d'`.
    pub fn title(&self) -> String {
        match self.kind {
            Kind::Octave(octaves) => format!("the whole line {}", octaves::words(octaves)),
            Kind::Key(semitones) => match self.riff.header().key {
                Some(key) => format!("another key: {key}"),
                None => format!(
                    "all notes {} semitones {}",
                    semitones.abs(),
                    if semitones > 0 { "up" } else { "down" }
                ),
            },
            Kind::Phrases(_) => "phrases moved by octaves, the contour kept".to_owned(),
            Kind::Notes(_) => "as few notes moved by octaves as may be".to_owned(),
            Kind::Tuning => format!("another tuning: {}", self.neck.name()),
            Kind::MoreStrings => format!("more strings: {}", self.neck.name()),
        }
    }
}

/// What an adaptation changes.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Kind {
    /// The whole line, by so many octaves.
    Octave(i8),
    /// The key, by so many semitones.
    Key(i32),
    /// Phrases, by octaves, with the contour kept as far as can be; how many notes.
    Phrases(usize),
    /// Single notes and phrases, by octaves, with the least change in all; how many notes.
    Notes(usize),
    /// The tuning; as many strings as before.
    Tuning,
    /// The instrument: one with more strings.
    MoreStrings,
}

/// What could be done, in this order: the whole line an octave or more away; the nearest key that fits (both, when as
/// near upwards as downwards, the one with fewer sharps or flats first); phrases moved by octaves; other tunings of
/// as many strings; necks with more strings. Only what works. Empty when the riff lies on the neck as it is.
///
/// For the phrases the least change is exact, over every choice of octaves for every note, and offered twice where that
/// differs: once with the fewest turns of the contour, then the fewest roots moved from first beats, then the least
/// [`Change::weight`]; once with the least weight in all. Among equals the one with fewer notes moved at the start
/// wins, then upwards before downwards.
pub fn adapt(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    if missing(riff, neck).is_empty() {
        return Vec::new();
    }
    let mut moved = moved_by_octaves(riff, neck);
    let at = usize::from(moved.first().is_some_and(|o| matches!(o.kind, Kind::Octave(_))));
    let phrases = moved.split_off(at);
    let mut offers = moved;
    offers.extend(keys::nearest(riff, neck));
    offers.extend(phrases);
    offers.extend(strings::tunings(riff, neck));
    offers.extend(strings::more_strings(riff, neck));
    offers
}

/// Which of the offers of [`adapt`] is taken when nobody chooses: the one that moves notes by octaves with the least
/// change, be it all notes or some; else the nearest key. Tuning and instruments are never changed unasked, for a class
/// shares them. So a low note or two do not send a riff up the neck where moving only those changes less.
pub fn usual(offers: &[Adaptation]) -> Option<usize> {
    let by_octaves = offers.iter().enumerate().filter_map(|(i, o)| match o.measure {
        Measure::Moved(change) => Some((change.weight(), i)),
        _ => None,
    });
    let key = || offers.iter().position(|o| matches!(o.kind, Kind::Key(_)));
    by_octaves.min().map(|(_, i)| i).or_else(key)
}

/// The offers that move notes by octaves: whole line, phrases, least change; each riff once.
pub(crate) fn moved_by_octaves(riff: &Riff, neck: &Neck) -> Vec<Adaptation> {
    let mut offers: Vec<Adaptation> = Vec::new();
    let phrases = [Keep::Contour, Keep::Most].into_iter();
    let phrases = phrases.filter_map(|keep| octaves::least_change(riff, neck, keep));
    for offer in whole_octaves(riff, neck).into_iter().chain(phrases) {
        let sounding = |o: &Adaptation| o.riff.line().iter().map(|n| n.note.pitch).collect::<Vec<_>>();
        if offers.iter().all(|o| sounding(o) != sounding(&offer)) {
            offers.push(offer);
        }
    }
    offers
}

/// The riff as it can be played on the neck, changed no more than needed ([`usual`]): notes moved by octaves, all of
/// them or some, whichever changes less; else another key. Tuning and instrument are kept. Warnings name every
/// change; when nothing helps the riff comes back unchanged and the warning says so.
pub fn adapted(riff: &Riff, neck: &Neck) -> (Riff, Vec<Warning>) {
    let off = missing(riff, neck);
    let Some(&first) = off.first() else { return (riff.clone(), Vec::new()) };
    let mut offers = moved_by_octaves(riff, neck);
    if offers.is_empty() {
        offers = keys::nearest(riff, neck);
    }
    match usual(&offers).and_then(|i| offers.into_iter().nth(i)) {
        Some(choice) => {
            let warnings = choice.changes.iter().map(|(at, words)| Warning::at(at, words.as_str()));
            (choice.riff, warnings.collect())
        }
        None => {
            let line = riff.line();
            let name = line.get(first).map(|n| n.note.pitch.print()).unwrap_or_default();
            let place = line.get(first).map(|n| riff.place_of(n.onset).to_string()).unwrap_or_default();
            let message = format!(
                "{name} does not lie on the neck '{}' and no octave or key helps; {} such notes; choose another neck",
                neck.name(),
                off.len()
            );
            (riff.clone(), vec![Warning::at(place, message)])
        }
    }
}

fn start_of(riff: &Riff) -> BarBeat {
    riff.place_of(riff.line().first().map_or(riff.bar_start(0), |n| n.onset))
}

fn whole_octaves(riff: &Riff, neck: &Neck) -> Option<Adaptation> {
    [1, -1, 2, -2, 3, -3].into_iter().find_map(|octaves: i8| {
        let by = Interval::from_steps(7 * i32::from(octaves), 12 * i32::from(octaves));
        let (moved, warnings) = moved_onto(riff, neck, by)?;
        let mut changes = vec![(start_of(riff), format!("the whole line {}", octaves::words(octaves)))];
        changes.extend(warnings.into_iter().map(|w| (start_of(riff), w.to_string())));
        let measure = Measure::Moved(octaves::whole_line(riff, neck, octaves));
        Some(Adaptation { kind: Kind::Octave(octaves), riff: moved, neck: neck.clone(), changes, measure })
    })
}

fn moved_onto(riff: &Riff, neck: &Neck, by: Interval) -> Option<(Riff, Vec<Warning>)> {
    let (moved, warnings) = transpose(riff, by).ok()?;
    missing(&moved, neck).is_empty().then_some((moved, warnings))
}
