//! From a pile of riffs to a lesson: one key, one neck, ladder order.

use riffkin_fretboard::adapt;
use riffkin_fretboard::fit::{self, Fit};
use riffkin_fretboard::hand::Hand;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::way::{self, Toward};
use riffkin_score::Warning;
use riffkin_score::analysis::explain::{Explanation, explain};
use riffkin_score::analysis::spell::respell;
use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Key;
use riffkin_score::pitch::PitchName;
use riffkin_score::riff::{Header, Riff};

use crate::ladder::{self, Ladder};

/// What the lesson is to be.
#[derive(Clone, Debug)]
pub struct Wish<'a> {
    /// The key for all riffs; `None` for the one most of them are in.
    pub tonic: Option<PitchName>,
    /// The neck of the class.
    pub neck: &'a Neck,
    /// The hand that plays it.
    pub hand: &'a Hand,
    /// Degrees the class knows already.
    pub known: DegreeSet,
}

/// One riff as the lesson has it.
#[derive(Clone, Debug)]
pub struct Member {
    /// Index of the riff in the input.
    pub source: usize,
    /// The riff in the lesson's key, adapted to the neck where it had to be.
    pub riff: Riff,
    /// The tonic it came in; `None` when it has no sounding notes.
    pub came_in: Option<PitchName>,
    /// String, fret and finger of every note.
    pub fit: Fit,
    /// Key, mode, degrees and intervals in the lesson's key.
    pub explanation: Explanation,
    /// Its degrees.
    pub material: DegreeSet,
    /// The degrees that are new on its rung.
    pub new: DegreeSet,
    /// What was guessed or respelled on the way: for the teacher.
    pub guesses: Vec<Warning>,
    /// What was changed to make it lie on the neck: for everybody.
    pub changes: Vec<Warning>,
}

/// A lesson ready to be drawn and sounded.
#[derive(Clone, Debug)]
pub struct Plan {
    /// The note called 1 in every riff.
    pub tonic: PitchName,
    /// The riffs in ladder order.
    pub members: Vec<Member>,
    /// The ladder they stand on; its indices count [`Plan::members`] as they came in.
    pub ladder: Ladder,
    /// Riffs that could not be used, by input index, and why.
    pub left_out: Vec<(usize, String)>,
}

/// Brings riffs to one key and one neck and puts them in ladder order.
///
/// A riff's own key is trusted; where it has none the likeliest tonic is taken and a guess says so. Of the two
/// ways to the key, up and down, a riff goes the lower one ([`Toward::Low`]), so that the class plays its roots in one
/// place; where the neck does not hold it there, it is changed as little as may be.
pub fn plan(riffs: &[Riff], wish: &Wish<'_>) -> Plan {
    let explained: Vec<Explanation> = riffs.iter().map(|r| explain(r, None)).collect();
    let tonic = wish.tonic.unwrap_or_else(|| usual_tonic(&explained));
    let mut members = Vec::with_capacity(riffs.len());
    let mut left_out = Vec::new();
    for (source, (riff, explanation)) in riffs.iter().zip(&explained).enumerate() {
        match member(source, riff, explanation, tonic, wish) {
            Ok(member) => members.push(member),
            Err(reason) => left_out.push((source, reason)),
        }
    }
    finger_alike(&mut members, wish);
    let materials: Vec<DegreeSet> = members.iter().map(|m| m.material).collect();
    let ladder = ladder::ladder(&materials, wish.known);
    let mut waiting: Vec<Option<Member>> = members.into_iter().map(Some).collect();
    let members = ladder
        .rungs
        .iter()
        .filter_map(|rung| waiting.get_mut(rung.riff)?.take().map(|m| Member { new: rung.new, ..m }))
        .collect();
    Plan { tonic, members, ladder, left_out }
}

