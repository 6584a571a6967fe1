//! One measure: bar lines, attributes, directions, chord symbols, and the notes of both staves.

use riffkin_score::chord::{Chord, ChordKind};
use riffkin_score::key::Mode;
use riffkin_score::meter::Meter;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Bar;
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::time::Quarters;

use super::groups::{beams, brackets};
use super::note::{Staff, Written};
use super::plan::{Plan, starts_elsewhere};
use super::xml::Xml;
use super::{super::marks::type_of, tablature};

/// Writes the measure at an index.
pub(super) fn measure(xml: &mut Xml, plan: &Plan<'_>, index: usize) {
    let bar = &plan.riff.bars()[index];
    let number = plan.riff.bar_number(index).to_string();
    if bar.short {
        xml.open("measure", &[("number", &number), ("implicit", "yes")]);
    } else {
        xml.open("measure", &[("number", &number)]);
    }
    left_barline(xml, plan, index);
    attributes(xml, plan, index);
    if index == 0 && !starts_elsewhere(plan.riff) {
        let header = plan.riff.header();
        tempo(xml, header.tempo, 0, header.feel);
    }
    staff(xml, plan, index, Staff::Notation);
    if plan.tablature.is_some() {
        xml.open("backup", &[]);
        xml.text("duration", plan.ticks(bar.length()));
        xml.close();
        staff(xml, plan, index, Staff::Tablature);
    }
    right_barline(xml, plan, index);
    xml.close();
}

fn attributes(xml: &mut Xml, plan: &Plan<'_>, index: usize) {
    let bars = plan.riff.bars();
    let bar = &bars[index];
    let first = index == 0;
    let new_meter = first || bars.get(index.wrapping_sub(1)).is_some_and(|b| b.meter != bar.meter);
    if !new_meter {
        return;
    }
    xml.open("attributes", &[]);
    if first {
        xml.text("divisions", plan.divisions);
        if let Some(key) = plan.riff.header().key {
            xml.open("key", &[]);
            xml.text("fifths", key.signature());
            if let Some(mode) = key.mode {
                xml.text("mode", mode_element(mode));
            }
            xml.close();
        }
    }
    xml.open("time", &[]);
    xml.text("beats", beats(bar.meter));
    xml.text("beat-type", bar.meter.unit());
    xml.close();
    if first {
        if plan.tablature.is_some() {
            xml.text("staves", 2);
        }
        xml.open("clef", &[("number", "1")]);
        xml.text("sign", "F");
        xml.text("line", 4);
        xml.close();
        if plan.tablature.is_some() {
            xml.open("clef", &[("number", "2")]);
            xml.text("sign", "TAB");
            xml.text("line", 5);
            xml.close();
        }
        if let Some(neck) = &plan.tablature {
            tablature(xml, neck);
        }
        // Bass sounds an octave below what is written: the one place where the file says so.
        xml.open("transpose", &[]);
        xml.text("diatonic", 0);
        xml.text("chromatic", 0);
        xml.text("octave-change", -1);
        xml.close();
    }
    xml.close();
}

/// The upper number, as a sum when the groups are not the usual ones: `3+2+2`.
fn beats(meter: Meter) -> String {
    if Meter::new(meter.beats(), meter.unit()) == Some(meter) {
        return meter.beats().to_string();
    }
    meter.group_sizes().iter().map(u8::to_string).collect::<Vec<_>>().join("+")
}

/// The `mode` of a key; scales that MusicXML does not name get the diatonic mode whose signature they use.
fn mode_element(mode: Mode) -> &'static str {
    match mode {
        Mode::Major | Mode::MajorPentatonic | Mode::MajorBlues => "major",
        Mode::Minor | Mode::HarmonicMinor | Mode::MelodicMinor | Mode::MinorPentatonic | Mode::MinorBlues => {
            "minor"
        }
        Mode::Dorian => "dorian",
        Mode::Phrygian | Mode::PhrygianDominant => "phrygian",
        Mode::Lydian => "lydian",
        Mode::Mixolydian => "mixolydian",
        Mode::Locrian => "locrian",
    }
}

fn staff(xml: &mut Xml, plan: &Plan<'_>, index: usize, staff: Staff) {
    let bar = &plan.riff.bars()[index];
    let (beams, brackets) = (beams(bar), brackets(&bar.events));
    let mut at = Quarters::ZERO;
    for (i, event) in bar.events.iter().enumerate() {
        let end = at + event.value.length();
        if staff == Staff::Notation {
            above(xml, plan, bar, at, end);
        }
        let written = Written {
            value: event.value,
            ticks: plan.ticks(event.value.length()),
            head: plan.heads[index][i],
            beams: &beams[i],
            bracket: brackets[i],
            staff,
            tablature: plan.tablature.is_some(),
        };
        written.write(xml);
        at = end;
    }
}

