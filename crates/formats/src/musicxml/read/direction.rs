//! Tempo, swing and jumps, from `direction` and `sound` elements.

use riffkin_score::tempo::{Feel, Swing, Tempo};
use riffkin_score::time::Quarters;
use riffkin_score::value::NoteValue;

use super::super::MusicXmlError;
use super::super::marks::shape_of;
use super::super::tree::Element;
use super::note::plural;
use super::notices::short;
use super::part::Walk;
use super::values::Decimal;

const JUMPS: &str = "jumps (segno, coda, D.C., D.S., Fine) are not followed";

/// A tempo as the file has it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct RawTempo {
    /// Distance from the bar line.
    pub(super) at: Quarters,
    /// The tempo.
    pub(super) tempo: Tempo,
    /// Printed as a metronome mark; else only heard.
    pub(super) marked: bool,
    /// The staff it stands on, 0 when that is not said.
    pub(super) staff: u16,
}

/// Reads a `direction` element.
pub(super) fn direction<'t>(walk: &mut Walk<'t>, element: Element<'t>) -> Result<(), MusicXmlError> {
    let at = walk.position(element)?;
    let staff = element.text_of("staff").and_then(|s| s.parse().ok()).unwrap_or(0);
    let mut marked = None;
    for child in element.all("direction-type").flat_map(Element::children) {
        match child.name() {
            "metronome" => {
                let tempo = metronome(walk, child, element.child("sound"));
                if let Some(tempo) = tempo.filter(|_| marked.is_none()) {
                    marked = Some(tempo);
                }
            }
            "segno" | "coda" => walk.notice(JUMPS),
            "words" if is_jump(child.text()) => walk.notice(JUMPS),
            "words" => {
                if !child.text().is_empty() {
                    walk.notice("words at the staff are left out");
                }
            }
            "symbol" | "image" | "accordion-registration" | "staff-divide" => {}
            // A change of size or a dashed line belongs to what it is drawn at.
            "octave-shift" => walk.notice("octave signs are not needed: pitches are read as they sound"),
            other => walk.notice(format!("{} are left out", plural(other))),
        }
    }
    if let Some(tempo) = marked
        && let Some(measure) = walk.current()
    {
        measure.tempi.push(RawTempo { at, tempo, marked: true, staff });
    }
    match element.child("sound") {
        Some(heard) => sound(walk, heard, at, Some(marked.is_some())),
        None => Ok(()),
    }
}

fn is_jump(words: &str) -> bool {
    let letters: String = words.to_lowercase().chars().filter(|c| c.is_alphanumeric()).collect();
    ["dc", "ds"].iter().any(|j| letters == *j || letters.starts_with(&format!("{j}al")))
        || ["dacapo", "dalsegno", "fine", "tocoda", "alcoda", "alfine"].iter().any(|j| letters.starts_with(j))
}

/// A metronome mark as a tempo; `None`, with a notice, when it is none.
fn metronome(walk: &mut Walk<'_>, element: Element<'_>, heard: Option<Element<'_>>) -> Option<Tempo> {
    let units: Vec<Element<'_>> = element.all("beat-unit").collect();
    let mark = match (units.as_slice(), element.text_of("per-minute")) {
        ([unit], Some(text)) => shape_of(unit.text()).and_then(|shape| {
            let dots = u8::try_from(element.all("beat-unit-dot").count()).ok()?;
            let (number, exact) = first_number(text)?;
            let tempo = Tempo::new(number, NoteValue::new(shape, dots, None)?)?;
            Some((tempo, exact))
        }),
        _ => None,
    };
    match mark {
        Some((tempo, exact)) => {
            if !exact {
                let text = short(element.text_of("per-minute").unwrap_or_default());
                walk.notice(format!("the tempo '{text}' is read as {}", tempo.per_minute()));
            }
            Some(tempo)
        }
        None => {
            if heard.and_then(|s| s.attribute("tempo")).is_none() {
                walk.notice("a metronome mark that is no number of beats a minute is left out");
            }
            None
        }
    }
}

/// The first number in a text such as `c. 96-104`, and whether there is nothing else.
fn first_number(text: &str) -> Option<(f64, bool)> {
    let start = text.find(|c: char| c.is_ascii_digit())?;
    let rest = text.get(start..)?;
    let end = rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len());
    let number = rest.get(..end)?.trim_end_matches('.');
    let number: f64 = number.parse().ok()?;
    number.is_finite().then_some((number, start == 0 && end == rest.len()))
}

