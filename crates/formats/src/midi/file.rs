//! The file as it is: chunks, tracks, notes paired, texts; no music yet.
//!
//! Standard MIDI Files 1.0 (MIDI Manufacturers Association, 1988; from memory where not in the comments). The
//! chunks are walked and every event is measured here, so that a damage is found at its byte; what is in an event
//! is read by `midly`.

use midly::{EventIter, MetaMessage, MidiMessage, TrackEventKind};
use riffkin_score::Warning;

use super::MidiError;

/// How ticks count.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Division {
    /// So many in a quarter note.
    Quarter(u16),
    /// So many in a second.
    Second(f64),
}

/// A note with both its ends.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct FileNote {
    pub(super) on: u64,
    pub(super) off: u64,
    /// 0 to 15, as on the wire.
    pub(super) channel: u8,
    pub(super) midi: u8,
    /// It was never ended in the file.
    pub(super) unfinished: bool,
    /// A text of ours that stands right before it.
    pub(super) text: Option<String>,
}

/// What one track holds; times in ticks from its start.
#[derive(Clone, Debug, Default)]
pub(super) struct Track {
    /// Counted from 1, as people do.
    pub(super) number: usize,
    pub(super) name: String,
    pub(super) instrument: String,
    pub(super) copyright: String,
    pub(super) notes: Vec<FileNote>,
    /// Microseconds per quarter note.
    pub(super) tempi: Vec<(u64, u32)>,
    /// Upper number and the power of two of the lower.
    pub(super) meters: Vec<(u64, u8, u8)>,
    /// Sharps (flats below zero) and whether it says minor.
    pub(super) keys: Vec<(u64, i8, bool)>,
    /// Channel and program, as on the wire.
    pub(super) programs: Vec<(u64, u8, u8)>,
    pub(super) texts: Vec<(u64, String)>,
    pub(super) end: u64,
    /// It has an end-of-track event.
    pub(super) ended: bool,
}

/// A whole file.
#[derive(Clone, Debug)]
pub(super) struct File {
    pub(super) format: u16,
    pub(super) division: Division,
    pub(super) tracks: Vec<Track>,
    pub(super) warnings: Vec<Warning>,
}

/// Before every text that Riffkin writes.
pub(super) const OURS: &str = "riffkin ";

/// A note that a file never ends is given no more than this many ticks past the last event.
const LONGEST_TICK: u64 = 1 << 40;

