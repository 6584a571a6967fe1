//! A riff as a Standard MIDI File.

use midly::num::{u4, u7, u15, u24, u28};
use midly::{Format, Header, MetaMessage, MidiMessage, Timing, TrackEvent, TrackEventKind};
use riffkin_score::Warning;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::{Mark, Note};
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Riff;
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::time::Quarters;

use super::file::OURS;
use super::texts::{NoteText, feel_words};
use super::times::Recovery;

/// What goes into the file besides the riff.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WriteOptions {
    /// Instrument as on the wire, 0 to 127; 33 is the fingered electric bass (General MIDI counts it as 34).
    pub program: u8,
    /// Bars of clicks on the drum channel before the riff, 0 to 8.
    pub count_in: u8,
    /// Write swung notes where they are played, so that every player swings; else as written, on straight ticks.
    pub play_swing: bool,
}

impl Default for WriteOptions {
    fn default() -> Self {
        Self { program: 33, count_in: 0, play_swing: true }
    }
}

/// Ticks in a quarter note when the riff asks for nothing finer: halvings to the 128th, triplets, quintuplets.
const TICKS: i64 = 480;
/// Most ticks in a quarter note that the format can say (15 bits).
const MOST_TICKS: i64 = 0x7fff;
/// Side stick, for the count-in (General MIDI percussion; from memory).
const CLICK: u8 = 37;

/// Writes a riff: format 1, the tempo map in the first track, the bass in the second on channel 1, a count-in in
/// a third on channel 10.
///
/// Repeats are written out as played. Pitches are sounding. A tick division is chosen that holds every time of
/// the riff exactly. What MIDI cannot say stands in text events beginning with `riffkin` (`docs/midi.md`), and
/// [`super::read`] takes it from there; [`losses`] lists what is lost all the same.
pub fn write(riff: &Riff, options: &WriteOptions) -> Vec<u8> {
    let plan = Plan::new(riff, options);
    let mut tracks = vec![plan.conductor(), plan.bass(options)];
    if options.count_in > 0 {
        tracks.push(plan.clicks());
    }
    let timing = Timing::Metrical(u15::new(plan.ticks as u16));
    let mut bytes = Vec::new();
    let events: Vec<Vec<TrackEvent<'_>>> = tracks.iter().map(|t| t.events()).collect();
    // Writing into memory fails only for tracks of 4 GiB or texts of 256 MiB, which a riff cannot have.
    let written = midly::write(&Header::new(Format::Parallel, timing), events.iter(), &mut bytes);
    debug_assert!(written.is_ok(), "a riff fits into a file");
    bytes
}

/// What a MIDI file cannot hold of this riff even with our texts in it.
pub fn losses(riff: &Riff) -> Vec<Warning> {
    let mut losses = Vec::new();
    let repeats = riff.bars().iter().position(|b| b.repeat_end.is_some() || !b.endings.is_empty());
    if let Some(bar) = repeats {
        let said = "MIDI has no repeats: they are written out as played from here on";
        losses.push(Warning::at(format!("bar {}", riff.bar_number(bar)), said));
    }
    if riff.bars().iter().flat_map(|b| &b.events).any(|e| {
        e.note.is_some_and(|n| !n.marks.is_empty() || n.bend > 0 || n.approach != Default::default())
    }) {
        let said = "playing marks, slides and bends do not sound in MIDI; they stand in text events that Riffkin reads back";
        losses.push(Warning::whole(said));
    }
    losses
}

/// The name that the reader gives a pitch when no text names it: by degree, without a key the simplest.
pub(super) fn plain_name(key: Option<Key>, pitch_class: u8) -> PitchName {
    key.and_then(|key| {
        let slot = (pitch_class + 12 - key.tonic.pitch_class()) % 12;
        key.degree_of_slot(slot).of(key.tonic)
    })
    .unwrap_or_else(|| PitchName::simplest(pitch_class))
}

/// Microseconds in a quarter note, as a tempo event holds them: 24 bits.
pub(super) fn micros(tempo: Tempo) -> u32 {
    (tempo.seconds_per_quarter() * 1e6).round().clamp(1.0, f64::from(0x00ff_ffff_u32)) as u32
}

// Everything that more than one track needs.
struct Plan<'a> {
    riff: &'a Riff,
    ticks: i64,
    // The written times are whole numbers of 1/grid quarter.
    grid: i64,
    // Where the riff starts in the file.
    start: Quarters,
    feel: Feel,
    times: Recovery,
}

impl<'a> Plan<'a> {
    fn new(riff: &'a Riff, options: &WriteOptions) -> Self {
        let feel = if options.play_swing { riff.header().feel } else { Feel::Straight };
        let grid = grid(riff);
        let first = &riff.bars()[0];
        let full = first.meter.bar_length();
        let start = match i64::from(options.count_in.min(8)) {
            0 => Quarters::ZERO,
            // Before a pickup the clicks fill its bar too.
            bars => full * bars + if first.short { full - first.length() } else { Quarters::ZERO },
        };
        let grid = lcm(grid, start.fraction().1);
        let ticks = if feel == Feel::Straight {
            ticks_for(grid, 1)
        } else {
            // Enough ticks that each written time can be told from its played tick.
            ticks_for(grid, 4)
        };
        let times = Recovery::of_riff(riff, feel, grid, ticks);
        Self { riff, ticks, grid, start, feel, times }
    }

