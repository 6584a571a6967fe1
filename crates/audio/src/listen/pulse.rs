//! The pulse under a line of notes: tempo and its drift, meter, where the bars start, and how sure all that is.
//!
//! # Design
//!
//! A bass line alone has its pulse in its notes, and half of all beats may be silent; so the pulse is sought in heard
//! notes and not in the sound. Three questions are kept apart because each has an exact answer of its own kind:
//!
//! 1. *Where do beats fall, at a tempo near this one?* `course` finds the likeliest sequence of beats by dynamic
//!    programming over instants and beat lengths; the tempo may walk, and a late note still changes an early beat. All
//!    tempi from 42 to 216 beats a minute are asked for, in overlapping bands, for beats of two and of three, as an even
//!    and as an uneven player would have them; then the multiples and parts of the beats that fit best.
//! 2. *What is each note's place?* The quantiser of the score crate reads the notes against these beats (divisions,
//!    swing, plainness against accuracy). The clock is then smoothed over the places it gave, forward and back
//!    (`clock`), and the notes read again.
//! 3. *What meter, and where are the bar lines?* For every reading left, `bars` sums evidence over meters and phases:
//!    figures that come again bar against bar, notes and low notes and long notes on strong points, changes of pitch
//!    there, how the line starts and ends; and `accents` what loudness says, and a pitch that returns on bar lines. To this comes what the places cost and how common tempo and meter are
//!    (Temperley 2009 sums such costs in one probabilistic model of meter and pitch; the kinds of evidence are the
//!    preference rules of Lerdahl and Jackendoff 1983).
//!
//! Everything is in nats, one table (`weights`) holds what is believed beforehand, and the answer is a ranked list: a
//! tempo and its double, or 3/4 and 6/8, are often both good readings, and then the shares say so.
//!
//! What the user states is never weighed: a stated meter, tempo, bar line or pickup leaves only readings that agree with
//! it. A stated tempo may be 3 % off and drift from there.

mod accents;
mod bars;
mod clock;
mod course;
mod division;
mod tracks;
mod weights;

pub use self::bars::Evidence;
use self::bars::{Bars, Placed, TICKS, evidence};
pub use self::clock::Clock;
use self::course::Kind;
use self::division::{division, pace, timing};
use self::tracks::{Band, Track, bands, kind_of, quarters};
pub use self::weights::Kind as EvidenceKind;
use self::weights::{METERS, TEMPO};
use riffkin_score::meter::Meter;
use riffkin_score::tempo::Feel;

/// A note as the pulse sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Start in seconds.
    pub onset_s: f64,
    /// End in seconds.
    pub offset_s: f64,
    /// Sounding MIDI number; `None` when it has no pitch.
    pub midi: Option<u8>,
    /// How loud it was struck, in decibels above the middle note of the line; `None` when that is unknown, or when it was
    /// not struck.
    pub level_db: Option<f64>,
}

/// What is stated of the pulse. What is `None` is found out.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Known {
    /// The meter.
    pub meter: Option<Meter>,
    /// Length of a counted beat in seconds.
    pub beat_s: Option<f64>,
    /// A bar line: an instant at which a beat falls, and how many beats after it the bar line comes.
    pub bar_line: Option<(f64, u8)>,
    /// How many counted beats the first note lies before the first bar line; 0 puts it on the line.
    pub pickup: Option<f64>,
    /// Straight or swung.
    pub feel: Option<Feel>,
}

/// One reading of the pulse.
#[derive(Clone, Debug, PartialEq)]
pub struct Pulse {
    /// The meter.
    pub meter: Meter,
    /// Straight or swung.
    pub feel: Feel,
    /// The counted beats; beat 0 is the first bar line that is no end of a pickup's own bar.
    pub clock: Clock,
    /// Standard deviation of the onsets around their places, in seconds.
    pub spread_s: f64,
    /// Logarithm of its probability, up to a constant that all readings share; nats.
    pub score: f64,
    /// Its probability among the readings returned with it, 0 to 1.
    pub share: f64,
    /// What speaks for it.
    pub evidence: Evidence,
}

impl Pulse {
    /// Counted beats a minute, over the whole line.
    #[must_use]
    pub fn per_minute(&self) -> f64 {
        60.0 / self.clock.beat_s()
    }
}

