//! A score's root element to a riff.

mod attributes;
mod barline;
mod bars;
mod choose;
mod direction;
mod harmony;
mod header;
mod line;
mod note;
mod notices;
mod part;
mod pitch;
mod split;
mod values;

use std::collections::BTreeMap;

use riffkin_score::Warning;
use riffkin_score::chord::Chord;
use riffkin_score::meter::Meter;
use riffkin_score::note::Mark;
use riffkin_score::pitch::Pitch;
use riffkin_score::riff::{Header, Riff};
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;

use super::MusicXmlError;
use super::tree::Element;
use choose::{Case, PartInfo};
use direction::RawTempo;
use header::Texts;
use line::{Head, Line};
use notices::Notices;
use part::{RawMeasure, RawPart, Walk};

/// Reads the bass line of a score.
pub(super) fn score(root: Element<'_>) -> Result<(Riff, Vec<Warning>), MusicXmlError> {
    let mut notices = Notices::default();
    let texts = header::texts(root, &mut notices);
    let parts = parts(root, &texts.meters)?;
    let cases: Vec<Case> = parts.iter().map(|(info, part)| choose::case(info, part)).collect();
    let best = choose::best(&parts, &cases);
    if parts.len() > 1 {
        let reasons = match cases[best].reasons.as_slice() {
            [] => "it lies lowest".to_owned(),
            reasons => reasons.join(", "),
        };
        let label = parts[best].0.label();
        notices.add("", format!("of {} parts {label} is read as the bass: {reasons}", parts.len()));
    }
    let (mut chosen, mut others) = take(parts, best);
    let riff = riff(&mut chosen, &mut others, texts, &mut notices)?;
    notices.append(std::mem::take(&mut chosen.notices));
    Ok((riff, notices.into_warnings()))
}

fn take<'t>(parts: Vec<(PartInfo<'t>, RawPart<'t>)>, best: usize) -> (RawPart<'t>, Vec<RawPart<'t>>) {
    let mut chosen = RawPart::default();
    let mut others = Vec::new();
    for (i, (_, part)) in parts.into_iter().enumerate() {
        if i == best { chosen = part } else { others.push(part) }
    }
    (chosen, others)
}

/// A measure: the element that bears its number, and the one that bears its content. By parts they are one.
type Measure<'t> = (Element<'t>, Element<'t>);

/// Every part with its measures, whether the score goes by parts or by time.
fn parts<'t>(
    root: Element<'t>,
    odd_meters: &BTreeMap<usize, Meter>,
) -> Result<Vec<(PartInfo<'t>, RawPart<'t>)>, MusicXmlError> {
    let mut ids: Vec<&'t str> = Vec::new();
    let mut measures: BTreeMap<&'t str, Vec<Measure<'t>>> = BTreeMap::new();
    let mut add = |id: &'t str, more: &mut dyn Iterator<Item = Measure<'t>>| {
        if !measures.contains_key(id) {
            ids.push(id);
        }
        measures.entry(id).or_default().extend(more);
    };
    match root.name() {
        "score-partwise" => {
            for element in root.all("part") {
                let id = element.attribute("id").unwrap_or_default();
                add(id, &mut element.all("measure").map(|m| (m, m)));
            }
        }
        "score-timewise" => {
            for measure in root.all("measure") {
                for element in measure.all("part") {
                    let id = element.attribute("id").unwrap_or_default();
                    add(id, &mut std::iter::once((measure, element)));
                }
            }
        }
        other => {
            return Err(MusicXmlError::NotAScore { root: notices::short(other), line: root.line() });
        }
    }
    if measures.values().all(Vec::is_empty) {
        let message = "the score holds no part with measures".to_owned();
        return Err(MusicXmlError::NoMusic { line: root.line(), message });
    }
    let listed: BTreeMap<&str, Element<'_>> = root
        .all("part-list")
        .flat_map(|l| l.all("score-part"))
        .filter_map(|p| Some((p.attribute("id")?, p)))
        .collect();
    let mut parts = Vec::with_capacity(ids.len());
    for id in ids {
        let info = match listed.get(id) {
            Some(element) => PartInfo::read(*element),
            None => PartInfo { id, ..PartInfo::default() },
        };
        let own = measures.get(id).map(Vec::as_slice).unwrap_or_default();
        parts.push((info, Walk::run(id, own, odd_meters)?));
    }
    Ok(parts)
}

