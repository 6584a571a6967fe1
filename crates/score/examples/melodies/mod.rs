//! Melodies whose key is known, for the examples that learn and measure.
//!
//! Each line of a file is one melody as JSON: `id`, `title`, `collection`, `tonic` (`Bb`), `mode` (`major`,
//! `dorian` ...), `meter` (`6/8`), `pickup` (quarters before the first bar line), `label_quality`, and `notes`,
//! each `[midi, name, octave, onset in quarters, length in quarters]`. Lines without notes are skipped, and
//! melodies whose `label_quality` is `C`.

#![expect(clippy::disallowed_methods, reason = "an example reads the files it is told to")]
#![expect(clippy::expect_used, reason = "a tool for the desk stops where its data are not as they should be")]

use riffkin_score::analysis::heard::{Heard, Strength};
use riffkin_score::key::Mode;
use riffkin_score::meter::Meter;
use riffkin_score::pitch::{Midi, Pitch, PitchName};
use riffkin_score::time::Quarters;

/// A melody whose key is known.
#[allow(dead_code, reason = "one example learns, the other only spells")]
pub(crate) struct Melody {
    /// A hash of its title: variants of a tune have the same, and stay together when the data are parted.
    pub(crate) family: usize,
    /// The kind of melody, for reports.
    pub(crate) group: &'static str,
    /// Its tonic.
    pub(crate) tonic: PitchName,
    /// Its mode.
    pub(crate) mode: Mode,
    /// True for the bass line of a chorale.
    pub(crate) bass: bool,
    /// Its notes.
    pub(crate) notes: Vec<Heard>,
}

/// Every melody of a file whose key is known for sure.
pub(crate) fn read(path: &str) -> Vec<Melody> {
    let text = std::fs::read_to_string(path).expect("a readable file");
    text.lines().filter_map(|line| melody(&serde_json::from_str(line).expect("JSON on every line"))).collect()
}

fn melody(row: &serde_json::Value) -> Option<Melody> {
    let notes = row["notes"].as_array()?;
    if row["label_quality"] == "C" {
        return None;
    }
    let tonic: PitchName = row["tonic"].as_str()?.parse().ok()?;
    let mode: Mode = row["mode"].as_str()?.parse().ok()?;
    let meter: Meter = row["meter"].as_str()?.parse().unwrap_or(Meter::FOUR_FOUR);
    let pickup = row["pickup"].as_f64().unwrap_or(0.0);
    let bar_length = meter.bar_length().to_f64();
    let heard = notes.iter().enumerate().filter_map(|(line, n)| {
        let midi = Midi::new(u8::try_from(n[0].as_u64()?).ok()?)?;
        let pitch = Pitch::from_midi(midi, n[1].as_str()?.parse().ok()?)?;
        let onset = n[3].as_f64()?;
        // Onsets are given to six decimals; a 48th of a quarter is finer than any of them.
        let from_bar = ((onset - pickup) * 48.0).round() / 48.0;
        let bar = (from_bar / bar_length).floor();
        let offset = Quarters::from_f64_lossy(((from_bar - bar * bar_length) * 48.0).round() / 48.0);
        Some(Heard {
            line,
            bar: (bar + 1.0) as usize,
            pitch,
            onset: Quarters::from_f64_lossy((onset * 48.0).round() / 48.0),
            length: Quarters::from_f64_lossy((n[4].as_f64()? * 48.0).round() / 48.0),
            strength: Strength::at(meter, offset),
            accent: false,
            ghost: false,
        })
    });
    let bass = row["collection"] == "bach-chorale-bass";
    let group = match mode {
        _ if bass => "bass lines",
        Mode::Major | Mode::Minor => "major/minor tunes",
        _ => "modal tunes",
    };
    let name = row["title"].as_str().or(row["id"].as_str())?.to_lowercase();
    let name: String = name.trim_start_matches("the ").chars().filter(|c| c.is_alphanumeric()).collect();
    // FNV-1a, 64 bits.
    let hash =
        name.bytes().fold(0xcbf2_9ce4_8422_2325_u64, |h, b| (h ^ u64::from(b)).wrapping_mul(0x100_0000_01b3));
    Some(Melody { family: (hash >> 17) as usize, group, tonic, mode, bass, notes: heard.collect() })
}
