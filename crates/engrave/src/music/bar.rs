//! What stands in each bar, before anything has a place.

use super::accidentals::{Accidentals, signature};
use super::grouping::{TupletGroup, beams, tuplets};
use super::{Fingered, Layout, Part};
use crate::font::smufl;
use crate::font::symbol_bounds;
use riffkin_score::Warning;
use riffkin_score::degree::Degree;
use riffkin_score::note::{Mark, Note};
use riffkin_score::riff::Bar;
use riffkin_score::tempo::Tempo;
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};
use std::ops::Range;

/// Space between an accidental and its head, and between a head and its first dot, in staff spaces.
pub(super) const ACCIDENTAL_GAP: f64 = 0.25;
pub(super) const DOT_GAP: f64 = 0.4;
pub(super) const DOT_STEP: f64 = 0.65;

/// A notehead and what clings to it.
#[derive(Clone, Debug)]
pub(super) struct Head {
    pub(super) note: Note,
    pub(super) symbol: char,
    /// Diatonic steps above the middle line.
    pub(super) position: i32,
    pub(super) accidental: Option<char>,
    pub(super) dots: u8,
    pub(super) flags: u8,
    /// False for whole notes and longer.
    pub(super) stemmed: bool,
    /// Index into [`Riff::line`](riffkin_score::riff::Riff::line).
    pub(super) line: usize,
    /// True for the first head of tied ones.
    pub(super) first: bool,
    pub(super) fingered: Option<Fingered>,
    pub(super) degree: Option<Degree>,
    /// The event right before it is a note.
    pub(super) follows: bool,
}

impl Head {
    pub(super) fn width(&self) -> f64 {
        symbol_bounds(self.symbol).right
    }
    pub(super) fn ghost(&self) -> bool {
        self.note.marks.has(Mark::Ghost)
    }
    pub(super) fn has_ledger(&self) -> bool {
        self.position.abs() >= 6
    }
    /// What the tablature shows for it.
    pub(super) fn tab_text(&self) -> Option<String> {
        let f = self.fingered.filter(|_| self.first)?;
        let marks = self.note.marks;
        let core = if marks.has(Mark::Dead) { "x".to_owned() } else { f.place.fret.to_string() };
        Some(if marks.has(Mark::Ghost) {
            format!("({core})")
        } else if marks.has(Mark::Harmonic) {
            format!("<{core}>")
        } else {
            core
        })
    }
}

/// A rest.
#[derive(Clone, Copy, Debug)]
pub(super) struct Rest {
    pub(super) symbol: char,
    pub(super) dots: u8,
    /// The bar holds nothing else: it is centred.
    pub(super) whole_bar: bool,
}

/// The sound at a slot.
#[derive(Clone, Debug)]
pub(super) enum Sign {
    Head(Head),
    Rest(Rest),
}

/// One moment of a bar.
#[derive(Clone, Debug)]
pub(super) struct Slot {
    /// From the bar line.
    pub(super) at: Quarters,
    /// To the next slot or the end of the bar.
    pub(super) room: Quarters,
    /// The note or rest that starts here and its value.
    pub(super) sign: Option<(Sign, NoteValue)>,
    pub(super) chord: Option<String>,
    pub(super) tempo: Option<Tempo>,
    /// Extents of ink left and right of the head's left edge.
    pub(super) left: f64,
    pub(super) right: f64,
}

impl Slot {
    pub(super) fn head(&self) -> Option<&Head> {
        match &self.sign {
            Some((Sign::Head(h), _)) => Some(h),
            _ => None,
        }
    }
}

/// A bar with its moments.
#[derive(Clone, Debug)]
pub(super) struct BarPlan<'a> {
    pub(super) bar: &'a Bar,
    pub(super) number: u32,
    /// From the start of the riff.
    pub(super) start: Quarters,
    pub(super) slots: Vec<Slot>,
    /// Slots under one beam.
    pub(super) beams: Vec<Vec<usize>>,
    /// Tuplets with the slots they cover.
    pub(super) tuplets: Vec<(Range<usize>, TupletGroup)>,
    /// The meter is printed here.
    pub(super) shows_meter: bool,
    /// The bracket of an ending begins or ends here.
    pub(super) ending_starts: bool,
    pub(super) ending_ends: bool,
}

/// All bars, and the signature that stands on every system.
pub(super) struct Bars<'a> {
    pub(super) list: Vec<BarPlan<'a>>,
    pub(super) signature: i32,
}

