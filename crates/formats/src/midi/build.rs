//! From a file to a riff.

use riffkin_score::Warning;
use riffkin_score::analysis::spell::spell;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::note::Note;
use riffkin_score::pitch::{Midi, Pitch};
use riffkin_score::rhythm::{Layout, Played, TimedNote, notate};
use riffkin_score::riff::{Bar, Header, Riff};
use riffkin_score::tempo::{Feel, Tempo};
use riffkin_score::time::Quarters;

use super::file::{Division, File, FileNote, Track};
use super::find::{self, Candidate};
use super::line::{self, Left};
use super::ours::Ours;
use super::texts::{NoteText, named};
use super::timeline::Timeline;
use super::times::{Foreign, Found, Recovery};
use super::write::plain_name;
use super::{MAX_NOTES, MidiError, MidiOptions};

/// Most warnings of one kind before they are counted together.
const MOST_SAID: usize = 8;

/// Finds the bass and makes a riff of it.
pub(super) fn riff(file: File, options: &MidiOptions) -> Result<(Riff, Vec<Warning>), MidiError> {
    let mut file = file;
    let mut warnings = std::mem::take(&mut file.warnings);
    let ours = Ours::of(&file);
    let (part, said) = match find::choose(&file, options) {
        // A riff of rests is a riff.
        Err(MidiError::NoNotes { candidates: 0, .. }) if ours.is_some() => (Candidate::empty(), Vec::new()),
        chosen => chosen?,
    };
    if part.notes > MAX_NOTES {
        return Err(MidiError::TooManyNotes { place: part.place(), found: part.notes, limit: MAX_NOTES });
    }
    let notes: Vec<FileNote> =
        file.tracks[part.track - 1].notes.iter().filter(|n| n.channel + 1 == part.channel).cloned().collect();
    let track = &file.tracks[part.track - 1];
    let timeline = Timeline::of(&file, track, options, &mut warnings)?;
    let (notes, left) = line::lowest(notes, (timeline.ticks / 24.0) as u64);
    let source = Source { file: &file, track, part: &part, timeline: &timeline, options };

    if let Some(ours) = ours {
        for words in &ours.strange {
            let said = format!("'{words}' is not understood and was left out");
            warnings.push(Warning::at("a text of Riffkin's own", said));
        }
        let as_written = options.meter.is_none() && options.tempo.is_none() && options.feel.is_none();
        if as_written && let Some(read) = source.written(&ours, &notes, &mut warnings)? {
            return Ok((read, warnings));
        }
        warnings.push(Warning::whole(
            "Riffkin wrote this file, but its times have been changed since: they were read as those of any other file",
        ));
    }
    warnings.extend(said.into_iter().map(Warning::whole));
    source.foreign(&notes, &left, warnings)
}

// What a riff is made from.
struct Source<'a> {
    file: &'a File,
    track: &'a Track,
    part: &'a Candidate,
    timeline: &'a Timeline,
    options: &'a MidiOptions,
}

