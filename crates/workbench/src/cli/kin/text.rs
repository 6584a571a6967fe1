//! Kin as text.

use std::fmt::Write as _;

use riffkin_score::degree::{Degree, DegreeSet};

use crate::app::intake::Taken;
use crate::app::kin::{Asked, Family, Holder, Relative, Typed};

fn names(set: DegreeSet) -> String {
    if set.is_empty() {
        return "no degrees".to_owned();
    }
    set.slots().map(|s| Degree::usual(s).print()).collect::<Vec<_>>().join(" ")
}

/// The riff asked about, then each relative with a line for every measure.
pub(super) fn kin(asked: &Asked, rows: &[(&Relative, &Taken)]) -> String {
    let mut out = format!("{}: {}\n", asked.riff.header().title, names(asked.imprint.set()));
    for (relative, _) in rows {
        let _ = writeln!(out, "\n{}: {}", relative.name, names(relative.set));
        if relative.same_riff {
            let _ = writeln!(out, "  the same riff, maybe in another key or octave");
        }
        let degrees = relative.kinship.degrees;
        let near = if degrees.is_near() { " (near kin)" } else { "" };
        let _ = writeln!(out, "  degrees    {}{near}", degrees.words());
        let hand =
            relative.kinship.hand.as_ref().map_or_else(|| "not on this neck".to_owned(), |h| h.words());
        let _ = writeln!(out, "  hand       {hand}");
        if let Some(tune) = relative.tune() {
            let _ = writeln!(out, "  intervals  {}", tune.words());
            for place in relative.places.iter().take(4) {
                let _ = writeln!(out, "             {place}");
            }
        }
        if let Some(rhythm) = &relative.kinship.rhythm {
            let _ = writeln!(out, "  rhythm     {}", rhythm.words());
        }
    }
    if rows.is_empty() {
        out.push_str("\nthere is no other riff\n");
    }
    out
}

/// What was typed, and who holds it where.
pub(super) fn holders(typed: &Typed, rows: &[(&Holder, &Taken)]) -> String {
    if rows.is_empty() {
        return "no riff holds it\n".to_owned();
    }
    let mut out = String::new();
    for (holder, _) in rows {
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
