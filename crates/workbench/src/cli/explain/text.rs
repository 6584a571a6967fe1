//! A riff explained as a teacher would say it.

use std::fmt::Write as _;

use riffkin_score::analysis::explain::{How, NoteReading};
use riffkin_score::analysis::harmony::{ChordFit, ChordReading, NoteOver, worth_showing};
use riffkin_score::analysis::mode::one_note_difference;
use riffkin_score::analysis::verdict::{Verdict, ordinal};

use super::args::Against;
use super::{OnNeck, Told};

/// Scales listed at most.
const SCALES: usize = 6;
/// Bars for which chords are listed at most; JSON has all.
const BARS: usize = 16;

/// Said with the difficulty, so that nobody takes it for measured.
pub(super) const BY_HAND: &str = "the limits between the levels are set by hand (common practice, no source)";

/// The whole.
pub(super) fn told(told: &Told<'_>) -> String {
    let mut out = String::new();
    if !told.riff.header().title.is_empty() {
        let _ = writeln!(out, "{}\n", told.riff.header().title);
    }
    section(&mut out, "Key", &key(told));
    section(&mut out, "What would decide", &deciding(told));
    section(&mut out, "Degrees", &degrees(told));
    if let Some(comparison) = &told.comparison {
        let mut lines = comparison.words();
        lines.extend(told.of_riff(comparison));
        lines.push(format!("degrees here are counted from {}", comparison.first.tonic.print()));
        section(&mut out, "Side by side", &lines);
    }
    section(&mut out, "Shape", &shape(told));
    section(&mut out, "Difficulty", &told.hand.as_ref().map(difficulty).unwrap_or_default());
    section(&mut out, "Scales that fit", &scales(told));
    section(&mut out, "Chords that fit", &chords(told));
    section(&mut out, "Chord by chord", &under_chords(told));
    section(&mut out, "Note by note", &notes(told));
    out
}

fn section(out: &mut String, head: &str, lines: &[String]) {
    if lines.is_empty() {
        return;
    }
    if !out.is_empty() && !out.ends_with("\n\n") {
        out.push('\n');
    }
    let _ = writeln!(out, "{head}");
    for line in lines {
        let _ = writeln!(out, "  {}", line.trim_end());
    }
}

fn key(told: &Told<'_>) -> Vec<String> {
    let mut lines = told.found.words();
    // The first is the tonic that was taken, which the words have said.
    let others: Vec<String> = told
        .found
        .tonics
        .iter()
        .skip(1)
        .take(2)
        .filter(|t| t.score >= 0.005)
        .map(|t| format!("{} ({:.0} %)", t.tonic.print(), t.score * 100.0))
        .collect();
    let ranked = matches!(told.found.tonic, Some((_, How::Ranked)));
    if ranked && !others.is_empty() && told.found.rivals().is_empty() {
        lines.push(format!("the next likeliest roots by the notes alone: {}", others.join(", ")));
    }
    lines
}

fn deciding(told: &Told<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if let Verdict::Undecided { between, deciding } = told.found.verdict() {
        // The verdict names the steps itself unless they are many.
        let said = told.found.verdict().words();
        lines.extend(deciding.iter().map(ToString::to_string).filter(|step| !said.contains(step)));
        let tonic = told.found.tonic.map(|t| t.0);
        let pairs =
            between.iter().enumerate().flat_map(|(i, a)| between.iter().skip(i + 1).map(move |b| (*a, *b)));
        let apart = pairs.filter_map(|(a, b)| Some(one_note_difference(a, b)?.words(a, b, tonic)));
        lines.extend(apart.take(3));
    }
    if told.under_chords.chords.is_empty() && told.open_steps.len() > 1 {
        let steps: Vec<String> = told.open_steps.iter().map(|step| ordinal(step.number)).collect();
        let (last, most) = steps
            .split_last()
            .map_or((String::new(), String::new()), |(last, most)| (last.clone(), most.join(", the ")));
        lines.push(format!(
            "no chords are written: a fill does without the {most} and the {last}, or agrees with what else sounds"
        ));
    } else {
        lines.extend(told.open_steps.iter().map(|step| step.words()));
    }
    lines
}

