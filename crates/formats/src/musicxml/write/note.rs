//! One note or rest on one staff.

use riffkin_score::note::{Approach, Mark};
use riffkin_score::value::NoteValue;

use super::super::marks::{POP, SLAP, type_of};
use super::groups::Bracket;
use super::plan::Head;
use super::xml::Xml;

/// Which of the two staves.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Staff {
    /// Bass clef, staff 1.
    Notation,
    /// Tablature, staff 2.
    Tablature,
}

/// A note or rest with all that surrounds it.
pub(super) struct Written<'a> {
    /// Its value.
    pub(super) value: NoteValue,
    /// Its length in divisions.
    pub(super) ticks: i64,
    /// The head; `None` for a rest.
    pub(super) head: Option<Head>,
    /// Its beams, by level.
    pub(super) beams: &'a [&'static str],
    /// Its tuplet bracket.
    pub(super) bracket: Bracket,
    /// The staff it is written on.
    pub(super) staff: Staff,
    /// True when the document has a tablature staff.
    pub(super) tablature: bool,
}

/// Start or stop of a line between two notes.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Arc {
    Start,
    Stop,
}

impl Arc {
    fn word(self) -> &'static str {
        match self {
            Self::Start => "start",
            Self::Stop => "stop",
        }
    }
}