/// Reads a `sound` element. `marked` is `None` for one that stands alone in a measure, else whether its
/// direction shows a tempo already.
pub(super) fn sound<'t>(
    walk: &mut Walk<'t>,
    element: Element<'t>,
    at: Quarters,
    marked: Option<bool>,
) -> Result<(), MusicXmlError> {
    let at = if marked.is_none() { walk.position(element)? } else { at };
    let jumps = ["dacapo", "dalsegno", "segno", "coda", "tocoda", "fine"];
    if jumps.iter().any(|j| element.attribute(j).is_some_and(|v| v != "no")) {
        walk.notice(JUMPS);
    }
    if let Some(text) = element.attribute("tempo")
        && marked != Some(true)
    {
        let number = text.trim().parse::<f64>().ok().filter(|n| n.is_finite() && *n >= 0.0);
        let wanted = "quarter notes a minute";
        let number = number.ok_or_else(|| walk.place().bad_attribute(element, text, wanted))?;
        match Tempo::quarters(number) {
            Some(tempo) => {
                if let Some(measure) = walk.current() {
                    measure.tempi.push(RawTempo { at, tempo, marked: false, staff: 0 });
                }
            }
            None => walk.notice(format!("a tempo of {} is left out; they go from 5 to 1000", short(text))),
        }
    }
    if let Some(swing) = element.child("swing") {
        let feel = feel(walk, swing)?;
        let late = walk.part.measures.len() > 2;
        match walk.part.feel {
            None => {
                walk.part.feel = Some(feel);
                if late && feel != Feel::Straight {
                    walk.notice("swing that starts here is read as the feel of the whole riff");
                }
            }
            Some(before) if before != feel => walk.notice("a change of feel is left out; a riff has one"),
            Some(_) => {}
        }
    }
    Ok(())
}

fn feel(walk: &mut Walk<'_>, swing: Element<'_>) -> Result<Feel, MusicXmlError> {
    if swing.has("straight") {
        return Ok(Feel::Straight);
    }
    let number = |name: &'static str| {
        let child = swing.child(name).ok_or_else(|| walk.place().missing(swing, name))?;
        let number = Decimal::parse(child.text()).filter(|d| d.den == 1 && (1..=1000).contains(&d.num));
        number.map(|d| d.num).ok_or_else(|| walk.place().bad(child, "a number from 1 up"))
    };
    let (first, second) = (number("first")?, number("second")?);
    let sixteenths = swing.text_of("swing-type") == Some("16th");
    let exact = u8::try_from(first)
        .ok()
        .zip(u8::try_from(second).ok())
        .and_then(|(first, second)| Swing::new(first, second, sixteenths));
    if let Some(swing) = exact {
        return Ok(Feel::Swing(swing));
    }
    let Some(near) = nearest_swing(first, second, sixteenths) else {
        walk.notice(format!("swing of {first} to {second} is read as straight"));
        return Ok(Feel::Straight);
    };
    if i64::from(near.long()) * second != i64::from(near.short()) * first {
        walk.notice(format!("swing of {first} to {second} is read as {} to {}", near.long(), near.short()));
    }
    Ok(Feel::Swing(near))
}

/// The ratio of small numbers that lies nearest; `None` when the first note is the shorter.
fn nearest_swing(first: i64, second: i64, sixteenths: bool) -> Option<Swing> {
    if first < second {
        return None;
    }
    let wanted = first as f64 / second as f64;
    let mut best: Option<(f64, Swing)> = None;
    for short in 1..=20u8 {
        for long in short..=20u8 {
            let Some(swing) = Swing::new(long, short, sixteenths) else { continue };
            let off = (f64::from(long) / f64::from(short) - wanted).abs();
            if best.is_none_or(|(least, _)| off < least) {
                best = Some((off, swing));
            }
        }
    }
    best.map(|(_, swing)| swing)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tempo_texts() {
        assert_eq!(first_number("96"), Some((96.0, true)));
        assert_eq!(first_number("c. 96-104"), Some((96.0, false)));
        assert_eq!(first_number("92.5"), Some((92.5, true)));
        assert_eq!(first_number("fast"), None);
    }

    #[test]
    fn jumps_in_words() {
        for text in ["D.C. al Fine", "D.S.", "Da Capo", "To Coda", "Fine"] {
            assert!(is_jump(text), "{text}");
        }
        for text in ["dolce", "Slowly", "dashing"] {
            assert!(!is_jump(text), "{text}");
        }
    }

    #[test]
    fn swing_in_percent_becomes_small_numbers() {
        assert_eq!(nearest_swing(60, 40, false), Swing::new(3, 2, false));
        assert_eq!(nearest_swing(67, 33, true), Swing::new(2, 1, true));
        assert_eq!(nearest_swing(1, 2, false), None);
    }
}
