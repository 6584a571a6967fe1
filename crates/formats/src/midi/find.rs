//! Which of many tracks and channels is the bass.
//!
//! Every track and channel with notes is a candidate and collects points with their reasons: the program, the
//! name, how low it lies, whether it plays one note at a time. The points are a judgement (no source); what
//! matters is that each is said.

use std::fmt;

use riffkin_score::pitch::{Midi, Pitch, PitchName};

use super::file::{File, FileNote, Track};
use super::{MidiError, MidiOptions};

/// One reason for or against a candidate.
#[derive(Clone, Debug, PartialEq)]
pub struct Reason {
    /// Points, above zero for the bass.
    pub points: i32,
    /// In words: `program 34, fingered bass`.
    pub words: String,
}

/// A track and channel that may be the bass.
#[derive(Clone, Debug, PartialEq)]
pub struct Candidate {
    /// Track, from 1.
    pub track: usize,
    /// The track's name; empty when it has none.
    pub name: String,
    /// Channel, 1 to 16.
    pub channel: u8,
    /// How many notes.
    pub notes: usize,
    /// Sum of the points.
    pub points: i32,
    /// What the points are for, weightiest first.
    pub reasons: Vec<Reason>,
    // Median MIDI number.
    median: u8,
}

/// `track 3 "Bass", channel 2: program 34, fingered bass; …`.
impl fmt::Display for Candidate {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let reasons: Vec<&str> = self.reasons.iter().map(|r| r.words.as_str()).collect();
        write!(f, "{}: {}", self.place(), reasons.join("; "))
    }
}

impl Candidate {
    /// The first track, when no part has notes.
    pub(super) fn empty() -> Self {
        Self {
            track: 1,
            name: String::new(),
            channel: 1,
            notes: 0,
            points: 0,
            reasons: Vec::new(),
            median: 0,
        }
    }

    /// `track 3 "Bass", channel 2`.
    pub fn place(&self) -> String {
        if self.name.is_empty() {
            format!("track {}, channel {}", self.track, self.channel)
        } else {
            format!("track {} \"{}\", channel {}", self.track, self.name, self.channel)
        }
    }
}

/// The drum channel as on the wire.
const DRUMS: u8 = 9;

/// Names of programs 32 to 39 on the wire (General MIDI 1, which counts them 33 to 40).
const BASSES: [&str; 8] = [
    "acoustic bass",
    "fingered bass",
    "picked bass",
    "fretless bass",
    "slap bass 1",
    "slap bass 2",
    "synth bass 1",
    "synth bass 2",
];

/// Words that name a bass in track names of several languages, and words that only look like it or name another
/// part.
const BASS_WORDS: [&str; 8] = ["bass", "bajo", "basse", "basso", "baixo", "bas", "bs", "bassline"];
const OTHER_WORDS: [&str; 22] = [
    "drum",
    "drums",
    "perc",
    "percussion",
    "kick",
    "snare",
    "clarinet",
    "bassoon",
    "trombone",
    "vocal",
    "vocals",
    "voice",
    "melody",
    "lead",
    "guitar",
    "piano",
    "keys",
    "organ",
    "strings",
    "sax",
    "trumpet",
    "choir",
];

/// All candidates, the likeliest first. Channel 10, the drums, never is one.
pub(super) fn candidates(file: &File) -> Vec<Candidate> {
    let mut found = Vec::new();
    for track in &file.tracks {
        let mut channels: [Vec<&FileNote>; 16] = Default::default();
        for note in &track.notes {
            channels[usize::from(note.channel & 15)].push(note);
        }
        for (channel, notes) in (0u8..).zip(&channels) {
            if channel != DRUMS && !notes.is_empty() {
                found.push(judge(file, track, channel, notes));
            }
        }
    }
    // The lowest of several gets a point for it.
    let lowest = found.iter().map(|c| c.median).min();
    if found.len() > 1 {
        for candidate in found.iter_mut().filter(|c| Some(c.median) == lowest) {
            candidate.points += 1;
            candidate.reasons.push(Reason { points: 1, words: "the lowest of all".to_owned() });
        }
    }
    for candidate in &mut found {
        candidate.reasons.sort_by_key(|r| std::cmp::Reverse(r.points.abs()));
    }
    found.sort_by_key(|c| (std::cmp::Reverse(c.points), c.median, c.track, c.channel));
    found
}