/// Reads the file. With `salvage`, what comes before a damage is kept and the damage warned about.
pub(super) fn read(bytes: &[u8], salvage: bool) -> Result<File, MidiError> {
    let (bytes, base) = unwrapped(bytes);
    let at = |offset: usize| base + offset;
    if bytes.get(..4) != Some(b"MThd") {
        return Err(MidiError::NotMidi { found: shown(bytes) });
    }
    let header = |what| MidiError::Header { byte: at(4), what };
    let length = number(bytes, 4, 4).ok_or(header("it is cut off"))?;
    if length < 6 || length > bytes.len() {
        return Err(header("its length is not 6 bytes or more, or it is cut off"));
    }
    let (Some(format), Some(promised), Some(division)) =
        (number(bytes, 8, 2), number(bytes, 10, 2), number(bytes, 12, 2))
    else {
        return Err(header("it is cut off"));
    };
    if format > 2 {
        return Err(MidiError::Header { byte: at(8), what: "the format is none of 0, 1 and 2" });
    }
    let division = division_of(division).map_err(|what| MidiError::Header { byte: at(12), what })?;

    let mut file = File { format: format as u16, division, tracks: Vec::new(), warnings: Vec::new() };
    let mut offset = 8 + length;
    while offset < bytes.len() {
        let number_of_track = file.tracks.len() + 1;
        let damaged = |byte, what| MidiError::Damaged { track: number_of_track, byte, what };
        let (Some(id), Some(size)) = (bytes.get(offset..offset + 4), number(bytes, offset + 4, 4)) else {
            // Up to seven stray bytes at the end are padding.
            let stray = bytes.len() - offset;
            let said = format!("{stray} bytes at byte {} are no track and were left out", at(offset));
            file.warnings.push(Warning::at("the end of the file", said));
            break;
        };
        let is_track = id == b"MTrk";
        let body = offset + 8;
        let end = body.saturating_add(size);
        let data = match bytes.get(body..end) {
            Some(data) => data,
            None if salvage || !is_track => bytes.get(body..).unwrap_or_default(),
            None => return Err(damaged(at(offset + 4), "the track is longer than the rest of the file")),
        };
        if is_track {
            if end > bytes.len() {
                let said = format!("the track is cut off at byte {}; what is left was read", at(bytes.len()));
                file.warnings.push(Warning::at(format!("track {number_of_track}"), said));
            }
            let (track, damage) = read_track(data, number_of_track, at(body));
            if let Some((byte, what)) = damage {
                if !salvage {
                    return Err(damaged(byte, what));
                }
                let said = format!("at byte {byte} {what}; the rest of the track was left out");
                file.warnings.push(Warning::at(format!("track {number_of_track}"), said));
            } else if !track.ended && end <= bytes.len() {
                let said = "it has no end-of-track event; everything in it was read";
                file.warnings.push(Warning::at(format!("track {number_of_track}"), said));
            }
            file.tracks.push(track);
        } else if id == b"MThd" {
            return Err(damaged(at(offset), "a second file header begins"));
        } else {
            let said = format!("a chunk {} at byte {} is no track and was left out", shown(id), at(offset));
            file.warnings.push(Warning::whole(said));
        }
        offset = end;
    }
    let found = file.tracks.len();
    if found < promised {
        if !salvage || found == 0 {
            return Err(MidiError::MissingTracks { promised, found });
        }
        let said = format!("the file says it has {promised} tracks and holds {found}");
        file.warnings.push(Warning::whole(said));
    } else if found > promised {
        let said = format!("the file says it has {promised} tracks and holds {found}; all were read");
        file.warnings.push(Warning::whole(said));
    }
    Ok(file)
}

// A file may come inside a RIFF wrapper of type RMID (the `data` chunk of it), and where that starts.
fn unwrapped(bytes: &[u8]) -> (&[u8], usize) {
    if bytes.get(..4) == Some(b"RIFF") && bytes.get(8..12) == Some(b"RMID") {
        let mut at = 12;
        while let (Some(id), Some(size)) = (bytes.get(at..at + 4), bytes.get(at + 4..at + 8)) {
            let size = size.iter().rev().fold(0usize, |n, &b| n << 8 | usize::from(b));
            let body = at + 8;
            if id == b"data" {
                let end = body.saturating_add(size).min(bytes.len());
                return (bytes.get(body..end).unwrap_or_default(), body);
            }
            at = body.saturating_add(size).saturating_add(size % 2);
        }
    }
    (bytes, 0)
}

fn division_of(raw: usize) -> Result<Division, &'static str> {
    if raw & 0x8000 == 0 {
        return match u16::try_from(raw) {
            Ok(0) | Err(_) => Err("the division is 0 ticks in a quarter note, so that no time can be told"),
            Ok(ticks) => Ok(Division::Quarter(ticks)),
        };
    }
    let frames = match 256 - (raw >> 8) {
        24 => 24.0,
        25 => 25.0,
        29 => 30_000.0 / 1001.0,
        30 => 30.0,
        _ => return Err("the division is SMPTE time with a frame rate other than 24, 25, 29 and 30"),
    };
    match raw & 0xff {
        0 => Err("the division is SMPTE time with 0 ticks in a frame"),
        ticks => Ok(Division::Second(frames * ticks as f64)),
    }
}