    // Ticks of a position counted from the start of the riff.
    fn tick(&self, at: Quarters) -> i64 {
        let (num, den) = (self.start + at).fraction();
        let exact = i128::from(num) * i128::from(self.ticks);
        ((exact + i128::from(den) / 2).div_euclid(i128::from(den))) as i64
    }

    // Where a note of the riff is played; the start of the file's riff falls on a tick.
    fn played_tick(&self, at: Quarters) -> i64 {
        self.tick(Quarters::ZERO) + self.times.tick(at)
    }

    fn conductor(&self) -> Lines {
        let header = self.riff.header();
        let mut lines = Lines::default();
        lines.add(0, Line::Name(header.title.clone()));
        lines.ours(0, format!("midi 1 grid {} start {}", self.grid, self.start));
        if let Some(key) = header.key {
            // A signature beyond seven signs, or of a mode, is said as near as the event can.
            let key_in_reach = if key.is_practical() { key } else { key.simplest() };
            let minor = key.mode.is_some_and(|m| m.is_minor());
            if let Ok(sharps @ -7..=7) = i8::try_from(key_in_reach.signature()) {
                lines.add(0, Line::Meta(MetaMessage::KeySignature(sharps, minor)));
            }
            lines.ours(0, format!("key: {key}"));
        }
        if header.feel != Feel::Straight {
            let how = if self.feel == Feel::Straight { "as written" } else { "played" };
            lines.ours(0, format!("feel: {} {how}", feel_words(header.feel)));
        }
        for (what, text) in
            [("neck", &header.neck), ("source", &header.source), ("permission", &header.permission)]
        {
            if let Some(text) = text {
                lines.ours(0, format!("{what}: {text}"));
            }
        }
        for remark in &header.remarks {
            lines.ours(0, format!("remark: {remark}"));
        }
        self.bars(&mut lines);
        for (at, tempo) in self.riff.played_tempo().changes() {
            let tick = if at == Quarters::ZERO { 0 } else { self.tick(at) };
            lines.add(tick, Line::Meta(MetaMessage::Tempo(u24::new(micros(tempo)))));
        }
        lines.end = self.tick(self.riff.played_length());
        lines
    }

    // Meters, chords, and how the last bar ends.
    fn bars(&self, lines: &mut Lines) {
        let bars = self.riff.bars();
        let mut at = Quarters::ZERO;
        let mut standing: Option<Meter> = None;
        let mut cut = false;
        for index in self.riff.order() {
            let bar = &bars[index];
            // After a short bar the meter is said again, so that the bar line falls where it is.
            if standing != Some(bar.meter) || cut {
                let tick = if standing.is_none() { 0 } else { self.tick(at) };
                let lower = bar.meter.unit().trailing_zeros() as u8;
                // 24 clocks in a quarter note; the click follows the counted beat.
                let clocks = (bar.meter.beat_length() * 24).to_f64().clamp(1.0, 255.0) as u8;
                lines.add(tick, Line::Meta(MetaMessage::TimeSignature(bar.meter.beats(), lower, clocks, 8)));
                if Meter::new(bar.meter.beats(), bar.meter.unit()) != Some(bar.meter) {
                    lines.ours(tick, format!("meter: {}", bar.meter));
                }
                standing = Some(bar.meter);
            }
            for (offset, chord) in &bar.chords {
                lines.ours(self.tick(at + *offset), format!("chord: {chord}"));
            }
            at += bar.length();
            cut = bar.length() < bar.meter.bar_length();
        }
        if cut {
            lines.ours(self.tick(at), "end: short".to_owned());
        }
    }

    fn bass(&self, options: &WriteOptions) -> Lines {
        let mut lines = Lines::default();
        lines.add(0, Line::Name("Bass".to_owned()));
        lines
            .add(0, Line::Midi(0, MidiMessage::ProgramChange { program: u7::new(options.program.min(127)) }));
        let key = self.riff.header().key;
        let mut sounding: Option<(i64, u8)> = None;
        for played in self.riff.played() {
            let note = played.note;
            let end = played.onset + played.length;
            let on = self.played_tick(played.onset);
            // A length below a tick is given one.
            let off = self.played_tick(end).max(on + 1);
            if let Some((until, midi)) = sounding.take() {
                lines.add(until.min(on), off_of(midi));
            }
            let midi = note.pitch.midi().number();
            let back = |tick: i64| self.times.at(tick - self.tick(Quarters::ZERO));
            let exact = back(on) == Some(played.onset) && back(off) == Some(end);
            let exact = (!exact).then_some((played.onset, played.length));
            if let Some(text) = NoteText::of(&note, plain_name(key, midi % 12), exact).write() {
                lines.ours(on, format!("note: {text}"));
            }
            let vel = u7::new(velocity(&note));
            lines.add(on, Line::Midi(0, MidiMessage::NoteOn { key: u7::new(midi), vel }));
            sounding = Some((off, midi));
        }
        if let Some((until, midi)) = sounding {
            lines.add(until, off_of(midi));
        }
        lines.end = self.tick(self.riff.played_length());
        lines
    }

