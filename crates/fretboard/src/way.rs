//! Which way to another key: up or down, and whether the shape under the hand comes along.

use riffkin_score::Warning;
use riffkin_score::interval::Interval;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::Riff;
use riffkin_score::transpose::{TransposeError, nearest, transpose};

use crate::adapt::{self, Kind};
use crate::block;
use crate::fit::missing;
use crate::neck::Neck;

/// Which of the two ways to a key, up and down, is tried first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Toward {
    /// The nearer one, for one riff by itself: there and back is the identity.
    Near,
    /// The lower one, for a class: everybody's roots lie in one place.
    Low,
    /// Upwards, and nothing else.
    Up,
    /// Downwards, and nothing else.
    Down,
}

/// A riff in another key.
#[derive(Clone, Debug, PartialEq)]
pub struct Moved {
    /// The riff, moved as a whole: no note has changed its place in the line.
    pub riff: Riff,
    /// How far.
    pub by: Interval,
    /// What was respelled, and the written strings and fingers that could not come along.
    pub said: Vec<Warning>,
    /// Why it is an octave or more from where it was to go, in words.
    pub instead: Option<String>,
    /// Notes of the line that the neck does not have, in order; for [`adapt::adapted`].
    pub off: Vec<usize>,
}

/// Moves a riff from one tonic to another.
///
/// The way that `toward` names is taken where the neck holds the riff. Where it does not, the riff goes whole octaves
/// further if that changes less than moving only the notes that are off the neck ([`adapt::usual`]); if not, it stays
/// where it is, and the notes that are off are named. Without a neck the first way is taken.
///
/// Written strings and frets move as a block or are dropped, with a warning that says what broke and where.
///
/// # Errors
/// [`TransposeError`] when a note leaves MIDI 0 to 127.
pub fn to_key(
    riff: &Riff,
    from: PitchName,
    to: PitchName,
    neck: Option<&Neck>,
    toward: Toward,
) -> Result<Moved, TransposeError> {
    let near = nearest(from, to);
    let rises = near.semitones() > 0;
    let first = match toward {
        Toward::Low | Toward::Down if rises => near.with_octaves(-1),
        Toward::Up if near.semitones() < 0 => near.with_octaves(1),
        _ => near,
    };
    let free = matches!(toward, Toward::Near | Toward::Low);
    let moved = match moved(riff, first, neck) {
        // So low that a note leaves MIDI: the other way.
        Err(_) if free && first != near => moved(riff, near, neck)?,
        other => other?,
    };
    let Some(neck) = neck.filter(|_| free && !moved.off.is_empty()) else { return Ok(moved) };
    let mut offers = adapt::moved_by_octaves(&moved.riff, neck);
    let choice = adapt::usual(&offers).map(|i| offers.swap_remove(i));
    let Some(Kind::Octave(octaves)) = choice.map(|c| c.kind) else { return Ok(moved) };
    let (notes, line) = (moved.off.len(), moved.riff.line().len());
    let further = self::moved(riff, moved.by.with_octaves(i32::from(octaves)), Some(neck))?;
    // Where most of it lies off the neck, its place is there anyway.
    let instead = (notes * 2 < line).then(|| {
        let notes = if notes == 1 { "one note".to_owned() } else { format!("{notes} notes") };
        let way = if octaves > 0 { "higher up the neck" } else { "lower on the neck" };
        format!("{way}, because {notes} would lie below it or beyond it")
    });
    Ok(Moved { instead, ..further })
}

fn moved(riff: &Riff, by: Interval, neck: Option<&Neck>) -> Result<Moved, TransposeError> {
    let mut said = Vec::new();
    let mut from = riff.clone();
    if let Some(neck) = neck
        && let Err(broke) = block::written_moves(riff, by.semitones(), neck)
    {
        let words = format!("{}; the strings and frets written with the riff were dropped", broke.problem());
        said.push(Warning::at(broke.at(), words));
        from = block::without_places(riff);
    }
    let (riff, warnings) = transpose(&from, by)?;
    said.extend(warnings);
    let off = neck.map_or_else(Vec::new, |neck| missing(&riff, neck));
    Ok(Moved { riff, by, said, instead: None, off })
}
