//! A riff as a MusicXML document.

mod groups;
mod measure;
mod note;
mod plan;
mod xml;

use riffkin_fretboard::neck::Neck;
use riffkin_score::meter::Meter;
use riffkin_score::riff::Riff;

use super::WriteOptions;
use super::marks::{FIELD_KEY, FIELD_METERS, FIELD_NECK, FIELD_REMARK, FIELD_TEMPO, type_of};
use plan::Plan;
use xml::Xml;

/// General MIDI program of a fingered electric bass, counted from 1 (General MIDI 1).
const FINGERED_BASS: &str = "34";

/// The whole document.
pub(super) fn document(riff: &Riff, options: &WriteOptions<'_>) -> String {
    let plan = Plan::new(riff, options);
    let mut xml = Xml::new();
    xml.raw(
        "<!DOCTYPE score-partwise PUBLIC \"-//Recordare//DTD MusicXML 4.0 Partwise//EN\" \
         \"http://www.musicxml.org/dtds/partwise.dtd\">",
    );
    xml.open("score-partwise", &[("version", "4.0")]);
    header(&mut xml, riff);
    part_list(&mut xml);
    xml.open("part", &[("id", "P1")]);
    for bar in 0..riff.bars().len() {
        measure::measure(&mut xml, &plan, bar);
    }
    xml.finish()
}

fn header(xml: &mut Xml, riff: &Riff) {
    let header = riff.header();
    if !header.title.is_empty() {
        xml.open("work", &[]);
        xml.text("work-title", &header.title);
        xml.close();
    }
    xml.open("identification", &[]);
    if let Some(permission) = &header.permission {
        xml.text("rights", permission);
    }
    xml.open("encoding", &[]);
    xml.text("software", "Riffkin");
    xml.close();
    if let Some(source) = &header.source {
        xml.text("source", source);
    }
    xml.open("miscellaneous", &[]);
    let mut field = |name: &str, text: &str| xml.leaf("miscellaneous-field", &[("name", name)], text);
    if let Some(key) = header.key {
        field(FIELD_KEY, &key.to_string());
    }
    field(FIELD_NECK, header.neck.as_deref().unwrap_or_default());
    for remark in &header.remarks {
        field(FIELD_REMARK, remark);
    }
    if plan::starts_elsewhere(riff) {
        let (unit, per_minute) = (header.tempo.unit(), header.tempo.per_minute());
        let dots = ".".repeat(usize::from(unit.dots()));
        let number = measure::decimal(per_minute, 3);
        field(FIELD_TEMPO, &format!("{}{dots} {number}", type_of(unit.shape())));
    }
    let meters = odd_meters(riff);
    if !meters.is_empty() {
        field(FIELD_METERS, &meters);
    }
    xml.close();
    xml.close();
}

/// Meters felt as one group where more are usual: `beats` has no way to say so.
fn odd_meters(riff: &Riff) -> String {
    let mut found = Vec::new();
    let mut before = None;
    for (i, bar) in riff.bars().iter().enumerate() {
        let meter = bar.meter;
        let usual = Meter::new(meter.beats(), meter.unit()) == Some(meter);
        if before != Some(meter) && !usual && meter.group_sizes().len() == 1 {
            found.push(format!("{i}:{}/{}", meter.beats(), meter.unit()));
        }
        before = Some(meter);
    }
    found.join(" ")
}

fn part_list(xml: &mut Xml) {
    xml.open("part-list", &[]);
    xml.open("score-part", &[("id", "P1")]);
    xml.text("part-name", "Bass");
    xml.open("score-instrument", &[("id", "P1-I1")]);
    xml.text("instrument-name", "Electric Bass (finger)");
    xml.text("instrument-sound", "pluck.bass.electric");
    xml.close();
    xml.open("midi-instrument", &[("id", "P1-I1")]);
    xml.text("midi-channel", 1);
    xml.text("midi-program", FINGERED_BASS);
    xml.close();
    xml.close();
    xml.close();
}

/// Lines, tuning and clef sign of a tablature staff; line 1 is the lowest string and the tuning sounds
/// (MusicXML 4.0, `staff-tuning`).
fn tablature(xml: &mut Xml, neck: &Neck) {
    xml.open("staff-details", &[("number", "2")]);
    xml.text("staff-lines", neck.string_count());
    for (line, open) in neck.strings().iter().rev().enumerate() {
        xml.open("staff-tuning", &[("line", &(line + 1).to_string())]);
        xml.text("tuning-step", open.name().step().letter());
        if open.name().alter() != 0 {
            xml.text("tuning-alter", open.name().alter());
        }
        xml.text("tuning-octave", open.octave());
        xml.close();
    }
    xml.close();
}