fn riff<'t>(
    part: &mut RawPart<'t>,
    others: &mut [RawPart<'t>],
    texts: Texts,
    notices: &mut Notices,
) -> Result<Riff, MusicXmlError> {
    let (staff, tabs, heard) = choose::staves(part);
    if heard > 1 {
        notices.add("", format!("of {heard} staves with notes staff {staff}, the lowest, is read"));
    }
    let mut line = line::draw(part, staff, true);
    for tab in &tabs {
        let tablature = line::draw(part, *tab, false);
        line::merge(&mut line, &tablature.heads);
    }
    borrow_tablature(&mut line, others, notices);
    octave(&mut line, part, notices);
    borrow_bar_lines(part, others);
    let mut bars = bars::bars(part, &line);
    let first = |has: fn(&RawMeasure<'_>) -> bool| {
        let any = |p: &RawPart<'_>| p.measures.iter().any(has);
        if any(part) { None } else { others.iter().position(any) }
    };
    let source = |index: Option<usize>| index.map_or(&*part, |i| &others[i]);
    let chords: Vec<Vec<(Quarters, Chord)>> =
        source(first(|m| !m.chords.is_empty())).measures.iter().map(|m| m.chords.clone()).collect();
    let (start, tempi) = tempi(source(first(|m| !m.tempi.is_empty())), texts.tempo);
    if start.is_none() {
        notices.add("", "no tempo is given at the start; 120 quarter notes a minute are assumed");
    }
    let feel = part.feel.or_else(|| others.iter().find_map(|p| p.feel)).unwrap_or_default();
    let mut late = Notices::default();
    bars::place_above(&mut bars, &part.measures, &chords, &tempi, &mut late);
    let header = Header {
        key: header::key(
            texts.key.as_deref(),
            part.key.as_ref(),
            part.transposition.interval.fifths(),
            notices,
        ),
        tempo: start.unwrap_or_default(),
        feel,
        neck: header::neck(texts.neck.as_deref(), part, notices),
        ..texts.header
    };
    part.notices.append(late);
    Ok(Riff::new(header, bars)?)
}

/// The tempo at the very start, and the later ones by measure. A `hidden` start is one that the first mark
/// takes the place of.
fn tempi(part: &RawPart<'_>, hidden: Option<Tempo>) -> (Option<Tempo>, Vec<Vec<(Quarters, Tempo)>>) {
    let mut start: Option<Tempo> = hidden;
    let mut standing: Option<Tempo> = None;
    let mut out = Vec::with_capacity(part.measures.len());
    for (index, measure) in part.measures.iter().enumerate() {
        let mut here: Vec<&RawTempo> = measure.tempi.iter().collect();
        here.sort_by_key(|t| t.at);
        let mut changes: Vec<(Quarters, Tempo)> = Vec::new();
        let mut marked: Option<&RawTempo> = None;
        for tempo in here {
            let beside = marked.filter(|m| m.at == tempo.at);
            let as_fast =
                |t: &Tempo| (t.seconds_per_quarter() / tempo.tempo.seconds_per_quarter() - 1.0).abs() < 1e-4;
            let again = if tempo.marked {
                // The same mark, written over another staff as well.
                beside.is_some_and(|m| m.tempo == tempo.tempo && m.staff != tempo.staff)
            } else {
                beside.is_some() || standing.as_ref().is_some_and(as_fast)
            };
            if tempo.marked {
                marked = Some(tempo);
            }
            if again {
                continue;
            }
            standing = Some(tempo.tempo);
            if index == 0 && tempo.at == Quarters::ZERO && start.is_none() {
                start = Some(tempo.tempo);
            } else {
                changes.push((tempo.at, tempo.tempo));
            }
        }
        out.push(changes);
    }
    (start, out)
}