pub(super) fn prepare<'a>(part: &Part<'a>, layout: &Layout, warnings: &mut Vec<Warning>) -> Bars<'a> {
    let riff = part.riff;
    let signature = signature(riff.header().key).unwrap_or_else(|| {
        warnings.push(Warning::whole(
            "the key would need more than seven sharps or flats; every accidental stands at its note",
        ));
        0
    });
    let mut accidentals = Accidentals::new(signature);
    let mut line = 0usize;
    let mut tied = false;
    let mut after_note = false;
    let bars = riff.bars();
    let mut list = Vec::with_capacity(bars.len());
    for (index, bar) in bars.iter().enumerate() {
        accidentals.bar_line();
        let before = index.checked_sub(1).and_then(|i| bars.get(i));
        let after = bars.get(index + 1);
        let mut slots = Vec::new();
        let mut at = Quarters::ZERO;
        let mut event_slots = Vec::new();
        for event in &bar.events {
            let sign = match event.note {
                Some(note) => {
                    let first = !tied;
                    let head =
                        head(part, layout, note, event.value, line, first, after_note, &mut accidentals);
                    tied = note.tied;
                    if !tied {
                        line += 1;
                    }
                    after_note = true;
                    Sign::Head(head)
                }
                None => {
                    after_note = false;
                    tied = false;
                    Sign::Rest(rest(event.value, bar.events.len() == 1))
                }
            };
            event_slots.push(at);
            slots.push(Slot {
                at,
                room: Quarters::ZERO,
                sign: Some((sign, event.value)),
                chord: None,
                tempo: None,
                left: 0.0,
                right: 0.0,
            });
            at += event.value.length();
        }
        add_signs(&mut slots, bar, index, layout, riff.header().tempo);
        finish(&mut slots, bar.length());
        let lead =
            if index == 0 && bar.short { bar.meter.bar_length() - bar.length() } else { Quarters::ZERO };
        let slot_of: Vec<usize> = event_slots
            .iter()
            .map(|o| slots.iter().position(|s| s.at == *o && s.sign.is_some()).unwrap_or_default())
            .collect();
        let groups = beams(bar.meter, lead, &bar.events);
        let tuplets = tuplets(&bar.events, &groups)
            .into_iter()
            .filter_map(|t| {
                let from = *slot_of.get(t.events.start)?;
                let to = *slot_of.get(t.events.end.checked_sub(1)?)?;
                Some((from..to + 1, t))
            })
            .collect();
        let beams: Vec<Vec<usize>> =
            groups.into_iter().map(|g| g.filter_map(|e| slot_of.get(e).copied()).collect()).collect();
        extents(&mut slots, &beams, part.neck.is_some());
        list.push(BarPlan {
            bar,
            number: riff.bar_number(index),
            start: riff.bar_start(index),
            slots,
            beams,
            tuplets,
            shows_meter: before.is_none_or(|b| b.meter != bar.meter),
            ending_starts: !bar.endings.is_empty() && before.is_none_or(|b| b.endings != bar.endings),
            ending_ends: !bar.endings.is_empty() && after.is_none_or(|b| b.endings != bar.endings),
        });
    }
    unplaced(part, line, warnings);
    Bars { list, signature }
}

/// Warns of notes without a place when there is a tablature.
fn unplaced(part: &Part<'_>, notes: usize, warnings: &mut Vec<Warning>) {
    let Some(neck) = part.neck else { return };
    let on_neck =
        |f: &&Option<Fingered>| f.is_some_and(|f| (1..=neck.string_count()).contains(&f.place.string));
    let placed = part.places.iter().take(notes).filter(on_neck).count();
    if placed < notes {
        let n = notes - placed;
        let what = if n == 1 { "1 note has".to_owned() } else { format!("{n} notes have") };
        warnings.push(Warning::whole(format!("{what} no string and fret; the tablature leaves a gap there")));
    }
}

#[allow(clippy::too_many_arguments, reason = "a head depends on all of this, and nothing else calls it")]
fn head(
    part: &Part<'_>,
    layout: &Layout,
    note: Note,
    value: NoteValue,
    line: usize,
    first: bool,
    follows: bool,
    accidentals: &mut Accidentals,
) -> Head {
    let written = note.pitch.written();
    let dead = note.marks.has(Mark::Dead);
    let harmonic = note.marks.has(Mark::Harmonic);
    let symbol = match (value.shape(), dead, harmonic) {
        (Shape::Breve, false, _) => smufl::NOTEHEAD_DOUBLE_WHOLE,
        (Shape::Breve | Shape::Whole, true, _) => smufl::NOTEHEAD_X_WHOLE,
        (Shape::Whole, _, true) => smufl::NOTEHEAD_DIAMOND_WHOLE,
        (Shape::Whole, ..) => smufl::NOTEHEAD_WHOLE,
        (Shape::Half, true, _) => smufl::NOTEHEAD_X_HALF,
        (Shape::Half, _, true) => smufl::NOTEHEAD_DIAMOND_HALF,
        (Shape::Half, ..) => smufl::NOTEHEAD_HALF,
        (_, true, _) => smufl::NOTEHEAD_X_BLACK,
        (_, _, true) => smufl::NOTEHEAD_DIAMOND_BLACK,
        _ => smufl::NOTEHEAD_BLACK,
    };
    let tonic = riff_tonic(part).filter(|_| layout.degrees && first && !dead);
    let on_neck = |f: &Fingered| part.neck.is_some_and(|n| (1..=n.string_count()).contains(&f.place.string));
    Head {
        note,
        symbol,
        position: written.diatonic() - MIDDLE_LINE,
        accidental: accidentals.needed(written.diatonic(), written.name().alter(), !first),
        dots: value.dots(),
        flags: value.shape().flags(),
        stemmed: value.shape() > Shape::Whole,
        line,
        first,
        fingered: part.places.get(line).copied().flatten().filter(on_neck),
        degree: tonic.and_then(|t| Degree::between(t, note.pitch.name())),
        follows,
    }
}

