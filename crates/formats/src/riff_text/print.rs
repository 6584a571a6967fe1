//! A riff as text, in one layout.

use riffkin_fretboard::neck::Neck;
use riffkin_score::key::Key;
use riffkin_score::note::{Event, Note};
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::{Bar, Riff};
use riffkin_score::tempo::Feel;
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::notes::is_bare;
use super::words;

/// Bars on a line, if they fit its width.
const BARS: usize = 4;
/// Characters on a line; a longer bar goes on, indented.
const WIDTH: usize = 96;
/// A pitch further from home than this many octaves is written by name.
const OCTAVE_SIGNS: i8 = 3;

/// Writes a riff: the header, then up to four bars a line.
///
/// Notes are degrees when the riff has a key and their spelling fits one, else note names. Reading the text
/// gives the same riff back.
pub fn print(riff: &Riff) -> String {
    let mut out = head(riff);
    out.push('\n');
    let mut writer = Writer::new(riff);
    let bars = riff.bars();
    let mut line = String::new();
    let mut on_line = 0;
    for (i, bar) in bars.iter().enumerate() {
        let before = i.checked_sub(1).and_then(|b| bars.get(b));
        let addition = format!(" {} {}", between(before, bar), writer.bar(bar, before, false).join(" "));
        let width = line.chars().count() + addition.chars().count();
        if on_line > 0 && on_line < BARS && width + 4 <= WIDTH {
            line.push_str(&addition);
            on_line += 1;
        } else {
            if on_line > 0 {
                out.push_str(&finish_line(&line, before, Some(bar)));
            }
            line = wrap(&opening(before, bar), &writer.bar(bar, before, true));
            on_line = 1;
        }
        writer.done(bar);
    }
    out.push_str(&finish_line(&line, bars.last(), None));
    out
}

fn head(riff: &Riff) -> String {
    let header = riff.header();
    let mut lines: Vec<(&str, String)> = Vec::new();
    if !header.title.is_empty() {
        lines.push(("riff", header.title.clone()));
    }
    lines.extend(header.key.map(|key| ("key", key.to_string())));
    lines.extend(riff.bars().first().map(|bar| ("meter", bar.meter.to_string())));
    lines.push(("tempo", words::tempo_words(header.tempo)));
    if header.feel != Feel::Straight {
        lines.push(("feel", words::feel_words(header.feel)));
    }
    lines.extend(header.neck.clone().map(|text| ("neck", text)));
    lines.extend(header.source.clone().map(|text| ("source", text)));
    lines.extend(header.permission.clone().map(|text| ("permission", text)));
    lines.extend(header.remarks.iter().map(|text| ("remark", text.clone())));
    lines.into_iter().map(|(word, text)| format!("{word}: {text}\n")).collect()
}

/// The bar line at the start of a line of text, with the bracket that opens there.
fn opening(before: Option<&Bar>, bar: &Bar) -> String {
    let line = if bar.repeat_start { "|:" } else { "|" };
    format!("{line}{}", bracket(before, bar))
}

/// The bar line between two bars on one line of text.
fn between(before: Option<&Bar>, bar: &Bar) -> String {
    let colon = if bar.repeat_start { ":" } else { "" };
    let (line, times) = closing(before, Some(bar));
    let bracket = bracket(before, bar);
    let gap = if times.is_empty() || bracket.is_empty() { "" } else { " " };
    format!("{line}{colon}{times}{gap}{bracket}")
}

/// The end of a bar: its line, and how often a repeat is played when that is not twice.
fn closing(bar: Option<&Bar>, next: Option<&Bar>) -> (&'static str, String) {
    match bar.and_then(|b| b.repeat_end) {
        Some(2) => (":|", String::new()),
        Some(times) => (":|", format!(" x{times}")),
        None => {
            let leaves_bracket =
                bar.is_some_and(|b| !b.endings.is_empty()) && next.is_some_and(|n| n.endings.is_empty());
            (if leaves_bracket || next.is_none() { "||" } else { "|" }, String::new())
        }
    }
}

/// The ending that opens before a bar. A bracket goes on over plain bar lines.
fn bracket(before: Option<&Bar>, bar: &Bar) -> String {
    let goes_on = before.is_some_and(|b| b.endings == bar.endings && b.repeat_end.is_none());
    if bar.endings.is_empty() || (goes_on && !bar.repeat_start) {
        String::new()
    } else {
        words::ending_word(&bar.endings)
    }
}

fn finish_line(line: &str, bar: Option<&Bar>, next: Option<&Bar>) -> String {
    let (end, times) = closing(bar, next);
    format!("{line} {end}{times}\n")
}

