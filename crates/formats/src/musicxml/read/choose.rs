//! Which part is the bass, and which of its staves.

use super::super::tree::Element;
use super::part::RawPart;

/// What the part list says about a part.
#[derive(Clone, Debug, Default)]
pub(super) struct PartInfo<'t> {
    /// Its id.
    pub(super) id: &'t str,
    /// Its name, and those of its instruments.
    pub(super) names: Vec<&'t str>,
    /// Instrument sounds (MusicXML 4.0, `instrument-sound`).
    pub(super) sounds: Vec<&'t str>,
    /// General MIDI programs, counted from 1.
    pub(super) programs: Vec<u8>,
    /// It plays on the percussion channel.
    pub(super) percussion: bool,
}

impl<'t> PartInfo<'t> {
    /// Reads a `score-part`.
    pub(super) fn read(element: Element<'t>) -> Self {
        let mut info = PartInfo { id: element.attribute("id").unwrap_or_default(), ..PartInfo::default() };
        info.names.extend(element.text_of("part-name"));
        for instrument in element.all("score-instrument") {
            info.names.extend(instrument.text_of("instrument-name"));
            info.sounds.extend(instrument.text_of("instrument-sound"));
        }
        for midi in element.all("midi-instrument") {
            info.programs.extend(midi.text_of("midi-program").and_then(|p| p.parse::<u8>().ok()));
            info.percussion |= midi.text_of("midi-channel") == Some("10");
        }
        info
    }

    /// What to call it.
    pub(super) fn label(&self) -> String {
        match self.names.first() {
            Some(name) => format!("'{}' ({})", super::notices::short(name), super::notices::short(self.id)),
            None => super::notices::short(self.id),
        }
    }
}

/// How much speaks for a part, and what.
#[derive(Clone, Debug, Default)]
pub(super) struct Case {
    /// Points; only their order means something.
    pub(super) points: i32,
    /// In words.
    pub(super) reasons: Vec<String>,
}

impl Case {
    fn add(&mut self, points: i32, reason: impl Into<String>) {
        self.points += points;
        self.reasons.push(reason.into());
    }
}

/// Weighs instrument, name, tablature, clef, transposition and register. The weights only order the kinds of
/// evidence: what says "bass" in so many words goes before what merely lies low.
pub(super) fn case(info: &PartInfo<'_>, part: &RawPart<'_>) -> Case {
    let mut case = Case::default();
    let Some((count, _, mean)) = part.register(|_| true) else {
        case.add(-2000, "it has no notes");
        return case;
    };
    let drums = part.staves.values().any(|s| s.sign == "percussion");
    if info.percussion || drums || part.unpitched * 2 > count {
        case.add(-1000, "it is percussion");
    }
    if let Some(sound) = info.sounds.iter().find(|s| s.contains("bass") && is_bass(s)) {
        case.add(100, format!("its instrument sound is {}", super::notices::short(sound)));
    }
    if let Some(program) = info.programs.iter().find(|p| (33..=40).contains(*p) || **p == 44) {
        case.add(if *program == 44 { 60 } else { 90 }, format!("its MIDI program is {program}"));
    }
    if let Some(name) = info.names.iter().find(|n| is_bass(n)) {
        case.add(80, format!("it is called '{}'", super::notices::short(name)));
    }
    // The lowest string of a guitar is E2; a bass starts an octave below it (standard tunings).
    let low_strings = |s: &super::part::StaffLook| {
        s.tuning.values().map(|p| p.midi().number()).min().is_some_and(|m| m < 36)
    };
    if part.staves.values().any(low_strings) {
        case.add(70, "it has tablature with the strings of a bass");
    }
    if part.staves.values().any(|s| s.sign == "F") {
        case.add(20, "it is in the bass clef");
    }
    if mean < 48.0 {
        case.add(15, "it lies low");
    }
    case
}

/// True for the names of bass instruments and voices; false for other instruments that bear the word.
fn is_bass(name: &str) -> bool {
    let name = name.to_lowercase();
    let other = [
        "drum",
        "clarinet",
        "bassoon",
        "trombone",
        "flute",
        "sax",
        "recorder",
        "horn",
        "trumpet",
        "oboe",
        "basset",
        "tuba",
        "kick",
        "percussion",
    ];
    let words = ["bass", "basse", "basso", "bajo", "baixo", "baß", "contrabajo", "basgitaar", "basgitarr"];
    words.iter().any(|w| name.contains(w)) && !other.iter().any(|o| name.contains(o))
}

/// The part with the best case; among equals the lowest, then the first.
pub(super) fn best(parts: &[(PartInfo<'_>, RawPart<'_>)], cases: &[Case]) -> usize {
    let mean = |i: usize| parts[i].1.register(|_| true).map_or(f64::MAX, |(_, _, mean)| mean);
    let means: Vec<f64> = (0..parts.len()).map(mean).collect();
    (0..parts.len())
        .max_by(|&a, &b| {
            let (x, y) = (&cases[a], &cases[b]);
            x.points.cmp(&y.points).then(means[b].total_cmp(&means[a])).then(b.cmp(&a))
        })
        .unwrap_or(0)
}

/// The staff to read notes from, and the tablature staves beside it.
pub(super) fn staves(part: &RawPart<'_>) -> (u16, Vec<u16>, usize) {
    let mut with_notes: Vec<u16> = part.measures.iter().flat_map(|m| &m.notes).map(|n| n.staff).collect();
    with_notes.sort_unstable();
    with_notes.dedup();
    let is_tab = |s: &u16| part.staves.get(s).is_some_and(|l| l.sign == "TAB");
    let (tabs, others): (Vec<u16>, Vec<u16>) = with_notes.iter().copied().partition(is_tab);
    let sounding = |staff: &u16| part.register(|s| s == *staff);
    let candidates = if others.iter().any(|s| sounding(s).is_some()) { &others } else { &tabs };
    let chosen = candidates
        .iter()
        .filter_map(|s| Some((*s, sounding(s)?.2)))
        .min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)))
        .map_or_else(|| with_notes.first().copied().unwrap_or(1), |(staff, _)| staff);
    let heard = candidates.iter().filter(|s| sounding(s).is_some()).count();
    (chosen, tabs.into_iter().filter(|t| *t != chosen).collect(), heard)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_of_basses_and_of_others() {
        for name in
            ["Bass", "E-Bass", "Double Bass", "Contrabass", "Basse", "Bajo eléctrico", "pluck.bass.electric"]
        {
            assert!(is_bass(name), "{name}");
        }
        for name in ["Bass Drum", "Bassoon", "Bass Clarinet", "Bass Trombone", "Piano", "Basset Horn"] {
            assert!(!is_bass(name), "{name}");
        }
    }
}
