//! What stands above the notes: title, rights, source, remarks, key, neck.

use std::collections::BTreeMap;

use riffkin_fretboard::neck::Neck;
use riffkin_score::key::{Key, Mode};
use riffkin_score::meter::Meter;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Header;
use riffkin_score::tempo::Tempo;
use riffkin_score::value::NoteValue;

use super::super::marks::{FIELD_KEY, FIELD_METERS, FIELD_NECK, FIELD_REMARK, FIELD_TEMPO, shape_of};
use super::super::tree::Element;
use super::attributes::KeySignature;
use super::notices::{Notices, short};
use super::part::RawPart;

/// Texts of the score's head.
#[derive(Clone, Debug, Default)]
pub(super) struct Texts {
    /// Title, source, permission, remarks.
    pub(super) header: Header,
    /// The exact key of our own field.
    pub(super) key: Option<String>,
    /// The neck of our own field; empty for none.
    pub(super) neck: Option<String>,
    /// The tempo of our own field, which a change on the first beat hides.
    pub(super) tempo: Option<Tempo>,
    /// Meters of our own field, by measure.
    pub(super) meters: BTreeMap<usize, Meter>,
}

/// Reads title, identification and our own fields.
pub(super) fn texts(root: Element<'_>, notices: &mut Notices) -> Texts {
    let mut texts = Texts { header: Header { title: title(root), ..Header::default() }, ..Texts::default() };
    let Some(identification) = root.child("identification") else { return texts };
    let header = &mut texts.header;
    let rights: Vec<&str> = identification.all("rights").map(Element::text).collect();
    header.permission = Some(rights.join("; "));
    header.source = identification.text_of("source").map(str::to_owned);
    let mut people = Vec::new();
    for creator in identification.all("creator").filter(|c| !c.text().is_empty()) {
        let role = creator.attribute("type").filter(|r| !r.is_empty()).unwrap_or("creator");
        people.push(format!("{role}: {}", creator.text()));
    }
    for relation in identification.all("relation").filter(|r| !r.text().is_empty()) {
        people.push(format!("related: {}", relation.text()));
    }
    for field in identification.all("miscellaneous").flat_map(|m| m.all("miscellaneous-field")) {
        let text = field.text();
        match field.attribute("name").unwrap_or_default() {
            FIELD_KEY => texts.key = Some(text.to_owned()),
            FIELD_NECK => texts.neck = Some(text.to_owned()),
            FIELD_REMARK => header.remarks.push(text.to_owned()),
            FIELD_TEMPO => texts.tempo = tempo(text),
            FIELD_METERS => texts.meters = meters(text),
            other => {
                notices.add("", format!("the field '{}' of the file's head is left out", short(other)));
            }
        }
    }
    header.remarks.append(&mut people);
    texts
}

fn title(root: Element<'_>) -> String {
    let work = root.child("work").and_then(|w| w.text_of("work-title"));
    let title = match (work, root.text_of("movement-title")) {
        (Some(work), Some(movement)) if work != movement => Some(format!("{work}: {movement}")),
        (work, movement) => work.or(movement).map(str::to_owned),
    };
    title.unwrap_or_else(|| {
        let credit = |c: &Element<'_>| c.text_of("credit-type") == Some("title");
        root.all("credit").find(credit).and_then(|c| c.text_of("credit-words")).unwrap_or_default().to_owned()
    })
}

/// Reads `quarter. 96`.
fn tempo(text: &str) -> Option<Tempo> {
    let (unit, number) = text.split_once(' ')?;
    let shape = unit.trim_end_matches('.');
    let dots = u8::try_from(unit.len() - shape.len()).ok()?;
    Tempo::new(number.parse().ok()?, NoteValue::new(shape_of(shape)?, dots, None)?)
}

/// Reads `0:4/4 3:2+5/8`.
fn meters(text: &str) -> BTreeMap<usize, Meter> {
    let one = |word: &str| {
        let (index, meter) = word.split_once(':')?;
        let (groups, unit) = meter.split_once('/')?;
        let groups: Option<Vec<u8>> = groups.split('+').map(|g| g.parse().ok()).collect();
        Some((index.parse().ok()?, Meter::grouped(&groups?, unit.parse().ok()?)?))
    };
    text.split_whitespace().filter_map(one).collect()
}

/// The key out of our own field, when it agrees with the signature, else out of signature and mode.
pub(super) fn key(
    exact: Option<&str>,
    signature: Option<&KeySignature>,
    by_fifths: i32,
    notices: &mut Notices,
) -> Option<Key> {
    let signature = signature?;
    let fifths = signature.fifths + by_fifths;
    if let Some(text) = exact {
        match text.parse::<Key>() {
            Ok(key) if key.signature() == fifths => return Some(key),
            _ => notices.add(
                "",
                format!("the key '{}' noted in the file's head no longer fits its signature", short(text)),
            ),
        }
    }
    let mode = match signature.mode.as_str() {
        "" | "none" => None,
        name => {
            let mode = name.parse::<Mode>().ok();
            if mode.is_none() {
                notices.add("", format!("the mode '{}' is not known and is left out", short(name)));
            }
            mode
        }
    };
    let Some(mode) = mode else {
        let name = |place| PitchName::from_line_of_fifths(place).map(|p| p.to_string()).unwrap_or_default();
        let message = format!(
            "the key signature ({}) names no mode, so no tonic: it fits {} major and {} minor as well as others",
            signature_words(fifths),
            name(fifths),
            name(fifths + 3),
        );
        notices.add("", message);
        return None;
    };
    let tonic = PitchName::from_line_of_fifths(fifths - mode.signature_offset());
    if tonic.is_none() {
        notices.add("", format!("a key signature of {} is left out", signature_words(fifths)));
    }
    Some(Key::new(tonic?, mode))
}

fn signature_words(fifths: i32) -> String {
    match fifths {
        0 => "no sharps or flats".to_owned(),
        1 => "1 sharp".to_owned(),
        -1 => "1 flat".to_owned(),
        n if n > 0 => format!("{n} sharps"),
        n => format!("{} flats", -n),
    }
}

/// The neck out of our own field, else the first known one with the tuning of the tablature.
pub(super) fn neck(exact: Option<&str>, part: &RawPart<'_>, notices: &mut Notices) -> Option<String> {
    if let Some(name) = exact {
        return Some(name.to_owned());
    }
    let tuning = part.staves.values().map(|s| &s.tuning).find(|t| !t.is_empty())?;
    let midi: Vec<u8> = tuning.values().rev().map(|p| p.midi().number()).collect();
    let same = |name: &&str| {
        Neck::named(name)
            .is_ok_and(|neck| neck.strings().iter().map(|p| p.midi().number()).eq(midi.iter().copied()))
    };
    let known = Neck::NAMES.into_iter().find(same);
    if known.is_none() {
        let strings: Vec<String> = tuning.values().map(ToString::to_string).collect();
        notices.add("", format!("the tuning {} belongs to no known neck; none is named", strings.join(" ")));
    }
    known.map(str::to_owned)
}
