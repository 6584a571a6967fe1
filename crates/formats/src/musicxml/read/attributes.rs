//! The `attributes` element: divisions, key, meter, clefs, tuning, transposition.

use riffkin_score::meter::Meter;
use riffkin_score::pitch::{Pitch, PitchName, Step};

use super::super::MusicXmlError;
use super::super::tree::Element;
use super::notices::short;
use super::part::{MAX_STAVES, Walk};
use super::pitch::Transposition;
use super::values::{Decimal, Where};

/// A key signature as written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct KeySignature {
    /// Sharps, flats below zero.
    pub(super) fifths: i32,
    /// The mode, lower case; empty when there is none.
    pub(super) mode: String,
}

/// Reads an `attributes` element.
pub(super) fn read<'t>(walk: &mut Walk<'t>, element: Element<'t>) -> Result<(), MusicXmlError> {
    for child in element.children() {
        match child.name() {
            "divisions" => walk.set_divisions(child)?,
            "key" => key(walk, child)?,
            "time" => time(walk, child)?,
            "clef" => clef(walk, child)?,
            "staff-details" => staff_details(walk, child)?,
            "transpose" => transpose(walk, child)?,
            "measure-style" => {
                for style in child.children() {
                    if matches!(style.name(), "beat-repeat" | "slash" | "measure-repeat") {
                        let what = super::note::plural(style.name());
                        walk.notice(format!("{what} are not followed; the notes written count"));
                    }
                }
            }
            "for-part" => walk.notice("transpositions for single parts of a concert score are left out"),
            // Staves are known from their notes; the rest concerns the page only.
            _ => {}
        }
    }
    Ok(())
}

fn key(walk: &mut Walk<'_>, element: Element<'_>) -> Result<(), MusicXmlError> {
    let Some(fifths) = element.child("fifths") else {
        walk.notice("a key signature that is no number of sharps or flats is left out");
        return Ok(());
    };
    let count = fifths.text().parse::<i32>().ok().filter(|f| f.abs() <= 60);
    let count = count.ok_or_else(|| walk.place().bad(fifths, "a number of sharps, flats below zero"))?;
    let signature =
        KeySignature { fifths: count, mode: element.text_of("mode").unwrap_or_default().to_lowercase() };
    match &walk.part.key {
        None => walk.part.key = Some(signature),
        Some(first) if *first != signature => {
            walk.notice("a change of key is left out; a riff has one key");
        }
        Some(_) => {}
    }
    Ok(())
}

fn time(walk: &mut Walk<'_>, element: Element<'_>) -> Result<(), MusicXmlError> {
    if element.has("senza-misura") {
        walk.notice("free time is read in the meter before it");
        return Ok(());
    }
    let mut groups: Vec<(Vec<u8>, u8)> = Vec::new();
    for (beats, unit) in element.all("beats").zip(element.all("beat-type")) {
        let sizes: Option<Vec<u8>> = beats.text().split('+').map(|n| n.trim().parse().ok()).collect();
        let sizes = sizes.filter(|s| s.iter().all(|&n| n > 0));
        let sizes = sizes.ok_or_else(|| walk.place().bad(beats, "a number of beats such as 4, or 2+2+3"))?;
        let number = unit.text().parse::<u8>().ok().filter(|u| u.is_power_of_two());
        let number = number.ok_or_else(|| walk.place().bad(unit, "a note value: 1, 2, 4, 8, 16, 32"))?;
        groups.push((sizes, number));
    }
    let Some(meter) = meter(&groups, walk) else {
        let text: Vec<String> = groups
            .iter()
            .map(|(sizes, unit)| {
                let sizes: Vec<String> = sizes.iter().map(u8::to_string).collect();
                format!("{}/{unit}", sizes.join("+"))
            })
            .collect();
        let text = short(&text.join(" + "));
        walk.notice(format!("the meter {text} is left out: a riff's have up to 32 beats of 1/1 to 1/32"));
        return Ok(());
    };
    walk.meter = meter;
    Ok(())
}

