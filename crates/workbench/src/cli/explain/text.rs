//! A riff explained as a teacher would say it.

use std::fmt::Write as _;

use riffkin_score::analysis::explain::{How, NoteReading};
use riffkin_score::analysis::harmony::{ChordFit, ChordReading, NoteOver, OpenStep, worth_showing};
use riffkin_score::analysis::mode::one_note_difference;
use riffkin_score::analysis::verdict::{Deciding, Verdict, ordinal};

use super::args::Against;
use super::{OnNeck, Told};

/// Scales listed, and with --all.
const SCALES: (usize, usize) = (3, 6);
/// Chords under the whole listed without --all.
const CHORDS: usize = 3;
/// Chords read one by one, and notes in the table, without --all.
const ROWS: usize = 32;
/// What was changed for the neck, without --all.
const CHANGES: usize = 2;
/// Degrees of the riff that a scale lacks at most, without --all.
const LACKS: usize = 2;
/// Degrees with which scales are worth ranking.
const FEW: usize = 3;
/// Steps with no chord to decide them that are told each in its own line at most.
const OPEN: usize = 1;

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
        // The verdict names the steps itself unless they are many; then too little is heard to tell modes apart.
        let said = told.found.verdict().words();
        if deciding.iter().map(Deciding::words).all(|step| said.contains(&step)) {
            let tonic = told.found.tonic.map(|t| t.0);
            let pairs = between
                .iter()
                .enumerate()
                .flat_map(|(i, a)| between.iter().skip(i + 1).map(move |b| (*a, *b)));
            let apart = pairs.filter_map(|(a, b)| Some(one_note_difference(a, b)?.words(a, b, tonic)));
            lines.extend(apart.take(3));
        } else {
            lines.push(format!("the {} are open", steps(deciding.iter().map(|d| d.number))));
        }
    }
    let (open, told_by_chords): (Vec<&OpenStep>, Vec<&OpenStep>) =
        told.open_steps.iter().partition(|step| step.forms.iter().all(|f| f.1.is_empty()));
    lines.extend(told_by_chords.iter().map(|step| step.words()));
    if open.len() > OPEN {
        let chords = if told.under_chords.chords.is_empty() {
            "no chords are written"
        } else {
            "no chord has one of them"
        };
        lines.push(format!(
            "{chords}: a fill does without the {}, or agrees with what else sounds",
            steps(open.iter().map(|step| step.number))
        ));
    } else {
        lines.extend(open.iter().map(|step| step.words()));
    }
    lines
}

/// `2nd, the 3rd and the 6th`.
fn steps(numbers: impl Iterator<Item = u8>) -> String {
    let steps: Vec<String> = numbers.map(ordinal).collect();
    match steps.split_last() {
        Some((last, most)) if !most.is_empty() => format!("{} and the {last}", most.join(", the ")),
        _ => steps.concat(),
    }
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
    for (i, (cells, bars)) in patterns.iter().take(4).enumerate() {
        let word = if bars.len() == 1 { "bar" } else { "bars" };
        let bars = if bars.len() > 6 {
            format!("{} bars", bars.len())
        } else {
            format!("{word} {}", bars.join(", "))
        };
        let legend = if i == 0 { "  (x begins, - goes on, . rests)" } else { "" };
        lines.push(format!("rhythm of {bars}: {cells}{legend}"));
    }
    let sounds = told.shape.range.is_some();
    if let Some(OnNeck { shape, adapted, .. }) = told.hand.as_ref().filter(|h| sounds && !h.shape.is_empty())
    {
        let most = if told.all { adapted.len() } else { CHANGES };
        let changes = adapted.iter().take(most);
        lines.extend(changes.map(|w| format!("to lie on the neck {}: {w}", told.neck.name())));
        lines.extend(more(adapted.len().saturating_sub(most), "change"));
        let count = |n: usize, one: &str| format!("{n} {one}{}", if n == 1 { "" } else { "s" });
        let (strings, frets) = (usize::from(shape.string_span()), usize::from(shape.fret_span()));
        let places = match (shape.footprint().len(), frets) {
            (0, _) => "open strings and harmonics only".to_owned(),
            (n, 0) => {
                format!("{} on {}, all at one fret", count(n, "fretted place"), count(strings, "string"))
            }
            (n, _) => format!(
                "{} on {}, at most {} apart",
                count(n, "fretted place"),
                count(strings, "string"),
                count(frets, "fret")
            ),
        };
        let moves = match (shape.footprint().is_empty(), shape.is_movable()) {
            (true, _) => "",
            (false, true) => "; the shape can be moved to any fret",
            (false, false) => "; open strings or harmonics hold it where it is",
        };
        lines.push(format!("under the hand on the neck {}: {places}{moves}", told.neck.name()));
    }
    lines
}