/// Least that it is taken for: hearing alone is off by so much.
const LEAST_SPREAD_S: f64 = 0.006;
/// Change of a beat's length from beat to beat (standard deviation, as a part of it): while beats are sought, and when
/// the clock is smoothed.
const WANDER: (f64, f64) = (0.02, 0.006);
/// Seconds from the first note on from which tempo and meter are guessed; a longer line is then followed with them.
const HEAD_S: f64 = 60.0;
/// Most readings that `pulse` returns.
const MOST: usize = 16;

/// The readings of the notes that agree with what is known, the likeliest first. Notes need not be in order.
///
/// Empty without notes. One note alone, or notes all at once, give the stated tempo, or 100 beats a minute.
#[must_use]
pub fn pulse(tones: &[Tone], known: &Known) -> Vec<Pulse> {
    let mut found: Vec<Pulse> = Vec::new();
    for reading in readings(tones, known) {
        let near = |p: &Pulse| (p.clock.beat_s() / reading.clock.beat_s()).ln().abs() < 0.01;
        // Of one tempo and meter only the best place of the bar line; the others add to its share.
        match found.iter_mut().find(|p| p.meter == reading.meter && near(p)) {
            Some(twin) => twin.share += reading.share,
            None => found.push(reading),
        }
    }
    // The likeliest tempo first, whatever its meter; then the likeliest meter.
    let of_tempo: Vec<f64> = found
        .iter()
        .map(|p| {
            let near = |q: &&Pulse| (p.clock.beat_s() / q.clock.beat_s()).ln().abs() < 0.01;
            found.iter().filter(near).map(|q| q.share).sum()
        })
        .collect();
    if let Some(best) = (0..found.len()).max_by(|&a, &b| {
        let key = |i: usize| (of_tempo[i], found[i].share);
        key(a).0.total_cmp(&key(b).0).then(key(a).1.total_cmp(&key(b).1))
    }) {
        let first = found.remove(best);
        found.sort_by(|a, b| b.share.total_cmp(&a.share));
        found.insert(0, first);
    }
    found.truncate(MOST);
    found
}

/// Every reading that was weighed, with every place of the bar lines; the likeliest first.
#[must_use]
pub fn readings(tones: &[Tone], known: &Known) -> Vec<Pulse> {
    let mut tones: Vec<Tone> =
        tones.iter().copied().filter(|t| t.onset_s.is_finite() && t.offset_s.is_finite()).collect();
    tones.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    let (Some(first), Some(last)) = (tones.first(), tones.last()) else { return Vec::new() };
    if last.onset_s - first.onset_s < 0.1 {
        return vec![lonely(first.onset_s, known)];
    }
    let head_end = first.onset_s + HEAD_S;
    let head = &tones[..tones.partition_point(|t| t.onset_s <= head_end)];
    let mut tracks = self::tracks::tracks(head, known, &bands(known));
    if head.len() < tones.len() {
        // The best few guesses from the head, followed through the whole.
        let mut bands: Vec<Band> = Vec::new();
        for pulse in ranked(head, known, tracks) {
            let kind = kind_of(pulse.meter);
            let beat = pulse.clock.beat_s();
            if !bands.iter().any(|b| b.kind == kind && (b.beat_s / beat).ln().abs() < 0.05) && bands.len() < 3
            {
                bands.push(Band { kind, beat_s: beat });
            }
        }
        tracks = self::tracks::tracks(&tones, known, &bands);
    }
    let found = ranked(&tones, known, tracks);
    if found.is_empty() { vec![lonely(first_onset(&tones), known)] } else { found }
}

fn first_onset(tones: &[Tone]) -> f64 {
    tones.first().map_or(0.0, |t| t.onset_s)
}

/// The pulse of a single note.
fn lonely(onset_s: f64, known: &Known) -> Pulse {
    let meter = known.meter.unwrap_or(Meter::FOUR_FOUR);
    let beat = known.beat_s.unwrap_or(0.6);
    let mut start = onset_s + known.pickup.unwrap_or(0.0) * beat;
    if let Some((at, after)) = known.bar_line {
        start = at + f64::from(after) * beat;
    }
    Pulse {
        meter,
        feel: known.feel.unwrap_or_default(),
        clock: Clock::even(start, beat),
        spread_s: LEAST_SPREAD_S,
        score: 0.0,
        share: 1.0,
        evidence: Evidence::default(),
    }
}