fn number(bytes: &[u8], at: usize, size: usize) -> Option<usize> {
    let raw = bytes.get(at..at.checked_add(size)?)?;
    Some(raw.iter().fold(0, |n, &b| n << 8 | usize::from(b)))
}

fn shown(bytes: &[u8]) -> String {
    if bytes.is_empty() {
        return "nothing".to_owned();
    }
    let head = &bytes[..bytes.len().min(4)];
    if head.iter().all(|b| b.is_ascii_graphic() || *b == b' ') {
        format!("'{}'", String::from_utf8_lossy(head))
    } else {
        head.iter().map(|b| format!("{b:02X}")).collect::<Vec<_>>().join(" ")
    }
}

/// A text of a file: UTF-8, else taken for Latin-1.
fn text(bytes: &[u8]) -> String {
    match std::str::from_utf8(bytes) {
        Ok(text) => text.to_owned(),
        Err(_) => bytes.iter().map(|&b| char::from(b)).collect(),
    }
}

type Damage = (usize, &'static str);

// Reads a track's events up to its end or to the first damage. `base` is the byte where they start.
fn read_track(data: &[u8], number: usize, base: usize) -> (Track, Option<Damage>) {
    let mut track = Track { number, ..Track::default() };
    let mut notes = Pairs::default();
    let mut tick = 0u64;
    let mut damage = None;
    let mut ended = false;
    let mut pending: Option<String> = None;
    let mut events = EventIter::new(data);
    loop {
        let rest = events.unread();
        if rest.is_empty() || ended {
            break;
        }
        let at = base + (data.len() - rest.len());
        if let Err(what) = measure(rest, events.running_status()) {
            damage = Some((at, what));
            break;
        }
        let Some(Ok(event)) = events.next() else {
            damage = Some((at, "the event cannot be read"));
            break;
        };
        tick += u64::from(event.delta.as_int());
        match event.kind {
            TrackEventKind::Midi { channel, message } => {
                let channel = channel.as_int();
                match message {
                    MidiMessage::NoteOn { key, vel } if vel.as_int() > 0 => {
                        notes.on(tick, channel, key.as_int(), pending.take());
                    }
                    MidiMessage::NoteOn { key, .. } | MidiMessage::NoteOff { key, .. } => {
                        notes.off(tick, channel, key.as_int());
                    }
                    MidiMessage::ProgramChange { program } => {
                        track.programs.push((tick, channel, program.as_int()));
                    }
                    _ => {}
                }
            }
            TrackEventKind::Meta(meta) => match meta {
                MetaMessage::TrackName(name) if track.name.is_empty() => track.name = text(name),
                MetaMessage::InstrumentName(name) if track.instrument.is_empty() => {
                    track.instrument = text(name);
                }
                MetaMessage::Copyright(words) if track.copyright.is_empty() => {
                    track.copyright = text(words);
                }
                MetaMessage::Text(words) => {
                    let words = text(words);
                    match words.strip_prefix(OURS).and_then(|w| w.strip_prefix("note: ")) {
                        Some(note) => pending = Some(note.to_owned()),
                        None => track.texts.push((tick, words)),
                    }
                }
                MetaMessage::Tempo(micros) => track.tempi.push((tick, micros.as_int())),
                MetaMessage::TimeSignature(upper, lower, _, _) => track.meters.push((tick, upper, lower)),
                MetaMessage::KeySignature(sharps, minor) => track.keys.push((tick, sharps, minor)),
                MetaMessage::EndOfTrack => ended = true,
                _ => {}
            },
            TrackEventKind::SysEx(_) | TrackEventKind::Escape(_) => {}
        }
    }
    track.end = tick;
    track.ended = ended;
    track.notes = notes.finish(tick);
    (track, damage)
}

// Checks that the event at the start of `raw` is complete: `midly` reads short ones without complaint.
fn measure(raw: &[u8], running: Option<u8>) -> Result<(), &'static str> {
    const TIME: &str = "a time is cut off or longer than four bytes";
    const DATA: &str = "an event is cut off by the end of its track";
    let (_, mut at) = quantity(raw).ok_or(TIME)?;
    let mut status = *raw.get(at).ok_or(DATA)?;
    if status < 0x80 {
        status = running.ok_or("a data byte stands where an event should begin")?;
    } else {
        at += 1;
    }
    let rest = raw.get(at..).unwrap_or_default();
    let needed = match status {
        0x80..=0xbf | 0xe0..=0xef => 2,
        0xc0..=0xdf => 1,
        0xff | 0xf0 | 0xf7 => {
            let rest = if status == 0xff { rest.get(1..).ok_or(DATA)? } else { rest };
            let (length, size) =
                quantity(rest).ok_or("the length of an event is cut off or longer than four bytes")?;
            let body = rest.get(size..).unwrap_or_default();
            return if body.len() < length { Err(DATA) } else { Ok(()) };
        }
        _ => return Err("a system message that files cannot hold begins"),
    };
    match rest.get(..needed) {
        None => Err(DATA),
        Some(data) if data.iter().any(|&b| b >= 0x80) => Err("a data byte of an event is above 127"),
        Some(_) => Ok(()),
    }
}

