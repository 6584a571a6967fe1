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
//!    there, how the line starts and ends. To this comes what the places cost and how common tempo and meter are
//!    (Temperley 2009 sums such costs in one probabilistic model of meter and pitch; the kinds of evidence are the
//!    preference rules of Lerdahl and Jackendoff 1983).
//!
//! Everything is in nats, one table (`weights`) holds what is believed beforehand, and the answer is a ranked list: a
//! tempo and its double, or 3/4 and 6/8, are often both good readings, and then the shares say so.
//!
//! What the user states is never weighed: a stated meter, tempo, bar line or pickup leaves only readings that agree with
//! it. A stated tempo may be 3 % off and drift from there.

mod bars;
mod clock;
mod course;
mod weights;

pub use self::bars::Evidence;
use self::bars::{Bars, Placed, TICKS, evidence};
pub use self::clock::Clock;
use self::clock::Sighting;
use self::course::{Kind, course};
pub use self::weights::Kind as EvidenceKind;
use self::weights::{EVEN, LEFT_OUT, METERS, OWN_HABIT, PUMP, PUMPS, TEMPI, TEMPO, WALK, WALKS};
use riffkin_score::meter::Meter;
use riffkin_score::rhythm::{self, FeelWanted, Options, Played, Quantised};
use riffkin_score::tempo::Feel;
use std::collections::BTreeMap;

/// A note as the pulse sees it.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Tone {
    /// Start in seconds.
    pub onset_s: f64,
    /// End in seconds.
    pub offset_s: f64,
    /// Sounding MIDI number; `None` when it has no pitch.
    pub midi: Option<u8>,
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

/// Standard deviation of an even player's onsets before it is measured, in seconds.
const SPREAD_S: f64 = 0.01;
/// The same of an uneven player, as a part of the beat.
const SPREAD: f64 = 0.04;
/// Least that it is taken for: hearing alone is off by so much.
const LEAST_SPREAD_S: f64 = 0.006;
/// Change of a beat's length from beat to beat (standard deviation, as a part of it): while beats are sought, and when
/// the clock is smoothed.
const WANDER: (f64, f64) = (0.02, 0.006);
/// How far a beat's length may be from the stated or the band's middle one, as a ratio.
const AROUND: f64 = 1.08;
/// Ratio between the middles of neighbouring bands.
const BAND: f64 = 1.12;
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
    let mut tracks = tracks(head, known, &bands(known));
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
        tracks = self::tracks(&tones, known, &bands);
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

fn kind_of(meter: Meter) -> Kind {
    if meter.is_compound() { Kind::Threes } else { Kind::Twos }
}

/// Tempi near one, for beats of one kind.
#[derive(Clone, Copy, Debug)]
struct Band {
    kind: Kind,
    beat_s: f64,
}

fn bands(known: &Known) -> Vec<Band> {
    let kinds: Vec<Kind> = match known.meter {
        Some(meter) => vec![kind_of(meter)],
        None => vec![Kind::Twos, Kind::Threes],
    };
    let mut bands = Vec::new();
    for kind in kinds {
        match known.beat_s {
            Some(beat_s) => bands.push(Band { kind, beat_s }),
            None => {
                let (slowest, fastest) = TEMPI;
                let count = ((fastest / slowest).ln() / BAND.ln()).ceil() as i32;
                bands.extend((0..=count).map(|k| Band { kind, beat_s: 60.0 / slowest / BAND.powi(k) }));
            }
        }
    }
    bands
}

/// Notes read against a clock of one kind of beat.
struct Track {
    kind: Kind,
    clock: Clock,
    reading: Quantised,
    spread_s: f64,
}

/// The courses of beats in these bands, read and smoothed; near twins left out.
fn tracks(tones: &[Tone], known: &Known, bands: &[Band]) -> Vec<Track> {
    let onsets: Vec<f64> = tones.iter().map(|t| t.onset_s).collect();
    let mut tracks: Vec<Track> = Vec::new();
    for band in bands {
        if let (Some(_), Some((at, _))) = (known.beat_s, known.bar_line) {
            // The player may simply have kept to the click.
            let before = ((at - onsets[0]) / band.beat_s).ceil().max(0.0) + 1.0;
            let click = Clock::even(at - before * band.beat_s, band.beat_s);
            tracks.extend(read_and_smoothed(tones, click, band.kind, known));
        }
        // As an even player would be followed, and as an uneven one.
        for spread_s in [SPREAD_S, SPREAD_S.max(SPREAD * band.beat_s)] {
            let asked = course::Known {
                periods: (band.beat_s / AROUND, band.beat_s * AROUND),
                beat_at: known.bar_line.map(|b| b.0),
                kind: band.kind,
                spread_s,
                wander: WANDER.0,
            };
            let Some(clock) = course(&onsets, &asked).and_then(|beats| Clock::new(beats, 0)) else {
                continue;
            };
            if tracks.iter().any(|t| is_twin(t, &clock, band.kind, onsets[onsets.len() / 2])) {
                continue;
            }
            let Some(track) = read_and_smoothed(tones, clock, band.kind, known) else { continue };
            if known.bar_line.is_none() {
                // The same tempo, the beats on what were its parts.
                for part in parts_to_be_beats(&track) {
                    let shifted = track.clock.shifted(part);
                    tracks.extend(shifted.and_then(|c| read_and_smoothed(tones, c, band.kind, known)));
                }
            }
            tracks.push(track);
        }
    }
    if known.beat_s.is_none() {
        tracks.extend(relatives(tones, known, &tracks));
    }
    tracks
}

