//! `riffkin transpose`: a riff in another key, and whether the hand's shape comes along.

use riffkin_fretboard::block::move_block;
use riffkin_fretboard::fit;
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::way::{self, Moved, Toward};
use riffkin_score::Warning;
use riffkin_score::analysis::explain::explain;
use riffkin_score::key::Key;
use riffkin_score::riff::{Header, Riff};

use super::{Failure, args, json, notice, read, say, tonic, warn, write};

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
    let own = riff.header().neck.as_deref().and_then(|name| Neck::named(name).ok());
    let neck = asked.or(own);
    let toward = match words.way {
        Some(args::Way::Up) => Toward::Up,
        Some(args::Way::Down) => Toward::Down,
        None => Toward::Near,
    };
    let moved = way::to_key(&riff, from, to, neck.as_ref(), toward)?;
    warn(&moved.said);
    if let Some(neck) = &neck {
        say_of_the_neck(&riff, &moved, neck);
    }
    if let Some(out) = &words.out {
        write::riff(&moved.riff, out, None)?;
    }
    if words.json {
        return say(&json::text(&json::explanation(&moved.riff, &explain(&moved.riff, None))));
    }
    if words.out.is_none() { say(&riffkin_formats::riff_text::print(&moved.riff)) } else { Ok(()) }
}

/// Notices about the neck: another octave, notes that are off it, and what becomes of the shape under the hand.
fn say_of_the_neck(riff: &Riff, moved: &Moved, neck: &Neck) {
    if let Some(instead) = &moved.instead {
        notice(&format!("note: {instead}"));
    }
    let line = moved.riff.line();
    if let Some(first) = moved.off.first().and_then(|&i| line.get(i)) {
        let others = match moved.off.len() {
            1 => String::new(),
            n => format!(" and {} more", n - 1),
        };
        notice(&format!(
            "note: {}: {}{others} off the neck '{}' after the move; `riffkin fit` adapts the riff",
            moved.riff.place_of(first.onset),
            first.note.pitch,
            neck.name()
        ));
        return;
    }
    if moved.by.semitones() == 0 {
        return;
    }
    let Ok(before) = fit::fit(riff, neck, &Hand::default()) else { return };
    match move_block(&before, moved.by.semitones(), neck) {
        Ok(block) => notice(&format!("note: the shape moves as a block: {}", block.words())),
        Err(broke) => notice(&format!("note: the shape cannot move as a block: {broke}")),
    }
}
