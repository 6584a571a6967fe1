//! From a riff to the notes that sound.
//!
//! Musical time becomes seconds through the riff's own tempo map and feel; playing marks become length and velocity.
//! How much each mark changes is common practice, no source. A slurred note (hammered, pulled, slid) is for now
//! struck again, softly and without a gap before it: the sampled string cannot change its pitch while it sounds.
//! Bends, vibrato and the sound of slap, pop and harmonics are not imitated, and a warning says so.

use super::{Beat, Instrument, NoteEvent, count_in};
use riffkin_score::Warning;
use riffkin_score::note::{Approach, Mark, Note};
use riffkin_score::rhythm::SwingClock;
use riffkin_score::riff::{PlayedNote, Riff};

/// Slowest practice tempo, as a share of the written one.
pub const SLOWEST: f64 = 0.1;
/// Fastest practice tempo, as a share of the written one.
pub const FASTEST: f64 = 4.0;

/// How a riff is to be performed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Performance {
    /// Share of the written tempo, 1.0 as written; held within [`SLOWEST`] to [`FASTEST`].
    pub tempo: f64,
    /// Bars clicked before the riff.
    pub count_in_bars: u32,
    /// Whether the click goes on under the riff.
    pub click: bool,
    /// What plays it.
    pub instrument: Instrument,
}

impl Default for Performance {
    /// As written, one bar of count-in, no click under the riff, fingered bass.
    fn default() -> Self {
        Self { tempo: 1.0, count_in_bars: 1, click: false, instrument: Instrument::Bass }
    }
}

/// A riff ready for [`super::Player::play`].
#[derive(Clone, Debug, PartialEq)]
pub struct Performed {
    /// Clicks and notes, in the order of their onsets.
    pub notes: Vec<NoteEvent>,
    /// The instant at which the riff's first bar (or pickup) begins, in seconds.
    pub begins_s: f64,
    /// The instant at which the riff's last bar ends, in seconds: where a loop turns back to `begins_s`.
    pub ends_s: f64,
    /// What could not be made to sound as written.
    pub warnings: Vec<Warning>,
}

/// Velocity of a plain plucked note.
const PLAIN: u8 = 92;
/// What is left out before the next note so that a re-struck string can be heard as such, in seconds.
const LIFT_S: f64 = 0.012;
/// How long a dead note is held, in seconds.
const DEAD_S: f64 = 0.035;
/// Shortest note, in seconds.
const SHORTEST_S: f64 = 0.02;
/// How much longer a note left to ring is held, in seconds.
const RING_S: f64 = 1.0;

/// The riff as notes in seconds, repeats played.
#[must_use]
pub fn performed(riff: &Riff, how: &Performance) -> Performed {
    let speed = if how.tempo.is_finite() { how.tempo.clamp(SLOWEST, FASTEST) } else { 1.0 };
    let (map, swing) = (riff.played_tempo(), SwingClock::new(riff));
    let (clicks, begins_s) = clicks_before(riff, how.count_in_bars, speed);
    let mut notes = clicks;
    let second = |quarters: f64| begins_s + map.seconds_at(swing.at(quarters)) / speed;
    let (line, played) = (riff.line(), riff.played());
    let mut warnings = Vec::new();
    let mut unheard = std::collections::BTreeSet::new();
    for (k, this) in played.iter().enumerate() {
        let onset_s = second(this.onset.to_f64());
        let end_s = second((this.onset + this.length).to_f64());
        notes.push(sounding(this, played.get(k + 1), onset_s, end_s, how.instrument));
        if let Some(what) = not_imitated(&this.note)
            && unheard.insert((this.line, what))
            && let Some(written) = line.get(this.line)
        {
            let place = riff.place_of(written.onset);
            warnings.push(Warning::at(
                place,
                format!("the {what} is written but not heard in the rendered sound"),
            ));
        }
    }
    let ends_s = second(riff.played_length().to_f64());
    if how.click {
        notes.extend(clicks_under(riff, &second));
    }
    notes.sort_by(|a, b| a.onset_s.total_cmp(&b.onset_s));
    Performed { notes, begins_s, ends_s, warnings }
}

