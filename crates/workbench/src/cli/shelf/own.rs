//! What is the teacher's own beside riffs: necks, the usual hand, the taste.

use riffkin_fretboard::hand::Weights;
use riffkin_fretboard::neck::Neck;
use riffkin_fretboard::taste;
use riffkin_store::Access;
use serde_json::{Value, json};

use super::{Desk, args};
use crate::app::hand::{self, Habits};
use crate::app::necks;
use crate::app::shelf::when;
use crate::cli::json::{VERSION, text};
use crate::cli::neck::json::described;
use crate::cli::{Failure, neck_on, notice, warn};

fn line(neck: &Neck) -> String {
    format!("{}: {neck}\n", neck.name())
}

fn listed(necks: &[Neck]) -> Value {
    let necks: Vec<_> = necks.iter().map(described).collect();
    json!({ "version": VERSION, "necks": necks })
}

pub(super) fn neck(desk: &Desk, words: &args::Neck) -> Result<(), Failure> {
    let off = |e: necks::NecksError| match e {
        necks::NecksError::Store(e) => e.into(),
        e => Failure::Words(e.to_string()),
    };
    if let (Some(name), Some(line_of)) = (&words.name, &words.neck) {
        necks::check(name).map_err(off)?;
        let neck = neck_on(line_of, desk.there())?;
        let mut kept = desk.open(Access::Create)?;
        let (neck, before) = necks::keep(&mut kept, name, &neck, when::now()).map_err(off)?;
        if let Some(before) = before.filter(|before| before.body != neck.to_string()) {
            notice(&format!("note: '{}' was {} before", before.name, before.body));
        }
        return desk.say(|| text(&listed(std::slice::from_ref(&neck))), || line(&neck));
    }
    if let (Some(name), true) = (&words.name, words.forget) {
        let there = necks::forget(&mut desk.open(Access::Write)?, name)?;
        if !there {
            return Err(Failure::Could(format!("there is no neck called '{name}' on the shelf")));
        }
        return desk.say(
            || text(&json!({ "version": VERSION, "forgotten": name })),
            || format!("{name}: forgotten\n"),
        );
    }
    let necks = own_necks(desk)?;
    if let Some(name) = &words.name {
        let wanted = necks::check(name).map_err(off)?.to_lowercase();
        let found = necks.iter().find(|n| n.name().to_lowercase() == wanted);
        let found =
            found.ok_or_else(|| Failure::Could(format!("there is no neck called '{name}' on the shelf")))?;
        return desk.say(|| text(&listed(std::slice::from_ref(found))), || line(found));
    }
    if necks.is_empty() && !desk.json {
        notice(
            "no neck of your own is on the shelf; `riffkin shelf neck NAME \"G2 D2 A1 E1, 24 frets\"` keeps one",
        );
    }
    desk.say(|| text(&listed(&necks)), || necks.iter().map(line).collect())
}

fn own_necks(desk: &Desk) -> Result<Vec<Neck>, Failure> {
    if desk.there().is_none() {
        return Ok(Vec::new());
    }
    let kept = desk.open(Access::Read)?;
    let (necks, off) = necks::own(&kept)?;
    warn(&off);
    Ok(necks)
}

pub(super) fn hand(desk: &Desk, words: &args::Hand) -> Result<(), Failure> {
    let said = words.hand.habits()?;
    let habits = if words.forget {
        if desk.there().is_some() {
            hand::forget_habits(&mut desk.open(Access::Write)?)?;
        }
        Habits::default()
    } else if said == Habits::default() {
        if desk.there().is_some() { hand::kept_habits(&desk.open(Access::Read)?)? } else { said }
    } else {
        let mut kept = desk.open(Access::Create)?;
        // What cannot be read is written anew.
        let habits = said.or(&hand::kept_habits(&kept).unwrap_or_default());
        hand::keep_habits(&mut kept, &habits, when::now())?;
        habits
    };
    desk.say(
        || {
            let kept: serde_json::Map<_, _> = habits
                .said()
                .into_iter()
                .map(|(word, value)| (word.to_owned(), Value::from(value)))
                .collect();
            text(&json!({ "version": VERSION, "hand": kept }))
        },
        || match habits.said().as_slice() {
            [] => "the usual hand\n".to_owned(),
            said => said.iter().map(|(word, value)| format!("{word} {value}\n")).collect(),
        },
    )
}

pub(super) fn taste(desk: &Desk, words: &args::Taste) -> Result<(), Failure> {
    let mut kept: Option<Weights> = None;
    if desk.there().is_some() {
        if words.forget {
            hand::forget_taste(&mut desk.open(Access::Write)?)?;
        } else {
            kept = hand::kept_taste(&desk.open(Access::Read)?)?;
        }
    }
    let opinions = taste::in_words(&kept.unwrap_or_default());
    desk.say(
        || text(&json!({ "version": VERSION, "kept": kept.is_some(), "taste": opinions })),
        || match (kept, opinions.as_slice()) {
            (None, _) => "the usual taste\n".to_owned(),
            (Some(_), []) => "a taste that hardly differs from the usual one\n".to_owned(),
            (Some(_), opinions) => opinions.iter().map(|o| format!("{o}\n")).collect(),
        },
    )
}