    fn clicks(&self) -> Lines {
        let mut lines = Lines::default();
        lines.add(0, Line::Name("Count-in".to_owned()));
        let meter = self.riff.bars()[0].meter;
        let (beat, full) = (meter.beat_length(), meter.bar_length());
        let mut at = Quarters::ZERO;
        while at < self.start {
            let on = self.tick(at - self.start);
            let first = at.rest_of_steps(full) == Quarters::ZERO;
            let vel = u7::new(if first { 110 } else { 80 });
            let key = u7::new(CLICK);
            lines.add(on, Line::Midi(9, MidiMessage::NoteOn { key, vel }));
            lines.add(
                on + (self.ticks / 8).max(1),
                Line::Midi(9, MidiMessage::NoteOff { key, vel: u7::new(0) }),
            );
            at += beat;
        }
        lines.end = self.tick(Quarters::ZERO);
        lines
    }
}

fn off_of(midi: u8) -> Line {
    Line::Midi(0, MidiMessage::NoteOff { key: u7::new(midi), vel: u7::new(64) })
}

fn velocity(note: &Note) -> u8 {
    if note.marks.has(Mark::Ghost) || note.marks.has(Mark::Dead) {
        45
    } else if note.marks.has(Mark::Accent) {
        112
    } else {
        88
    }
}

// The finest division of the quarter note that any time of the riff needs.
fn grid(riff: &Riff) -> i64 {
    let mut grid = 1;
    let mut need = |at: Quarters| grid = lcm(grid, at.fraction().1);
    for note in riff.played() {
        need(note.onset);
        need(note.onset + note.length);
    }
    for bar in riff.bars() {
        need(bar.length());
        bar.chords.iter().for_each(|c| need(c.0));
        bar.tempi.iter().for_each(|t| need(t.0));
    }
    grid
}

// Ticks in a quarter note: a multiple of the grid by `finer` or more, of 480 too where there is room.
fn ticks_for(grid: i64, finer: i64) -> i64 {
    let round = lcm(TICKS, grid);
    for base in [round, grid] {
        let wanted = (grid * finer).max(TICKS);
        let ticks = base * ((wanted + base - 1) / base);
        if ticks <= MOST_TICKS {
            return ticks;
        }
    }
    if grid <= MOST_TICKS { grid * (MOST_TICKS / grid) } else { MOST_TICKS / TICKS * TICKS }
}

fn lcm(a: i64, b: i64) -> i64 {
    let (mut x, mut y) = (a, b);
    while y != 0 {
        (x, y) = (y, x % y);
    }
    // Denominators divide the grain of exact time, and so does their multiple.
    a / x.max(1) * b
}

enum Line {
    Name(String),
    Text(String),
    Meta(MetaMessage<'static>),
    Midi(u8, MidiMessage),
}

// The events of a track at their ticks, in the order they are added at each.
#[derive(Default)]
struct Lines {
    lines: Vec<(i64, Line)>,
    end: i64,
}

impl Lines {
    fn add(&mut self, tick: i64, line: Line) {
        self.lines.push((tick.max(0), line));
    }

    fn ours(&mut self, tick: i64, text: String) {
        self.add(tick, Line::Text(format!("{OURS}{text}")));
    }

    fn events(&self) -> Vec<TrackEvent<'_>> {
        let mut order: Vec<usize> = (0..self.lines.len()).collect();
        order.sort_by_key(|&i| self.lines[i].0);
        let mut events = Vec::with_capacity(order.len() + 1);
        let mut now = 0;
        // A delta has 28 bits; a longer silence is bridged by empty texts.
        let mut step = |to: i64, events: &mut Vec<TrackEvent<'_>>| {
            let mut gap = to - now;
            while gap > LONGEST_DELTA {
                let kind = TrackEventKind::Meta(MetaMessage::Text(b""));
                events.push(TrackEvent { delta: u28::new(LONGEST_DELTA as u32), kind });
                gap -= LONGEST_DELTA;
            }
            now = now.max(to);
            u28::new(gap.max(0) as u32)
        };
        for i in order {
            let (tick, line) = &self.lines[i];
            let delta = step(*tick, &mut events);
            let kind = match line {
                Line::Name(name) => TrackEventKind::Meta(MetaMessage::TrackName(name.as_bytes())),
                Line::Text(text) => TrackEventKind::Meta(MetaMessage::Text(text.as_bytes())),
                Line::Meta(meta) => TrackEventKind::Meta(*meta),
                Line::Midi(channel, message) => {
                    TrackEventKind::Midi { channel: u4::new(*channel), message: *message }
                }
            };
            events.push(TrackEvent { delta, kind });
        }
        let delta = step(self.end, &mut events);
        events.push(TrackEvent { delta, kind: TrackEventKind::Meta(MetaMessage::EndOfTrack) });
        events
    }
}

const LONGEST_DELTA: i64 = 0x0fff_ffff;
