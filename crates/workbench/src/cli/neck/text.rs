//! A neck and its maps in words, a line for every place.

use std::fmt::Write as _;

use riffkin_fretboard::neck::Neck;
use riffkin_score::pitch::Pitch;

use super::Shown;

/// The usual names with their strings, and the teacher's own.
pub(super) fn names(own: &[Neck]) -> String {
    let mut out = String::new();
    for name in Neck::NAMES {
        let Ok(neck) = Neck::named(name) else { continue };
        let strings: Vec<String> = neck.strings().iter().map(Pitch::to_string).collect();
        let _ = writeln!(out, "{name:10}  {}, {} frets, {}", strings.join(" "), neck.frets(), scale(&neck));
    }
    for neck in own {
        let _ = writeln!(out, "{:10}  {neck} (on your shelf)", neck.name());
    }
    out.push_str("or written out, such as \"G2 D2 A1 E1, 24 frets, 35 inch, left-handed\"\n");
    out
}

fn scale(neck: &Neck) -> String {
    let inches = neck.scale_mm() / 25.4;
    format!("{:.1} mm ({} inch)", neck.scale_mm(), (inches * 100.0).round() / 100.0)
}

/// The neck, and what lies where.
pub(super) fn neck(shown: &Shown) -> String {
    let neck = &shown.neck;
    let mut out = String::new();
    let Some(map) = &shown.map else {
        let _ = writeln!(out, "{neck}");
        for (i, open) in neck.strings().iter().enumerate().rev() {
            let _ = writeln!(out, "string {}: {open}, MIDI {}", i + 1, open.midi().number());
        }
        let frets = if neck.is_fretless() { "positions, fretless" } else { "frets" };
        let _ = writeln!(out, "{} {frets}; {} from nut to saddle", neck.board_frets(), scale(neck));
        if neck.capo() > 0 {
            let _ = writeln!(
                out,
                "capo at fret {}: open strings sound there, and frets and tablature count from it, to {}",
                neck.capo(),
                neck.frets()
            );
        }
        if neck.is_left_handed() {
            out.push_str("left-handed: pictures are mirrored, tablature is not\n");
        }
        let _ = writeln!(out, "sounds from {} to {}", neck.lowest(), neck.highest());
        let from = if neck.capo() > 0 { "capo" } else { "nut" };
        let _ = writeln!(out, "frets in mm from the {from}:");
        for fret in 1..=neck.frets() {
            let _ = writeln!(out, "{fret:>4}  {:>6.1}", neck.fret_mm(fret));
        }
        return out;
    };
    let _ = writeln!(out, "{}, on the neck {}", map.title, neck.name());
    if neck.capo() > 0 {
        let _ = writeln!(out, "frets count from the capo");
    }
    if !shown.way.is_empty() {
        out.push_str("in order, by the least travel: ");
        let places: Vec<String> = shown
            .way
            .iter()
            .map(|p| {
                let name = map.spots.iter().find(|s| s.place == *p).map(|s| s.pitch.name().print());
                let fret = if p.fret == 0 { "open".to_owned() } else { format!("fret {}", p.fret) };
                format!("{} string {} {fret}", name.unwrap_or_default(), p.string)
            })
            .collect();
        let _ = writeln!(out, "{}", places.join(", "));
    }
    if !shown.positions.is_empty() {
        let frets: Vec<String> = shown.positions.iter().map(|f| format!("{f}-{}", f + 3)).collect();
        let _ = writeln!(out, "whole under one hand at frets {}", frets.join(", "));
    }
    for line in map.lines(neck) {
        let _ = writeln!(out, "{line}");
    }
    out
}
