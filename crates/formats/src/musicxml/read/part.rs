//! One part, measure by measure: the cursor through notes, backups and forwards, and all that stands
//! between them.

use std::collections::BTreeMap;

use riffkin_score::chord::Chord;
use riffkin_score::meter::Meter;
use riffkin_score::pitch::{Midi, Pitch};
use riffkin_score::riff::Riff;
use riffkin_score::tempo::Feel;
use riffkin_score::time::Quarters;
use riffkin_score::value::{NoteValue, Shape};

use super::super::MusicXmlError;
use super::super::tree::Element;
use super::attributes::{self, KeySignature};
use super::barline;
use super::direction::{self, RawTempo};
use super::harmony::{Symbol, harmony};
use super::note::{Playing, RawNote, playing};
use super::notices::{Notices, spot};
use super::pitch::{Transposition, Written};
use super::values::{Decimal, Where, note_value, quarters};

/// Most measures in a part; more than a riff may have are cut, these at the door.
const MAX_MEASURES: usize = 4 * Riff::MAX_BARS;

/// Most staves in a part.
pub(super) const MAX_STAVES: u16 = 99;

/// A measure as the file has it.
#[derive(Debug)]
pub(super) struct RawMeasure<'t> {
    /// Its number as printed.
    pub(super) number: String,
    /// Not counted: a pickup, or the rest of a divided bar.
    pub(super) implicit: bool,
    /// The meter in force.
    pub(super) meter: Meter,
    /// Notes and rests of all staves and voices, in the order of the file.
    pub(super) notes: Vec<RawNote<'t>>,
    /// The furthest that anything reaches.
    pub(super) furthest: Quarters,
    /// Chord symbols.
    pub(super) chords: Vec<(Quarters, Chord)>,
    /// Tempi.
    pub(super) tempi: Vec<RawTempo>,
    /// Repeats and endings.
    pub(super) bars: barline::Barlines,
}

/// How a staff looks.
#[derive(Clone, Debug, Default)]
pub(super) struct StaffLook {
    /// The clef's sign: `F`, `G`, `TAB`, `percussion`.
    pub(super) sign: String,
    /// Octaves in the clef, such as -1 for a clef with a small 8 below.
    pub(super) clef_octave: i32,
    /// Sounding open strings by staff line, from the lowest.
    pub(super) tuning: BTreeMap<u8, Pitch>,
}

/// A part as the file has it.
#[derive(Debug, Default)]
pub(super) struct RawPart<'t> {
    /// Its measures.
    pub(super) measures: Vec<RawMeasure<'t>>,
    /// Its staves by number.
    pub(super) staves: BTreeMap<u16, StaffLook>,
    /// The first key signature.
    pub(super) key: Option<KeySignature>,
    /// A transposition is given, if only one of nothing.
    pub(super) transposes: bool,
    /// Transposition of the first staff.
    pub(super) transposition: Transposition,
    /// Swing, where it starts.
    pub(super) feel: Option<Feel>,
    /// It has words to sing.
    pub(super) sung: bool,
    /// How many notes have no pitch (percussion).
    pub(super) unpitched: usize,
    /// What was met on the way.
    pub(super) notices: Notices,
}

/// The walk through a part.
pub(super) struct Walk<'t> {
    /// The part so far.
    pub(super) part: RawPart<'t>,
    id: &'t str,
    number: String,
    at: Quarters,
    divisions: Decimal,
    /// The meter in force.
    pub(super) meter: Meter,
    /// Transposition of all staves.
    pub(super) transposition: Transposition,
    /// Transpositions of single staves.
    pub(super) by_staff: BTreeMap<u16, Transposition>,
    odd_meters: BTreeMap<usize, Meter>,
    chord_start: Option<Quarters>,
}