fn is_twin(track: &Track, clock: &Clock, kind: Kind, around: f64) -> bool {
    let off = track.clock.beats_at(clock.second_at(clock.beats_at(around).round()));
    track.kind == kind
        && (track.clock.beat_s() / clock.beat_s()).ln().abs() < 0.006
        && (off - off.round()).abs() < 0.1
}

/// Beats that are multiples and parts of the beats that fit best, so that no reading is missed because its own course was.
fn relatives(tones: &[Tone], known: &Known, tracks: &[Track]) -> Vec<Track> {
    let fit = |t: &Track| EvidenceKind::Timing.weight() * timing(t) + t.reading.notes.len() as f64 * 0.2;
    let Some(best) = tracks.iter().min_by(|a, b| fit(a).total_cmp(&fit(b))) else { return Vec::new() };
    let around = tones[tones.len() / 2].onset_s;
    let mut found: Vec<Track> = Vec::new();
    let first = best.clock.beats_at(tones[0].onset_s).round();
    let kinds: &[Kind] = match known.meter {
        Some(meter) if meter.is_compound() => &[Kind::Threes],
        Some(_) => &[Kind::Twos],
        None => &[Kind::Twos, Kind::Threes],
    };
    for ratio in [0.5f64, 2.0, 1.5, 2.0 / 3.0, 0.75, 4.0 / 3.0, 3.0, 1.0 / 3.0, 4.0, 0.25, 1.0] {
        for &kind in kinds {
            for offset in 0..(ratio.ceil() as i32) {
                let Some(clock) = best.clock.rated(ratio, first + f64::from(offset)) else { continue };
                let tempo = 60.0 / clock.beat_s();
                let twin = |t: &Track| is_twin(t, &clock, kind, around);
                let good = |t: &Track| twin(t) && fit(t) < fit(best) + 0.04 * tones.len() as f64;
                if tempo < TEMPI.0 || tempo > TEMPI.1 || tracks.iter().any(good) || found.iter().any(twin) {
                    continue;
                }
                found.extend(read_and_smoothed(tones, clock, kind, known));
            }
        }
    }
    found
}

/// The parts of the beat on which so many notes start that they might be the beats themselves; the first note's part is
/// always one.
fn parts_to_be_beats(track: &Track) -> Vec<f64> {
    let parts: i64 = if track.kind == Kind::Twos { 4 } else { 6 };
    let mut count = vec![0usize; parts as usize];
    for (i, note) in track.reading.notes.iter().enumerate() {
        let beat = (note.onset.to_f64() + track.reading.starts) / quarters(track.kind) * parts as f64;
        if (beat - beat.round()).abs() < 1e-6 {
            let part = (beat.round() as i64).rem_euclid(parts) as usize;
            count[part] += if i == 0 { track.reading.notes.len() } else { 1 };
        }
    }
    let least = track.reading.notes.len() / 6 + 1;
    (1..parts).filter(|k| count[*k as usize] >= least).map(|k| k as f64 / parts as f64).collect()
}

fn quarters(kind: Kind) -> f64 {
    if kind == Kind::Twos { 1.0 } else { 1.5 }
}

/// Reads the notes, moves the clock to the places they got, and reads them again.
fn read_and_smoothed(tones: &[Tone], clock: Clock, kind: Kind, known: &Known) -> Option<Track> {
    let mut clock = clock;
    let mut reading = read(tones, &clock, kind, known)?;
    for _ in 0..2 {
        let spread_s = (reading.spread / quarters(kind) * clock.beat_s()).max(LEAST_SPREAD_S);
        let mut seen: Vec<Sighting> = reading
            .notes
            .iter()
            .map(|n| {
                let second = tones[n.played].onset_s;
                Sighting { beat: clock.beats_at(second) - n.late / quarters(kind), second }
            })
            .collect();
        if let Some((second, _)) = known.bar_line {
            // A stated beat is heard many times as well as a note is.
            let beat = clock.beats_at(second).round();
            seen.extend(std::iter::repeat_n(Sighting { beat, second }, 8));
        }
        clock = clock.smoothed(&seen, spread_s, WANDER.1)?;
        reading = read(tones, &clock, kind, known)?;
    }
    let spread_s = reading.spread / quarters(kind) * clock.beat_s();
    Some(Track { kind, clock, reading, spread_s })
}