fn difficulty(hand: &OnNeck) -> Vec<String> {
    if hand.fit.notes.is_empty() {
        return Vec::new();
    }
    let mut lines = hand.difficulty.words();
    lines.push(BY_HAND.to_owned());
    lines
}

fn scales(told: &Told<'_>) -> Vec<String> {
    let Some((tonic, _)) = told.found.tonic else { return Vec::new() };
    if told.scales.is_empty() {
        return Vec::new();
    }
    if told.found.set().len() < FEW && !told.all {
        return vec!["fewer than three degrees are heard: every scale that has them fits".to_owned()];
    }
    let most = if told.all { SCALES.1 } else { SCALES.0 };
    let mut lines: Vec<String> = worth_showing(&told.scales, most)
        .iter()
        .filter(|fit| told.all || fit.lacks.len() <= LACKS)
        .map(|fit| format!("{} {}: {}", tonic.print(), fit.mode, fit.words()))
        .collect();
    if lines.is_empty() {
        lines.push("none holds all of it, or nearly all".to_owned());
    } else {
        lines.push(format!("degrees here are counted from {}", tonic.print()));
    }
    lines
}

/// A numeral for print: `♭VII7`.
fn numeral(typed: Option<&String>) -> String {
    typed.map_or_else(String::new, |n| format!(" ({})", n.replace('b', "♭").replace('#', "♯")))
}

fn chord_line(fit: &ChordFit) -> String {
    let numeral = numeral(fit.numeral.as_ref());
    let written = if fit.written { ", as written" } else { "" };
    format!("{}{numeral}{written}: {}", fit.chord.print(), fit.words())
}

fn chords(told: &Told<'_>) -> Vec<String> {
    let fitting = &told.fitting;
    let mut lines = Vec::new();
    if fitting.vamp.is_empty() {
        return lines;
    }
    // Where the riff writes chords that change, one chord under all of it is no question.
    let mut written = told.under_chords.chords.iter().map(|c| c.chord);
    let first = written.next();
    if !told.all && written.any(|c| Some(c) != first) {
        return lines;
    }
    lines.push("one chord under all of it, by the notes alone:".to_owned());
    let most = if told.all { fitting.vamp.len() } else { CHORDS };
    lines.extend(fitting.vamp.iter().take(most).map(|fit| format!("  {}", chord_line(fit))));
    let bars: Vec<_> = fitting.bars.iter().filter(|b| !b.fits.is_empty()).collect();
    if bars.len() > 1 && told.all {
        lines.push("bar by bar:".to_owned());
        for bar in &bars {
            let names: Vec<String> = bar
                .fits
                .iter()
                .map(|f| format!("{}{}", f.chord.print(), if f.written { " (written)" } else { "" }))
                .collect();
            lines.push(format!("  bar {}: {}", bar.bar, names.join(", ")));
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
    let most = if told.all { reading.chords.len() } else { ROWS };
    for chord in reading.chords.iter().take(most) {
        lines.push(chord_head(chord));
        // Without --all the table of notes says what each does.
        if !told.all {
            continue;
        }
        let mut notes: Vec<String> = Vec::new();
        if let Some(held) = &chord.held {
            notes.push(format!("{} held on", over(told, chord, held)));
        }
        notes.extend(chord.notes.iter().map(|n| over(told, chord, n)));
        if !notes.is_empty() {
            lines.push(format!("  {}", notes.join(", ")));
        }
    }
    lines.extend(more(reading.chords.len().saturating_sub(most), "chord"));
    if !lines.is_empty() && told.all {
        lines.push(match told.against {
            Against::Key => format!("degrees here are {}", told.convention()),
            Against::Chord => "degrees here are counted from each chord's root".to_owned(),
        });
    }
    lines
}

fn chord_head(chord: &ChordReading) -> String {
    let numeral = numeral(chord.numeral.as_ref());
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
    let most = if told.all { told.found.notes.len() } else { ROWS };
    lines.extend(
        told.found.notes.iter().zip(roles).take(most).map(|(note, role)| row(told, note, role, wide)),
    );
    lines.extend(more(told.found.notes.len().saturating_sub(most), "note"));
    lines
}

/// That so many more are told with --all.
fn more(left: usize, one: &str) -> Option<String> {
    let s = if left == 1 { "" } else { "s" };
    (left > 0).then(|| format!("and {left} {one}{s} more: --all tells them"))
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
    // Of D♭ to D no player says that it is an augmented unison.
    let from =
        note.from_previous.map_or_else(String::new, |i| i.words().replace("augmented unison", "half step"));
    format!("{:18} {:6} {degree:8} {role}{from}", note.place.to_string(), note.pitch.print())
}