// A variable-length quantity of up to four bytes and how many it took.
fn quantity(raw: &[u8]) -> Option<(usize, usize)> {
    let mut value = 0;
    for (i, &byte) in raw.iter().take(4).enumerate() {
        value = value << 7 | usize::from(byte & 0x7f);
        if byte < 0x80 {
            return Some((value, i + 1));
        }
    }
    None
}

/// Pairs note-ons with note-offs.
///
/// A pitch struck again while it sounds ends the earlier note there. Many programs write the off of the first
/// after the on of the second at the same tick; that off belongs to the first.
#[derive(Default)]
struct Pairs {
    notes: Vec<FileNote>,
    // The open note of each channel and pitch, and the tick of a restrike whose off may still come.
    open: std::collections::BTreeMap<(u8, u8), (usize, Option<u64>)>,
}

impl Pairs {
    fn on(&mut self, tick: u64, channel: u8, midi: u8, text: Option<String>) {
        let index = self.notes.len();
        let before = self.open.insert((channel, midi), (index, None));
        if let Some((earlier, _)) = before {
            self.notes[earlier].off = tick;
            self.notes[earlier].unfinished = false;
            self.open.insert((channel, midi), (index, Some(tick)));
        }
        self.notes.push(FileNote { on: tick, off: tick, channel, midi, unfinished: true, text });
    }

    fn off(&mut self, tick: u64, channel: u8, midi: u8) {
        let Some((index, restruck)) = self.open.get_mut(&(channel, midi)) else { return };
        if *restruck == Some(tick) {
            *restruck = None;
            return;
        }
        let note = &mut self.notes[*index];
        note.off = tick;
        note.unfinished = false;
        self.open.remove(&(channel, midi));
    }

    // Notes never ended sound to the next onset of their channel, or to the end of the track.
    fn finish(mut self, end: u64) -> Vec<FileNote> {
        self.notes.sort_by_key(|n| (n.on, n.channel, n.midi));
        // For each channel the onset being looked at, from the end, and the one after it.
        let mut onsets: [(Option<u64>, Option<u64>); 16] = [(None, None); 16];
        let mut coming = vec![None; self.notes.len()];
        for (note, coming) in self.notes.iter().zip(&mut coming).rev() {
            let (here, after) = &mut onsets[usize::from(note.channel & 15)];
            if *here != Some(note.on) {
                (*here, *after) = (Some(note.on), *here);
            }
            *coming = *after;
        }
        for (note, coming) in self.notes.iter_mut().zip(coming) {
            if note.unfinished {
                note.off = coming.unwrap_or(end).min(note.on.saturating_add(LONGEST_TICK)).max(note.on);
            }
        }
        self.notes
    }
}