/// The notes against beats alone, without bars: every beat is a bar of its own.
fn read(tones: &[Tone], clock: &Clock, kind: Kind, known: &Known) -> Option<Quantised> {
    let meter = match kind {
        Kind::Twos => Meter::grouped(&[1], 4)?,
        Kind::Threes => Meter::grouped(&[3], 8)?,
    };
    let scale = quarters(kind);
    let played: Vec<Played> = tones
        .iter()
        .map(|t| {
            let onset = clock.beats_at(t.onset_s) * scale;
            Played { onset, length: clock.beats_at(t.offset_s) * scale - onset, midi: t.midi.unwrap_or(0) }
        })
        .collect();
    let mut options = Options { habits: false, ..Options::new(meter) };
    if let Some(feel) = known.feel {
        options.feel = FeelWanted::Known(feel);
    }
    rhythm::quantise(&played, &options).ok()
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

/// Minus the logarithm of the density of the onsets around their places, in nats, per second.
fn timing(track: &Track) -> f64 {
    let scale = track.clock.beat_s() / quarters(track.kind);
    let spread = track.spread_s.max(LEAST_SPREAD_S);
    let squares: f64 = track.reading.notes.iter().map(|n| (n.late * scale / spread).powi(2).min(12.0)).sum();
    0.5 * squares + track.reading.notes.len() as f64 * (spread * (2.0 * std::f64::consts::PI).sqrt()).ln()
}

/// What speaks for the pace of a line of even notes; nats.
fn pace(placed: &[Placed], kind: Kind) -> f64 {
    let mut gaps: BTreeMap<i64, usize> = BTreeMap::new();
    for pair in placed.windows(2) {
        *gaps.entry(pair[1].tick - pair[0].tick).or_default() += 1;
    }
    let Some((&gap, &count)) = gaps.iter().max_by_key(|g| *g.1) else { return 0.0 };
    let pairs = placed.len() as f64 - 1.0;
    if (count as f64) < EVEN * pairs {
        return 0.0;
    }
    let changes = placed.windows(2).filter(|w| w[0].midi != w[1].midi).count() as f64 / pairs;
    let division = TICKS / if kind == Kind::Twos { 2 } else { 3 };
    match () {
        () if changes >= WALKS && gap == TICKS => WALK,
        () if changes <= PUMPS && gap == division => PUMP.0,
        () if changes <= PUMPS && gap * 2 == division => PUMP.1,
        () => 0.0,
    }
}

/// What it costs to tell how every beat is divided, in nats: as the table of divisions has it at first, and more and
/// more as this line does it (a Pólya urn). `all` counts the notes that were heard.
fn division(all: usize, placed: &[Placed], kind: Kind) -> f64 {
    let mut beats: Vec<(i64, u32)> = Vec::new();
    for note in placed {
        let (beat, slot) = (note.tick.div_euclid(TICKS), 1u32 << note.tick.rem_euclid(TICKS));
        match beats.last_mut() {
            Some(last) if last.0 == beat => last.1 |= slot,
            _ => {
                if let Some(last) = beats.last().copied() {
                    beats.extend((last.0 + 1..beat).take(64).map(|b| (b, 0)));
                }
                beats.push((beat, slot));
            }
        }
    }
    let mut seen: BTreeMap<u32, f64> = BTreeMap::new();
    let mut cost = (all - placed.len().min(all)) as f64 * LEFT_OUT;
    for (told, (_, slots)) in beats.iter().enumerate() {
        let count = seen.entry(*slots).or_default();
        let usual = usual_division(*slots, kind);
        cost -= ((OWN_HABIT * usual + *count) / (OWN_HABIT + told as f64)).ln();
        *count += 1.0;
    }
    cost
}

/// The chance of a beat divided so, from the quantiser's table.
fn usual_division(slots: u32, kind: Kind) -> f64 {
    let struck = |slot: i64| slots & (1 << slot) != 0;
    rhythm::divisions(kind == Kind::Threes)
        .map(|(chance, points)| {
            let step = TICKS / points.len() as i64;
            let on_grid = (0..TICKS).all(|s| s % step == 0 || !struck(s));
            let product: f64 =
                (0..).zip(points).map(|(k, p)| if struck(k * step) { *p } else { 1.0 - p }).product();
            if on_grid { chance * product } else { 0.0 }
        })
        .sum::<f64>()
        .max(1e-6)
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
