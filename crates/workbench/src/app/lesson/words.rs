//! Every sentence that the sheet and the page print, in one place.

use riffkin_fretboard::neck::Neck;
use riffkin_lesson::plan::{Member, Plan};
use riffkin_score::analysis::verdict;
use riffkin_score::degree::DegreeSet;
use riffkin_score::key::Key;
use riffkin_score::riff::Riff;

use super::Look;

/// Under the heading of the ladder.
pub const LADDER: &str =
    "Each row is a riff, each column a degree above the root. A doubled border marks what is new.";

/// Shown once wherever people practise or publish.
pub const CAUTIONS: [&str; 2] = [
    "Start quietly and protect your hearing. Warm up, rest often, stop when it hurts, and see a licensed clinician about pain that stays. Riffs that stretch the hand on the low frets may be moved up the neck.",
    "A transcription of somebody else's music may need the owner's permission where you live. This is no legal advice.",
];

/// The homework's task.
pub const HOMEWORK: &str = "These lines are new, and their root is not given. Find the root first, write the degree under each note, then name the scale. Check with your ear on the neck.";

/// The first line under the title.
pub fn opening(plan: &Plan, look: &Look) -> String {
    let count = plan.members.len();
    let riffs = if count == 1 { "One riff".to_owned() } else { format!("{count} riffs") };
    format!("{riffs} on the root {}, for {}.", plan.tonic.print(), neck(&look.neck))
}

/// A neck in words: `four strings E A D G`, and with a capo from where frets are counted.
pub fn neck(neck: &Neck) -> String {
    let count = match neck.string_count() {
        1 => "one string".to_owned(),
        n => format!("{} strings", number(n)),
    };
    let names: Vec<String> = neck.strings().iter().rev().map(|p| p.name().print()).collect();
    let capo = match neck.capo() {
        0 => String::new(),
        fret => format!(" with a capo at fret {fret}, from which frets are counted"),
    };
    format!("{count} {}{capo}", names.join(" "))
}

fn number(n: u8) -> String {
    let words = ["no", "one", "two", "three", "four", "five", "six"];
    words.get(usize::from(n)).map_or_else(|| n.to_string(), |w| (*w).to_owned())
}

/// One line about a riff: scale, what is new, where it came from.
pub fn about(member: &Member) -> String {
    let header = member.riff.header();
    let mut parts = Vec::new();
    match header.key {
        Some(Key { tonic, mode: Some(mode) }) => parts.push(format!("{} {mode}", tonic.print())),
        Some(Key { tonic, mode: None }) => parts.push(format!("on {}, {}", tonic.print(), undecided(member))),
        None => parts.push("no pitched notes".to_owned()),
    }
    parts.push(match member.new.len() {
        0 => "nothing new".to_owned(),
        _ => format!("new: {}", degrees(member, member.new)),
    });
    if let (Some(from), Some(Key { tonic, .. })) = (member.came_in, header.key)
        && from != tonic
    {
        parts.push(format!("moved from {}", from.print()));
    }
    let mut line = capital(&parts.join("; "));
    line.push('.');
    for remark in &header.remarks {
        line.push(' ');
        line.push_str(&capital(remark));
        if !remark.ends_with(['.', '!', '?']) {
            line.push('.');
        }
    }
    if let Some(source) = &header.source {
        line.push_str(&format!(" Source: {source}."));
    }
    line
}

/// The answer to one line of homework.
pub fn answer(member: &Member, open: &Riff, material: &str) -> String {
    let root = open.header().key.map_or_else(String::new, |key| key.tonic.print());
    let scale = verdict::of_set(member.material).mode().or(verdict::named(member.material));
    let scale = scale.map_or_else(|| undecided(member), |mode| format!("scale {mode}"));
    format!("Root {root}; {scale}; degrees {material}. It is {} backwards.", member.riff.header().title)
}

/// With a capital first letter.
pub fn capital(text: &str) -> String {
    let mut chars = text.chars();
    chars.next().map_or_else(String::new, |first| first.to_uppercase().chain(chars).collect())
}

fn undecided(member: &Member) -> String {
    let deciding = member.explanation.verdict().deciding();
    if deciding.len() > 2 {
        return "too few degrees to name a scale".to_owned();
    }
    let names: Vec<String> =
        deciding.iter().flat_map(|step| step.answers.iter().map(|(degree, _)| degree.print())).collect();
    if names.is_empty() {
        "the scale stays open".to_owned()
    } else {
        format!("the scale stays open while none of {} is heard", names.join(" "))
    }
}

/// Degrees of a set as the riff spells them.
pub fn degrees(member: &Member, set: DegreeSet) -> String {
    set.slots().map(|slot| super::degree_in(member, slot).print()).collect::<Vec<_>>().join(" ")
}

/// Each note in words: `bar 1, beat 1: A string fret 7, E, root, eighth`.
pub fn notes(member: &Member, neck: &Neck) -> Vec<String> {
    let line = member.riff.line();
    line.iter()
        .zip(&member.fit.notes)
        .enumerate()
        .map(|(i, (note, fitted))| {
            let string = neck.open(fitted.place.string).map_or_else(String::new, |p| p.name().print());
            let place = match fitted.place.fret {
                0 => format!("{string} string open"),
                fret => format!("{string} string fret {fret}"),
            };
            let degree = member.explanation.notes.get(i).and_then(|n| n.degree);
            let degree = match degree {
                _ if note.is_dead() => "dead note".to_owned(),
                Some(d) if d == riffkin_score::degree::Degree::ROOT => "root".to_owned(),
                Some(d) => d.print(),
                None => "no degree".to_owned(),
            };
            let value = member.riff.bars()[note.bar].events[note.event].value.words();
            let tied = if note.note.tied { ", held on" } else { "" };
            format!("{}: {place}, {}, {degree}, {value}{tied}", fitted.at, note.note.pitch.name().print())
        })
        .collect()
}

/// What the reader must know about how the riff was changed.
pub fn notices(member: &Member) -> Vec<String> {
    member.changes.iter().map(|w| capital(&w.to_string())).collect()
}
