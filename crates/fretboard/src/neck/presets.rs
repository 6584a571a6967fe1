//! Necks by their usual names (common practice, no source).

use riffkin_score::pitch::Pitch;

/// The names, in the order in which they are offered.
pub(super) const NAMES: [&str; 10] =
    ["four", "five", "six", "drop-d", "half-down", "whole-down", "bead", "high-c", "tenor", "short"];

/// A usual neck.
pub(super) struct Preset {
    pub(super) name: &'static str,
    /// Open strings, highest first.
    pub(super) strings: &'static str,
    pub(super) frets: u8,
    pub(super) inches: f64,
}

/// The preset of a name.
pub(super) fn preset(name: &str) -> Option<Preset> {
    let name = *NAMES.iter().find(|n| **n == name)?;
    let (strings, frets, inches) = match name {
        "five" => ("G2 D2 A1 E1 B0", 20, 34.0),
        "six" => ("C3 G2 D2 A1 E1 B0", 24, 34.0),
        "drop-d" => ("G2 D2 A1 D1", 20, 34.0),
        "half-down" => ("Gb2 Db2 Ab1 Eb1", 20, 34.0),
        "whole-down" => ("F2 C2 G1 D1", 20, 34.0),
        "bead" => ("D2 A1 E1 B0", 20, 34.0),
        "high-c" => ("C3 G2 D2 A1 E1", 20, 34.0),
        "tenor" => ("C3 G2 D2 A1", 20, 34.0),
        "short" => ("G2 D2 A1 E1", 20, 30.0),
        _ => ("G2 D2 A1 E1", 20, 34.0),
    };
    Some(Preset { name, strings, frets, inches })
}

impl Preset {
    /// Open pitches, highest first.
    pub(super) fn open(&self) -> Vec<Pitch> {
        self.strings.split(' ').filter_map(|p| p.parse().ok()).collect()
    }
}

/// The first name whose strings, spelled alike, these are.
pub(super) fn of_strings(strings: &[Pitch]) -> Option<&'static str> {
    NAMES.into_iter().find(|name| preset(name).is_some_and(|p| p.open() == strings))
}