/// Chord symbols and tempo changes from `at` up to `end`, each with its distance from `at`.
fn above(xml: &mut Xml, plan: &Plan<'_>, bar: &Bar, at: Quarters, end: Quarters) {
    for &(offset, change) in bar.tempi.iter().filter(|t| (at..end).contains(&t.0)) {
        // Where a change hides the header's tempo it bears the feel too.
        let first = offset == Quarters::ZERO && std::ptr::eq(bar, &plan.riff.bars()[0]);
        let feel = if first { plan.riff.header().feel } else { Feel::Straight };
        tempo(xml, change, plan.ticks(offset - at), feel);
    }
    for &(offset, chord) in bar.chords.iter().filter(|c| (at..end).contains(&c.0)) {
        harmony(xml, chord, plan.ticks(offset - at));
    }
}

fn tempo(xml: &mut Xml, tempo: Tempo, offset: i64, feel: Feel) {
    xml.open("direction", &[("placement", "above")]);
    xml.open("direction-type", &[]);
    xml.open("metronome", &[]);
    xml.text("beat-unit", type_of(tempo.unit().shape()));
    for _ in 0..tempo.unit().dots() {
        xml.empty("beat-unit-dot", &[]);
    }
    xml.text("per-minute", decimal(tempo.per_minute(), 3));
    xml.close();
    xml.close();
    if offset != 0 {
        xml.leaf("offset", &[("sound", "yes")], offset);
    }
    xml.text("staff", 1);
    let quarters = decimal(tempo.per_minute() * tempo.unit().length().to_f64(), 6);
    match feel {
        Feel::Straight => xml.empty("sound", &[("tempo", &quarters)]),
        Feel::Swing(swing) => {
            xml.open("sound", &[("tempo", &quarters)]);
            xml.open("swing", &[]);
            xml.text("first", swing.long());
            xml.text("second", swing.short());
            xml.text("swing-type", if swing.sixteenths() { "16th" } else { "eighth" });
            xml.close();
            xml.close();
        }
    }
    xml.close();
}

/// A number with at most so many decimals and no idle zeros.
pub(super) fn decimal(number: f64, places: usize) -> String {
    let text = format!("{number:.places$}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn harmony(xml: &mut Xml, chord: Chord, offset: i64) {
    let name = |xml: &mut Xml, [outer, step, alter]: [&'static str; 3], name: PitchName| {
        xml.open(outer, &[]);
        xml.text(step, name.step().letter());
        if name.alter() != 0 {
            xml.text(alter, name.alter());
        }
        xml.close();
    };
    xml.open("harmony", &[]);
    name(xml, ["root", "root-step", "root-alter"], chord.root);
    xml.leaf("kind", &[("text", chord.kind.suffix())], chord.kind.musicxml());
    if let Some(bass) = chord.bass {
        name(xml, ["bass", "bass-step", "bass-alter"], bass);
    }
    if chord.kind == ChordKind::SeventhSuspendedFourth {
        xml.open("degree", &[("print-object", "no")]);
        xml.text("degree-value", 7);
        // Against a dominant seventh, so the flat seventh is not altered (MusicXML 4.0, `degree-alter`).
        xml.text("degree-alter", 0);
        xml.text("degree-type", "add");
        xml.close();
    }
    if offset != 0 {
        xml.text("offset", offset);
    }
    xml.text("staff", 1);
    xml.close();
}

fn left_barline(xml: &mut Xml, plan: &Plan<'_>, index: usize) {
    let bars = plan.riff.bars();
    let bar = &bars[index];
    let before = index.checked_sub(1).and_then(|i| bars.get(i));
    let ending = !bar.endings.is_empty() && before.is_none_or(|b| b.endings != bar.endings);
    if !bar.repeat_start && !ending {
        return;
    }
    xml.open("barline", &[("location", "left")]);
    if bar.repeat_start {
        xml.text("bar-style", "heavy-light");
    }
    if ending {
        xml.empty("ending", &[("number", &passes(bar)), ("type", "start")]);
    }
    if bar.repeat_start {
        xml.empty("repeat", &[("direction", "forward")]);
    }
    xml.close();
}

fn right_barline(xml: &mut Xml, plan: &Plan<'_>, index: usize) {
    let bars = plan.riff.bars();
    let bar = &bars[index];
    let after = bars.get(index + 1);
    let ending = !bar.endings.is_empty() && after.is_none_or(|b| b.endings != bar.endings);
    if bar.repeat_end.is_none() && !ending && after.is_some() {
        return;
    }
    xml.open("barline", &[("location", "right")]);
    if bar.repeat_end.is_some() || after.is_none() {
        xml.text("bar-style", "light-heavy");
    }
    if ending {
        let kind = if bar.repeat_end.is_some() { "stop" } else { "discontinue" };
        xml.empty("ending", &[("number", &passes(bar)), ("type", kind)]);
    }
    if let Some(times) = bar.repeat_end {
        xml.empty("repeat", &[("direction", "backward"), ("times", &times.to_string())]);
    }
    xml.close();
}

fn passes(bar: &Bar) -> String {
    bar.endings.iter().map(u8::to_string).collect::<Vec<_>>().join(", ")
}