impl Source<'_> {
    fn riff(&self, header: Header, bars: Vec<Bar>) -> Result<Riff, MidiError> {
        Riff::new(header, bars).map_err(|source| MidiError::Riff { place: self.part.place(), source })
    }

    fn title(&self) -> String {
        let first = self.file.tracks.first();
        // The name of the first track is that of the piece, unless it is the part's own.
        first
            .filter(|t| {
                self.file.format != 2 && (t.number != self.track.number || self.file.tracks.len() == 1)
            })
            .map(|t| t.name.clone())
            .unwrap_or_default()
    }

    // A file of our own, exactly; `None` when its notes no longer lie where our texts say.
    fn written(
        &self,
        ours: &Ours,
        notes: &[FileNote],
        warnings: &mut Vec<Warning>,
    ) -> Result<Option<Riff>, MidiError> {
        let Division::Quarter(ticks) = self.file.division else { return Ok(None) };
        let ticks = i64::from(ticks);
        let straight = Recovery::new([], Feel::Straight, ours.grid, ticks);
        let zero = straight.tick(ours.start);
        let straight_at = |tick: u64| i64::try_from(tick).ok().and_then(|t| straight.at(t - zero));

        // Bars, from the meters.
        let mut meter = Meter::FOUR_FOUR;
        let mut changes: Vec<(Quarters, Meter)> = Vec::new();
        for &(tick, _, plain) in &self.timeline.meters {
            let exact = ours.meters.iter().find(|m| m.0 == tick).map_or(plain, |m| m.1);
            match straight_at(tick) {
                Some(at) if at > Quarters::ZERO => changes.push((at, exact)),
                Some(_) => meter = exact,
                None => return Ok(None),
            }
        }
        let conductor_end = self.file.tracks.first().map_or(0, |t| t.end);
        let Some(until) = straight_at(conductor_end) else { return Ok(None) };
        let full = meter.bar_length();
        let mut pickup = Quarters::ZERO;
        match changes.first() {
            Some(&(at, _)) if at < full => pickup = at,
            None if ours.end_short && until < full => pickup = until,
            _ => {}
        }
        let layout = Layout { pickup, changes, until, end_short: ours.end_short, ..Layout::new(meter) };
        let Ok(empty) = notate(&[], &layout) else { return Ok(None) };
        let feel = if ours.swung { ours.feel } else { Feel::Straight };
        let recovery =
            Recovery::new(empty.iter().map(|b| (b.length(), b.meter.bar_length())), feel, ours.grid, ticks);

        let mut timed = Vec::with_capacity(notes.len());
        for note in notes {
            let text = match note.text.as_deref().map(NoteText::read) {
                Some(Ok(text)) => text,
                Some(Err(word)) => {
                    let said = format!("'{word}' in a note's text is not understood; the text was left out");
                    warnings.push(Warning::at(format!("tick {}", note.on), said));
                    NoteText::default()
                }
                None => NoteText::default(),
            };
            let (Ok(on), Ok(off)) = (i64::try_from(note.on), i64::try_from(note.off)) else {
                return Ok(None);
            };
            let (onset, length) = match (text.exact, recovery.at(on - zero), recovery.at(off - zero)) {
                (Some(exact), _, _) => exact,
                (None, Some(from), Some(to)) => (from, to - from),
                _ => return Ok(None),
            };
            let near = |tick: i64, at: Quarters| (recovery.tick(at) + zero - tick).abs() <= 1;
            if !(near(on, onset) && near(off, onset + length) && length.is_positive()) {
                return Ok(None);
            }
            let Some(midi) = Midi::new(note.midi) else { return Ok(None) };
            let Some(note) = text.note(midi, plain_name(ours.key, note.midi % 12)) else { return Ok(None) };
            timed.push(TimedNote { onset, length, note });
        }
        let Ok(mut bars) = notate(&timed, &layout) else { return Ok(None) };

        let tempi: Vec<(Quarters, Tempo)> = self
            .timeline
            .tempi
            .iter()
            .filter_map(|t| Some((straight.at(straight.tick(t.0) - zero)?, t.1)))
            .collect();
        let tempo = place_tempi(&mut bars, &tempi);
        let mut chords = Vec::new();
        for (tick, chord) in &ours.chords {
            chords.extend(straight_at(*tick).map(|at| (at, *chord)));
        }
        chords.sort_by_key(|c| c.0);
        in_bars(&mut bars, &chords, |bar, offset, chord| {
            if bar.chords.last().is_none_or(|c| c.0 < offset) {
                bar.chords.push((offset, chord));
            }
        });
        let title = self.file.tracks.first().map(|t| t.name.clone()).unwrap_or_default();
        let mut header = ours.header(title);
        header.tempo = tempo;
        header.key = self.options.key.or(header.key);
        self.riff(header, bars).map(Some)
    }

    // A file of somebody else's.
    fn foreign(
        &self,
        notes: &[FileNote],
        left: &[Left],
        mut warnings: Vec<Warning>,
    ) -> Result<(Riff, Vec<Warning>), MidiError> {
        let line = self.timeline;
        let played: Vec<Played> = notes
            .iter()
            .map(|n| Played {
                onset: line.quarters(n.on),
                length: line.quarters(n.off) - line.quarters(n.on),
                midi: n.midi,
            })
            .collect();
        let first = played.first().map_or(0.0, |n| n.onset);
        let bars = Bars::of(line, first, self.options.from_start, &mut warnings);
        let foreign = Foreign {
            played: &played,
            meter: bars.meter,
            changes: &bars.changes,
            downbeat: bars.downbeat.to_f64(),
            feel: self.options.feel,
            ticks: match self.file.division {
                Division::Quarter(_) => line.ticks,
                Division::Second(_) => f64::INFINITY,
            },
        };
        let times = |source| MidiError::Times { place: self.part.place(), source };
        let (mut quantised, mut found) = foreign.find().map_err(times)?;

        let (key, said) = match self.options.key {
            Some(key) => (Some(key), None),
            None => line.key(),
        };
        let written = loop {
            let timed = spelled(&quantised.notes, key);
            match notate(&timed, &quantised.layout) {
                Ok(bars) => break bars,
                Err(_) if found == Found::OnTheGrid => {
                    quantised = foreign.plain().map_err(times)?;
                    found = Found::Played;
                }
                Err(source) => return Err(MidiError::Notation { place: self.part.place(), source }),
            }
        };
        let mut written = written;
        let starts = {
            let (full, pickup) = (bars.meter.bar_length(), quantised.layout.pickup);
            let before = bars.downbeat.to_f64() - quantised.starts - pickup.to_f64();
            bars.downbeat - pickup - full * (before / full.to_f64()).round() as i64
        };
        let tempi: Vec<(Quarters, Tempo)> =
            line.tempi.iter().map(|&(at, tempo)| (at - starts, tempo)).collect();
        let tempo = place_tempi(&mut written, &thinned(tempi, &mut warnings));
        let title = self.title();
        let mut header = Header { title, key, tempo, feel: quantised.feel, ..Header::default() };
        if !self.track.copyright.is_empty() || self.file.tracks.iter().any(|t| !t.copyright.is_empty()) {
            let notice = self.file.tracks.iter().map(|t| &t.copyright).find(|c| !c.is_empty());
            header.permission = notice.map(|words| format!("notice in the file: {words}"));
        }
        let riff = self.riff(header, written)?;

        warnings.extend(said);
        if found == Found::Played {
            let spread = quantised.spread * 100.0;
            warnings.push(Warning::whole(format!(
                "the notes were played, not placed on a grid: their rhythm is the likeliest ({spread:.1} % of a quarter off in the middle)"
            )));
            warnings.extend(quantised.warnings.iter().take(MOST_SAID).cloned());
            if quantised.warnings.len() > MOST_SAID {
                let more = quantised.warnings.len() - MOST_SAID;
                let said = format!("{more} more notes fall together with others or are in doubt");
                warnings.push(Warning::whole(said));
            }
        }
        if let Feel::Swing(swing) = riff.header().feel
            && self.options.feel.is_none()
        {
            let of = if swing.sixteenths() { "sixteenths" } else { "eighths" };
            warnings.push(Warning::whole(format!(
                "the {of} are swung {} to {}: they are written even",
                swing.long(),
                swing.short()
            )));
        }
        let place = |tick: u64| {
            let at = line.quarters(tick) - starts.to_f64();
            let twelfths = Quarters::new((at * 12.0).round() as i64, 12).unwrap_or_default();
            riff.place_of(twelfths.max(Quarters::ZERO))
        };
        for l in left.iter().take(MOST_SAID) {
            let name = Midi::new(l.midi).and_then(|m| named(m, plain_name(key, l.midi % 12)));
            let name = name.map_or_else(|| l.midi.to_string(), |n| n.to_string());
            warnings.push(Warning::at(place(l.on), format!("{name} was left out: {}", l.why)));
        }
        if left.len() > MOST_SAID {
            let said = format!("{} more notes were left out, each for a lower one", left.len() - MOST_SAID);
            warnings.push(Warning::whole(said));
        }
        let unfinished: Vec<&FileNote> = notes.iter().filter(|n| n.unfinished).collect();
        for n in unfinished.iter().take(MOST_SAID) {
            let said = "this note is never ended in the file; it was ended at the next one or at the end";
            warnings.push(Warning::at(place(n.on), said));
        }
        if unfinished.len() > MOST_SAID {
            let said = format!("{} more notes are never ended", unfinished.len() - MOST_SAID);
            warnings.push(Warning::whole(said));
        }
        warnings.push(Warning::whole(
            "MIDI holds no strings, frets, slides or playing marks: add what belongs there",
        ));
        Ok((riff, warnings))
    }
}