/// Fingers figures that come again, also from riff to riff, the same way where that costs little.
fn finger_alike(members: &mut [Member], wish: &Wish<'_>) {
    let riffs: Vec<&Riff> = members.iter().map(|m| &m.riff).collect();
    let Ok(together) = fit::alike(&riffs, wish.neck, wish.hand, fit::USUAL_PRICE) else { return };
    for (member, fit) in members.iter_mut().zip(together.fits) {
        // What the riff's own fit had to say is said already.
        let new = fit.warnings.iter().filter(|w| !member.fit.warnings.contains(w)).cloned();
        member.guesses.extend(new);
        member.fit = fit;
    }
    if !together.exact
        && let Some(first) = members.first_mut()
    {
        let many = "figures that come again offer too many ways to try them all; there may be better ones";
        first.guesses.push(Warning::whole(many));
    }
}

/// The tonic most riffs are in; of equals the one earliest on the line of fifths from C outwards.
fn usual_tonic(explained: &[Explanation]) -> PitchName {
    let tonics: Vec<PitchName> = explained.iter().filter_map(|e| e.tonic).map(|(tonic, _)| tonic).collect();
    tonics
        .iter()
        .copied()
        .max_by_key(|&t| {
            let votes = tonics.iter().filter(|&&o| o == t).count();
            (votes, std::cmp::Reverse((t.line_of_fifths().abs(), t.line_of_fifths() < 0)))
        })
        .unwrap_or(PitchName::natural(riffkin_score::pitch::Step::G))
}

fn member(
    source: usize,
    riff: &Riff,
    explanation: &Explanation,
    tonic: PitchName,
    wish: &Wish<'_>,
) -> Result<Member, String> {
    let (mut guesses, mut changes) = (Vec::new(), Vec::new());
    let came_in = explanation.tonic.map(|(tonic, _)| tonic);
    let riff = match came_in {
        Some(from) => {
            if riff.header().key.is_none() {
                let why = explanation.words().into_iter().next().unwrap_or_default();
                guesses.push(Warning::whole(format!("no key is written; {why}")));
            }
            let way = moved(riff, from, explanation, tonic, wish.neck)?;
            guesses.extend(way.guesses);
            changes.extend(way.changes);
            way.riff
        }
        None => riff.clone(),
    };
    let (riff, said) = adapt::adapted(&riff, wish.neck);
    changes.extend(said);
    let fit = fit::fit(&riff, wish.neck, wish.hand).map_err(|e| e.to_string())?;
    changes.extend(fit.warnings.iter().cloned());
    let explanation = explain(&riff, None);
    let material = explanation.set();
    Ok(Member { source, riff, came_in, fit, explanation, material, new: DegreeSet::EMPTY, guesses, changes })
}

/// A riff on the way to its place in the lesson.
struct Way {
    riff: Riff,
    guesses: Vec<Warning>,
    changes: Vec<Warning>,
}

/// The riff on another tonic, by the lower way where it can go there ([`way::to_key`]). A key that would need more than
/// seven sharps or flats is written on the other name of its tonic.
fn moved(
    riff: &Riff,
    from: PitchName,
    explanation: &Explanation,
    tonic: PitchName,
    neck: &Neck,
) -> Result<Way, String> {
    // A pentatonic is no proof of a mode, but a true name for its notes.
    let mode = explanation.verdict().mode().or_else(|| explanation.mode.as_ref().and_then(|m| m.named));
    let key = Key { tonic: from, mode };
    // Without a written key the names came from a guess; with one they are the writer's.
    let keyed = if riff.header().key.is_some() { riff.clone() } else { respell(riff, Some(key)) };
    let keyed = keyed.with_header(Header { key: Some(key), ..keyed.header().clone() });
    let wanted = Key { tonic, mode };
    let written = if wanted.is_practical() { wanted } else { wanted.simplest() };
    let moved =
        way::to_key(&keyed, from, written.tonic, Some(neck), Toward::Low).map_err(|e| e.to_string())?;
    let changes = moved.instead.map(Warning::whole).into_iter().collect();
    Ok(respelled(Way { riff: moved.riff, guesses: moved.said, changes }, wanted, written))
}

/// Says so when the key is written on another name than the one asked for.
fn respelled(mut way: Way, wanted: Key, written: Key) -> Way {
    if wanted.tonic != written.tonic {
        way.changes.push(Warning::whole(format!(
            "written in {} instead of {}, which would need {} sharps or flats",
            written.print(),
            wanted.print(),
            wanted.signature().abs()
        )));
    }
    way
}
