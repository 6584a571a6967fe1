//! What Riffkin's own texts say about a file it wrote.

use riffkin_score::chord::Chord;
use riffkin_score::key::Key;
use riffkin_score::meter::Meter;
use riffkin_score::riff::Header;
use riffkin_score::tempo::Feel;
use riffkin_score::time::Quarters;

use super::file::{File, OURS};
use super::texts::feel_of;

/// The texts of a file, times in ticks.
#[derive(Clone, Debug, Default)]
pub(super) struct Ours {
    pub(super) grid: i64,
    pub(super) start: Quarters,
    /// The riff's feel.
    pub(super) feel: Feel,
    /// The ticks are swung.
    pub(super) swung: bool,
    pub(super) key: Option<Key>,
    pub(super) neck: Option<String>,
    pub(super) source: Option<String>,
    pub(super) permission: Option<String>,
    pub(super) remarks: Vec<String>,
    pub(super) meters: Vec<(u64, Meter)>,
    pub(super) chords: Vec<(u64, Chord)>,
    pub(super) end_short: bool,
    /// Texts of ours that are not understood.
    pub(super) strange: Vec<String>,
}

impl Ours {
    /// `None` when the file is not of our writing.
    pub(super) fn of(file: &File) -> Option<Self> {
        let mut ours = Self::default();
        let texts = file.tracks.iter().flat_map(|t| &t.texts);
        for (tick, text) in texts {
            let Some(words) = text.strip_prefix(OURS) else { continue };
            if !ours.take(*tick, words) {
                ours.strange.push(words.to_owned());
            }
        }
        (ours.grid > 0).then_some(ours)
    }

    fn take(&mut self, tick: u64, words: &str) -> bool {
        if let Some(rest) = words.strip_prefix("midi 1 ") {
            let parts: Vec<&str> = rest.split_whitespace().collect();
            if let ["grid", grid, "start", start] = parts.as_slice()
                && let (Ok(grid), Ok(start)) = (grid.parse::<i64>(), start.parse::<Quarters>())
                && (1..=Quarters::GRAIN).contains(&grid)
                && Quarters::GRAIN % grid == 0
                && (Quarters::ZERO..=Quarters::whole_quarters(1000)).contains(&start)
            {
                (self.grid, self.start) = (grid, start);
                return true;
            }
            return false;
        }
        let Some((what, value)) = words.split_once(':') else { return false };
        let value = value.trim();
        match what {
            "key" => {
                self.key = value.parse().ok();
                return self.key.is_some();
            }
            "feel" => {
                let (feel, swung) = match (value.strip_suffix(" played"), value.strip_suffix(" as written")) {
                    (Some(feel), _) => (feel, true),
                    (_, Some(feel)) => (feel, false),
                    _ => return false,
                };
                let Some(feel) = feel_of(feel) else { return false };
                (self.feel, self.swung) = (feel, swung);
            }
            "neck" => self.neck = Some(value.to_owned()),
            "source" => self.source = Some(value.to_owned()),
            "permission" => self.permission = Some(value.to_owned()),
            "remark" => self.remarks.push(value.to_owned()),
            "meter" => match value.parse() {
                Ok(meter) => self.meters.push((tick, meter)),
                Err(_) => return false,
            },
            "chord" => match value.parse() {
                Ok(chord) => self.chords.push((tick, chord)),
                Err(_) => return false,
            },
            "end" => self.end_short = value == "short",
            _ => return false,
        }
        true
    }

    /// The header these texts make, without tempo.
    pub(super) fn header(&self, title: String) -> Header {
        Header {
            title,
            key: self.key,
            feel: self.feel,
            neck: self.neck.clone(),
            source: self.source.clone(),
            permission: self.permission.clone(),
            remarks: self.remarks.clone(),
            ..Header::default()
        }
    }
}