impl<'t> Walk<'t> {
    /// Walks the measures of a part. `odd_meters` are meters, by measure, that `time` alone cannot say.
    pub(super) fn run(
        id: &'t str,
        measures: &[(Element<'t>, Element<'t>)],
        odd_meters: &BTreeMap<usize, Meter>,
    ) -> Result<RawPart<'t>, MusicXmlError> {
        if measures.len() > MAX_MEASURES {
            return Err(MusicXmlError::TooLarge { what: "measures", limit: MAX_MEASURES });
        }
        let mut walk = Walk {
            part: RawPart::default(),
            id,
            number: String::new(),
            at: Quarters::ZERO,
            divisions: Decimal { num: 1, den: 1 },
            meter: Meter::FOUR_FOUR,
            transposition: Transposition::NONE,
            by_staff: BTreeMap::new(),
            odd_meters: odd_meters.clone(),
            chord_start: None,
        };
        for (index, measure) in measures.iter().enumerate() {
            walk.measure(index, measure.0, measure.1)?;
        }
        walk.part.transposition = walk.transposition;
        Ok(walk.part)
    }

    /// Where errors are.
    pub(super) fn place(&self) -> Where<'_> {
        Where { part: self.id, measure: &self.number }
    }

    /// Reports something at the cursor.
    pub(super) fn notice(&mut self, message: impl Into<String>) {
        self.notice_at(self.at, message);
    }

    fn notice_at(&mut self, at: Quarters, message: impl Into<String>) {
        let place = spot(&self.number, self.meter, at);
        self.part.notices.add(&place, message);
    }

    /// Sets the divisions of a quarter note.
    pub(super) fn set_divisions(&mut self, element: Element<'_>) -> Result<(), MusicXmlError> {
        self.divisions = Decimal::parse(element.text())
            .filter(|d| d.num > 0)
            .ok_or_else(|| self.place().bad(element, "a number above zero"))?;
        Ok(())
    }

    /// The meter that the file's writer meant at this measure, where `time` could not say it.
    pub(super) fn odd_meter(&self, beats: u8, unit: u8) -> Option<Meter> {
        let index = self.part.measures.len().checked_sub(1)?;
        self.odd_meters.get(&index).copied().filter(|m| m.beats() == beats && m.unit() == unit)
    }

    /// The measure being read.
    pub(super) fn current(&mut self) -> Option<&mut RawMeasure<'t>> {
        self.part.measures.last_mut()
    }

    /// `element` bears the number, `content` the notes; by parts they are one.
    fn measure(
        &mut self,
        index: usize,
        element: Element<'t>,
        content: Element<'t>,
    ) -> Result<(), MusicXmlError> {
        let number = element.attribute("number").map(str::trim).filter(|n| !n.is_empty());
        self.number = number.map_or_else(|| (index + 1).to_string(), super::notices::short);
        self.at = Quarters::ZERO;
        self.chord_start = None;
        self.part.measures.push(RawMeasure {
            number: self.number.clone(),
            implicit: element.attribute("implicit") == Some("yes"),
            meter: self.meter,
            notes: Vec::new(),
            furthest: Quarters::ZERO,
            chords: Vec::new(),
            tempi: Vec::new(),
            bars: barline::Barlines::default(),
        });
        for child in content.children() {
            match child.name() {
                "note" => self.note(child)?,
                "backup" | "forward" => self.jump(child)?,
                "attributes" => attributes::read(self, child)?,
                "direction" => direction::direction(self, child)?,
                "sound" => direction::sound(self, child, Quarters::ZERO, None)?,
                "harmony" => self.harmony(child)?,
                "barline" => barline::read(self, child)?,
                "print" | "figured-bass" | "grouping" | "link" | "bookmark" | "listening" => {
                    if child.name() == "figured-bass" {
                        self.notice("figured bass is left out");
                    }
                }
                other => {
                    let other = super::notices::short(other);
                    self.notice(format!("the element <{other}> is not known and is left out"));
                }
            }
        }
        let meter = self.meter;
        if let Some(measure) = self.current() {
            measure.meter = meter;
        }
        Ok(())
    }

    /// A length given in divisions by a child element.
    fn length(&self, element: Element<'_>) -> Result<(Quarters, bool), MusicXmlError> {
        const WANTED: &str = "a number of divisions from 0 up";
        Decimal::parse(element.text())
            .filter(|d| d.num >= 0)
            .and_then(|d| quarters(d, self.divisions))
            .ok_or_else(|| self.place().bad(element, WANTED))
    }

    /// The position that an `offset` child moves something to; never before the bar line.
    pub(super) fn position(&self, element: Element<'_>) -> Result<Quarters, MusicXmlError> {
        let Some(offset) = element.child("offset") else { return Ok(self.at) };
        let (by, _) = Decimal::parse(offset.text())
            .and_then(|d| quarters(d, self.divisions))
            .ok_or_else(|| self.place().bad(offset, "a number of divisions"))?;
        Ok((self.at + by).max(Quarters::ZERO))
    }

    fn jump(&mut self, element: Element<'t>) -> Result<(), MusicXmlError> {
        let duration = element.child("duration").ok_or_else(|| self.place().missing(element, "duration"))?;
        let (length, _) = self.length(duration)?;
        self.chord_start = None;
        if element.name() == "forward" {
            self.at += length;
            let at = self.at;
            if let Some(measure) = self.current() {
                measure.furthest = measure.furthest.max(at);
            }
            return Ok(());
        }
        self.at -= length;
        // Where the divisions do not divide the music, sums come out beside the bar line.
        if self.at.abs() < closeness() {
            self.at = Quarters::ZERO;
        }
        if self.at < Quarters::ZERO {
            self.at = Quarters::ZERO;
            self.notice("a backup goes beyond the start of the bar; it ends there");
        }
        Ok(())
    }

    fn harmony(&mut self, element: Element<'t>) -> Result<(), MusicXmlError> {
        let at = self.position(element)?;
        let chord = match harmony(element, self.transposition) {
            Symbol::Exact(chord) => chord,
            Symbol::Near(chord, why) => {
                self.notice_at(at, why);
                chord
            }
            Symbol::LeftOut(why) => {
                self.notice_at(at, why);
                return Ok(());
            }
        };
        if let Some(measure) = self.current() {
            measure.chords.push((at, chord));
        }
        Ok(())
    }

    fn note(&mut self, element: Element<'t>) -> Result<(), MusicXmlError> {
        if element.has("grace") {
            self.notice("a grace note is left out");
            return Ok(());
        }
        let written = note_value(element);
        let (length, value) = self.note_length(element, written)?;
        let in_chord = element.has("chord");
        let at = match (in_chord, self.chord_start) {
            (true, Some(start)) => start,
            _ => {
                let at = self.at;
                self.at += length;
                at
            }
        };
        self.chord_start = Some(at);
        let end = at + length;
        if let Some(measure) = self.current() {
            measure.furthest = measure.furthest.max(end);
        }
        if element.has("cue") {
            self.notice_at(at, "a cue note is left out");
            return Ok(());
        }
        let staff = match element.child("staff") {
            None => 1,
            Some(staff) => match staff.text().parse::<u16>() {
                Ok(n @ 1..=MAX_STAVES) => n,
                _ => return Err(self.place().bad(staff, "a staff's number, from 1")),
            },
        };
        let pitch = self.pitch(element, staff, at)?;
        let mut playing = match pitch {
            Some(_) => {
                let mut left_out = Vec::new();
                let playing = playing(element, self.place(), &mut |what| left_out.push(what))?;
                for what in left_out {
                    self.notice_at(at, what);
                }
                playing
            }
            None => Playing::default(),
        };
        self.part.sung |= element.has("lyric");
        if element.has("unpitched") {
            playing.marks = playing.marks.with(riffkin_score::note::Mark::Dead);
        }
        if length == Quarters::ZERO {
            if pitch.is_some() {
                self.notice_at(at, "a note without length is left out");
            }
            return Ok(());
        }
        let whole_measure = element.child("rest").is_some_and(|r| r.attribute("measure") == Some("yes"));
        let starts = |e: Element<'_>| e.attribute("type") == Some("start");
        let tied = element.all("tie").any(starts)
            || element.all("notations").flat_map(|n| n.all("tied")).any(starts);
        let note = RawNote {
            at,
            length,
            value,
            pitch,
            whole_measure,
            tied,
            staff,
            voice: element.text_of("voice").unwrap_or("1"),
            playing,
        };
        self.keep(note, in_chord);
        Ok(())
    }

    /// Keeps a note; of a chord only the lowest.
    fn keep(&mut self, note: RawNote<'t>, in_chord: bool) {
        let at = note.at;
        let Some(measure) = self.current() else { return };
        let before = measure.notes.last_mut().filter(|b| in_chord && b.at == at && b.pitch.is_some());
        let Some(before) = before else {
            measure.notes.push(note);
            return;
        };
        if note.pitch.is_some_and(|p| before.pitch.is_none_or(|b| p.midi() < b.midi())) {
            *before = RawNote { length: before.length, value: before.value, ..note };
        }
        self.notice_at(at, "of notes struck together the lowest is kept");
    }

    /// The length of a note and, when it is that long, the value it is written with.
    fn note_length(
        &mut self,
        element: Element<'t>,
        written: Option<NoteValue>,
    ) -> Result<(Quarters, Option<NoteValue>), MusicXmlError> {
        let Some(duration) = element.child("duration") else {
            let Some(value) = written else { return Err(self.place().missing(element, "duration")) };
            self.notice("a note without a duration is as long as it is written");
            return Ok((value.length(), Some(value)));
        };
        let (length, rounded) = self.length(duration)?;
        let Some(value) = written else {
            if rounded {
                self.notice("a length that is no musical value is rounded");
            }
            return Ok((length, None));
        };
        if value.length() == length {
            return Ok((length, Some(value)));
        }
        // Whole divisions may be too coarse for what is written: then what is written counts.
        let off = (value.length() - length).abs();
        let one_division = quarters(Decimal { num: 1, den: 1 }, self.divisions).map_or(off, |(q, _)| q);
        if off <= one_division && off < closeness() {
            return Ok((value.length(), Some(value)));
        }
        let whole_measure = element.child("rest").is_some_and(|r| r.attribute("measure") == Some("yes"));
        if !whole_measure {
            self.notice("a note is written longer or shorter than it lasts; how long it lasts counts");
        }
        Ok((length, None))
    }

    fn pitch(
        &mut self,
        element: Element<'t>,
        staff: u16,
        at: Quarters,
    ) -> Result<Option<Pitch>, MusicXmlError> {
        let written = if let Some(pitch) = element.child("pitch") {
            Written::read(pitch, ["step", "alter", "octave"], self.place())?
        } else if let Some(unpitched) = element.child("unpitched") {
            self.part.unpitched += 1;
            if !unpitched.has("display-step") {
                self.notice_at(at, "a note without pitch or position is read as a rest");
                return Ok(None);
            }
            self.notice_at(at, "a note without pitch is read as a dead note where it stands");
            Written::read(unpitched, ["display-step", "display-alter", "display-octave"], self.place())?
        } else if element.has("rest") {
            return Ok(None);
        } else {
            return Err(self.place().missing(element, "pitch"));
        };
        if written.microtonal {
            self.notice_at(at, "an alteration between semitones is rounded");
        }
        let by = self.by_staff.get(&staff).copied().unwrap_or(self.transposition);
        match written.sounding(by) {
            Some((pitch, false)) => Ok(Some(pitch)),
            Some((pitch, true)) => {
                self.notice_at(at, "a pitch beyond double sharps and flats is spelled anew");
                Ok(Some(pitch))
            }
            None => {
                self.notice_at(at, "a pitch outside MIDI 0 to 127 is read as a rest");
                Ok(None)
            }
        }
    }
}

/// Times nearer than the shortest value that notation has here, the hundred-twenty-eighth, are one.
pub(super) fn closeness() -> Quarters {
    Shape::HundredTwentyEighth.length()
}

impl RawPart<'_> {
    /// Number, lowest and mean MIDI number of the sounding notes on staves that `on` accepts.
    pub(super) fn register(&self, on: impl Fn(u16) -> bool) -> Option<(usize, Midi, f64)> {
        let mut count = 0usize;
        let mut sum = 0u64;
        let mut lowest: Option<Midi> = None;
        let notes = self.measures.iter().flat_map(|m| &m.notes).filter(|n| on(n.staff));
        for midi in notes.filter_map(|n| n.pitch).map(Pitch::midi) {
            count += 1;
            sum += u64::from(midi.number());
            lowest = Some(lowest.map_or(midi, |l| l.min(midi)));
        }
        lowest.map(|lowest| (count, lowest, sum as f64 / count as f64))
    }
}
