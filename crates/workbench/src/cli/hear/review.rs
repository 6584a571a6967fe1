//! The doubtful notes first: where, why, and what else it might be.

use std::fmt::Write as _;

use riffkin_audio::listen::{Manner, Why};
use riffkin_score::pitch::{Midi, Pitch};

use crate::app::hearing::{DOUBTFUL, Doubt, Heard, clock};

/// The list as text.
pub(super) fn list(heard: &Heard, doubts: &[Doubt]) -> String {
    let names = heard.names();
    let mut out = String::new();
    let doubtful = heard.notes.iter().filter(|n| n.confidence < DOUBTFUL).count();
    let _ = writeln!(
        out,
        "{} notes heard, {doubtful} of them doubtful (below {:.0} %)",
        heard.notes.len(),
        DOUBTFUL * 100.0
    );
    if doubts.is_empty() {
        return out;
    }
    let _ = writeln!(
        out,
        "\n{:>10}  {:22} {:6} {:>5}  why, and what else it may be",
        "time", "place", "note", "sure"
    );
    for doubt in doubts {
        let (Some(note), Some(name)) = (heard.notes.get(doubt.note), names.get(doubt.note)) else { continue };
        let name = if note.manner == Manner::Dead { "dead".to_owned() } else { name.to_string() };
        let place = heard
            .written
            .as_ref()
            .and_then(|w| Some(w.riff.place_of(w.reading.notes.get(doubt.note)?.onset?).to_string()))
            .unwrap_or_else(|| "not written".to_owned());
        let why: Vec<String> = doubt.why.iter().map(|w| words(w, note.midi)).collect();
        let why = if why.is_empty() {
            "nothing in particular; the least sure of them all".to_owned()
        } else {
            why.join("; ")
        };
        let _ = writeln!(
            out,
            "{:>10}  {place:22} {name:6} {:>3.0} %  {why}",
            clock(note.onset_s),
            note.confidence * 100.0
        );
    }
    let left = heard.notes.len().saturating_sub(doubts.len());
    if left > 0 {
        let _ = writeln!(out, "\nThe other {left} are surer than these.");
    }
    out
}

fn named(midi: u8) -> String {
    Pitch::simplest(Midi::saturating(midi)).to_string()
}

/// How far a pitch lies from another, as people say it.
fn apart(midi: u8, other: u8) -> String {
    let steps = i32::from(other) - i32::from(midi);
    let way = if steps > 0 { "higher" } else { "lower" };
    match steps.abs() {
        12 => format!("an octave {way}"),
        24 => format!("two octaves {way}"),
        19 => format!("an octave and a fifth {way}"),
        1 => format!("a semitone {way}"),
        n => format!("{n} semitones {way}"),
    }
}

fn words(why: &Why, midi: u8) -> String {
    match *why {
        Why::OtherPitch { midi: other, share } => format!(
            "its pitch is not clear: {} fits too, {} ({:.0} %)",
            named(other),
            apart(midi, other),
            share * 100.0
        ),
        Why::MaybeOne => "hardly an attack: the note before may go on".to_owned(),
        Why::NoAttack => "no clear attack: the note before may ring or slide".to_owned(),
        Why::MaybeStruck => "taken for joined to the note before; it may be struck".to_owned(),
        Why::NoPitch { midi } => {
            format!("an attack without a pitch: a noise, or a muted note ({} is nearest)", named(midi))
        }
        Why::Between { midi: other, cents } => {
            format!("{:.0} cents off: between it and {}", cents.abs(), named(other))
        }
        Why::Short { ms } => format!("only {ms:.0} ms long: it may be a noise of the hand"),
        Why::OffPlace { late_ms } => {
            let way = if late_ms > 0.0 { "late" } else { "early" };
            format!("played {:.0} ms {way} for where it is written", late_ms.abs())
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn reasons_name_what_else_it_may_be() {
        assert_eq!(
            words(&Why::OtherPitch { midi: 40, share: 0.31 }, 28),
            "its pitch is not clear: E2 fits too, an octave higher (31 %)"
        );
        assert_eq!(words(&Why::Between { midi: 27, cents: -41.0 }, 28), "41 cents off: between it and Eb1");
        assert_eq!(
            words(&Why::OffPlace { late_ms: -70.4 }, 28),
            "played 70 ms early for where it is written"
        );
    }
}