fn degrees(told: &Told<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    if told.found.degrees.is_empty() {
        return lines;
    }
    if let Some((tonic, _)) = told.found.tonic {
        let names: Vec<String> = told.found.degrees.iter().map(|d| d.print()).collect();
        lines.push(format!("{}, counted from {}", names.join(" "), tonic.print()));
    }
    lines.extend(told.two_names.iter().map(|t| t.words()));
    lines
}

fn shape(told: &Told<'_>) -> Vec<String> {
    let mut lines = told.shape.words();
    let mut patterns: Vec<(&str, Vec<String>)> = Vec::new();
    for pattern in &told.shape.rhythm.patterns {
        match patterns.iter_mut().find(|(cells, _)| *cells == pattern.cells) {
            Some((_, bars)) => bars.push(pattern.bar.to_string()),
            None => patterns.push((&pattern.cells, vec![pattern.bar.to_string()])),
        }
    }
    for (cells, bars) in patterns.iter().take(4) {
        let word = if bars.len() == 1 { "bar" } else { "bars" };
        let bars = if bars.len() > 6 {
            format!("{} bars", bars.len())
        } else {
            format!("{word} {}", bars.join(", "))
        };
        lines.push(format!("rhythm of {bars}: {cells}  (x begins, - goes on, . rests)"));
    }
    if let Some(OnNeck { shape, adapted, .. }) = told.hand.as_ref().filter(|h| !h.shape.is_empty()) {
        lines.extend(adapted.iter().map(|w| format!("to lie on the neck {}: {w}", told.neck.name())));
        let (strings, frets) = (shape.string_span(), shape.fret_span());
        let moves = if shape.is_movable() {
            "it can be moved to any fret"
        } else {
            "open strings or harmonics hold it where it is"
        };
        let count = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
        lines.push(format!(
            "under the hand on the neck {}: {} on {}, {} apart at most; {moves}",
            told.neck.name(),
            count(shape.footprint().len(), "fretted place"),
            count(usize::from(strings), "string"),
            count(usize::from(frets), "fret"),
        ));
    }
    lines
}

fn difficulty(hand: &OnNeck) -> Vec<String> {
    let mut lines = hand.difficulty.words();
    lines.push(BY_HAND.to_owned());
    lines
}

fn scales(told: &Told<'_>) -> Vec<String> {
    let Some((tonic, _)) = told.found.tonic else { return Vec::new() };
    let mut lines: Vec<String> = worth_showing(&told.scales, SCALES)
        .iter()
        .map(|fit| format!("{} {}: {}", tonic.print(), fit.mode, fit.words()))
        .collect();
    if !lines.is_empty() {
        lines.push(format!("degrees here are counted from {}", tonic.print()));
    }
    lines
}

fn chord_line(fit: &ChordFit) -> String {
    let numeral = fit.numeral.as_ref().map_or_else(String::new, |n| format!(" ({n})"));
    let written = if fit.written { ", as written" } else { "" };
    format!("{}{numeral}{written}: {}", fit.chord.print(), fit.words())
}

fn chords(told: &Told<'_>) -> Vec<String> {
    let fitting = &told.fitting;
    let mut lines = Vec::new();
    if fitting.vamp.is_empty() {
        return lines;
    }
    lines.push("one chord under all of it, by the notes alone:".to_owned());
    lines.extend(fitting.vamp.iter().map(|fit| format!("  {}", chord_line(fit))));
    let bars: Vec<_> = fitting.bars.iter().filter(|b| !b.fits.is_empty()).collect();
    if bars.len() > 1 {
        lines.push("bar by bar:".to_owned());
        for bar in bars.iter().take(BARS) {
            let names: Vec<String> = bar
                .fits
                .iter()
                .map(|f| format!("{}{}", f.chord.print(), if f.written { " (written)" } else { "" }))
                .collect();
            lines.push(format!("  bar {}: {}", bar.bar, names.join(", ")));
        }
        if bars.len() > BARS {
            lines.push(format!("  and {} bars more; --json has them all", bars.len() - BARS));
        }
    }
    lines
}