impl Written<'_> {
    /// Writes the `note` element, children in the order of the schema.
    pub(super) fn write(&self, xml: &mut Xml) {
        let on_tablature = self.staff == Staff::Tablature;
        match self.head {
            None if on_tablature => xml.open("note", &[("print-object", "no")]),
            _ => xml.open("note", &[]),
        }
        match self.head {
            None => xml.empty("rest", &[]),
            Some(head) => {
                let written = head.note.pitch.written();
                xml.open("pitch", &[]);
                xml.text("step", written.name().step().letter());
                if written.name().alter() != 0 {
                    xml.text("alter", written.name().alter());
                }
                xml.text("octave", written.octave());
                xml.close();
            }
        }
        xml.text("duration", self.ticks);
        if let Some(head) = self.head {
            if head.tied_from {
                xml.empty("tie", &[("type", "stop")]);
            }
            if head.note.tied {
                xml.empty("tie", &[("type", "start")]);
            }
        }
        xml.text("voice", if on_tablature { 5 } else { 1 });
        xml.text("type", type_of(self.value.shape()));
        for _ in 0..self.value.dots() {
            xml.empty("dot", &[]);
        }
        if let Some(tuplet) = self.value.tuplet() {
            xml.open("time-modification", &[]);
            xml.text("actual-notes", tuplet.actual());
            xml.text("normal-notes", tuplet.normal());
            xml.close();
        }
        if on_tablature && self.head.is_some() {
            xml.text("stem", "none");
        }
        self.notehead(xml);
        xml.text("staff", if on_tablature { 2 } else { 1 });
        if !on_tablature {
            for (level, beam) in self.beams.iter().enumerate() {
                xml.leaf("beam", &[("number", &(level + 1).to_string())], beam);
            }
        }
        self.notations(xml);
        if self.has(Mark::PalmMute) {
            xml.open("play", &[]);
            xml.text("mute", "palm");
            xml.close();
        }
        xml.close();
    }

    fn has(&self, mark: Mark) -> bool {
        self.head.is_some_and(|h| h.note.marks.has(mark))
    }

    fn notehead(&self, xml: &mut Xml) {
        match (self.has(Mark::Dead), self.has(Mark::Ghost)) {
            (true, false) => xml.text("notehead", "x"),
            (true, true) => xml.leaf("notehead", &[("parentheses", "yes")], "x"),
            (false, true) => xml.leaf("notehead", &[("parentheses", "yes")], "normal"),
            (false, false) => {}
        }
    }

    /// Lines that end or start here: from the approach of this head and of the next.
    fn arcs(&self) -> Vec<(Arc, Approach, usize, bool)> {
        let Some(head) = self.head else { return Vec::new() };
        let mut arcs = Vec::new();
        if head.note.approach != Approach::Plucked {
            arcs.push((Arc::Stop, head.note.approach, head.number, head.has_before));
        }
        if head.next != Approach::Plucked {
            arcs.push((Arc::Start, head.next, head.number + 1, true));
        }
        arcs
    }

    /// Neighbouring lines take turns with two numbers; each staff has its own two.
    fn line_number(&self, head: usize) -> String {
        (1 + head % 2 + if self.staff == Staff::Tablature { 2 } else { 0 }).to_string()
    }

    fn notations(&self, xml: &mut Xml) {
        let mut inner = Inner { xml, open: false };
        if let Some(head) = self.head {
            if head.tied_from {
                inner.open().empty("tied", &[("type", "stop")]);
            }
            if head.note.tied {
                inner.open().empty("tied", &[("type", "start")]);
            }
            if self.has(Mark::LetRing) {
                inner.open().empty("tied", &[("type", "let-ring")]);
            }
        }
        let arcs = self.arcs();
        for &(arc, approach, number, whole) in &arcs {
            let number = self.line_number(number);
            // A slur joins what is not plucked anew. The first note of a riff has nothing to be joined to;
            // for a slide the end of the slur still tells it from one with a new pluck.
            if approach != Approach::SlidePlucked && (whole || approach == Approach::Slide) {
                inner.open().empty("slur", &[("type", arc.word()), ("number", &number)]);
            }
        }
        if self.bracket.start {
            inner.open().empty("tuplet", &[("type", "start")]);
        }
        if self.bracket.stop {
            inner.open().empty("tuplet", &[("type", "stop")]);
        }
        for &(arc, approach, number, _) in &arcs {
            if matches!(approach, Approach::Slide | Approach::SlidePlucked) {
                let number = self.line_number(number);
                inner
                    .open()
                    .empty("slide", &[("type", arc.word()), ("number", &number), ("line-type", "solid")]);
            }
        }
        if self.has(Mark::Vibrato) {
            let xml = inner.open();
            xml.open("ornaments", &[]);
            xml.empty("wavy-line", &[("type", "start"), ("number", "1")]);
            xml.empty("wavy-line", &[("type", "stop"), ("number", "1")]);
            xml.close();
        }
        self.technical(&mut inner, &arcs);
        if self.has(Mark::Staccato) || self.has(Mark::Accent) {
            let xml = inner.open();
            xml.open("articulations", &[]);
            if self.has(Mark::Accent) {
                xml.empty("accent", &[]);
            }
            if self.has(Mark::Staccato) {
                xml.empty("staccato", &[]);
            }
            xml.close();
        }
        inner.finish();
    }

    fn technical(&self, notations: &mut Inner<'_>, arcs: &[(Arc, Approach, usize, bool)]) {
        let Some(head) = self.head else { return };
        let mut inner = Technical { notations, open: false };
        let here = !self.tablature || self.staff == Staff::Tablature;
        if let Some(finger) = head.note.finger.filter(|_| self.staff == Staff::Notation) {
            inner.open().text("fingering", finger);
        }
        if let Some(place) = head.note.place.filter(|_| here) {
            let xml = inner.open();
            xml.text("string", place.string);
            xml.text("fret", place.fret);
        }
        for &(arc, approach, number, _) in arcs {
            let (element, letter) = match approach {
                Approach::Hammer => ("hammer-on", "H"),
                Approach::Pull => ("pull-off", "P"),
                _ => continue,
            };
            let number = self.line_number(number);
            let text = if arc == Arc::Start { letter } else { "" };
            inner.open().leaf(element, &[("type", arc.word()), ("number", &number)], text);
        }
        if head.note.bend > 0 {
            let xml = inner.open();
            xml.open("bend", &[]);
            // Semitones; a quarter tone is half of one.
            let half = if head.note.bend % 2 == 1 { ".5" } else { "" };
            xml.text("bend-alter", format!("{}{half}", head.note.bend / 2));
            xml.close();
        }
        if self.has(Mark::Harmonic) {
            let xml = inner.open();
            xml.open("harmonic", &[]);
            xml.empty("natural", &[]);
            xml.empty("sounding-pitch", &[]);
            xml.close();
        }
        for (mark, word) in [(Mark::Slap, SLAP), (Mark::Pop, POP)] {
            if self.has(mark) {
                inner.open().text("other-technical", word);
            }
        }
        inner.finish();
    }
}

/// The `notations` element, opened when the first thing goes in.
struct Inner<'x> {
    xml: &'x mut Xml,
    open: bool,
}

impl Inner<'_> {
    fn open(&mut self) -> &mut Xml {
        if !self.open {
            self.xml.open("notations", &[]);
            self.open = true;
        }
        self.xml
    }

    fn finish(self) {
        if self.open {
            self.xml.close();
        }
    }
}

/// The `technical` element, opened when the first thing goes in.
struct Technical<'i, 'x> {
    notations: &'i mut Inner<'x>,
    open: bool,
}

impl Technical<'_, '_> {
    fn open(&mut self) -> &mut Xml {
        let xml = self.notations.open();
        if !self.open {
            xml.open("technical", &[]);
            self.open = true;
        }
        xml
    }

    fn finish(self) {
        if self.open {
            self.notations.xml.close();
        }
    }
}