fn judge(file: &File, track: &Track, channel: u8, notes: &[&FileNote]) -> Candidate {
    let mut reasons = Vec::new();
    let mut say = |points: i32, words: String| reasons.push(Reason { points, words });
    // The program in force at the first note, from any track: some files set programs in a track of their own.
    let first = notes.iter().map(|n| n.on).min().unwrap_or(0);
    let program_in = |track: &Track| {
        let set = track.programs.iter().filter(|p| p.1 == channel);
        set.clone().rfind(|p| p.0 <= first).or(set.clone().next()).map(|p| p.2)
    };
    let elsewhere = || if file.format == 2 { None } else { file.tracks.iter().find_map(program_in) };
    match program_in(track).or_else(elsewhere) {
        Some(program @ 32..=39) => {
            let name = BASSES[usize::from(program - 32)];
            say(6, format!("program {}, {name}", program + 1));
        }
        Some(43) => say(2, "program 44, contrabass".to_owned()),
        Some(program @ 1..) => say(-3, format!("program {}, no bass", program + 1)),
        Some(0) => say(0, "program 1, which is also what is sent when nobody chose".to_owned()),
        None => say(0, "no program".to_owned()),
    }
    let name = if track.name.trim().is_empty() { &track.instrument } else { &track.name };
    let lower = name.to_lowercase();
    let words: Vec<&str> = lower.split(|c: char| !c.is_alphabetic()).filter(|w| !w.is_empty()).collect();
    if words.iter().any(|w| OTHER_WORDS.contains(w)) {
        say(-3, format!("named \"{}\"", name.trim()));
    } else if words.iter().any(|w| BASS_WORDS.contains(w) || w.ends_with("bass")) {
        say(4, format!("named \"{}\"", name.trim()));
    }
    let share = alone(notes);
    let percent = (share * 100.0).floor();
    let points = match percent as i32 {
        95.. => 2,
        80..=94 => 1,
        50..=79 => -1,
        _ => -3,
    };
    say(points, format!("{percent:.0} % one note at a time"));
    let mut pitches: Vec<u8> = notes.iter().map(|n| n.midi).collect();
    pitches.sort_unstable();
    let median = pitches[pitches.len() / 2];
    let points = match median {
        0..=20 => -1,
        21..=45 => 3,
        46..=52 => 1,
        53..=57 => -1,
        _ => -4,
    };
    say(points, format!("median {}", pitch_name(median)));
    if notes.len() < 4 {
        say(-1, format!("only {} notes", notes.len()));
    }
    Candidate {
        track: track.number,
        name: name.trim().to_owned(),
        channel: channel + 1,
        notes: notes.len(),
        points: reasons.iter().map(|r| r.points).sum(),
        reasons,
        median,
    }
}

fn pitch_name(midi: u8) -> String {
    Midi::new(midi)
        .and_then(|m| Pitch::from_midi(m, PitchName::simplest(midi % 12)))
        .map_or_else(|| midi.to_string(), |p| p.to_string())
}

// Part of the notes that start while no other sounds, an overlap up to a tenth of the earlier note left aside
// (fingers let go late).
fn alone(notes: &[&FileNote]) -> f64 {
    let mut order: Vec<&&FileNote> = notes.iter().collect();
    order.sort_by_key(|n| (n.on, n.midi));
    let (mut busy_until, mut last_on, mut alone) = (0, None, 0usize);
    for note in &order {
        if note.on >= busy_until && last_on != Some(note.on) {
            alone += 1;
        }
        let length = note.off.saturating_sub(note.on);
        busy_until = busy_until.max(note.off - length / 10);
        last_on = Some(note.on);
    }
    alone as f64 / order.len().max(1) as f64
}

/// The candidate to read, and what to say about the choice.
pub(super) fn choose(file: &File, options: &MidiOptions) -> Result<(Candidate, Vec<String>), MidiError> {
    let all = candidates(file);
    let tracks = file.tracks.len();
    if let Some(track) = options.track
        && !(1..=tracks).contains(&track)
    {
        return Err(MidiError::NoTrack { track, tracks });
    }
    let fits = |c: &&Candidate| {
        options.track.is_none_or(|t| c.track == t) && options.channel.is_none_or(|ch| c.channel == ch)
    };
    let mut wanted = all.iter().filter(fits);
    let Some(best) = wanted.next() else {
        let drums: usize = file.tracks.iter().flat_map(|t| &t.notes).filter(|n| n.channel == DRUMS).count();
        return Err(MidiError::NoNotes { tracks, candidates: all.len(), drums });
    };
    let mut said = vec![if all.len() == 1 {
        format!("the only part with notes was read: {best}")
    } else {
        format!("of {} parts this one was taken for the bass ({} points): {best}", all.len(), best.points)
    }];
    if let Some(second) = wanted.next() {
        said.push(format!("next likely ({} points): {second}", second.points));
        if best.points - second.points <= 1 || best.points <= 2 {
            said.push(
                "it is not clear which part is the bass; name the track if this is the wrong one".to_owned(),
            );
        }
    }
    Ok((best.clone(), said))
}