fn under_chords(told: &Told<'_>) -> Vec<String> {
    let mut lines = Vec::new();
    let reading = &told.under_chords;
    if reading.before > 0 && !reading.chords.is_empty() {
        let note =
            if reading.before == 1 { "1 note stands" } else { &format!("{} notes stand", reading.before) };
        lines.push(format!("{note} before the first chord"));
    }
    for chord in &reading.chords {
        lines.push(chord_head(chord));
        let mut notes: Vec<String> = Vec::new();
        if let Some(held) = &chord.held {
            notes.push(format!("{} held on", over(told, chord, held)));
        }
        notes.extend(chord.notes.iter().map(|n| over(told, chord, n)));
        if !notes.is_empty() {
            lines.push(format!("  {}", notes.join(", ")));
        }
    }
    if !lines.is_empty() && told.against == Against::Key {
        lines.push(format!("degrees here are {}", told.convention()));
    } else if !lines.is_empty() {
        lines.push("degrees here are counted from each chord's root".to_owned());
    }
    lines
}

fn chord_head(chord: &ChordReading) -> String {
    let numeral = chord.numeral.as_ref().map_or_else(String::new, |n| format!(" ({n})"));
    let quarters = if chord.length.fraction() == (1, 1) { "quarter" } else { "quarters" };
    let scales: Vec<String> = chord.scales.iter().map(|s| s.words(chord.chord.root)).collect();
    let scales = if scales.is_empty() { String::new() } else { format!("; scale: {}", any_of(&scales)) };
    format!("{}{numeral}, from {} for {} {quarters}{scales}", chord.chord.print(), chord.from, chord.length)
}

/// `a, b or c`.
fn any_of(words: &[String]) -> String {
    match words {
        [most @ .., last] if !most.is_empty() => format!("{} or {last}", most.join(", ")),
        _ => words.concat(),
    }
}

/// `♭3 third of Gm7`: the degree after the convention, and what the note does.
fn over(told: &Told<'_>, chord: &ChordReading, note: &NoteOver) -> String {
    let reading = told.found.notes.get(note.line);
    let degree = match told.against {
        Against::Key => reading.and_then(|n| n.degree),
        Against::Chord => Some(note.degree),
    };
    let pitch = reading.map_or_else(String::new, |n| n.pitch.name().print());
    let degree = degree.map_or_else(String::new, |d| format!(" {}", d.print()));
    let words = note.words(chord.chord);
    let words = words.strip_suffix(&format!(" of {}", chord.chord.print())).unwrap_or(&words);
    format!("{pitch}{degree} ({words})")
}

fn notes(told: &Told<'_>) -> Vec<String> {
    if told.found.notes.is_empty() {
        return Vec::new();
    }
    let mut lines = vec![format!("degrees {}", told.convention())];
    let mut roles: Vec<Option<String>> = vec![None; told.found.notes.len()];
    for chord in &told.under_chords.chords {
        for note in &chord.notes {
            if let Some(role) = roles.get_mut(note.line) {
                *role = Some(note.words(chord.chord));
            }
        }
    }
    let wide = roles.iter().flatten().map(|r| r.chars().count()).max();
    let does = wide.map_or_else(String::new, |wide| format!("{:1$} ", "what it does", wide.max(12)));
    lines.push(format!("{:18} {:6} {:8} {does}from the note before", "place", "pitch", "degree"));
    lines.extend(told.found.notes.iter().zip(roles).map(|(note, role)| row(told, note, role, wide)));
    lines
}

/// `wide` is how much room roles take, where there are any.
fn row(told: &Told<'_>, note: &NoteReading, role: Option<String>, wide: Option<usize>) -> String {
    let degree = match told.said(note) {
        _ if note.dead => "dead".to_owned(),
        Some(degree) => degree.print(),
        None => "no chord".to_owned(),
    };
    let role = role.unwrap_or_default();
    let role = wide.map_or_else(String::new, |wide| format!("{role:0$} ", wide.max(12)));
    let from = note.from_previous.map_or_else(String::new, |i| i.words());
    format!("{:18} {:6} {degree:8} {role}{from}", note.place.to_string(), note.pitch.to_string())
}