/// All meters and bar lines over these tracks, the likeliest first.
fn ranked(tones: &[Tone], known: &Known, tracks: Vec<Track>) -> Vec<Pulse> {
    let mut readings: Vec<(Evidence, usize, Meter, i64)> = Vec::new();
    for (i, track) in tracks.iter().enumerate() {
        let scale = quarters(track.kind);
        let start = track.reading.starts;
        let placed: Vec<Placed> = track
            .reading
            .notes
            .iter()
            .map(|n| Placed {
                tick: ((n.onset.to_f64() + start) / scale * TICKS as f64).round() as i64,
                length: (n.length.to_f64() / scale * TICKS as f64).round() as i64,
                midi: tones[n.played].midi,
                level_db: tones[n.played].level_db.filter(|l| l.is_finite()),
            })
            .collect();
        let mut own = Evidence::default();
        own.add(EvidenceKind::Timing, -timing(track));
        own.add(EvidenceKind::Division, -division(tones.len(), &placed, track.kind));
        own.add(EvidenceKind::Steady, -track.clock.unrest(WANDER.1));
        if known.beat_s.is_none() {
            let usual = &TEMPO[usize::from(track.kind == Kind::Threes)];
            own.add(EvidenceKind::Tempo, usual.nats(60.0 / track.clock.beat_s()));
        }
        own.add(EvidenceKind::Pace, pace(&placed, track.kind));
        for (meter, share) in meters(known, track.kind) {
            for bars in phases(known, &placed, &track.clock, meter) {
                let mut sum = evidence(&placed, bars);
                sum.add(EvidenceKind::Meter, share.ln());
                for (a, b) in sum.0.iter_mut().zip(own.0) {
                    *a += b;
                }
                let zero = first_bar(known, &placed, bars);
                readings.push((sum, i, meter, zero));
            }
        }
    }
    readings.sort_by(|a, b| b.0.score().total_cmp(&a.0.score()));
    let most = readings.first().map_or(0.0, |r| r.0.score());
    let all: f64 = readings.iter().map(|r| (r.0.score() - most).exp()).sum();
    readings
        .into_iter()
        .map(|(evidence, i, meter, zero)| {
            let track = &tracks[i];
            Pulse {
                meter,
                feel: track.reading.feel,
                clock: track.clock.counted_from(zero),
                spread_s: track.spread_s,
                score: evidence.score(),
                share: (evidence.score() - most).exp() / all,
                evidence,
            }
        })
        .collect()
}

fn meters(known: &Known, kind: Kind) -> Vec<(Meter, f64)> {
    match known.meter {
        Some(meter) => vec![(meter, 1.0)],
        None => METERS
            .iter()
            .filter_map(|&(beats, unit, share)| Some((Meter::new(beats, unit)?, share)))
            .filter(|m| kind_of(m.0) == kind)
            .collect(),
    }
}

/// Where bars may start.
fn phases(known: &Known, placed: &[Placed], clock: &Clock, meter: Meter) -> Vec<Bars> {
    let beats = i64::from(meter.counted_beats());
    if let Some((at, after)) = known.bar_line {
        let start = clock.beats_at(at).round() as i64 + i64::from(after);
        return vec![Bars { beats, start }];
    }
    let first = placed.first().map_or(0, |p| p.tick);
    if let Some(pickup) = known.pickup {
        let start = (first as f64 / TICKS as f64 + pickup).round() as i64;
        return vec![Bars { beats, start }];
    }
    (0..beats).map(|k| Bars { beats, start: first.div_euclid(TICKS) + k }).collect()
}

/// The beat that bar 1 starts on: the bar line before the first note, or the one after it when the note lies in the
/// second half of its bar and so makes a pickup.
fn first_bar(known: &Known, placed: &[Placed], bars: Bars) -> i64 {
    if known.bar_line.is_some() || known.pickup.is_some() {
        return bars.start;
    }
    let first = placed.first().map_or(0, |p| p.tick);
    let bar = bars.beats * TICKS;
    let from = first - bars.start * TICKS;
    let (whole, at) = (from.div_euclid(bar), from.rem_euclid(bar));
    bars.start + (whole + i64::from(at * 2 >= bar)) * bars.beats
}