/// The first bar of a line; a long one is broken between words and goes on indented.
fn wrap(opening: &str, words: &[String]) -> String {
    let mut out = opening.to_owned();
    let mut width = out.chars().count();
    for word in words {
        let more = word.chars().count() + 1;
        if width + more > WIDTH {
            out.push_str("\n   ");
            width = 3;
        }
        out.push(' ');
        out.push_str(word);
        width += more;
    }
    out
}

/// Where the text stands: the length and meter that hold, and the head a `=` would hold.
struct Writer {
    key: Option<Key>,
    neck: Option<Neck>,
    value: Option<NoteValue>,
    held: Option<Note>,
}

impl Writer {
    fn new(riff: &Riff) -> Self {
        let header = riff.header();
        Self {
            key: header.key,
            neck: Neck::named(header.neck.as_deref().unwrap_or("four")).ok(),
            value: None,
            held: None,
        }
    }

    /// The words of a bar, without changing what holds before it. `fresh` repeats the length.
    fn bar(&self, bar: &Bar, before: Option<&Bar>, fresh: bool) -> Vec<String> {
        let mut words = Vec::new();
        if before.is_some_and(|b| b.meter != bar.meter) {
            words.push(format!("[meter {}]", bar.meter));
        }
        if bar.short {
            words.push(if before.is_none() { "[pickup]" } else { "[short]" }.to_owned());
        }
        let mut value = if fresh { None } else { self.value };
        let mut held = self.held;
        let mut at = Quarters::ZERO;
        let mut chords = bar.chords.iter().peekable();
        let mut tempi = bar.tempi.iter().peekable();
        for event in &bar.events {
            let end = at + event.value.length();
            while let Some((offset, tempo)) = tempi.next_if(|t| t.0 < end) {
                words.push(format!("[tempo {}{}]", words::tempo_words(*tempo), offset_word(*offset, at)));
            }
            while let Some((offset, chord)) = chords.next_if(|c| c.0 < end) {
                words.push(format!("<{chord}{}>", offset_word(*offset, at)));
            }
            if value != Some(event.value) {
                words.push(words::length_word(event.value));
                value = Some(event.value);
            }
            words.push(self.event(event, held));
            held = event.note;
            at = end;
        }
        words
    }

    fn done(&mut self, bar: &Bar) {
        if let Some(last) = bar.events.last() {
            self.value = Some(last.value);
            self.held = last.note;
        }
    }

    fn event(&self, event: &Event, held: Option<Note>) -> String {
        let Some(note) = event.note else { return "r".to_owned() };
        let held = held.filter(|h| h.tied);
        let same = held.is_some_and(|h| h.pitch == note.pitch && h.place == note.place);
        let tie = if held.is_some() { "=" } else { "" };
        let marks = self.marks(&note, same);
        if same {
            return format!("={marks}");
        }
        format!("{tie}{}{}{marks}", self.sound(note.pitch), self.place(&note))
    }

    fn sound(&self, pitch: Pitch) -> String {
        match self.key.and_then(|key| words::degree_of_pitch(key, pitch)) {
            Some((degree, octaves)) if octaves.abs() <= OCTAVE_SIGNS => {
                let sign = if octaves < 0 { "-" } else { "+" };
                format!("{degree}{}", sign.repeat(usize::from(octaves.unsigned_abs())))
            }
            _ => pitch.to_string(),
        }
    }

    fn place(&self, note: &Note) -> String {
        let Some(place) = note.place else { return String::new() };
        let finger = note.finger.map(|f| format!(":{f}")).unwrap_or_default();
        let sounding = self
            .neck
            .as_ref()
            .map(|neck| neck.open(place.string).map(|open| open.midi().number() + place.fret));
        let trusted = match sounding {
            None => true,
            Some(midi) => midi == Some(note.pitch.midi().number()),
        };
        format!("@{}:{}{finger}{}", place.string, place.fret, if trusted { "" } else { "!" })
    }

    fn marks(&self, note: &Note, bare_tie: bool) -> String {
        let finger = note.finger.filter(|_| note.place.is_none() || bare_tie);
        if is_bare(&Note { finger, ..*note }) {
            return String::new();
        }
        let mut marks: Vec<String> = Vec::new();
        marks.extend(words::approach_word(note.approach).map(str::to_owned));
        marks.extend(note.marks.iter().map(|m| m.name().to_owned()));
        if note.bend > 0 {
            marks.push(words::bend_word(note.bend));
        }
        marks.extend(finger.map(|f| format!("finger:{f}")));
        format!("({})", marks.join(" "))
    }
}

/// ` @3/2` when something stands elsewhere than at the note it is written before.
fn offset_word(offset: Quarters, at: Quarters) -> String {
    if offset == at { String::new() } else { format!(" @{offset}") }
}