/// One played note with its marks turned into length and velocity.
fn sounding(
    this: &PlayedNote,
    next: Option<&PlayedNote>,
    onset_s: f64,
    end_s: f64,
    instrument: Instrument,
) -> NoteEvent {
    let marks = this.note.marks;
    let slurred_on = next.is_some_and(|n| {
        n.onset == this.onset + this.length
            && matches!(n.note.approach, Approach::Hammer | Approach::Pull | Approach::Slide)
    });
    let whole = end_s - onset_s;
    let mut length_s = if slurred_on { whole } else { (whole - LIFT_S).max(whole * 0.6) };
    let mut velocity = match this.note.approach {
        Approach::Plucked | Approach::SlidePlucked => PLAIN,
        Approach::Hammer | Approach::Slide => 66,
        Approach::Pull => 62,
    };
    if marks.has(Mark::Staccato) {
        length_s = whole * 0.45;
    }
    if marks.has(Mark::PalmMute) {
        (length_s, velocity) = (whole * 0.55, velocity.saturating_sub(8));
    }
    if marks.has(Mark::LetRing) {
        length_s = whole + RING_S;
    }
    if marks.has(Mark::Slap) || marks.has(Mark::Pop) {
        velocity = velocity.saturating_add(14);
    }
    if marks.has(Mark::Accent) {
        velocity = velocity.saturating_add(20);
    }
    if marks.has(Mark::Ghost) {
        velocity = 48;
    }
    if marks.has(Mark::Dead) {
        (length_s, velocity) = (DEAD_S.min(whole), 44);
    }
    NoteEvent {
        onset_s,
        length_s: length_s.max(SHORTEST_S),
        midi: this.note.pitch.midi().number(),
        velocity: velocity.clamp(1, 127),
        instrument,
    }
}

fn not_imitated(note: &Note) -> Option<&'static str> {
    if note.bend > 0 {
        return Some("bend");
    }
    [Mark::Vibrato, Mark::Slap, Mark::Pop, Mark::Harmonic]
        .into_iter()
        .find(|mark| note.marks.has(*mark))
        .map(Mark::name)
}

/// The count-in and the instant at which the riff begins. A pickup begins inside the last counted bar.
fn clicks_before(riff: &Riff, bars: u32, speed: f64) -> (Vec<NoteEvent>, f64) {
    let Some(first) = riff.bars().first() else { return (Vec::new(), 0.0) };
    if bars == 0 {
        return (Vec::new(), 0.0);
    }
    let quarter_s = riff.header().tempo.seconds_per_quarter() / speed;
    let beat_s = first.meter.beat_length().to_f64() * quarter_s;
    let bar: Vec<Beat> =
        (0..first.meter.counted_beats()).map(|k| Beat { length_s: beat_s, accented: k == 0 }).collect();
    let (clicks, end_s) = count_in(&bar, bars, 0.0);
    let pickup_s = if riff.has_pickup() { first.length().to_f64() * quarter_s } else { 0.0 };
    (clicks, (end_s - pickup_s).max(0.0))
}

/// Clicks on every counted beat of the riff as played.
fn clicks_under(riff: &Riff, second: &impl Fn(f64) -> f64) -> Vec<NoteEvent> {
    let mut clicks = Vec::new();
    let mut start = 0.0;
    for index in riff.order() {
        let Some(bar) = riff.bars().get(index) else { continue };
        let (beat, length) = (bar.meter.beat_length().to_f64(), bar.length().to_f64());
        // A pickup's beats are the last of its meter's bar.
        let missing =
            if index == 0 && riff.has_pickup() { bar.meter.bar_length().to_f64() - length } else { 0.0 };
        for k in 0..bar.meter.counted_beats() {
            let at = f64::from(k) * beat - missing;
            if at >= 0.0 && at < length {
                let one = [Beat { length_s: 0.0, accented: k == 0 }];
                clicks.extend(count_in(&one, 1, second(start + at)).0);
            }
        }
        start += length;
    }
    clicks
}

#[cfg(test)]
mod tests {
    use super::*;
    use riffkin_score::meter::Meter;
    use riffkin_score::note::{Event, Marks};
    use riffkin_score::pitch::{Midi, Pitch, PitchName};
    use riffkin_score::riff::{Bar, Header};
    use riffkin_score::tempo::{Feel, Swing, Tempo};
    use riffkin_score::value::{NoteValue, Shape};

    fn note(midi: u8) -> Note {
        let midi = Midi::new(midi).expect("in range");
        Note::plain(Pitch::from_midi(midi, PitchName::simplest(midi.number() % 12)).expect("in range"))
    }