/// Some programs keep the tablature in a part of its own: when that has the same notes, its strings and
/// frets are taken over.
fn borrow_tablature(line: &mut Line, others: &mut [RawPart<'_>], notices: &mut Notices) {
    if line.heads.iter().any(|h| h.place.is_some()) {
        return;
    }
    for other in others.iter_mut() {
        let tabs: Vec<u16> =
            other.staves.iter().filter(|(_, look)| look.sign == "TAB").map(|(n, _)| *n).collect();
        for tab in tabs {
            let tablature = line::draw(other, tab, false);
            let mut with = Line { heads: line.heads.clone(), measures: Vec::new() };
            let found = line::merge(&mut with, &tablature.heads);
            if found > 0 && found * 10 >= line.heads.len() * 9 && found * 10 >= tablature.heads.len() * 9 {
                line.heads = with.heads;
                notices.add("", "strings and frets are taken from another part with the same notes");
                return;
            }
        }
    }
}

/// Some programs write repeats into one part only.
fn borrow_bar_lines(part: &mut RawPart<'_>, others: &[RawPart<'_>]) {
    let plain = barline::Barlines::default();
    if part.measures.iter().any(|m| m.bars != plain) {
        return;
    }
    if let Some(other) = others.iter().find(|p| p.measures.iter().any(|m| m.bars != plain)) {
        for (own, theirs) in part.measures.iter_mut().zip(&other.measures) {
            own.bars = theirs.bars.clone();
        }
    }
}

/// Written and sounding octave: a file without `transpose` is read as sounding, as the standard has it,
/// unless its own tablature says otherwise.
fn octave(line: &mut Line, part: &RawPart<'_>, notices: &mut Notices) {
    let tuning: Vec<Pitch> = part
        .staves
        .values()
        .map(|s| &s.tuning)
        .find(|t| !t.is_empty())
        .map(|t| t.values().rev().copied().collect())
        .unwrap_or_default();
    let off = |head: &Head| {
        let place = head.place.filter(|_| !head.marks.has(Mark::Harmonic))?;
        let open = tuning.get(usize::from(place.string).checked_sub(1)?)?;
        let fretted = i32::from(open.midi().number()) + i32::from(place.fret);
        Some(fretted - i32::from(head.pitch.midi().number()))
    };
    let offs: Vec<i32> = line.heads.iter().filter_map(off).collect();
    let wrong = offs.iter().filter(|o| **o != 0).count();
    if wrong > 0 {
        let same = offs.iter().all(|o| Some(o) == offs.first());
        let shift = offs.first().copied().unwrap_or(0);
        if same && shift % 12 == 0 && !part.transposes {
            let octaves = i8::try_from(shift / 12).unwrap_or(0);
            let moved: Option<Vec<Pitch>> = line.heads.iter().map(|h| h.pitch.octaves(octaves)).collect();
            if let Some(moved) = moved {
                for (head, pitch) in line.heads.iter_mut().zip(moved) {
                    head.pitch = pitch;
                }
                notices.add(
                    "",
                    format!(
                        "no transposition is given; strings and frets show that the notes sound {} octave(s) {}",
                        octaves.abs(),
                        if octaves < 0 { "lower than written" } else { "higher than written" }
                    ),
                );
            }
            return;
        }
        notices
            .add("", format!("{wrong} of {} notes do not sound where their string and fret lie", offs.len()));
        return;
    }
    // E2, the lowest written note of a four-string bass: a line wholly above it, taken as sounding, never
    // uses the lowest octave of the instrument.
    let lowest = line.heads.iter().map(|h| h.pitch.midi().number()).min();
    let bass_clef = part.staves.values().any(|s| s.sign == "F" && s.clef_octave == 0);
    if !part.transposes && !part.sung && offs.is_empty() && bass_clef && lowest.is_some_and(|l| l >= 40) {
        notices.add(
            "",
            "no transposition is given, so notes are read as sounding where they are written; \
             if the file has a bass guitar's writing in mind, move the riff down an octave",
        );
    }
}