fn spelled(notes: &[riffkin_score::rhythm::QuantisedNote], key: Option<Key>) -> Vec<TimedNote> {
    let midis: Vec<Midi> = notes.iter().filter_map(|n| Midi::new(n.midi)).collect();
    let pitches: Vec<Pitch> = spell(&midis, key);
    notes
        .iter()
        .zip(pitches)
        .map(|(n, pitch)| TimedNote { onset: n.onset, length: n.length, note: Note::plain(pitch) })
        .collect()
}

// Gives each thing to the bar that holds it, with the distance from the bar line. Places must rise; what lies
// outside the bars is passed over.
fn in_bars<T: Copy>(bars: &mut [Bar], things: &[(Quarters, T)], mut put: impl FnMut(&mut Bar, Quarters, T)) {
    let mut coming = things.iter().copied().peekable();
    let mut start = Quarters::ZERO;
    for bar in bars {
        let end = start + bar.length();
        while let Some((at, thing)) = coming.next_if(|t| t.0 < end) {
            if at >= start {
                put(bar, at - start, thing);
            }
        }
        start = end;
    }
}

// Puts tempo changes into the bars and gives the tempo at the start. Changes must rise.
fn place_tempi(bars: &mut [Bar], tempi: &[(Quarters, Tempo)]) -> Tempo {
    let first = tempi.iter().rev().find(|t| t.0 <= Quarters::ZERO).map_or_else(Tempo::default, |t| t.1);
    let mut standing = first;
    in_bars(bars, tempi, |bar, offset, tempo| {
        // Two changes may be rounded to one place: the first is passed over by the second in the file already.
        let free = bar.tempi.last().is_none_or(|t| t.0 < offset);
        let at_start = offset == Quarters::ZERO && tempo == standing;
        if tempo != standing && free && !at_start {
            bar.tempi.push((offset, tempo));
            standing = tempo;
        }
    });
    first
}