    fn marked(mark: Mark) -> Note {
        Note { marks: Marks::NONE.with(mark), ..note(31) }
    }

    fn riff(meter: &str, shape: Shape, notes: Vec<Note>, header: Header) -> Riff {
        let meter: Meter = meter.parse().expect("a meter");
        let events = notes.into_iter().map(|n| Event::note(NoteValue::plain(shape), n)).collect();
        Riff::new(header, vec![Bar::new(meter, events)]).expect("adds up")
    }

    fn at(quarters_per_minute: f64) -> Header {
        Header { tempo: Tempo::quarters(quarters_per_minute).expect("in range"), ..Header::default() }
    }

    #[test]
    fn four_quarters_at_a_hundred_are_600_ms_apart_after_their_count_in() {
        let riff = riff("4/4", Shape::Quarter, vec![note(28); 4], at(100.0));
        let sound = performed(&riff, &Performance::default());
        assert_eq!((sound.begins_s, sound.notes.len()), (2.4, 8));
        assert!((sound.ends_s - 4.8).abs() < 1e-9);
        for (k, note) in sound.notes.iter().enumerate() {
            assert!((note.onset_s - 0.6 * k as f64).abs() < 1e-9);
            assert_eq!(note.instrument == Instrument::Click, k < 4);
        }
        let half = performed(&riff, &Performance { tempo: 0.5, ..Performance::default() });
        assert!((half.ends_s - 9.6).abs() < 1e-9);
    }

    #[test]
    fn six_eight_is_counted_in_two() {
        let riff = riff("6/8", Shape::Eighth, vec![note(28); 6], at(120.0));
        let sound = performed(&riff, &Performance { click: true, ..Performance::default() });
        let clicks: Vec<f64> =
            sound.notes.iter().filter(|n| n.instrument == Instrument::Click).map(|n| n.onset_s).collect();
        assert_eq!(clicks, [0.0, 0.75, 1.5, 2.25]);
    }

    #[test]
    fn swing_delays_the_off_beat() {
        let header = Header { feel: Feel::Swing(Swing::TRIPLET), ..at(60.0) };
        let riff = riff("2/4", Shape::Eighth, vec![note(28); 4], header);
        let sound = performed(&riff, &Performance { count_in_bars: 0, ..Performance::default() });
        let onsets: Vec<f64> = sound.notes.iter().map(|n| (n.onset_s * 3.0).round() / 3.0).collect();
        assert_eq!(onsets, [0.0, 2.0 / 3.0, 1.0, 5.0 / 3.0]);
    }

    #[test]
    fn marks_change_length_and_velocity() {
        let slurred = Note { approach: Approach::Hammer, ..note(33) };
        let notes = vec![note(31), slurred, marked(Mark::Staccato), marked(Mark::Dead)];
        let more = vec![marked(Mark::Ghost), marked(Mark::Accent), marked(Mark::LetRing), note(31)];
        let how = Performance { count_in_bars: 0, ..Performance::default() };
        let a = performed(&riff("4/4", Shape::Quarter, notes, at(60.0)), &how).notes;
        let b = performed(&riff("4/4", Shape::Quarter, more, at(60.0)), &how).notes;
        assert_eq!(a[0].length_s, 1.0, "held into the hammer-on");
        assert!(a[1].velocity < a[0].velocity && a[1].length_s > 0.9);
        assert!(a[2].length_s < 0.5 && a[3].length_s < 0.1 && a[3].velocity < b[0].velocity + 1);
        assert!(b[0].velocity < 60 && b[1].velocity > 100 && b[2].length_s > 1.9);
    }

    #[test]
    fn what_is_not_imitated_is_said_once_with_its_place() {
        let bent = Note { bend: 2, ..note(40) };
        let riff = riff("4/4", Shape::Quarter, vec![note(31), bent, marked(Mark::Slap), note(31)], at(90.0));
        let warnings = performed(&riff, &Performance::default()).warnings;
        assert_eq!(warnings.len(), 2);
        assert!(warnings[0].message.contains("bend") && warnings[0].place.contains('2'), "{}", warnings[0]);
    }

    #[test]
    fn a_tempo_that_is_no_number_is_the_written_one() {
        let odd = Performance { tempo: f64::NAN, ..Performance::default() };
        let riff = riff("4/4", Shape::Quarter, vec![note(28); 4], at(100.0));
        assert!((performed(&riff, &odd).ends_s - 4.8).abs() < 1e-9);
    }
}
