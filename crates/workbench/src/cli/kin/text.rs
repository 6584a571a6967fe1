//! Kin as text.

use std::fmt::Write as _;

use riffkin_score::degree::{Degree, DegreeSet};

use super::Row;
use crate::app::kin::{Asked, Family, Relative, Typed};

fn names(set: DegreeSet) -> String {
    if set.is_empty() {
        return "no degrees".to_owned();
    }
    set.slots().map(|s| Degree::usual(s).print()).collect::<Vec<_>>().join(" ")
}

/// Most places that are named for one measure.
const PLACES: usize = 4;

/// The riff asked about, then each relative with a line for every measure: what is shared, where, what differs.
pub(super) fn kin(asked: &Asked, rows: &[Relative]) -> String {
    let mut out = format!("{}: {}\n", asked.riff.header().title, names(asked.imprint.set()));
    let no_hand = asked.imprint.hand().is_none();
    if no_hand {
        out.push_str(
            "The neck is too small for it, so hand shapes are not compared (--neck takes another).\n",
        );
    }
    for relative in rows {
        let _ = writeln!(out, "\n{}: {}", relative.name, names(relative.set));
        if relative.same_riff {
            let _ = writeln!(out, "  the same riff, maybe in another key or octave");
            continue;
        }
        let degrees = relative.kinship.degrees;
        let near = if degrees.is_near() { " (near kin)" } else { "" };
        line(&mut out, "degrees", &format!("{}{near}", degrees.words()), &[]);
        let hand = match &relative.kinship.hand {
            Some(hand) => hand.words(),
            None => "the neck is too small for it".to_owned(),
        };
        if !no_hand {
            line(&mut out, "hand", &hand, relative.hand_place.as_slice());
        }
        if let Some(tune) = relative.tune() {
            line(&mut out, "intervals", &tune.words(), &relative.places);
        }
        if let Some(rhythm) = &relative.kinship.rhythm {
            let plain = rhythm.pace == (1, 1) && !rhythm.is_same();
            let places = if plain { relative.rhythm_places.as_slice() } else { &[] };
            match (rhythm.is_same() || rhythm.is_close(), places.is_empty()) {
                (true, _) => line(&mut out, "rhythm", &rhythm.words(), places),
                (_, true) => line(&mut out, "rhythm", "no bar alike", &[]),
                _ => line(&mut out, "rhythm", "some bars alike", places),
            }
        }
    }
    if rows.is_empty() {
        out.push_str("\nthere is no other riff\n");
    }
    out
}

/// A measure, its words, and where.
fn line(out: &mut String, measure: &str, words: &str, places: &[String]) {
    let _ = writeln!(out, "  {measure:<10} {words}");
    for place in places.iter().take(PLACES) {
        let _ = writeln!(out, "             {place}");
    }
    if places.len() > PLACES {
        let _ = writeln!(out, "             and {} more places", places.len() - PLACES);
    }
}

/// What was typed, and who holds it where.
pub(super) fn holders(typed: &Typed, rows: &[Row]) -> String {
    if rows.is_empty() {
        return "no riff holds it\n".to_owned();
    }
    let mut out = String::new();
    for holder in rows {
        let places: Vec<String> = match typed {
            Typed::AnyOrder(_) => Vec::new(),
            _ => holder
                .found
                .iter()
                .map(|(at, higher)| match higher {
                    0 => at.to_string(),
                    n => format!("{at} ({} higher)", super::json::interval(*n)),
                })
                .collect(),
        };
        let more =
            if places.len() > 4 { format!(" and {} more places", places.len() - 4) } else { String::new() };
        let shown = places.iter().take(4).cloned().collect::<Vec<_>>().join("; ");
        let _ = writeln!(out, "{:24} {shown}{more}", holder.name);
    }
    out.lines().map(|l| format!("{}\n", l.trim_end())).collect()
}

/// A row for every set, largest first: the strip in letters, then the riffs.
pub(super) fn families(families: &[Family]) -> String {
    let mut out = String::new();
    for family in families {
        let cells: String = (0..12)
            .map(|s| {
                let name = if family.set.contains(s) { Degree::usual(s).print() } else { "·".to_owned() };
                format!("{name:<3}")
            })
            .collect();
        let _ = writeln!(out, "{cells} {}", family.riffs.join(", "));
    }
    let _ = writeln!(out, "\nEach line is one set of degrees, small sets first.");
    out
}
