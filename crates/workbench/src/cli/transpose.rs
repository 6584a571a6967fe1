//! `riffkin transpose`: a riff in another key, and whether the hand's shape comes along.

use riffkin_fretboard::block::move_block;
use riffkin_fretboard::fit;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::way::{self, Moved, Toward};
use riffkin_score::Warning;
use riffkin_score::analysis::explain::explain;
use riffkin_score::key::Key;
use riffkin_score::riff::{BarBeat, Header, Riff};
use serde::Serialize;

use super::{Failure, args, hand, json, notice, read, say, tonic, warn, write};

pub(super) fn run(words: &args::Transpose) -> Result<(), Failure> {
    let to = tonic(&words.to)?;
    let asked = words.neck.as_deref().map(super::neck).transpose()?;
    let taken = read::take(&words.file, &words.reading)?;
    let found = explain(&taken.riff, None);
    let Some((from, _)) = found.tonic else {
        return Err(Failure::Could(format!(
            "{}: nothing sounds, so there is nothing to transpose",
            words.file.display()
        )));
    };
    let mut riff = taken.riff;
    if riff.header().key.is_none() {
        warn(&[Warning::whole(format!(
            "no key is written; {}",
            found.words().first().cloned().unwrap_or_default()
        ))]);
        let key = Key { tonic: from, mode: found.verdict().mode() };
        riff = riff.with_header(Header { key: Some(key), ..riff.header().clone() });
    }
    let own = riff.header().neck.as_deref().and_then(|name| super::neck(name).ok());
    let neck = asked.or(own);
    let toward = match words.way {
        Some(args::Way::Up) => Toward::Up,
        Some(args::Way::Down) => Toward::Down,
        None => Toward::Near,
    };
    let moved = way::to_key(&riff, from, to, neck.as_ref(), toward)?;
    warn(&moved.said);
    let on_neck = neck.as_ref().map(|neck| on_neck(&riff, &moved, neck)).transpose()?;
    if let Some(on_neck) = &on_neck {
        on_neck.notices();
    }
    if let Some(out) = &words.out {
        write::riff(&moved.riff, out, None)?;
    }
    if words.json {
        let riff = json::explanation(&moved.riff, &explain(&moved.riff, None));
        return say(&json::text(&TransposedJson { riff, semitones: moved.by.semitones(), on_neck }));
    }
    if words.out.is_none() { say(&riffkin_formats::riff_text::print(&moved.riff)) } else { Ok(()) }
}

#[derive(Serialize)]
struct TransposedJson {
    #[serde(flatten)]
    riff: json::ExplanationJson,
    semitones: i32,
    on_neck: Option<OnNeck>,
}

/// What becomes of the riff on its neck.
#[derive(Serialize)]
struct OnNeck {
    neck: String,
    /// Why it went another octave than the nearest way would have.
    instead: Option<String>,
    /// Notes that are off the neck after the move.
    off: Vec<Off>,
    /// What becomes of the shape under the hand; nothing when notes are off the neck or nothing moves.
    shape: Option<Shape>,
}

#[derive(Serialize)]
struct Off {
    pitch: String,
    bar: u32,
    beat: String,
    #[serde(skip)]
    at: BarBeat,
}

#[derive(Serialize)]
struct Shape {
    /// True when it moves as a block.
    moves: bool,
    /// Strings towards the highest, and frets up, that it moves.
    strings: Option<i8>,
    frets: Option<i32>,
    /// Where it breaks.
    bar: Option<u32>,
    beat: Option<String>,
    /// How it moves, or what broke.
    words: String,
}

fn on_neck(riff: &Riff, moved: &Moved, neck: &Neck) -> Result<OnNeck, Failure> {
    let line = moved.riff.line();
    let off: Vec<Off> = moved
        .off
        .iter()
        .filter_map(|&i| line.get(i))
        .map(|n| {
            let at = moved.riff.place_of(n.onset);
            Off { pitch: n.note.pitch.to_string(), bar: at.bar, beat: at.beat.to_string(), at }
        })
        .collect();
    let frets = moved.by.semitones();
    let shape = if off.is_empty() && frets != 0 { shape(riff, frets, neck)? } else { None };
    Ok(OnNeck { neck: neck.name().to_owned(), instead: moved.instead.clone(), off, shape })
}

/// What becomes of the shape of the easiest fit; nothing where the riff did not lie on the neck before.
fn shape(riff: &Riff, frets: i32, neck: &Neck) -> Result<Option<Shape>, Failure> {
    let Ok(before) = fit::fit(riff, neck, &hand::of_the_shelf()?) else { return Ok(None) };
    Ok(Some(match move_block(&before, frets, neck) {
        Ok(block) => Shape {
            moves: true,
            strings: Some(block.strings),
            frets: Some(block.frets),
            bar: None,
            beat: None,
            words: block.words(),
        },
        Err(broke) => Shape {
            moves: false,
            strings: None,
            frets: None,
            bar: Some(broke.at().bar),
            beat: Some(broke.at().beat.to_string()),
            words: broke.to_string(),
        },
    }))
}

impl OnNeck {
    /// Notices: another octave, notes that are off it, and what becomes of the shape under the hand.
    fn notices(&self) {
        if let Some(instead) = &self.instead {
            notice(&format!("note: {instead}"));
        }
        if let [first, others @ ..] = self.off.as_slice() {
            let others = match others.len() {
                0 => String::new(),
                n => format!(" and {n} more"),
            };
            notice(&format!(
                "note: {}: {}{others} off the neck '{}' after the move; `riffkin fit` adapts the riff",
                first.at, first.pitch, self.neck
            ));
        }
        match &self.shape {
            Some(Shape { moves: true, words, .. }) => {
                notice(&format!("note: the shape moves as a block: {words}"));
            }
            Some(Shape { words, .. }) => notice(&format!("note: the shape cannot move as a block: {words}")),
            None => {}
        }
    }
}