/// Diatonic place of the bass staff's middle line, D3.
const MIDDLE_LINE: i32 = 22;

fn riff_tonic(part: &Part<'_>) -> Option<riffkin_score::pitch::PitchName> {
    part.riff.header().key.map(|k| k.tonic)
}

fn rest(value: NoteValue, whole_bar: bool) -> Rest {
    let symbol = match value.shape() {
        _ if whole_bar && value.shape() != Shape::Breve => smufl::REST_WHOLE,
        Shape::Breve => smufl::REST_DOUBLE_WHOLE,
        Shape::Whole => smufl::REST_WHOLE,
        Shape::Half => smufl::REST_HALF,
        Shape::Quarter => smufl::REST_QUARTER,
        Shape::Eighth => smufl::REST_8TH,
        Shape::Sixteenth => smufl::REST_16TH,
        Shape::ThirtySecond => smufl::REST_32ND,
        Shape::SixtyFourth => smufl::REST_64TH,
        Shape::HundredTwentyEighth => smufl::REST_128TH,
    };
    Rest { symbol, dots: if whole_bar { 0 } else { value.dots() }, whole_bar }
}

/// Chord symbols and tempo changes, at their slot or at one of their own.
fn add_signs(slots: &mut Vec<Slot>, bar: &Bar, index: usize, layout: &Layout, start: Tempo) {
    let mut slot_at = |at: Quarters| -> usize {
        let i = slots.partition_point(|s| s.at < at);
        if slots.get(i).is_none_or(|s| s.at != at) {
            let empty = Slot {
                at,
                room: Quarters::ZERO,
                sign: None,
                chord: None,
                tempo: None,
                left: 0.0,
                right: 0.0,
            };
            slots.insert(i, empty);
        }
        i
    };
    let mut chords = Vec::new();
    for (at, chord) in &bar.chords {
        chords.push((slot_at(*at), chord.print()));
        // Later chords lie further right, so earlier indices stay good.
    }
    let mut tempi: Vec<(Quarters, Tempo)> = bar.tempi.clone();
    if index == 0 && layout.tempo && tempi.first().is_none_or(|t| t.0 != Quarters::ZERO) {
        tempi.insert(0, (Quarters::ZERO, start));
    }
    for (i, text) in chords {
        if let Some(s) = slots.get_mut(i) {
            s.chord = Some(text);
        }
    }
    for (at, tempo) in tempi {
        let i = slots.partition_point(|s| s.at < at);
        if slots.get(i).is_none_or(|s| s.at != at) {
            let empty = Slot {
                at,
                room: Quarters::ZERO,
                sign: None,
                chord: None,
                tempo: None,
                left: 0.0,
                right: 0.0,
            };
            slots.insert(i, empty);
        }
        if let Some(s) = slots.get_mut(i) {
            s.tempo = Some(tempo);
        }
    }
}

/// Fills in how long each slot lasts.
fn finish(slots: &mut [Slot], length: Quarters) {
    for i in 0..slots.len() {
        let next = slots.get(i + 1).map_or(length, |s| s.at);
        if let Some(s) = slots.get_mut(i) {
            s.room = next - s.at;
        }
    }
}

/// Ink left and right of each head's left edge.
fn extents(slots: &mut [Slot], beams: &[Vec<usize>], has_tab: bool) {
    for (i, slot) in slots.iter_mut().enumerate() {
        let beamed = beams.iter().any(|b| b.contains(&i));
        let dots = |n: u8| if n == 0 { 0.0 } else { DOT_GAP + 0.4 + DOT_STEP * f64::from(n - 1) };
        let (left, right) = match &slot.sign {
            Some((Sign::Head(h), _)) => {
                let paren = if h.ghost() { 0.45 } else { 0.0 };
                let ledger = if h.has_ledger() { smufl::defaults::LEGER_LINE_EXTENSION } else { 0.0 };
                let accidental = h.accidental.map_or(0.0, |a| symbol_bounds(a).width() + ACCIDENTAL_GAP);
                let flag = if h.flags > 0 && !beamed { flag_width(h) } else { 0.0 };
                let right = (paren + dots(h.dots)).max(flag).max(ledger);
                // The arrow of a bend stands to the right of its fret number.
                let bend = if has_tab && h.first && h.note.bend > 0 { 2.3 } else { 0.0 };
                (paren.max(ledger) + accidental, h.width() + right.max(bend))
            }
            Some((Sign::Rest(r), _)) => (0.0, symbol_bounds(r.symbol).right + dots(r.dots)),
            None => (0.0, 0.0),
        };
        slot.left = left;
        slot.right = right;
    }
}

/// How far a flag reaches beyond the head. Only a flag on a stem up does.
fn flag_width(h: &Head) -> f64 {
    if h.position < 0 { 0.9 } else { 0.0 }
}