// Very many tempo changes are a curve drawn by a program or a tempo tapped along: only its steps of 2 percent and
// more are kept.
fn thinned(tempi: Vec<(Quarters, Tempo)>, warnings: &mut Vec<Warning>) -> Vec<(Quarters, Tempo)> {
    if tempi.len() <= MOST_TEMPI {
        return tempi;
    }
    let all = tempi.len();
    let mut kept: Vec<(Quarters, Tempo)> = Vec::new();
    for (at, tempo) in tempi {
        let differs = kept
            .last()
            .is_none_or(|k| (tempo.seconds_per_quarter() / k.1.seconds_per_quarter() - 1.0).abs() >= 0.02);
        if at <= Quarters::ZERO || differs {
            kept.push((at, tempo));
        }
    }
    let said = format!("of {all} tempo changes, {} were kept: those of 2 % and more", kept.len());
    warnings.push(Warning::whole(said));
    kept
}

/// More tempo changes than this are thinned out.
const MOST_TEMPI: usize = 64;

// Where the bars of a foreign file lie, and where its riff begins.
struct Bars {
    meter: Meter,
    // From the downbeat on.
    changes: Vec<(Quarters, Meter)>,
    downbeat: Quarters,
}

impl Bars {
    fn of(line: &Timeline, first_note: f64, from_start: bool, warnings: &mut Vec<Warning>) -> Self {
        // Stretches of one meter; a change that falls inside a bar cuts it short.
        let mut stretches: Vec<(Quarters, Meter)> = vec![(Quarters::ZERO, Meter::FOUR_FOUR)];
        if !line.meters.iter().any(|m| m.1 == Quarters::ZERO) {
            warnings.push(Warning::whole("the file names no meter at its start; 4/4 was taken"));
        }
        for &(_, at, meter) in &line.meters {
            let Some(last) = stretches.last_mut() else { break };
            if at <= last.0 {
                last.1 = meter;
            } else if meter != last.1 {
                if (at - last.0).rest_of_steps(last.1.bar_length()) != Quarters::ZERO {
                    let said = format!(
                        "the meter changes to {meter} in the middle of a bar, {at} quarters into the file; that bar is short"
                    );
                    warnings.push(Warning::whole(said));
                }
                stretches.push((at, meter));
            }
        }
        let (mut begin, mut meter) = (Quarters::ZERO, stretches[0].1);
        // One bar of a shorter meter at the start is a pickup.
        if let Some(&(at, next)) = stretches.get(1)
            && at == meter.bar_length()
            && next.bar_length() > at
        {
            (begin, meter) = (at, next);
        }
        // A note just before a bar line belongs to the bar after it.
        let first = first_note + 0.1;
        if !from_start && first >= begin.to_f64() {
            let i = stretches.partition_point(|s| s.0.to_f64() <= first).saturating_sub(1);
            let (start, of) = stretches[i];
            let full = of.bar_length();
            let into = first - start.to_f64();
            let bar = start + full * (into / full.to_f64()).floor() as i64;
            let end = stretches.get(i + 1).map_or(bar + full, |s| s.0.min(bar + full));
            if bar > begin {
                let said = format!(
                    "the first note comes {bar} quarters into the file; the bars of rest before it were left out"
                );
                warnings.push(Warning::whole(said));
            }
            (begin, meter) = (bar, of);
            if (first - bar.to_f64()) * 2.0 > full.to_f64() + 0.2 {
                // More rest than not: a pickup to the next bar.
                begin = end;
                meter = stretches.get(i + 1).filter(|s| s.0 == end).map_or(of, |s| s.1);
            }
        }
        let changes =
            stretches.iter().filter(|s| s.0 > begin).map(|&(at, meter)| (at - begin, meter)).collect();
        Self { meter, changes, downbeat: begin }
    }
}