/// One meter out of the pairs of a `time` element.
fn meter(pairs: &[(Vec<u8>, u8)], walk: &Walk<'_>) -> Option<Meter> {
    match pairs {
        [] => None,
        [(sizes, unit)] => match sizes.as_slice() {
            [beats] => walk.odd_meter(*beats, *unit).or_else(|| Meter::new(*beats, *unit)),
            sizes => Meter::grouped(sizes, *unit),
        },
        pairs => {
            // 3/4 + 2/8 is counted in the shorter unit.
            let unit = pairs.iter().map(|p| p.1).max()?;
            let mut groups = Vec::new();
            for (sizes, own) in pairs {
                for size in sizes {
                    groups.push(size.checked_mul(unit / own)?);
                }
            }
            Meter::grouped(&groups, unit)
        }
    }
}

fn number_of(element: Element<'_>) -> Option<u16> {
    let number = element.attribute("number").and_then(|n| n.trim().parse().ok());
    number.filter(|n| (1..=MAX_STAVES).contains(n))
}

fn clef(walk: &mut Walk<'_>, element: Element<'_>) -> Result<(), MusicXmlError> {
    let octave = match element.child("clef-octave-change") {
        None => 0,
        Some(change) => {
            let octave = change.text().parse::<i32>().ok().filter(|o| o.abs() <= 4);
            octave.ok_or_else(|| walk.place().bad(change, "a number of octaves"))?
        }
    };
    let look = walk.part.staves.entry(number_of(element).unwrap_or(1)).or_default();
    // The first clef tells what a staff is for; a change on the way does not.
    if look.sign.is_empty() {
        look.sign = element.text_of("sign").unwrap_or_default().to_owned();
        look.clef_octave = octave;
    }
    Ok(())
}

fn staff_details(walk: &mut Walk<'_>, element: Element<'_>) -> Result<(), MusicXmlError> {
    if element.text_of("capo").is_some_and(|c| c != "0") {
        walk.notice("a capo is left out; frets are read as counted from it");
    }
    let number = number_of(element).unwrap_or(1);
    for tuning in element.all("staff-tuning") {
        let line = tuning.attribute("line").unwrap_or_default();
        let line = line.trim().parse::<u8>().ok().filter(|l| (1..=12).contains(l));
        let line = line.ok_or_else(|| {
            let found = tuning.attribute("line").unwrap_or_default();
            walk.place().bad_attribute(tuning, found, "a staff line from 1 to 12")
        })?;
        let pitch = open_string(tuning, walk.place())?;
        walk.part.staves.entry(number).or_default().tuning.insert(line, pitch);
    }
    Ok(())
}

fn open_string(tuning: Element<'_>, place: Where<'_>) -> Result<Pitch, MusicXmlError> {
    let step = tuning.child("tuning-step").ok_or_else(|| place.missing(tuning, "tuning-step"))?;
    let octave = tuning.child("tuning-octave").ok_or_else(|| place.missing(tuning, "tuning-octave"))?;
    let letter = step.text().chars().next().and_then(Step::from_letter).filter(|_| step.text().len() == 1);
    let letter = letter.ok_or_else(|| place.bad(step, "a letter from A to G"))?;
    let alter = match tuning.child("tuning-alter") {
        None => 0,
        Some(alter) => Decimal::parse(alter.text())
            .and_then(|d| i8::try_from(d.rounded().0).ok())
            .ok_or_else(|| place.bad(alter, "semitones, such as -1"))?,
    };
    let name = PitchName::new(letter, alter).ok_or_else(|| place.bad(tuning, "an open string"))?;
    let octave_number = octave.text().parse().ok();
    octave_number.and_then(|o| Pitch::new(name, o)).ok_or_else(|| place.bad(octave, "an octave from 0 to 9"))
}

fn transpose<'t>(walk: &mut Walk<'t>, element: Element<'t>) -> Result<(), MusicXmlError> {
    let transposition = Transposition::read(element, walk.place())?;
    walk.part.transposes = true;
    match number_of(element) {
        Some(staff) => {
            walk.by_staff.insert(staff, transposition);
            // Chord symbols and the key go by the first staff.
            if staff == 1 {
                walk.transposition = transposition;
            }
        }
        None => {
            walk.transposition = transposition;
            walk.by_staff.clear();
        }
    }
    Ok(())
}
